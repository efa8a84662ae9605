"""Oil: viscosity against temperature, viscosity index, grades, density, compression, cleanliness.

Every function broadcasts; a scalar in gives a 0-d result. Viscosity alone is kinematic.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics._guard import require_not_negative, require_positive
from hydrocheck.physics.arrays import Array, as_array, require

__all__ = [
    "cleanliness_code",
    "cleanliness_limit",
    "compression",
    "density",
    "dynamic_viscosity",
    "grade_line",
    "iso_grade_limits",
    "kinematic_from_saybolt",
    "kinematic_viscosity",
    "saybolt_from_kinematic",
    "temperature_at_viscosity",
    "trapped_pressure_rise",
    "viscosity_at_100",
    "viscosity_index",
    "viscosity_line",
]

CENTISTOKE = 1e-6
ZERO_CELSIUS = 273.15
CELSIUS_40 = ZERO_CELSIUS + 40.0
CELSIUS_100 = ZERO_CELSIUS + 100.0
REFERENCE_DENSITY_TEMPERATURE = ZERO_CELSIUS + 15.0

# Constant of the shortened ASTM D341 equation, cSt.
WALTHER_SHIFT = 0.7
# log10 of the thickest oil returned, cSt: beyond it oil is solid and the law means nothing.
LOG_VISCOSITY_CAP = 12.0


def viscosity_line(
    temperature_1: ArrayLike,
    viscosity_1: ArrayLike,
    temperature_2: ArrayLike,
    viscosity_2: ArrayLike,
) -> tuple[Array, Array]:
    """Constants of the viscosity-temperature line through two points.

    log10 log10(nu + 0.7) = a - b log10 T, nu in cSt, T in K.

    temperature_1, temperature_2: of the two points [K], different, broadcast
    viscosity_1, viscosity_2: kinematic, at these [m2/s], above 0.31e-6, broadcast
    returns: a [1] and b [1]; b is above 0 when the oil thins with heat

    Valid for petroleum oils above about 2 cSt (the long form of the standard adds terms below).
    Equal or non-positive temperatures and thinner values are refused with DomainError.

    >>> a, b = viscosity_line(313.15, 46e-6, 373.15, 6.76e-6)
    >>> round(float(kinematic_viscosity(273.15, a, b)) * 1e6)
    585

    Source: ASTM D341, shortened equation; from memory. Example: own table for VG 46, index 100.
    """
    kelvin_1, kelvin_2 = as_array(temperature_1), as_array(temperature_2)
    nu_1, nu_2 = as_array(viscosity_1) / CENTISTOKE, as_array(viscosity_2) / CENTISTOKE
    require((kelvin_1 > 0) & (kelvin_2 > 0), "oil temperature must be above absolute zero")
    require(kelvin_1 != kelvin_2, "the two oil viscosity points need different temperatures")
    require(
        (nu_1 > 0.31) & (nu_2 > 0.31) & np.isfinite(nu_1) & np.isfinite(nu_2),
        "oil viscosity must be above 0.31 cSt",
    )
    w_1 = np.log10(np.log10(nu_1 + WALTHER_SHIFT))
    w_2 = np.log10(np.log10(nu_2 + WALTHER_SHIFT))
    log_1, log_2 = np.log10(kelvin_1), np.log10(kelvin_2)
    b = (w_1 - w_2) / (log_2 - log_1)
    return w_1 + b * log_1, b


def kinematic_viscosity(temperature: ArrayLike, a: ArrayLike, b: ArrayLike) -> Array:
    """Kinematic viscosity at a temperature.

    nu = 10^(10^(a - b log10 T)) - 0.7, nu in cSt, T in K.

    temperature: of the oil [K], broadcast
    a, b: from `viscosity_line` [1], broadcast
    returns: kinematic viscosity [m2/s]

    Good between the two points of the line; below the pour point real oil is thicker. Capped at
    1e12 cSt (solid), nan below 0 K, never a warning.

    >>> a, b = viscosity_line(313.15, 32e-6, 373.15, 5.36e-6)
    >>> round(float(kinematic_viscosity(333.15, a, b)) * 1e6, 1)
    15.1

    Source: ASTM D341; from memory.
    """
    with np.errstate(all="ignore"):
        inner = as_array(a) - as_array(b) * np.log10(as_array(temperature))
        exponent = np.minimum(10.0**inner, LOG_VISCOSITY_CAP)
        result: Array = (10.0**exponent - WALTHER_SHIFT) * CENTISTOKE
    return result


def temperature_at_viscosity(viscosity: ArrayLike, a: ArrayLike, b: ArrayLike) -> Array:
    """Temperature at which the oil has a kinematic viscosity.

    log10 T = (a - log10 log10(nu + 0.7)) / b, nu in cSt.

    viscosity: kinematic [m2/s], above 0.31e-6, broadcast
    a, b: from `viscosity_line` [1], b not 0, broadcast
    returns: temperature [K]

    Values outside are refused with DomainError.

    >>> a, b = viscosity_line(313.15, 46e-6, 373.15, 6.76e-6)
    >>> round(float(temperature_at_viscosity(46e-6, a, b)), 2)
    313.15

    Source: ASTM D341, solved for T; from memory.
    """
    nu = as_array(viscosity) / CENTISTOKE
    slope = as_array(b)
    require(nu > 0.31, "oil viscosity must be above 0.31 cSt")
    require(slope != 0, "oil viscosity does not change with temperature")
    result: Array = 10.0 ** ((as_array(a) - np.log10(np.log10(nu + WALTHER_SHIFT))) / slope)
    return result


# ASTM D2270 fits of the basic values for nu_100 = Y cSt, from memory:
# from Y up to the next row's Y, L = a Y^2 + b Y + c and H = d Y^2 + e Y + f.
_INDEX_FITS = np.array(
    [
        # Y,      a,        b,        c,        d,        e,       f
        (2.0, 1.14673, 1.7576, -0.109, 0.84155, 1.5521, -0.077),
        (3.8, 3.38095, -15.4952, 33.196, 0.78571, 1.7929, -0.183),
        (4.4, 2.5000, -7.2143, 13.812, 0.82143, 1.5679, 0.119),
        (5.0, 0.10100, 16.6350, -45.469, 0.04985, 9.1613, -18.557),
        (6.4, 3.35714, -23.5643, 78.466, 0.22619, 7.7369, -16.656),
        (7.0, 0.01191, 21.4750, -72.870, 0.79762, -0.7321, 14.610),
        (7.7, 0.41858, 16.1558, -56.040, 0.05794, 10.5156, -28.240),
        (9.0, 0.88779, 7.5527, -16.600, 0.26665, 6.7015, -10.810),
        (12.0, 0.76720, 10.7972, -38.180, 0.20073, 8.4658, -22.490),
        (15.0, 0.97305, 5.3135, -2.200, 0.28889, 5.9741, -4.930),
        (18.0, 0.97256, 5.2500, -0.980, 0.24504, 7.4160, -16.730),
        (22.0, 0.91413, 7.4759, -21.820, 0.20323, 9.1267, -34.230),
        (28.0, 0.87031, 9.7157, -50.770, 0.18411, 10.1015, -46.750),
        (40.0, 0.84703, 12.6752, -133.310, 0.17029, 11.4866, -80.620),
        (55.0, 0.85921, 11.1009, -83.190, 0.17130, 11.3680, -76.940),
        (70.0, 0.83531, 14.6731, -216.246, 0.16841, 11.8493, -96.947),
    ]
)
_INDEX_FIT_STARTS = _INDEX_FITS[:, 0]


def _index_bases(nu_100: Array) -> tuple[Array, Array]:
    """Basic values L and H [cSt] of the two reference oils with nu_100 [cSt]."""
    row = _INDEX_FITS[np.maximum(np.searchsorted(_INDEX_FIT_STARTS, nu_100, side="right") - 1, 0)]
    low = (row[..., 1] * nu_100 + row[..., 2]) * nu_100 + row[..., 3]
    high = (row[..., 4] * nu_100 + row[..., 5]) * nu_100 + row[..., 6]
    return low, high


def viscosity_index(nu40: ArrayLike, nu100: ArrayLike) -> Array:
    """Viscosity index of an oil from its viscosities at 40 and 100 degC, unrounded.

    A (nu40 >= H): VI = 100 (L - nu40) / (L - H)
    B (nu40 < H): VI = 100 + (10^N - 1) / 0.00715, N = log10(H / nu40) / log10(nu100)

    nu40: kinematic viscosity at 40 degC [m2/s], broadcast
    nu100: kinematic viscosity at 100 degC [m2/s], at least 2e-6, broadcast
    returns: viscosity index [1]; the standard prints it as a whole number

    L and H are quadratic fits in nu100 that join within 0.2 % of each other. nu100 below 2 cSt or
    not below nu40 is refused with DomainError.

    >>> round(float(viscosity_index(73.30e-6, 8.86e-6)))
    92
    >>> round(float(viscosity_index(22.83e-6, 5.05e-6)))
    156

    Source: ASTM D2270, procedures A and B; fits from memory, examples 5.1.4 and 6.1.4 (1).
    """
    nu_40, nu_100 = as_array(nu40) / CENTISTOKE, as_array(nu100) / CENTISTOKE
    require(nu_100 >= 2.0 - 1e-9, "viscosity index needs at least 2 cSt at 100 degC")
    require(nu_40 > nu_100, "oil must be thinner at 100 degC than at 40 degC")
    return _index(nu_40, nu_100)


def _index(nu_40: Array, nu_100: Array) -> Array:
    """Viscosity index from viscosities in cSt, unchecked."""
    low, high = _index_bases(nu_100)
    procedure_a = 100.0 * (low - nu_40) / (low - high)
    ratio = np.maximum(high / nu_40, 1.0)
    # 10^N, with N the logarithm of the ratio over that of nu_100.
    procedure_b = 100.0 + (ratio ** (1.0 / np.log10(nu_100)) - 1.0) / 0.00715
    return np.where(nu_40 >= high, procedure_a, procedure_b)


def _bisect(rising: Callable[[Array], Array], low: Array, high: Array) -> Array:
    """Where a rising function crosses zero between low and high, element by element."""
    for _ in range(60):
        middle = 0.5 * (low + high)
        below = rising(middle) < 0.0
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return 0.5 * (low + high)


def viscosity_at_100(nu40: ArrayLike, viscosity_index: ArrayLike) -> Array:
    """Kinematic viscosity at 100 degC of an oil known by its value at 40 degC and its index.

    Solves VI(nu40, nu100) = viscosity_index for nu100 by bisection.

    nu40: kinematic viscosity at 40 degC [m2/s], broadcast
    viscosity_index: of the oil [1], broadcast
    returns: kinematic viscosity at 100 degC [m2/s]

    Refused with DomainError where no nu100 of at least 2 cSt has that index.

    >>> round(float(viscosity_at_100(32e-6, 100)) * 1e6, 2)
    5.36

    Source: ASTM D2270 turned round. Example: own table of grades at index 100.
    """
    nu_40, wanted = np.broadcast_arrays(as_array(nu40) / CENTISTOKE, as_array(viscosity_index))
    require(np.isfinite(wanted), "viscosity index must be a number")
    require(np.isfinite(nu_40) & (nu_40 > 2.0), "viscosity index needs more than 2 cSt at 40 degC")
    least, most = np.full(nu_40.shape, 2.0), nu_40 * (1.0 - 1e-9)
    inside = (_index(nu_40, least) <= wanted) & (wanted <= _index(nu_40, most))
    require(inside, "no oil of at least 2 cSt at 100 degC has that grade and viscosity index")
    return _bisect(lambda nu_100: _index(nu_40, nu_100) - wanted, least, most) * CENTISTOKE


def grade_line(grade_nu40: ArrayLike, viscosity_index: ArrayLike) -> tuple[Array, Array]:
    """Constants of the viscosity-temperature line of an ISO grade with a viscosity index.

    The line of `viscosity_line` through (40 degC, nu40) and (100 degC, nu100 from the index).

    grade_nu40: kinematic viscosity at 40 degC, the grade's number in cSt [m2/s], broadcast
    viscosity_index: of the oil [1], broadcast
    returns: a [1] and b [1]

    Refused with DomainError as in `viscosity_at_100`.

    >>> a, b = grade_line(46e-6, 100)
    >>> round(float(kinematic_viscosity(293.15, a, b)) * 1e6, 1)
    134.5

    Source: ASTM D341 and D2270, ISO 3448. Example: own table of grades at index 100.
    """
    if isinstance(grade_nu40, float) and isinstance(viscosity_index, float):
        return _grade_line(grade_nu40, viscosity_index)
    nu100 = viscosity_at_100(grade_nu40, viscosity_index)
    return viscosity_line(CELSIUS_40, grade_nu40, CELSIUS_100, nu100)


@lru_cache(maxsize=64)
def _grade_line(grade_nu40: float, viscosity_index: float) -> tuple[Array, Array]:
    """One oil's line, kept: a truck asks for the same oil in every solve."""
    nu100 = viscosity_at_100(grade_nu40, viscosity_index)
    return viscosity_line(CELSIUS_40, grade_nu40, CELSIUS_100, nu100)


