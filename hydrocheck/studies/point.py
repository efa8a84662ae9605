"""One operating point: what each function is told, solved in full."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from hydrocheck.errors import DomainError
from hydrocheck.model.truck import Scenario, Task, Truck
from hydrocheck.studies.closedloop import solve_loops
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures
from hydrocheck.studies.work import Solved, plan_work


@dataclass(frozen=True)
class PointOrder:
    """What to solve: where a field is None, the scenario (or the truck's working point) rules.

    engine_speed: [rad/s]; oil_temperature: [K]; hopper: full or empty; tasks: by function
    """

    engine_speed: float | None = None
    oil_temperature: float | None = None
    hopper: str | None = None
    tasks: Mapping[str, Task] | None = None


def solve_point(truck: Truck, scenario: Scenario | None, order: PointOrder) -> Solved:
    """The steady state of one point: a scenario, tasks of one's own, or a scenario with some
    replaced; loops closed.

    Raises MissingValue, NotSolvedYet, CircuitError, DomainError.
    """
    own = dict(order.tasks or {})
    for name in own:
        function = truck.function_named(name)
        pumps = function.drive == "electric" and function.liquid_pump is not None
        if not function.fitted or (function.drive != "hydraulic" and not pumps):
            why = "moved electrically" if function.fitted else "not fitted"
            raise DomainError(f"'{name}' is {why}: it takes no flow")
    base = [] if scenario is None else [t for t in scenario.run if t.name not in own]
    engine = engine_speeds(truck, "working" if scenario is None else scenario.engine)
    oil = oil_temperatures(truck, "working" if scenario is None else scenario.oil)
    asked = Scenario(
        name="own order" if scenario is None else scenario.name,
        hopper=order.hopper or ("full" if scenario is None else scenario.hopper),
        run=(*base, *own.values()),
    )
    # A word that stands for several speeds or temperatures is taken at its middle.
    speed = float(np.median(engine)) if order.engine_speed is None else order.engine_speed
    temperature = float(np.median(oil)) if order.oil_temperature is None else order.oil_temperature
    return solve_loops(truck, plan_work(truck, asked, speed, temperature))
