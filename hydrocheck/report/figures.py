"""Writing figures, whole or not at all."""

from __future__ import annotations

import io
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from hydrocheck.errors import FileError
from hydrocheck.report.files import write_bytes
from hydrocheck.report.text import printable

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FORMATS = ("png", "svg", "pdf")
TITLE_WIDTH = 84
"""Characters of a title's line."""


def wrapped_title(text: str, most_lines: int | None, width: int = TITLE_WIDTH) -> str:
    """A title in lines that fit, without characters that do not print."""
    return "\n".join(
        textwrap.wrap(printable(text), width, max_lines=most_lines, placeholder=" ...")
    )


def open_corner(axes: Axes) -> None:
    """Only the left and the lower edge of a diagram."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def figure_format(path: Path) -> str:
    """The format of a file's ending. Raises FileError for one that no figure is written in."""
    ending = path.suffix.lower().removeprefix(".")
    if ending not in FORMATS:
        raise FileError(f"{path}: a figure is written as {', '.join('.' + f for f in FORMATS)}")
    return ending


def save_figure(figure: Figure, path: Path, *, force: bool = False) -> None:
    """Write a figure in the format of the file's ending. Raises FileError."""
    write_bytes(path, figure_bytes(figure, figure_format(path)), force=force)


def figure_bytes(figure: Figure, ending: str) -> bytes:
    """A figure as a file of one of the `FORMATS`.

    No date or program version goes into it, so that equal figures are equal files.
    """
    import warnings

    import matplotlib as mpl

    buffer = io.BytesIO()
    metadata = {"png": {"Software": None}, "svg": {"Date": None}, "pdf": {"CreationDate": None}}
    with mpl.rc_context({"svg.hashsalt": "hydrocheck"}), warnings.catch_warnings():
        # A sign that the font lacks is drawn as a box; that is no reason to write to the terminal.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        figure.savefig(buffer, format=ending, dpi=150, metadata=metadata[ending])
    return buffer.getvalue()
