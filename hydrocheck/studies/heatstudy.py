"""All about a truck's oil temperature in one answer: settled, warming, what would hold it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model.truck import Truck
from hydrocheck.solver.fluid import fluid_at
from hydrocheck.studies.thermal import (
    SPREAD,
    STATED,
    Cooling,
    Part,
    SettledRange,
    conductance,
    needed_conductance,
    part_speed,
    settled_range,
)
from hydrocheck.studies.warmup import WarmUp, warm_up

Array = NDArray[np.float64]


@dataclass(frozen=True)
class HeatOrder:
    """What to answer.

    ambient: [K], scalar or (N,); None takes the coldest and the hottest that the truck file gives
    warming: whether to follow the oil from a cold start
    start: of the oil at that start [K]; None takes the coldest oil that the file gives
    metal_mass: that warms with the oil [kg]
    """

    duty: tuple[Part, ...]
    ambient: ArrayLike | None = None
    cooling: Cooling = STATED
    warming: bool = False
    start: float | None = None
    metal_mass: float = 0.0


@dataclass(frozen=True)
class Warming:
    """From a cold start in the coldest air: with the stated coefficient and over its spread.

    viscosity: at the start [m2/s]
    """

    cool: WarmUp
    stated: WarmUp
    warm: WarmUp
    viscosity: float


@dataclass(frozen=True)
class HeatStudy:
    """The oil temperature of a duty in N airs.

    shares: of the time [1], engine_speed: [rad/s], by scenario
    ambient: [K], (N,); cooler: [W/K], part of the conductance
    hot, working: oil temperatures that the truck file gives [K]
    needed: conductance that holds the oil at `hot` [W/K], (N,); nan where the air is as warm
    """

    shares: dict[str, float]
    engine_speed: dict[str, float]
    ambient: Array
    settled: SettledRange
    conductance: float
    cooler: float
    hot: float | None
    working: float | None
    needed: Array | None
    warming: Warming | None


def study_heat(truck: Truck, order: HeatOrder) -> HeatStudy:
    """Settled temperatures, the conductance that would hold them, and warming if asked.

    Raises MissingValue, DomainError, and as `solve` does.
    """
    airs = _airs(truck, order.ambient)
    settled = settled_range(truck, order.duty, airs, order.cooling)
    hot, working = truck.oil.hot, truck.oil.working
    cooler = truck.reservoir.cooler
    return HeatStudy(
        shares={p.scenario.name: float(np.asarray(p.share)) for p in order.duty},
        engine_speed={p.scenario.name: float(np.asarray(part_speed(truck, p))) for p in order.duty},
        ambient=airs,
        settled=settled,
        conductance=float(conductance(truck, order.cooling)[0]),
        cooler=0.0 if cooler is None else float(cooler),
        hot=None if hot is None else float(hot),
        working=None if working is None else float(working),
        needed=None if hot is None else _needed(truck, order.duty, float(hot), airs),
        warming=_warming(truck, order, float(airs.min())) if order.warming else None,
    )


def _airs(truck: Truck, ambient: ArrayLike | None) -> Array:
    """Air temperatures [K], (N,), rising."""
    if ambient is not None:
        return np.atleast_1d(np.asarray(ambient, dtype=np.float64))
    tank = truck.reservoir
    lacking = {f"reservoir.{key}": getattr(tank, key) for key in ("area", "heat_transfer")}
    lacking["ambient.hottest"] = truck.ambient.hottest
    if any(value is None for value in lacking.values()):
        raise MissingValue([key for key, value in lacking.items() if value is None])
    given = (truck.ambient.coldest, truck.ambient.hottest)
    return np.unique([float(t) for t in given if t is not None])


def _needed(truck: Truck, duty: tuple[Part, ...], hot: float, airs: Array) -> Array:
    below = airs < hot
    found = np.full(airs.size, np.nan)
    if below.any():
        found[below] = needed_conductance(truck, duty, hot, airs[below])
    return found


def _warming(truck: Truck, order: HeatOrder, air: float) -> Warming:
    def run(factor: float) -> WarmUp:
        cooling = replace(order.cooling, factor=factor)
        start, metal = order.start, order.metal_mass
        return warm_up(truck, order.duty, start, air, cooling=cooling, metal_mass=metal)

    stated = run(1.0)
    viscosity = float(fluid_at(truck, stated.start).viscosity[0])
    return Warming(run(SPREAD), stated, run(1.0 / SPREAD), viscosity)
