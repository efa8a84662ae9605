"""Cylinders that their load drives in: oil goes back to the return manifold, none comes from the
pump.

The section opens the piston side to the return (and the rod side of a double-acting cylinder with
it: both ports stand open, and the rod side draws what it needs from the manifold without loss). A
load F that seals hold back by their share 1 - eta presses the oil to

    p = eta F / A_p + a p_r        a: rod-side area over piston area A_p, 0 where single-acting

and drives the flow q = A_p v through the hose and the section, a plain orifice in this direction:

    eta F / A_p - (1 - a) p_r = hose(q) + dp (q / c)^2        c: commanded flow, at the drop dp

The right side rises with q, so that q falls as the manifold's pressure p_r rises. (1 - a) q joins
what the bank returns, q_b, and the manifold stands at the one root of

    p_r = R(q_b + sum of (1 - a) q(p_r)),   R: drop of the return line

A double-acting cylinder that the pump drives in while its load pulls has a flow of its own only
behind a part that holds the load; there is none here, and a `retract_load` below zero is refused.

For all else of the solver this is a return line with a law of its own (`FedReturn`), still rising
with q_b.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.needs import Index, Mask, take_rows
from hydrocheck.solver.pipes import Pipe, Pipes
from hydrocheck.solver.roots import EPS, newton

REFINED = 3
"""Times that the flow is sought anew near itself."""


@dataclass(frozen=True)
class Lowering:
    """A function at the points where its load lowers it; arrays of shape (1,) or (N,).

    column: its place among the functions
    commanded: flow of the opened section at the drop `drop` [m3/s], 0 where nothing lowers, (N,)
    drop: [Pa]; force: of the load [N]; efficiency: of the seals [1]
    area: on the piston side [m2]; rod_share: rod-side area over that [1], 0 where single-acting
    hose: lines between section and piston side
    """

    name: str
    column: int
    commanded: Array
    drop: Array
    force: Array
    efficiency: Array
    area: Array
    rod_share: Array
    hose: Pipes

    def take(self, index: Index) -> Lowering:
        """The points at `index`."""
        fixed = ("name", "column", "hose")
        rows = {
            f.name: take_rows(getattr(self, f.name), index)
            for f in fields(self)
            if f.name not in fixed
        }
        return Lowering(self.name, self.column, **rows, hose=self.hose.take(index))

    @property
    def pushed(self) -> Array:
        """Pressure that the load makes on the piston side [Pa], (1,) or (N,)."""
        return self.efficiency * self.force / self.area

    def flow(self, returns: Array) -> tuple[Array, Array]:
        """Flow out of the piston side [m3/s], and its slope with the return pressure
        [m3/(s Pa)], (N,) each, at a return pressure [Pa], (N,)."""
        flow, slope = np.zeros_like(returns), np.zeros_like(returns)
        room = self.pushed - (1.0 - self.rod_share) * returns
        rows = np.flatnonzero((self.commanded > 0.0) & (room > 0.0))
        if rows.size == 0:
            return flow, slope
        part, room = self.take(rows), room[rows]
        bend = part.drop / part.commanded**2

        def excess(q: Array, index: Index) -> tuple[Array, Array]:
            hose = part.hose if index.size == rows.size else part.hose.take(index)
            lost, rise = hose.drop(q)
            own = bend[index]
            return lost + own * q**2 - room[index], rise + 2.0 * own * q

        high = np.sqrt(room / bend)
        found = newton(excess, high, high, 4.0 * EPS * room)
        flow[rows] = found
        steep = excess(found, np.arange(rows.size))[1]
        slope[rows] = -(1.0 - part.rod_share) / np.maximum(steep, 1e-300)
        return flow, slope


@dataclass(frozen=True)
class FedReturn:
    """The return line of a truck with lowering cylinders, for what the bank returns."""

    pipes: Pipes
    lowering: tuple[Lowering, ...]

    @property
    def series(self) -> tuple[Pipe, ...]:
        """Its lines."""
        return self.pipes.series

    def take(self, index: Index) -> FedReturn:
        """The points at `index`."""
        return FedReturn(self.pipes.take(index), tuple(one.take(index) for one in self.lowering))

    @property
    def active(self) -> Mask:
        """Where a cylinder lowers, (N,)."""
        active: Mask = np.any([one.commanded > 0.0 for one in self.lowering], axis=0)
        return active

    def drop(self, flow: Array) -> tuple[Array, Array]:
        """Manifold pressure [Pa] and its slope [Pa s/m3] at a flow from the bank [m3/s], (N,)."""
        rows = np.flatnonzero(self.active)
        pressure, slope = self.pipes.drop(flow)
        if rows.size == 0 or not self.pipes.series:
            return pressure, slope
        part = self if rows.size == flow.size else self.take(rows)
        brought = part.brought(flow[rows])
        made, rise = part.pipes.drop(flow[rows] + brought)
        pressure[rows] = made
        slope[rows] = rise / (1.0 - rise * part._all(made)[1])
        return pressure, slope

    def brought(self, flow: Array) -> Array:
        """What the cylinders add to a flow from the bank [m3/s], (N,)."""

        def excess(more: Array, index: Index) -> tuple[Array, Array]:
            part = self if index.size == flow.size else self.take(index)
            level, rise = part.pipes.drop(flow[index] + more)
            given, less = part._all(level)
            return more - given, 1.0 - rise * less

        nothing = np.zeros_like(flow)
        high = -excess(nothing, np.arange(flow.size))[0]
        found = high
        for _ in range(REFINED):
            # A throttled return line passes a small part of `high`, to which the steps are fine.
            high = np.minimum(high, 2.0 * found)
            found = newton(excess, high, found, 2.0 * EPS * high)
        return found

    def flows(self, flow: Array) -> list[Array]:
        """Flow out of the piston side of each [m3/s], (N,), at a flow from the bank [m3/s].

        In the proportions that the manifold's pressure gives, and together what they bring: where
        the return line takes nearly all the pressure, the pressure alone tells it badly.
        """
        brought = self.brought(flow)
        level = self.pipes.drop(flow + brought)[0]
        total = self._all(level)[0]
        scale = np.where(total > 0.0, brought / np.where(total > 0.0, total, 1.0), 1.0)
        return [one.flow(level)[0] * scale for one in self.lowering]

    def _all(self, level: Array) -> tuple[Array, Array]:
        """What the cylinders bring at a manifold pressure [m3/s], and its slope [m3/(s Pa)], (N,)
        each; the slope is never above zero."""
        total, slope = np.zeros_like(level), np.zeros_like(level)
        for one in self.lowering:
            flow, less = one.flow(level)
            left = 1.0 - one.rod_share
            total, slope = total + left * flow, slope + left * less
        return total, slope