def iso_grade_limits(grade: ArrayLike) -> tuple[Array, Array]:
    """Lowest and highest kinematic viscosity at 40 degC that an ISO grade allows.

    0.9 grade and 1.1 grade

    grade: midpoint kinematic viscosity at 40 degC [m2/s], broadcast
    returns: the two limits [m2/s]

    >>> low, high = iso_grade_limits(32e-6)
    >>> round(float(low) * 1e6, 1), round(float(high) * 1e6, 1)
    (28.8, 35.2)

    Source: ISO 3448:1992, grade table.
    """
    middle = as_array(grade)
    require_positive(grade=middle)
    return 0.9 * middle, 1.1 * middle


def saybolt_from_kinematic(viscosity: ArrayLike) -> Array:
    """Saybolt universal seconds at 100 degF of a kinematic viscosity.

    t = 4.6324 nu + (1 + 0.03264 nu) / ((3930.2 + 262.7 nu + 23.97 nu^2 + 1.646 nu^3) 1e-5)

    viscosity: kinematic [m2/s], at least 1.81e-6 (32 seconds), broadcast
    returns: Saybolt universal time [s]

    Thinner oils are refused with DomainError. At 210 degF the time is 0.7 % longer.

    >>> round(float(saybolt_from_kinematic(46e-6)), 1)
    214.2

    Source: ASTM D2161, from memory. Example: package chemicals, viscosity_converter.
    """
    nu = as_array(viscosity) / CENTISTOKE
    require(nu >= 1.81 - 1e-9, "Saybolt seconds need at least 1.81 cSt")
    return _saybolt(nu)


