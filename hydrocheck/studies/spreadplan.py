"""From ordered rates and road speeds to points to solve, row by row, and back to what is delivered.

    discharge = rate x road speed x lanes   (speed following: proportional)
    shaft speed = discharge / discharge per turn -> section flow, slip at the load's torque included
    asked = that flow, but not less than the minimum trim passes and not more than the maximum

Without speed following the discharge is that of the scenario's road speed whenever spreading is
on; with start-stop the same while the truck moves. The spinner turns as the scenario says. A liquid
pump follows the discharge where the truck pre-wets, from its speed at the scenario's discharge;
else it runs as the scenario says. Spreading functions stand where a row is off, all others run on.
A function in closed loop raises its command where it is slow.
Functions in closed loop raise their command where they are slow.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Scenario, Task, Truck
from hydrocheck.physics import material
from hydrocheck.solver import Points, Result, solve, solved_functions
from hydrocheck.studies.closedloop import Loop, solve_loops
from hydrocheck.studies.commands import command_of, flow_of
from hydrocheck.studies.work import (
    Work,
    discharge,
    flow_for_speed,
    mass_per_turn,
    most_flow,
    task_flows,
    task_points,
    tasks_of,
)

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

SPREADING = ("feeder", "spinner", "liquid")
"""Kinds of functions that stand while spreading is off."""


@dataclass(frozen=True)
class Rows:
    """What is ordered at N moments.

    engine_speed: [rad/s]; oil_temperature: [K]; rate: per lane [kg/m]; road_speed: [m/s], (N,) each
    on: whether spreading is on, (N,)
    """

    engine_speed: Array
    oil_temperature: Array
    rate: Array
    road_speed: Array
    on: Mask


@dataclass(frozen=True)
class Plan:
    """The points of N rows. feeder: its column; per_turn: [kg/rad]

    ordered: discharge that the feeder is told [kg/s], (N,), 0 where off; target: discharge that
    makes the ordered rate at the road speed [kg/s], (N,): the same where it follows the speed
    shaft: ordered shaft speeds [rad/s], (N,), by column
    """

    work: Work
    ordered: Array
    target: Array
    feeder: int
    per_turn: float
    shaft: Mapping[int, Array]

    @property
    def wanted(self) -> Array:
        """Section flow that counts as enough [m3/s], (N, M)."""
        return np.where(np.isnan(self.work.demand), self.work.asked, self.work.demand)

    def loops(self, truck: Truck) -> tuple[Loop, ...]:
        """The functions in closed loop."""
        functions = solved_functions(truck)
        return tuple(
            Loop(functions[m], m, ordered, most_flow(functions[m]))
            for m, ordered in self.shaft.items()
            if functions[m].loop == "closed"
        )

    def take(self, index: Mask) -> Plan:
        """The rows at `index`."""
        work = self.work
        part = Work(
            work.scenario, work.points.take(np.flatnonzero(index)), work.demand[index],
            work.asked[index],
        )  # fmt: skip
        shaft = {m: speed[index] for m, speed in self.shaft.items()}
        return Plan(
            part, self.ordered[index], self.target[index], self.feeder, self.per_turn, shaft
        )

    def solve(self, truck: Truck) -> Result:
        """The steady state of the rows, loops closed. Raises as `solve` does."""
        loops = self.loops(truck)
        if not loops:
            return solve(truck, self.work.points)
        return solve_loops(truck, self.work, loops).result

    def delivered(self, speed: Array) -> Array:
        """Discharge of the solved rows [kg/s], (N,); speed: of all functions [rad/s], (N, M)."""
        return np.asarray(speed[:, self.feeder] * self.per_turn)


def spreading_scenario(truck: Truck, name: str | None) -> Scenario:
    """The scenario of that name, or the first in which a feeder runs. Raises MissingValue."""
    if name is not None:
        chosen = truck.scenario_named(name)
        feeder_task(truck, chosen)
        return chosen
    for scenario in truck.scenario:
        if _feeders(truck, scenario):
            return scenario
    raise MissingValue(["a [[scenario]] in which a feeder runs"])


def _feeders(truck: Truck, scenario: Scenario) -> list[Task]:
    names = [f.name for f in solved_functions(truck) if f.kind == "feeder"]
    return [task for task in scenario.run if task.name in names]


def feeder_task(truck: Truck, scenario: Scenario) -> Task:
    """What the feeder does in a scenario. Raises DomainError unless one hydraulic feeder runs."""
    found = _feeders(truck, scenario)
    if len(found) != 1:
        what = "no hydraulic feeder runs" if not found else "more than one feeder runs"
        raise DomainError(f"scenario '{scenario.name}': {what}; an ordered rate needs one")
    return found[0]


def plan_rows(truck: Truck, scenario: Scenario, rows: Rows) -> Plan:
    """The points of N rows of orders. Raises MissingValue, DomainError."""
    functions = solved_functions(truck)
    task, tasks = feeder_task(truck, scenario), tasks_of(truck, scenario)
    per_turn = mass_per_turn(truck)
    ordered, active = _ordered(truck, task, rows)
    base = task_points(truck, scenario, (rows.engine_speed, rows.oil_temperature), ordered)
    demand = np.zeros((base.size, len(functions)))
    asked = np.zeros_like(demand)
    reference = discharge(truck, task)
    shaft: dict[int, Array] = {}
    for i, function in enumerate(functions):
        one = tasks.get(function.name)
        if one is None:
            continue
        if function.name == task.name:
            shaft[i] = ordered / per_turn
            wanted = flow_for_speed(truck, function, i, shaft[i], base)
            demand[:, i], asked[:, i] = wanted, within_trims(function, wanted)
        elif _follows(truck, function, one) and reference > 0:
            shaft[i] = float(one.speed or 0.0) * ordered / reference
            wanted = flow_for_speed(truck, function, i, shaft[i], base)
            demand[:, i], asked[:, i] = wanted, within_trims(function, wanted)
        else:
            wanted, told = task_flows(truck, function, i, one, base)
            runs = active if function.kind in SPREADING else np.ones_like(active)
            demand[:, i], asked[:, i] = np.where(runs, wanted, 0.0), np.where(runs, told, 0.0)
            if one.speed is not None and function.motor:
                shaft[i] = np.where(runs, float(one.speed), 0.0)
    points = Points(**{**base.__dict__, "asked": asked})
    points.validate()
    place = [f.name for f in functions].index(task.name)
    target = material.discharge(rows.rate, rows.road_speed, truck.spreading.lanes)
    work = Work(scenario, points, demand, asked)
    return Plan(work, ordered, np.where(rows.on, target, 0.0), place, per_turn, shaft)


def _follows(truck: Truck, function: Function, task: Task) -> bool:
    """Whether a function's speed follows the discharge: a pre-wet pump does."""
    wet = truck.spreading.prewet is not None
    return function.kind == "liquid" and wet and task.speed is not None


