"""`Truck` -> truck file (TOML). The reader reads it back to the same values.

Like the reader it knows no field by name: it follows the `Spec` of each dataclass field. A value is
written in whichever of the two systems of units says it shorter; one at its default is left out.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from typing import Any

from hydrocheck.errors import DomainError
from hydrocheck.model.fields import Spec, specs
from hydrocheck.model.reader import SCHEMA
from hydrocheck.model.truck import Truck
from hydrocheck.units import KINDS, display_value, parse, to_unit

EXACT = 1e-7
"""Largest relative difference between a value and its text."""
WIDEST = 110
MORE_UNITS: Mapping[str, tuple[str, ...]] = {
    "length": ("ft", "mm"),
    "torque": ("in-lb",),
    "area": ("ft2",),
    "volume": ("L",),
}
"""Units beside those in which a kind is shown."""
FIRST = ("name", "truck")
INNER = ("table", "tables", "named tables")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?")
_NOTE_AT = 44


def truck_text(
    truck: Truck, units: str = "us", *, head: str = "", notes: Mapping[str, str] | None = None
) -> str:
    """The truck file of a truck.

    units: "us" or "metric", where both say a value as shortly
    head: comment lines for the top; notes: comment by path, as `Circuit.vary` names values

    Raises DomainError for a value that is an array: a file holds one truck.
    """
    writer = _Writer(units, dict(notes or {}))
    writer.table(truck, (), "")
    comment = "".join(f"# {line}\n" for line in head.splitlines())
    gap = "\n" if comment else ""
    return f"{comment}{gap}schema = {SCHEMA}\n" + "\n".join(writer.lines) + "\n"


def value_text(value: float, kind: str, units: str) -> str:
    """A value with its unit, as short as it can be said within `EXACT`."""
    other = "metric" if units == "us" else "us"
    at_home = [display_value(value, kind, system)[1] for system in (units, other)]
    texts = [_in_unit(value, kind, unit) for unit in (*at_home, *MORE_UNITS.get(kind, ()))]
    return min(texts, key=_digits)


def _digits(text: str) -> int:
    number = text.partition(" ")[0]
    return sum(c.isdigit() for c in number.lstrip("-0.").partition("e")[0])


def _in_unit(value: float, kind: str, unit: str) -> str:
    number = value if not unit else to_unit(value, kind, unit)
    for digits in range(1, 17):
        rounded = float(f"{number:.{digits}g}")
        plain = f"{rounded:.{digits}f}".rstrip("0").rstrip(".")
        shown = plain if 1e-4 <= abs(rounded) < 1e15 or rounded == 0.0 else repr(rounded)
        text = f"{shown} {unit}".strip()
        if abs(parse(text, kind) - value) <= EXACT * abs(value):
            return text
    return f"{number!r} {unit}".strip()


class _Writer:
    """Tables written so far, as lines."""

    def __init__(self, units: str, notes: dict[str, str]) -> None:
        self.units = units
        self.notes = notes
        self.lines: list[str] = []

    def table(self, part: Any, path: Sequence[str], called: str) -> None:
        """One table: its values, then the tables in it. called: its path for notes."""
        inner: list[tuple[str, Spec, Any]] = []
        known = sorted(specs(type(part)).items(), key=lambda item: item[0] not in FIRST)
        for key, spec in known:
            value = getattr(part, key)
            if _absent(value, spec) or (key == "name" and path[:1] == ("lines",)):
                continue
            at = f"{called}.{key}" if called else key
            if spec.form not in INNER:
                self._line(key, self._value(value, spec), at)
            elif spec.form == "table" and path and (text := self._fits_a_line(key, value)):
                self.lines.append(text)
            else:
                inner.append((key, spec, value))
        for key, spec, value in inner:
            self._inside(key, spec, value, path, called)

    def _inside(self, key: str, spec: Spec, value: Any, path: Sequence[str], called: str) -> None:
        at = (*path, key)
        if spec.form == "table":
            self._one(value, at, f"{called}.{key}" if called else key)
        elif spec.form == "tables":
            for item in value:
                name = getattr(item, "name", "")
                own = name or (f"{called}.{key}" if called else key)
                single = len(value) == 1 and len(path) > 0
                self.lines += ["", f"[{_path(at)}]" if single else f"[[{_path(at)}]]"]
                self.table(item, at, own)
        elif key == "run":
            self.lines += [f"[{_path(at)}]"]
            for item in value:
                self.lines.append(f"{_key(item.name)} = {self._inline(item, skip='name')}")
        else:
            for item in value:
                self.lines += ["", f"[{_path((*at, item.name))}]"]
                self.table(item, (*at, item.name), f"{key}.{item.name}")

    def _one(self, value: Any, at: Sequence[str], called: str) -> None:
        """A sub-table under a head of its own; nothing where it holds only defaults."""
        mark = len(self.lines)
        self.lines += ["", f"[{_path(at)}]"]
        self.table(value, at, called)
        if len(self.lines) == mark + 2:
            del self.lines[mark:]

    def _fits_a_line(self, key: str, part: Any) -> str:
        """A table of plain values as one line; empty where it is too long or holds tables."""
        for k, spec in specs(type(part)).items():
            if spec.form in INNER and not _absent(getattr(part, k), spec):
                return ""
        text = f"{_key(key)} = {self._inline(part)}"
        return text if text.endswith(" }") and len(text) <= WIDEST else ""

    def _inline(self, part: Any, skip: str = "") -> str:
        items = [
            f"{_key(k)} = {self._value(getattr(part, k), spec)}"
            for k, spec in specs(type(part)).items()
            if k != skip and not _absent(getattr(part, k), spec)
        ]
        return "{ " + ", ".join(items) + " }" if items else ""

    def _line(self, key: str, value: str, called: str) -> None:
        """One value; its note behind it, or above it where the line would be too long."""
        text = f"{_key(key)} = {value}"
        if note := " ".join(self.notes.get(called, "").split()):
            beside = f"{text.ljust(_NOTE_AT)} # {note}"
            if len(beside) > WIDEST:
                self.lines.append(f"# {key}: {note}")
            text = beside if len(beside) <= WIDEST else text
        self.lines.append(text)

    def _value(self, value: Any, spec: Spec) -> str:
        form = spec.form
        if form == "quantity" or (form == "word or quantity" and not isinstance(value, str)):
            return self._quantity(value, spec.kind)
        if form in ("band", "quantities"):
            return "[" + ", ".join(self._quantity(v, spec.kind) for v in value) + "]"
        if form == "pairs":
            rows = [
                "[" + ", ".join(self._quantity(v, k) for v, k in zip(pair, spec.kinds, strict=True))
                + "]"
                for pair in value
            ]  # fmt: skip
            return "[" + ", ".join(rows) + "]"
        if form == "names":
            return "[" + ", ".join(_quoted(v) for v in value) + "]"
        if isinstance(value, bool):
            return str(value).lower()
        return str(value) if isinstance(value, int) else _quoted(value)

    def _quantity(self, value: Any, kind: str) -> str:
        try:
            number = float(value)
        except TypeError:
            raise DomainError("a truck file holds one truck, not an array of values") from None
        text = value_text(number, kind, self.units)
        return text if KINDS[kind].plain and _NUMBER.fullmatch(text) else _quoted(text)


def _absent(value: Any, spec: Spec) -> bool:
    """Whether a value need not be written: not given, empty, or at its default."""
    if value is None or (isinstance(value, tuple | str) and len(value) == 0):
        return True
    if spec.default is None or spec.required:
        return False
    if spec.form == "quantity":
        return bool(value == parse(spec.default, spec.kind))
    if spec.form in ("choice", "word or quantity"):
        return bool(value == spec.default)
    return str(value).lower() == spec.default


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _quoted(key)


def _path(path: Sequence[str]) -> str:
    return ".".join(_key(part) for part in path)
