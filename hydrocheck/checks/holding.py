"""What holds a speed: command left in a closed loop, slip in an open one, the trims' conditions."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import Amount, Judgement, at_least, eased, upper, words
from hydrocheck.checks.inspection import Inspection, command_for, trim
from hydrocheck.checks.registry import check
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function
from hydrocheck.physics.oil import temperature_at_viscosity
from hydrocheck.solver.fluid import oil_line
from hydrocheck.studies.budget import ENOUGH
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures
from hydrocheck.studies.work import Solved

Array = NDArray[np.float64]


def _closed(truck: Truck) -> list[tuple[str, Function]]:
    """Functions in closed loop that a scenario asks for a speed or a rate."""
    asked = {t.name for s in truck.scenario for t in s.run if t.speed or t.rate}
    return [
        (name, f) for name, f in subjects.trimmed(truck) if f.loop == "closed" and name in asked
    ]


@check(
    "closed-loop-reach",
    area="flow and speed",
    asks="Has the closed loop command left when the oil is hottest and slips most?",
    formula=(
        "command of the flow for the wanted speed, oil cold to hot, hopper empty to full, <= "
        "maximum trim"
    ),
    limit="the maximum trim; a caution within {loop_reserve} of it",
    source=(
        "a closed loop raises the command until the ordered speed is reached; at the maximum trim "
        "it falls short without a sign"
    ),
    subjects=_closed,
)
def closed_loop_reach(look: Inspection, function: Function) -> Judgement:
    """Command that the loop needs against the maximum trim."""
    top = trim(function, "max")
    found: tuple[float, Solved, int] | None = None
    for scenario in look.truck.scenario:
        if not any(t.name == function.name and (t.speed or t.rate) for t in scenario.run):
            continue
        solved = look.over_oil(scenario)
        demand = solved.work.demand[:, solved.result.column(function.name)]
        n = int(np.argmax(demand))
        if found is None or demand[n] > found[0]:
            found = float(demand[n]), solved, n
    assert found is not None  # a subject has such a scenario
    flow, solved, n = found
    needed = command_for(function, flow)
    reserve = float(look.truck.limits.loop_reserve)
    if not np.isfinite(needed):
        return Judgement(
            "fail",
            words("no command gives the {flow} that it takes", flow=Amount(flow, "flow")),
            margin=-1.0,
            at={"oil": Amount(float(solved.result.oil_temperature[n]), "temperature")},
            change=words("a section that passes {q} or more", q=at_least(flow, "flow")),
        )
    wanted = needed / (1.0 - reserve)
    change = words(
        "a maximum trim of {command} or more, if machinery and motor allow it",
        command=at_least(wanted, "fraction"),
    )
    if wanted > 1.0:
        change = words(
            "a section that passes {q} or more", q=at_least(_section(function, flow, top), "flow")
        )
    return upper(
        Amount(needed, "fraction"),
        Amount(top, "fraction"),
        reserve=reserve,
        about="command that the loop needs",
        at={
            "oil": Amount(float(solved.result.oil_temperature[n]), "temperature"),
            "scenario": solved.work.scenario.name,
        },
        given={"flow": Amount(flow, "flow")},
        change=change,
    )


def _section(function: Function, flow: float, top: float) -> float:
    """Flow at full command of a section that gives a flow in reserve of its maximum trim."""
    deadband = float(function.section.deadband or 0.0)
    return flow * (1.0 - deadband) / max(0.9 * top - deadband, 1e-3)


@check(
    "slip-share",
    area="flow and speed",
    asks="Does most of a motor's flow turn it, where it slips most?",
    formula=(
        "(q - D n) / q by the steady state, oil.cold to oil.hot, hopper empty to full, of motors "
        "that get what they are asked for"
    ),
    limit="{slip_share}; more is a caution: speed then follows load and oil",
    source="slip is a flow, not a percentage: a slow motor loses the greatest share of it",
    subjects=lambda truck: [
        (name, f)
        for name, f in subjects.trimmed(truck)
        if f.loop == "open" and any(t.name == name for s in truck.scenario for t in s.run)
    ],
)
def slip_share(look: Inspection, function: Function) -> Judgement:
    """Greatest share of slip over the scenarios that run a function."""
    motors = function.motor if function.motors_in == "parallel" else function.motor[:1]
    worst: tuple[float, Solved, int] | None = None
    for scenario in look.truck.scenario:
        if not any(t.name == function.name for t in scenario.run):
            continue
        solved = look.over_oil(scenario)
        result, m = solved.result, solved.result.column(function.name)
        taken = result.motor_flow[:, m]
        turned = sum(
            float(k.derived_displacement or k.displacement or 0.0) * result.motor_speed[i][:, m]
            for i, k in enumerate(motors)
        )
        fed = (result.flow[:, m] >= solved.work.asked[:, m] * (1.0 - ENOUGH)) & (taken > 0)
        share = np.where(fed, 1.0 - turned / np.where(taken > 0, taken, 1.0), 0.0)
        n = int(np.argmax(share))
        if worst is None or share[n] > worst[0]:
            worst = float(share[n]), solved, n
    assert worst is not None  # a subject has a scenario that runs it
    value, solved, n = worst
    m, most = solved.result.column(function.name), float(look.truck.limits.slip_share)
    efficiency = motors[0].volumetric_efficiency
    change = words("a motor that slips less")
    if efficiency is not None and value < 1.0:
        ratio = most / (1.0 - most) * (1.0 - value) / max(value, 1e-12)
        wanted = 1.0 / (1.0 + (1.0 / float(efficiency) - 1.0) * ratio)
        change = words(
            "a motor of {efficiency} volumetric efficiency or more",
            efficiency=at_least(wanted, "fraction"),
        )
    judged = upper(
        Amount(value, "fraction"),
        Amount(most, "fraction"),
        about="share of the motor's flow that slips",
        at={
            "scenario": solved.work.scenario.name,
            "oil": Amount(float(solved.result.oil_temperature[n]), "temperature"),
        },
        given={"q": Amount(float(solved.result.motor_flow[n, m]), "flow")},
        change=change,
    )
    return eased(judged)


@check(
    "trim-conditions",
    area="trims and valve drive",
    asks="Does one command give the same speed in all the conditions in which trims are set?",
    formula=(
        "(fastest - slowest) / fastest at the maximum trim: low, middle and high end of the "
        "working band, oil as thick as it may be, working and hot, hopper empty and full"
    ),
    limit="spreading.accuracy for a feeder, else {trim_spread}; more is a caution",
    source="steady-state balance: slip follows load and oil; a closed loop takes it up",
    subjects=subjects.trimmed,
)
def trim_conditions(look: Inspection, function: Function) -> Judgement:
    """Spread of speed at the maximum trim."""
    if function.loop == "closed":
        return Judgement("pass", words("the closed loop holds the speed"))
    truck = look.truck
    engine = engine_speeds(truck, "working")[[0, 4, -1]]
    warm, hot = (float(oil_temperatures(truck, word)[0]) for word in ("working", "hot"))
    thick = float(truck.limits.work_viscosity_high)
    cold = float(temperature_at_viscosity(thick, *oil_line(truck)))
    oil = np.array([min(cold, warm), warm, hot])
    grid = np.meshgrid(engine, oil, np.array([0.0, 1.0]), indexing="ij")
    work = look.alone(function, trim(function, "max"))(*(part.ravel() for part in grid))
    result = look.solve(work.points)
    speeds = result.speed[:, result.column(function.name)]
    fast, slow = int(np.argmax(speeds)), int(np.argmin(speeds))
    if speeds[fast] <= 0.0:
        return Judgement("pass", words("it does not turn; see minimum-speed"))
    accuracy = truck.spreading.accuracy if function.kind == "feeder" else None
    most = float(truck.limits.trim_spread if accuracy is None else accuracy)
    judged = upper(
        Amount(float((speeds[fast] - speeds[slow]) / speeds[fast]), "fraction"),
        Amount(most, "fraction"),
        about="change of speed at the maximum trim",
        at={
            "engine": Amount(float(result.engine_speed[slow]), "shaft_speed"),
            "oil": Amount(float(result.oil_temperature[slow]), "temperature"),
            "hopper": "full" if work.points.hopper[slow] else "empty",
        },
        given={
            "fastest": Amount(float(speeds[fast]), "shaft_speed"),
            "slowest": Amount(float(speeds[slow]), "shaft_speed"),
        },
        change=words(
            "a shaft-speed sensor, or accept {spread}",
            spread=at_least(float((speeds[fast] - speeds[slow]) / speeds[fast]), "fraction"),
        ),
    )
    return eased(judged)
