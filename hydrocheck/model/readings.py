"""The readings file: what was read on a truck, under which conditions.

TOML by hand, or JSON as the set-up sheet saves it, the same keys in both:

    schema = 1
    truck = "Alder Fork 27"
    at = { engine = "1300 rpm", oil = "110 degF" }       # holds for all readings below

    [[reading]]
    what = "auger speed"
    value = "62 rpm +/- 1 rpm"
    at = { run = { auger = { command = "60 %" } } }

A reading may also be one text, in the list or on the command line:
`"auger speed = 62 rpm @ engine 1300 rpm, auger command 60 %"`.
"""

from __future__ import annotations

import dataclasses
import json
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path as FilePath
from types import MappingProxyType
from typing import Any

from hydrocheck.errors import DomainError, TruckFileError, UnitError
from hydrocheck.model.fields import (
    choice,
    named_tables,
    quantity,
    references,
    table,
    tables,
    text,
)
from hydrocheck.model.files import read_text
from hydrocheck.model.lineindex import LineIndex, Path
from hydrocheck.model.readable import INSTRUMENTS, POSSIBLE, READABLES, TESTS, What, what_named
from hydrocheck.model.reader import MOST_PARTS, TableReading
from hydrocheck.model.tomltext import DEEPEST, parse_toml
from hydrocheck.model.truck import Task, Truck
from hydrocheck.units import KINDS, parse, parse_measured, show
from hydrocheck.units.reading import fits

SCHEMA = 1
START = (
    'write schema = 1, then reading = ["auger speed = 62 rpm @ engine 1300 rpm"],'
    " or save the set-up sheet"
)
"""How to begin a readings file, for one that is empty."""
LONGEST_LINE = 400
"""Most characters of a reading written as one text."""


@dataclass(frozen=True)
class Conditions:
    """Under which conditions something was read; what is not given is not known."""

    engine: float | None = quantity("shaft_speed", "engine speed")
    oil: float | None = quantity("temperature", "oil temperature", bounds="any")
    hopper: str | None = choice("load of the feeder", "full", "empty")
    scenario: str = text("the scenario of the truck file that ran")
    run: tuple[Task, ...] = named_tables(Task, "what each function was told to do")
    stop: tuple[str, ...] = references("functions held at their stop", "function")
    test: str | None = choice("field test on the function", *TESTS)
    swept: str | None = choice("which way the command was moved", "up", "down")

    def over(self, general: Conditions) -> Conditions:
        """These conditions, with the general ones wherever these say nothing."""
        empty = Conditions()
        own = {
            f.name: getattr(self, f.name)
            for f in dataclasses.fields(self)
            if f.name != "run" and getattr(self, f.name) != getattr(empty, f.name)
        }
        tasks = {task.name: task for task in (*general.run, *self.run)}
        return dataclasses.replace(general, **own, run=tuple(tasks.values()))

    def task(self, function: str) -> Task | None:
        """What a function did, where it is told."""
        return next((task for task in self.run if task.name == function), None)


@dataclass(frozen=True)
class Item:
    """One reading as it is written."""

    what: str = text("what was read: " + ", ".join(READABLES), required=True)
    value: str = text("the value with its unit, +/- its uncertainty, or a word", required=True)
    at: Conditions = table(Conditions, "under which conditions", always=True)
    instrument: str | None = choice("with what it was read", *INSTRUMENTS)
    uncertainty: str = text("half width that about 95 % of such readings keep, with its unit")
    note: str = text("a remark")


@dataclass(frozen=True)
class ReadingsFile:
    """Readings taken on a truck."""

    truck: str = text("what the truck is called")
    date: str = text("when they were taken")
    by: str = text("who took them")
    notes: tuple[str, ...] = references("remarks")
    at: Conditions = table(Conditions, "conditions of all readings that say no other", always=True)
    reading: tuple[Item, ...] = tables(Item, "the readings: tables, or texts of one line")


@dataclass(frozen=True)
class Reading:
    """One thing read: a value in SI or a word, how well it is known, and when it holds.

    uncertainty: half width in SI that about 95 % of such readings keep; 0 for a word
    place: where it stands, for messages
    """

    what: What
    value: float | str
    uncertainty: float
    at: Conditions
    written: str
    instrument: str = ""
    note: str = ""
    place: str = ""

    @property
    def number(self) -> float:
        """The value of a reading that is no word. Raises TypeError for a word."""
        if isinstance(self.value, str):
            raise TypeError(f"{self.what} is a word")
        return self.value


