"""`python -m hydrocheck` is the command `hydrocheck`."""

from hydrocheck.cli import main

if __name__ == "__main__":
    main(prog_name="hydrocheck")
