"""Travel of the trims: from the least ordered rate to the greatest, and none of it dead."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import (
    Amount,
    Judgement,
    at_least,
    at_most,
    eased,
    lower,
    upper,
    words,
)
from hydrocheck.checks.inspection import Inspection, command_for, flow_at, trim
from hydrocheck.checks.registry import check
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Scenario, Task
from hydrocheck.physics import material
from hydrocheck.solver import Points, solved_functions
from hydrocheck.studies.budget import ENOUGH
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures
from hydrocheck.studies.work import flow_for_speed, mass_per_turn, most_flow

Array = NDArray[np.float64]

AREA = "trims and valve drive"


def _flow_for(
    look: Inspection, function: Function, speed: float, oil: Array, hopper: float
) -> Array:
    """Section flow that turns a shaft at a speed [m3/s], (N,), by oil temperature."""
    points = Points.of(look.truck, np.zeros(oil.size), oil, hopper=hopper)
    place = solved_functions(look.truck).index(function)
    return flow_for_speed(look.truck, function, place, speed, points)


@check(
    "least-rate",
    area=AREA,
    asks="Is the feeder slow enough at its minimum trim for the least rate at the least speed?",
    formula=(
        "discharge at the minimum trim (hopper empty, the oil that slips least) <= least rate x "
        "least road speed x lanes"
    ),
    limit="the least ordered discharge; more is a caution, since the truck works but over-spreads",
    source="turndown from motor speed and discharge per revolution; definition of a trim",
    subjects=subjects.feeders,
)
def least_rate(look: Inspection, function: Function) -> Judgement:
    """Discharge at the minimum trim against the least ordered one."""
    rates, speeds = subjects.orders(look.truck)
    low, per_turn = trim(function, "min"), mass_per_turn(look.truck)
    oil = oil_temperatures(look.truck, "range")
    turning = look.speed_at_flow(function, flow_at(function, low), oil, hopper=0.0)
    n = int(np.argmax(turning))
    lanes, slow = look.truck.spreading.lanes, min(speeds)
    wanted = float(material.discharge(min(rates), slow, lanes))
    given = float(turning[n]) * per_turn
    lowest = _flow_for(look, function, wanted / per_turn, oil, 0.0).min()
    judged = upper(
        Amount(given, "mass_flow"),
        Amount(wanted, "mass_flow"),
        about="discharge at the minimum trim",
        change=words(
            "order {rate} or more at the least speed, or a minimum trim of {command} or less",
            rate=at_least(given / (slow * lanes), "application_rate"),
            command=at_most(command_for(function, float(lowest)), "fraction"),
        ),
        at={
            "road speed": Amount(slow, "road_speed"),
            "oil": Amount(float(oil[n]), "temperature"),
        },
    )
    return eased(judged)


@check(
    "greatest-rate",
    area=AREA,
    asks="Does the maximum trim allow the greatest rate at the greatest road speed?",
    formula=(
        "discharge at the maximum trim (hopper full, the oil that slips most) >= greatest rate x "
        "greatest road speed x lanes"
    ),
    limit="the greatest ordered discharge",
    source="turndown from motor speed and discharge per revolution; definition of a trim",
    subjects=subjects.feeders,
)
def greatest_rate(look: Inspection, function: Function) -> Judgement:
    """Discharge at the maximum trim against the greatest ordered one."""
    rates, speeds = subjects.orders(look.truck)
    high, per_turn = trim(function, "max"), mass_per_turn(look.truck)
    oil = oil_temperatures(look.truck, "range")
    turning = look.speed_at_flow(function, flow_at(function, high), oil)
    n = int(np.argmin(turning))
    lanes, fast = look.truck.spreading.lanes, max(speeds)
    wanted = float(material.discharge(max(rates), fast, lanes))
    given = float(turning[n]) * per_turn
    flow = float(_flow_for(look, function, wanted / per_turn, oil, 1.0).max())
    command = command_for(function, flow)
    change = "{speed} or less at the greatest rate"
    if np.isfinite(command):
        change += ", or a maximum trim of {command} or more"
    return lower(
        Amount(given, "mass_flow"),
        Amount(wanted, "mass_flow"),
        about="discharge at the maximum trim",
        change=words(
            change,
            speed=at_most(given / (max(rates) * lanes), "road_speed"),
            command=at_least(command, "fraction") if np.isfinite(command) else "",
        ),
        at={
            "road speed": Amount(fast, "road_speed"),
            "oil": Amount(float(oil[n]), "temperature"),
        },
    )


def _in_scenarios(truck: Truck) -> list[tuple[str, Function]]:
    """Functions set by trims that a scenario runs."""
    run = {task.name for scenario in truck.scenario for task in scenario.run}
    return [(name, f) for name, f in subjects.trimmed(truck) if name in run]


@check(
    "dead-travel",
    area=AREA,
    asks="Does the pump feed the whole maximum trim at the low end of the working band?",
    formula=(
        "flow at the maximum trim, the scenario's other functions at work <= flow that the steady "
        "state delivers there"
    ),
    limit=(
        "command of the flow delivered (less {dead_travel}), or of the greatest demand of any "
        "scenario if that is more"
    ),
    source=(
        "common practice: a maximum trim found by eye on a starved pump is too high, and "
        "overspeeds the shaft at a higher engine speed"
    ),
    subjects=_in_scenarios,
)
def dead_travel(look: Inspection, function: Function) -> Judgement:
    """Maximum trim against the command beyond which nothing more is delivered or wanted."""
    high = trim(function, "max")
    asked, dead = most_flow(function), float(look.truck.limits.dead_travel)
    enough = 0.0
    for scenario in look.truck.scenario:
        if any(task.name == function.name for task in scenario.run):
            m = look.solved(scenario).result.column(function.name)
            wanted = float(look.solved(scenario).wanted[:, m].max())
            enough = max(enough, wanted, float(look.fed_at_max(scenario)[m]))
            if enough >= asked * (1.0 - dead):
                break
    low = engine_speeds(look.truck, "working")[0]
    if enough >= asked * (1.0 - dead):
        return Judgement("pass", words("the pump feeds the maximum trim, or the work needs it"))
    limit = command_for(function, enough)
    judged = upper(
        Amount(high, "fraction"),
        Amount(limit, "fraction"),
        about="maximum trim",
        at={"engine": Amount(float(low), "shaft_speed")},
        change=words(
            "a maximum trim of {command}: beyond it nothing more is fed or needed",
            command=at_most(limit, "fraction"),
        ),
    )
    return eased(judged)


@check(
    "spinner-setting-up",
    area=AREA,
    asks="Does the spinner get its maximum trim while that trim is being set?",
    formula=(
        "steady state at the low end of the working band: feeder at a setting of {setting_up}, "
        "spinner at its maximum trim"
    ),
    limit="the flow that the spinner's maximum trim asks",
    source=(
        "common practice: the spinner is set at low working speed with the feeder at part "
        "setting; on a starved pump the trim comes out too high"
    ),
    subjects=lambda truck: [(n, f) for n, f in subjects.trimmed(truck) if f.kind == "spinner"],
)
def spinner_setting_up(look: Inspection, function: Function) -> Judgement:
    """Spinner flow at its maximum trim with the feeder at part setting."""
    scenario = Scenario(
        name="setting the spinner",
        run=(
            *(
                Task(name=name, setting=look.truck.limits.setting_up)
                for name, _ in subjects.feeders(look.truck)
            ),
            Task(name=function.name, command=trim(function, "max")),
        ),
    )
    low = engine_speeds(look.truck, "working")[0]
    solved = look.solve_work(look.grid(scenario, low))
    m = solved.result.column(function.name)
    given, asked = float(solved.result.flow[0, m]), float(solved.wanted[0, m])
    oil = float(solved.result.oil_temperature[0])
    if given >= asked * (1.0 - ENOUGH):
        return Judgement("pass", words("the spinner gets its maximum trim while it is set"))
    least = look.least_engine_speed(scenario, oil)
    change = words("none found: no engine speed in range feeds it")
    if least is not None:
        change = words("set it at {engine} or more", engine=at_least(least, "shaft_speed"))
    judged = lower(
        Amount(given, "flow"),
        Amount(asked, "flow"),
        about="spinner flow at its maximum trim",
        at={"engine": Amount(float(low), "shaft_speed"), "oil": Amount(oil, "temperature")},
        change=change,
    )
    return eased(judged)
