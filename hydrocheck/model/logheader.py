"""Which columns of a truck's log hold what, and in which unit.

A header names a column and its unit: `engine speed [rpm]`, `engine speed (rpm)` or `engine_rpm`.
A clock stands under `timestamp` or `time [iso]`, as 2026-01-05T03:30:00. What the header does not
say is told by option: `engine=EngSpd [rpm]`.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from hydrocheck.errors import DomainError, TruckFileError, UnitError
from hydrocheck.model.csvtable import printable
from hydrocheck.units import KINDS, Unit
from hydrocheck.units.reading import fits, unit_named


@dataclass(frozen=True)
class Role:
    """What a column can hold: kind of quantity, names by which it is found, whether needed."""

    kind: str
    names: tuple[str, ...]
    needed: bool
    about: str


ROLES: Mapping[str, Role] = MappingProxyType(
    {
        "time": Role("time", ("time", "elapsed time", "t"), True, "since any start, rising"),
        "engine": Role(
            "shaft_speed", ("engine speed", "engine", "engine rpm"), True, "engine speed"
        ),
        "road": Role(
            "road_speed",
            ("road speed", "vehicle speed", "ground speed", "truck speed", "speed"),
            True,
            "road speed",
        ),
        "rate": Role(
            "application_rate",
            ("rate", "ordered rate", "application rate"),
            False,
            "ordered rate per lane",
        ),
        "on": Role("", ("spreading", "spreading on", "on"), False, "on or off, 1 or 0"),
        "oil": Role("temperature", ("oil temperature", "oil"), False, "oil temperature"),
    }
)
DELIMITERS = (",", ";", "\t")
# Spellings that stand in headers, where a slash cannot.
_HEADER_UNITS = {"kmh": "km/h", "kph": "km/h", "ms": "m/s", "sec": "s", "degc": "degC", "c": "degC"}
_CLOCK_NAMES = ("timestamp", "time stamp", "datetime", "date time")
_CLOCK_UNITS = ("iso", "iso 8601", "iso8601")
_HEADER_UNITS |= {"degf": "degF", "f": "degF"}


@dataclass(frozen=True)
class LogColumn:
    """One column of a log: what it holds, its place, its header and its unit.

    Without a unit it holds words: on and off, or for time a clock.
    """

    role: str
    place: int
    header: str
    unit: Unit | None

    @property
    def is_clock(self) -> bool:
        """Whether it holds dates and times of day."""
        return self.unit is None and self.role == "time"

    @property
    def is_flag(self) -> bool:
        """Whether it holds on and off."""
        return self.unit is None and self.role != "time"


def split_header(line: str) -> tuple[str, tuple[str, ...]]:
    """Delimiter and cells of a header line. Raises TruckFileError where it has one cell."""
    best = max(DELIMITERS, key=line.count)
    cells = next(csv.reader([line], delimiter=best, skipinitialspace=True), [])
    names = tuple(cell.strip() for cell in cells)
    if len(names) < 2:
        raise TruckFileError(
            ["line 1: the header has one column; write time [s], engine speed [rpm], ..."]
        )
    return best, names


def find_columns(headers: Sequence[str], told: Mapping[str, str]) -> tuple[LogColumn, ...]:
    """The columns that a replay reads. told: header by role, with a unit in brackets.

    Raises TruckFileError with all that is wrong, DomainError for an unknown role.
    """
    for role in told:
        if role not in ROLES:
            shown = printable(role)[:60]
            raise DomainError(f"--column: no role {shown!r}; the roles are {', '.join(ROLES)}")
    faults: list[str] = []
    found = []
    for role, about in ROLES.items():
        column = _told(role, told[role], headers, faults) if role in told else None
        if column is None and role not in told:
            column = _by_name(role, about, headers, faults)
        if column is not None:
            found.append(column)
        elif about.needed and role not in told and not any(f"{role}:" in f for f in faults):
            faults.append(_missing(role, about, headers))
    if faults:
        raise TruckFileError(faults)
    return tuple(found)


def _missing(role: str, about: Role, headers: Sequence[str]) -> str:
    have = ", ".join(printable(h)[:40] for h in headers[:12])
    return (
        f"{role}: no such column; a header such as {about.names[0]} [unit], or "
        f"--column '{role}=HEADER [unit]'; there are: {have}"
    )


def parts_of(header: str) -> tuple[str, str]:
    """Name in plain words, and the unit that stands in brackets; empty without brackets.

    >>> parts_of("Engine_Speed (rpm)")
    ('engine speed', 'rpm')
    """
    for start, end in (("[", "]"), ("(", ")")):
        name, bracket, rest = header.partition(start)
        if bracket and rest.rstrip().endswith(end):
            return _words(name), rest.rstrip()[:-1].strip()
    return _words(header), ""


def _words(text: str) -> str:
    return " ".join(text.replace("_", " ").replace(".", " ").casefold().split())


def _by_name(role: str, about: Role, headers: Sequence[str], faults: list[str]) -> LogColumn | None:
    """The column whose header names the role; a fault where two do, or the unit is no unit."""
    exact: list[LogColumn] = []
    for place, header in enumerate(headers):
        name, unit_text = parts_of(header)
        if not about.kind:
            if name in about.names:
                exact.append(LogColumn(role, place, header, None))
            continue
        if role == "time" and _is_clock(name, unit_text):
            exact.append(LogColumn(role, place, header, None))
            continue
        if name in about.names and unit_text:
            unit = _unit(role, header, unit_text, faults)
            if unit is not None:
                exact.append(LogColumn(role, place, header, unit))
            continue
        stem, _, last = name.rpartition(" ")
        unit = KINDS[about.kind].find(_HEADER_UNITS.get(last, last))
        if stem in about.names and unit is not None and not unit_text:
            exact.append(LogColumn(role, place, header, unit))
        elif name in about.names and not unit_text and about.needed:
            faults.append(
                f"{role}: column {printable(header)!r} has no unit; write "
                f"{about.names[0]} [unit], or --column '{role}={printable(header)} [unit]'; "
                f"{fits(KINDS[about.kind])}"
            )
    if len(exact) > 1:
        which = ", ".join(printable(c.header) for c in exact)
        faults.append(f"{role}: several columns fit: {which}; choose by --column '{role}=HEADER'")
    return exact[0] if len(exact) == 1 else None


def _is_clock(name: str, unit_text: str) -> bool:
    if unit_text:
        return unit_text.casefold() in _CLOCK_UNITS and name in (
            *_CLOCK_NAMES,
            *ROLES["time"].names,
        )
    return name in _CLOCK_NAMES


def _unit(role: str, header: str, text: str, faults: list[str]) -> Unit | None:
    try:
        return unit_named(_HEADER_UNITS.get(text.casefold(), text), KINDS[ROLES[role].kind])
    except UnitError as error:
        faults.append(f"{role}: column {printable(header)!r}: {printable(str(error))}")
        return None


def _told(role: str, told: str, headers: Sequence[str], faults: list[str]) -> LogColumn | None:
    """The column that an option names: its whole header, or its header and a unit in brackets."""
    plain = [h.casefold() for h in headers]
    header, unit_text = told.strip(), ""
    if header.casefold() not in plain and header.endswith("]"):
        header, _, rest = header.rpartition("[")
        header, unit_text = header.strip(), rest[:-1].strip()
    if header.casefold() not in plain:
        have = ", ".join(printable(h)[:40] for h in headers[:12])
        faults.append(f"{role}: no column {printable(header)[:60]!r}; there are: {have}")
        return None
    place = plain.index(header.casefold())
    kind = ROLES[role].kind
    clock = role == "time" and unit_text.casefold() in _CLOCK_UNITS
    if not kind or clock:
        return LogColumn(role, place, headers[place], None)
    if not unit_text:
        name, unit_text = parts_of(headers[place])
        last = name.rpartition(" ")[2]
        if not unit_text and KINDS[kind].find(_HEADER_UNITS.get(last, last)):
            unit_text = last
    if not unit_text:
        faults.append(
            f"{role}: no unit; write --column '{role}={printable(header)} [unit]'; "
            f"{fits(KINDS[kind])}"
        )
        return None
    unit = _unit(role, header, unit_text, faults)
    return None if unit is None else LogColumn(role, place, headers[place], unit)
