"""What a scenario asks of the circuit: points to solve, and the demand of each function.

Demand is the section flow that gives the wanted speed, rate or time, at the oil's temperature and
the
load's torque. Asked flow is what the function can be commanded to take: the demand, but never more
than
its section, or its maximum trim, passes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.circuit import Function, Scalar
from hydrocheck.model.truck import Scenario, Task, Truck
from hydrocheck.physics import material
from hydrocheck.solver import Points, Result, solve, solved_functions
from hydrocheck.solver.compile import section_curve
from hydrocheck.solver.fluid import fluid_at
from hydrocheck.solver.needs import Needs
from hydrocheck.solver.stages import function_stages
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Work:
    """A scenario at N points of its engine speeds and oil temperatures, M functions.

    demand: section flow that the work needs [m3/s], (N, M); nan where a bare command asks for no
    rate
    asked: section flow that is commanded [m3/s], (N, M); nothing where a cylinder is opened and
        wants none (`unfed`)
    """

    scenario: Scenario
    points: Points
    demand: Array
    asked: Array

    @property
    def active(self) -> NDArray[np.bool_]:
        """Which functions take part, (M,)."""
        return np.asarray((self.asked > 0).any(axis=0))


@dataclass(frozen=True)
class Solved:
    """A scenario's work with its steady state."""

    work: Work
    result: Result

    @property
    def wanted(self) -> Array:
        """Section flow that counts as enough [m3/s], (N, M): the demand, or what a command asks."""
        return np.where(np.isnan(self.work.demand), self.work.asked, self.work.demand)

    @property
    def shortfall(self) -> Array:
        """Flow that each function lacks [m3/s], (N, M), never negative."""
        return np.maximum(self.wanted - self.result.flow, 0.0)


def plan_work(
    truck: Truck,
    scenario: Scenario,
    engine_speed: ArrayLike | None = None,
    oil_temperature: ArrayLike | None = None,
) -> Work:
    """The points of a scenario: every engine speed with every oil temperature.

    engine_speed [rad/s] and oil_temperature [K] replace the scenario's own. Raises MissingValue for
    what
    the truck file does not give.
    """
    engine = engine_speeds(truck, scenario.engine) if engine_speed is None else engine_speed
    oil = oil_temperatures(truck, scenario.oil) if oil_temperature is None else oil_temperature
    grid = np.meshgrid(np.atleast_1d(engine), np.atleast_1d(oil), indexing="ij")
    return plan_pairs(truck, scenario, *(part.ravel() for part in grid))


def plan_pairs(
    truck: Truck,
    scenario: Scenario,
    engine_speed: ArrayLike,
    oil_temperature: ArrayLike,
    hopper: ArrayLike | None = None,
) -> Work:
    """The points of a scenario at N pairs of engine speed [rad/s] and oil temperature [K].

    engine_speed, oil_temperature: scalars or (N,), broadcast
    hopper: 1 full to 0 empty, scalar or (N,), in place of the scenario's

    Raises as `plan_work` does.
    """
    both = np.broadcast_arrays(np.atleast_1d(engine_speed), np.atleast_1d(oil_temperature))
    speeds, temperatures = (np.asarray(part, dtype=np.float64) for part in both)
    functions = solved_functions(truck)
    tasks = tasks_of(truck, scenario)
    base = task_points(truck, scenario, (speeds, temperatures), _thrown(truck, scenario), hopper)
    demand = np.zeros((speeds.size, len(functions)))
    asked = np.zeros_like(demand)
    for i, function in enumerate(functions):
        if (task := tasks.get(function.name)) is not None:
            demand[:, i], asked[:, i] = task_flows(truck, function, i, task, base)
    points = Points(**{**base.__dict__, "asked": asked})
    points.validate()
    idle = [name in tasks and unfed(f, tasks[name].motion) for f in functions for name in [f.name]]
    return Work(scenario, points, demand, np.where(idle, 0.0, asked))


