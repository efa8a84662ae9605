"""Flow and speed: does every function get what its work asks, and does none turn too fast?"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import Amount, Judgement, Words, at_least, at_most, upper, words
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.checks.subjects import FittedMotor
from hydrocheck.checks.watched import shares_missing
from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Scenario
from hydrocheck.physics import valves
from hydrocheck.solver import SupplyLimit
from hydrocheck.studies.budget import ENOUGH, available_flow, is_met
from hydrocheck.studies.conditions import oil_temperatures
from hydrocheck.studies.work import Solved, most_flow

Array = NDArray[np.float64]

AREA = "flow and speed"
STILL = 1e-9
"""Share of its demand below which a function counts as standing still."""

LINE_SHARE = 0.002
"""Share of the demand added to a proposed pump: its greater flow costs a little more pressure."""


def _at(solved: Solved, n: int) -> dict[str, Amount | str]:
    result = solved.result
    return {
        "engine": Amount(float(result.engine_speed[n]), "shaft_speed"),
        "oil": Amount(float(result.oil_temperature[n]), "temperature"),
    }


def worst_shortfall(solved: Solved) -> tuple[int, int] | None:
    """Point and function that lack the greatest share of the wanted flow; None if none lacks any.

    Of equals the first point and function.
    """
    missing = shares_missing(solved)
    if missing.max(initial=0.0) <= ENOUGH:
        return None
    n, m = np.unravel_index(int(np.argmax(missing)), missing.shape)
    return int(n), int(m)


@check(
    "flow-demand",
    area=AREA,
    asks=(
        "Does every function of the scenario get its flow at every engine speed it is declared for?"
    ),
    formula=(
        "delivered section flow by the steady state >= D n + slip at the load (or stroke "
        "volume / time)"
    ),
    limit="the demand; a caution where the pump has less than {flow_reserve} in hand",
    source="steady-state balance; 1200-1400 engine rpm while spreading is common practice",
    subjects=subjects.scenarios,
)
def flow_demand(look: Inspection, scenario: Scenario) -> Judgement:
    """Worst function and point of a scenario at its own engine speeds."""
    solved = look.solved(scenario)
    if (worst_of := worst_shortfall(solved)) is not None:
        return starved(look, scenario, solved, worst_of, "fail")
    available = available_flow(look.truck, solved)
    total = solved.wanted.sum(axis=1)
    reserve = np.divide(available - total, total, out=np.full_like(total, np.inf), where=total > 0)
    worst = int(np.argmin(reserve))
    if not np.isfinite(reserve[worst]):
        return Judgement("pass", words("asks for no flow"))
    value, limit = Amount(float(available[worst]), "flow"), Amount(float(total[worst]), "flow")
    tight = reserve[worst] < float(look.truck.limits.flow_reserve)
    why = "the pump can give {value} where {limit} is asked"
    why = f"every demand is met, with little in hand: {why}" if tight else why
    return Judgement(
        "caution" if tight else "pass",
        words(why, value=value, limit=limit),
        value,
        limit,
        float(reserve[worst]),
        _at(solved, worst),
        _cure(look, scenario, solved, worst) if tight else None,
    )


@check(
    "flow-at-idle",
    area=AREA,
    asks="Does the scenario still get its flow when the engine falls back to idle?",
    formula="as flow-demand, at engine.idle",
    limit="the demand; a caution, since work is not declared for idle",
    source="common practice: an engine at idle starves the spreader before anything is broken",
    subjects=lambda truck: [
        (s.name, s) for s in truck.scenario if s.engine in ("working", "governed")
    ],
)
def flow_at_idle(look: Inspection, scenario: Scenario) -> Judgement:
    """Worst function of a scenario at idle."""
    solved = look.solved_at_idle(scenario)
    if (worst_of := worst_shortfall(solved)) is not None:
        return starved(look, scenario, solved, worst_of, "caution")
    return Judgement("pass", words("every demand is met at idle too"), at=_at(solved, 0))


@check(
    "flow-over-oil",
    area=AREA,
    asks="Does the scenario still get its flow with oil from coldest to hottest?",
    formula="as flow-demand, oil.cold to oil.hot, hopper empty to full, up to governed speed",
    limit="the demand; a caution, since work is declared for other oil",
    source="steady-state balance: cold oil loses pressure in lines, hot oil slips",
    subjects=subjects.scenarios,
)
def flow_over_oil(look: Inspection, scenario: Scenario) -> Judgement:
    """Worst function of a scenario over the oil's range."""
    solved = look.over_oil(scenario)
    worst = worst_shortfall(solved)
    if worst is None:
        return Judgement("pass", words("every demand is met from coldest to hottest oil"))
    judged = starved(look, scenario, solved, worst, "caution")
    working = float(oil_temperatures(look.truck, "working")[0])
    if float(solved.result.oil_temperature[worst[0]]) >= working:
        return judged
    return replace(judged, change=_warmer(look, scenario))


