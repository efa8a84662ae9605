"""Pre-wet and direct liquid. Also reached through `material`. Every function broadcasts."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics._guard import require_not_negative, require_positive
from hydrocheck.physics.arrays import Array, as_array

__all__ = ["liquid_flow", "liquid_per_mass", "nozzle_flow", "nozzle_pressure", "prewet_flow"]


def prewet_flow(discharge: ArrayLike, liquid_per_mass: ArrayLike) -> Array:
    """Liquid flow that pre-wets a mass flow of material.

    Q = m r

    discharge: mass flow of dry material [kg/s], broadcast
    liquid_per_mass: liquid for each mass, as 8 to 10 gal for a ton [m3/kg], broadcast
    returns: flow [m3/s]

    >>> gallon, ton = 3.785411784e-3, 907.18474
    >>> mass_flow = 250 * 0.45359237 / 1609.344 * 20 * 0.44704
    >>> round(float(prewet_flow(mass_flow, 10 * gallon / ton)) / gallon * 60, 4)
    0.4167

    Source: MaineDOT treatment recommendations, Table A (10 gal for a ton); common practice.
    """
    return as_array(discharge) * as_array(liquid_per_mass)


def liquid_per_mass(flow: ArrayLike, discharge: ArrayLike) -> Array:
    """Pre-wet ratio that a liquid flow gives.

    r = Q / m

    flow: of the liquid [m3/s], broadcast
    discharge: mass flow of dry material [kg/s], broadcast
    returns: liquid for each mass [m3/kg], inf without material

    >>> round(float(liquid_per_mass(3e-5, 0.75)), 7)
    4e-05

    Source: `prewet_flow` turned round.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return as_array(flow) / as_array(discharge)


def liquid_flow(rate: ArrayLike, lanes: ArrayLike, road_speed: ArrayLike) -> Array:
    """Liquid flow that an ordered liquid rate asks.

    Q = rate lanes v

    rate: liquid for each length of lane [m3/m], broadcast
    lanes: treated at once [1], broadcast
    road_speed: of the truck [m/s], broadcast
    returns: flow [m3/s]

    >>> round(float(liquid_flow(65.0, 3.0, 45.0 / 60.0)), 2)
    146.25

    Source: arithmetic; 65 gal for a lane-mile, 3 lanes, 45 mph, in gal/min.
    """
    return as_array(rate) * as_array(lanes) * as_array(road_speed)


def nozzle_flow(
    rated_flow: ArrayLike,
    rated_pressure: ArrayLike,
    pressure: ArrayLike,
    specific_gravity: ArrayLike = 1.0,
) -> Array:
    """Flow of a nozzle, or of several alike, at a pressure.

    Q = Q_r sqrt(p / (p_r SG))

    rated_flow: of water at the rated pressure, Q_r [m3/s], broadcast
    rated_pressure: p_r [Pa], above 0, broadcast, refused outside with DomainError
    pressure: at the nozzle [Pa], 0 or above, broadcast, refused outside
    specific_gravity: of the liquid [1], above 0, broadcast, refused outside
    returns: flow [m3/s]

    >>> gpm, psi = 6.30901964e-05, 6894.757293168
    >>> round(float(nozzle_flow(39.6 * gpm, 50 * psi, 7 * psi)) / gpm, 2)
    14.82

    Source: orifice law; a sprinkler page (K 5.6: 39.6 gal/min at 50 psi, 14.82 at 7 psi).
    """
    rated, at, gravity = as_array(rated_pressure), as_array(pressure), as_array(specific_gravity)
    require_positive(rated_pressure=rated, specific_gravity=gravity)
    require_not_negative(pressure=at)
    result: Array = as_array(rated_flow) * np.sqrt(at / (rated * gravity))
    return result


def nozzle_pressure(
    rated_flow: ArrayLike,
    rated_pressure: ArrayLike,
    flow: ArrayLike,
    specific_gravity: ArrayLike = 1.0,
) -> Array:
    """Pressure that a nozzle, or several alike, needs for a flow.

    p = p_r SG (Q / Q_r)^2

    rated_flow: of water at the rated pressure, Q_r [m3/s], above 0, broadcast, refused outside
    rated_pressure: p_r [Pa], broadcast
    flow: through the nozzles [m3/s], broadcast
    specific_gravity: of the liquid [1], broadcast
    returns: pressure [Pa]

    Ten times the flow takes a hundred times the pressure: a wide range of rates needs banks of
    nozzles. A worn nozzle passes 5 to 10 % more.

    >>> gpm, psi = 6.30901964e-05, 6894.757293168
    >>> round(float(nozzle_pressure(150 * gpm, 50 * psi, 183.7 * gpm)) / psi, 1)
    75.0

    Source: orifice law; a nozzle page (150 gal/min at 50 psi, 184 at 75 psi).
    """
    rated = as_array(rated_flow)
    require_positive(rated_flow=rated)
    share = as_array(flow) / rated
    return as_array(rated_pressure) * as_array(specific_gravity) * share**2
