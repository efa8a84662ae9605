"""What the command `hydrocheck` and `python -m hydrocheck` start."""

import gc
import sys


def run() -> None:
    """Run the command line; Ctrl-C while it still loads is as quiet as later."""
    gc.set_threshold(50_000, 20, 100)  # a short process: few looks for cycles while it loads
    try:
        from hydrocheck.cli import main

        main(prog_name="hydrocheck")
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    run()
