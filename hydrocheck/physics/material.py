"""Material: from the ordered rate to the feeder's shaft, and back from catch tests.

Discharge per revolution is held for each radian of the feeder's shaft, in kg/rad. Feeder torque and
spinner power live in `feeders`, pre-wet and brine in `liquids`; all their names are reached here
too. Every function broadcasts; a scalar in gives a 0-d result.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics._guard import require_positive
from hydrocheck.physics.arrays import Array, as_array, require
from hydrocheck.physics.feeders import (
    auger_torque,
    feeder_pull,
    flowing_load_factor,
    hopper_load,
    initial_load_factor,
    screw_material_power,
    screw_power,
    shaft_torque,
    spinner_disc_power,
    spinner_exit_speed,
    spinner_power,
    spinner_torque,
)
from hydrocheck.physics.liquids import (
    brine_density,
    brine_specific_gravity,
    liquid_flow,
    liquid_per_mass,
    prewet_flow,
    salometer,
    salt_in_brine,
    slurry_salt,
)

__all__ = [
    "Catch",
    "application_rate",
    "area_rate",
    "auger_mass_per_revolution",
    "auger_torque",
    "brine_density",
    "brine_specific_gravity",
    "catch_statistics",
    "conveyor_mass_per_revolution",
    "discharge",
    "feeder_pull",
    "flowing_load_factor",
    "hopper_load",
    "initial_load_factor",
    "lane_rate",
    "liquid_flow",
    "liquid_per_mass",
    "mean_half_width",
    "prewet_flow",
    "road_speed_limit",
    "salometer",
    "salt_in_brine",
    "screw_material_power",
    "screw_power",
    "shaft_discharge",
    "shaft_speed",
    "shaft_torque",
    "slurry_salt",
    "spinner_disc_power",
    "spinner_exit_speed",
    "spinner_power",
    "spinner_torque",
    "student_t",
    "travel_time",
]

TURN = 2.0 * np.pi


def discharge(application_rate: ArrayLike, road_speed: ArrayLike, lanes: ArrayLike = 1.0) -> Array:
    """Mass flow that an ordered rate asks of the feeder.

    m = rate v lanes

    application_rate: mass for each length of lane [kg/m], broadcast
    road_speed: of the truck [m/s], broadcast
    lanes: treated at once [1], broadcast
    returns: mass flow [kg/s]

    >>> lb, mile, minute = 0.45359237, 1609.344, 60.0
    >>> round(float(discharge(600 * lb / mile, 20 * mile / 3600)) / lb * minute, 6)
    200.0

    Source: Minnesota Snow and Ice Control Field Handbook, 2nd revision, 2012, calibration example.
    """
    return as_array(application_rate) * as_array(road_speed) * as_array(lanes)


def application_rate(discharge: ArrayLike, road_speed: ArrayLike, lanes: ArrayLike = 1.0) -> Array:
    """Rate that a mass flow lays down.

    rate = m / (v lanes)

    discharge: mass flow [kg/s], broadcast
    road_speed: of the truck [m/s], broadcast
    lanes: treated at once [1], broadcast
    returns: mass for each length of lane [kg/m]; inf at rest, nan at rest without discharge

    >>> lb, mile = 0.45359237, 1609.344
    >>> round(float(application_rate(200 * lb / 60, 20 * mile / 3600)) / lb * mile, 6)
    600.0

    Source: Minnesota Snow and Ice Control Field Handbook, 2nd revision, 2012, calibration example.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return as_array(discharge) / (as_array(road_speed) * as_array(lanes))


def road_speed_limit(
    discharge: ArrayLike, application_rate: ArrayLike, lanes: ArrayLike = 1.0
) -> Array:
    """Road speed up to which a mass flow holds a rate.

    v = m / (rate lanes)

    discharge: greatest mass flow of the feeder [kg/s], broadcast
    application_rate: mass for each length of lane [kg/m], broadcast
    lanes: treated at once [1], broadcast
    returns: road speed [m/s], inf for a rate of 0

    >>> round(float(road_speed_limit(2.0, 0.1, 2.0)), 6)
    10.0

    Source: `discharge` turned round.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return as_array(discharge) / (as_array(application_rate) * as_array(lanes))


def lane_rate(area_rate: ArrayLike, width: ArrayLike) -> Array:
    """Rate for a lane from a rate for an area.

    rate = area rate width

    area_rate: mass for each area [kg/m2], broadcast
    width: of the lane [m], broadcast
    returns: mass for each length of lane [kg/m]

    >>> round(float(lane_rate(0.001, 12 * 0.3048)) / 0.45359237 * 1609.344, 2)
    12.98

    Source: arithmetic; 1 g/m2 is 12.98 lb for a mile of 12 ft lane.
    """
    return as_array(area_rate) * as_array(width)


def area_rate(lane_rate: ArrayLike, width: ArrayLike) -> Array:
    """Rate for an area from a rate for a lane.

    area rate = rate / width

    lane_rate: mass for each length of lane [kg/m], broadcast
    width: of the lane [m], above 0, broadcast, refused outside with DomainError
    returns: mass for each area [kg/m2]

    >>> round(float(area_rate(0.45359237 / 1609.344, 12 * 0.3048)) * 1e3, 5)
    0.07706

    Source: arithmetic; 1 lb for a mile of 12 ft lane is 0.07706 g/m2.
    """
    across = as_array(width)
    require_positive(width=across)
    return as_array(lane_rate) / across


def travel_time(distance: ArrayLike, road_speed: ArrayLike) -> Array:
    """Time that a truck takes over a distance, the handbooks' minutes per mile.

    t = distance / v

    distance: along the road [m], broadcast
    road_speed: of the truck [m/s], broadcast
    returns: time [s], inf at rest

    >>> round(float(travel_time(1609.344, 20 * 1609.344 / 3600)) / 60, 6)
    3.0

    Source: Minnesota Snow and Ice Control Field Handbook, 2nd revision, 2012, calibration example.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return as_array(distance) / as_array(road_speed)


