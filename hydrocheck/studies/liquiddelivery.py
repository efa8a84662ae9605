"""What the liquid pumps give at solved points: flow, nozzle pressure, power at the shaft.

A hydraulic one turns as the steady state says. An electric one asks no oil; its speed follows its
command in proportion (ours), or is the ordered one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Task, Truck
from hydrocheck.solver.liquidload import liquid_given
from hydrocheck.solver.needs import Needs
from hydrocheck.studies.work import Solved, told_command

Array = NDArray[np.float64]


@dataclass(frozen=True)
class LiquidDelivery:
    """A liquid pump at N points.

    speed: of its shaft [rad/s]; flow: of the liquid [m3/s]; pressure: at the nozzles [Pa]; power:
        at its shaft [W], (N,) each
    rating: highest pressure of the pump [Pa], None where not given
    """

    function: str
    electric: bool
    speed: Array
    flow: Array
    pressure: Array
    power: Array
    rating: float | None

    @property
    def beyond_rating(self) -> NDArray[np.bool_]:
        """Where the nozzles ask more pressure than the pump is rated for, (N,)."""
        limit = np.inf if self.rating is None else self.rating
        return np.asarray(self.pressure > limit)


def liquid_delivery(truck: Truck, solved: Solved) -> tuple[LiquidDelivery, ...]:
    """Every liquid pump of a truck that runs in a scenario. Raises MissingValue."""
    found = []
    tasks = {task.name: task for task in solved.work.scenario.run}
    for function in truck.function:
        pump, task = function.liquid_pump, tasks.get(function.name)
        if pump is None or not function.fitted or task is None:
            continue
        electric = function.drive == "electric"
        if electric:
            speed = np.full(solved.result.size, electric_speed(function, task))
        else:
            speed = solved.result.speed[:, solved.result.column(function.name)]
        key = f"{function.name}.liquid_pump"
        flow, pressure, power = liquid_given(pump, key, speed, Needs(speed.size))
        rating = None if pump.max_pressure is None else float(pump.max_pressure)
        found.append(LiquidDelivery(function.name, electric, speed, flow, pressure, power, rating))
    return tuple(found)


def electric_speed(function: Function, task: Task) -> float:
    """Shaft speed of an electric liquid pump [rad/s]: as ordered, or by its command.

    Raises MissingValue.
    """
    if task.speed is not None:
        return float(task.speed)
    needs = Needs()
    command = told_command(function, task, needs)
    needs.settle()
    pump = function.liquid_pump
    if pump is None or pump.electric_speed is None:
        raise MissingValue([f"{function.name}.liquid_pump.electric_speed"])
    return command * float(pump.electric_speed)
