"""Truck file (TOML) -> `Truck`, with every error at once.

Each error is one line: line number, key, what was read, what fits. The reader knows no field by
name: it follows the `Spec` of each dataclass field.
"""

from __future__ import annotations

import dataclasses
import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from types import MappingProxyType
from typing import Any, TypeVar

from hydrocheck.errors import TruckFileError, UnitError
from hydrocheck.model.fields import BOUND_WORDS, Spec, specs, within
from hydrocheck.model.files import read_text
from hydrocheck.model.lineindex import LineIndex, Path
from hydrocheck.model.tomltext import parse_toml
from hydrocheck.model.truck import Truck
from hydrocheck.model.validate import Problem, problems
from hydrocheck.units import KINDS, parse_measured
from hydrocheck.units.reading import fits

__all__ = ["SCHEMA", "parse_toml", "read_truck", "truck_from_text"]

T = TypeVar("T")

SCHEMA = 1
MOST_PARTS = 500
"""Items of one list or array: far beyond any truck, and little enough to compare each with each."""
MOST_HINTS = 100
"""Errors up to which the nearest known word is sought: the search is slow."""
LONGEST_NAME = 200
NOTED = ("quantity", "choice", "word or quantity")
"""Forms whose defaults are worth notice; a part that is fitted, or there once, is not."""


def read_truck(path: str | FilePath) -> Truck:
    """Read a truck file. Raises FileError or TruckFileError; nothing else."""
    return truck_from_text(read_text(path, "a truck file"))


def truck_from_text(text: str) -> Truck:
    """Read the text of a truck file. Raises TruckFileError with all that is wrong."""
    truck, notes = tables_from_text(text, Truck, problems)
    return dataclasses.replace(
        truck, defaults_used=notes.defaults, tolerances=MappingProxyType(dict(notes.tolerances))
    )


@dataclass(frozen=True)
class Notes:
    """What a reading leaves beside its values: keys that took defaults, half-widths by key."""

    defaults: tuple[str, ...]
    tolerances: Mapping[str, float]


def tables_from_text(
    text: str, cls: type[T], rules: Callable[[T], Iterable[Problem]]
) -> tuple[T, Notes]:
    """Read TOML into a model class, its values compared by `rules`.

    Raises TruckFileError with all that is wrong.
    """
    raw = parse_toml(text)
    reading = TableReading(LineIndex(text))
    schema = raw.pop("schema", None)
    if type(schema) is not int or schema != SCHEMA:
        read = "nothing" if schema is None else _shown(schema)
        reading.error(("schema",), "schema", f"read {read}; fits: schema = {SCHEMA}")
    made: T | None = reading.table(cls, raw, (), "")
    if made is not None and reading.complete:
        reading.compare(rules(made))
    if reading.errors or made is None:
        raise TruckFileError(reading.lines())
    return made, Notes(tuple(reading.defaults), reading.tolerances)