def _saybolt(nu: Array) -> Array:
    """Saybolt universal seconds of nu [cSt], unchecked."""
    bottom = (3930.2 + nu * (262.7 + nu * (23.97 + nu * 1.646))) * 1e-5
    return 4.6324 * nu + (1.0 + 0.03264 * nu) / bottom


def kinematic_from_saybolt(time: ArrayLike) -> Array:
    """Kinematic viscosity of an oil from its Saybolt universal seconds at 100 degF.

    `saybolt_from_kinematic` turned round by bisection.

    time: Saybolt universal time [s], at least 32, broadcast
    returns: kinematic viscosity [m2/s]

    Shorter times are refused with DomainError.

    >>> round(float(kinematic_from_saybolt(230.0)) * 1e6, 1)
    49.4

    Source: ASTM D2161, from memory.
    """
    seconds = as_array(time)
    require(np.isfinite(seconds) & (seconds >= 32.0), "Saybolt seconds must be at least 32 seconds")
    low = np.full(seconds.shape, 1.5)
    return _bisect(lambda nu: _saybolt(nu) - seconds, low, seconds / 4.0) * CENTISTOKE


def density(temperature: ArrayLike, density_15: ArrayLike, expansion: ArrayLike) -> Array:
    """Density of oil at a temperature.

    rho = rho_15 (1 - expansion (T - 288.15))

    temperature: of the oil [K], broadcast
    density_15: density at 15 degC [kg/m3], broadcast
    expansion: volumetric thermal expansion [1/K], about 7e-4, broadcast
    returns: density [kg/m3]

    Linear: good from -40 to 120 degC. Pressure is left out (about +1 % at 150 bar).

    >>> round(float(density(313.15, 870.0, 7e-4)), 1)
    854.8

    Source: common practice; 870 kg/m3 and 7e-4 1/K from memory.
    """
    warmer = as_array(temperature) - REFERENCE_DENSITY_TEMPERATURE
    return as_array(density_15) * (1.0 - as_array(expansion) * warmer)


