"""Rates on the road: discharge, auger speed, oil flow, command, and whether the circuit gives it.

The share that is delivered is the rate that comes to lie over the ordered one: without proportional
speed following it moves with the road speed too.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.physics import material
from hydrocheck.solver import FunctionLimit, solve, solved_functions
from hydrocheck.studies.conditions import oil_temperatures, top_speed
from hydrocheck.studies.spreadplan import (
    Plan,
    Rows,
    command_for,
    plan_rows,
    spreading_scenario,
    trim_flows,
)

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

MILE_PER_HOUR = 0.44704
LOWEST, HIGHEST = 1.0 * MILE_PER_HOUR, 60.0 * MILE_PER_HOUR
"""Road speeds between which the limits of a rate are sought."""
STEPS, ROUNDS = 237, 3
ACCURACY = 0.05
"""Share of a rate within which it counts as held, where the file orders no accuracy: ours."""
TINY = 1e-9
UNBOUNDED = 0.1
"""Stands for the flow of a section that the file does not give [m3/s]: beyond any pump here."""


@dataclass(frozen=True)
class SpreadOrder:
    """What to work out; None takes the truck file's. rates: [kg/m], speeds: [m/s], oil: [K]."""

    rates: tuple[float, ...] | None = None
    road_speeds: tuple[float, ...] | None = None
    oil_temperature: float | None = None
    scenario: str | None = None
    per_turn: float | None = None


@dataclass(frozen=True)
class SpreadTable:
    """R rates at S road speeds.

    rates: [kg/m], (R,); road_speeds: [m/s], (S,); engine_speed: in the gear taken [rad/s], (S,);
    gear: its name, empty without gears; oil_temperature: [K]; per_turn: [kg/rad]
    discharge: ordered [kg/s]; shaft_speed: for it [rad/s]; flow: section flow for it [m3/s];
    command: that asks it [1], nan where none does; setting: between the trims [1]; share:
    laid down over ordered [1]; limit: in a word, empty where nothing limits, all (R, S)
    liquid: pre-wet [m3/s], (R, S); None without pre-wet
    accuracy: within which a rate counts as held [1], and whether the file orders it
    held_from, held_to: longest run of road speeds that hold a rate [m/s], (R,); nan where none;
    ends_by: what limits it above, (R,), empty where the search ends
    least, greatest: discharge at the minimum and maximum trim at the slowest speed [kg/s]
    """

    scenario: str
    feeder: str
    oil_temperature: float
    per_turn: float
    lanes: int
    rates: Array
    road_speeds: Array
    engine_speed: Array
    gear: tuple[str, ...]
    discharge: Array
    shaft_speed: Array
    flow: Array
    command: Array
    setting: Array
    share: Array
    limit: tuple[tuple[str, ...], ...]
    liquid: Array | None
    accuracy: float
    accuracy_ordered: bool
    held_from: Array
    held_to: Array
    ends_by: tuple[str, ...]
    least: float
    greatest: float

    @property
    def held(self) -> Mask:
        """Where a rate is put down within the accuracy, (R, S)."""
        return np.asarray(np.abs(self.share - 1.0) <= self.accuracy + TINY)

    @property
    def least_rate(self) -> float:
        """Least rate at the slowest road speed, at the minimum trim [kg/m]."""
        return float(
            material.application_rate(self.least, float(self.road_speeds.min()), self.lanes)
        )

    @property
    def turndown(self) -> float:
        """Greatest over least discharge at the slowest road speed [1]; inf without a least."""
        return self.greatest / self.least if self.least > 0 else np.inf


def rate_accuracy(truck: Truck) -> float:
    """Share of a rate within which it counts as held [1]: as ordered, else `ACCURACY`."""
    accuracy = truck.spreading.accuracy
    return ACCURACY if accuracy is None else float(accuracy)


