"""Measured points of a pump or motor: a CSV text with units in its header -> SI arrays.

    # gear pump, warm oil
    speed [rpm], pressure [psi], flow [gpm], torque [lb-ft], viscosity [cSt], note
    1200, 500, 21.6, , 40, first run

`speed`, `pressure` (the difference over the machine) and `flow` are needed in every row; `torque`,
`viscosity` and `temperature` may be missing or blank; `note` is free text. Blank lines and lines
that start with # are passed over, nothing else is.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import TruckFileError, UnitError
from hydrocheck.model.fields import BOUND_WORDS, Bounds, within
from hydrocheck.model.files import read_text
from hydrocheck.units import KINDS, parse
from hydrocheck.units.reading import fits, unit_named

Array = NDArray[np.float64]

MOST_POINTS = 20_000
NOTE = "note"


@dataclass(frozen=True)
class _Column:
    kind: str
    bounds: Bounds
    needed: bool


COLUMNS = MappingProxyType(
    {
        "speed": _Column("shaft_speed", "not negative", True),
        "pressure": _Column("pressure_drop", "not negative", True),
        "flow": _Column("flow", "not negative", True),
        "torque": _Column("torque", "not negative", False),
        "viscosity": _Column("kinematic_viscosity", "positive", False),
        "temperature": _Column("temperature", "any", False),
    }
)


@dataclass(frozen=True)
class PointTable:
    """The rows in SI, shape (N,) each; a blank or missing optional value is nan.

    lines: line number of each row in its text
    """

    lines: tuple[int, ...]
    speed: Array
    pressure: Array
    flow: Array
    torque: Array
    viscosity: Array
    temperature: Array

    def __len__(self) -> int:
        return len(self.lines)


def read_points(path: str | Path) -> PointTable:
    """Read a file of measured points. Raises FileError or TruckFileError with all that is wrong."""
    return points_from_text(read_text(path, "a list of points"))


def points_from_text(text: str) -> PointTable:
    """Read the text of measured points. Raises TruckFileError with all that is wrong."""
    lines = _lines(text)
    if not lines:
        raise TruckFileError(["line 1: no header; write speed [rpm], pressure [psi], flow [gpm]"])
    (number, head), rows = lines[0], lines[1:]
    faults: list[str] = []
    units = _header(number, head, faults)
    if faults:
        raise TruckFileError(faults)
    if len(rows) > MOST_POINTS:
        raise TruckFileError([f"line {number}: {len(rows)} points; at most {MOST_POINTS} are read"])
    values: dict[str, list[float]] = {name: [] for name in COLUMNS}
    for line, cells in rows:
        _row(line, cells, units, values, faults)
    if not rows:
        faults.append(f"line {number}: no points below the header")
    if faults:
        raise TruckFileError(faults)
    arrays = {name: np.array(column, dtype=np.float64) for name, column in values.items()}
    return PointTable(lines=tuple(line for line, _ in rows), **arrays)


def _lines(text: str) -> list[tuple[int, list[str]]]:
    """Line number and cells of every line that is not blank or a comment."""
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


def _header(number: int, cells: Sequence[str], faults: list[str]) -> list[tuple[str, str]]:
    """Name and unit text of every column; the name of a note is kept, its unit empty."""
    columns: list[tuple[str, str]] = []
    for cell in cells:
        name, bracket, rest = cell.partition("[")
        name = name.strip().casefold()
        unit = rest.rstrip().removesuffix("]").strip()
        where = f"line {number}: {_printable(cell)[:60] or 'a column without a name'}"
        if name in [known for known, _ in columns]:
            faults.append(f"{where}: the column stands there twice")
        elif name not in COLUMNS and name != NOTE:
            faults.append(f"{where}: no such column; there are {', '.join([*COLUMNS, NOTE])}")
        elif name == NOTE and not bracket:
            pass
        elif name == NOTE or (bracket and not rest.rstrip().endswith("]")):
            faults.append(f"{where}: write a column as {'note' if name == NOTE else 'name [unit]'}")
        else:
            _check_unit(where, name, unit, faults)
        columns.append((name, unit))
    for name, column in COLUMNS.items():
        if column.needed and name not in [known for known, _ in columns]:
            faults.append(f"line {number}: no column {name}; {fits(KINDS[column.kind])}")
    if len(columns) == 1 and ";" in cells[0]:
        faults.append(f"line {number}: cells are parted by commas, not semicolons")
    return columns


def _check_unit(where: str, name: str, unit: str, faults: list[str]) -> None:
    kind = KINDS[COLUMNS[name].kind]
    if not unit:
        faults.append(f"{where}: no unit; write {name} [unit]; {fits(kind)}")
        return
    try:
        unit_named(unit, kind)
    except UnitError as error:
        faults.append(f"{where}: {_printable(str(error))}")


def _row(
    line: int,
    cells: Sequence[str],
    columns: Sequence[tuple[str, str]],
    values: dict[str, list[float]],
    faults: list[str],
) -> None:
    """Add one row to the values, or what is wrong with it to the faults."""
    if len(cells) != len(columns):
        faults.append(
            f"line {line}: {len(cells)} cells, but the header has {len(columns)};"
            " a decimal takes a point, and a comma ends a cell"
        )
        return
    row = dict.fromkeys(COLUMNS, np.nan)
    for cell, (name, unit) in zip(cells, columns, strict=True):
        if name == NOTE:
            continue
        if cell:
            row[name] = _cell(f"line {line}: {name}", cell, name, unit, faults)
        elif COLUMNS[name].needed:
            faults.append(f"line {line}: {name}: blank; every point needs it")
    for name, value in row.items():
        values[name].append(value)


def _cell(where: str, cell: str, name: str, unit: str, faults: list[str]) -> float:
    """The value of one cell in SI; nan, and a fault, where it is none."""
    column = COLUMNS[name]
    if cell[-1].isalpha() and cell[-1] not in "eE":
        faults.append(f"{where}: read {cell[:60]!r}; a plain number in {unit} fits")
        return np.nan
    try:
        value = parse(f"{cell} {unit}", column.kind)
    except UnitError as error:
        faults.append(f"{where}: {_printable(str(error))}")
        return np.nan
    if not within(value, column.bounds):
        faults.append(f"{where}: read {cell[:60]!r}; {BOUND_WORDS[column.bounds]}")
    return value


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)