def dynamic_viscosity(kinematic: ArrayLike, density: ArrayLike) -> Array:
    """Dynamic viscosity of an oil.

    mu = rho nu

    kinematic: kinematic viscosity [m2/s], broadcast
    density: of the oil [kg/m3], broadcast
    returns: dynamic viscosity [Pa s]

    >>> round(float(dynamic_viscosity(50e-6, 900.0)), 4)
    0.045

    Source: definition. Example: Fluid Power with Applications, 6th ed., 2005, Example 2-12.
    """
    return as_array(kinematic) * as_array(density)


def compression(volume: ArrayLike, pressure_rise: ArrayLike, bulk_modulus: ArrayLike) -> Array:
    """Volume by which oil shrinks under a pressure rise.

    dV = V dp / K

    volume: at the start [m3], broadcast
    pressure_rise: above the start [Pa], broadcast
    bulk_modulus: of the oil [Pa], about 1.6e9 without air, broadcast
    returns: volume lost [m3], positive for a rise

    Linear: dp much smaller than K. Free air lowers K, at low pressure by more than half.

    >>> round(float(compression(10.0, 1900.0, 250000.0)), 3)
    0.076

    Source: Fluid Power with Applications, 6th ed., 2005, Example 2-11.
    """
    modulus = as_array(bulk_modulus)
    require_positive(bulk_modulus=modulus)
    return as_array(volume) * as_array(pressure_rise) / modulus


