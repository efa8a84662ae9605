"""Starts from rest: does the load break away at work, and at the least setting?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import Amount, Judgement, Words, at_least, eased, lower, words
from hydrocheck.checks.inspection import Inspection, command_for, cracking, trim
from hydrocheck.checks.registry import check
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function
from hydrocheck.solver import Points
from hydrocheck.studies.commands import starting_flow
from hydrocheck.studies.conditions import oil_temperatures
from hydrocheck.studies.starting import Start, StartLimit

TRIES = 8
SLACK = 1e-3
"""Beyond the displacement that is just enough."""
LEFT = 0.1
"""Share of the needed pressure below which no motor's size is the cure."""


def _started(truck: Truck) -> list[tuple[str, Function]]:
    """Functions with a motor that a scenario runs."""
    run = {task.name for scenario in truck.scenario for task in scenario.run}
    return [(name, f) for name, f in subjects.trimmed(truck) if name in run]


@check(
    "start-from-rest",
    area="flow and speed",
    asks="Does the load break away while the other functions of the scenario run?",
    formula=(
        "pressure drop over the motor while it is held, by the steady state, >= breakaway torque / "
        "(D starting efficiency); low end of the engine speeds, oil.working and oil.hot"
    ),
    limit="the drop that breaks away; a caution with less than {start_reserve} in hand",
    source="steady-state balance with the motor held; starting efficiency is the motor maker's",
    subjects=_started,
)
def start_from_rest(look: Inspection, function: Function) -> Judgement:
    """Worst start of a function over the scenarios that run it."""
    starts = look.starts()[function.name]
    if not starts:
        return Judgement("pass", words("no scenario starts it"))
    name, start = min(starts, key=lambda pair: float(pair[1].margin.min()))
    n = int(np.argmin(start.margin))
    needed, has = float(start.needed[n]), float(start.available[n])
    reserve = float(look.truck.limits.start_reserve)
    if needed <= 0.0:
        return Judgement("pass", words("nothing holds it at rest"))
    judged = lower(
        Amount(has, "pressure_drop"),
        Amount(needed, "pressure_drop"),
        reserve=reserve,
        about="pressure drop over the standing motor",
        at={
            "scenario": name,
            "engine": Amount(float(start.engine_speed[n]), "shaft_speed"),
            "oil": Amount(float(start.oil_temperature[n]), "temperature"),
        },
        given={"beside it": Amount(float(start.beside[n]), "pressure_drop")},
    )
    if judged.verdict == "pass":
        return judged
    return replace(judged, change=_start_cure(look, function, start, n, reserve))


def _start_cure(look: Inspection, function: Function, start: Start, n: int, more: float) -> Words:
    """What lets the load break away, by what bounds the pressure now."""
    needed = float(start.needed[n]) * (1.0 + more)
    has = float(start.available[n])
    limit = int(start.limit[n])
    if limit == StartLimit.COMMAND:
        oil = np.array([float(start.oil_temperature[n])])
        points = Points.of(look.truck, np.zeros(1), oil)
        flow = float(starting_flow(look.truck, function, points)[0])
        command = command_for(function, flow * (1.0 + more))
        if np.isfinite(command):
            return words(
                "a command of {command} or more to start it", command=at_least(command, "fraction")
            )
        return words("none found: the motor lets all the flow pass; a better or larger motor")
    if limit == StartLimit.PORT_RELIEF:
        port = [r for r in look.truck.relief if r.at == "port" and r.of == function.name]
        wanted = needed + float(start.beside[n])
        if port and port[0].setting is not None:
            wanted *= float(port[0].setting) / cracking(port[0])
            return words(
                "set {name} to {p} or more, if the parts behind it allow it",
                name=port[0].name,
                p=at_least(wanted, "pressure"),
            )
    larger = _larger_motor(look, function, needed / has, more) if has > LEFT * needed else None
    if larger is None:
        return words("none found: no pressure is left for it")
    return words("a motor of {d} or more, or a lighter start", d=at_least(larger, "displacement"))


def _larger_motor(look: Inspection, function: Function, ratio: float, more: float) -> float | None:
    """Displacement with which a function starts [m3/rad], tried; None if `TRIES` find none.

    ratio: of the pressure that is needed, with its reserve, to what there is
    """
    displacement = function.motor[0].displacement
    if displacement is None or len(function.motor) > 1:
        return None
    size = float(displacement)
    for _ in range(TRIES):
        size *= ratio * (1.0 + SLACK)
        truck = look.truck.vary(f"{function.name}.motor.displacement", size)
        starts = Inspection(truck).starts()[function.name]
        ratio = (1.0 + more) / (1.0 + min(float(start.margin.min()) for _, start in starts))
        if ratio <= 1.0:
            return size
    return None


@check(
    "breakaway-boost",
    area="trims and valve drive",
    asks="Does the shaft start from rest at its minimum trim, with the boost if there is one?",
    formula=(
        "flow of the minimum trim + boost >= slip of the standing motor at the pressure that "
        "breaks its load away, oil cold to hot, hopper full"
    ),
    limit="the command of that flow; less is a caution",
    source="steady-state balance; a standing motor passes its slip before it turns",
    subjects=subjects.trimmed,
)
def breakaway_boost(look: Inspection, function: Function) -> Judgement:
    """Command at the least setting against what starts a standing shaft."""
    low, coil = trim(function, "min"), function.section.coil
    boost = 0.0 if coil is None or coil.boost is None else float(coil.boost)
    oil = oil_temperatures(look.truck, "range")
    points = Points.of(look.truck, np.zeros(oil.size), oil)
    flows = starting_flow(look.truck, function, points)
    n = int(np.argmax(flows))
    needed = command_for(function, float(flows[n]))
    if not np.isfinite(needed):
        return Judgement(
            "caution",
            words("no command gives the flow that starts it"),
            margin=-1.0,
            change=words("a better or larger motor, or a lighter start"),
        )
    judged = lower(
        Amount(low + boost, "fraction"),
        Amount(needed, "fraction"),
        about="command when the least setting starts",
        at={"oil": Amount(float(oil[n]), "temperature")},
        given={"boost": Amount(boost, "fraction"), "slip": Amount(float(flows[n]), "flow")},
        change=words(
            "a boost of {boost} or more, or a minimum trim of {command} or more",
            boost=at_least(max(needed - low, 0.0), "fraction"),
            command=at_least(max(needed - boost, 0.0), "fraction"),
        ),
    )
    return eased(judged)
