"""From what a person says about a reading to an operating state that can be solved.

A state is hashable: readings taken under the same conditions share one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from hydrocheck.advice.patient import Patient
from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.model.readings import Conditions
from hydrocheck.model.truck import Task
from hydrocheck.solver import Points, solved_functions
from hydrocheck.studies.commands import command_of
from hydrocheck.studies.work import cylinder_flow, feeder_speed, flow_for_speed


@dataclass(frozen=True)
class Order:
    """What a function is told: a command beyond doubt, or one that its trims or loop make.

    command: nominal command [1]; told: whether the command itself was given
    speed: ordered speed of a closed loop [rad/s], 0 for none
    """

    command: float
    told: bool = True
    speed: float = 0.0


@dataclass(frozen=True)
class State:
    """An operating state: None where nobody said it, so that the truck's usual value stands.

    orders: by function, the ones that are off left out; stop: functions held at their stop
    """

    engine: float | None = None
    oil: float | None = None
    hopper: str = "full"
    orders: tuple[tuple[str, Order], ...] = ()
    stop: tuple[str, ...] = ()
    test: str = ""

    def order(self, function: str) -> Order | None:
        """What a function is told, None if it is off."""
        return dict(self.orders).get(function)

    def loop(self, function: str) -> bool:
        """Whether a closed loop turns the function; an override by hand leaves it out."""
        order = self.order(function)
        return order is not None and order.speed > 0 and self.test != "manual override"

    def only(self, *functions: str) -> State:
        """The same state with only these functions running."""
        return replace(self, orders=tuple(o for o in self.orders if o[0] in functions))


@dataclass(frozen=True)
class Usual:
    """The values that stand where nobody said any: engine speed [rad/s], oil temperature [K]."""

    engine: float
    oil: float


def usual(patient: Patient) -> Usual:
    """Middle of the working band, working oil temperature. Raises MissingValue."""
    engine, oil = patient.truck.engine, patient.truck.oil
    if engine.working is not None:
        speed = 0.5 * (engine.working[0] + engine.working[1])
    elif engine.idle is not None:
        speed = float(engine.idle) * 1.8
    else:
        raise MissingValue(["engine.working"])
    if oil.working is None:
        raise MissingValue(["oil.working"])
    return Usual(float(speed), float(oil.working))


def high_engine_speed(patient: Patient, standard: Usual) -> float:
    """An engine speed well above the usual one that the drive allows [rad/s]."""
    engine = patient.truck.engine
    high = min(float(engine.governed or standard.engine * 1.5), standard.engine * 1.6)
    drive = patient.pump.drive or engine.drive
    return high if drive.engaged_to is None else min(high, float(drive.engaged_to))


def state_of(patient: Patient, at: Conditions, standard: Usual) -> State:
    """The state that conditions describe.

    Where they name something that runs, only that runs; where they only name what is off, the rest
    of the truck's first scenario runs. Raises MissingValue, DomainError.
    """
    truck = patient.truck
    tasks: dict[str, Task] = {}
    hopper = at.hopper or "full"
    if at.scenario:
        scenario = truck.scenario_named(at.scenario)
        hopper = at.hopper or scenario.hopper
        tasks = {task.name: task for task in scenario.run}
    elif not any(_runs(task) for task in at.run):
        tasks = default_tasks(patient)
    tasks |= {task.name: task for task in at.run}
    names = {f.name for f in solved_functions(truck)}
    orders = []
    for name, task in tasks.items():
        if name in names and (order := _order(patient, task, standard, at.oil)):
            orders.append((name, order))
    for name in at.stop:
        if name in names and name not in tasks:
            orders.append((name, Order(1.0)))
    return State(at.engine, at.oil, hopper, tuple(orders), at.stop, at.test or "")


def _runs(task: Task) -> bool:
    """Whether a task sets its function in motion: `auger off` does not."""
    return bool(task.asks) and getattr(task, task.asks) != 0.0


def default_tasks(patient: Patient) -> dict[str, Task]:
    """The first scenario in which the function runs; without one, the function at full setting."""
    for scenario in patient.truck.scenario:
        if any(task.name == patient.name for task in scenario.run):
            return {task.name: task for task in scenario.run}
    trims = patient.function.trims
    top = 1.0 if trims.max is None else float(trims.max)
    return {patient.name: Task(name=patient.name, command=top)}


def _order(patient: Patient, task: Task, standard: Usual, oil: float | None) -> Order | None:
    """What a task tells a function; None for off. Raises MissingValue."""
    truck = patient.truck
    function = truck.function_named(task.name)
    closed = function.loop == "closed"
    if task.command is not None:
        return Order(float(task.command)) if task.command else None
    if task.setting is not None:
        if not task.setting:
            return None
        low, high = function.trims.min, function.trims.max
        if low is None or high is None:
            raise MissingValue([f"{function.name}.trims"])
        command = float(low + task.setting * (high - low))
        speed = _speed_at(patient, function, command, standard) if closed else 0.0
        return Order(command, told=False, speed=speed)
    if task.motion is not None:
        return Order(command_for(function, cylinder_flow(function, task.motion)), told=False)
    if task.flow is not None:
        return Order(command_for(function, float(task.flow)), told=False)
    speed = float(task.speed if task.speed is not None else feeder_speed(truck, task))
    if not speed:
        return None
    flow = flow_for_speed(truck, function, _place(truck, function), speed, _point(truck, standard))
    command = command_for(function, float(flow[0]))
    return Order(command, told=False, speed=speed if closed else 0.0)


def _speed_at(patient: Patient, function: Function, command: float, standard: Usual) -> float:
    """Speed that a closed loop means by a command: what the healthy function turns at it."""
    from hydrocheck.solver import solve

    points = Points.of(
        patient.truck, standard.engine, standard.oil, command={function.name: command}
    )
    result = solve(patient.truck, points)
    return float(result.speed[0, result.column(function.name)])


def _place(truck: object, function: Function) -> int:
    return [f.name for f in solved_functions(truck)].index(function.name)  # type: ignore[arg-type]  # any circuit


def _point(truck: object, standard: Usual) -> Points:
    return Points.of(truck, standard.engine, standard.oil)  # type: ignore[arg-type]  # any circuit


def command_for(function: Function, flow: float) -> float:
    """Command that asks a flow, at most the maximum trim or full command."""
    section, top = function.section, function.trims.max
    full = section.curve[-1][0] if section.curve else float(section.full_command)
    return min(float(command_of(function, flow)), full, 1.0 if top is None else float(top))
