"""Grains in the air. Also reached through `material`."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics._guard import require_positive
from hydrocheck.physics.arrays import Array, as_array

__all__ = ["ROAD_SALT", "stokes_velocity", "terminal_velocity"]

GRAVITY = 9.80665

ROAD_SALT = (
    (12.5e-3, 1.00, 1.00),
    (9.5e-3, 0.95, 1.00),
    (4.75e-3, 0.20, 0.90),
    (2.36e-3, 0.10, 0.60),
    (0.6e-3, 0.00, 0.15),
)
"""Sieve opening [m], least and greatest share of the mass passing: 1/2, 3/8 in, No. 4, 8, 30.

Source: ASTM D632, type I, grade 1, as copied in a state purchase specification; openings from
memory.
"""


def terminal_velocity(
    diameter: ArrayLike,
    density: ArrayLike,
    fluid_density: ArrayLike,
    fluid_viscosity: ArrayLike,
    shape: ArrayLike = 1.0,
) -> Array:
    """Speed at which a sphere, or a grain with more drag, falls through a fluid at rest.

    weight - buoyancy = shape x drag, with one drag law of a sphere over all Reynolds numbers

    diameter: of the sphere [m], broadcast
    density: of the sphere [kg/m3], above that of the fluid, broadcast
    fluid_density: of the fluid [kg/m3], broadcast
    fluid_viscosity: dynamic, of the fluid [Pa s], broadcast
    shape: drag / drag of a sphere, 1.5 for salt (1.0 to 2.2) [1], broadcast
    returns: speed [m/s]

    Angular grains fall slower: a sphere is some 20 to 30 % too fast for fertiliser. What is not
    above 0 is refused with DomainError.

    >>> round(float(terminal_velocity(3e-3, 2165.0, 1.2922, 1.7157e-5)), 2)
    12.86

    Source: package fluids, v_terminal. Fertiliser: Journal of Agricultural Engineering 44(2s),
    2013 (8.60 to 9.55 m/s measured).
    """
    from fluids.drag import v_terminal

    size, solid = as_array(diameter), as_array(density)
    fluid, mu = as_array(fluid_density), as_array(fluid_viscosity)
    require_positive(diameter=size, fluid_density=fluid, fluid_viscosity=mu)
    require_positive(density_less_that_of_the_fluid=solid - fluid)
    more = as_array(shape)
    require_positive(shape=more)
    # So much more drag is as if so much less weight had to be carried.
    falling = np.vectorize(v_terminal, otypes=[np.float64])
    return np.asarray(falling(size, fluid + (solid - fluid) / more, fluid, mu))


def stokes_velocity(
    diameter: ArrayLike, density: ArrayLike, fluid_density: ArrayLike, fluid_viscosity: ArrayLike
) -> Array:
    """Speed at which a fine sphere settles in a fluid at rest, as silt in oil or brine.

    v = g d^2 (rho - rho_f) / (18 mu)

    diameter: of the sphere [m], broadcast
    density: of the sphere [kg/m3], broadcast
    fluid_density: of the fluid [kg/m3], broadcast
    fluid_viscosity: dynamic, of the fluid [Pa s], above 0, broadcast, refused outside
    returns: speed [m/s], below 0 for what rises

    For Re below about 0.1; beyond, the true speed is lower: `terminal_velocity`.

    >>> round(float(stokes_velocity(1e-4, 2300.0, 1000.0, 1.12e-3)), 5)
    0.00632

    Source: Stokes's law, from memory; Fundamentals of Fluid Mechanics, 5th ed., Example 9.10.
    """
    mu = as_array(fluid_viscosity)
    require_positive(fluid_viscosity=mu)
    heavier = as_array(density) - as_array(fluid_density)
    return GRAVITY * as_array(diameter) ** 2 * heavier / (18.0 * mu)