@dataclass(frozen=True)
class Readings:
    """A readings file, read."""

    readings: tuple[Reading, ...] = ()
    truck: str = ""
    date: str = ""
    by: str = ""
    notes: tuple[str, ...] = ()

    def of(self, what: str) -> tuple[Reading, ...]:
        """The readings of one thing, such as `auger speed`."""
        return tuple(one for one in self.readings if str(one.what) == what)


def read_readings(path: str | FilePath) -> Readings:
    """Read a readings file, TOML or JSON. Raises FileError or TruckFileError; nothing else."""
    return readings_from_text(read_text(path, "a readings file"))


def readings_from_text(content: str) -> Readings:
    """Read the text of a readings file. Raises TruckFileError with all that is wrong."""
    if content.lstrip()[:1] == "{":  # as the sheet saves it
        return _readings(_parse_json(content), _ItemReading(LineIndex("")))
    return _readings(parse_toml(content, START), TableReading(LineIndex(content)))


def readings_from_lines(lines: Iterable[str], option: str = "") -> Readings:
    """Readings from texts such as `auger speed = 62 rpm @ engine 1300 rpm`.

    option: where they come from, for messages, such as `--reading`

    Raises TruckFileError with all that is wrong.

    >>> readings_from_lines(["pump flow = 10 gal in 15 s"]).readings[0].written
    '10 gal in 15 s'
    """
    pass_over = _ItemReading(LineIndex(""))
    pass_over.option = option
    return _readings({"schema": SCHEMA, "reading": list(lines)}, pass_over)


def refuse_unknown_functions(readings: Readings, truck: Truck) -> None:
    """Raise TruckFileError for readings of functions or scenarios that a truck does not have."""
    functions = [f.name for f in truck.function if f.fitted]
    scenarios = [s.name for s in truck.scenario]
    faults = []
    for one in readings.readings:
        named = [one.what.function, *(task.name for task in one.at.run), *one.at.stop]
        for name in dict.fromkeys(n for n in named if n and n not in functions):
            faults.append(f"{one.place}: no function '{name}'; there are {', '.join(functions)}")
        if one.at.scenario and one.at.scenario not in scenarios:
            have = ", ".join(scenarios) or "none"
            faults.append(f"{one.place}: no scenario '{one.at.scenario}'; there are {have}")
    if faults:
        raise TruckFileError(faults)


class _ItemReading(TableReading):
    """A pass over tables without lines: the key of an item tells where an error stands.

    option: stands for the key where the items were told one by one
    """

    option = ""

    def lines(self) -> list[str]:
        plain = [line.removeprefix("line 1: ") for line in super().lines()]
        return [_OPTION.sub(rf"{self.option}\1", line) for line in plain] if self.option else plain


_OPTION = re.compile(r"^reading(\[\d+\])?(?:\.(?:what|value))?(?=[:.])")


def _readings(raw: dict[str, Any], reading: TableReading) -> Readings:
    schema = raw.pop("schema", None)
    if type(schema) is not int or schema != SCHEMA:
        reading.error(("schema",), "schema", f"read {schema!r:.40}; fits: schema = {SCHEMA}")
    items = raw.pop("reading", [])
    items = [items] if isinstance(items, dict) else items
    if not isinstance(items, list) or len(items) > MOST_PARTS:
        fault = f"here fits a list of at most {MOST_PARTS} readings"
        reading.error(("reading",), "reading", fault)
        items = []
    file = reading.table(ReadingsFile, raw, (), "")
    _refuse_impossible(file.at, ("at",), "at", reading)
    made = []
    for i, item in enumerate(items):
        key = f"reading[{i + 1}]" if len(items) > 1 else "reading"
        made.append(_reading(item, file.at, ("reading", i), key, reading))
    if reading.errors:
        raise TruckFileError(reading.lines())
    return Readings(
        readings=tuple(one for one in made if one is not None),
        truck=file.truck,
        date=file.date,
        by=file.by,
        notes=file.notes,
    )


def _reading(
    raw: Any, general: Conditions, path: Path, key: str, reading: TableReading
) -> Reading | None:
    """One reading from its table or text; None, and errors noted, where it is none."""
    if isinstance(raw, str):
        try:
            raw = item_of_line(raw)
        except DomainError as error:
            reading.error(path, key, str(error))
            return None
    item: Item | None = reading.table(Item, raw, path, key)
    return None if item is None else _resolved(item, general, path, key, reading)


