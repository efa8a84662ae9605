"""The oil at N points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydrocheck.errors import DomainError
from hydrocheck.model.circuit import Circuit
from hydrocheck.physics import oil
from hydrocheck.physics.arrays import Array
from hydrocheck.solver.needs import Needs


@dataclass(frozen=True)
class Fluid:
    """Oil properties: viscosity [m2/s] and density [kg/m3], (N,).

    rated_density: density that turns rated kinematic viscosities into dynamic ones [kg/m3], (1,) or
        (N,)
    """

    viscosity: Array
    density: Array
    rated_density: Array


def oil_line(circuit: Circuit, needs: Needs | None = None) -> tuple[Array, Array]:
    """Coefficients of the viscosity line of a circuit's oil: two points, or grade and index.

    needs: notes what is missing; without it MissingValue is raised
    """
    if needs is None:
        needs = Needs()
        line = oil_line(circuit, needs)
        needs.settle()
        return line
    given = circuit.oil
    if len(given.point) == 2:
        first, second = (
            [needs(p, k, "oil.point") for k in ("temperature", "viscosity")] for p in given.point
        )
        return oil.viscosity_line(*first, *second)
    grade, index = needs(given, "grade", "oil"), needs(given, "viscosity_index", "oil")
    if given.grade is None or given.viscosity_index is None:
        return np.ones(1), np.ones(1)
    return oil.grade_line(grade, index)


def fluid_at(circuit: Circuit, temperature: Array, needs: Needs | None = None) -> Fluid:
    """The oil of a circuit at temperatures [K], (N,).

    needs: notes what is missing; without it MissingValue is raised
    """
    if needs is None:
        needs = Needs(temperature.size)
        fluid = fluid_at(circuit, temperature, needs)
        needs.settle()
        return fluid
    density = needs.column(circuit.oil, "density", "oil")
    expansion = needs.column(circuit.oil, "expansion", "oil")
    present = oil.density(temperature, density, expansion)
    if np.any(present <= 0.0):
        raise DomainError("oil.expansion: no density is left at that oil temperature")
    viscosity = oil.kinematic_viscosity(temperature, *oil_line(circuit, needs))
    return Fluid(
        np.broadcast_to(viscosity, temperature.shape),
        np.broadcast_to(present, temperature.shape),
        density,
    )
