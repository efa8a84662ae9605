"""Pre-wet, direct liquid and brine. Also reached through `material`. Every function broadcasts."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics._guard import require_fraction
from hydrocheck.physics.arrays import Array, as_array

__all__ = [
    "brine_density",
    "brine_specific_gravity",
    "liquid_flow",
    "liquid_per_mass",
    "prewet_flow",
    "salometer",
    "salt_in_brine",
    "slurry_salt",
]

# Density of water at 15 degC [kg/m3].
_WATER = 999.1
# Salt in brine saturated at 60 degF, mass over mass.
_SATURATED = 0.26395


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


def brine_density(concentration: ArrayLike, temperature: ArrayLike = 288.15) -> Array:
    """Density of sodium chloride brine.

    rho = 998.2 + 700.3 w + 246.7 w^2 - 0.45 (T - 293.15)

    concentration: mass of salt over mass of brine [1], 0.10 to 0.26, broadcast
    temperature: of the brine [K], 253 to 303, broadcast
    returns: density [kg/m3], within 0.3 % in that range; outside it the formula just runs on

    >>> round(float(brine_density(0.233)) / 999.1, 3)
    1.178

    Source: own fit to handbook densities at 20 degC, from memory; AASHTO M 143-14 has a specific
    gravity of 1.176 at 23.3 % and 59 degF.
    """
    w = as_array(concentration)
    require_fraction(concentration=w)
    return 998.2 + (700.3 + 246.7 * w) * w - 0.45 * (as_array(temperature) - 293.15)


def brine_specific_gravity(concentration: ArrayLike) -> Array:
    """Specific gravity of sodium chloride brine at 15 degC, over water at 15 degC.

    SG = rho(w, 15 degC) / 999.1

    concentration: mass of salt over mass of brine [1], 0.10 to 0.26, broadcast
    returns: specific gravity [1]

    >>> round(float(brine_specific_gravity(0.233)), 3)
    1.178

    Source: `brine_density`; package thermo gives 1.1784, AASHTO M 143-14 prints 1.176.
    """
    return brine_density(concentration, 288.15) / _WATER


def salometer(concentration: ArrayLike) -> Array:
    """Saturation of sodium chloride brine, as a salometer shows it.

    s = w / 0.26395

    concentration: mass of salt over mass of brine [1], broadcast
    returns: share of saturation at 60 degF [1], a hundred salometer degrees being 1

    >>> round(float(salometer(0.233)), 3)
    0.883

    Source: definition of the salometer scale; common practice.
    """
    return as_array(concentration) / _SATURATED


def salt_in_brine(liquid: ArrayLike, density: ArrayLike, concentration: ArrayLike) -> Array:
    """Mass of salt in an amount of brine.

    m = V rho w

    liquid: volume of brine [m3], or for each length of lane [m3/m], broadcast
    density: of the brine [kg/m3], broadcast
    concentration: mass of salt over mass of brine [1], broadcast
    returns: mass of salt [kg], or for each length of lane [kg/m]

    >>> gallon = 3.785411784e-3
    >>> round(float(salt_in_brine(50 * gallon, 1176.0, 0.233)) / 0.45359237)
    114

    Source: arithmetic; Iowa DOT, 2008, rounds it to 110 lb for 50 gal.
    """
    return as_array(liquid) * as_array(density) * as_array(concentration)


def slurry_salt(rate: ArrayLike, brine_share: ArrayLike, concentration: ArrayLike) -> Array:
    """Salt that a slurry of dry salt and brine lays down.

    salt = rate (1 - share + share w)

    rate: mass of slurry for each length of lane [kg/m], broadcast
    brine_share: mass of brine over mass of slurry [1], 0 to 1, broadcast, refused outside
    concentration: mass of salt over mass of brine [1], 0 to 1, broadcast, refused outside
    returns: mass of salt for each length of lane [kg/m]

    >>> round(float(slurry_salt(150.0, 0.30, 0.233)), 1)
    115.5

    Source: Minnesota LTAP Technology Exchange, vol. 25 no. 2, 2017 (150 lb slurry: 116 lb salt).
    """
    share, w = as_array(brine_share), as_array(concentration)
    require_fraction(brine_share=share, concentration=w)
    return as_array(rate) * (1.0 - share + share * w)
