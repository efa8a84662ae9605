"""SI values as text: one unit and one number of decimals per kind, ASCII only."""

from __future__ import annotations

from math import floor, isfinite, log10
from typing import Final

from hydrocheck.units.kind import Display, Kind
from hydrocheck.units.reading import kind_of, unit_named

_SIGNIFICANT: Final = 3
_LEAST_PLAIN: Final = 1e-6
_MOST_PLAIN: Final = 1e9


def _display(kind: Kind, system: str) -> Display:
    """How a kind is shown in a system of units."""
    if system == "us":
        return kind.us
    if system == "metric":
        return kind.metric
    raise ValueError(f"system must be 'us' or 'metric', not {system!r}")


def _number(number: float, digits: int, counted: bool) -> str:
    """A number with its decimals; more of them where it is small, an exponent where extreme."""
    size = abs(number)
    if not isfinite(number):
        return str(number)
    if size == 0.0:
        return f"{0.0:.{digits}f}"
    if not counted:
        shown = f"{number:.{digits}f}"
        return shown.removeprefix("-") if float(shown) == 0.0 else shown
    if not _LEAST_PLAIN <= size < _MOST_PLAIN:
        return f"{number:.3e}"
    rounded = float(f"{size:.{_SIGNIFICANT - 1}e}")
    needed = _SIGNIFICANT - 1 - floor(log10(rounded))
    return f"{number:.{max(digits, needed)}f}"


def to_unit(value: float, kind: str, unit_text: str) -> float:
    """The number of an SI value in a unit of its kind.

    >>> round(to_unit(6.30901964e-05, "flow", "gpm"), 6)
    1.0
    """
    target = kind_of(kind)
    if unit_text == target.si:
        return value
    return unit_named(unit_text, target).from_si(value)


def display_value(value: float, kind: str, system: str = "us") -> tuple[float, str]:
    """The number and the unit text in which a value is shown; the unit of a plain number is ""."""
    shown = _display(kind_of(kind), system)
    return to_unit(value, kind, shown.unit), "" if shown.unit == "1" else shown.unit


def show(value: float, kind: str, system: str = "us") -> str:
    """A value as text with its unit, at least three figures, never 0 for what is not.

    >>> show(0.00178545, "flow")
    '28.3 gal/min'
    >>> show(0.00178545, "flow", "metric")
    '107.1 L/min'
    """
    target = kind_of(kind)
    number, unit = display_value(value, kind, system)
    # Zero degrees is no absence of temperature, so that figures are not counted from there.
    counted = target.name not in ("temperature", "count")
    text = _number(number, _display(target, system).digits, counted)
    return f"{text} {unit}".rstrip()
