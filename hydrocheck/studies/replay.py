"""A truck's log through its circuit: what each row asked and got, and the sums over the route.

Rows are read, checked, planned and solved in blocks; only sums, a worst stretch, a coarse history
and a bounded choice of short rows are kept, so that a log may be of any length.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.logfile import Log, LogBlock
from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.physics import material
from hydrocheck.solver import FunctionLimit, Points, solved_functions
from hydrocheck.solver.blocks import iter_solve
from hydrocheck.studies.budget import FULL_STROKE, flow_at_full_stroke
from hydrocheck.studies.conditions import oil_temperatures
from hydrocheck.studies.history import History
from hydrocheck.studies.logrows import Tally, checked_blocks
from hydrocheck.studies.spreading import rate_accuracy
from hydrocheck.studies.spreadplan import Plan, Rows, feeder_task, plan_rows, spreading_scenario
from hydrocheck.studies.stretches import Stretch, Stretches

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

ENGINE_STEP = 50.0 * np.pi / 30.0
"""Width of a class of engine speeds [rad/s]."""
ENGINE_CLASSES = 140
GAP_LEAST, GAP_STEPS = 10.0, 5.0
"""A step of time longer than both 10 s and 5 usual steps is a gap: nothing is counted over it."""
KEPT = (*FULL_STROKE, "asked", "flow", "speed", "function_limit", "total_heat")
MOST_SHORT = 20_000
MET = 1e-6


@dataclass(frozen=True)
class ReplayOrder:
    """What a log does not say. rate: per lane [kg/m]; oil_temperature: [K]; None: by the truck.

    tolerance: share of a rate that may be missing before a row counts as short [1]
    """

    scenario: str | None = None
    rate: float | None = None
    oil_temperature: float | None = None
    tolerance: float | None = None


@dataclass(frozen=True)
class RowBlock:
    """Solved rows, (N,) each, in SI.

    lasts: how long each row counts [s]; ordered, delivered: discharge [kg/s]; laid: rate per lane
    that it makes [kg/m], nan at rest
    available: pump flow at full stroke [m3/s]; asked: all sections together [m3/s]
    shaft_speed: of the feeder [rad/s]; short: less delivered than ordered, beyond the tolerance
    starved: column of the function that lacks most, -1 where none lacks; cause: what limits the
    feeder, a place in `CAUSES`; heat: into the oil [W]
    liquid: pre-wet delivered [m3/s]
    """

    lines: NDArray[np.int64]
    time: Array
    lasts: Array
    engine_speed: Array
    road_speed: Array
    rate: Array
    oil_temperature: Array
    ordered: Array
    delivered: Array
    laid: Array
    available: Array
    asked: Array
    shaft_speed: Array
    short: Mask
    starved: NDArray[np.int64]
    cause: NDArray[np.int64]
    heat: Array
    liquid: Array
    done: float

    @property
    def missing(self) -> Array:
        """Discharge that is lacking [kg/s], (N,)."""
        return np.maximum(self.ordered - self.delivered, 0.0)


@dataclass
class Totals:
    """Sums over a route, in SI: times [s], distances [m], masses [kg], volume [m3], heat [J]."""

    time: float = 0.0
    moving: float = 0.0
    spreading: float = 0.0
    gaps: int = 0
    gap_time: float = 0.0
    distance: float = 0.0
    spread_distance: float = 0.0
    ordered: float = 0.0
    delivered: float = 0.0
    missing: float = 0.0
    beyond: float = 0.0
    liquid: float = 0.0
    heat: float = 0.0
    most_heat: float = 0.0
    short_time: float = 0.0
    short_distance: float = 0.0
    short_rows: int = 0


@dataclass
class Replay:
    """What a log gives. starved: time lacking by function [s]; limits: short time by cause [s].

    engine: class edges of engine speed [rad/s] at multiples of `ENGINE_STEP`; spreading and short
    time in each class [s]
    worst: the short stretch that lacks most, None where nothing is short
    clock: whether times are seconds since 1970, from dates and times of day
    short: rows that are short and that more flow may cure, at most some 20,000 of them, each
    standing for `stands_for` rows
    """

    log: str
    scenario: Scenario
    feeder: str
    functions: tuple[str, ...]
    tolerance: float
    tolerance_ordered: bool
    tally: Tally
    totals: Totals = field(default_factory=Totals)
    starved: Array = field(default_factory=lambda: np.zeros(0))
    limits: dict[str, float] = field(default_factory=dict)
    engine_spreading: Array = field(default_factory=lambda: np.zeros(ENGINE_CLASSES))
    engine_short: Array = field(default_factory=lambda: np.zeros(ENGINE_CLASSES))
    worst: Stretch | None = None
    stretches: int = 0
    history: History = field(default_factory=History)
    clock: bool = False
    short: Rows | None = None
    stands_for: int = 1

    @property
    def laid_share(self) -> float:
        """Delivered over ordered mass [1], nan where nothing was ordered."""
        return self.totals.delivered / self.totals.ordered if self.totals.ordered else np.nan


CAUSES = (
    "trim or section", "pump", "stall", "port relief", "no speed following", "drive out",
)  # fmt: skip
TRIM, PUMP, STALL, PORT_RELIEF, NOT_FOLLOWING, DRIVE_OUT = range(len(CAUSES))
_CAUSE = np.full(len(FunctionLimit), PUMP)
_CAUSE[FunctionLimit.COMMAND] = TRIM
_CAUSE[FunctionLimit.STALL] = STALL
_CAUSE[FunctionLimit.PORT_RELIEF] = PORT_RELIEF


def replay_log(
    truck: Truck,
    log: Log,
    order: ReplayOrder | None = None,
    sink: Callable[[RowBlock], None] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Replay:
    """A log through a truck. sink: is given every block; progress: the share read so far.

    Raises MissingValue, DomainError, FileError, and as `solve` does.
    """
    order = order or ReplayOrder()
    scenario = spreading_scenario(truck, order.scenario)
    tolerance = rate_accuracy(truck) if order.tolerance is None else order.tolerance
    found = Replay(
        log=str(log.path),
        scenario=scenario,
        feeder=feeder_task(truck, scenario).name,
        functions=tuple(f.name for f in solved_functions(truck)),
        tolerance=tolerance,
        tolerance_ordered=truck.spreading.accuracy is not None or order.tolerance is not None,
        tally=Tally(),
        clock=any(column.is_clock for column in log.columns),
    )
    found.starved = np.zeros(len(found.functions))
    runs, keeper = Stretches(), _Keeper()
    for block in solved_rows(truck, log, order, found):
        _add(found, block, runs, keeper)
        if sink is not None:
            sink(block)
        if progress is not None:
            progress(block.done)
    found.worst, found.stretches = runs.finish()
    found.short, found.stands_for = keeper.rows(), keeper.stride
    if not found.tally.used:
        raise DomainError(f"{log.path}: no row of the log can be used{_first_reason(found.tally)}")
    return found


def _first_reason(tally: Tally) -> str:
    if not tally.first:
        return ""
    return f"; line {tally.first[0].line}: {tally.first[0].why}"


def solved_rows(truck: Truck, log: Log, order: ReplayOrder, found: Replay) -> Iterator[RowBlock]:
    """The log's believed rows, planned and solved, block by block."""
    fill = _fill(truck, found.scenario, order)
    drive = truck.pump[0].drive or truck.engine.drive if truck.pump else truck.engine.drive
    engaged = np.inf if drive.engaged_to is None else float(drive.engaged_to)
    planned: deque[_Planned] = deque()

    def points() -> Iterator[Points]:
        longest = np.nan
        for block, lasts in checked_blocks(log.blocks(), truck, found.tally):
            if np.isnan(longest):
                usual = float(np.median(lasts)) if lasts.size > 1 else 0.0
                longest = max(GAP_LEAST, GAP_STEPS * usual)
            gap = lasts > longest
            found.totals.gaps += int(gap.sum())
            found.totals.gap_time += float(lasts[gap].sum())
            rows = rows_of(block, fill)
            out = rows.engine_speed > engaged
            turning = replace(rows, engine_speed=np.where(out, 0.0, rows.engine_speed))
            plan = plan_rows(truck, found.scenario, turning)
            planned.append(_Planned(block, np.where(gap, 0.0, lasts), rows, plan, out))
            yield plan.work.points

    # A block is planned when it is asked for, so that at most one waits here.
    for kept in iter_solve(truck, points(), KEPT):
        one = planned.popleft()
        yield _solved(truck, found, one, _closed(truck, one.plan, kept.columns))


