"""What the set-up sheet shows, as texts ready for its page. No HTML: the page escapes all of it."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from hydrocheck.model.readings import Reading, Readings
from hydrocheck.model.truck import Truck
from hydrocheck.studies.setup import Blank, SetUp
from hydrocheck.studies.spreading import SpreadTable
from hydrocheck.units import display_value, parse, show, to_unit

TEXTS = ("unit", "vin", "hours", "weights", "second", "owner")
"""First words of the notes that fill a line of the sheet."""

SAME_SPEED = 0.03
"""Share by which engine speeds may differ and still be the same."""


@dataclass(frozen=True)
class Field:
    """One blank of the page: texts, the range in the unit shown, and what its reading will say.

    low, high: texts of numbers in `unit`; at: JSON of the conditions; value: filled in, or empty
    """

    id: str
    step: str
    label: str
    how: str
    what: str
    unit: str
    expected: str
    low: str
    high: str
    at: str
    engine: str = ""
    value: str = ""
    flag: str = ""
    remark: str = ""

    @property
    def span(self) -> str:
        """The acceptable range as text."""
        if not self.low:
            return ""
        return f"{self.low} to {self.high} {self.unit}".strip()


@dataclass(frozen=True)
class Other:
    """A reading of the file that the sheet has no blank for."""

    what: str
    value: str
    remark: str


@dataclass(frozen=True)
class Filled:
    """What a readings file puts into the page."""

    values: dict[str, str] = field(default_factory=dict)
    others: tuple[Other, ...] = ()
    texts: dict[str, str] = field(default_factory=dict)
    ticks: frozenset[str] = frozenset()
    hopper: str = ""


def fields_of(setup: SetUp, units: str) -> tuple[Field, ...]:
    """The blanks in the order of the work: warm-up first."""
    low, high = setup.engine_speed
    warm = _ranged(
        "oil temperature",
        "warm-up",
        "temperature",
        (setup.oil_temperature, setup.coldest, 2 * setup.oil_temperature - setup.coldest),
        units,
    )
    engine = _ranged("engine speed", "warm-up", "shaft_speed", (low, low, high), units)
    shown = [
        Field(
            **warm,
            id="b1",
            what="oil temperature",
            how="thermometer in the tank or at the pump, before the first value",
            at=_at(None, setup, units),
        ),
        Field(
            **engine,
            id="b2",
            what="engine speed",
            how="tachometer, held through the steps below",
            at=_at(None, setup, units),
        ),
    ]
    for number, blank in enumerate(setup.blanks, 3):
        parts = _ranged(
            blank.label, blank.step, blank.kind, (blank.expected, blank.low, blank.high), units
        )
        shown.append(
            Field(
                **parts,
                id=f"b{number}",
                what=blank.what,
                how=blank.how,
                at=_at(blank, setup, units),
                engine=""
                if blank.engine_speed == low
                else show(blank.engine_speed, "shaft_speed", units),
            )
        )
    return tuple(shown)


def _ranged(
    label: str, step: str, kind: str, values: tuple[float, float, float], units: str
) -> dict[str, str]:
    """Label, unit, expected value and range, the range rounded outward to the digits in which both
    the value and its high end are shown."""
    expected, most = (show(value, kind, units) for value in (values[0], values[2]))
    unit = expected.partition(" ")[2]
    digits = min(len(text.partition(" ")[0].partition(".")[2]) for text in (expected, most))
    low, high = (display_value(v, kind, units)[0] for v in values[1:])
    step_size = 10.0**-digits
    down = math.floor(low / step_size + 1e-6) * step_size
    up = math.ceil(high / step_size - 1e-6) * step_size
    return {
        "label": label,
        "step": step,
        "unit": unit,
        "expected": expected,
        "low": f"{down:.{digits}f}",
        "high": f"{up:.{digits}f}",
    }


def _at(blank: Blank | None, setup: SetUp, units: str) -> str:
    """The conditions of a reading as JSON, in the words of a readings file."""
    if blank is None:
        return "{}"
    at: dict[str, object] = {
        "engine": show(blank.engine_speed, "shaft_speed", units),
        "oil": show(blank.oil_temperature, "temperature", units),
        "hopper": "full",
    }
    run = {name: {"command": f"{100 * u:.1f} %"} for name, u in blank.commands.items()}
    run |= {name: {"setting": "0 %"} for name in blank.off}
    if run:
        at["run"] = run
    if blank.stop:
        at["stop"] = list(blank.stop)
    return json.dumps(at, ensure_ascii=True)


def check_value(text: str, low: str, high: str, unit: str) -> str:
    """The remark on a value that is typed in: empty when it lies in its range.

    >>> check_value("62", "55", "70", "rpm"), check_value("52", "55", "70", "rpm")
    ('', 'below the range of 55 to 70 rpm')
    """
    if not text.strip() or not low:
        return ""
    if not re.fullmatch(r"\s*-?(\d+\.?\d*|\.\d+)\s*", text):
        return "not a plain number"
    side = "below" if float(text) < float(low) else "above" if float(text) > float(high) else ""
    return f"{side} the range of {low} to {high} {unit}".strip() if side else ""


def filled(fields: Sequence[Field], readings: Readings) -> Filled:
    """What a readings file puts into the blanks; what fits none is listed, so that nothing is lost.

    A reading goes to the blank that its note names, else to the only one of its kind, or the only
    one of its kind at its engine speed.
    """
    values: dict[str, str] = {}
    others: list[Other] = []
    hopper = ""
    for one in readings.readings:
        hopper = one.at.hopper or hopper
        name, _, remark = one.note.partition(": ")
        named = [f for f in fields if f.what == str(one.what) and f.label == name]
        same = [f for f in fields if f.what == str(one.what)]
        if len(same) > 1:
            same = [f for f in same if _at_speed(f, one)]
        place = next(iter(named or (same if len(same) == 1 else [])), None)
        if place is None or place.id in values:
            others.append(Other(str(one.what), one.written, one.note))
            continue
        values[place.id] = _number(one, place.unit)
        if remark and named:
            values[place.id + "-remark"] = remark
    texts = {"date": readings.date, "by": readings.by}
    ticks = set()
    remarks = []
    for note in readings.notes:
        label, _, rest = note.partition(": ")
        if label == "done":
            ticks.add(rest)
        elif rest and label in TEXTS:
            texts[label] = rest
        else:
            remarks.append(note)
    texts["remarks"] = "\n".join(remarks)
    return Filled(values, tuple(others), texts, frozenset(ticks), hopper)


def _at_speed(blank: Field, one: Reading) -> bool:
    """Whether a reading was taken at the engine speed of a blank, within a few percent."""
    wanted = json.loads(blank.at).get("engine")
    if wanted is None or one.at.engine is None:
        return False
    return abs(parse(wanted, "shaft_speed") / one.at.engine - 1.0) < SAME_SPEED


def _number(one: Reading, unit: str) -> str:
    """The number of a reading in the unit of its blank, as it was written where the units agree."""
    number, _, written = one.written.partition(" ")
    if written.strip() == unit and re.fullmatch(r"-?[\d.]+", number):
        return number
    return f"{to_unit(one.number, one.what.readable.kind, unit):.4g}"


def put_in(fields: Sequence[Field], given: Filled) -> tuple[Field, ...]:
    """The blanks with what was filled in, and the remark on what lies outside its range."""
    done = []
    for one in fields:
        value = given.values.get(one.id, "")
        flag = check_value(value, one.low, one.high, one.unit)
        changed = {"value": value, "flag": flag, "remark": given.values.get(f"{one.id}-remark", "")}
        done.append(Field(**{**one.__dict__, **changed}))
    return tuple(done)


def circuit_rows(truck: Truck, units: str) -> list[tuple[str, str]]:
    """The circuit in a few lines, of what the file gives."""
    engine, pump = truck.engine, truck.pump[0] if truck.pump else None
    rows = []
    speeds = [
        ("idle", engine.idle),
        ("working", engine.working),
        ("governed", engine.governed),
    ]
    told = [f"{word} {_speeds(value, units)}" for word, value in speeds if value is not None]
    if told:
        rows.append(("Engine", ", ".join(told)))
    if pump is not None:
        parts = [pump.type]
        if pump.displacement is not None:
            parts.append(show(float(pump.displacement), "displacement", units))
        ratio = float((pump.drive or engine.drive).ratio)
        fast = "as" if ratio == 1.0 else f"{ratio:.3g} times as"
        parts.append(f"turns {fast} fast as the engine")
        rows.append(("Pump", ", ".join(parts)))
    if truck.bank:
        rows.append(("Valve bank", f"{truck.bank[0].type}"))
    oil = truck.oil
    told = [
        f"{word} {show(float(value), 'temperature', units)}"
        for word, value in (("cold", oil.cold), ("working", oil.working), ("hot", oil.hot))
        if value is not None
    ]
    if oil.grade is not None:
        told.insert(0, show(float(oil.grade), "kinematic_viscosity", units) + " at 40 degC")
    if truck.reservoir.volume is not None:
        told.append("tank " + show(float(truck.reservoir.volume), "volume", units))
    if told:
        rows.append(("Oil", ", ".join(told)))
    following = truck.speed_following
    sensor = (
        f", {show(float(following.sensor), 'pulses_per_distance', units)}"
        if following.sensor is not None
        else ""
    )
    rows.append(("Road speed following", following.mode + sensor))
    return rows


def _speeds(value: object, units: str) -> str:
    if isinstance(value, tuple):
        low, high = (show(float(v), "shaft_speed", units) for v in value)
        return f"{low} to {high}"
    return show(float(value), "shaft_speed", units)  # type: ignore[arg-type]  # a float of the file


FUNCTION_HEAD = ("function", "moves", "section", "deadband", "shaft limit", "valve drive")


def function_rows(truck: Truck, units: str) -> list[tuple[str, ...]]:
    """The functions: what each moves, its section, its limit, its valve drive."""
    rows: list[tuple[str, ...]] = []
    for f in truck.function:
        if not f.fitted:
            rows.append((f.name, "not fitted", "-", "-", "-", "-"))
            continue
        moves = "electric" if f.drive == "electric" else "-"
        if f.motor and f.motor[0].displacement is not None:
            moves = "motor " + show(float(f.motor[0].displacement), "displacement", units)
        elif f.cylinder is not None and f.cylinder.bore is not None:
            moves = "cylinder " + show(float(f.cylinder.bore), "length", units) + " bore"
        section, coil = f.section, f.section.coil
        drive = "-"
        if coil is not None:
            parts = [coil.drive or ""]
            if coil.rated_current is not None:
                parts.append("full " + show(float(coil.rated_current), "current", units))
            if coil.frequency is not None:
                parts.append(show(float(coil.frequency), "frequency", units))
            drive = ", ".join(p for p in parts if p) or "-"
        rows.append(
            (
                f.name,
                moves,
                _or_dash(section.rated_flow, "flow", units),
                _or_dash(section.deadband, "fraction", units),
                _or_dash(f.limits.max_speed, "shaft_speed", units),
                drive,
            )
        )
    return rows


def _or_dash(value: object, kind: str, units: str) -> str:
    return "-" if value is None else show(float(value), kind, units)  # type: ignore[arg-type]  # a number


def setting_rows(truck: Truck, where: dict[str, str], units: str) -> list[tuple[str, str, str]]:
    """Pressure settings: what, its value, where it is measured."""
    rows = []
    for pump in truck.pump:
        for key, name in (
            ("compensator", "compensator"),
            ("margin", "LS margin"),
            ("standby", "standby"),
            ("torque_limit", "torque limiter"),
        ):
            value = getattr(pump, key)
            if value is not None:
                kind = "torque" if key == "torque_limit" else "pressure"
                rows.append((f"{pump.name} {name}", show(float(value), kind, units), where[key]))
    fixed = all(pump.type == "fixed" for pump in truck.pump)
    for relief in truck.relief:
        if relief.setting is None:
            continue
        text = show(float(relief.setting), "pressure", units)
        if relief.rated_flow is not None:
            text += " at " + show(float(relief.rated_flow), "flow", units)
        key = "pump fixed" if relief.at == "pump" and fixed else relief.at
        rows.append((relief.name, text, where[key]))
    return rows


def spread_cells(table: SpreadTable, units: str) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Head and rows by rate and road speed: shaft speed, and setting or what limits it."""
    head = ("rate", *(f"at {show(float(v), 'road_speed', units)}" for v in table.road_speeds))
    body = []
    for r, rate in enumerate(table.rates):
        cells = []
        for v in range(table.road_speeds.size):
            setting, limit = float(table.setting[r, v]), table.limit[r][v]
            text = show(float(table.shaft_speed[r, v]), "shaft_speed", units)
            if limit:
                text += f", {limit}"
            elif np.isfinite(setting):
                text += f", {100 * setting:.0f} %"
            cells.append(text)
        body.append((show(float(rate), "application_rate", units), *cells))
    return head, body