_CONDITION = re.compile(r",\s*(?=[^\d\s])")
_TASK = re.compile(r"(?P<name>.+?)\s+(?P<way>command|setting|speed|flow)\s+(?P<value>[\d.].*)")


def item_of_line(line: str) -> dict[str, Any]:
    """`WHAT = VALUE @ CONDITION, CONDITION` as the table of a readings file. Raises DomainError.

    Conditions: `engine 1300 rpm`, `oil 110 degF`, `hopper full`, `scenario NAME`, `auger command
    60 %` (or setting, speed, flow), `auger off`, `plow at stop`, `test uncoupled`, `swept up`,
    `with gauge`.
    """
    if len(line) > LONGEST_LINE:
        raise DomainError(f"longer than {LONGEST_LINE} characters")
    told, at_sign, rest = line.partition("@")
    what, sign, value = told.partition("=")
    if not sign or not what.strip() or not value.strip():
        shown = line if len(line) <= 60 else line[:57] + "..."
        raise DomainError(
            f"'{shown}': write WHAT = VALUE @ CONDITIONS, such as"
            " auger speed = 62 rpm @ engine 1300 rpm"
        )
    item: dict[str, Any] = {"what": what.strip(), "value": value.strip()}
    at: dict[str, Any] = {}
    for part in _CONDITION.split(rest.strip()) if at_sign and rest.strip() else ():
        words = " ".join(part.split())
        first, _, tail = words.partition(" ")
        if first == "with":
            item["instrument"] = tail
        elif first in ("engine", "oil", "hopper", "scenario", "test", "swept"):
            at[first] = tail
        elif words.endswith(" at stop"):
            at.setdefault("stop", []).append(words.removesuffix(" at stop"))
        elif words.endswith(" off"):
            at.setdefault("run", {})[words.removesuffix(" off")] = {"setting": "0 %"}
        elif match := _TASK.fullmatch(words):
            at.setdefault("run", {})[match["name"]] = {match["way"]: match["value"]}
        else:
            raise DomainError(
                f"'{words[:60]}' is no condition; here fits: engine SPEED, oil TEMPERATURE,"
                " hopper full, scenario NAME, NAME command VALUE, NAME setting VALUE, NAME off,"
                " NAME at stop, test NAME, swept up, with INSTRUMENT"
            )
    return item | ({"at": at} if at else {})


def _resolved(
    item: Item, general: Conditions, path: Path, key: str, reading: TableReading
) -> Reading | None:
    """The reading that an item means; None, and errors noted, where it means none."""
    try:
        what = what_named(item.what)
    except DomainError as error:
        reading.error((*path, "what"), f"{key}.what", f"read {error}")
        return None
    for task in item.at.run:
        if len([w for w in Task.ASKS if getattr(task, w) is not None]) != 1:
            fault = "one of command, setting, speed, flow, rate or motion fits"
            reading.error((*path, "at", "run"), f"{key}.at.run.{task.name}", fault)
    _refuse_impossible(item.at, (*path, "at"), f"{key}.at", reading)
    instrument = item.instrument or what.readable.instrument
    words = what.readable.words
    value: float | str = item.value.strip()
    half = 0.0
    if words and value not in words:
        fault = f"{what}: read '{item.value[:40]}'; here fits: {', '.join(words)}"
        reading.error((*path, "value"), f"{key}.value", fault)
        return None
    if not words:
        try:
            value, half, instrument = _measured(item, what, instrument)
        except UnitError as error:
            reading.error((*path, "value"), f"{key}.value", f"{what}: read {error}")
            return None
    line = reading.index((*path, "value"))
    place = key if isinstance(reading, _ItemReading) else f"line {line}: {key}"
    at = item.at.over(general)
    return Reading(what, value, half, at, item.value.strip(), instrument, item.note, place)


def _impossible(value: float, kind: str) -> str:
    """What fits instead, empty where a value can be read."""
    low, high = POSSIBLE[kind]
    if low <= value <= high:
        return ""
    return f"from {show(low, kind)} to {show(high, kind)} can be read"


