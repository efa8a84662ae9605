"""Full discharge: material dropped, flow asked and given, who starves, whether it starts from rest.

Feeders run at their maximum trim; spinners too, or as their first scenario asks; functions that a
link couples to a feeder run at their minimum trim. Hopper full, the hottest oil: slip is greatest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import FullDischarge, Scenario, Task, Truck
from hydrocheck.solver import Points
from hydrocheck.studies.budget import ENOUGH, least_engine_speed
from hydrocheck.studies.commands import flow_of, speed_at_flow, trimmed_functions
from hydrocheck.studies.conditions import oil_temperatures
from hydrocheck.studies.starting import starts_of
from hydrocheck.studies.work import Solved, mass_per_turn, plan_work, solve_work

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Discharge:
    """Full discharge at N engine speeds, M functions.

    engine_speed: [rad/s], (N,); oil_temperature: [K]
    asked, given: section flow [m3/s], (N, M)
    rate: material that the feeders discharge [kg/s], (N,); duration: [s], None until released
    starved: functions that fall short at some of the speeds; least_engine_speed: that feeds all
    [rad/s], None if none in range does
    starts: by function, whether it starts from rest at every speed; empty where that is not asked
    """

    functions: tuple[str, ...]
    engine_speed: Array
    oil_temperature: float
    asked: Array
    given: Array
    rate: Array
    duration: float | None
    starved: tuple[str, ...]
    least_engine_speed: float | None
    starts: Mapping[str, bool]

    @property
    def mass(self) -> Array | None:
        """Material dropped in one full discharge [kg], (N,); None where it runs until released."""
        return None if self.duration is None else self.rate * self.duration


def full_discharge(truck: Truck) -> Discharge | None:
    """What full discharge does; None where the truck file has none. Raises MissingValue."""
    wanted = truck.full_discharge
    if wanted is None:
        return None
    scenario = full_scenario(truck, wanted)
    solved = solve_work(truck, plan_work(truck, scenario))
    result = solved.result
    feeders = [f.name for f in trimmed_functions(truck) if f.kind == "feeder"]
    turning = sum((result.speed[:, result.column(name)] for name in feeders), np.zeros(result.size))
    oil = float(result.oil_temperature[0])
    starts = (
        {name: bool(start.starts.all()) for name, start in starts_of(truck, scenario).items()}
        if wanted.from_rest
        else {}
    )
    return Discharge(
        functions=result.functions,
        engine_speed=result.engine_speed,
        oil_temperature=oil,
        asked=solved.wanted,
        given=result.flow,
        rate=turning * mass_per_turn(truck),
        duration=None if wanted.duration is None else float(wanted.duration),
        starved=_starved(solved),
        least_engine_speed=least_engine_speed(truck, scenario, oil),
        starts=starts,
    )


def _starved(solved: Solved) -> tuple[str, ...]:
    short = solved.shortfall > ENOUGH * solved.wanted
    return tuple(name for m, name in enumerate(solved.result.functions) if bool(short[:, m].any()))


def full_scenario(truck: Truck, wanted: FullDischarge, oil: float | None = None) -> Scenario:
    """What runs in full discharge, where drivers use it, oil at a temperature [K] (or the hottest).

    A feeder by the speed of its maximum trim, so that the spinner is asked to throw what it gives.
    Raises MissingValue.
    """
    if wanted.engine is None:
        raise MissingValue(["full_discharge.engine"])
    heat = float(oil_temperatures(truck, "hot")[0]) if oil is None else oil
    points = Points.of(truck, np.zeros(1), np.array([heat]))
    run = []
    for function in trimmed_functions(truck):
        name = function.name
        if function.kind == "feeder":
            flow = flow_of(function, _top(function))
            speed = float(speed_at_flow(truck, function, flow, points)[0])
            run.append(Task(name=name, speed=speed))
        elif function.kind == "spinner" and wanted.spinner_at_max:
            run.append(Task(name=name, command=_top(function)))
        elif function.kind == "spinner":
            tasks = [t for s in truck.scenario for t in s.run if t.name == name]
            run += tasks[:1]
    return Scenario(name="full discharge", engine=wanted.engine, oil=heat, run=tuple(run))


def _top(function: Function) -> float:
    if function.trims.max is None:
        raise MissingValue([f"{function.name}.trims.max"])
    return float(function.trims.max)
