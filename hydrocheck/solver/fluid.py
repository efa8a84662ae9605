"""The oil at N points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Circuit
from hydrocheck.physics import oil

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Fluid:
    """Oil properties: viscosity [m2/s] and density [kg/m3], (N,), and the density of rated points."""

    viscosity: Array
    density: Array
    rated_density: object


def oil_line(circuit: Circuit) -> tuple[object, object]:
    """Coefficients of the viscosity line of a circuit's oil.

    Raises MissingValue without a grade and viscosity index, or two points.
    """
    given = circuit.oil
    if len(given.point) == 2:
        first, second = given.point
        return oil.viscosity_line(
            first.temperature, first.viscosity, second.temperature, second.viscosity
        )
    if given.grade is None or given.viscosity_index is None:
        keys = [k for k in ("grade", "viscosity_index") if getattr(given, k) is None]
        raise MissingValue([f"oil.{k}" for k in keys])
    return oil.grade_line(given.grade, given.viscosity_index)


def fluid_at(circuit: Circuit, temperature: Array) -> Fluid:
    """The oil of a circuit at temperatures [K], (N,). Raises MissingValue."""
    given = circuit.oil
    return Fluid(
        np.asarray(oil.kinematic_viscosity(temperature, *oil_line(circuit))),
        np.asarray(oil.density(temperature, given.density, given.expansion)),
        given.density,
    )
