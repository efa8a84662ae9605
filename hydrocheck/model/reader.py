"""Truck file (TOML) -> `Truck`, with every error at once.

Each error is one line: line number, key, what was read, what fits. The reader knows no field by name:
it follows the `Spec` of each dataclass field.
"""

from __future__ import annotations

import dataclasses
import difflib
import tomllib
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from types import MappingProxyType
from typing import Any

from hydrocheck.errors import FileError, TruckFileError, UnitError
from hydrocheck.model.fields import BOUND_WORDS, Spec, specs
from hydrocheck.model.lineindex import LineIndex, Path
from hydrocheck.model.truck import Truck
from hydrocheck.model.validate import problems
from hydrocheck.units import accepted, parse_measured

SCHEMA = 1
LARGEST = 1_000_000
DEEPEST = 40
NOTED = ("quantity", "choice", "word or quantity")
"""Forms whose defaults are worth a reader's notice; a part that is fitted, or there once, is not."""
_PLAIN_KINDS = ("ratio", "fraction")


def read_truck(path: str | FilePath) -> Truck:
    """Read a truck file. Raises FileError or TruckFileError; nothing else."""
    return truck_from_text(read_text(path))


def read_text(path: str | FilePath) -> str:
    """The text of a small UTF-8 file. Raises FileError."""
    file = FilePath(path)
    try:
        if file.is_dir():
            raise FileError(f"{file}: is a folder; a truck file is a TOML text")
        size = file.stat().st_size
        if size > LARGEST:
            raise FileError(f"{file}: {size / 1e6:.0f} MB; a truck file has at most 1 MB")
        with file.open("rb") as stream:
            data = stream.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FileError(f"{file}: cannot be read: {reason}") from None
    if len(data) > LARGEST:
        raise FileError(f"{file}: more than 1 MB; a truck file has at most 1 MB")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise FileError(f"{file}: line {line}: not UTF-8 text; save it as UTF-8") from None


def truck_from_text(text: str) -> Truck:
    """Read the text of a truck file. Raises TruckFileError with all that is wrong."""
    raw = parse_toml(text)
    reading = _Reading(LineIndex(text))
    schema = raw.pop("schema", None)
    if schema != SCHEMA or isinstance(schema, bool):
        read = "nothing" if schema is None else repr(schema)[:40]
        reading.error(("schema",), "schema", f"read {read}; fits: schema = {SCHEMA}")
    truck = reading.table(Truck, raw, (), "")
    if truck is not None and not reading.errors:
        for path, key, message in problems(truck):
            reading.error(path, key, message)
    if reading.errors or truck is None:
        raise TruckFileError([f"line {line}: {what}" for line, what in sorted(reading.errors)])
    return dataclasses.replace(
        truck,
        defaults_used=tuple(reading.defaults),
        tolerances=MappingProxyType(reading.tolerances),
    )


def parse_toml(text: str) -> dict[str, Any]:
    """TOML -> plain tables. Raises TruckFileError for anything that is not TOML, or nests too deep."""
    if not text.strip():
        raise TruckFileError(["line 1: the file is empty; `hydrocheck new` starts one"])
    if (line := _long_key(text)) is not None:
        raise TruckFileError([f"line {line}: a key of more than {DEEPEST} parts"])
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message, _, place = str(error).partition(" (at ")
        line_text = place.removeprefix("line ").split(",")[0]
        line = int(line_text) if line_text.isdigit() else len(text.splitlines())
        raise TruckFileError([f"line {line}: not TOML: {message[:200]}"]) from None
    except RecursionError:
        raise TruckFileError(["line 1: nested far too deep for a truck file"]) from None
    except ValueError as error:  # an integer of thousands of digits
        raise TruckFileError([f"line 1: not TOML: {str(error)[:120]}"]) from None


def _long_key(text: str) -> int | None:
    """The first line whose key has more than `DEEPEST` parts: they cost the parser quadratic time."""
    for number, line in enumerate(text.splitlines(), 1):
        if line.split("=", 1)[0].count(".") > DEEPEST:
            return number
    return None