@dataclass(frozen=True)
class _Planned:
    """A block with its plan, before it is solved; out: where the pump's drive has dropped out."""

    block: LogBlock
    lasts: Array
    rows: Rows
    plan: Plan
    out: Mask


def _fill(truck: Truck, scenario: Scenario, order: ReplayOrder) -> dict[str, float]:
    """Values of what a log does not hold; nan where only a log with it will do."""
    task = feeder_task(truck, scenario)
    rate = order.rate if order.rate is not None else task.rate
    oil = order.oil_temperature
    if oil is None:
        oil = float(oil_temperatures(truck, scenario.oil).max())
    return {"rate": np.nan if rate is None else float(rate), "oil": oil, "on": 1.0}


def rows_of(block: LogBlock, fill: Mapping[str, float]) -> Rows:
    """What a block orders. Raises MissingValue where neither log nor order tells a rate."""

    def column(role: str) -> Array:
        if role in block.values:
            return block.values[role]
        return np.full(block.size, fill[role])

    rate = column("rate")
    if np.isnan(rate).any():
        raise MissingValue(["a rate: a column of the log, --rate, or the scenario's"])
    values = block.values
    return Rows(values["engine"], column("oil"), rate, values["road"], column("on") > 0.5)


def _closed(truck: Truck, plan: Plan, columns: Mapping[str, Array]) -> Mapping[str, Array]:
    """The columns with slow functions in closed loop opened further, where there are such rows."""
    loops = plan.loops(truck)
    slow = np.zeros(plan.ordered.size, dtype=np.bool_)
    for loop in loops:
        slow |= columns["speed"][:, loop.column] < np.asarray(loop.ordered) * (1.0 - MET)
    if not slow.any():
        return columns
    result = plan.take(slow).solve(truck)
    closed = {}
    for name, values in columns.items():
        closed[name] = np.array(values)
        closed[name][slow] = getattr(result, name)
    return closed


