"""Head, the pump inlet, and the strength and size of tubes and hoses. Also reached through `lines`.

Every function broadcasts; a scalar in gives a 0-d result.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics._guard import require_positive
from hydrocheck.physics.arrays import Array, as_array, require

__all__ = [
    "atmospheric_pressure",
    "dash_bore",
    "head_pressure",
    "inlet_absolute_pressure",
    "pressure_head",
    "tube_working_pressure",
]

GRAVITY = 9.80665
INCH = 0.0254

# US Standard Atmosphere 1976, lowest layer.
_EARTH_RADIUS = 6356766.0
_SEA_LEVEL_PRESSURE = 101325.0
_SEA_LEVEL_TEMPERATURE = 288.15
_LAPSE_RATE = 0.0065
_EXPONENT = GRAVITY * 28.9644e-3 / (8.31432 * _LAPSE_RATE)


def head_pressure(height: ArrayLike, density: ArrayLike) -> Array:
    """Pressure under a column of oil.

    p = rho g h

    height: of the oil above the point [m], below 0 where the point is higher, broadcast
    density: of the oil [kg/m3], broadcast
    returns: pressure [Pa]

    >>> round(float(head_pressure(15.24, 999.0)) / 6894.757, 2)
    21.65

    Source: Fluid Power: Theory and Applications, 4th ed. (1998), Example 3.1 (50 ft of water).
    """
    return GRAVITY * as_array(height) * as_array(density)


def pressure_head(pressure: ArrayLike, density: ArrayLike) -> Array:
    """Height of oil whose weight makes a pressure.

    h = p / (rho g)

    pressure: or pressure drop [Pa], broadcast
    density: of the oil [kg/m3], broadcast
    returns: height [m]

    >>> round(float(pressure_head(9.80665e4, 1000.0)), 6)
    10.0

    Source: hydrostatics; from memory.
    """
    return as_array(pressure) / (GRAVITY * as_array(density))


def atmospheric_pressure(altitude: ArrayLike) -> Array:
    """Pressure of the standard atmosphere at an altitude.

    p = 101325 (1 - 0.0065 H / 288.15)^5.25588, H = R z / (R + z), R = 6356766 m

    altitude: above sea level [m], -5000 to 11000, broadcast, refused outside with DomainError
    returns: absolute pressure [Pa]

    Weather moves the true value by about 3 %.

    >>> round(float(atmospheric_pressure(3000.0)))
    70121

    Source: US Standard Atmosphere, 1976, lowest layer. Example: package fluids, ATMOSPHERE_1976.
    """
    z = as_array(altitude)
    require((z >= -5000.0) & (z <= 11000.0), "altitude must be from -5000 m to 11000 m")
    height = _EARTH_RADIUS * z / (_EARTH_RADIUS + z)
    result: Array = _SEA_LEVEL_PRESSURE * (
        (1.0 - _LAPSE_RATE * height / _SEA_LEVEL_TEMPERATURE) ** _EXPONENT
    )
    return result


def inlet_absolute_pressure(
    atmospheric: ArrayLike, head: ArrayLike, suction_drop: ArrayLike
) -> Array:
    """Absolute pressure at a pump inlet.

    p = p_atm + p_head - dp

    atmospheric: absolute pressure on the oil in the reservoir [Pa], broadcast
    head: pressure of the oil's height above the pump, see `head_pressure` [Pa], broadcast
    suction_drop: lost in the suction line, strainer and fittings [Pa], broadcast
    returns: absolute pressure [Pa]; below 0 means that the oil column would tear before

    >>> round(float(inlet_absolute_pressure(14.7, 0.0, 5.0)), 1)
    9.7

    Source: Fluid Power with Applications, 6th ed., 2005, Example 2-7, in psi. The velocity head is
    left out (under 1 kPa at 1.5 m/s).
    """
    return as_array(atmospheric) + as_array(head) - as_array(suction_drop)


def tube_working_pressure(
    wall: ArrayLike,
    inside_diameter: ArrayLike,
    tensile_strength: ArrayLike,
    safety_factor: ArrayLike,
) -> Array:
    """Working pressure of a thin-walled tube.

    p = 2 t S / (d_i N), Barlow

    wall: thickness [m], broadcast
    inside_diameter: of the tube [m], broadcast
    tensile_strength: of the metal [Pa], broadcast
    safety_factor: on tensile strength [1], 8 up to 1000 psi, 6 to 2500, 4 above, broadcast
    returns: pressure [Pa]

    For walls up to about a tenth of the bore; bends, threads and corrosion weaken a tube. What is
    not above 0 is refused with DomainError.

    >>> round(float(tube_working_pressure(0.065, 0.870, 55000.0, 8.0)))
    1027

    Source: Fluid Power with Applications, 6th ed., 2005, Example 10-4, in psi; safety factors from
    memory.
    """
    bore, factor = as_array(inside_diameter), as_array(safety_factor)
    require_positive(inside_diameter=bore, safety_factor=factor)
    return 2.0 * as_array(wall) * as_array(tensile_strength) / (bore * factor)


def dash_bore(dash: ArrayLike) -> Array:
    """Nominal bore of a hose from its dash size.

    d = dash / 16 inch

    dash: number after the dash [1], above 0, broadcast, refused outside with DomainError
    returns: bore [m]

    Hoses sized after tubing (100R5 and like) have smaller bores for the same dash.

    >>> round(float(dash_bore(12)) / 0.0254, 2)
    0.75

    Source: marking practice under SAE J517; common practice.
    """
    number = as_array(dash)
    require_positive(dash=number)
    return np.asarray(number * (INCH / 16.0))
