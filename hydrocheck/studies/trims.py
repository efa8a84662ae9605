"""Where the minimum and maximum trim of each function should come out, and what bounds them.

Minimum trim: the least command at which the shaft turns at its lowest even speed,

    q = D n_min + slip(load),   u = deadband + (u1 - deadband) (q / q_max)^(1/shape)

and, where the valve drive gives no breakaway boost, at which a standing motor builds up the pressure
that breaks its load away (`starting_flow`). Maximum trim: the command at the least of

    the wanted speed, the machinery's limit, the motor's limit   (as flows, by the same equation)
    the flow that leaves every function fed                      (the whole circuit, by `solve`)
    full command

Limits of machinery and motor count at the oil and hopper that turn the shaft fastest; all else at
the condition named. While a function is set, the others do what their scenario asks, a feeder the
setting `FEEDER_SETTING`. Motors in series: the first motor's speed counts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.circuit import Function, Trims
from hydrocheck.model.truck import Scenario, Task, Truck
from hydrocheck.physics import material
from hydrocheck.solver import Points, SupplyLimit, solve, solved_functions
from hydrocheck.studies.budget import ENOUGH
from hydrocheck.studies.commands import (
    command_of,
    deadband_of,
    flow_of,
    speed_at_flow,
    starting_flow,
    trimmed_functions,
)
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures, top_speed
from hydrocheck.studies.work import (
    Work,
    feeder_speed,
    flow_for_speed,
    mass_per_turn,
    plan_pairs,
)

Array = NDArray[np.float64]

FEEDER_SETTING = 0.35
"""Setting of the feeder while another function is set: 30 to 40 % is common practice."""

TRIED, ROUNDS = 25, 3
"""Flows tried in a round, and rounds, of the search for the flow that leaves every function fed."""

OILS = ("cold", "working", "hot")
HOPPERS = ("empty", "full")


@dataclass(frozen=True)
class Wish:
    """A shaft speed that bounds the maximum trim: its name in the trade, and where it comes from.

    speed: of the load shaft [rad/s]; strict: whether it must not be exceeded in any condition
    """

    name: str
    speed: float
    strict: bool


@dataclass(frozen=True)
class Grid:
    """Trims of one function at N conditions; nan where no command does it.

    engine_speed: [rad/s], oil_temperature: [K], full: whether the hopper is full, (N,) each
    minimum: [1], (N,); by_start: whether breakaway rules it, (N,)
    turns: whether the supply turns the shaft at the minimum trim, (N,)
    maximum: [1], (N,); fed: command up to which every function is fed [1], (N,)
    ruled_by: what bounds the maximum, N names; speed: of the load shaft at the maximum [rad/s], (N,)
    """

    engine_speed: Array
    oil_temperature: Array
    full: NDArray[np.bool_]
    minimum: Array
    by_start: NDArray[np.bool_]
    turns: NDArray[np.bool_]
    maximum: Array
    fed: Array
    ruled_by: tuple[str, ...]
    speed: Array


@dataclass(frozen=True)
class Overspeed:
    """What a command set on a starved pump does at the highest engine speed.

    command: [1]; speed: of the load shaft [rad/s], and its limit; engine_speed: [rad/s]
    """

    command: float
    speed: float
    limit: float
    engine_speed: float


@dataclass(frozen=True)
class Trim:
    """The predicted trims of one function.

    minimum, maximum: at the reference condition [1]; nan where no command does it
    minimum_hot: minimum that turns the shaft with the hottest oil too [1]
    minimum_empty: minimum found with an empty hopper [1], too low for a loaded one
    minimum_band, maximum_band: half widths from the tolerances of the truck file [1]
    ruled_by: what bounds the maximum; starved: who is short of flow just beyond `fed`
    boost: command beyond the minimum trim that breaks the load away from rest [1], 0 for none; None
    where the truck file does not give what it takes
    current, each: coil current at minimum and maximum [A], None without a coil
    gaps: what could not be predicted for want of values
    """

    function: str
    kind: str
    beside: tuple[str, ...]
    grid: Grid
    reference: int
    minimum: float
    minimum_hot: float
    minimum_empty: float
    maximum: float
    minimum_band: float
    maximum_band: float
    ruled_by: str
    wishes: tuple[Wish, ...]
    fed: float
    starved: str
    overspeed: Overspeed | None
    boost: float | None
    file: Trims
    gaps: tuple[str, ...]


@dataclass(frozen=True)
class Prediction:
    """The trims of all functions, those that cannot be predicted with the reason, and tolerances.

    engine_speed: [rad/s] and oil_temperature: [K], of the reference, with a full hopper
    tolerances: keys of the truck file whose tolerance took part in the bands
    """

    trims: tuple[Trim, ...]
    not_predicted: tuple[tuple[str, str], ...]
    engine_speed: float
    oil_temperature: float
    tolerances: tuple[str, ...]

    def of(self, function: str) -> Trim | None:
        """The trims of one function, None where they are not predicted."""
        return next((trim for trim in self.trims if trim.function == function), None)


def predict_trims(truck: Truck) -> Prediction:
    """The trims of every function that is set by trims, feeders first. Raises MissingValue."""
    engine = float(engine_speeds(truck, "working")[0])
    oil = float(oil_temperatures(truck, "working")[0])
    order = sorted(trimmed_functions(truck), key=lambda f: f.kind != "feeder")
    found: list[Trim] = []
    missed: list[tuple[str, str]] = []
    known = truck
    for function in order:
        try:
            one = _trim(known, function.name)
        except (MissingValue, DomainError) as error:
            missed.append((function.name, str(error)))
            continue
        found.append(one)
        known = _with_trims(known, one)
    place = {f.name: i for i, f in enumerate(truck.function)}
    return Prediction(
        tuple(sorted(found, key=lambda one: place[one.function])),
        tuple(missed),
        engine,
        oil,
        tuple(sorted(truck.tolerances)),
    )


def _with_trims(truck: Truck, trim: Trim) -> Truck:
    """The truck with predicted trims where its file gives none: a feeder's setting needs both."""
    function = truck.function_named(trim.function)
    low, high = function.trims.min, function.trims.max
    if not np.isfinite([trim.minimum, trim.maximum]).all() or None not in (low, high):
        return truck
    trims = Trims(
        min=trim.minimum if low is None else low, max=trim.maximum if high is None else high
    )
    changed = replace(function, trims=trims)
    return replace(
        truck, function=tuple(changed if f is function else f for f in truck.function)
    )