def _ordered(truck: Truck, task: Task, rows: Rows) -> tuple[Array, Mask]:
    """Ordered discharge [kg/s] and where spreading functions run, (N,) each."""
    mode, lanes = truck.speed_following.mode, truck.spreading.lanes
    if mode == "proportional":
        active = rows.on & (rows.road_speed > 0)
        asked = material.discharge(rows.rate, rows.road_speed, lanes)
        return np.where(active, asked, 0.0), active
    if task.road_speed is None:
        raise MissingValue([f"scenario.run.{task.name}.road_speed"])
    active = rows.on & (rows.road_speed > 0) if mode == "start-stop" else rows.on
    asked = material.discharge(rows.rate, float(task.road_speed), lanes)
    return np.where(active, asked, 0.0), active


def within_trims(function: Function, demand: Array) -> Array:
    """Flow that a function is commanded for a demand [m3/s], (N,): between its trims, or off."""
    return np.where(demand > 0, np.clip(demand, *trim_flows(function)), 0.0)


def trim_flows(function: Function) -> tuple[float, float]:
    """Section flow at the minimum and the maximum trim [m3/s]; 0 and inf where not given."""
    most = most_flow(function)
    if function.trims.min is None or not _known(function):
        return 0.0, most
    return min(float(flow_of(function, float(function.trims.min))), most), most


def _known(function: Function) -> bool:
    """Whether the file gives the flow of a section by command."""
    section = function.section
    return bool(section.curve) or (section.rated_flow is not None and section.deadband is not None)


def command_for(function: Function, flow: Array) -> Array:
    """Command that asks a section flow [1]; nan where none does, or the section is not given.

    flow: [m3/s], any shape; 0 takes no command
    """
    if not _known(function):
        return np.where(flow > 0, np.nan, 0.0)
    found = command_of(function, flow)
    return np.where(flow > 0, np.where(np.isfinite(found), found, np.nan), 0.0)
