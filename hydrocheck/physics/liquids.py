"""Pre-wet and direct liquid. Also reached through `material`. Every function broadcasts."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics.arrays import Array, as_array

__all__ = ["liquid_flow", "liquid_per_mass", "prewet_flow"]


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