def spread_table(truck: Truck, order: SpreadOrder | None = None) -> SpreadTable:
    """Every ordered rate at every road speed, at the engine speed in gear.

    Raises MissingValue, DomainError, NotSolvedYet, CircuitError.
    """
    order = order or SpreadOrder()
    if order.per_turn is not None:
        truck = replace(truck, spreading=replace(truck.spreading, mass_per_turn=order.per_turn))
    scenario = spreading_scenario(truck, order.scenario)
    rates, speeds = _orders(truck, order)
    oil = order.oil_temperature
    if oil is None:
        oil = float(oil_temperatures(truck, scenario.oil).max())
    engine, gears = engine_in_gear(truck, speeds)
    grid_rate, grid_speed = (g.ravel() for g in np.meshgrid(rates, speeds, indexing="ij"))
    rows = _rows(grid_rate, grid_speed, np.tile(engine, rates.size), oil)
    plan, share, limit = _solve(truck, scenario, rows)
    shape = (rates.size, speeds.size)
    feeder = solved_functions(truck)[plan.feeder]
    flow = plan.work.demand[:, plan.feeder].reshape(shape)
    command = command_for(feeder, flow)
    least, greatest = discharge_range(truck, scenario, speeds[:1], oil)
    within = rate_accuracy(truck)
    ordered = plan.ordered.reshape(shape)
    held = [held_between(truck, scenario, float(rate), oil, within) for rate in rates]
    prewet = truck.spreading.prewet
    return SpreadTable(
        scenario=scenario.name,
        feeder=feeder.name,
        oil_temperature=oil,
        per_turn=plan.per_turn,
        lanes=truck.spreading.lanes,
        rates=rates,
        road_speeds=speeds,
        engine_speed=engine,
        gear=gears,
        discharge=ordered,
        shaft_speed=ordered / plan.per_turn,
        flow=flow,
        command=command,
        setting=_setting(feeder.trims.min, feeder.trims.max, command),
        share=share.reshape(shape),
        limit=tuple(tuple(row) for row in np.reshape(limit, shape).tolist()),
        liquid=None if prewet is None else material.prewet_flow(ordered, float(prewet)),
        accuracy=within,
        accuracy_ordered=truck.spreading.accuracy is not None,
        held_from=np.array([low for low, _, _ in held]),
        held_to=np.array([high for _, high, _ in held]),
        ends_by=tuple(word for _, _, word in held),
        least=float(least[0]),
        greatest=float(greatest[0]),
    )


def _orders(truck: Truck, order: SpreadOrder) -> tuple[Array, Array]:
    """Rates and road speeds, above zero, rising. Raises MissingValue."""
    given = {
        "rates": truck.spreading.rates if order.rates is None else order.rates,
        "road_speeds": (
            truck.spreading.road_speeds if order.road_speeds is None else order.road_speeds
        ),
    }
    kept = {k: np.unique([v for v in values if v > 0]) for k, values in given.items()}
    if missing := [f"spreading.{k}" for k, values in kept.items() if not values.size]:
        raise MissingValue(missing)
    return kept["rates"], kept["road_speeds"]


def _rows(rate: Array, speed: Array, engine: Array, oil: float) -> Rows:
    size = rate.size
    return Rows(engine, np.full(size, oil), rate, speed, np.ones(size, dtype=np.bool_))


def engine_in_gear(truck: Truck, road_speed: Array) -> tuple[Array, tuple[str, ...]]:
    """Engine speed at a road speed [rad/s], and the gear, (S,) each.

    The gear whose engine speed lies in the working band or nearest to it; never below idle (the
    coupling slips) nor above the highest engine speed, nan where no gear is that fast. Without
    gears the low end of the working band. Raises MissingValue.
    """
    engine = truck.engine
    if engine.working is None:
        raise MissingValue(["engine.working"])
    low, high = engine.working
    gears = [g for g in engine.gear if g.road_speed is not None and g.at is not None]
    if not gears:
        return np.full(road_speed.shape, float(low)), ("",) * road_speed.size
    idle = 0.0 if engine.idle is None else float(engine.idle)
    ratio = np.array([float(g.at or 0.0) / float(g.road_speed or 1.0) for g in gears])
    turning = np.maximum(road_speed[:, None] * ratio, idle)
    away = np.maximum(np.maximum(low - turning, turning - high), 0.0)
    away = away + 1e-6 * np.abs(turning - 0.5 * (low + high))  # in the band: nearest its middle
    away = np.where(turning > top_speed(truck), np.inf, away)
    best = np.argmin(away, axis=1)
    rows = np.arange(road_speed.size)
    known = np.isfinite(away[rows, best])
    speeds = np.where(known, turning[rows, best], np.nan)
    return speeds, tuple(gears[k].name if ok else "" for k, ok in zip(best, known, strict=True))


def _solve(truck: Truck, scenario: Scenario, rows: Rows) -> tuple[Plan, Array, list[str]]:
    """Plan, laid down over ordered rate (N,), and what limits it in a word (N,)."""
    known = np.isfinite(rows.engine_speed)
    safe = replace(rows, engine_speed=np.where(known, rows.engine_speed, 0.0))
    plan = plan_rows(truck, scenario, safe)
    result = plan.solve(truck)
    with np.errstate(divide="ignore", invalid="ignore"):
        laid = material.application_rate(
            plan.delivered(result.speed), rows.road_speed, truck.spreading.lanes
        )
        share = laid / rows.rate
    function = solved_functions(truck)[plan.feeder]
    least, most = trim_flows(function)
    demand = plan.work.demand[:, plan.feeder]
    acts = result.function_limit[:, plan.feeder]
    words = np.full(rows.rate.size, "", dtype=object)
    words[demand < least * (1 - TINY)] = "minimum trim"
    words[demand > most * (1 + TINY)] = "maximum trim" if function.trims.max else "section"
    words[acts == FunctionLimit.SHORT] = "pump"
    words[acts == FunctionLimit.STALL] = "stall"
    words[acts == FunctionLimit.PORT_RELIEF] = "port relief"
    words[~known] = "no faster gear"
    return plan, np.where(known, share, np.nan), [str(w) for w in words]


