"""Feeding: is the order met in every gear, with linked functions, and in closed loop?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import (
    Amount,
    Judgement,
    Words,
    at_least,
    eased,
    lower,
    upper,
    words,
)
from hydrocheck.checks.inspection import Inspection, flow_at, trim
from hydrocheck.checks.registry import check
from hydrocheck.checks.watched import shares_missing
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Link, Scenario, Task
from hydrocheck.physics import material
from hydrocheck.solver import solved_functions
from hydrocheck.studies.budget import ENOUGH, available_flow
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures
from hydrocheck.studies.work import Solved

Array = NDArray[np.float64]

AREA = "spreading"


def _engine_cure(look: Inspection, scenario: Scenario, oil: float) -> Words:
    """The least engine speed that meets every demand of a scenario."""
    least = look.least_engine_speed(scenario, oil)
    if least is None:
        return words("none found: no engine speed in range meets it; see the pressures first")
    return words("an engine speed of {engine} or more", engine=at_least(least, "shaft_speed"))


# -- ordered rates by gear -------------------------------------------------------------------------


@dataclass(frozen=True)
class _Gear:
    """The greatest rate at one road speed in one gear."""

    road_speed: float
    gear: str
    engine: float
    scenario: Scenario
    solved: Solved
    missing: float


@check(
    "rate-in-gear",
    area=AREA,
    asks="Does the greatest rate get its flow at every road speed, in the gear that suits it best?",
    formula=(
        "engine speed = road speed x (engine speed / road speed of the gear); steady state of the "
        "first scenario that spreads, with the greatest rate at each road speed"
    ),
    limit="the ordered discharge, in at least one gear between idle and governed speed",
    source="steady-state balance; road speed by gear from the truck file",
    subjects=lambda truck: [(n, f) for n, f in subjects.feeders(truck) if _spreading(truck, n)],
)
def rate_in_gear(look: Inspection, function: Function) -> Judgement:
    """Worst road speed, each in its best gear."""
    rates, speeds = subjects.orders(look.truck)
    if not look.truck.engine.gear:
        raise MissingValue(["engine.gear"])
    asked = [_in_gears(look, function, max(rates), speed) for speed in speeds]
    works = [look.plan(s, [e for _, e in gears], oil) for s, gears, oil in asked if gears]
    solved = iter(look.solve_works(works))
    best = [
        _best_gear(speed, scenario, gears, next(solved)) if gears else None
        for speed, (scenario, gears, _) in zip(speeds, asked, strict=True)
    ]
    unreached = [v for v, found in zip(speeds, best, strict=True) if found is None]
    if unreached:
        return Judgement(
            "caution",
            words(
                "no gear of the truck file reaches {speed} between idle and governed speed",
                speed=Amount(unreached[0], "road_speed"),
            ),
            change=words("the gear for that speed in the truck file, or another road speed"),
        )
    worst = max((found for found in best if found is not None), key=lambda g: g.missing)
    wanted = float(material.discharge(max(rates), worst.road_speed, look.truck.spreading.lanes))
    judged = lower(
        Amount(wanted * (1.0 - worst.missing), "mass_flow"),
        Amount(wanted * (1.0 - ENOUGH), "mass_flow"),
        about="discharge that the flow allows",
        at={
            "road speed": Amount(worst.road_speed, "road_speed"),
            "gear": worst.gear,
            "engine": Amount(worst.engine, "shaft_speed"),
        },
    )
    if judged.verdict == "pass":
        return judged
    oil = float(worst.solved.result.oil_temperature[0])
    least = look.least_engine_speed(worst.scenario, oil)
    if least is None:
        return replace(judged, change=words("none found: no engine speed in range meets it"))
    change = words(
        "a lower gear there, which turns the engine at {engine} or more",
        engine=at_least(least, "shaft_speed"),
    )
    return replace(judged, change=change)


def _spreading(truck: Truck, name: str) -> list[Scenario]:
    """Scenarios in which a feeder has an ordered rate, those without a cylinder first."""
    found = [s for s in truck.scenario if any(t.name == name and t.rate for t in s.run)]
    return sorted(found, key=lambda s: any(t.motion for t in s.run))


def _in_gears(
    look: Inspection, function: Function, rate: float, speed: float
) -> tuple[Scenario, list[tuple[str, float]], float]:
    """The work at a road speed, gears with their engine speeds [rad/s], oil temperature [K]."""
    truck = look.truck
    idle, governed = (float(engine_speeds(truck, word)[0]) for word in ("idle", "governed"))
    base = _spreading(truck, function.name)[0]
    task = Task(name=function.name, rate=rate, road_speed=speed)
    run = tuple(task if t.name == function.name else t for t in base.run)
    found = []
    for gear in truck.engine.gear:
        if gear.road_speed is None or gear.at is None:
            raise MissingValue([f"engine.gear.{gear.name}.road_speed"])
        engine = speed * float(gear.at) / float(gear.road_speed)
        if idle <= engine <= governed:
            found.append((gear.name, engine))
    return replace(base, run=run), found, float(oil_temperatures(truck, base.oil).max())


def _best_gear(
    speed: float, scenario: Scenario, gears: list[tuple[str, float]], solved: Solved
) -> _Gear:
    """The gear in which least is missing at a road speed."""
    missing = shares_missing(solved).max(axis=1)
    n = int(np.argmin(missing))
    return _Gear(speed, gears[n][0], gears[n][1], scenario, solved, float(missing[n]))


# -- turndown --------------------------------------------------------------------------------------


@check(
    "turndown",
    area=AREA,
    asks="Can one feeder turn slowly enough for the least order and fast enough for the greatest?",
    formula=(
        "greatest rate x greatest road speed / (least rate x least road speed) <= highest speed / "
        "lowest even speed of the feeder"
    ),
    limit=(
        "lesser of the machinery's and the motor's highest speed over the motor's lowest even "
        "speed; more is a caution"
    ),
    source="ratio of the orders; the speeds are the makers'",
    subjects=subjects.feeders,
)
def turndown(look: Inspection, function: Function) -> Judgement:
    """Ratio of the orders against the ratio of even speeds."""
    rates, speeds = subjects.orders(look.truck)
    motor = function.motor[0]
    gear = float(motor.gearbox_ratio)
    ceilings = [float(function.limits.max_speed)] if function.limits.max_speed is not None else []
    if motor.max_speed is not None:
        ceilings.append(float(motor.max_speed) / gear)
    missing = [] if ceilings else [f"{function.name}.motor.max_speed"]
    if motor.min_speed is None:
        missing.append(f"{function.name}.motor.min_speed")
    if missing or motor.min_speed is None:
        raise MissingValue(missing)
    floor = max(float(motor.min_speed) / gear, float(function.limits.min_speed or 0.0))
    if floor <= 0.0:
        return Judgement("pass", words("the motor turns evenly down to standstill"))
    asked = max(rates) * max(speeds) / (min(rates) * min(speeds))
    has = min(ceilings) / floor
    judged = upper(
        Amount(asked, "ratio"),
        Amount(has, "ratio"),
        about="greatest order over the least",
        given={
            "highest": Amount(min(ceilings), "shaft_speed"),
            "lowest": Amount(floor, "shaft_speed"),
        },
        change=words(
            "order {rate} or more at the least road speed, or close the gate for small rates",
            rate=at_least(max(rates) * max(speeds) / (has * min(speeds)), "application_rate"),
        ),
    )
    return eased(judged)


# -- functions linked to a feeder ------------------------------------------------------------------


def _links(truck: Truck) -> Iterable[tuple[str, tuple[Link, list[Scenario]]]]:
    """Links between hydraulic functions, with the scenarios in which they lift a function."""
    names = {f.name for f in solved_functions(truck)}
    for link in truck.link:
        if link.function in names and link.follows in names:
            runs = [s for s in truck.scenario if any(t.name == link.follows for t in s.run)]
            yield f"{link.function} with {link.follows}", (link, runs)


def _lifted(look: Inspection, link: Link, scenario: Scenario) -> tuple[Solved, Solved] | None:
    """A scenario with the linked function at its minimum trim, and with it off.

    At the low end of its engine speeds and its hottest oil. None where its own task asks more.
    """
    truck = look.truck
    name = str(link.function)
    function = truck.function_named(name)
    least = trim(function, "min")
    engine = float(engine_speeds(truck, scenario.engine)[0])
    oil = float(oil_temperatures(truck, scenario.oil).max())
    own = look.plan(scenario, engine, oil)
    asked = float(own.asked[0, solved_functions(truck).index(function)])
    runs = any(t.name == name for t in scenario.run)
    if runs and asked > flow_at(function, least) * (1.0 + ENOUGH):
        return None
    others = tuple(t for t in scenario.run if t.name != name)
    pair = [
        replace(scenario, run=(*others, Task(name=name, command=command)))
        for command in (least, 0.0)
    ]
    lifted, off = look.solve_works([look.plan(one, engine, oil) for one in pair])
    return lifted, off


@check(
    "linked-minimum",
    area=AREA,
    asks="Is the flow still enough when a linked function is lifted to its minimum trim?",
    formula=(
        "steady state of each scenario that runs the leading function, with the linked one at its "
        "minimum trim, at the low end of the engine speeds"
    ),
    limit="every demand that is met with the linked function off",
    source="steady-state balance; a linked function never runs below its minimum trim",
    subjects=_links,
)
def linked_minimum(look: Inspection, subject: tuple[Link, list[Scenario]]) -> Judgement:
    """What a link takes from the others."""
    link, runs = subject
    tight: tuple[float, Solved] | None = None
    for scenario in runs:
        if (pair := _lifted(look, link, scenario)) is None:
            continue
        lifted, off = pair
        short = shares_missing(lifted)[0]
        if short.max() > ENOUGH >= shares_missing(off)[0].max():
            return _takes(look, link, lifted, int(np.argmax(short)))
        total = float(lifted.wanted.sum())
        reserve = float(available_flow(look.truck, lifted)[0]) / max(total, 1e-12) - 1.0
        if tight is None or reserve < tight[0]:
            tight = reserve, lifted
    if tight is None:
        return Judgement("pass", words("no scenario lifts it"))
    reserve, lifted = tight
    if reserve < 0.0:
        return Judgement("pass", words("the flow falls short without the link, too"))
    return Judgement(
        "pass",
        words("the flow is enough with {name} at its minimum trim", name=str(link.function)),
        Amount(float(available_flow(look.truck, lifted)[0]), "flow"),
        Amount(float(lifted.wanted.sum()), "flow"),
        reserve,
        _at(lifted),
    )


def _at(solved: Solved) -> dict[str, Amount | str]:
    return {
        "scenario": solved.work.scenario.name,
        "engine": Amount(float(solved.result.engine_speed[0]), "shaft_speed"),
        "oil": Amount(float(solved.result.oil_temperature[0]), "temperature"),
    }


def _takes(look: Inspection, link: Link, lifted: Solved, m: int) -> Judgement:
    given, wanted = float(lifted.result.flow[0, m]), float(lifted.wanted[0, m])
    return Judgement(
        "fail",
        words(
            "{linked} at its minimum trim leaves {name} {given} of {wanted}",
            linked=str(link.function),
            name=lifted.result.functions[m],
            given=Amount(given, "flow"),
            wanted=Amount(wanted, "flow"),
        ),
        Amount(given, "flow"),
        Amount(wanted, "flow"),
        given / wanted - 1.0,
        _at(lifted),
        _engine_cure(look, lifted.work.scenario, float(lifted.result.oil_temperature[0])),
    )
