"""What bounds the trims of one function at given conditions: the commands, by their reason.

`studies.trims` tells the equations and puts the bounds together.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Function, Motor
from hydrocheck.model.truck import Scenario, Task, Truck
from hydrocheck.physics import material
from hydrocheck.solver import Points, SupplyLimit, solve, solved_functions
from hydrocheck.solver.fluid import fluid_at
from hydrocheck.solver.needs import Needs
from hydrocheck.solver.stages import function_stages
from hydrocheck.studies.budget import ENOUGH
from hydrocheck.studies.commands import command_of, flow_of, speed_at_flow, starting_flow
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures
from hydrocheck.studies.liquid import greatest_speed, least_even_speed
from hydrocheck.studies.work import feeder_speed, flow_for_speed, mass_per_turn, plan_pairs

Array = NDArray[np.float64]

TRIED, ROUNDS = 25, 3
"""Flows tried in a round, and rounds, of the search for the flow that leaves every function fed."""

MOTOR = "motor limit"

OILS = ("cold", "working", "hot")


@dataclass(frozen=True)
class Wish:
    """A shaft speed that bounds the maximum trim: its name in the trade, and where it comes from.

    speed: of the load shaft [rad/s]; strict: whether it must not be exceeded in any condition
    """

    name: str
    speed: float
    strict: bool


def setting_scenario(truck: Truck, name: str) -> Scenario:
    """What the other functions do while a function is set.

    The first scenario in which it takes part and no cylinder moves; a feeder beside it runs at
    `limits.setting_up`. Nothing else runs where there is no such scenario.
    """
    fitting = [s for s in truck.scenario if any(t.name == name for t in s.run)]
    still = [s for s in fitting if all(t.motion is None for t in s.run)]
    chosen = next(iter(still or fitting), None)
    run: list[Task] = []
    for task in chosen.run if chosen else ():
        function = truck.function_named(task.name)
        if task.name == name or task.motion is not None:
            continue
        known = None not in (function.trims.min, function.trims.max)
        if function.kind == "feeder" and known:
            run.append(Task(name=task.name, setting=truck.limits.setting_up))
        else:
            run.append(task)
    return Scenario(name=f"setting {name}", run=tuple(run))


def wanted_speed(truck: Truck, function: Function) -> float | None:
    """Greatest speed of the load shaft that the orders and scenarios ask [rad/s], None for none."""
    speeds = []
    for scenario in truck.scenario:
        for task in scenario.run:
            if task.name == function.name and task.speed is not None:
                speeds.append(float(task.speed))
            elif task.name == function.name and task.rate is not None:
                speeds.append(float(feeder_speed(truck, task)))
    spreading = truck.spreading
    if function.kind == "feeder" and spreading.rates and spreading.road_speeds:
        most = material.discharge(max(spreading.rates), max(spreading.road_speeds), spreading.lanes)
        speeds.append(float(most) / mass_per_turn(truck))
    if function.kind == "liquid" and (liquid := greatest_speed(truck)) is not None:
        speeds.append(liquid)
    return max(speeds, default=None)


def wishes_of(truck: Truck, function: Function) -> tuple[tuple[Wish, ...], tuple[str, ...]]:
    """The speeds that bound the maximum trim, and what is missing among them."""
    gaps = []
    found = []
    try:
        wanted = wanted_speed(truck, function)
    except MissingValue as error:
        wanted = None
        gaps.append(f"wanted rate: {error}")
    if wanted is not None:
        found.append(
            Wish("wanted rate" if function.kind == "feeder" else "wanted speed", wanted, False)
        )
    elif not gaps:
        gaps.append("wanted speed: no scenario asks one")
    most = function.limits.max_speed
    if most is None:
        gaps.append(f"machinery limit: needs {function.name}.limits.max_speed")
    else:
        found.append(Wish("machinery limit", float(most), True))
    speeds = _motor_limits(function)
    gaps += [f"motor limit: needs {key}" for key, speed in speeds if speed is None]
    if known := [speed for _, speed in speeds if speed is not None]:
        found.append(Wish(MOTOR, min(known), True))
    return tuple(found), tuple(gaps)


def _motor_limits(function: Function) -> list[tuple[str, float | None]]:
    """Key and limit of each motor that counts, as speed of the first load shaft [rad/s].

    Motors in series pass the same flow: a later one's limit counts by the ratio of the
    displacements (slip apart, which `_ceiling` takes in). Of motors in parallel the first counts.
    """
    first = function.motor[0]
    found: list[tuple[str, float | None]] = []
    for level, motor in enumerate(_counting(function)):
        key = function.name
        key += ".motor" if len(function.motor) == 1 else f".{motor.name or f'motor {level + 1}'}"
        own, base = (motor.displacement, first.displacement) if level else (1.0, 1.0)
        speed = None
        if motor.max_speed is not None and own is not None and base is not None:
            ratio = float(own) / float(base)
            speed = float(motor.max_speed) * ratio / float(first.gearbox_ratio)
        found.append((f"{key}.max_speed", speed))
    return found


def _counting(function: Function) -> tuple[Motor, ...]:
    """The motors whose speeds bound the trims: all of a series, else the first."""
    return function.motor if function.motors_in == "series" else function.motor[:1]


def _later_flows(truck: Truck, function: Function, limit: str, points: Points) -> list[Array]:
    """Flow at which each later motor of a series turns at its min_speed or max_speed [m3/s], (N,).

    Oil that the earlier ones lose to their drains is left out: a maximum errs to the safe side, a
    minimum may come out low by that share.
    """
    if len(_counting(function)) < 2 or all(getattr(m, limit) is None for m in function.motor[1:]):
        return []
    needs = Needs(points.size)
    fluid = fluid_at(truck, points.oil_temperature, needs)
    place = solved_functions(truck).index(function)
    stages = function_stages(function, place, points, fluid, needs)
    needs.settle()
    return [
        np.broadcast_to(stage.flow_for(np.asarray(float(speed))), (points.size,))
        for stage, motor in zip(stages[1:], function.motor[1:], strict=True)
        if (speed := getattr(motor, limit)) is not None
    ]


def _ceiling(truck: Truck, function: Function, wishes: tuple[Wish, ...]) -> dict[str, float]:
    """Section flow of each strict limit [m3/s]: the least over oil temperatures and hopper."""
    if not (oils := [w for w in OILS if getattr(truck.oil, w) is not None]):
        raise MissingValue(["oil.working"])
    heats = np.unique([float(oil_temperatures(truck, w)[0]) for w in oils])
    heats = np.linspace(heats[0], heats[-1], 9) if heats.size > 1 else heats
    place = solved_functions(truck).index(function)
    found = {}
    for wish in wishes:
        if wish.strict:
            flows = []
            for hopper in (0.0, 1.0):
                points = Points.of(truck, np.zeros(heats.size), heats, hopper=hopper)
                if wish.name == MOTOR:
                    flows += [f.min() for f in _later_flows(truck, function, "max_speed", points)]
                speed = wish.speed
                if wish.name == MOTOR and (own := function.motor[0].max_speed) is not None:
                    speed = float(own) / float(function.motor[0].gearbox_ratio)
                flows.append(flow_for_speed(truck, function, place, speed, points).min())
            found[wish.name] = float(min(flows))
    return found


@dataclass(frozen=True)
class Bounds:
    """Commands that bound the trims of a function at N points; nan where no command does it."""

    points: Points
    run: Array
    start: Array
    minimum: Array
    by_start: NDArray[np.bool_]
    maximum: Array
    fed: Array
    ruled_by: tuple[str, ...]


def bounds_of(
    truck: Truck,
    function: Function,
    setting: Scenario,
    conditions: tuple[Array, Array],
    wishes: tuple[Wish, ...],
) -> Bounds:
    """setting: with its hopper; conditions: engine speeds [rad/s], oil temperatures [K], (N,)"""
    points = points_beside(truck, function, setting, conditions)
    place = solved_functions(truck).index(function)
    run, start = _minimum(truck, function, points)
    known = np.isfinite(start) & (boost_given(function) == 0.0)
    ceiling = _ceiling(truck, function, wishes)
    full = float(flow_of(function, 1.0))
    flows = np.full((len(wishes) + 2, points.size), full)
    for row, wish in enumerate(wishes):
        flows[row] = (
            ceiling[wish.name]
            if wish.strict
            else flow_for_speed(truck, function, place, wish.speed, points)
        )
    fed, limit = _fed(truck, function, points, full)
    flows[-2] = np.where(fed >= full, np.inf, fed)
    rules = np.argmin(flows, axis=0)
    least = flows[rules, np.arange(points.size)]
    starved = np.isin(limit, (SupplyLimit.FULL_STROKE, SupplyLimit.FLOW))
    supply = np.where(starved, "pump flow", "pressure setting")
    names = [*(w.name for w in wishes), "", "full command"]
    return Bounds(
        points,
        run,
        start,
        np.where(known, np.fmax(run, start), run),
        np.asarray(known & (start > run)),
        _commands(function, least),
        _commands(function, fed),
        tuple(names[r] or str(supply[n]) for n, r in enumerate(rules)),
    )


def _commands(function: Function, flow: Array) -> Array:
    """Commands of flows [1], (N,); nan for no flow and for more than any command asks."""
    command = command_of(function, np.where(flow > 0, flow, 0.0))
    return np.where((flow > 0) & np.isfinite(command), command, np.nan)


def points_beside(
    truck: Truck, function: Function, setting: Scenario, conditions: tuple[Array, Array]
) -> Points:
    """The points while a function is set, with what the feeder gives thrown by the spinner."""
    work = plan_pairs(truck, setting, *conditions)
    if setting.hopper == "empty" or function.kind != "spinner":
        return work.points
    place = solved_functions(truck).index(function)
    thrown = work.points.thrown.copy()
    for task in setting.run:
        feeder = truck.function_named(task.name)
        if feeder.kind != "feeder" or task.asks not in ("setting", "rate", "speed"):
            continue
        column = solved_functions(truck).index(feeder)
        try:
            turning = speed_at_flow(truck, feeder, work.points.asked[:, column], work.points)
            thrown[:, place] += turning * mass_per_turn(truck)
        except MissingValue:
            continue  # a feeder without calibration: the disc's own load stands alone
    return replace(work.points, thrown=thrown)


def lowest_speed(truck: Truck, function: Function) -> float:
    """Lowest even speed of the load shaft [rad/s], of motor, machinery and nozzles.

    Raises MissingValue.
    """
    motor = function.motor[0]
    speeds = []
    if motor.min_speed is not None:
        speeds.append(float(motor.min_speed / motor.gearbox_ratio))
    if function.limits.min_speed is not None:
        speeds.append(float(function.limits.min_speed))
    if function.kind == "liquid" and (least := least_even_speed(truck)) is not None:
        speeds.append(least)
    if not speeds:
        keys = [f"{function.name}.motor.min_speed or {function.name}.limits.min_speed"]
        raise MissingValue(keys)
    return max(speeds)


def _minimum(truck: Truck, function: Function, points: Points) -> tuple[Array, Array]:
    """Command that keeps the shaft turning, and that starts it [1], (N,); nan for none."""
    place = solved_functions(truck).index(function)
    run = flow_for_speed(truck, function, place, lowest_speed(truck, function), points)
    for flow in _later_flows(truck, function, "min_speed", points):
        run = np.fmax(run, flow)
    try:
        start = starting_flow(truck, function, points)
    except MissingValue:
        start = np.full(points.size, np.nan)
    found = []
    for flow in (run, start):
        command = command_of(function, np.nan_to_num(flow))
        found.append(np.where(np.isfinite(command) & np.isfinite(flow), command, np.nan))
    return found[0], found[1]


def boost_given(function: Function) -> float:
    """Breakaway boost that the truck file gives [1], 0 for none."""
    coil = function.section.coil
    return 0.0 if coil is None or coil.boost is None else float(coil.boost)


def start_gaps(truck: Truck, function: Function) -> list[str]:
    """What a start from rest lacks."""
    try:
        starting_flow(
            truck, function, Points.of(truck, np.zeros(1), oil_temperatures(truck, "working"))
        )
    except MissingValue as error:
        return [f"start from rest: {error}"]
    return []


def _fed(
    truck: Truck, function: Function, points: Points, full: float
) -> tuple[Array, NDArray[np.int64]]:
    """Greatest section flow that leaves every function fed [m3/s], (N,), and the supply's limit
    just beyond; 0 where the others starve without it."""
    place, size = solved_functions(truck).index(function), points.size
    ends = _met(truck, points, place, np.broadcast_to([0.0, full], (size, 2)))
    fed = np.where(ends[:, 1], full, 0.0)
    between = np.flatnonzero(ends[:, 0] & ~ends[:, 1])
    low, high = np.zeros(between.size), np.full(between.size, full)
    for _ in range(ROUNDS if between.size else 0):
        tried = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, TRIED)
        met = _met(truck, points.take(between), place, tried)
        good = np.maximum(np.cumprod(met, axis=1).sum(axis=1), 1)  # leading flows that are met
        row = np.arange(between.size)
        low, high = tried[row, good - 1], tried[row, np.minimum(good, TRIED - 1)]
    fed[between] = low
    beyond = points.asked.copy()
    beyond[:, place] = np.maximum(fed * 1.02, 1e-3 * full)
    result = solve(truck, replace(points, asked=beyond))
    return fed, result.supply_limit


def _met(truck: Truck, points: Points, place: int, tried: Array) -> NDArray[np.bool_]:
    """Whether every function gets what it asks, at N points and T flows of one function, (N, T)."""
    size, steps = tried.shape
    repeated = points.take(np.repeat(np.arange(size), steps))
    asked = repeated.asked.copy()
    asked[:, place] = tried.ravel()
    result = solve(truck, replace(repeated, asked=asked))
    met = (result.flow >= asked * (1.0 - ENOUGH)).all(axis=1)
    return np.asarray(met.reshape(size, steps))


def solved_speed(truck: Truck, function: Function, points: Points, command: Array) -> Array:
    """Speed of the load shaft at a command by the whole circuit [rad/s], (N,); nan without one."""
    place = solved_functions(truck).index(function)
    known = np.isfinite(command)
    asked = points.asked.copy()
    asked[:, place] = np.where(known, flow_of(function, np.where(known, command, 0.0)), 0.0)
    result = solve(truck, replace(points, asked=asked))
    return np.where(known, result.speed[:, place], np.nan)


def reference_trims(truck: Truck, name: str) -> tuple[float, float]:
    """Minimum and maximum trim of a function at the reference condition [1]; nan for none."""
    engine = float(engine_speeds(truck, "working")[0])
    return trims_at(truck, name, engine, float(oil_temperatures(truck, "working")[0]), "full")


def trims_at(
    truck: Truck, name: str, engine_speed: float, oil_temperature: float, hopper: str
) -> tuple[float, float]:
    """Minimum and maximum trim of a function at one condition [1]; nan where no command does it.

    engine_speed: [rad/s]; oil_temperature: [K]; hopper: full or empty
    """
    function = truck.function_named(name)
    wishes, _ = wishes_of(truck, function)
    setting = replace(setting_scenario(truck, name), hopper=hopper)
    conditions = (np.array([engine_speed]), np.array([oil_temperature]))
    found = bounds_of(truck, function, setting, conditions, wishes)
    return float(found.minimum[0]), float(found.maximum[0])
