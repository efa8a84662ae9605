"""Lines in series: hoses with fittings, quick couplings and filters.

Drops are odd in flow and rise with it, so that a pressure fixes a flow. Couplings and other parts
known by one flow and drop follow the square of flow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass, fields

import numpy as np

from hydrocheck.errors import DomainError
from hydrocheck.model.circuit import Line
from hydrocheck.physics.arrays import Array
from hydrocheck.physics.lines import LAMINAR_END, LOW_REYNOLDS, turbulent_excess
from hydrocheck.solver.fluid import Fluid
from hydrocheck.solver.needs import Index, Needs, take_rows

NO_BYPASS = 1e12
"""Stands for a bypass that never opens [Pa]."""


@dataclass(frozen=True)
class Strainer:
    """A filter with its bypass; arrays of shape (1,) or (N,).

    resistance: of the element [Pa s/m3]; opens: flow beyond which the bypass is open [m3/s]
    base, bent: drop beyond it, base + bent q [Pa], [Pa s/m3]
    """

    resistance: Array
    opens: Array
    base: Array
    bent: Array

    def take(self, index: Index) -> Strainer:
        """The points at `index`."""
        return Strainer(*(take_rows(getattr(self, f.name), index) for f in fields(self)))

    def add(self, flow: Array, drop: Array, slope: Array) -> None:
        """Add its drop [Pa] and slope [Pa s/m3] at a flow [m3/s] in place, (N,) each."""
        rows = np.flatnonzero(flow > self.opens)
        if rows.size == 0:
            drop += self.resistance * flow
            slope += self.resistance
            return
        through, rise = self.resistance * flow, self.resistance + np.zeros_like(flow)
        open_ = self if rows.size == flow.size else self.take(rows)
        through[rows], rise[rows] = open_.base + open_.bent * flow[rows], open_.bent
        drop += through
        slope += rise


@dataclass(frozen=True)
class Pipe:
    """One line: drop = q (linear + square |q|) + friction excess(|q| per_flow), with q's sign.

    The excess is that of `turbulent_excess`, nothing in laminar flow. Arrays of shape (1,) or (N,).

    linear: hose and fittings in laminar flow [Pa s/m3]
    square: fittings and couplings [Pa s2/m6]
    laminar_end: flow up to which it is laminar [m3/s]
    per_flow: Reynolds number per flow [s/m3]; friction: drop per f Re^2 [Pa]
    wall: relative roughness [1]
    """

    linear: Array
    square: Array
    laminar_end: Array
    per_flow: Array
    friction: Array
    wall: Array
    _: KW_ONLY
    strainer: Strainer | None

    def take(self, index: Index) -> Pipe:
        """The points at `index`."""
        strainer = None if self.strainer is None else self.strainer.take(index)
        values = (getattr(self, f.name) for f in fields(self) if f.name != "strainer")
        return Pipe(*(take_rows(v, index) for v in values), strainer=strainer)

    def drop(self, flow: Array) -> tuple[Array, Array]:
        """Pressure drop [Pa] and its slope [Pa s/m3] at a flow [m3/s], (N,) each."""
        size = np.abs(flow)
        slope = self.square * size
        drop = (self.linear + slope) * flow
        slope += slope
        slope = slope + self.linear
        rows = np.flatnonzero(size > self.laminar_end)
        if rows.size:
            fast = self if rows.size == flow.size else self.take(rows)
            excess, rise = turbulent_excess(size[rows] * fast.per_flow, fast.wall)
            drop[rows] += np.copysign(fast.friction * excess, flow[rows])
            slope[rows] += fast.friction * fast.per_flow * rise
        if self.strainer is not None:
            self.strainer.add(flow, drop, slope)
        return drop, slope


@dataclass(frozen=True)
class Pipes:
    """Lines in series; none is no loss."""

    series: tuple[Pipe, ...]

    def take(self, index: Index) -> Pipes:
        """The points at `index`."""
        return Pipes(tuple(pipe.take(index) for pipe in self.series))

    def drop(self, flow: Array) -> tuple[Array, Array]:
        """Pressure drop [Pa] and its slope [Pa s/m3] at a flow [m3/s], (N,) each."""
        if not self.series:
            return np.zeros_like(flow), np.zeros_like(flow)
        drop, slope = self.series[0].drop(flow)
        for pipe in self.series[1:]:
            more, steeper = pipe.drop(flow)
            drop += more
            slope += steeper
        return drop, slope


@dataclass(frozen=True)
class Level:
    """A return manifold whose pressure [Pa], (N,), other pumps have a part in."""

    pressure: Array
    series: tuple[Pipe, ...]

    def take(self, index: Index) -> Level:
        """The points at `index`."""
        return Level(take_rows(self.pressure, index), self.series)

    def drop(self, flow: Array) -> tuple[Array, Array]:
        """The pressure, and no slope, at any flow, (N,) each."""
        return np.broadcast_to(self.pressure, flow.shape), np.zeros_like(flow)


def compile_pipes(lines: Sequence[Line], fluid: Fluid, needs: Needs) -> Pipes:
    """Lines of the model, one after the other, as arrays."""
    return Pipes(tuple(_pipe(line, f"lines.{line.name}", fluid, needs) for line in lines))


def _pipe(line: Line, key: str, fluid: Fluid, needs: Needs) -> Pipe:
    """The law of a line from its measures: Darcy-Weisbach and two-K fittings.

    A restriction multiplies the drop of hose and fittings; couplings and filter have their own.
    """
    square = np.zeros(1)
    for coupling in line.coupling:
        flow = needs.column(coupling, "rated_flow", f"{key}.coupling")
        drop = needs.column(coupling, "rated_drop", f"{key}.coupling")
        restriction = needs.column(coupling, "restriction", f"{key}.coupling")
        square = square + restriction * drop / flow**2
    bore, length, roughness, factor = (
        needs.column(line, k, key) for k in ("bore", "length", "roughness", "loss_factor")
    )
    per_flow = 4.0 / (np.pi * bore) / fluid.viscosity
    head = 0.5 * fluid.density * (4.0 / (np.pi * bore**2)) ** 2  # rho v^2 / 2 over flow squared
    head = head * needs.column(line, "restriction", key)
    friction = head * (length / bore) / per_flow**2
    return Pipe(
        linear=friction * per_flow * 64.0 + head * (factor * LOW_REYNOLDS) / per_flow,
        square=square + head * factor,
        laminar_end=LAMINAR_END / per_flow,
        per_flow=per_flow,
        friction=friction,
        wall=roughness / bore,
        strainer=_strainer(line, f"{key}.filter", fluid, needs),
    )


def _strainer(line: Line, key: str, fluid: Fluid, needs: Needs) -> Strainer | None:
    """The law of a filter: `physics.filters.filter_drop_and_slope`, straight in two pieces.

    A clogged element drops more; its bypass opens as when clean, and so passes more.
    """
    if line.filter is None:
        return None
    cracking = needs.column(line.filter, "bypass_cracking", key, otherwise=NO_BYPASS)
    full = (
        needs.column(line.filter, "bypass_full", key)
        if line.filter.bypass_cracking is not None
        else np.array([2.0 * NO_BYPASS])
    )
    if np.any(full <= cracking) and f"{key}.bypass_full" not in needs.missing:
        raise DomainError(f"{key}.bypass_full: must lie above bypass_cracking")
    flow, drop, viscosity = (
        needs.column(line.filter, k, key) for k in ("rated_flow", "rated_drop", "rated_viscosity")
    )
    drop = drop * needs.column(line.filter, "restriction", key)
    resistance = drop / flow * (fluid.viscosity / viscosity)
    width = np.maximum(full - cracking, 0.0)
    share = resistance / (width + flow * resistance)
    return Strainer(
        resistance, cracking / resistance, base=share * flow * cracking, bent=share * width
    )
