"""Draw the README's pictures from the demo trucks: `python figures/make.py`.

Each is one command that a user could type; the commands stand in the README beside the pictures.
"""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from hydrocheck.cli import main

HERE = Path(__file__).parent

PICTURES = {
    "budget-tandem.png": ["budget", "--demo", "tandem"],
    "budget-plow.png": ["budget", "--demo", "tandem", "--scenario", "spreading, plow lifted"],
    "budget-mistakes.png": ["budget", "--demo", "mistakes", "--scenario", "spreading"],
    "spread-tandem.png": ["spread", "--demo", "tandem"],
    "throw-tandem.png": ["throw", "--demo", "tandem"],
}


def draw() -> None:
    """Draw every picture into this folder."""
    for name, arguments in PICTURES.items():
        main([*arguments, "--plot", str(HERE / name), "--force"], standalone_mode=False)
    with TemporaryDirectory() as folder:
        log = str(Path(folder) / "route.csv")
        main(["demo", "tandem", "--route", log], standalone_mode=False)
        plot = str(HERE / "route-tandem.png")
        arguments = ["replay", "--demo", "tandem", log, "--plot", plot, "--force"]
        main(arguments, standalone_mode=False)


if __name__ == "__main__":
    draw()
