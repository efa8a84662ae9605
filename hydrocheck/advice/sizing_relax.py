"""Where nothing fits: which single need to relax, and by how much.

Each need is relaxed by itself, all else unchanged, and the whole search run again, until the
smallest change is known (to a percent) with which some circuit fits. Every answer is thereby
verified: the search found a circuit at the value that is named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from hydrocheck.advice.sizing_frame import frames
from hydrocheck.advice.sizing_search import Search
from hydrocheck.errors import DomainError
from hydrocheck.model.needs import NeededFunction, Needs
from hydrocheck.model.shelf import ShelfPart
from hydrocheck.model.truck import Scenario, Task

FURTHEST = 2.0
"""Needs are relaxed to at most twice, or half, of what they are."""
FINENESS = 1.01

Apply = Callable[[Needs, float], Needs]


@dataclass(frozen=True)
class Relaxation:
    """One need, relaxed until a circuit fits.

    what: the need; value: now; relaxed: enough for some circuit; kind: of quantity
    change: relative change [1]
    """

    what: str
    value: float
    relaxed: float
    kind: str

    @property
    def change(self) -> float:
        """Relative change [1]."""
        return self.relaxed / self.value - 1.0


@dataclass(frozen=True)
class _Knob:
    """A need that can be relaxed: up where `more` helps, else down."""

    what: str
    value: float
    kind: str
    more: bool
    apply: Apply


def fits(needs: Needs, shelf: tuple[ShelfPart, ...] | None) -> bool:
    """Whether any circuit keeps every rule."""
    try:
        for frame in frames(needs, shelf):
            for _, judged in Search(frame).everything():
                if judged.fits.any():
                    return True
    except DomainError:  # a value that this relaxation takes too far
        return False
    return False


def relaxations(needs: Needs, shelf: tuple[ShelfPart, ...] | None) -> Iterator[Relaxation]:
    """Every single need that would do if relaxed, the smallest relative change first."""
    found = [r for knob in _knobs(needs) if (r := _least(needs, shelf, knob)) is not None]
    yield from sorted(found, key=lambda r: abs(r.change))


def _least(needs: Needs, shelf: tuple[ShelfPart, ...] | None, knob: _Knob) -> Relaxation | None:
    """The smallest relaxation that lets a circuit fit, None where `FURTHEST` is not enough."""

    def value(factor: float) -> float:
        return knob.value * factor if knob.more else knob.value / factor

    def enough(factor: float) -> bool:
        try:
            relaxed = knob.apply(needs, value(factor))
        except DomainError:  # a value that no engine or file takes
            return False
        return fits(relaxed, shelf)

    low, high = 1.0, FURTHEST
    if not enough(high):
        return None
    while high / low > FINENESS:
        middle = (low * high) ** 0.5
        low, high = (low, middle) if enough(middle) else (middle, high)
    return Relaxation(knob.what, knob.value, value(high), knob.kind)


def _knobs(needs: Needs) -> Iterator[_Knob]:
    yield from _drive_knobs(needs)
    low, high = needs.engine.working or (0.0, 0.0)
    if low:
        yield _Knob("low end of the working band", low, "shaft_speed", True, _working)
    level = max(needs.pump.pressures)
    yield _Knob("highest pressure level", level, "pressure", True, _level)
    if needs.margins.flow:
        yield _Knob("flow in hand", needs.margins.flow, "fraction", False, _flow)
    for key in ("pump_wear", "motor_wear"):
        wear = float(getattr(needs.margins, key))
        if wear:
            name = key.replace("_", " ")
            yield _Knob(f"{name} to be borne", wear, "ratio", False, _margin(key))
    if needs.tank.max_volume is not None:
        yield _Knob("space for the tank", needs.tank.max_volume, "volume", True, _space)
    for function in needs.function:
        yield from _function_knobs(needs, function)
    for scenario in needs.scenario:
        if isinstance(scenario.engine, float):
            what = f"engine speed of {scenario.name}"
            yield _Knob(what, scenario.engine, "shaft_speed", True, _scenario_speed(scenario.name))


def _drive_knobs(needs: Needs) -> Iterator[_Knob]:
    drive = needs.engine.drive
    for key, kind, what in (
        ("torque_rating", "torque", "torque rating of the drive"),
        ("power_rating", "power", "power rating of the drive"),
    ):
        rating = getattr(drive, key)
        if rating is not None:
            yield _Knob(what, float(rating), kind, True, _drive(key))
    top = needs.engine.overrun or needs.engine.governed
    top = min(top, drive.engaged_to or top)
    what = "highest engine speed with the drive engaged"
    yield _Knob(what, float(top), "shaft_speed", False, _drive("engaged_to"))


def _function_knobs(needs: Needs, function: NeededFunction) -> Iterator[_Knob]:
    name = function.name
    if function.load is not None:
        # All torques together: the largest of them stands for the load.
        parts = [getattr(function.load, k) for k in ("constant", "linear", "square")]
        largest = max((float(t) for t in parts if t is not None), default=0.0)
    if function.load is not None and largest > 0.0:
        yield _Knob(f"load torque of {name}", largest, "torque", False, _load(name, largest))
    if function.max_speed is not None:
        what = f"highest speed of {name}"
        yield _Knob(what, function.max_speed, "shaft_speed", True, _own(name, "max_speed"))
    if function.cylinder is not None:
        time = float(function.cylinder.extend_time or 0.0)
        yield _Knob(f"time of {name}", time, "time", True, _time(name))
    kinds = {"speed": "shaft_speed", "rate": "application_rate", "flow": "flow"}
    for key, kind in kinds.items():
        tasks = [t for s in needs.scenario for t in s.run if t.name == name]
        values = [float(v) for t in tasks if (v := getattr(t, key)) is not None]
        if values:
            what = f"{key} of {name}"
            yield _Knob(what, max(values), kind, False, _task(name, key, max(values)))


def _changed(key: str, value: float) -> dict[str, Any]:
    """Arguments of `replace` for one key."""
    return {key: value}


def _drive(key: str) -> Apply:
    def apply(needs: Needs, value: float) -> Needs:
        engine, changed = needs.engine, _changed(key, value)
        drive = replace(engine.drive, **changed)
        return replace(needs, engine=replace(engine, drive=drive))

    return apply


def _working(needs: Needs, value: float) -> Needs:
    """The low end moved up; the high end is never below it."""
    engine = needs.engine
    high = engine.working[1] if engine.working else value
    if value > engine.governed:
        raise DomainError("the working band would pass the governed speed")
    return replace(needs, engine=replace(engine, working=(value, max(high, value))))


def _level(needs: Needs, value: float) -> Needs:
    return replace(needs, pump=replace(needs.pump, pressures=(*needs.pump.pressures, value)))


def _space(needs: Needs, value: float) -> Needs:
    return replace(needs, tank=replace(needs.tank, max_volume=value))


def _flow(needs: Needs, value: float) -> Needs:
    return replace(needs, margins=replace(needs.margins, flow=value))


def _margin(key: str) -> Apply:
    return lambda needs, value: replace(
        needs, margins=replace(needs.margins, **_changed(key, value))
    )


def _functions(
    needs: Needs, name: str, change: Callable[[NeededFunction], NeededFunction]
) -> Needs:
    made = tuple(change(f) if f.name == name else f for f in needs.function)
    return replace(needs, function=made)


def _own(name: str, key: str) -> Apply:
    return lambda needs, value: _functions(
        needs, name, lambda f: replace(f, **_changed(key, value))
    )


def _load(name: str, largest: float) -> Apply:
    def apply(needs: Needs, value: float) -> Needs:
        def lighter(function: NeededFunction) -> NeededFunction:
            assert function.load is not None
            keys = ("constant", "linear", "square")
            torques: dict[str, Any] = {
                k: float(t) * value / largest
                for k in keys
                if (t := getattr(function.load, k)) is not None
            }
            return replace(function, load=replace(function.load, **torques))

        return _functions(needs, name, lighter)

    return apply


def _time(name: str) -> Apply:
    def slower(function: NeededFunction, value: float) -> NeededFunction:
        assert function.cylinder is not None
        return replace(function, cylinder=replace(function.cylinder, extend_time=value))

    return lambda needs, value: _functions(needs, name, lambda f: slower(f, value))


def _task(name: str, key: str, largest: float) -> Apply:
    """All orders of one kind to one function, in proportion."""

    def less(task: Task, value: float) -> Task:
        now = getattr(task, key)
        if task.name != name or now is None:
            return task
        return replace(task, **_changed(key, float(now) * value / largest))

    def apply(needs: Needs, value: float) -> Needs:
        scenarios = tuple(
            replace(s, run=tuple(less(t, value) for t in s.run)) for s in needs.scenario
        )
        return replace(needs, scenario=scenarios)

    return apply


def _scenario_speed(name: str) -> Apply:
    def faster(scenario: Scenario, value: float) -> Scenario:
        return replace(scenario, engine=value) if scenario.name == name else scenario

    def apply(needs: Needs, value: float) -> Needs:
        return replace(needs, scenario=tuple(faster(s, value) for s in needs.scenario))

    return apply