def _trim(truck: Truck, name: str) -> Trim:
    function = truck.function_named(name)
    wishes, gaps = _wishes(truck, function)
    setting = setting_scenario(truck, name)
    grid = _grid(truck, function, setting, wishes)
    at = _reference(truck, grid)
    low, high = float(grid.minimum[at]), float(grid.maximum[at])
    bands = _bands(truck, function.name, low, high)
    hottest = grid.full & (grid.engine_speed == grid.engine_speed[at])
    emptied = int(
        np.flatnonzero(
            ~grid.full
            & (grid.engine_speed == grid.engine_speed[at])
            & (grid.oil_temperature == grid.oil_temperature[at])
        )[0]
    )
    boost, missing = _boost(truck, function, low)
    starved = _starved(truck, function, setting, at, grid)
    return Trim(
        function=name,
        kind=function.kind,
        beside=tuple(_told(task) for task in setting.run),
        grid=grid,
        reference=at,
        minimum=low,
        minimum_hot=float(grid.minimum[hottest].max()),
        minimum_empty=float(grid.minimum[emptied]),
        maximum=high,
        minimum_band=bands[0],
        maximum_band=bands[1],
        ruled_by=grid.ruled_by[at],
        wishes=wishes,
        fed=float(grid.fed[at]),
        starved=starved,
        overspeed=_overspeed(truck, function, grid, at),
        boost=boost,
        file=function.trims,
        gaps=(*gaps, *missing),
    )


