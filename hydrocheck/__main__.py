"""What the command `hydrocheck` and `python -m hydrocheck` start."""

import sys


def run() -> None:
    """Run the command line; Ctrl-C while it still loads is as quiet as later."""
    try:
        from hydrocheck.cli import main

        main(prog_name="hydrocheck")
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    run()