def solve_work(truck: Truck, work: Work) -> Solved:
    """The steady state of a scenario's points. Raises as `solve` does."""
    return Solved(work, solve(truck, work.points))


def task_points(
    truck: Truck,
    scenario: Scenario,
    at: tuple[ArrayLike, ArrayLike],
    thrown: ArrayLike,
    hopper: ArrayLike | None = None,
) -> Points:
    """The points of a scenario's tasks before anything is asked of them.

    at: engine speed [rad/s] and oil temperature [K], (N,); thrown: by each spinner that runs
        [kg/s], scalar or (N,); hopper: 1 full to 0 empty, in place of the scenario's
    """
    tasks = tasks_of(truck, scenario)
    filled = 1.0 if scenario.hopper == "full" else 0.0
    spinners = [f.name for f in solved_functions(truck) if f.kind == "spinner"]
    return Points.of(
        truck,
        *at,
        hopper=filled if hopper is None else hopper,
        thrown={name: thrown for name in spinners if name in tasks},
        retract={n: 1.0 for n, t in tasks.items() if t.motion == "retract"},
        lower={n: 1.0 for n, t in tasks.items() if t.motion == "lower"},
        stop={n: 1.0 for n, t in tasks.items() if t.motion == "stop"},
    )


def tasks_of(truck: Truck, scenario: Scenario) -> dict[str, Task]:
    """Tasks by function, with the functions that a link starts at their minimum trim."""
    tasks = {task.name: task for task in scenario.run}
    names = {f.name for f in solved_functions(truck)}
    for link in truck.link:
        starts = link.follows in tasks and link.function not in tasks
        if starts and link.function in names:
            least = truck.function_named(link.function).trims.min
            if least is None:
                raise MissingValue([f"{link.function}.trims.min"])
            tasks[link.function] = Task(name=link.function, command=least)
    return tasks


def task_flows(
    truck: Truck, function: Function, i: int, task: Task, points: Points
) -> tuple[Array, Array]:
    """Demand and asked flow of one function [m3/s], (N,) each."""
    needs = Needs()
    nothing = np.zeros(points.size)
    if task.setting is not None or task.command is not None:
        command = told_command(function, task, needs)
        needs.settle()
        flow = section_curve(function, np.full(points.size, command), needs) if command else nothing
        needs.settle()
        return np.full(points.size, np.nan) if command else nothing, flow
    if task.flow is not None:
        demand = np.full(points.size, float(task.flow))
    elif task.motion is not None and unfed(function, task.motion):
        opened = most_flow(function)
        if not np.isfinite(opened):
            raise MissingValue([f"{function.name}.section.rated_flow"])
        return nothing, np.full(points.size, opened)
    elif task.motion is not None:
        demand = np.full(points.size, cylinder_flow(function, task.motion))
    else:
        speed = task.speed if task.speed is not None else feeder_speed(truck, task)
        demand = flow_for_speed(truck, function, i, float(speed), points)
    return demand, np.minimum(demand, most_flow(function))


def told_command(function: Function, task: Task, needs: Needs) -> float:
    """Command of a task that gives a command or a setting; setting 0 is off."""
    if task.command is not None:
        return float(task.command)
    if not task.setting:
        return 0.0
    key = f"{function.name}.trims"
    low, high = needs(function.trims, "min", key), needs(function.trims, "max", key)
    return float(low + task.setting * (high - low))


def most_flow(function: Function) -> float:
    """Largest section flow that a function can be commanded [m3/s]: at its maximum trim, or full
    command.

    inf where the file does not give its section.
    """
    section = function.section
    rated = section.rated_flow if section.rated_flow is not None else function.flow
    if not section.curve and rated is None:
        return np.inf
    top = 1.0 if function.trims.max is None else float(function.trims.max)
    if not section.curve and (section.deadband is None or top == 1.0):
        return float(rated) if rated is not None else np.inf
    needs = Needs()
    return float(section_curve(function, np.array([top]), needs)[0])


