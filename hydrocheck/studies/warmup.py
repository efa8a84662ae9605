"""Warming of the oil from a cold start, for a duty: see `thermal` for what is lumped.

    C dT/dt = P(T) - G (T - T_air)

The balance depends on nothing but T, so that time is an integral over temperature. With the way to
the balance T_end counted in e-folds s, T = T_end - (T_end - T_start) exp(-s), and

    dt/ds = C (T_end - T) / (P(T) - G (T - T_air))

is smooth: at constant heat it is the time constant itself. The steady states of all temperatures
are solved at once, and their pace is summed up by a rule of fourth order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.truck import Truck
from hydrocheck.solver.needs import Needs
from hydrocheck.studies import thermal
from hydrocheck.studies.thermal import HIGHEST, SCAN, Part

Array = NDArray[np.float64]

STEEL = 480.0
"""Specific heat of what metal warms with the oil, steel, from memory [J/(kg K)]."""

_FOLDS = 8.0  # e-folds of the way that are solved; the rest is exponential
_NODES = 161
_STILL = 1e-6  # a way shorter than that is none [K]


@dataclass(frozen=True)
class WarmUp:
    """The oil temperature of N trucks from their start on.

    start: [K], (N,); end: temperature in the end [K], (N,), `HIGHEST` where none balances the heat
    found: where one does, (N,); capacity: C [J/K], (N,)
    ambient: [K], (N,); conductance: [W/K], (N,)
    folds: e-folds of the way done [1], (K,); time: since the start [s], (K, N)
    pace: dt/ds [s], (K, N); heat: P(T) [W], (K, N)
    """

    start: Array
    end: Array
    found: NDArray[np.bool_]
    capacity: Array
    ambient: Array
    conductance: Array
    folds: Array
    time: Array
    pace: Array
    heat: Array

    @property
    def temperature(self) -> Array:
        """At `folds` [K], (K, N)."""
        temperature: Array = self.end - (self.end - self.start) * np.exp(-self.folds)[:, None]
        return temperature

    def temperature_at(self, time: ArrayLike) -> Array:
        """Oil temperature at times since the start [s], (T,) -> [K], (T, N).

        nan once the oil is above `HIGHEST`. Raises DomainError for a negative time.
        """
        times = np.asarray(time, dtype=np.float64).reshape(-1)
        if not (times >= 0.0).all():
            raise DomainError("time since the start: must be zero or above")
        columns = [self._folds_at(times, n) for n in range(self.start.size)]
        way = (self.end - self.start) * np.exp(-np.stack(columns, axis=1))
        gone = (times[:, None] > self.time[-1]) & ~self.found
        return np.where(gone, np.nan, self.end - way)

    def time_to(self, temperature: ArrayLike) -> Array:
        """Time until the oil is at a temperature [K], scalar or (N,) -> [s], (N,).

        0 where it starts there or past it, inf where it never comes there.
        """
        target = np.broadcast_to(np.asarray(temperature, dtype=np.float64), self.start.shape)
        way, rest = self.end - self.start, self.end - target
        still = np.abs(way) < _STILL
        ahead = np.where(still, target != self.start, way * (target - self.start) > 0.0)
        reached = ahead & ~still & (way * rest > 0.0)
        folds = np.log(np.where(reached, way, 1.0) / np.where(reached, rest, 1.0))
        spacing = self.folds[1]
        cell = np.minimum((folds / spacing).astype(np.intp), self.folds.size - 2)
        n = np.arange(self.start.size)
        within = _hermite(
            folds / spacing - cell,
            (self.time[cell, n], self.time[cell + 1, n]),
            (self.pace[cell, n] * spacing, self.pace[cell + 1, n] * spacing),
        )
        beyond = self.time[-1] + (folds - self.folds[-1]) * self.pace[-1]
        found = np.where(folds > self.folds[-1], beyond, within)
        return np.where(reached, found, np.where(ahead, np.inf, 0.0))

    def _folds_at(self, times: Array, n: int) -> Array:
        """E-folds done at times [s], (T,), of one truck: the cubic of `time` turned round."""
        nodes, pace, spacing = self.time[:, n], self.pace[:, n], self.folds[1]
        cell = np.clip(np.searchsorted(nodes, times, side="right") - 1, 0, nodes.size - 2)
        ends = (nodes[cell], nodes[cell + 1])
        slopes = (pace[cell] * spacing, pace[cell + 1] * spacing)
        low, high = np.zeros(times.size), np.ones(times.size)
        for _ in range(50):
            middle = 0.5 * (low + high)
            early = _hermite(middle, ends, slopes) < times
            low, high = np.where(early, middle, low), np.where(early, high, middle)
        within = (cell + high) * spacing
        last = pace[-1] if pace[-1] > 0.0 else 1.0
        beyond = self.folds[-1] + (times - nodes[-1]) / last
        return np.asarray(np.where(times > nodes[-1], beyond, within), dtype=np.float64)


def _hermite(x: Array, ends: tuple[Array, Array], slopes: tuple[Array, Array]) -> Array:
    """Cubic over a cell, x from 0 to 1, by values and slopes at its ends."""
    (y0, y1), (m0, m1) = ends, slopes
    cubic: Array = (
        y0 * (1 + 2 * x) * (1 - x) ** 2
        + y1 * x**2 * (3 - 2 * x)
        + m0 * x * (1 - x) ** 2
        - m1 * x**2 * (1 - x)
    )
    return cubic


def warm_up(
    truck: Truck,
    duty: Sequence[Part],
    start: ArrayLike | None = None,
    ambient: ArrayLike | None = None,
    *,
    cooling: thermal.Cooling = thermal.STATED,
    metal_mass: ArrayLike = 0.0,
) -> WarmUp:
    """The oil temperature of a duty from its start to its balance.

    start: of the oil [K], scalar or (N,); None takes the coldest oil that the truck file gives
    ambient: of the air [K], scalar or (N,); None takes the coldest that the file gives
    cooling: factor on the surface coefficient, further surface
    metal_mass: of what warms with the oil [kg], scalar or (N,); without it warming is too quick

    Oil of the reservoir's volume, weighed at 15 degC. Oil above its balance cools down to it.
    Verified against a general integrator and, at constant heat, against `physics.heat.warm_up`.

    Raises MissingValue, DomainError, and as `solve` does.
    """
    first = truck.oil.cold if start is None else start
    around = truck.ambient.coldest if ambient is None else ambient
    lacking = {
        "oil.cold": first,
        "ambient.coldest": around,
        "reservoir.volume": truck.reservoir.volume,
        "reservoir.area": truck.reservoir.area,
        "reservoir.heat_transfer": truck.reservoir.heat_transfer,
    }
    if first is None or around is None or any(v is None for v in lacking.values()):
        raise MissingValue([key for key, value in lacking.items() if value is None])
    size = thermal.size_of(truck, duty, first, around, metal_mass, *cooling.values)
    oil, air = thermal.column(first, size), thermal.column(around, size)
    thermal.refuse_outside(oil, "oil at the start")
    thermal.refuse_outside(air, "air")
    mean = thermal.Mean(truck, duty, size)
    total = thermal.conductance(truck, cooling, size)
    end, found = _end(mean, total, air, oil)
    folds = np.linspace(0.0, _FOLDS, _NODES)
    left = (end - oil) * np.exp(-folds)[:, None]
    given = mean.totals(end - left)
    capacity = heat_capacity(truck, metal_mass, size)
    still = np.abs(end - oil) < _STILL
    gain = given - total * (end - left - air)
    pace = capacity * left / np.where(still | (gain == 0.0), 1.0, gain)
    pace = np.where(still, capacity / total, pace)
    time = _summed(pace, folds[1])
    return WarmUp(oil, end, found, capacity, air, total, folds, time, pace, given)


def heat_capacity(truck: Truck, metal_mass: ArrayLike = 0.0, size: int = 1) -> Array:
    """Heat that warms the oil, and metal with it, by one kelvin [J/K], (N,).

    C = volume x density at 15 degC x specific heat + metal mass x 480 J/(kg K)

    Raises MissingValue for a reservoir without volume, DomainError for a negative mass.
    """
    needs = Needs(size)
    mass = needs.column(truck.reservoir, "volume", "reservoir")
    mass = mass * needs.column(truck.oil, "density", "oil")
    warmth = mass * needs.column(truck.oil, "specific_heat", "oil")
    needs.settle()
    metal = thermal.column(metal_mass, size)
    if not (np.isfinite(metal) & (metal >= 0.0)).all():
        raise DomainError("metal mass: must be zero or above")
    return thermal.column(warmth + metal * STEEL, size)


def _end(
    mean: thermal.Mean, total: Array, air: Array, oil: Array
) -> tuple[Array, NDArray[np.bool_]]:
    """Where the oil ends [K], (N,): the first balance above its start, or below where it cools."""
    cools = mean.at(oil).total < total * (oil - air)
    grid = np.linspace(oil, np.where(cools, air, HIGHEST), SCAN)
    return thermal.balance(mean, total, air, grid)


def _summed(pace: Array, spacing: float) -> Array:
    """Integral of `pace` from the first node to each, (K, N), by a rule of fourth order."""
    inner = 13.0 * (pace[1:-2] + pace[2:-1]) - pace[:-3] - pace[3:]
    first = 9.0 * pace[0] + 19.0 * pace[1] - 5.0 * pace[2] + pace[3]
    last = 9.0 * pace[-1] + 19.0 * pace[-2] - 5.0 * pace[-3] + pace[-4]
    cells = np.concatenate([first[None], inner, last[None]]) * (spacing / 24.0)
    nothing = np.zeros((1, pace.shape[1]))
    return np.concatenate([nothing, np.cumsum(np.maximum(cells, 0.0), axis=0)])
