"""How discharge follows road speed: within which speeds, with which error outside, and what a link
adds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model.truck import Task, Truck
from hydrocheck.solver import solved_functions
from hydrocheck.studies.commands import flow_of
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures, top_speed
from hydrocheck.studies.spreading import SpreadOrder, SpreadTable, spread_table
from hydrocheck.studies.work import plan_work, solve_work

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Following:
    """Discharge of the feeder against road speed and against engine speed.

    table: what is laid down by ordered rate and road speed; mode: off, start-stop or proportional
    engine_speed: [rad/s], (E,); share: of the greatest ordered discharge that the feeder gives
    there, the others of its scenario running [1], (E,)
    sensor: pulses a metre [1/m], None where not given
    """

    table: SpreadTable
    mode: str
    engine_speed: Array
    share: Array
    sensor: float | None

    @property
    def pulses(self) -> Array | None:
        """Pulses a second of the speed sensor at the road speeds [Hz], (S,)."""
        return None if self.sensor is None else self.sensor * self.table.road_speeds


@dataclass(frozen=True)
class Linked:
    """A function that runs at its minimum trim whenever another runs, and the flow that adds.

    command: [1]; flow: [m3/s]; electric and absent functions add none
    """

    function: str
    follows: str
    command: float
    flow: float


def linked_flows(truck: Truck) -> tuple[Linked, ...]:
    """The flow that each link adds. Raises MissingValue."""
    found = []
    for link in truck.link:
        function = truck.function_named(str(link.function))
        least = function.trims.min
        if least is None:
            raise MissingValue([f"{function.name}.trims.min"])
        oil = function in solved_functions(truck)
        flow = float(flow_of(function, float(least))) if oil else 0.0
        found.append(Linked(function.name, str(link.follows), float(least), flow))
    return tuple(found)


def follow_road_speed(truck: Truck) -> Following:
    """The feeder's discharge against road speed and engine speed. Raises as `spread_table` does.

    Warm oil, hopper as in the scenario that spreads.
    """
    oil = float(oil_temperatures(truck, "working")[0])
    table = spread_table(truck, SpreadOrder(oil_temperature=oil))
    engine, share = _over_engine(truck, table, oil)
    sensor = truck.speed_following.sensor
    return Following(
        table,
        truck.speed_following.mode,
        engine,
        share,
        None if sensor is None else float(sensor),
    )


def _over_engine(truck: Truck, table: SpreadTable, oil: float) -> tuple[Array, Array]:
    """Share of the greatest ordered discharge that the feeder gives, idle to the highest speed."""
    speed = float(table.shaft_speed.max())
    scenario = truck.scenario_named(table.scenario)
    others = tuple(t for t in scenario.run if t.name != table.feeder)
    band = engine_speeds(truck, "working")[[0, -1]]
    ends = [top_speed(truck)] + ([] if truck.engine.idle is None else [float(truck.engine.idle)])
    engine = np.unique(np.concatenate((band, ends)))
    both = replace(scenario, run=(Task(name=table.feeder, speed=speed), *others))
    solved = solve_work(truck, plan_work(truck, both, engine, oil))
    turning = solved.result.speed[:, solved.result.column(table.feeder)]
    return engine, turning / speed
