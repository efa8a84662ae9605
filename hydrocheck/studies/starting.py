"""Does a motor start from rest? A second solve, with the motor held still.

A standing motor gets no less than the supply can put across it: its load is replaced by one that
nothing moves, and the circuit is solved with the other functions of the scenario running. Slip that
passes the standing motor, reliefs, compensator, lines and return pressure all take their part. The
motor starts where that drop reaches what breaks its load away:

    dp needed = breakaway x torque at rest / (D x starting efficiency)
    starts    where drop while held >= dp needed

The section is opened as the scenario asks, without a boost of the command: a worn motor can pass
all that a small command gives. Motors in series start where the drop over all of them reaches the
sum of their needs; one after the other they may start with less. Motors in parallel must each start
while the others turn, which hold the pressure down: each is held alone, and the one with the least
margin counts. A spinner is loaded as at work
while its feeder stands. Cylinders and functions known by a pressure only start as they run, and are
left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.errors import DomainError
from hydrocheck.model.circuit import Function, Load
from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.physics.losses import starting_pressure
from hydrocheck.solver import Points, Result, solve, solved_functions
from hydrocheck.solver.feederload import breakaway
from hydrocheck.solver.needs import Needs
from hydrocheck.solver.stages import load_torques
from hydrocheck.studies.work import Work, plan_work

Array = NDArray[np.float64]

_IMMOVABLE = 1e10
"""Drop that would move a held motor [Pa]: more than any supply gives."""
_FULL = 1.0 - 1e-9


class StartLimit(IntEnum):
    """What bounds the pressure across a standing motor."""

    SUPPLY = 0  # compensator, reliefs, flow that other functions leave
    COMMAND = 1  # its slip takes all that its command gives
    PORT_RELIEF = 2  # its port relief is open


@dataclass(frozen=True)
class Start:
    """A function's start from rest at N points, the others of its scenario running.

    engine_speed: [rad/s], oil_temperature: [K], (N,)
    needed: drop over the motor or motors that breaks the load away [Pa], (N,)
    available: drop that stands across them while they are held [Pa], (N,)
    beside: what lines and return pressure add to it at the work port [Pa], (N,)
    limit: StartLimit, (N,); supply_limit: SupplyLimit while held, (N,)
    """

    function: str
    engine_speed: Array
    oil_temperature: Array
    needed: Array
    available: Array
    beside: Array
    limit: NDArray[np.int64]
    supply_limit: NDArray[np.int64]

    @property
    def starts(self) -> NDArray[np.bool_]:
        """Whether the load breaks away, (N,)."""
        return np.asarray(self.available >= self.needed)

    @property
    def margin(self) -> Array:
        """What is available beyond the need, as a share of the need [1], (N,); below 0: stands."""
        needs = np.where(self.needed > 0, self.needed, 1.0)
        return np.where(self.needed > 0, self.available / needs - 1.0, np.inf)

    @property
    def port_needed(self) -> Array:
        """Work-port pressure that breaks the load away [Pa], (N,)."""
        return self.needed + self.beside

    @property
    def port_available(self) -> Array:
        """Work-port pressure while the motor is held [Pa], (N,)."""
        return self.available + self.beside


def start_from_rest(
    truck: Truck,
    scenario: Scenario,
    name: str,
    engine_speed: ArrayLike | None = None,
    oil_temperature: ArrayLike | None = None,
) -> Start:
    """Whether a function's motor starts while the others of a scenario run.

    name: of the function, which must take part in the scenario
    engine_speed [rad/s] and oil_temperature [K]: every speed with every temperature, N points; None
    takes the scenario's own. An empty hopper: `replace(scenario, hopper="empty")`.

    Raises MissingValue (also for starting efficiency and breakaway factor), DomainError, and as
    `solve` does.
    """
    function = truck.function_named(name)
    if not function.motor or function not in solved_functions(truck):
        raise DomainError(f"'{name}' has no hydraulic motor to start")
    work = plan_work(truck, scenario, engine_speed, oil_temperature)
    place = solved_functions(truck).index(function)
    if not (work.asked[:, place] > 0).all():
        raise DomainError(f"'{name}' takes no part in the scenario '{scenario.name}'")
    return _start(truck, function, place, work)


def starts_of(
    truck: Truck,
    scenario: Scenario,
    engine_speed: ArrayLike | None = None,
    oil_temperature: ArrayLike | None = None,
) -> dict[str, Start]:
    """`start_from_rest` of every function with a motor that takes part in a scenario."""
    work = plan_work(truck, scenario, engine_speed, oil_temperature)
    return {
        function.name: _start(truck, function, place, work)
        for place, function in enumerate(solved_functions(truck))
        if function.motor and (work.asked[:, place] > 0).all()
    }


def needed_drops(truck: Truck, function: Function, points: Points) -> Array:
    """Drop over each of a function's motors that breaks its load away [Pa], (S, N).

    points: give the hopper's filling, between which torque is linear

    Raises MissingValue.
    """
    drops = []
    needs = Needs(points.size)
    still = np.zeros(points.size)
    for level, motor in enumerate(function.motor):
        one = len(function.motor) == 1
        key = f"{function.name}.{'motor' if one else motor.name or f'motor {level + 1}'}"
        displacement = needs.column(motor, "displacement", key)
        efficiency = needs.column(motor, "starting_efficiency", key)
        torque = load_torques(motor, key, points, still, needs, function.liquid_pump)["load0"]
        full, empty = motor.load, motor.load_empty
        factor = breakaway(full, f"{key}.load", needs) if full is not None else 1.0
        if empty is not None and (points.hopper < 1.0).any():
            light = breakaway(empty, f"{key}.load_empty", needs)
            factor = points.hopper * factor + (1.0 - points.hopper) * light
        needs.settle()
        drop = starting_pressure(torque, displacement, efficiency, np.asarray(factor))
        drops.append(drop + np.zeros(points.size))
    return np.stack(drops)


def _start(truck: Truck, function: Function, place: int, work: Work) -> Start:
    needed = needed_drops(truck, function, work.points)
    every = range(len(function.motor))
    if function.motors_in == "series" or len(every) == 1:
        return _held(truck, function, place, work, needed.sum(axis=0))
    hardest, *others = (_held(truck, function, place, work, needed[s], (s,)) for s in every)
    for other in others:
        worse = other.margin < hardest.margin
        arrays = {
            key: np.where(worse, getattr(other, key), getattr(hardest, key))
            for key in ("needed", "available", "beside", "limit", "supply_limit")
        }
        hardest = replace(hardest, **arrays)
    return hardest


def _held(
    truck: Truck,
    function: Function,
    place: int,
    work: Work,
    needed: Array,
    only: tuple[int, ...] = (),
) -> Start:
    """The start of all motors, or of those in `only`, that are held while the others turn."""
    result = solve(_immovable(truck, function, only), work.points)
    return _read(result, function, place, needed, only)


def _read(
    result: Result, function: Function, place: int, needed: Array, only: tuple[int, ...] = ()
) -> Start:
    """What a solve with the motors held says of the start."""
    drops = result.motor_drop[:, :, place]
    available = drops[only[0]] if only else drops.sum(axis=0)
    full = result.flow[:, place] >= result.asked[:, place] * _FULL
    relieved = result.flow[:, place] - result.motor_flow[:, place] > 1e-9 * result.asked[:, place]
    limit = np.where(full, StartLimit.COMMAND, StartLimit.SUPPLY)
    return Start(
        function=function.name,
        engine_speed=result.engine_speed,
        oil_temperature=result.oil_temperature,
        needed=needed,
        available=available,
        beside=result.work_pressure[:, place] - available,
        limit=np.where(relieved, StartLimit.PORT_RELIEF, limit).astype(np.int64),
        supply_limit=result.supply_limit,
    )


def _immovable(truck: Truck, function: Function, only: tuple[int, ...]) -> Truck:
    """The truck with a load on a function's motors, or those in `only`, that nothing moves."""
    motors = tuple(
        replace(
            motor,
            load=Load(constant=_IMMOVABLE * np.asarray(motor.displacement) * motor.gearbox_ratio),
            load_empty=None,
        )
        if not only or level in only
        else motor
        for level, motor in enumerate(function.motor)
    )
    held = replace(function, motor=motors)
    functions = tuple(held if f is function else f for f in truck.function)
    return replace(truck, function=functions)