def shaft_speed(discharge: ArrayLike, mass_per_revolution: ArrayLike) -> Array:
    """Feeder shaft speed for a mass flow.

    n = m / M

    discharge: mass flow [kg/s], broadcast
    mass_per_revolution: discharge of a turn [kg/rad], above 0, broadcast, refused outside
    returns: shaft speed [rad/s]

    >>> round(float(shaft_speed(1.5, 3.0 / 6.283185307)) * 60 / 6.283185307, 6)
    30.0

    Source: definition.
    """
    turn = as_array(mass_per_revolution)
    require_positive(mass_per_revolution=turn)
    return as_array(discharge) / turn


def shaft_discharge(shaft_speed: ArrayLike, mass_per_revolution: ArrayLike) -> Array:
    """Mass flow of a feeder at a shaft speed.

    m = n M

    shaft_speed: of the feeder [rad/s], broadcast
    mass_per_revolution: discharge of a turn [kg/rad], broadcast
    returns: mass flow [kg/s]

    >>> round(float(shaft_discharge(3.0, 0.5)), 6)
    1.5

    Source: definition.
    """
    return as_array(shaft_speed) * as_array(mass_per_revolution)


def auger_mass_per_revolution(
    diameter: ArrayLike,
    shaft_diameter: ArrayLike,
    pitch: ArrayLike,
    fill: ArrayLike,
    density: ArrayLike,
) -> Array:
    """Discharge per revolution of an auger from its shape.

    M = rho fill (pi / 4) (D^2 - d^2) pitch / (2 pi)

    diameter: over the flighting [m], broadcast
    shaft_diameter: of the core tube [m], below the diameter, broadcast, refused outside
    pitch: advance of the flighting at the outlet in a turn [m], broadcast
    fill: share of the swept volume that comes out [1], broadcast
    density: bulk, of the material [kg/m3], broadcast
    returns: mass for each angle turned [kg/rad]

    A flooded auger fills 0.85 (0.70 to 0.95); a control-fed screw 0.15 to 0.45. A catch test
    overrides: grain, moisture and wear move it by tens of percent.

    >>> inch, foot = 0.0254, 0.3048
    >>> mass = auger_mass_per_revolution(7 * inch, 4 * inch, 6 * inch, 1.0, 1.0)
    >>> round(float(mass) * 6.283185307 / foot**3, 5)
    0.08999

    Source: swept volume; fill from the International Research Journal of Engineering and
    Technology, March 2019, Table 1 (0.87, s.d. 0.045), rounded.
    """
    outer, core = as_array(diameter), as_array(shaft_diameter)
    require((core >= 0.0) & (core < outer), "auger shaft must be thinner than the auger")
    area = 0.25 * np.pi * (outer**2 - core**2)
    return as_array(density) * as_array(fill) * area * as_array(pitch) / TURN


def conveyor_mass_per_revolution(
    width: ArrayLike,
    gate: ArrayLike,
    feed: ArrayLike,
    fill: ArrayLike,
    density: ArrayLike,
) -> Array:
    """Discharge per revolution of a belt or chain conveyor from its shape.

    M = rho fill width gate feed / (2 pi)

    width: of the bed of material [m], broadcast
    gate: height of the gate's opening [m], broadcast
    feed: advance of the belt in a turn of the shaft [m], broadcast
    fill: share of the opening that comes out [1], broadcast
    density: bulk, of the material [kg/m3], broadcast
    returns: mass for each angle turned [kg/rad]

    A gate lower than five or six grains bridges.

    >>> round(float(conveyor_mass_per_revolution(0.6, 0.05, 0.5, 1.0, 1200.0)) * 6.283185307, 3)
    18.0

    Source: swept volume; common practice.
    """
    bed = as_array(width) * as_array(gate) * as_array(feed)
    return as_array(density) * as_array(fill) * bed / TURN


