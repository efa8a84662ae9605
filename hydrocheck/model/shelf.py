"""Parts on the shelf: a CSV text with units in its header -> pumps and motors in SI.

    # what we stock
    part, build, name, displacement [in^3/rev], max_speed [rpm], max_pressure [psi], price
    pump, piston, P 45, 2.75, 2600, 3600, 1450
    motor, orbit, M 160, 9.8, 400, 3000, 310

`part`, `build` and `displacement` are needed in every row. `price` is a plain number in whatever
money; sizes are ranked by price only where every part has one. A blank value takes the assumption
that sizing makes for its build. Lines that start with # are passed over.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from hydrocheck.errors import TruckFileError, UnitError
from hydrocheck.model.csvtable import check_unit, lines_of, printable
from hydrocheck.model.fields import BOUND_WORDS, Bounds, within
from hydrocheck.model.files import read_text
from hydrocheck.units import KINDS, parse

MOST_PARTS = 1000
BUILDS = MappingProxyType({"pump": ("piston", "gear"), "motor": ("orbit", "gear")})
TEXTS = ("part", "build", "name")


@dataclass(frozen=True)
class _Column:
    kind: str
    bounds: Bounds = "positive"


NUMBERS = MappingProxyType(
    {
        "displacement": _Column("displacement"),
        "min_speed": _Column("shaft_speed"),
        "max_speed": _Column("shaft_speed"),
        "max_pressure": _Column("pressure"),
        "rated_speed": _Column("shaft_speed"),
        "rated_pressure": _Column("pressure"),
        "volumetric_efficiency": _Column("fraction", "efficiency"),
        "hydromechanical_efficiency": _Column("fraction", "efficiency"),
        "starting_efficiency": _Column("fraction", "efficiency"),
        "price": _Column("ratio", "not negative"),
    }
)


@dataclass(frozen=True)
class ShelfPart:
    """One pump or motor on the shelf; None where the list gives no value.

    values: in SI, by the names of `NUMBERS`
    """

    line: int
    part: str
    build: str
    name: str
    values: MappingProxyType[str, float]


def read_shelf(path: str | Path) -> tuple[ShelfPart, ...]:
    """Read a shelf list. Raises FileError or TruckFileError with all that is wrong."""
    return shelf_from_text(read_text(path, "a shelf list"))


def shelf_from_text(text: str) -> tuple[ShelfPart, ...]:
    """Read the text of a shelf list. Raises TruckFileError with all that is wrong."""
    faults: list[str] = []
    lines = lines_of(text)
    if not lines:
        header = "part, build, name, displacement [in^3/rev], price"
        raise TruckFileError([f"line 1: no header; write {header}"])
    (number, head), rows = lines[0], lines[1:]
    units = _header(number, head, faults)
    if not rows:
        faults.append(f"line {number}: no parts below the header")
    if len(rows) > MOST_PARTS:
        faults.append(f"line {number}: {len(rows)} parts; at most {MOST_PARTS} are read")
    if faults:
        raise TruckFileError(faults)
    parts = [_row(line, cells, units, faults) for line, cells in rows]
    if faults:
        raise TruckFileError(faults)
    return tuple(part for part in parts if part is not None)


def _header(number: int, cells: Sequence[str], faults: list[str]) -> list[tuple[str, str]]:
    """Name and unit of every column."""
    columns: list[tuple[str, str]] = []
    for cell in cells:
        name, bracket, rest = cell.partition("[")
        name, unit = name.strip().casefold(), rest.strip().removesuffix("]").strip()
        where = f"line {number}: {printable(cell)[:60] or 'a column without a name'}"
        if name in [known for known, _ in columns]:
            faults.append(f"{where}: the column stands there twice")
        elif name not in NUMBERS and name not in TEXTS:
            faults.append(f"{where}: no such column; there are {', '.join([*TEXTS, *NUMBERS])}")
        elif name in NUMBERS:
            kind = KINDS[NUMBERS[name].kind]
            if unit or not kind.plain:
                check_unit(where, name, unit, kind, faults)
        elif bracket:
            faults.append(f"{where}: takes no unit")
        columns.append((name, unit))
    for name in ("part", "build", "displacement"):
        if name not in [known for known, _ in columns]:
            faults.append(f"line {number}: no column {name}")
    return columns


def _row(
    line: int, cells: Sequence[str], columns: Sequence[tuple[str, str]], faults: list[str]
) -> ShelfPart | None:
    """One part; None, and a fault, where its row is not one."""
    if len(cells) != len(columns):
        faults.append(f"line {line}: {len(cells)} cells, but the header has {len(columns)}")
        return None
    before = len(faults)
    texts = dict.fromkeys(TEXTS, "")
    values: dict[str, float] = {}
    for cell, (name, unit) in zip(cells, columns, strict=True):
        where = f"line {line}: {name}"
        if name in TEXTS:
            texts[name] = printable(cell)[:60]
        elif cell:
            value = _cell(where, cell, name, unit, faults)
            if value is not None:
                values[name] = value
    if texts["part"] not in BUILDS:
        faults.append(f"line {line}: part: read '{texts['part']}'; here fits: pump, motor")
    elif texts["build"] not in BUILDS[texts["part"]]:
        fit = ", ".join(BUILDS[texts["part"]])
        faults.append(f"line {line}: build: read '{texts['build']}'; here fits: {fit}")
    if "displacement" not in values and len(faults) == before:
        faults.append(f"line {line}: displacement: blank; every part needs it")
    if len(faults) > before:
        return None
    name = texts["name"] or f"line {line}"
    return ShelfPart(line, texts["part"], texts["build"], name, MappingProxyType(values))


def _cell(where: str, cell: str, name: str, unit: str, faults: list[str]) -> float | None:
    column = NUMBERS[name]
    try:
        value = parse(f"{cell} {unit}".strip(), column.kind)
    except UnitError as error:
        faults.append(f"{where}: {printable(str(error))}")
        return None
    if not within(value, column.bounds):
        faults.append(f"{where}: read {printable(cell)[:60]!r}; {BOUND_WORDS[column.bounds]}")
        return None
    return value
