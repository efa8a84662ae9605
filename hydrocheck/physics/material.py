"""Material: from the ordered rate to the feeder's shaft, and back from catch tests.

Discharge per revolution is held for each radian of the feeder's shaft, in kg/rad. Feeder torque and
spinner power live in `feeders`, catch tests in `calibration`, pre-wet in `liquids`, brine in
`brine`, falling grains in `grains`; all their names are reached here too. Every function
broadcasts; a scalar in gives a 0-d result.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics._guard import require_fraction, require_positive
from hydrocheck.physics.arrays import Array, as_array, require
from hydrocheck.physics.brine import (
    brine_density,
    brine_freezing_point,
    brine_specific_gravity,
    brine_viscosity,
    salometer,
    salt_in_brine,
    salt_saving,
    slurry_salt,
)
from hydrocheck.physics.calibration import (
    Catch,
    catch_statistics,
    catches_needed,
    mean_half_width,
    outlier,
    pooled_variation,
    student_t,
    verification_error,
)
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
from hydrocheck.physics.grains import stokes_velocity, terminal_velocity
from hydrocheck.physics.liquids import (
    liquid_flow,
    liquid_per_mass,
    nozzle_flow,
    nozzle_pressure,
    prewet_flow,
)

__all__ = [
    "Catch",
    "application_rate",
    "area_rate",
    "auger_mass_per_revolution",
    "auger_torque",
    "brine_density",
    "brine_freezing_point",
    "brine_specific_gravity",
    "brine_viscosity",
    "catch_statistics",
    "catches_needed",
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
    "mixed_rate",
    "nozzle_flow",
    "nozzle_pressure",
    "outlier",
    "pooled_variation",
    "prewet_flow",
    "road_speed_limit",
    "salometer",
    "salt_in_brine",
    "salt_saving",
    "scaled_rate",
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
    "stokes_velocity",
    "student_t",
    "terminal_velocity",
    "travel_time",
    "verification_error",
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


def scaled_rate(application_rate: ArrayLike, width: ArrayLike, basis_width: ArrayLike) -> Array:
    """Rate moved to another width at equal mass for each area.

    rate' = rate width / basis width

    application_rate: that holds for the basis [kg/m], broadcast
    width: to treat [m], broadcast
    basis_width: that the rate was given for [m], above 0, broadcast, refused outside
    returns: rate for the width to treat [kg/m]

    >>> float(scaled_rate(1.0, 18.0, 24.0))
    0.75

    Source: Minnesota Snow and Ice Control Field Handbook, 2nd revision, 2012 (a rate for a two-lane
    mile, 24 ft, on a road 18 ft wide).
    """
    basis = as_array(basis_width)
    require_positive(basis_width=basis)
    return as_array(application_rate) * as_array(width) / basis


def mixed_rate(application_rate: ArrayLike, share: ArrayLike) -> Array:
    """Rate of one part of a mixture, as the salt in sand.

    rate' = rate share

    application_rate: of the mixture [kg/m], broadcast
    share: of the part, by mass [1], 0 to 1, broadcast, refused outside
    returns: rate of the part [kg/m]

    >>> round(float(mixed_rate(1000.0, 0.10)), 6)
    100.0

    Source: arithmetic; Cornell Local Roads Program workshop, as told in a newspaper (10 % salt in
    1000 lb of sand).
    """
    part = as_array(share)
    require_fraction(share=part)
    return as_array(application_rate) * part


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