@dataclass(frozen=True)
class Catch:
    """What a catch test says: see `catch_statistics`."""

    mean: float
    """Mean discharge per revolution [kg/rad]."""
    variation: float
    """Coefficient of variation of a catch [1]; nan from a single catch."""
    half_width: float
    """Half-width of the 95 % interval of the mean, over the mean [1]; inf from a single catch."""
    count: int
    """Number of catches."""


def catch_statistics(masses: ArrayLike, angles: ArrayLike) -> Catch:
    """Discharge per revolution from weighed catches, and how well it is known.

    mean and sample coefficient of variation of mass / angle; half-width t cv / sqrt(count)

    masses: weights of the catches [kg], (K,), above 0
    angles: turned by the shaft during each, 2 pi for a turn [rad], (K,) or one for all, above 0
    returns: `Catch`; its mean in [kg/rad], the rest in [1]

    Takes catches as independent and of the normal kind. No catch, and what is not above 0, is
    refused with DomainError.

    >>> catch = catch_statistics([10.0, 10.2, 9.8], 6.283185307)
    >>> round(catch.variation, 3), round(catch.half_width, 3)
    (0.02, 0.05)

    Source: Student's t at 95 %; from memory. At 2 % variation three catches give 5.0 %.
    """
    mass, angle = np.broadcast_arrays(np.atleast_1d(as_array(masses)), as_array(angles))
    require(mass.ndim == 1 and mass.size > 0, "a catch test needs at least one catch")
    require_positive(catch_mass=mass, catch_revolutions=angle)
    each = mass / angle
    mean = float(np.mean(each))
    if each.size == 1:
        return Catch(mean, np.nan, np.inf, 1)
    variation = float(np.std(each, ddof=1)) / mean
    return Catch(mean, variation, float(mean_half_width(variation, each.size)), each.size)


def mean_half_width(
    variation: ArrayLike, count: ArrayLike, degrees_of_freedom: ArrayLike | None = None
) -> Array:
    """Half-width of the 95 % interval of a mean of catches, over the mean.

    w = t cv / sqrt(count)

    variation: coefficient of variation of a catch [1], broadcast
    count: catches in the mean [1], at least 1, broadcast
    degrees_of_freedom: behind the variation [1], count - 1 unless pooled, broadcast
    returns: half-width [1], inf with no degree of freedom

    >>> [round(float(mean_half_width(0.02, n)), 3) for n in (3, 4, 5)]
    [0.05, 0.032, 0.025]
    >>> round(float(mean_half_width(0.02, 3, 6)), 3)
    0.028

    Source: Student's t at 95 %; from memory.
    """
    number = as_array(count)
    require(number >= 1, "a catch test needs at least one catch")
    freedom = number - 1.0 if degrees_of_freedom is None else as_array(degrees_of_freedom)
    result: Array = student_t(freedom) * as_array(variation) / np.sqrt(number)
    return result


# Two-sided 95 % values of Student's t for 0 to 30 degrees of freedom, from memory, proved by test.
_T_TABLE = np.array(
    [np.inf, 12.7062, 4.3027, 3.1824, 2.7764, 2.5706, 2.4469, 2.3646, 2.3060, 2.2622, 2.2281]
    + [2.2010, 2.1788, 2.1604, 2.1448, 2.1314, 2.1199, 2.1098, 2.1009, 2.0930, 2.0860]
    + [2.0796, 2.0739, 2.0687, 2.0639, 2.0595, 2.0555, 2.0518, 2.0484, 2.0452, 2.0423]
)
_NORMAL = 1.959964


def student_t(degrees_of_freedom: ArrayLike) -> Array:
    """Two-sided 95 % value of Student's t.

    table to 30; beyond it z + (z^3 + z) / (4 n) + (5 z^5 + 16 z^3 + 3 z) / (96 n^2), z = 1.96

    degrees_of_freedom: whole number [1], at least 0, broadcast, refused outside
    returns: t [1], inf for 0

    >>> float(student_t(2))
    4.3027

    Source: any table of Student's t; from memory. Expansion: Cornish and Fisher, from memory.
    """
    n = as_array(degrees_of_freedom)
    require((n >= 0) & (n == np.floor(n)), "degrees of freedom must be a whole number from 0")
    z = _NORMAL
    many = np.maximum(n, 30.0)
    far = z + (z**3 + z) / (4 * many) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * many**2)
    return np.where(n <= 30, _T_TABLE[np.minimum(n, 30.0).astype(np.int64)], far)