def trapped_pressure_rise(
    temperature_rise: ArrayLike, bulk_modulus: ArrayLike, expansion: ArrayLike
) -> Array:
    """Pressure rise of oil locked in a rigid volume and warmed.

    dp = K expansion dT

    temperature_rise: of the oil [K], broadcast
    bulk_modulus: of the oil [Pa], broadcast
    expansion: volumetric thermal expansion of the oil, less that of the vessel [1/K], broadcast
    returns: pressure rise [Pa]

    An upper bound: hoses and cylinders stretch, and air gives way.

    >>> round(float(trapped_pressure_rise(1.0, 1.57e9, 7e-4)) / 1e5)
    11

    Source: common practice; a training site states 11 bar for each kelvin.
    """
    return as_array(bulk_modulus) * as_array(expansion) * as_array(temperature_rise)


# ISO 4406:1999, most particles in a millilitre for scale numbers 0 to 28.
_CLEANLINESS = np.array(
    [0.01, 0.02, 0.04, 0.08, 0.16, 0.32, 0.64, 1.3, 2.5, 5, 10, 20, 40, 80, 160, 320, 640]
    + [1300, 2500, 5000, 10000, 20000, 40000, 80000, 160000, 320000, 640000, 1.3e6, 2.5e6]
)
_MILLILITRE = 1e-6


def cleanliness_limit(code: ArrayLike) -> Array:
    """Most particles in a cubic metre of oil that a cleanliness scale number allows.

    Table; each number doubles the one before, rounded.

    code: ISO 4406 scale number [1], whole, 0 to 28, broadcast
    returns: particles in a cubic metre of oil, up to and including [1]

    Other numbers are refused with DomainError.

    >>> round(float(cleanliness_limit(18)) * 1e-6)
    2500

    Source: ISO 4406:1999, scale table; rows 13, 16, 18, 20 and 21 read, the rest from memory.
    """
    number = as_array(code)
    whole = (number == np.floor(number)) & (number >= 0) & (number < len(_CLEANLINESS))
    require(whole, "cleanliness scale number must be a whole number from 0 to 28")
    result: Array = _CLEANLINESS[number.astype(np.int64)] / _MILLILITRE
    return as_array(result)


def cleanliness_code(particles: ArrayLike) -> Array:
    """Cleanliness scale number of a particle count.

    The least number whose limit holds the count.

    particles: count in a cubic metre of oil [1], broadcast
    returns: ISO 4406 scale number [1], 0 to 28

    Counts that are negative or above 2.5e6 in a millilitre are refused with DomainError.

    >>> int(cleanliness_code(1400e6))
    18

    Source: ISO 4406:1999, scale table; from memory beyond the rows of `cleanliness_limit`.
    """
    count = as_array(particles)
    require_not_negative(particles=count)
    # A hair of slack, so that a limit belongs to its own number after the change of unit.
    number = np.searchsorted(_CLEANLINESS * (1.0 + 1e-12), count * _MILLILITRE)
    require(number < len(_CLEANLINESS), "particle count is beyond the cleanliness scale")
    return as_array(number)
