"""The worst operating point: a lattice over engine speed, oil and load, refined where it matters.

A watched value is smooth between the points at which something switches (a function begins to
starve, the compensator or a relief begins to act), and has its extremes there, at an end of the
range, or at a smooth top:

    1  lattice of engine speeds x oil temperatures x hopper fillings
    2  points between lattice neighbours that the limits part, the highest values first; and a finer
       lattice around the highest point
    3  a still finer one around the highest point found
    4  a cross through it, finer again
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.solver import Points
from hydrocheck.studies.work import Solved, Work

Array = NDArray[np.float64]
Plan = Callable[[Array, Array, Array], Work]
Search = Generator[Work, Solved, Solved]
Watch = Callable[[Solved], Array]

BETWEEN = 5
"""Points between two neighbours that the limits part."""
PARTED = 6
"""Such pairs that are looked at for each watched value."""
AROUND = (7, 7, 13)
"""Points a side of the finer lattices, by round."""
ZOOM = 3.0
"""How much narrower each of them is than the one before."""


@dataclass(frozen=True)
class Domain:
    """Nodes of the lattice, rising: engine speeds [rad/s], oil temperatures [K], hopper [1]."""

    engine: Array
    oil: Array
    hopper: Array

    def lattice(self) -> tuple[Array, Array, Array]:
        """Every node with every other, flat."""
        engine, oil, hopper = np.meshgrid(self.engine, self.oil, self.hopper, indexing="ij")
        return engine.ravel(), oil.ravel(), hopper.ravel()

    @property
    def shape(self) -> tuple[int, int, int]:
        """Nodes along each axis."""
        return self.engine.size, self.oil.size, self.hopper.size

    @property
    def single(self) -> bool:
        """Whether there is but one engine speed and one oil temperature."""
        return self.engine.size == 1 and self.oil.size == 1


def search(plan: Plan, domain: Domain, watch: Watch) -> Search:
    """Lattice and refined points of a domain, solved, in one.

    A generator: it gives works that are to be solved, is sent them solved, and returns them all.

    watch: what is sought the highest of, (W, N)
    """
    solved = yield plan(*domain.lattice())
    if domain.single:
        return solved
    pairs = _neighbours(domain.shape)
    for turn in range(len(AROUND)):
        values = watch(solved)
        found = [_around(solved.work.points, domain, row, turn) for row in values]
        if turn == 0:
            found += [_between(solved, pairs, row) for row in values]
        engine, oil, hopper = np.unique(np.concatenate(found, axis=1), axis=1)
        if not engine.size:
            return solved
        more = yield plan(engine, oil, hopper)
        solved = joined(solved, more)
    return solved


def _neighbours(shape: tuple[int, int, int]) -> NDArray[np.intp]:
    """Pairs of neighbours along engine speed and oil temperature, (P, 2)."""
    place = np.arange(np.prod(shape)).reshape(shape)
    along_engine = np.stack([place[:-1].ravel(), place[1:].ravel()], axis=1)
    along_oil = np.stack([place[:, :-1].ravel(), place[:, 1:].ravel()], axis=1)
    return np.concatenate([along_engine, along_oil])


def _flat(values: Array) -> bool:
    """Whether there is nothing to seek: no point differs from another."""
    highest, lowest = float(values.max(initial=-np.inf)), float(values.min(initial=np.inf))
    return not highest - lowest > 1e-9 * max(abs(highest), abs(lowest))


def _between(solved: Solved, pairs: NDArray[np.intp], values: Array) -> Array:
    """Points between neighbours that differ in a limit, (3, K): those of the highest values."""
    if _flat(values):
        return np.zeros((3, 0))
    result, points = solved.result, solved.work.points
    limits = np.concatenate([result.supply_limit[:, None], result.function_limit], axis=1)
    first, second = pairs.T
    parted = (limits[first] != limits[second]).any(axis=1)
    height = np.maximum(values[first], values[second])
    chosen = np.flatnonzero(parted)
    chosen = chosen[np.argsort(-height[chosen], kind="stable")[:PARTED]]
    share = np.arange(1.0, BETWEEN + 1.0) / (BETWEEN + 1.0)
    axes = []
    for column in (points.engine_speed, points.oil_temperature, points.hopper):
        low, high = column[first[chosen], None], column[second[chosen], None]
        axes.append((low + (high - low) * share).ravel())
    return np.stack(axes)


def _around(points: Points, domain: Domain, values: Array, turn: int) -> Array:
    """Finer nodes around the highest value, (3, K): a lattice, in the last turn a cross."""
    if _flat(values):
        return np.zeros((3, 0))
    n = int(np.argmax(values))
    side = AROUND[turn]
    own, nodes = [], []
    for axis, column in (
        (domain.engine, points.engine_speed),
        (domain.oil, points.oil_temperature),
        (domain.hopper, points.hopper),
    ):
        at = float(column[n])
        own.append(np.array([at]))
        reach = float(np.diff(axis).max(initial=0.0)) / ZOOM**turn
        few = 3 if axis is domain.hopper else side
        spread = np.clip(at + np.linspace(-reach, reach, few), axis[0], axis[-1])
        nodes.append(np.unique(spread) if reach else own[-1])
    if turn < len(AROUND) - 1:
        grids = [nodes]
    else:
        grids = [[*own[:k], nodes[k], *own[k + 1 :]] for k in range(3)]
    parts = []
    for grid in grids:
        flat = np.stack([a.ravel() for a in np.meshgrid(*grid, indexing="ij")])
        parts.append(flat[:, (flat != np.stack(own)).any(axis=0)])
    return np.concatenate(parts, axis=1)


def joined(first: Solved, second: Solved) -> Solved:
    """Two solved works of one scenario as one."""
    points = Points.stacked([first.work.points, second.work.points])
    demand = np.concatenate([first.work.demand, second.work.demand])
    asked = np.concatenate([first.work.asked, second.work.asked])
    work = replace(first.work, points=points, demand=demand, asked=asked)
    return Solved(work, first.result.joined(second.result))
