"""Where the minimum and maximum trim of each function should come out, and what bounds them.

Minimum trim: the least command at which the shaft turns at its lowest even speed,

    q = D n_min + slip(load),   u = deadband + (u1 - deadband) (q / q_max)^(1/shape)

and, where the valve drive gives no breakaway boost, at which a standing motor builds up the
pressure that breaks its load away (`starting_flow`). Maximum trim: the command at the least of

    the wanted speed, the machinery's limit, the motor's limit   (as flows, by the same equation)
    the flow that leaves every function fed                      (the whole circuit, by `solve`)
    full command

Limits of machinery and motor count at the oil and hopper that turn the shaft fastest; all else at
the condition named. While a function is set, the others do what their scenario asks, a feeder the
setting `limits.setting_up`. Speeds are those of the first motor's load shaft; of motors in series
the lowest and highest speed of each counts, of motors in parallel those of the first.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.circuit import Function, Trims
from hydrocheck.model.truck import Scenario, Task, Truck
from hydrocheck.solver import Points, solve, solved_functions
from hydrocheck.studies.budget import ENOUGH
from hydrocheck.studies.commands import flow_of, trimmed_functions
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures, top_speed
from hydrocheck.studies.tolerance import half_widths
from hydrocheck.studies.trimbounds import (
    OILS,
    Wish,
    bounds_of,
    lowest_speed,
    points_beside,
    reference_trims,
    setting_scenario,
    solved_speed,
    start_gaps,
    trims_at,
    wishes_of,
)

__all__ = [
    "Grid",
    "Overspeed",
    "Prediction",
    "Trim",
    "Wish",
    "predict_trims",
    "reference_trims",
    "trims_at",
    "with_predicted",
]

Array = NDArray[np.float64]

HOPPERS = ("empty", "full")

SLACK = 0.1
"""Command that the supply feeds beyond the maximum trim before its own tolerances are left out."""


@dataclass(frozen=True)
class Grid:
    """Trims of one function at N conditions; nan where no command does it.

    engine_speed: [rad/s], oil_temperature: [K], full: whether the hopper is full, (N,) each
    minimum: [1], (N,); by_start: whether breakaway rules it, (N,)
    run, start: command that keeps a turning shaft turning, and that starts a standing one [1],
        (N,); start is nan where the truck file does not give what it takes
    turns: whether the supply turns the shaft at the minimum trim, (N,)
    maximum: [1], (N,); fed: command up to which every function is fed [1], (N,)
    ruled_by: what bounds the maximum, N names; speed: of the load shaft there [rad/s], (N,)
    """

    engine_speed: Array
    oil_temperature: Array
    full: NDArray[np.bool_]
    minimum: Array
    by_start: NDArray[np.bool_]
    run: Array
    start: Array
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
    minimum_hot, maximum_hot: the same with the hottest oil [1]
    minimum_empty, maximum_empty: the same with an empty hopper [1]: too low for a loaded one
    run, start: at the reference, command that keeps a turning shaft turning, and that starts a
        standing one without boost [1]; start is nan where it is not known
    minimum_band, maximum_band: half widths from the tolerances of the truck file [1]
    ruled_by: what bounds the maximum; starved: who is short of flow just beyond `fed`
    boost: what a standing shaft asks beyond a command that keeps it turning, with the hottest oil
        [1], 0 for nothing; nan where the truck file does not give what it takes
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
    run: float
    start: float
    maximum: float
    maximum_hot: float
    maximum_empty: float
    minimum_band: float
    maximum_band: float
    ruled_by: str
    wishes: tuple[Wish, ...]
    fed: float
    starved: str
    overspeed: Overspeed | None
    boost: float
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


def predict_trims(truck: Truck, only: Collection[str] | None = None) -> Prediction:
    """The trims of every function that is set by trims (or of those named), feeders first.

    Raises MissingValue.
    """
    engine = float(engine_speeds(truck, "working")[0])
    oil = float(oil_temperatures(truck, "working")[0])
    chosen = [f for f in trimmed_functions(truck) if only is None or f.name in only]
    order = sorted(chosen, key=lambda f: f.kind != "feeder")
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
    return replace(truck, function=tuple(changed if f is function else f for f in truck.function))


def with_predicted(truck: Truck, prediction: Prediction) -> Truck:
    """The truck with the predicted trims wherever its file gives none."""
    for trim in prediction.trims:
        truck = _with_trims(truck, trim)
    return truck


def _trim(truck: Truck, name: str) -> Trim:
    function = truck.function_named(name)
    wishes, gaps = wishes_of(truck, function)
    setting = setting_scenario(truck, name)
    grid = _grid(truck, function, setting, wishes)
    at = _place(truck, grid, "working", True)
    hot = _place(truck, grid, "hot" if truck.oil.hot is not None else "working", True)
    emptied = _place(truck, grid, "working", False)
    low, high = float(grid.minimum[at]), float(grid.maximum[at])
    slack = float(np.nan_to_num(grid.fed[at]) - np.nan_to_num(high)) > SLACK
    bands = half_widths(
        truck, lambda moved: reference_trims(moved, name), _supply(truck, name) if slack else ()
    )
    return Trim(
        function=name,
        kind=function.kind,
        beside=tuple(_told(task) for task in setting.run),
        grid=grid,
        reference=at,
        minimum=low,
        minimum_hot=float(grid.minimum[hot]),
        minimum_empty=float(grid.minimum[emptied]),
        run=float(grid.run[at]),
        start=float(grid.start[at]),
        maximum=high,
        maximum_hot=float(grid.maximum[hot]),
        maximum_empty=float(grid.maximum[emptied]),
        minimum_band=float(bands[0]),
        maximum_band=float(bands[1]),
        ruled_by=grid.ruled_by[at],
        wishes=wishes,
        fed=float(grid.fed[at]),
        starved=_starved(truck, function, setting, at, grid),
        overspeed=_overspeed(truck, function, grid, at),
        boost=float(np.maximum(grid.start[hot] - grid.run[hot], 0.0)),
        file=function.trims,
        gaps=(*gaps, *start_gaps(truck, function)),
    )


def _supply(truck: Truck, name: str) -> list[str]:
    """First words of the keys that only decide how much oil there is for a function."""
    others = [f.name for f in truck.function if f.name != name]
    return [*others, *(p.name for p in truck.pump), *(r.name for r in truck.relief), "engine"]


def _told(task: Task) -> str:
    """A function that runs beside, in a word or two."""
    if task.setting is not None:
        return f"{task.name} at {100 * float(task.setting):.0f} %"
    return task.name


def _place(truck: Truck, grid: Grid, oil: str, full: bool) -> int:
    """A condition of the grid at the low end of the working band."""
    engine, heat = engine_speeds(truck, "working")[0], oil_temperatures(truck, oil)[0]
    same = (grid.engine_speed == engine) & (grid.oil_temperature == heat) & (grid.full == full)
    return int(np.flatnonzero(same)[0])


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


def _grid(truck: Truck, function: Function, setting: Scenario, wishes: tuple[Wish, ...]) -> Grid:
    """Trims at every condition, hopper empty and full."""
    conditions = _conditions(truck)
    parts = []
    for hopper in HOPPERS:
        one = bounds_of(truck, function, replace(setting, hopper=hopper), conditions, wishes)
        lowest = lowest_speed(truck, function) * (1.0 - 1e-6)
        parts.append(
            Grid(
                engine_speed=one.points.engine_speed,
                oil_temperature=one.points.oil_temperature,
                full=np.full(one.points.size, hopper == "full"),
                minimum=one.minimum,
                by_start=one.by_start,
                run=one.run,
                start=one.start,
                turns=solved_speed(truck, function, one.points, one.minimum) >= lowest,
                maximum=one.maximum,
                fed=one.fed,
                ruled_by=one.ruled_by,
                speed=solved_speed(truck, function, one.points, one.maximum),
            )
        )
    arrays = {
        key: np.concatenate([getattr(part, key) for part in parts])
        for key in Grid.__dataclass_fields__
        if key != "ruled_by"
    }
    return Grid(**arrays, ruled_by=tuple(name for part in parts for name in part.ruled_by))


def _starved(truck: Truck, function: Function, setting: Scenario, at: int, grid: Grid) -> str:
    """Which function is short of flow at full command at the reference, empty for none."""
    conditions = (grid.engine_speed[at : at + 1], grid.oil_temperature[at : at + 1])
    points = points_beside(truck, function, setting, conditions)
    asked = points.asked.copy()
    asked[:, solved_functions(truck).index(function)] = flow_of(function, 1.0)
    result = solve(truck, replace(points, asked=asked))
    short = np.where(asked[0] > 0, 1.0 - result.flow[0] / np.maximum(asked[0], 1e-30), 0.0)
    worst = int(np.argmax(short))
    return result.functions[worst] if short[worst] > ENOUGH else ""


def _overspeed(truck: Truck, function: Function, grid: Grid, at: int) -> Overspeed | None:
    """What full command, or the file's maximum trim, does at the highest engine speed.

    Only where the pump does not feed that command at the reference or at idle: there the shaft
    gives no sign of a trim that is too high.
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
