"""Following the road speed: what is laid down over the whole range, and at every engine speed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import (
    Amount,
    Judgement,
    Words,
    at_least,
    at_most,
    eased,
    lower,
    upper,
    words,
)
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import Subjects, check
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import FullDischarge
from hydrocheck.solver import Result
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures, top_speed
from hydrocheck.studies.fulldischarge import full_scenario
from hydrocheck.studies.spreading import engine_in_gear, rate_accuracy
from hydrocheck.studies.spreadplan import Plan, Rows, plan_rows, spreading_scenario, trim_flows
from hydrocheck.studies.starting import starts_together

Array = NDArray[np.float64]

AREA = "spreading"
STEPS = 49
"""Road or engine speeds tried between the ends of a range."""


def _following(mode: str) -> Subjects:
    def found(truck: Truck) -> list[tuple[str, Function]]:
        running = {t.name for s in truck.scenario for t in s.run}
        chosen = truck.speed_following.mode == mode
        return [(n, f) for n, f in subjects.feeders(truck) if chosen and n in running]

    return found


def _laid(
    look: Inspection, rate: Array, road_speed: Array, engine: Array
) -> tuple[Plan, Result, Array]:
    """Plan and steady state of orders [kg/m] at road [m/s] and engine speeds, (N,), and the rate
    laid down over the ordered one [1], (N,)."""
    truck = look.truck
    scenario = spreading_scenario(truck, None)
    oil = float(oil_temperatures(truck, scenario.oil).max())
    on = np.ones(rate.size, dtype=np.bool_)
    plan = plan_rows(truck, scenario, Rows(engine, np.full(rate.size, oil), rate, road_speed, on))
    result = plan.solve(truck) if plan.loops(truck) else look.solve(plan.work.points)
    return plan, result, plan.delivered(result.speed) / plan.target


def _place(result: Result, plan: Plan, n: int) -> dict[str, Amount | str]:
    points = plan.work.points
    return {
        "engine": Amount(float(points.engine_speed[n]), "shaft_speed"),
        "oil": Amount(float(result.oil_temperature[n]), "temperature"),
    }


def _why(plan: Plan, function: Function, n: int, short: bool) -> str:
    """What keeps the feeder from its order in a row."""
    if not short:
        return "its command stands at the minimum trim"
    if float(plan.work.demand[n, plan.feeder]) > trim_flows(function)[1]:
        return "its command stands at the maximum trim"
    return "the flow or the pressure runs out at that engine speed"


@check(
    "proportional-range",
    area=AREA,
    asks="Is every rate laid down over the whole range of road speeds that the feeder follows?",
    formula=(
        "rate laid down = feeder speed x discharge per revolution / (road speed x lanes), least "
        "to greatest rate and road speed, command kept between the trims, steady state at the "
        "engine speed of the gear in use (low end of the working band without gears)"
    ),
    limit=(
        "spreading.accuracy to either side (5.00 % where not given); too little fails, too much "
        "is a caution"
    ),
    source="steady-state balance; definition of proportional following",
    subjects=_following("proportional"),
)
def proportional_range(look: Inspection, function: Function) -> Judgement:
    """Worst rate laid down over the road speeds of the truck file."""
    rates, speeds = (np.array(part) for part in subjects.orders(look.truck))
    rates = np.unique(rates)
    range_of = np.unique([*np.linspace(speeds.min(), speeds.max(), STEPS), *speeds])
    engine, _ = engine_in_gear(look.truck, range_of)
    in_gear = np.isfinite(engine)
    if not in_gear.all():
        return _no_gear(float(range_of[~in_gear].min()))
    rate, speed = (part.ravel() for part in np.meshgrid(rates, range_of, indexing="ij"))
    plan, result, share = _laid(look, rate, speed, np.tile(engine, rates.size))
    within = rate_accuracy(look.truck)
    short = float(share.min()) < 1.0 - within
    n = int(np.argmin(share) if short else np.argmax(share))
    at = {
        "rate": Amount(float(rate[n]), "application_rate"),
        "road speed": Amount(float(speed[n]), "road_speed"),
        **_place(result, plan, n),
    }
    value = Amount(float(share[n]) * float(rate[n]), "application_rate")
    ends = [Amount(float(rate[n]) * e, "application_rate") for e in (1 - within, 1 + within)]
    judged = (
        lower(value, ends[0], about="rate laid down", at=at)
        if short
        else eased(upper(value, ends[1], about="rate laid down", at=at))
    )
    if judged.verdict == "pass":
        return judged
    row = rate == rate[n]
    keeps = np.abs(share - 1.0) <= within if not short else share >= 1.0 - within
    reason = words(
        f"at {{rate}} and {{speed}} {{value}} is laid down: {_why(plan, function, n, short)}",
        rate=at["rate"],
        speed=at["road speed"],
        value=value,
    )
    change = _speed_cure(look, float(rate[n]), speed[row], keeps[row], short, within)
    return replace(judged, reason=reason, change=change)


def _no_gear(speed: float) -> Judgement:
    return Judgement(
        "caution",
        words("no gear of the truck file is as fast as {speed}", speed=Amount(speed, "road_speed")),
        change=words("the gear for that speed in the truck file, or another road speed"),
    )


def _speed_cure(
    look: Inspection,
    rate: float,
    speed: Array,
    keeps: NDArray[np.bool_],
    short: bool,
    within: float,
) -> Words:
    """Road speed up to which, or from which, a rate is kept; sought between the speeds tried."""
    name = Amount(rate, "application_rate")
    good = np.flatnonzero(keeps)
    if not good.size:
        return words("none found: no road speed of the file keeps {rate}", rate=name)
    inside = int(np.flatnonzero(~keeps)[0]) - 1 if short else int(np.flatnonzero(~keeps)[-1]) + 1
    if not 0 <= inside < keeps.size:
        return words("none found: more flow at the engine speeds in use for {rate}", rate=name)
    tried = np.linspace(speed[inside], speed[inside + (1 if short else -1)], STEPS)
    engine, _ = engine_in_gear(look.truck, tried)
    _, _, share = _laid(look, np.full(STEPS, rate), tried, engine)
    fits = share >= 1.0 - within if short else np.abs(share - 1.0) <= within
    edge = float(tried[int(np.cumprod(fits).sum()) - 1])
    if short:
        return words("{speed} or less at {rate}", speed=at_most(edge, "road_speed"), rate=name)
    return words(
        "{speed} or more at {rate}, or a smaller gate",
        speed=at_least(edge, "road_speed"),
        rate=name,
    )


@check(
    "start-stop-rate",
    area=AREA,
    asks="Is the rate kept over the road speeds although the discharge does not follow them?",
    formula=(
        "rate laid down / ordered = road speed of the scenario / road speed, from the least to "
        "the greatest road speed, and what the flow leaves of it"
    ),
    limit="spreading.accuracy to either side (5.00 % where not given); more is a caution",
    source="definition of start-stop following: one discharge whenever the truck moves",
    subjects=_following("start-stop"),
)
def start_stop_rate(look: Inspection, function: Function) -> Judgement:
    """Greatest error of the rate over the road speeds."""
    rates, speeds = subjects.orders(look.truck)
    ends = np.unique([min(speeds), max(speeds)])
    engine, _ = engine_in_gear(look.truck, ends)
    if not np.isfinite(engine).all():
        return _no_gear(float(ends[~np.isfinite(engine)].min()))
    plan, result, share = _laid(look, np.full(ends.size, max(rates)), ends, engine)
    within = rate_accuracy(look.truck)
    n = int(np.argmax(np.abs(share - 1.0)))
    set_for = float(plan.ordered[n] / plan.target[n] * ends[n])
    judged = upper(
        Amount(float(abs(share[n] - 1.0)), "fraction"),
        Amount(within, "fraction"),
        about="error of the rate at that road speed",
        at={"road speed": Amount(float(ends[n]), "road_speed"), **_place(result, plan, n)},
        given={"set for": Amount(set_for, "road_speed")},
        change=words(
            "proportional following, or drive {low} to {high}",
            low=at_least(set_for / (1.0 + within), "road_speed"),
            high=at_most(set_for / (1.0 - within) if within < 1 else set_for, "road_speed"),
        ),
    )
    return eased(judged)


@check(
    "start-stop-engine",
    area=AREA,
    asks="Do feeder and spinner keep their flow from idle to the highest engine speed?",
    formula=(
        "steady state of the first scenario that spreads with the greatest rate, from idle to the "
        "highest engine speed; least flow / flow wanted of all that runs"
    ),
    limit=(
        "spreading.accuracy short of it (5.00 % where not given); less fails within the working "
        "band and is a caution outside"
    ),
    source="steady-state balance; start-stop spreads whenever the truck moves, at idle too",
    subjects=_following("start-stop"),
)
def start_stop_engine(look: Inspection, function: Function) -> Judgement:
    """Least share of the wanted flow over the engine speeds."""
    truck = look.truck
    rates, speeds = subjects.orders(truck)
    idle, band = float(engine_speeds(truck, "idle")[0]), engine_speeds(truck, "working")
    engine = np.unique([*np.linspace(idle, top_speed(truck), STEPS), band[0], band[-1]])
    order = max(rates), min(speeds)
    plan, result, fed = _fed(look, order, engine)
    within = rate_accuracy(look.truck)
    n, m = (int(k) for k in np.unravel_index(int(np.argmin(fed)), fed.shape))
    keeps = fed.min(axis=1) >= 1.0 - within
    change = words("none found: no engine speed in range gives it")
    if not keeps.all() and keeps[-1]:
        last = int(np.flatnonzero(~keeps)[-1])
        between = np.linspace(engine[last], engine[last + 1], STEPS)
        fits = _fed(look, order, between)[2].min(axis=1) >= 1.0 - within
        lowest = float(between[STEPS - int(np.cumprod(fits[::-1]).sum())])
        change = words(
            "an engine speed of {engine} or more", engine=at_least(lowest, "shaft_speed")
        )
    judged = lower(
        Amount(float(result.flow[n, m]), "flow"),
        Amount(float(plan.wanted[n, m] * (1.0 - within)), "flow"),
        about="flow at that engine speed",
        at={"function": result.functions[m], **_place(result, plan, n)},
        change=change,
    )
    worked = (engine >= band[0]) & (engine <= band[-1])
    return judged if not keeps[worked].all() else eased(judged)


def _fed(look: Inspection, order: tuple[float, float], engine: Array) -> tuple[Plan, Result, Array]:
    """Flow over the wanted one by engine speed and function [1], (N, M); 1 where none is wanted.

    order: rate [kg/m], road speed [m/s]
    """
    size = engine.size
    plan, result, _ = _laid(look, np.full(size, order[0]), np.full(size, order[1]), engine)
    want = plan.wanted
    return plan, result, np.divide(result.flow, want, out=np.ones_like(want), where=want > 0)


@check(
    "full-discharge-start",
    area="flow and speed",
    asks="Does full discharge start from rest where it may be started at a standstill?",
    formula=(
        "pressure drop over the motor while it is held at full_discharge.engine, oil.hot, hopper "
        "full, >= breakaway torque / (D starting efficiency)"
    ),
    limit="the drop that breaks away; less is a caution",
    source="steady-state balance with the motor held; starting efficiency is the motor maker's",
    subjects=lambda truck: (
        [("full discharge", truck.full_discharge)]
        if truck.full_discharge is not None and truck.full_discharge.from_rest
        else []
    ),
)
def full_discharge_start(look: Inspection, wanted: FullDischarge) -> Judgement:
    """Least margin of a start in full discharge."""
    if wanted.engine is None:
        raise MissingValue(["full_discharge.engine"])
    oil = float(oil_temperatures(look.truck, "hot")[0])
    scenario = full_scenario(look.truck, wanted, oil)
    work = look.grid(scenario)
    starts = starts_together(look.truck, [(task.name, work) for task in scenario.run])
    least = min(starts, key=lambda one: float(one.margin.min()), default=None)
    if least is None:
        return Judgement("pass", words("nothing starts"))
    n = int(np.argmin(least.margin))
    judged = lower(
        Amount(float(least.available[n]), "pressure_drop"),
        Amount(float(least.needed[n]), "pressure_drop"),
        about="pressure drop over the standing motor",
        at={
            "function": least.function,
            "engine": Amount(float(least.engine_speed[n]), "shaft_speed"),
            "oil": Amount(float(least.oil_temperature[n]), "temperature"),
        },
    )
    if judged.verdict == "pass":
        return judged
    return replace(eased(judged), change=_start_cure(look, wanted, oil))


def _start_cure(look: Inspection, wanted: FullDischarge, oil: float) -> Words:
    """The least engine speed of those tried from which every function starts."""
    truck = look.truck
    speeds = np.linspace(float(engine_speeds(truck, "idle")[0]), top_speed(truck), STEPS)
    scenario = full_scenario(truck, wanted, oil)
    work = look.plan(scenario, speeds, np.full(STEPS, oil))
    starts = starts_together(truck, [(task.name, work) for task in scenario.run])
    good = np.all([one.starts for one in starts], axis=0)
    if not good[-1]:
        return words("none found: no engine speed in range starts it; see the pressures first")
    first = STEPS - int(np.cumprod(good[::-1]).sum())
    return words(
        "an engine speed of {engine} or more", engine=at_least(float(speeds[first]), "shaft_speed")
    )
