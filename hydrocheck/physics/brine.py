"""Brine of sodium chloride: density, viscosity, freezing point, salt content.

Also reached through `material`. Concentration is mass of salt over mass of brine. Every function
broadcasts; a scalar in gives a 0-d result.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics._guard import require_fraction
from hydrocheck.physics.arrays import Array, as_array, require

__all__ = [
    "EUTECTIC",
    "brine_density",
    "brine_freezing_point",
    "brine_specific_gravity",
    "brine_viscosity",
    "salometer",
    "salt_in_brine",
    "salt_saving",
    "slurry_salt",
]

EUTECTIC = 0.233
"""Concentration of the brine that freezes at the lowest temperature."""

_ZERO_CELSIUS = 273.15
# Density of water at 15 degC [kg/m3].
_WATER = 999.1
# Salt in brine saturated at 60 degF, mass over mass.
_SATURATED = 0.26395
# A little above saturation.
_MOST_SALT = 0.27

# Percent of salt and freezing point in degC: handbook table, from memory.
_FREEZING = np.array(
    [(0.0, 0.0), (1.0, -0.59), (2.0, -1.19), (3.0, -1.79), (4.0, -2.41), (5.0, -3.05)]
    + [(6.0, -3.70), (7.0, -4.38), (8.0, -5.08), (9.0, -5.81), (10.0, -6.56), (12.0, -8.18)]
    + [(14.0, -9.94), (16.0, -11.89), (18.0, -14.04), (20.0, -16.46), (22.0, -19.18)]
    + [(23.3, -21.1)]
)


def _brine_state(concentration: ArrayLike, temperature: ArrayLike) -> tuple[Array, Array]:
    """Concentration and degC, or DomainError outside the range of the laws."""
    w, t = as_array(concentration), as_array(temperature) - _ZERO_CELSIUS
    require((w >= 0.0) & (w <= _MOST_SALT), "brine concentration must be from 0 to 27 %")
    require((t >= -25.0) & (t <= 60.0), "brine temperature must be from -25 degC to 60 degC")
    return w, t


def _water_density(t: Array) -> Array:
    """Kell 1975, t in degC; runs on below 0 degC, as the brine law needs it."""
    high = ((-2.8054253e-10 * t + 1.0556302e-7) * t - 4.6170461e-5) * t - 0.0079870401
    return ((high * t + 16.945176) * t + 999.83952) / (1.0 + 0.01687985 * t)


def brine_density(concentration: ArrayLike, temperature: ArrayLike = 288.15) -> Array:
    """Density of sodium chloride brine.

    1 / rho = (1 - w) / rho_water + w (w + 1.0166 + 0.014624 t) / D
    D = (0.06471 - 0.00433 w) exp(1e-6 (t + 3315.6)^2), t in degC

    concentration: mass of salt over mass of brine, w [1], 0 to 0.27, broadcast, refused outside
    temperature: of the brine [K], 248.15 to 333.15, broadcast, refused outside
    returns: density [kg/m3], within 0.1 % of handbook tables from 0 to 25 degC

    >>> round(float(brine_density(0.233)) / 999.1, 3)
    1.178

    Source: Laliberte and Cooper, Journal of Chemical and Engineering Data 49, 2004, coefficients
    from memory, proved on a general-purpose library; AASHTO M 143-14 has a specific gravity of
    1.176 at 23.3 % and 59 degF.
    """
    w, t = _brine_state(concentration, temperature)
    held = (0.06471 - 0.00433 * w) * np.exp(1e-6 * (t + 3315.6) ** 2)
    result: Array = 1.0 / ((1.0 - w) / _water_density(t) + w * (w + 1.0166 + 0.014624 * t) / held)
    return result


def brine_viscosity(concentration: ArrayLike, temperature: ArrayLike) -> Array:
    """Dynamic viscosity of sodium chloride brine.

    mu = mu_water^(1 - w) mu_salt^w, in mPa s with t in degC
    mu_water = (t + 246) / ((0.05594 t + 5.2842) t + 137.37)
    mu_salt = exp((16.222 w^1.3229 + 1.4849) / (0.0074691 t + 1)) / (30.78 w^2.0583 + 1)

    concentration: mass of salt over mass of brine, w [1], 0 to 0.27, broadcast, refused outside
    temperature: of the brine [K], 248.15 to 333.15, broadcast, refused outside
    returns: dynamic viscosity [Pa s]; below the freezing point it means nothing

    >>> round(float(brine_viscosity(0.233, 273.15)) * 1e3, 3)
    3.084

    Source: Laliberte, Journal of Chemical and Engineering Data 52, 2007, coefficients from memory,
    proved on a general-purpose library and on a handbook table.
    """
    w, t = _brine_state(concentration, temperature)
    water = (t + 246.0) / ((0.05594 * t + 5.2842) * t + 137.37)
    salt = np.exp((16.222 * w**1.3229 + 1.4849) / (0.0074691 * t + 1.0))
    salt = salt / (30.78 * w**2.0583 + 1.0)
    result: Array = 1e-3 * water ** (1.0 - w) * salt**w
    return result


def brine_freezing_point(concentration: ArrayLike) -> Array:
    """Temperature at which ice begins to form in sodium chloride brine.

    table, straight between its points

    concentration: mass of salt over mass of brine [1], 0 to 0.233, broadcast, refused outside
    returns: temperature [K]

    Above the eutectic salt settles out first, at a higher temperature.

    >>> round(float(brine_freezing_point(0.233)) - 273.15, 1)
    -21.1

    Source: handbook table, from memory; Oregon State University, S.G. 22, 1973 (eutectic -6 degF).
    """
    w = as_array(concentration)
    require((w >= 0.0) & (w <= EUTECTIC), "brine concentration must be from 0 to 23.3 %")
    percent, celsius = _FREEZING.T
    return np.asarray(np.interp(100.0 * w, percent, celsius)) + _ZERO_CELSIUS


def brine_specific_gravity(concentration: ArrayLike) -> Array:
    """Specific gravity of sodium chloride brine at 15 degC, over water at 15 degC.

    SG = rho(w, 15 degC) / 999.1

    concentration: mass of salt over mass of brine [1], 0 to 0.27, broadcast, refused outside
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


def salt_saving(brine_share: ArrayLike, concentration: ArrayLike) -> Array:
    """Salt that a slurry spares against as much dry salt, as a share of it.

    saving = share (1 - w)

    brine_share: mass of brine over mass of slurry [1], 0 to 1, broadcast, refused outside
    concentration: mass of salt over mass of brine, w [1], 0 to 1, broadcast, refused outside
    returns: saving [1]

    >>> round(float(salt_saving(0.30, 0.233)), 4)
    0.2301

    Source: Minnesota LTAP Technology Exchange, vol. 25 no. 2, 2017 (30 %: 23 % less salt).
    """
    share, w = as_array(brine_share), as_array(concentration)
    require_fraction(brine_share=share, concentration=w)
    return share * (1.0 - w)