def _setting(low: object, high: object, command: Array) -> Array:
    if not isinstance(low, float) or not isinstance(high, float) or high <= low:
        return np.full(command.shape, np.nan)
    return (command - low) / (high - low)


def held_between(
    truck: Truck, scenario: Scenario, rate: float, oil: float, accuracy: float
) -> tuple[float, float, str]:
    """Longest run of road speeds that hold a rate [m/s], nan where none does; what ends it above.

    rate: [kg/m]; oil: [K]; accuracy: share within which it is held [1]

    Sought from 1 to 60 mph in steps of 1/4 mph and refined at both ends; a gap of less than a step
    is not seen.
    """
    speeds = np.linspace(LOWEST, HIGHEST, STEPS)
    held, words = _held(truck, scenario, rate, speeds, (oil, accuracy))
    if not held.any():
        return np.nan, np.nan, words[-1]
    edges = np.flatnonzero(np.diff(np.concatenate(([0], held.astype(np.int8), [0]))))
    starts, ends = edges[::2], edges[1::2] - 1
    run = int(np.argmax(ends - starts))
    first, last = int(starts[run]), int(ends[run])
    low, high = float(speeds[first]), float(speeds[last])
    if first > 0:
        low = _edge(truck, scenario, rate, (float(speeds[first - 1]), low), (oil, accuracy))
    if last < STEPS - 1:
        high = _edge(truck, scenario, rate, (float(speeds[last + 1]), high), (oil, accuracy))
    return low, high, words[last + 1] if last < STEPS - 1 else ""


def _held(
    truck: Truck, scenario: Scenario, rate: float, speeds: Array, given: tuple[float, float]
) -> tuple[Mask, list[str]]:
    engine, _ = engine_in_gear(truck, speeds)
    rows = _rows(np.full(speeds.size, rate), speeds, engine, given[0])
    _, share, words = _solve(truck, scenario, rows)
    return np.asarray(np.abs(share - 1.0) <= given[1] + TINY), words


def _edge(
    truck: Truck,
    scenario: Scenario,
    rate: float,
    bracket: tuple[float, float],
    given: tuple[float, float],
) -> float:
    """The held end of a bracket (not held, held), narrowed."""
    out, inside = bracket
    for _ in range(ROUNDS):
        speeds = np.linspace(out, inside, 17)
        held, _ = _held(truck, scenario, rate, speeds, given)
        held[-1] = True
        first = int(np.argmax(held))
        if first == 0:
            return float(speeds[0])
        out, inside = float(speeds[first - 1]), float(speeds[first])
    return inside


def discharge_range(
    truck: Truck, scenario: Scenario, road_speeds: Array, oil: float
) -> tuple[Array, Array]:
    """Least and greatest discharge of the feeder, at its trims [kg/s], (S,) each; nan without gear.

    road_speeds: [m/s], (S,), in gear; oil: [K]; the others of the scenario run

    The disc is not loaded with what it throws: its share of the greatest is small.
    """
    engine, _ = engine_in_gear(truck, road_speeds)
    size = road_speeds.size
    rows = _rows(np.full(2 * size, TINY), np.tile(road_speeds, 2), np.tile(engine, 2), oil)
    plan = plan_rows(truck, scenario, replace(rows, engine_speed=np.nan_to_num(rows.engine_speed)))
    asked = np.array(plan.work.points.asked)
    low, high = trim_flows(solved_functions(truck)[plan.feeder])
    asked[:size, plan.feeder] = low
    asked[size:, plan.feeder] = min(high, UNBOUNDED)
    delivered = plan.delivered(solve(truck, replace(plan.work.points, asked=asked)).speed)
    known = np.isfinite(engine)
    return np.where(known, delivered[:size], np.nan), np.where(known, delivered[size:], np.nan)


@dataclass(frozen=True)
class Reach:
    """What the feeder can discharge by road speed [m/s], at its trims [kg/s], (V,) each."""

    road_speed: Array
    least: Array
    greatest: Array


def reach(truck: Truck, order: SpreadOrder, found: SpreadTable, steps: int = 181) -> Reach:
    """The feeder's reach from rest to somewhat beyond the fastest ordered road speed."""
    truck = replace(truck, spreading=replace(truck.spreading, mass_per_turn=found.per_turn))
    scenario = spreading_scenario(truck, order.scenario)
    speeds = np.linspace(LOWEST, 1.3 * float(found.road_speeds.max()), steps)
    least, greatest = discharge_range(truck, scenario, speeds, found.oil_temperature)
    return Reach(speeds, least, greatest)
