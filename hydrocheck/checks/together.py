"""More at once than the scenarios say: full discharge, and a cylinder while spreading."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import Amount, Judgement, Words, at_least, upper, words
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import FullDischarge, Scenario, Task
from hydrocheck.solver import FunctionLimit
from hydrocheck.studies.budget import ENOUGH
from hydrocheck.studies.conditions import oil_temperatures
from hydrocheck.studies.fulldischarge import full_scenario
from hydrocheck.studies.work import Solved, cylinder_flow

Array = NDArray[np.float64]

AREA = "flow and speed"
TRIED = 41
"""Flows tried for what a cylinder can have for good."""

STILL = 1e-9
"""Share of its demand below which a function counts as standing still."""


def _at(solved: Solved, n: int) -> dict[str, Amount | str]:
    return {
        "engine": Amount(float(solved.result.engine_speed[n]), "shaft_speed"),
        "oil": Amount(float(solved.result.oil_temperature[n]), "temperature"),
    }


def _engine_cure(look: Inspection, scenario: Scenario, oil: float) -> Words:
    """The least engine speed that meets every demand of a scenario."""
    least = look.least_engine_speed(scenario, oil)
    if least is None:
        return words("none found: no engine speed in range meets it; see the pressures first")
    return words("an engine speed of {engine} or more", engine=at_least(least, "shaft_speed"))


@check(
    "full-discharge",
    area=AREA,
    asks="Does full discharge get its flow at the engine speed where drivers use it?",
    formula=(
        "steady state at full_discharge.engine: feeders at their maximum trim, spinners too where "
        "spinner_at_max, hopper full, oil.hot, at which the pump slips most"
    ),
    limit="the flow that the trims ask; a shortfall is a caution, a function that stops fails",
    source=(
        "steady-state balance; common practice: the spinner that starves first lets the material "
        "pile up"
    ),
    subjects=lambda truck: (
        [] if truck.full_discharge is None else [("full discharge", truck.full_discharge)]
    ),
)
def full_discharge(look: Inspection, wanted: FullDischarge) -> Judgement:
    """Who starves in full discharge."""
    if wanted.engine is None:
        raise MissingValue(["full_discharge.engine"])
    oil = float(oil_temperatures(look.truck, "hot")[0])
    scenario = full_scenario(look.truck, wanted, oil)
    solved = look.solve_work(look.grid(scenario))
    want = solved.wanted
    share = np.divide(solved.shortfall, want, out=np.zeros_like(want), where=want > 0)
    if share.max(initial=0.0) <= ENOUGH:
        return Judgement("pass", words("feeder and spinner get their maximum trims"))
    n, m = (int(i) for i in np.unravel_index(int(np.argmax(share)), share.shape))
    given, asked = float(solved.result.flow[n, m]), float(want[n, m])
    stands = solved.result.function_limit[n, m] == FunctionLimit.STALL  # its slip still flows
    why = "{name} starves first, with {given} of {asked}"
    return Judgement(
        "fail" if stands else "caution",
        words(
            "{name} stands still where its maximum trim asks {asked}" if stands else why,
            name=solved.result.functions[m],
            given=Amount(given, "flow"),
            asked=Amount(asked, "flow"),
        ),
        Amount(given, "flow"),
        Amount(asked, "flow"),
        float(given / asked - 1.0),
        _at(solved, n),
        _engine_cure(look, scenario, oil),
    )


def _lifts(truck: Truck) -> list[tuple[str, Function]]:
    """Cylinders that no scenario moves while a feeder runs, where one does run."""
    feeding = _spreading(truck)
    moved = {task.name for scenario in feeding for task in scenario.run}
    found = [(name, f) for name, f in subjects.functions(truck) if f.cylinder is not None]
    return [(name, f) for name, f in found if feeding and name not in moved]


def _spreading(truck: Truck) -> list[Scenario]:
    feeders = {f.name for f in truck.function if f.kind == "feeder"}
    return [s for s in truck.scenario if any(t.name in feeders for t in s.run)]


def _one_cylinder(truck: Truck) -> list[Scenario]:
    """Scenarios that spread and move no cylinder, or all that spread if each moves one."""
    feeding = _spreading(truck)
    return [s for s in feeding if all(t.motion is None for t in s.run)] or feeding


@check(
    "cylinder-while-spreading",
    area=AREA,
    asks="Does a cylinder that no scenario moves while spreading keep its time there all the same?",
    formula="stroke volume / flow that the steady state leaves beside a scenario that spreads",
    limit="extend_time; a longer time is a caution, since no scenario asks for it",
    source="steady-state balance; common practice: the plow is lifted while spreading",
    subjects=_lifts,
)
def cylinder_while_spreading(look: Inspection, function: Function) -> Judgement:
    """Time to extend while a scenario spreads."""
    cylinder = function.cylinder
    if cylinder is None or cylinder.extend_time is None:
        raise MissingValue([f"{function.name}.cylinder.extend_time"])
    wanted, flow = float(cylinder.extend_time), cylinder_flow(function, "extend")
    worst: tuple[float, Solved, int, Scenario] | None = None
    task = Task(name=function.name, motion="extend")
    beside = [replace(s, run=(*s.run, task)) for s in _one_cylinder(look.truck)]
    for both, solved in zip(beside, look.solve_works([look.grid(b) for b in beside]), strict=True):
        given = solved.result.flow[:, solved.result.column(function.name)]
        n = int(np.argmin(given))
        if worst is None or given[n] < worst[0]:
            worst = float(given[n]), solved, n, both
    assert worst is not None  # a subject has a scenario that spreads
    least, solved, n, both = worst
    oil = float(solved.result.oil_temperature[n])
    if least < STILL * flow:
        return Judgement(
            "caution",
            words("{name} stands still while the truck spreads", name=function.name),
            margin=-1.0,
            at={**_at(solved, n), "scenario": both.name},
            change=_engine_cure(look, both, oil),
        )
    time = wanted * flow / least
    judged = upper(
        Amount(time, "time"),
        Amount(wanted * (1.0 + ENOUGH), "time"),
        about="time to extend while spreading",
        at={**_at(solved, n), "scenario": both.name},
    )
    if judged.verdict == "pass":
        return judged
    kept = _steady_flow(solved, look, function, least)
    if kept <= 0.0:
        return replace(judged, verdict="caution", change=_engine_cure(look, both, oil))
    slower = at_least(wanted * flow / kept, "time")
    change = words("accept {time}: no engine speed in range keeps the time", time=slower)
    if (engine := look.least_engine_speed(both, oil)) is not None:
        change = words(
            "an engine speed of {engine} or more while it moves, or accept {time}",
            engine=at_least(engine, "shaft_speed"),
            time=slower,
        )
    return replace(judged, verdict="caution", change=change)


def _steady_flow(solved: Solved, look: Inspection, function: Function, given: float) -> float:
    """The most that a function can ask and get at every point [m3/s]: less than it is given.

    A section that is fed in full takes its whole drop, which costs the pump some slip.
    """
    points, m = solved.work.points, solved.result.column(function.name)
    tried = np.linspace(0.0, given, TRIED)
    repeated = points.take(np.repeat(np.arange(points.size), TRIED))
    asked = repeated.asked.copy()
    asked[:, m] = np.tile(tried, points.size)
    result = look.solve(replace(repeated, asked=asked))
    met = result.flow[:, m] >= asked[:, m] * (1.0 - ENOUGH)
    return float(tried[met.reshape(points.size, TRIED).all(axis=0)].max())
