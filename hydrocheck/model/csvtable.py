"""Small tables that people write: a CSV text with units in its header -> SI arrays.

    # auger, warm oil
    setting [%], revolutions [rev], mass [lb], note
    40, 10, 52.1, first pail

Each kind of table names its columns. `note` is free text and always allowed. Blank lines and lines
that start with # are passed over, nothing else is; every fault is told at once, with its line.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import TruckFileError, UnitError
from hydrocheck.model.fields import BOUND_WORDS, Bounds, within
from hydrocheck.units import KINDS, parse
from hydrocheck.units.kind import Kind
from hydrocheck.units.reading import fits, unit_named

Array = NDArray[np.float64]

MOST_ROWS = 20_000
NOTE = "note"


@dataclass(frozen=True)
class Column:
    """What stands in one column; `needed`: in every row."""

    kind: str
    bounds: Bounds
    needed: bool


def read_table(
    text: str, columns: Mapping[str, Column], what: str, header: str
) -> tuple[tuple[int, ...], dict[str, Array]]:
    """Line number of each row, and every column in SI, (N,); nan where optional and not given.

    what: what the rows are, for messages, such as "points"; header: an example of one

    Raises TruckFileError with all that is wrong.
    """
    lines = lines_of(text)
    if not lines:
        raise TruckFileError([f"line 1: no header; write {header}"])
    (number, head), rows = lines[0], lines[1:]
    faults: list[str] = []
    given = _header(number, head, columns, faults)
    if faults:
        raise TruckFileError(faults)
    if len(rows) > MOST_ROWS:
        raise TruckFileError([f"line {number}: {len(rows)} {what}; at most {MOST_ROWS} are read"])
    values: dict[str, list[float]] = {name: [] for name in columns}
    for line, cells in rows:
        for name, value in _row(line, cells, given, columns, faults).items():
            values[name].append(value)
    if not rows:
        faults.append(f"line {number}: no {what} below the header")
    if faults:
        raise TruckFileError(faults)
    arrays = {name: np.array(column, dtype=np.float64) for name, column in values.items()}
    return tuple(line for line, _ in rows), arrays


def lines_of(text: str) -> list[tuple[int, list[str]]]:
    """Line number and cells of every line that is not blank or a comment.

    Raises TruckFileError for what is no CSV.
    """
    found = []
    faults = []
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    for number, line in enumerate(plain.split("\n"), start=1):
        if line.lstrip().startswith("#"):
            continue
        try:
            cells = next(csv.reader([line], strict=True, skipinitialspace=True), [])
        except csv.Error as error:
            faults.append(f"line {number}: not CSV: {error}")
            continue
        cells = [cell.strip() for cell in cells]
        if any(cells):
            found.append((number, cells))
    if faults:
        raise TruckFileError(faults)
    return found


def _header(
    number: int, cells: Sequence[str], known: Mapping[str, Column], faults: list[str]
) -> list[tuple[str, str]]:
    """Name and unit text of every column; the name of a note is kept, its unit empty."""
    columns: list[tuple[str, str]] = []
    for cell in cells:
        name, bracket, rest = cell.partition("[")
        name = name.strip().casefold()
        unit = rest.rstrip().removesuffix("]").strip()
        where = f"line {number}: {printable(cell)[:60] or 'a column without a name'}"
        if name in [before for before, _ in columns]:
            faults.append(f"{where}: the column stands there twice")
        elif name not in known and name != NOTE:
            faults.append(f"{where}: no such column; there are {', '.join([*known, NOTE])}")
        elif name == NOTE and not bracket:
            pass
        elif name == NOTE or (bracket and not rest.rstrip().endswith("]")):
            faults.append(f"{where}: write a column as {'note' if name == NOTE else 'name [unit]'}")
        else:
            check_unit(where, name, unit, KINDS[known[name].kind], faults)
        columns.append((name, unit))
    for name, column in known.items():
        if column.needed and name not in [given for given, _ in columns]:
            faults.append(f"line {number}: no column {name}; {fits(KINDS[column.kind])}")
    if len(columns) == 1 and ";" in cells[0]:
        faults.append(f"line {number}: cells are parted by commas, not semicolons")
    return columns


def check_unit(where: str, name: str, unit: str, kind: Kind, faults: list[str]) -> None:
    """Add to the faults if a column's unit is missing or does not fit."""
    if not unit:
        faults.append(f"{where}: no unit; write {name} [unit]; {fits(kind)}")
        return
    try:
        unit_named(unit, kind)
    except UnitError as error:
        faults.append(f"{where}: {printable(str(error))}")


def _row(
    line: int,
    cells: Sequence[str],
    given: Sequence[tuple[str, str]],
    columns: Mapping[str, Column],
    faults: list[str],
) -> dict[str, float]:
    """The values of one row in SI; what is wrong with it goes to the faults."""
    row = dict.fromkeys(columns, np.nan)
    if len(cells) != len(given):
        faults.append(
            f"line {line}: {len(cells)} cells, but the header has {len(given)};"
            " a decimal takes a point, and a comma ends a cell"
        )
        return row
    for cell, (name, unit) in zip(cells, given, strict=True):
        if name == NOTE:
            continue
        if cell:
            where = f"line {line}: {name}"
            row[name] = _cell(where, cell, unit, columns[name], faults)
        elif columns[name].needed:
            faults.append(f"line {line}: {name}: blank; every row needs it")
    return row


def _cell(where: str, cell: str, unit: str, column: Column, faults: list[str]) -> float:
    """The value of one cell in SI; nan, and a fault, where it is none."""
    if cell[-1].isalpha() and cell[-1] not in "eE":
        faults.append(f"{where}: read {cell[:60]!r}; a plain number in {unit} fits")
        return np.nan
    try:
        value = parse(f"{cell} {unit}", column.kind)
    except UnitError as error:
        faults.append(f"{where}: {printable(str(error))}")
        return np.nan
    if not within(value, column.bounds):
        faults.append(f"{where}: read {cell[:60]!r}; {BOUND_WORDS[column.bounds]}")
    return value


def printable(text: str) -> str:
    """A text without characters that could steer a terminal."""
    return "".join(c if c.isprintable() else " " for c in text)