def _warmer(look: Inspection, scenario: Scenario) -> Words:
    """The oil temperature, of those solved, from which every demand is met."""
    solved = look.over_oil(scenario)
    oils, met = solved.result.oil_temperature, is_met(solved)
    working = float(oil_temperatures(look.truck, "working")[0])
    unmet = oils[~met & (oils < working)]
    warm = min((t for t in oils if t > unmet.max()), default=working)
    return words(
        "warm the oil to {warm} before this work", warm=at_least(float(warm), "temperature")
    )


def starved(
    look: Inspection,
    scenario: Scenario,
    solved: Solved,
    worst: tuple[int, int],
    verdict: Literal["fail", "caution"],
) -> Judgement:
    """Who lacks most of its flow, by how much, and what would cure it."""
    result, (n, m) = solved.result, worst
    flow, asked = float(result.flow[n, m]), float(solved.work.asked[n, m])
    limit = Amount(float(solved.wanted[n, m]), "flow")
    value = Amount(0.0 if flow < STILL * limit.value else flow, "flow")
    capped = asked < limit.value * (1.0 - ENOUGH) and flow >= asked * (1.0 - ENOUGH)
    if value.value == 0.0:
        why = "{name} gets none of its {limit}: too little pressure is left to move it"
    elif capped:
        why = "{name} gets {value} of {limit}, held back by its section or maximum trim"
    else:
        why = "{name} starves first, with {value} of {limit}"
    return Judgement(
        verdict,
        words(why, name=result.functions[m], value=value, limit=limit),
        value,
        limit,
        float((value.value - limit.value) / limit.value),
        _at(solved, n),
        _larger_section(limit.value) if capped else _cure(look, scenario, solved, n),
    )


def _larger_section(flow: float) -> Words:
    return words("a section, and a maximum trim, that pass {q} or more", q=at_least(flow, "flow"))


def _cure(look: Inspection, scenario: Scenario, solved: Solved, n: int) -> Words:
    """The engine speed, or the pump displacement, that would meet the demand with its reserve."""
    has = float(solved.result.pump_pressure[n])
    needed = float(look.pressures(solved.work).pump[n])
    at_its_limit = solved.result.supply_limit[n] in (SupplyLimit.RELIEF, SupplyLimit.COMPENSATOR)
    if at_its_limit and needed > has:
        return words(
            "more pressure, not more flow: the work needs {needed} at the pump, held to {has}",
            needed=Amount(needed, "pressure"),
            has=Amount(has, "pressure"),
        )
    larger = _larger_pump(look, solved, n, needed)
    if larger is None:
        return words("none found")
    least = look.least_engine_speed(scenario, float(solved.result.oil_temperature[n]))
    if least is None:
        return words(
            "no engine speed in range meets it; check the pressure settings first, then a pump "
            "of {larger} or more",
            larger=larger,
        )
    return words(
        "keep the engine at {least} or above, or fit a pump of {larger} or more",
        least=at_least(least, "shaft_speed"),
        larger=larger,
    )


def _larger_pump(look: Inspection, solved: Solved, n: int, needed: float) -> Amount | None:
    """Displacement that gives the wanted flow with its reserve, at the pressure that needs [Pa].

    Slip grows in proportion to displacement and to pressure: the pump is scaled as a whole. None
    where no size would do.
    """
    result = solved.result
    displacement = look.pump.displacement
    if displacement is None or result.pump_speed[n] <= 0:
        return None
    slip, has = float(result.pump_slip[n]), float(result.pump_pressure[n])
    full = float(available_flow(look.truck, solved)[n]) + slip
    left = full - (slip * max(needed / has, 1.0) if has > 0 else slip)
    if left <= 0:
        return None
    reserve = 1.0 + float(look.truck.limits.flow_reserve) + LINE_SHARE
    wanted = float(solved.wanted[n].sum()) * reserve
    return at_least(float(displacement) * wanted / left, "displacement")


