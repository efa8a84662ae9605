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
from hydrocheck.physics.lines import drop_and_slope, filter_drop_and_slope
from hydrocheck.solver.fluid import Fluid
from hydrocheck.solver.needs import Index, Needs, take_rows

NO_BYPASS = 1e12
"""Stands for a bypass that never opens [Pa]."""


@dataclass(frozen=True)
class Strainer:
    """A filter with its bypass; arrays of shape (1,) or (N,)."""

    flow: Array
    drop: Array
    rated_viscosity: Array
    cracking: Array
    full: Array

    def take(self, index: Index) -> Strainer:
        """The points at `index`."""
        return Strainer(*(take_rows(getattr(self, f.name), index) for f in fields(self)))


@dataclass(frozen=True)
class Pipe:
    """One line; arrays of shape (1,) or (N,).

    square: drop over flow squared of its couplings [Pa s2/m6]
    """

    bore: Array
    length: Array
    roughness: Array
    loss_factor: Array
    square: Array
    density: Array
    viscosity: Array
    _: KW_ONLY
    strainer: Strainer | None

    def take(self, index: Index) -> Pipe:
        """The points at `index`."""
        strainer = None if self.strainer is None else self.strainer.take(index)
        values = (getattr(self, f.name) for f in fields(self) if f.name != "strainer")
        return Pipe(*(take_rows(v, index) for v in values), strainer=strainer)

    def drop(self, flow: Array) -> tuple[Array, Array]:
        """Pressure drop [Pa] and its slope [Pa s/m3] at a flow [m3/s], (N,) each."""
        drop, slope = drop_and_slope(
            flow,
            self.bore,
            self.length,
            self.roughness,
            self.loss_factor,
            self.density,
            self.viscosity,
        )
        if self.square.any():
            drop = drop + self.square * np.abs(flow) * flow
            slope = slope + 2.0 * self.square * np.abs(flow)
        if self.strainer is not None:
            through, rise = filter_drop_and_slope(
                flow,
                self.strainer.flow,
                self.strainer.drop,
                self.viscosity,
                self.strainer.rated_viscosity,
                self.strainer.cracking,
                self.strainer.full,
            )
            drop, slope = drop + through, slope + rise
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
        drop = slope = np.zeros_like(flow)
        for pipe in self.series:
            more, steeper = pipe.drop(flow)
            drop, slope = drop + more, slope + steeper
        return drop, slope


def compile_pipes(lines: Sequence[Line], fluid: Fluid, needs: Needs) -> Pipes:
    """Lines of the model, one after the other, as arrays."""
    return Pipes(tuple(_pipe(line, f"lines.{line.name}", fluid, needs) for line in lines))


def _pipe(line: Line, key: str, fluid: Fluid, needs: Needs) -> Pipe:
    square = np.zeros(1)
    for coupling in line.coupling:
        flow = needs.column(coupling, "rated_flow", f"{key}.coupling")
        drop = needs.column(coupling, "rated_drop", f"{key}.coupling")
        square = square + drop / flow**2
    bore, length, roughness, factor = (
        needs.column(line, k, key) for k in ("bore", "length", "roughness", "loss_factor")
    )
    return Pipe(
        bore,
        length,
        roughness,
        factor,
        square,
        fluid.density,
        fluid.viscosity,
        strainer=_strainer(line, f"{key}.filter", needs),
    )


def _strainer(line: Line, key: str, needs: Needs) -> Strainer | None:
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
    return Strainer(flow, drop, viscosity, cracking, full)
