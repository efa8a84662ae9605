"""Lines in bulk: hoses with fittings, quick couplings and a filter, for M functions or one main line.

Drops are odd in flow and rise with it, so that a pressure fixes a flow. Couplings and other parts known
by one flow and drop follow the square of flow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from hydrocheck.model.circuit import Line
from hydrocheck.physics.lines import drop_and_slope, filter_drop_and_slope
from hydrocheck.solver.fluid import Fluid
from hydrocheck.solver.needs import Needs, stack, take_rows

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True)
class Pipes:
    """Lines side by side; arrays of shape (1, M) or (N, M). Where `present` is 0 nothing is lost."""

    present: Array
    bore: Array
    length: Array
    roughness: Array
    loss_factor: Array
    square: Array
    filter_flow: Array
    filter_drop: Array
    filter_viscosity: Array
    bypass_cracking: Array
    bypass_full: Array
    density: Array
    viscosity: Array

    def take(self, index: Index) -> Pipes:
        """The points at `index`."""
        return Pipes(*(take_rows(getattr(self, f.name), index) for f in fields(self)))

    def drop(self, flow: Array) -> tuple[Array, Array]:
        """Pressure drop [Pa] and its slope [Pa s/m3] at a flow [m3/s], (N, M) each."""
        if not self.present.any():
            nothing = np.zeros_like(flow)
            return nothing, nothing
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
        if np.isfinite(self.filter_flow).any():
            through, rise = filter_drop_and_slope(
                flow,
                self.filter_flow,
                self.filter_drop,
                self.viscosity,
                self.filter_viscosity,
                self.bypass_cracking,
                self.bypass_full,
            )
            drop, slope = drop + through, slope + rise
        return drop * self.present, slope * self.present


def compile_pipes(lines: Sequence[Line | None], size: int, fluid: Fluid, needs: Needs) -> Pipes:
    """Lines of the model as arrays; None is no line."""

    def values(attribute: str, otherwise: float) -> Array:
        return stack(
            [
                otherwise if line is None else needs(line, attribute, f"lines.{line.name}")
                for line in lines
            ],
            size,
            attribute,
        )

    def of_filter(attribute: str, otherwise: float) -> Array:
        found = [line.filter if line is not None else None for line in lines]
        given = [getattr(f, attribute) if f is not None else None for f in found]
        return stack(
            [1e300 if g == np.inf else g if g is not None else otherwise for g in given],
            size,
            attribute,
        )

    square = stack([0.0 if line is None else _square_sum(line) for line in lines], size, "coupling")
    has_filter = np.array([[line is not None and line.filter is not None for line in lines]])
    nothing = np.inf
    return Pipes(
        present=np.array([[float(line is not None) for line in lines]]),
        bore=values("bore", 1.0),
        length=values("length", 0.0),
        roughness=values("roughness", 0.0),
        loss_factor=values("loss_factor", 0.0),
        square=square,
        filter_flow=np.where(has_filter, of_filter("rated_flow", 1.0), nothing),
        filter_drop=of_filter("rated_drop", 0.0),
        filter_viscosity=of_filter("rated_viscosity", 1e-6),
        bypass_cracking=np.where(
            of_filter("bypass_cracking", -1.0) < 0, nothing, of_filter("bypass_cracking", -1.0)
        ),
        bypass_full=np.where(
            of_filter("bypass_full", -1.0) < 0, nothing, of_filter("bypass_full", -1.0)
        ),
        density=fluid.density[:, None],
        viscosity=fluid.viscosity[:, None],
    )


def _square_sum(line: Line) -> object:
    """Sum of drop / flow^2 over the couplings of a line [Pa s2/m6]."""
    return sum((c.rated_drop / c.rated_flow**2 for c in line.coupling), start=0.0)