def _refuse_impossible(at: Conditions, path: Path, key: str, reading: TableReading) -> None:
    """Note an error for an engine speed or oil temperature that no truck has."""
    for name, kind in (("engine", "shaft_speed"), ("oil", "temperature")):
        value = getattr(at, name)
        if value is not None and (fault := _impossible(value, kind)):
            reading.error((*path, name), f"{key}.{name}", fault)


_VOLUME_AND_TIME = re.compile(r"(?P<volume>.+?)\s+in\s+(?P<time>[\d.].*)")


def _measured(item: Item, what: What, instrument: str) -> tuple[float, float, str]:
    """Value, half width of its uncertainty, instrument. Raises UnitError."""
    readable = what.readable
    kind, given = readable.kind, item.value.strip()
    match = _VOLUME_AND_TIME.fullmatch(given) if kind == "flow" else None
    if match:
        time = parse(match["time"], "time")
        if time <= 0.0:
            raise UnitError(f"'{given[:40]}': a flow needs a time above zero")
        value, half = parse(match["volume"], "volume") / time, None
        instrument = item.instrument or "bucket"
    else:
        try:
            measured = parse_measured(given, kind)
        except UnitError as error:
            more = "; or a volume and a time: 10 gal in 15 s" if kind == "flow" else ""
            raise UnitError(f"{error}{more}") from None
        value, half = measured.value, measured.half_width
    if fault := _impossible(value, kind):
        raise UnitError(f"'{given[:40]}'; {fault}")
    if item.uncertainty:
        kind = "temperature_rise" if kind == "temperature" else kind
        if item.uncertainty.strip().endswith("%") and kind != "fraction":
            half = abs(value) * parse(item.uncertainty, "fraction")
        else:
            half = parse(item.uncertainty, kind)
    if half is not None and half < 0.0:
        raise UnitError(f"'{item.uncertainty[:40]}': an uncertainty is not negative")
    if half is None:
        half = usual_uncertainty(what, value, instrument)
    return value, half, instrument


_BY_INSTRUMENT: Mapping[tuple[str, str], tuple[float, float]] = MappingProxyType(
    {  # share of the value, least in SI: common practice
        ("flow", "bucket"): (0.06, 3e-6),
        ("flow", "flow meter"): (0.04, 1e-5),
        ("shaft_speed", "watch"): (0.02, 0.1),
        ("shaft_speed", "sensor"): (0.005, 0.1),
        ("shaft_speed", "display"): (0.01, 0.1),
        ("pressure", "sensor"): (0.01, 7e4),
        ("temperature", "sensor"): (0.0, 2.0),
        ("current", "display"): (0.03, 0.03),
    }
)


def usual_uncertainty(what: What, value: float, instrument: str) -> float:
    """Half width in SI that about 95 % of readings keep with an instrument (common practice)."""
    readable = what.readable
    relative, least = _BY_INSTRUMENT.get(
        (readable.kind, instrument), (readable.relative, readable.least)
    )
    return max(relative * abs(value), least)


def _parse_json(content: str) -> dict[str, Any]:
    """JSON -> plain tables. Raises TruckFileError for what is no JSON, or nests too deep."""
    depth = deepest = 0
    for match in re.finditer(r'"(?:[^"\\]|\\.)*+"|[\[\]{}"]', content):
        if match[0] == '"':
            break  # unclosed: the parser stops here too
        if match[0][0] != '"':
            depth += 1 if match[0] in "[{" else -1
            deepest = max(deepest, depth)
    if deepest > DEEPEST:
        raise TruckFileError([f"nested deeper than a readings file needs ({DEEPEST})"])
    try:
        raw = json.loads(content, object_pairs_hook=_unique, parse_constant=_no_number)
    except json.JSONDecodeError as error:
        raise TruckFileError([f"line {error.lineno}: not JSON: {error.msg}"]) from None
    except ValueError as error:  # a key twice, a number of thousands of digits
        raise TruckFileError([f"not JSON: {str(error)[:120]}"]) from None
    if not isinstance(raw, dict):
        raise TruckFileError(["not a readings file: a JSON object is expected"])
    return raw


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    table = dict(pairs)
    if len(table) < len(pairs):
        twice = Counter(key for key, _ in pairs).most_common(1)[0][0]
        raise ValueError(f"the key {twice[:40]!r} stands there twice")
    return table


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no value")


def shown_kind(what: What) -> str:
    """What fits as a value, for a prompt: units, or the words."""
    readable = what.readable
    return ", ".join(readable.words) if readable.words else fits(KINDS[readable.kind])