@dataclass
class TableReading:
    """One pass over the parsed tables, collecting errors, defaults and tolerances."""

    index: LineIndex
    errors: list[tuple[int, str, str]] = field(default_factory=list)
    defaults: list[str] = field(default_factory=list)
    tolerances: dict[str, float] = field(default_factory=dict)
    complete: bool = True
    """Whether every part could be made, be it with values missing."""

    def error(self, path: Path, key: str, message: str) -> None:
        self.errors.append((self.index(path), key, message))

    def lines(self) -> list[str]:
        """The errors in the order of the file, each a line without control characters."""
        return [
            f"line {line}: {_printable(key[:LONGEST_NAME])}: {_printable(message)}"
            for line, key, message in sorted(self.errors)
        ]

    def compare(self, faults: Iterable[Problem]) -> None:
        """Add what does not fit together, but nothing that follows from a value already wrong."""
        wrong = {key for _, key, _ in self.errors}
        wrong_parts = {key[:i] for key in wrong for i in range(len(key)) if key[i] == "."} | wrong
        for path, key, message in faults:
            parents = (key[:i] for i in range(len(key)) if key[i] == ".")
            if key not in wrong_parts and wrong.isdisjoint(parents):
                self.error(path, key, message)

    def table(self, cls: type, raw: Any, path: Path, key: str, given_name: str = "") -> Any:
        """One dataclass from one table, without values that are wrong; None where that fails."""
        if not isinstance(raw, dict):
            self.error(path, key, f"read {_shown(raw)}; here fits a table")
            self.complete = False
            return None
        attributes = specs(cls)
        if given_name:
            attributes.pop("name", None)
        unknown = [k for k in raw if k not in attributes]
        for one in unknown[:MOST_HINTS]:
            self._unknown(one, tuple(attributes), (*path, one), key)
        if len(unknown) > MOST_HINTS:
            read = f"read {len(unknown)} unknown keys, {MOST_HINTS} of them listed"
            self.error(path, key or "the file", read)
        values = {"name": given_name} if given_name else {}
        for attribute, spec in attributes.items():
            full = f"{key}.{attribute}" if key else attribute
            if attribute in raw:
                value = self._value(spec, raw[attribute], (*path, attribute), full)
                if value is not None:
                    values[attribute] = value
            elif spec.required:
                self.error(path, full, f"missing; {spec.about}")
            elif _noted(spec):
                self.defaults.append(full)
            elif spec.form == "table" and spec.table is not None:
                self._note_defaults_of(cls, attribute, spec.table, full)
        if any(spec.required and a not in values for a, spec in attributes.items()):
            self.complete = False
            return None
        return cls(**values)

    def _note_defaults_of(self, cls: type, attribute: str, table: type, key: str) -> None:
        """A sub-table that is always there has its defaults even where it is not written."""
        made = next(f for f in dataclasses.fields(cls) if f.name == attribute)
        if callable(made.default_factory):
            self.defaults.extend(f"{key}.{a}" for a, s in specs(table).items() if _noted(s))

    def _unknown(self, unknown: str, known: tuple[str, ...], path: Path, key: str) -> None:
        full = f"{key}.{unknown}" if key else unknown
        seek = len(self.errors) < MOST_HINTS and len(unknown) <= LONGEST_NAME
        near = difflib.get_close_matches(unknown, known, 1, 0.6) if seek else []
        hint = f"did you mean '{near[0]}'?" if near else "here fits: " + ", ".join(known)
        self.error(path, full, f"unknown key; {hint}")

    def _value(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        return getattr(self, "_read_" + spec.form.replace(" ", "_"))(spec, raw, path, key)

    def _read_quantity(self, spec: Spec, raw: Any, path: Path, key: str) -> float | None:
        kind = KINDS[spec.kind]
        number = isinstance(raw, int | float) and not isinstance(raw, bool)
        if number and kind.plain:
            raw = "inf" if abs(raw) > 1e300 else repr(raw)
        if not isinstance(raw, str):
            read = f"{_shown(raw)}, a number without a unit" if number else _shown(raw)
            words = f"{', '.join(spec.options)}, or " if spec.options else ""
            self.error(path, key, f"read {read}; here fits {words}a text: {fits(kind)}")
            return None
        try:
            measured = parse_measured(raw, spec.kind)
        except UnitError as error:
            self.error(path, key, f"read {error}")
            return None
        if not within(measured.value, spec.bounds):
            self.error(path, key, f"read {_shown(raw)}; {BOUND_WORDS[spec.bounds]}")
            return None
        if measured.half_width and spec.form != "quantity":
            self.error(path, key, f"read {_shown(raw)}; no tolerance is taken here")
            return None
        if measured.half_width:
            self.tolerances[key] = measured.half_width
        return measured.value

    def _list(self, raw: Any, path: Path, key: str, what: str) -> list[Any] | None:
        """A list of no more than `MOST_PARTS`."""
        if not isinstance(raw, list):
            self.error(path, key, f"read {_shown(raw)}; here fits {what}")
        elif len(raw) > MOST_PARTS:
            self.error(path, key, f"read {len(raw)} items; at most {MOST_PARTS} fit")
        else:
            return raw
        return None

    def _read_band(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        if not isinstance(raw, list) or len(raw) != 2:
            self.error(path, key, f"read {_shown(raw)}; here fits a list of two, low and high")
            return None
        low, high = (self._read_quantity(spec, one, path, key) for one in raw)
        if low is None or high is None:
            return None
        if low > high:
            self.error(path, key, f"read '{raw[0]}', '{raw[1]}'; the low end stands first")
            return None
        return low, high

    def _read_quantities(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        if (items := self._list(raw, path, key, "a list")) is None:
            return None
        read = [self._read_quantity(spec, one, (*path, i), key) for i, one in enumerate(items)]
        return None if None in read else tuple(read)

    def _read_pairs(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        if (items := self._list(raw, path, key, "a list of pairs")) is None:
            return None
        made: list[tuple[float, float]] = []
        for i, item in enumerate(items):
            at = (*path, i)
            if not isinstance(item, list) or len(item) != 2:
                self.error(at, key, f"read {_shown(item)}; here fits a pair: a list of two")
                continue
            first, second = (
                self._read_quantity(Spec("pairs", "", kind, bounds="not negative"), one, at, key)
                for kind, one in zip(spec.kinds, item, strict=True)
            )
            if first is None or second is None:
                continue
            if made and first <= made[-1][0]:
                self.error(at, key, f"read {_shown(item[0])}; the first of the pairs must rise")
            made.append((first, second))
        return tuple(made) if len(made) == len(items) else None

    def _read_text(self, spec: Spec, raw: Any, path: Path, key: str) -> str | None:
        if not isinstance(raw, str) or (spec.required and not raw.strip()):
            self.error(path, key, f"read {_shown(raw)}; here fits a text: {spec.about}")
            return None
        if len(raw) > LONGEST_NAME or not raw.isprintable():
            self.error(path, key, f"read {_shown(raw)}; {_ONE_LINE}")
            return None
        return raw

    def _read_name(self, spec: Spec, raw: Any, path: Path, key: str) -> str | None:
        return self._read_text(spec, raw, path, key)

    def _read_names(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        if (items := self._list(raw, path, key, "a list of names")) is None:
            return None
        read = [self._read_text(spec, one, (*path, i), key) for i, one in enumerate(items)]
        return None if None in read else tuple(read)

    def _read_choice(self, spec: Spec, raw: Any, path: Path, key: str) -> str | None:
        if isinstance(raw, str) and raw in spec.options:
            return raw
        near = []
        if isinstance(raw, str) and len(self.errors) < MOST_HINTS:
            near = difflib.get_close_matches(raw[:40], spec.options, 1, 0.6)
        hint = f"; did you mean '{near[0]}'?" if near else ""
        self.error(path, key, f"read {_shown(raw)}; here fits: {', '.join(spec.options)}{hint}")
        return None

    def _read_word_or_quantity(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        if isinstance(raw, str) and raw in spec.options:
            return raw
        if isinstance(raw, str) and not any(c.isdigit() for c in raw):
            fits = ", ".join(spec.options)
            self.error(
                path, key, f"read {_shown(raw)}; here fits: {fits}, or a value with its unit"
            )
            return None
        return self._read_quantity(spec, raw, path, key)

    def _read_flag(self, spec: Spec, raw: Any, path: Path, key: str) -> bool | None:
        if isinstance(raw, bool):
            return raw
        self.error(path, key, f"read {_shown(raw)}; here fits: true, false")
        return None

    def _read_count(self, spec: Spec, raw: Any, path: Path, key: str) -> int | None:
        if isinstance(raw, int) and not isinstance(raw, bool) and 1 <= raw <= 100:
            return raw
        self.error(path, key, f"read {_shown(raw)}; here fits a whole number from 1 to 100")
        return None

    def _read_table(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        assert spec.table is not None
        return self.table(spec.table, raw, path, key)

    def _read_tables(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        assert spec.table is not None
        if isinstance(raw, dict):  # a single part may be written as one plain table
            made_one = self.table(spec.table, raw, path, _item_key(key, raw, 0, 1))
            return None if made_one is None else (made_one,)
        if (items := self._list(raw, path, key, "an array of tables")) is None:
            self.complete = False
            return None
        made = [
            self.table(spec.table, one, (*path, i), _item_key(key, one, i, len(items)))
            for i, one in enumerate(items)
        ]
        return None if None in made else tuple(made)

    def _read_named_tables(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        assert spec.table is not None
        if not isinstance(raw, dict) or len(raw) > MOST_PARTS:
            read = f"{len(raw)} tables" if isinstance(raw, dict) else _shown(raw)
            what = f"at most {MOST_PARTS} tables under names of your own"
            self.error(path, key, f"read {read}; here fits {what}")
            self.complete = False
            return None
        made = []
        for name, one in raw.items():
            at = (*path, name)
            if not name.strip() or len(name) > LONGEST_NAME or not name.isprintable():
                self.error(at, key, f"read the name {_shown(name)}; {_ONE_LINE}")
                self.complete = False
            else:
                made.append(self.table(spec.table, one, at, f"{key}.{name}", name))
        return None if None in made else tuple(made)


def _noted(spec: Spec) -> bool:
    """Whether a default is a guess that the user should know of."""
    return spec.default is not None and spec.form in NOTED and not spec.fault


_ONE_LINE = f"one line of 1 to {LONGEST_NAME} characters fits, none of them a control character"


def _item_key(key: str, raw: Any, position: int, total: int) -> str:
    """How a part in an array is called in messages: as `Circuit.vary` finds it."""
    given = raw.get("name") if isinstance(raw, dict) else None
    outer = key if key == "scenario" else key.rpartition(".")[0]
    if isinstance(given, str) and given.strip():
        return f"{outer}.{given[:60]}" if outer else given[:60]
    return key if total == 1 else f"{key}[{position + 1}]"


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def _shown(raw: Any) -> str:
    if isinstance(raw, dict):
        return "a table"
    if isinstance(raw, list):
        return "a list"
    if isinstance(raw, bool):
        return str(raw).lower()
    if isinstance(raw, int) and abs(raw) >= 10**40:
        return "a number of more than 40 digits"
    text = raw if isinstance(raw, str) else str(raw)
    text = text if len(text) <= 40 else text[:37] + "..."
    return f"'{_printable(text)}'" if isinstance(raw, str) else text