def _solved(truck: Truck, found: Replay, planned: _Planned, kept: Mapping[str, Array]) -> RowBlock:
    """The columns of a solved block."""
    block, rows, plan = planned.block, planned.rows, planned.plan
    delivered = plan.delivered(kept["speed"])
    laid = material.application_rate(delivered, rows.road_speed, truck.spreading.lanes)
    lacking = plan.wanted - kept["flow"]
    lacking = np.where(lacking > MET * plan.wanted, lacking, 0.0)
    starved = np.where(lacking.max(axis=1) > 0, np.argmax(lacking, axis=1), -1)
    enough = plan.target * (1.0 - found.tolerance)
    cause = np.asarray(_CAUSE[kept["function_limit"][:, plan.feeder].astype(np.int64)])
    cause = np.where((plan.ordered < enough) & (cause == TRIM), NOT_FOLLOWING, cause)
    cause = np.where(planned.out, DRIVE_OUT, cause)
    return RowBlock(
        lines=block.lines,
        time=block.values["time"],
        lasts=planned.lasts,
        engine_speed=rows.engine_speed,
        road_speed=rows.road_speed,
        rate=rows.rate,
        oil_temperature=rows.oil_temperature,
        ordered=plan.target,
        delivered=delivered,
        laid=np.where(rows.road_speed > 0, laid, np.nan),
        available=flow_at_full_stroke(truck.pump[0], kept),
        asked=kept["asked"].sum(axis=1),
        shaft_speed=kept["speed"][:, plan.feeder],
        short=delivered < enough,
        starved=starved,
        cause=cause,
        heat=kept["total_heat"],
        liquid=_liquid(truck, plan, kept["flow"]),
        done=block.done,
    )


def _liquid(truck: Truck, plan: Plan, given: Array) -> Array:
    """Pre-wet delivered [m3/s], (N,): the ordered one, less what the liquid pump's motor lacks.

    given: section flow of all functions [m3/s], (N, M)
    """
    prewet = truck.spreading.prewet
    if prewet is None:
        return np.zeros_like(plan.ordered)
    flow = material.prewet_flow(plan.ordered, float(prewet))
    for m, function in enumerate(solved_functions(truck)):
        if function.kind == "liquid":
            wanted = plan.wanted[:, m]
            safe = np.where(wanted > 0, wanted, 1.0)
            return flow * np.where(wanted > 0, np.minimum(given[:, m] / safe, 1.0), 0.0)
    return flow