def _told(task: Task) -> str:
    """A function that runs beside, in a word or two."""
    if task.setting is not None:
        return f"{task.name} at {100 * float(task.setting):.0f} %"
    return task.name


def _reference(truck: Truck, grid: Grid) -> int:
    """The condition in which trims are set: low end of the working band, warm oil, hopper full."""
    engine = engine_speeds(truck, "working")[0]
    oil = oil_temperatures(truck, "working")[0]
    return int(
        np.flatnonzero((grid.engine_speed == engine) & (grid.oil_temperature == oil) & grid.full)[0]
    )


def setting_scenario(truck: Truck, name: str) -> Scenario:
    """What the other functions do while a function is set.

    The first scenario in which it takes part and no cylinder moves; a feeder beside it runs at
    `FEEDER_SETTING`. Nothing else runs where there is no such scenario.
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
            run.append(Task(name=task.name, setting=FEEDER_SETTING))
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
        most = material.discharge(
            max(spreading.rates), max(spreading.road_speeds), spreading.lanes
        )
        speeds.append(float(most) / mass_per_turn(truck))
    return max(speeds, default=None)


def _wishes(truck: Truck, function: Function) -> tuple[tuple[Wish, ...], tuple[str, ...]]:
    """The speeds that bound the maximum trim, and what is missing among them."""
    gaps = []
    found = []
    try:
        wanted = wanted_speed(truck, function)
    except MissingValue as error:
        wanted = None
        gaps.append(f"wanted rate: {error}")
    if wanted is not None:
        found.append(Wish("wanted rate" if function.kind == "feeder" else "wanted speed", wanted, False))
    elif not gaps:
        gaps.append("wanted speed: no scenario asks one")
    most = function.limits.max_speed
    if most is None:
        gaps.append(f"machinery limit: needs {function.name}.limits.max_speed")
    else:
        found.append(Wish("machinery limit", float(most), True))
    motor = function.motor[0]
    if motor.max_speed is None:
        gaps.append(f"motor limit: needs {function.name}.motor.max_speed")
    else:
        found.append(Wish("motor limit", float(motor.max_speed / motor.gearbox_ratio), True))
    return tuple(found), tuple(gaps)


def _conditions(truck: Truck) -> tuple[Array, Array]:
    """Engine speeds [rad/s] and oil temperatures [K] of the table, (N,), each with each."""
    low, high = engine_speeds(truck, "working")[[0, -1]]
    speeds = [low, (low + high) / 2.0, high]
    if truck.engine.idle is not None:
        speeds.insert(0, float(truck.engine.idle))
    oils = [float(oil_temperatures(truck, "working")[0])]
    for word in ("cold", "hot"):
        if getattr(truck.oil, word) is not None:
            oils.append(float(oil_temperatures(truck, word)[0]))
    grid = np.meshgrid(np.unique(speeds), np.unique(oils), indexing="ij")
    return grid[0].ravel(), grid[1].ravel()


def _grid(
    truck: Truck, function: Function, setting: Scenario, wishes: tuple[Wish, ...]
) -> Grid:
    """Trims at every condition, hopper empty and full."""
    engine, oil = _conditions(truck)
    ceiling = _ceiling(truck, function, wishes)
    parts = [
        _at_hopper(truck, function, replace(setting, hopper=hopper), (engine, oil), wishes, ceiling)
        for hopper in HOPPERS
    ]
    names = tuple(name for part in parts for name in part.ruled_by)
    arrays = {
        key: np.concatenate([getattr(part, key) for part in parts])
        for key in Grid.__dataclass_fields__
        if key != "ruled_by"
    }
    return Grid(**arrays, ruled_by=names)


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
            flows = [
                flow_for_speed(
                    truck,
                    function,
                    place,
                    wish.speed,
                    Points.of(truck, np.zeros(heats.size), heats, hopper=hopper),
                ).min()
                for hopper in (0.0, 1.0)
            ]
            found[wish.name] = float(min(flows))
    return found


def _at_hopper(  # noqa: PLR0913, PLR0917 - what is set, where, and its bounds
    truck: Truck,
    function: Function,
    setting: Scenario,
    conditions: tuple[Array, Array],
    wishes: tuple[Wish, ...],
    ceiling: dict[str, float],
) -> Grid:
    work = _beside(truck, function, setting, conditions)
    points, place = work.points, solved_functions(truck).index(function)
    minimum, by_start = _minimum(truck, function, points)
    flows = np.full((len(wishes) + 2, points.size), np.inf)
    for row, wish in enumerate(wishes):
        if wish.strict:
            flows[row] = ceiling[wish.name]
        else:
            flows[row] = flow_for_speed(truck, function, place, wish.speed, points)
    full = float(flow_of(function, 1.0))
    fed, limit = _fed(truck, function, points, full)
    flows[-2] = np.where(fed >= full, np.inf, fed)
    flows[-1] = full
    rules = np.argmin(np.where(np.isnan(flows), -1.0, flows), axis=0)
    names = [w.name for w in wishes]
    supply = np.where(limit == SupplyLimit.FULL_STROKE, "pump flow", "pressure setting")
    supply[limit == SupplyLimit.FLOW] = "pump flow"
    ruled = tuple(
        names[r] if r < len(names) else str(supply[n]) if r == len(names) else "full command"
        for n, r in enumerate(rules)
    )
    least = flows[rules, np.arange(points.size)]
    maximum = np.where(least > 0, command_of(function, np.where(least > 0, least, 0.0)), np.nan)
    return Grid(
        engine_speed=points.engine_speed,
        oil_temperature=points.oil_temperature,
        full=points.hopper > 0.5,
        minimum=minimum,
        by_start=by_start,
        turns=_turns(truck, function, points, minimum),
        maximum=maximum,
        fed=np.where(fed > 0, command_of(function, np.where(fed > 0, fed, 0.0)), np.nan),
        ruled_by=ruled,
        speed=_solved_speed(truck, function, points, maximum),
    )


def _beside(
    truck: Truck, function: Function, setting: Scenario, conditions: tuple[Array, Array]
) -> Work:
    """The points while a function is set, with what the feeder gives thrown by the spinner."""
    work = plan_pairs(truck, setting, *conditions)
    if setting.hopper == "empty" or function.kind != "spinner":
        return work
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
    return replace(work, points=replace(work.points, thrown=thrown))


def lowest_speed(function: Function) -> float:
    """Lowest even speed of the load shaft [rad/s], motor and machinery. Raises MissingValue."""
    motor = function.motor[0]
    own = function.limits.min_speed
    if motor.min_speed is None and own is None:
        keys = [f"{function.name}.motor.min_speed or {function.name}.limits.min_speed"]
        raise MissingValue(keys)
    by_motor = 0.0 if motor.min_speed is None else float(motor.min_speed / motor.gearbox_ratio)
    return max(by_motor, 0.0 if own is None else float(own))


def _minimum(
    truck: Truck, function: Function, points: Points
) -> tuple[Array, NDArray[np.bool_]]:
    """Minimum trim [1], (N,), and whether breakaway rules it."""
    place = solved_functions(truck).index(function)
    run = flow_for_speed(truck, function, place, lowest_speed(function), points)
    start = np.zeros(points.size)
    if not _boosted(function):
        try:
            start = starting_flow(truck, function, points)
        except MissingValue:
            start = np.zeros(points.size)
    flow = np.maximum(np.maximum(run, start), 0.0)
    command = command_of(function, flow)
    return np.where(np.isfinite(command), command, np.nan), np.asarray(start > run)


def _boosted(function: Function) -> bool:
    coil = function.section.coil
    return coil is not None and coil.boost is not None and float(coil.boost) > 0.0


def _boost(truck: Truck, function: Function, minimum: float) -> tuple[float | None, list[str]]:
    """Boost beyond the minimum trim that starts the shaft with the hottest oil, hopper full."""
    word = "hot" if truck.oil.hot is not None else "working"
    points = Points.of(truck, np.zeros(1), oil_temperatures(truck, word))
    try:
        start = float(command_of(function, starting_flow(truck, function, points))[0])
    except MissingValue as error:
        return None, [f"start from rest: {error}"]
    return max(0.0, start - minimum) if np.isfinite(start) else 1.0 - minimum, []


def _fed(
    truck: Truck, function: Function, points: Points, full: float
) -> tuple[Array, NDArray[np.int64]]:
    """Greatest section flow that leaves every function fed [m3/s], (N,), and the supply's limit
    just beyond; 0 where the others starve without it."""
    place, size = solved_functions(truck).index(function), points.size
    low, high = np.zeros(size), np.full(size, full)
    for _ in range(ROUNDS):
        tried = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, TRIED)
        met = _met(truck, points, place, tried)
        good = np.cumprod(met, axis=1).sum(axis=1)  # leading flows that are met
        row = np.arange(size)
        first = good == 0
        low = np.where(first, 0.0, tried[row, np.maximum(good - 1, 0)])
        high = np.where(first, 0.0, tried[row, np.minimum(good, TRIED - 1)])
    beyond = points.asked.copy()
    beyond[:, place] = np.maximum(low * 1.02, 1e-3 * full)
    result = solve(truck, replace(points, asked=beyond))
    return low, result.supply_limit


def _met(truck: Truck, points: Points, place: int, tried: Array) -> NDArray[np.bool_]:
    """Whether every function gets what it asks, at N points and T flows of one function, (N, T)."""
    size, steps = tried.shape
    repeated = points.take(np.repeat(np.arange(size), steps))
    asked = repeated.asked.copy()
    asked[:, place] = tried.ravel()
    result = solve(truck, replace(repeated, asked=asked))
    met = (result.flow >= asked * (1.0 - ENOUGH)).all(axis=1)
    return np.asarray(met.reshape(size, steps))


def _turns(
    truck: Truck, function: Function, points: Points, command: Array
) -> NDArray[np.bool_]:
    """Whether the supply turns the shaft at its lowest even speed at a command, (N,)."""
    speed = _solved_speed(truck, function, points, command)
    return np.asarray(speed >= lowest_speed(function) * (1.0 - 1e-6))


def _solved_speed(truck: Truck, function: Function, points: Points, command: Array) -> Array:
    """Speed of the load shaft at a command by the whole circuit [rad/s], (N,); nan without one."""
    place = solved_functions(truck).index(function)
    known = np.isfinite(command)
    asked = points.asked.copy()
    asked[:, place] = np.where(known, flow_of(function, np.where(known, command, 0.0)), 0.0)
    result = solve(truck, replace(points, asked=asked))
    return np.where(known, result.speed[:, place], np.nan)


def _starved(
    truck: Truck, function: Function, setting: Scenario, at: int, grid: Grid
) -> str:
    """Which function is short of flow at full command at the reference, empty for none."""
    conditions = (grid.engine_speed[at : at + 1], grid.oil_temperature[at : at + 1])
    points = _beside(truck, function, setting, conditions).points
    asked = points.asked.copy()
    asked[:, solved_functions(truck).index(function)] = flow_of(function, 1.0)
    result = solve(truck, replace(points, asked=asked))
    short = np.where(asked[0] > 0, 1.0 - result.flow[0] / np.maximum(asked[0], 1e-30), 0.0)
    worst = int(np.argmax(short))
    return result.functions[worst] if short[worst] > ENOUGH else ""


def _overspeed(
    truck: Truck, function: Function, grid: Grid, at: int
) -> Overspeed | None:
    """What full command, or the file's maximum trim, does at the highest engine speed.

    Only where the pump does not feed that command at the reference or at idle: there the shaft gives
    no sign of a trim that is too high.
    """
    command = 1.0 if function.trims.max is None else float(function.trims.max)
    same = grid.full & (grid.oil_temperature == grid.oil_temperature[at])
    limit = function.limits.max_speed
    if limit is None or not (np.nan_to_num(grid.fed[same]) < command).any():
        return None
    top = top_speed(truck)
    oils = [float(oil_temperatures(truck, w)[0]) for w in OILS if getattr(truck.oil, w) is not None]
    points = Points.of(
        truck, np.full(len(oils), top), np.array(oils), hopper=0.0, command={function.name: command}
    )
    place = solved_functions(truck).index(function)
    speed = float(solve(truck, points).speed[:, place].max())
    return Overspeed(command, speed, float(limit), top) if speed > float(limit) else None


def _bands(truck: Truck, name: str, low: float, high: float) -> tuple[float, float]:
    """Half widths of minimum and maximum at the reference from the file's tolerances [1].

    Each value is moved by its tolerance to both sides; the greater changes add in squares.
    """
    sums = np.zeros(2)
    for path, half in truck.tolerances.items():
        moves = []
        for sign in (-1.0, 1.0):
            try:
                moved = truck.vary(path, _value(truck, path) + sign * half)
                moves.append(np.abs(np.array(reference_trims(moved, name)) - (low, high)))
            except (DomainError, MissingValue):
                continue  # that side lies out of bounds
        if moves:
            sums += np.nan_to_num(np.max(moves, axis=0)) ** 2
    return float(np.sqrt(sums[0])), float(np.sqrt(sums[1]))


def _value(truck: Truck, path: str) -> float:
    """The value under a path of `Circuit.vary`."""
    part: object = truck
    keys = path.split(".")
    while keys:
        key = keys.pop(0)
        found = getattr(part, key, None)
        if isinstance(found, tuple):
            named = [one for one in found if keys and getattr(one, "name", "") == keys[0]]
            part = named[0] if named else found[0]
            keys = keys[1:] if named else keys
        elif found is not None:
            part = found
        else:
            part = _by_name(part, key, path)
    return float(part)  # type: ignore[arg-type]  # a tolerance stands on a number


def _by_name(part: object, key: str, path: str) -> object:
    for items in vars(part).values():
        if isinstance(items, tuple):
            for one in items:
                if getattr(one, "name", "") == key:
                    return one
    raise DomainError(f"no '{key}' in '{path}'")


def reference_trims(truck: Truck, name: str) -> tuple[float, float]:
    """Minimum and maximum trim of a function at the reference condition [1]; nan for none."""
    function = truck.function_named(name)
    engine = engine_speeds(truck, "working")[:1]
    oil = oil_temperatures(truck, "working")[:1]
    wishes, _ = _wishes(truck, function)
    setting = setting_scenario(truck, name)
    grid = _at_hopper(
        truck, function, setting, (engine, oil), wishes, _ceiling(truck, function, wishes)
    )
    return float(grid.minimum[0]), float(grid.maximum[0])


def trims_at(
    truck: Truck, name: str, engine_speed: float, oil_temperature: float, hopper: str
) -> tuple[float, float]:
    """Minimum and maximum trim of a function at one condition [1]; nan where no command does it.

    engine_speed: [rad/s]; oil_temperature: [K]; hopper: full or empty
    """
    function = truck.function_named(name)
    wishes, _ = _wishes(truck, function)
    setting = replace(setting_scenario(truck, name), hopper=hopper)
    conditions = (np.array([engine_speed]), np.array([oil_temperature]))
    grid = _at_hopper(
        truck, function, setting, conditions, wishes, _ceiling(truck, function, wishes)
    )
    return float(grid.minimum[0]), float(grid.maximum[0])


def deadband(truck: Truck, name: str) -> float:
    """Deadband of a function's section [1]. Raises MissingValue."""
    return deadband_of(truck.function_named(name))