@check(
    "speed-in-reach",
    area=AREA,
    asks="Can the function be commanded to the speed, rate or flow that the scenario wants?",
    formula="demand <= section flow at the maximum trim (or at full command)",
    limit="the largest section flow that can be commanded",
    source="valve curve of the truck file; common practice: a trim beyond it is dead travel",
    subjects=lambda truck: [
        (f"{f.name}: {s.name}", (s, f))
        for s in truck.scenario
        for f in truck.function
        if f.fitted and f.drive == "hydraulic" and any(t.name == f.name for t in s.run)
    ],
)
def speed_in_reach(look: Inspection, subject: tuple[Scenario, Function]) -> Judgement:
    """Demand of a function in a scenario against the most its section passes."""
    scenario, function = subject
    solved = look.solved(scenario)
    m = solved.result.column(function.name)
    demand = solved.work.demand[:, m]
    most = most_flow(function)
    if not np.isfinite(most):
        raise MissingValue([f"{function.name}.section.rated_flow"])
    if np.isnan(demand).all() or not (demand > 0).any():
        return Judgement("pass", words("runs at a given command"))
    n = int(np.nanargmax(demand))
    return upper(
        Amount(float(demand[n]), "flow"),
        Amount(most, "flow"),
        about="flow for the wanted speed",
        change=_larger_section(float(demand[n])),
        at=_at(solved, n),
    )


@check(
    "motor-overspeed",
    area=AREA,
    asks=(
        "Can the motor exceed its rated speed at the maximum trim, at any engine speed and "
        "oil temperature?"
    ),
    formula=(
        "n = (q - slip) / D at the maximum trim, hopper empty, from idle to the highest "
        "engine speed"
    ),
    limit="the motor's max_speed",
    source="motor speed from flow and displacement; the limit is the motor maker's",
    subjects=subjects.motors,
)
def motor_overspeed(look: Inspection, subject: FittedMotor) -> Judgement:
    """Highest motor speed at the maximum trim against the maker's limit."""
    if subject.motor.max_speed is None:
        raise MissingValue([f"{subject.key}.max_speed"])
    result = look.at_max_trim(subject.function)
    m = result.column(subject.function.name)
    speeds = result.motor_speed[subject.stage][:, m]
    return _speed_judgement(
        look, subject, speeds, float(subject.motor.max_speed), "motor speed at maximum trim"
    )


@check(
    "machinery-overspeed",
    area=AREA,
    asks=(
        "Can the auger, spinner or liquid pump exceed what its machinery may turn, at the "
        "maximum trim?"
    ),
    formula="shaft speed = motor speed / gearbox ratio, over the same range as motor-overspeed",
    limit="the function's limits.max_speed",
    source="the limit is the machinery maker's; common practice: trims never exceed it",
    subjects=subjects.trimmed,
)
def machinery_overspeed(look: Inspection, function: Function) -> Judgement:
    """Highest load-shaft speed at the maximum trim against the machinery's limit."""
    if function.limits.max_speed is None:
        raise MissingValue([f"{function.name}.limits.max_speed"])
    result = look.at_max_trim(function)
    speeds = result.speed[:, result.column(function.name)]
    subject = FittedMotor(function, function.motor[0], 0, f"{function.name}.motor")
    return _speed_judgement(
        look, subject, speeds, float(function.limits.max_speed), "shaft speed at maximum trim"
    )


def _speed_judgement(
    look: Inspection, subject: FittedMotor, speeds: Array, limit: float, about: str
) -> Judgement:
    result = look.at_max_trim(subject.function)
    # Once the pump feeds the trim nothing changes: name the highest engine speed.
    n = int(np.flatnonzero(speeds >= speeds.max() * (1.0 - 1e-9))[-1])
    change = None
    if speeds[n] > limit:
        change = _lower_trim(look, subject.function, n, limit / float(speeds[n]))
    return upper(
        Amount(float(speeds[n]), "shaft_speed"),
        Amount(limit, "shaft_speed"),
        about=about,
        change=change,
        at={
            "engine": Amount(float(result.engine_speed[n]), "shaft_speed"),
            "oil": Amount(float(result.oil_temperature[n]), "temperature"),
        },
    )


def _lower_trim(look: Inspection, function: Function, n: int, ratio: float) -> Words:
    """The maximum trim at which the speed limit is just kept.

    The flow that turns the motors at the limit without any slip: slip only makes them slower, which
    keeps the answer on the safe side.
    """
    section = function.section
    if section.curve or section.deadband is None or section.rated_flow is None:
        return words("a lower maximum trim")
    result = look.at_max_trim(function)
    m = result.column(function.name)
    beside = function.motor if function.motors_in == "parallel" else function.motor[:1]
    capacities = [float(k.derived_displacement or k.displacement or 0.0) for k in beside]
    turned = [c * float(result.motor_speed[s][n, m]) for s, c in enumerate(capacities)]
    wanted = ratio * sum(turned)
    command = valves.command_for_flow(
        wanted,
        float(section.deadband),
        float(section.full_command),
        float(section.rated_flow),
        float(section.shape),
    )
    return words("a maximum trim of {command} or less", command=at_most(float(command), "fraction"))