@dataclass
class _Keeper:
    """Short rows for the search of a cure: all of them, thinned evenly where they are too many."""

    stride: int = 1
    seen: int = 0
    parts: list[Array] = field(default_factory=list)
    kept: int = 0

    def add(self, block: RowBlock) -> None:
        # No more flow cures a drive that is out or a discharge that does not follow the speed.
        curable = ~np.isin(block.cause, (NOT_FOLLOWING, DRIVE_OUT))
        places = np.flatnonzero(block.short & curable)
        numbered = self.seen + np.arange(places.size)
        self.seen += places.size
        places = places[numbered % self.stride == 0]
        if not places.size:
            return
        columns = (block.engine_speed, block.oil_temperature, block.rate, block.road_speed)
        self.parts.append(np.stack([column[places] for column in columns]))
        self.kept += places.size
        while self.kept > MOST_SHORT:
            whole = np.concatenate(self.parts, axis=1)[:, ::2]
            self.parts, self.kept, self.stride = [whole], whole.shape[1], 2 * self.stride

    def rows(self) -> Rows | None:
        if not self.kept:
            return None
        engine, oil, rate, road = np.concatenate(self.parts, axis=1)
        return Rows(engine, oil, rate, road, np.ones(engine.size, dtype=np.bool_))


def _add(found: Replay, block: RowBlock, runs: Stretches, keeper: _Keeper) -> None:
    """A block into the sums."""
    sums, lasts = found.totals, block.lasts
    spreading, moving = block.ordered > 0, block.road_speed > 0
    way = block.road_speed * lasts
    sums.time += float(lasts.sum())
    sums.moving += float(lasts[moving].sum())
    sums.spreading += float(lasts[spreading].sum())
    sums.distance += float(way.sum())
    sums.spread_distance += float(way[spreading].sum())
    sums.ordered += float((block.ordered * lasts).sum())
    sums.delivered += float((block.delivered * lasts).sum())
    sums.missing += float((block.missing * lasts).sum())
    sums.beyond += float((np.maximum(block.delivered - block.ordered, 0.0) * lasts).sum())
    sums.liquid += float((block.liquid * lasts).sum())
    sums.heat += float((block.heat * lasts).sum())
    sums.most_heat = max(sums.most_heat, float(block.heat.max(initial=0.0)))
    sums.short_time += float(lasts[block.short].sum())
    sums.short_distance += float(way[block.short].sum())
    sums.short_rows += int(block.short.sum())
    _add_classes(found, block, spreading)
    runs.add(block.time, lasts, way, block.short, block.ordered, block.delivered)
    keeper.add(block)
    found.history.add(block.time, lasts, _history_columns(block))


def _add_classes(found: Replay, block: RowBlock, spreading: Mask) -> None:
    """Time by engine speed, by starved function and by cause."""
    classes = np.minimum(block.engine_speed / ENGINE_STEP, ENGINE_CLASSES - 1).astype(np.int64)

    def by_class(rows: Mask) -> Array:
        time = np.bincount(classes[rows], block.lasts[rows], minlength=ENGINE_CLASSES)
        return np.asarray(time, dtype=np.float64)

    found.engine_spreading += by_class(spreading)
    found.engine_short += by_class(block.short)
    lacking = block.starved >= 0
    found.starved += np.bincount(
        block.starved[lacking], block.lasts[lacking], minlength=len(found.functions)
    )
    for cause, name in enumerate(CAUSES):
        time = float(block.lasts[block.short & (block.cause == cause)].sum())
        if time > 0:
            found.limits[name] = found.limits.get(name, 0.0) + time


def _history_columns(block: RowBlock) -> dict[str, Array]:
    return {
        "engine_speed": block.engine_speed,
        "road_speed": block.road_speed,
        "ordered": block.ordered,
        "delivered": block.delivered,
        "available": block.available,
        "asked": block.asked,
        "heat": block.heat,
        "short": block.short.astype(np.float64),
    }