def flow_for_speed(
    truck: Truck, function: Function, i: int, speed: Scalar, points: Points
) -> Array:
    """Section flow that turns the load shaft at a speed [m3/s], (N,), slip at the load's torque
    included; the first one's of several motors. Motors in parallel all take their part.

    speed: of the load shaft [rad/s], a float or (N,)
    points: give the oil's temperature, hopper and thrown mass

    q = D n + k dp with D dp (1 - Cf) = T0 + (T1 + drag) n + T2 n^2. Raises MissingValue,
    DomainError.
    """
    if not function.motor:
        raise DomainError(f"{function.name}: a speed fits a function with a motor")
    needs = Needs(points.size)
    fluid = fluid_at(truck, points.oil_temperature, needs)
    stage = function_stages(function, i, points, fluid, needs)[0]
    needs.settle()
    flow = stage.flow_for(np.asarray(speed * function.motor[0].gearbox_ratio))
    return np.broadcast_to(np.where(np.asarray(speed) > 0, flow, 0.0), (points.size,))


def unfed(function: Function, motion: str | None) -> bool:
    """Whether a cylinder wants no pump flow: its load drives it in, or it stands at its stop."""
    single = function.cylinder is not None and function.cylinder.acting == "single"
    return motion in ("lower", "stop") or (motion == "retract" and single)


def cylinder_flow(function: Function, motion: str) -> float:
    """Flow that moves a cylinder through its stroke in its stated time [m3/s].

    Raises MissingValue.
    """
    cylinder = function.cylinder
    if cylinder is None:
        raise DomainError(f"{function.name}: a motion fits a function with a cylinder")
    needs = Needs()
    key = f"{function.name}.cylinder"
    bore, stroke = needs(cylinder, "bore", key), needs(cylinder, "stroke", key)
    time = needs(cylinder, f"{motion}_time", key)
    needs.settle()
    rod = 0.0 if motion == "extend" or cylinder.rod is None else cylinder.rod
    return float(cylinder.count * np.pi / 4.0 * (bore**2 - rod**2) * stroke / time)


def mass_per_turn(truck: Truck) -> float:
    """Discharge per feeder turn [kg/rad]: from a catch test, else from geometry.

    Raises MissingValue.
    """
    spreading = truck.spreading
    if spreading.mass_per_turn is not None:
        return float(spreading.mass_per_turn)
    shape = spreading.auger or spreading.conveyor
    if shape is None:
        raise MissingValue(["spreading.mass_per_turn, .auger or .conveyor"])
    if spreading.density is None:
        raise MissingValue(["spreading.density"])
    if spreading.auger is not None:
        auger = spreading.auger
        return float(
            material.auger_mass_per_revolution(
                auger.diameter, auger.shaft, auger.pitch, auger.fill, spreading.density
            )
        )
    bed = spreading.conveyor
    assert bed is not None
    return float(
        material.conveyor_mass_per_revolution(
            bed.width, bed.gate, bed.feed, bed.fill, spreading.density
        )
    )


def discharge(truck: Truck, task: Task) -> float:
    """Mass flow of a feeder's ordered rate [kg/s], 0 where the task orders none."""
    if task.rate is None or task.road_speed is None:
        return 0.0
    return float(material.discharge(task.rate, task.road_speed, truck.spreading.lanes))


def feeder_speed(truck: Truck, task: Task) -> Scalar:
    """Shaft speed of the feeder for its ordered rate [rad/s]. Raises MissingValue."""
    return discharge(truck, task) / mass_per_turn(truck)


def _thrown(truck: Truck, scenario: Scenario) -> float:
    """Mass flow that reaches the spinner [kg/s]: what the scenario's feeders discharge."""
    total = 0.0
    for task in scenario.run:
        if task.rate is not None:
            total += discharge(truck, task)
        elif task.speed and truck.function_named(task.name).kind == "feeder":
            try:
                total += float(task.speed) * mass_per_turn(truck)
            except MissingValue:
                return total  # a feeder without calibration: the disc's own load stands alone
    return total
