"""The demo trucks: truck files of the invented Alder Fork County."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from hydrocheck.errors import FileError

if TYPE_CHECKING:
    from hydrocheck.model import Truck

FOLDER = Path(__file__).parent
FIRST = ("tandem", "single", "conveyor", "mistakes")
"""The order in which they are listed; any other follows by its name."""


def names() -> tuple[str, ...]:
    """The names of the demo trucks; the first one is the default of every command."""
    found = {path.stem for path in FOLDER.glob("*.toml")}
    return (*(n for n in FIRST if n in found), *sorted(found - set(FIRST)))


def path(name: str) -> Path:
    """The file of a demo truck. Raises FileError, with those there are, for another name."""
    known = names()
    if name not in known:
        raise FileError(f"no demo truck {name[:60]!r}; there are: {', '.join(known) or 'none'}")
    return FOLDER / f"{name}.toml"


def text(name: str) -> str:
    """The text of a demo truck's file. Raises FileError."""
    from hydrocheck.model.files import read_text

    return read_text(path(name), "a demo truck")


def load(name: str) -> Truck:
    """A demo truck, read. Raises FileError."""
    from hydrocheck.model import read_truck

    return read_truck(path(name))


def needs_names() -> tuple[str, ...]:
    """The names of the needs files, for sizing; the first one is its default."""
    found = {path.stem for path in (FOLDER / "needs").glob("*.toml")}
    return tuple(sorted(found, key=lambda name: (name != "patrol", name)))


def needs_path(name: str) -> Path:
    """A needs file. Raises FileError, with those there are, for another name."""
    known = needs_names()
    if name not in known:
        raise FileError(f"no needs file {name[:60]!r}; there are: {', '.join(known) or 'none'}")
    return FOLDER / "needs" / f"{name}.toml"