def starts_together(truck: Truck, works: Sequence[tuple[str, Work]]) -> list[Start]:
    """`start_from_rest` of functions in works of their own, all in one solve.

    works: a function's name and the work that it starts in. Functions with several motors in
    parallel, or a load that is known by a pressure, are held one by one.

    Raises MissingValue and as `solve` does.
    """
    functions = solved_functions(truck)
    places = [[f.name for f in functions].index(name) for name, _ in works]
    plain = [_holds_in_one(functions[place]) for place in places]
    parts = [work.points for (_, work), one in zip(works, plain, strict=True) if one]
    rows = [part.size for part in parts]
    edges = np.cumsum([0, *rows])
    result = None
    if rows:
        owner = np.repeat([p for p, one in zip(places, plain, strict=True) if one], rows)
        held = tuple(
            _held_where(f, owner == functions.index(f)) if f in functions else f
            for f in truck.function
        )
        result = solve(replace(truck, function=held), Points.stacked(parts))
    starts, turn = [], 0
    for (_, work), place, one in zip(works, places, plain, strict=True):
        if not one or result is None:
            starts.append(_start(truck, functions[place], place, work))
            continue
        needed = needed_drops(truck, functions[place], work.points).sum(axis=0)
        mine = result.rows(int(edges[turn]), int(edges[turn + 1]))
        starts.append(_read(mine, functions[place], place, needed))
        turn += 1
    return starts


def _holds_in_one(function: Function) -> bool:
    several = len(function.motor) > 1 and function.motors_in == "parallel"
    loads = [load for m in function.motor for load in (m.load, m.load_empty) if load is not None]
    known = all(m.load is not None and m.displacement is not None for m in function.motor)
    torques = all(x.pressure is None and x.hopper is None and x.screw is None for x in loads)
    return not several and known and torques


def _held_where(function: Function, mine: NDArray[np.bool_]) -> Function:
    """The function with a load that nothing moves in some rows, (N,)."""
    if not mine.any():
        return function
    motors = []
    for motor in function.motor:
        stuck = _IMMOVABLE * np.asarray(motor.displacement) * motor.gearbox_ratio
        load, empty = motor.load, motor.load_empty
        assert load is not None  # `_holds_in_one` has looked
        kept = None if empty is None else _stuck_where(empty, mine, stuck)
        motors.append(replace(motor, load=_stuck_where(load, mine, stuck), load_empty=kept))
    return replace(function, motor=tuple(motors))


def _stuck_where(load: Load, mine: NDArray[np.bool_], stuck: ArrayLike) -> Load:
    own = 0.0 if load.constant is None else load.constant
    linear, square = (
        None if value is None else np.where(mine, 0.0, value)
        for value in (load.linear, load.square)
    )
    return replace(load, constant=np.where(mine, stuck, own), linear=linear, square=square)
