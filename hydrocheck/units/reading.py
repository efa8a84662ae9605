"""Text with a unit to an SI float, and the messages when that fails."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Final

from hydrocheck.errors import UnitError
from hydrocheck.units.grammar import Part, Text, normalise, not_one_value, quote, read
from hydrocheck.units.kind import Kind, Unit, article
from hydrocheck.units.tables import KINDS

_MOST_LISTED: Final = 8
_PERCENT: Final = "%"


@dataclass(frozen=True)
class Measured:
    """A value and the half width of its tolerance, both SI; None where no tolerance was given."""

    value: float
    half_width: float | None


def kind_of(name: str) -> Kind:
    """The kind of that name; an unknown name is a programming error, hence KeyError."""
    try:
        return KINDS[name]
    except KeyError:
        raise KeyError(f"no kind of quantity is called {name!r}") from None


def accepted(kind: str) -> list[str]:
    """The main spelling of each unit that a kind takes, each once, the usual ones first.

    Empty for a kind that is only ever a plain number.
    """
    names = dict.fromkeys(unit.names[0] for unit in kind_of(kind).units)
    return [name for name in names if name != "1"]


def fits(kind: Kind) -> str:
    """What a kind takes, for the end of a message."""
    names = accepted(kind.name)
    if not names:
        return f"{article(kind.title)} is a plain number without a unit"
    plain = " or a plain number" if kind.plain else ""
    more = ", ..." if len(names) > _MOST_LISTED else ""
    return f"{article(kind.title)} takes {', '.join(names[:_MOST_LISTED])}{more}{plain}"


def _elsewhere(unit_text: str, kind: Kind) -> str:
    """The other kinds to which a unit belongs, as words, or an empty text."""
    titles = [
        other.title for other in KINDS.values() if other is not kind and other.find(unit_text)
    ]
    return " or ".join(dict.fromkeys(titles[:2]))


def _why_not(unit_text: str, kind: Kind) -> str:
    """What is wrong with a text that is no unit of a kind."""
    from difflib import get_close_matches

    from hydrocheck.units.spelling import canonical

    key = canonical(unit_text)
    shown = quote(unit_text)
    if reason := kind.reasons.get(key.casefold()):
        return f"{shown}: {reason}"
    if shape := not_one_value(unit_text):
        return shape
    cased = [known for known in kind.spellings if known.casefold() == key.casefold()]
    sure = not cased or any(key in other.spellings for other in KINDS.values())
    if sure and (titles := _elsewhere(unit_text, kind)):
        return f"{shown} is a unit of {titles}, not of {kind.title}"
    if cased:
        return f"{shown} is unknown; capitals matter here: did you mean {cased[0]}?"
    names = {name.casefold(): name for unit in kind.units for name in unit.names if name != "1"}
    if near := get_close_matches(unit_text.casefold(), names, n=1, cutoff=0.6):
        return f"unknown unit {shown}; did you mean {names[near[0]]}?"
    return f"unknown unit {shown}"


def _unit(shown: str, part: Part, kind: Kind) -> Unit:
    """The unit after a number, or the error that says what fits."""
    if not part.rest:
        if kind.plain:
            return kind.spellings["1"]
        raise UnitError(f"{shown}: no unit; {fits(kind)}")
    unit = kind.find(part.rest)
    if unit is None or part.rest == "1":
        why = not_one_value(part.rest) if unit else _why_not(part.rest, kind)
        raise UnitError(f"{shown}: {why}; {fits(kind)}")
    return unit


def _check_form(shown: str, part: Part, unit: Unit, kind: Kind) -> None:
    """A fraction goes with inches, a:b with ratios, and a bare fraction lies within 1."""
    if part.number.form == "fraction" and not unit.fractions:
        raise UnitError(f"{shown}: fractions go with inches only; write a decimal; {fits(kind)}")
    if part.number.form == "ratio" and (kind.name != "ratio" or part.rest):
        raise UnitError(f"{shown}: a ratio such as 25:1 does not fit; {fits(kind)}")
    if kind.name == "fraction" and not part.rest and abs(part.number.value) > 1.0:
        raise UnitError(
            f"{shown}: a plain number above 1 is no fraction; "
            f"write {part.number.value:g} % if percent is meant"
        )
    if kind.name == "count" and not part.number.value.is_integer():
        raise UnitError(f"{shown}: {fits(kind)}; this one is not whole")


def _convert(shown: str, number: float, unit: Unit, kind: Kind) -> float:
    """A number in a unit as a checked SI value."""
    try:
        value = unit.to_si(number)
    except UnitError as error:
        raise UnitError(f"{shown}: {error}") from None
    if not isfinite(value) or (value == 0.0 and number != 0.0 and not unit.shift):
        raise UnitError(f"{shown}: the number is out of all bounds")
    if kind.name == "temperature" and value < 0.0:
        raise UnitError(f"{shown}: below absolute zero")
    if value < 0.0 and not kind.negative:
        raise UnitError(f"{shown}: {article(kind.title)} cannot be negative")
    return value + 0.0


def _half_width(text: Text, part: Part, unit: Unit, kind: Kind, own_unit: bool) -> float:
    """The SI half width of a tolerance beside a value in `unit`."""
    shown, value = text.shown, text.value.number.value
    width = part.number.value
    if part.rest == _PERCENT and not (kind.plain and text.value.rest == _PERCENT):
        if kind.name == "temperature":
            raise UnitError(f"{shown}: a share of a temperature means nothing; give degrees")
        if kind.name == "fraction":
            raise UnitError(f"{shown}: unclear; write 0.90 +/- 0.03 or 90 % +/- 3 %")
        width, other = abs(value) * width / 100.0, unit
    elif not part.rest and not kind.plain:
        raise UnitError(f"{shown}: the tolerance needs its unit or %")
    elif bool(part.rest) != own_unit and kind.plain:
        raise UnitError(f"{shown}: write value and tolerance in the same way")
    else:
        other = _unit(shown, part, kind)
        _check_form(shown, part, other, kind)
    if other.curve is None:
        half = width * other.factor
    elif other is unit:
        low, high = (_convert(shown, value + w, unit, kind) for w in (-width, width))
        half = 0.5 * (high - low)
    else:
        raise UnitError(f"{shown}: write value and tolerance in the same unit")
    if not isfinite(half) or half < 0.0:
        raise UnitError(f"{shown}: the tolerance is out of all bounds")
    return half


def parse_measured(text: str, kind: str) -> Measured:
    """A text with a unit, and with a tolerance where there is one, in SI.

    `5.5 in^3/rev +/- 3 %` is a share of the value, `1300 rpm +/- 20 rpm` and `0.90 +/- 0.03` are
    in the unit of the kind, `240 +/- 10 lb/mi` shares one unit. Percent points: `90 % +/- 3 %`.

    >>> parse_measured("100 psi +/- 5 %", "pressure").half_width
    34473.786...
    """
    target = kind_of(kind)
    parts = read(text)
    value, tolerance = parts.value, parts.tolerance
    if tolerance is not None and not value.rest:
        percent_points = target.name == "fraction" and abs(value.number.value) > 1.0
        if tolerance.rest != _PERCENT or percent_points:
            value = Part(value.number, tolerance.rest)
    parts = Text(parts.shown, value, tolerance)
    unit = _unit(parts.shown, value, target)
    _check_form(parts.shown, value, unit, target)
    number = _convert(parts.shown, value.number.value, unit, target)
    if tolerance is None:
        return Measured(number, None)
    return Measured(number, _half_width(parts, tolerance, unit, target, bool(value.rest)))


def parse(text: str, kind: str) -> float:
    """A text with a unit as an SI value; a tolerance is refused, not dropped.

    >>> round(parse("2600 psi", "pressure"))
    17926369
    >>> parse("1-1/4 in", "length")
    0.03175
    """
    measured = parse_measured(text, kind)
    if measured.half_width is not None:
        raise UnitError(f"{quote(text)}: no tolerance is taken here; give the value only")
    return measured.value


def unit_named(unit_text: str, kind: Kind) -> Unit:
    """The unit of a kind that a text names; UnitError when it is none."""
    plain = normalise(unit_text)
    unit = kind.find(plain)
    if unit is None:
        raise UnitError(f"{_why_not(plain, kind)}; {fits(kind)}")
    return unit