@dataclass
class _Reading:
    """One pass over the parsed tables, collecting errors, defaults and tolerances."""

    index: LineIndex
    errors: list[tuple[int, str]] = field(default_factory=list)
    defaults: list[str] = field(default_factory=list)
    tolerances: dict[str, float] = field(default_factory=dict)

    def error(self, path: Path, key: str, message: str) -> None:
        self.errors.append((self.index(path), f"{key}: {message}"))

    def table(self, cls: type, raw: Any, path: Path, key: str, given_name: str = "") -> Any:
        """One dataclass from one table; None where it cannot be made."""
        if not isinstance(raw, dict):
            self.error(path, key, f"read {_shown(raw)}; here fits a table")
            return None
        attributes = specs(cls)
        if given_name:
            attributes.pop("name", None)
        before = len(self.errors)
        for unknown in [k for k in raw if k not in attributes]:
            self._unknown(unknown, tuple(attributes), (*path, unknown), key)
        values = {"name": given_name} if given_name else {}
        for attribute, spec in attributes.items():
            full = f"{key}.{attribute}" if key else attribute
            if attribute in raw:
                value = self._value(spec, raw[attribute], (*path, attribute), full)
                if value is not None:
                    values[attribute] = value
            elif spec.required:
                self.error(path, full, f"missing; {spec.about}")
            elif spec.default is not None and spec.form in NOTED:
                self.defaults.append(full)
            elif spec.form == "table" and spec.table is not None:
                self._note_defaults_of(cls, attribute, spec.table, full)
        return cls(**values) if len(self.errors) == before else None

    def _note_defaults_of(self, cls: type, attribute: str, table: type, key: str) -> None:
        """A sub-table that is always there contributes its defaults even where it is not written."""
        made = next(f for f in cls.__dataclass_fields__.values() if f.name == attribute)  # type: ignore[attr-defined]  # cls is a dataclass
        if callable(made.default_factory):
            self.defaults.extend(
                f"{key}.{a}"
                for a, s in specs(table).items()
                if s.default is not None and s.form in NOTED
            )

    def _unknown(self, unknown: str, known: tuple[str, ...], path: Path, key: str) -> None:
        full = f"{key}.{unknown}" if key else unknown
        near = difflib.get_close_matches(unknown, known, 1, 0.6)
        hint = f"did you mean '{near[0]}'?" if near else "here fits: " + ", ".join(known)
        self.error(path, full[:100], f"unknown key; {hint}")

    def _value(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        return getattr(self, "_read_" + spec.form.replace(" ", "_"))(spec, raw, path, key)

    def _read_quantity(self, spec: Spec, raw: Any, path: Path, key: str) -> float | None:
        plain = isinstance(raw, int | float) and not isinstance(raw, bool)
        if plain and spec.kind in _PLAIN_KINDS:
            raw = repr(raw)
        if plain and not isinstance(raw, str):
            return self._wrong(spec, path, key, f"{raw} without a unit")
        if not isinstance(raw, str):
            return self._wrong(spec, path, key, _shown(raw))
        try:
            measured = parse_measured(raw, spec.kind)
        except UnitError as error:
            self.error(path, key, str(error))
            return None
        if not _within(measured.value, spec.bounds):
            self.error(path, key, f"read '{raw}'; {BOUND_WORDS[spec.bounds]}")
            return None
        if measured.half_width:
            self.tolerances[key] = measured.half_width
        return measured.value

    def _wrong(self, spec: Spec, path: Path, key: str, read: str) -> None:
        fits = ", ".join(accepted(spec.kind)[:6])
        self.error(path, key, f'read {read}; here fits a text with a unit: "... {fits}"')

    def _read_band(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        if not isinstance(raw, list) or len(raw) != 2:
            self.error(path, key, f"read {_shown(raw)}; here fits a list of two, low and high")
            return None
        both = [self._read_quantity(spec, one, path, key) for one in raw]
        if None in both:
            return None
        if both[0] > both[1]:  # type: ignore[operator]  # None excluded above
            self.error(path, key, f"read {raw}; the low end stands first")
            return None
        return tuple(both)

    def _read_quantities(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        if not isinstance(raw, list):
            self.error(path, key, f"read {_shown(raw)}; here fits a list")
            return None
        all_of_them = [self._read_quantity(spec, one, path, key) for one in raw]
        return None if None in all_of_them else tuple(all_of_them)

    def _read_pairs(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        if not isinstance(raw, list) or not all(isinstance(p, list) and len(p) == 2 for p in raw):
            self.error(path, key, f"read {_shown(raw)}; here fits a list of pairs")
            return None
        first, second = (Spec("quantity", "", kind, bounds="not negative") for kind in spec.kinds)
        read = [
            (self._read_quantity(first, a, path, key), self._read_quantity(second, b, path, key))
            for a, b in raw
        ]
        if any(None in pair for pair in read):
            return None
        firsts = [pair[0] for pair in read]
        if any(b <= a for a, b in zip(firsts, firsts[1:], strict=False)):  # type: ignore[operator]  # no None left
            self.error(path, key, "the first values of the pairs must rise")
            return None
        return tuple(read)

    def _read_text(self, spec: Spec, raw: Any, path: Path, key: str) -> str | None:
        if not isinstance(raw, str) or (spec.required and not raw.strip()):
            self.error(path, key, f"read {_shown(raw)}; here fits a text: {spec.about}")
            return None
        if len(raw) > 200 or not raw.isprintable():
            self.error(path, key, "too long, or holds control characters; one line of text fits")
            return None
        return raw

    def _read_name(self, spec: Spec, raw: Any, path: Path, key: str) -> str | None:
        return self._read_text(spec, raw, path, key)

    def _read_names(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        if not isinstance(raw, list) or not all(isinstance(one, str) for one in raw):
            self.error(path, key, f"read {_shown(raw)}; here fits a list of names")
            return None
        return tuple(raw)

    def _read_choice(self, spec: Spec, raw: Any, path: Path, key: str) -> str | None:
        if isinstance(raw, str) and raw in spec.options:
            return raw
        near = difflib.get_close_matches(str(raw)[:40], spec.options, 1, 0.6)
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
        if not isinstance(raw, list):
            self.error(path, key, f"read {_shown(raw)}; here fits an array of tables")
            return None
        made = [
            self.table(spec.table, one, (*path, i), _item_key(key, one, i, len(raw)))
            for i, one in enumerate(raw)
        ]
        return None if None in made else tuple(made)

    def _read_named_tables(self, spec: Spec, raw: Any, path: Path, key: str) -> Any:
        assert spec.table is not None
        if not isinstance(raw, dict):
            self.error(path, key, f"read {_shown(raw)}; here fits tables under names of your own")
            return None
        made = [
            self.table(spec.table, one, (*path, name), f"{key}.{name}", name)
            for name, one in raw.items()
        ]
        return None if None in made else tuple(made)


def _item_key(key: str, raw: Any, position: int, total: int) -> str:
    """How a part in an array is called in messages: as `Circuit.vary` finds it."""
    given = raw.get("name") if isinstance(raw, dict) else None
    outer = key.rpartition(".")[0]
    if isinstance(given, str) and given.strip():
        return f"{outer}.{given[:60]}" if outer else given[:60]
    return key if total == 1 else f"{key}[{position + 1}]"


def _within(value: float, bounds: str) -> bool:
    return {
        "any": True,
        "positive": value > 0,
        "not negative": value >= 0,
        "fraction": 0 <= value <= 1,
        "efficiency": 0 < value <= 1,
    }[bounds]


def _shown(raw: Any) -> str:
    if isinstance(raw, dict):
        return "a table"
    if isinstance(raw, list):
        return "a list"
    if isinstance(raw, bool):
        return str(raw).lower()
    text = str(raw)
    text = text if len(text) <= 40 else text[:37] + "..."
    return f"'{text}'" if text.isprintable() else repr(text)
