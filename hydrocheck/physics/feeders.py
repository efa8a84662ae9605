"""Feeder torque and spinner power. Also reached through `material`.

A control-fed screw carries what is dropped into it; an auger or belt under a hopper also drags the
material out against its weight, and needs several times as much. Every function broadcasts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics._guard import require_positive
from hydrocheck.physics.arrays import Array, as_array, require

__all__ = [
    "auger_torque",
    "feeder_pull",
    "flowing_load_factor",
    "hopper_load",
    "initial_load_factor",
    "screw_material_power",
    "screw_power",
    "shaft_torque",
    "spinner_disc_power",
    "spinner_exit_speed",
    "spinner_power",
    "spinner_torque",
]

GRAVITY = 9.80665

# W for each kg/s and metre in the US screw formula: one horsepower for 1e6 lb/h over a foot.
_SCREW_UNIT = 745.6998715822702 / (1e6 * 0.45359237 / 3600.0 * 0.3048)


def screw_material_power(
    discharge: ArrayLike, length: ArrayLike, material_factor: ArrayLike
) -> Array:
    """Power to move material along a control-fed screw, US form.

    P = 19.417 m F_m L, that is (lb/h) F_m (ft) / 10^6 in horsepower

    discharge: mass flow [kg/s], broadcast
    length: of the screw [m], broadcast
    material_factor: F_m; salt 1.0, dry sand 1.7, wet sand 2.8 [1], broadcast
    returns: power [W] before overload factor and drive efficiency

    For screws that are fed at a controlled rate. Under a flooded hopper use `auger_torque`.

    >>> lb_per_hour, foot = 0.45359237 / 3600, 0.3048
    >>> round(float(screw_material_power(14771 * lb_per_hour, 22.28 * foot, 1.0)) / 745.7, 3)
    0.329

    Source: screw-conveyor standard, US form; material factors from memory.
    """
    return _SCREW_UNIT * as_array(discharge) * as_array(length) * as_array(material_factor)


def screw_power(
    discharge: ArrayLike,
    length: ArrayLike,
    progress_resistance: ArrayLike,
    lift: ArrayLike = 0.0,
) -> Array:
    """Power to move material along a control-fed screw, metric form.

    P = g m (lambda L + H)

    discharge: mass flow [kg/s], broadcast
    length: of the screw [m], broadcast
    progress_resistance: lambda; rock salt 2.5, sand 4.0 [1], broadcast
    lift: height gained [m], broadcast
    returns: power [W]; an empty screw's own friction, about 50 diameter times length in metres,
        comes on top

    For regular controlled feed and slopes up to 20 degrees. Under a hopper use `auger_torque`.

    >>> round(float(screw_power(25.447 / 3.6, 5.0, 4.0, 0.3)) / 1e3, 3)
    1.407

    Source: ISO 7119:1981 form, from memory; a textbook sheet prints 1.408 kW (it rounds g).
    """
    way = as_array(progress_resistance) * as_array(length) + as_array(lift)
    return GRAVITY * as_array(discharge) * way


def shaft_torque(power: ArrayLike, speed: ArrayLike, efficiency: ArrayLike = 1.0) -> Array:
    """Torque of a shaft that carries a power.

    T = P / (n eta)

    power: at the load [W], broadcast
    speed: of the shaft [rad/s], above 0, broadcast, refused outside
    efficiency: between shaft and load [1], above 0, broadcast, refused outside
    returns: torque [N m]

    >>> round(float(shaft_torque(1386.8, 20 * 6.283185307 / 60)))
    662

    Source: definition; a textbook screw sheet (1.387 kW at 20 rev/min).
    """
    turning, eta = as_array(speed), as_array(efficiency)
    require_positive(speed=turning, efficiency=eta)
    return as_array(power) / (turning * eta)


def initial_load_factor(
    top_width: ArrayLike, slot_width: ArrayLike, half_angle: ArrayLike
) -> Array:
    """Surcharge factor of a wedge hopper just filled from empty.

    q_i = (D / B - 1) / (2 tan a)

    top_width: of the hopper at the material's surface [m], broadcast
    slot_width: of the opening over the feeder [m], broadcast
    half_angle: of the hopper walls from the vertical [rad], broadcast
    returns: vertical load over rho g L B^2 [1]

    Long slot, no vertical bin above the wedge.

    >>> round(float(initial_load_factor(3.5, 0.35, 0.6981317)), 2)
    5.36

    Source: radial-stress feeder theory, from memory; belt feeder report of 30 September 2020.
    """
    slot, angle = as_array(slot_width), as_array(half_angle)
    require_positive(slot_width=slot, half_angle=angle)
    require(angle < 0.5 * np.pi, "hopper half angle must be below 90 degrees")
    result: Array = (as_array(top_width) / slot - 1.0) / (2.0 * np.tan(angle))
    return result


def flowing_load_factor(
    half_angle: ArrayLike, wall_friction: ArrayLike, internal_friction: ArrayLike
) -> Array:
    """Surcharge factor of a wedge hopper once the material flows.

    b = (phi + asin(sin phi / sin delta)) / 2
    X = sin delta / (1 - sin delta) (sin(2 b + a) / sin a + 1)
    Y = ((b + a) sin a + sin b sin(a + b)) / ((1 - sin delta) sin^2(a + b))
    q_f = Y (1 + sin delta) / (2 (X - 1) sin a)

    half_angle: a, of the hopper walls from the vertical [rad], broadcast
    wall_friction: phi, angle of friction at the walls [rad], below delta, broadcast
    internal_friction: delta, effective angle inside the material [rad], broadcast
    returns: vertical load over rho g L B^2 [1]

    Long slot, mass flow: a 45 degree body is mostly funnel flow and may pull less. Angles out of
    order are refused with DomainError.

    >>> round(float(flowing_load_factor(0.6981317, 0.2617994, 0.9599311)), 2)
    0.95

    Source: radial-stress feeder theory, from memory; belt feeder report of 30 September 2020.
    """
    a, phi, delta = as_array(half_angle), as_array(wall_friction), as_array(internal_friction)
    require_positive(half_angle=a, wall_friction=phi, internal_friction=delta)
    require(a < 0.5 * np.pi, "hopper half angle must be below 90 degrees")
    require(
        (phi < delta) & (delta < 0.5 * np.pi),
        "wall friction angle must be below the internal one, and that below 90 degrees",
    )
    sine = np.sin(delta)
    b = 0.5 * (phi + np.arcsin(np.sin(phi) / sine))
    x = sine / (1.0 - sine) * (np.sin(2.0 * b + a) / np.sin(a) + 1.0)
    require(x > 1.0, "hopper walls so flat and rough carry no mass flow")
    y = (b + a) * np.sin(a) + np.sin(b) * np.sin(a + b)
    y = y / ((1.0 - sine) * np.sin(a + b) ** 2)
    result: Array = y * (1.0 + sine) / (2.0 * (x - 1.0) * np.sin(a))
    return result


def hopper_load(
    load_factor: ArrayLike, length: ArrayLike, slot_width: ArrayLike, density: ArrayLike
) -> Array:
    """Vertical load of a hopper's material on its feeder.

    Q = q rho g L B^2

    load_factor: q; to start the larger of initial and flowing, running the flowing [1], broadcast
    length: of the slot [m], broadcast
    slot_width: of the slot [m], broadcast
    density: bulk, of the material [kg/m3], broadcast
    returns: force [N]

    An order of magnitude: vibration and freezing make it far worse, bridging less.

    >>> round(float(hopper_load(5.3628, 2.05, 0.35, 900.0)) / 1e3, 2)
    11.89

    Source: radial-stress feeder theory, from memory; belt feeder report of 30 September 2020.
    """
    area = as_array(length) * as_array(slot_width) ** 2
    return as_array(load_factor) * as_array(density) * GRAVITY * area


def feeder_pull(load: ArrayLike, internal_friction: ArrayLike) -> Array:
    """Force that draws the lowest layer of material out from under a hopper.

    F = Q sin delta

    load: vertical, on the feeder [N], broadcast
    internal_friction: delta, effective angle inside the material [rad], broadcast
    returns: force [N]; the belt's or chain's own friction comes on top

    >>> round(float(feeder_pull(11.891, 0.9599311)), 2)
    9.74

    Source: belt feeder report of 30 September 2020.
    """
    result: Array = as_array(load) * np.sin(as_array(internal_friction))
    return result


def auger_torque(
    pull: ArrayLike,
    diameter: ArrayLike,
    shaft_diameter: ArrayLike,
    pitch: ArrayLike,
    flight_friction: ArrayLike,
) -> Array:
    """Torque of an auger that draws material out from under a hopper.

    r = (D^3 - d^3) / (3 (D^2 - d^2)), tan alpha = pitch / (2 pi r)
    T = F r tan(alpha + atan(friction))

    pull: along the auger, see `feeder_pull` [N], broadcast
    diameter: over the flighting [m], broadcast
    shaft_diameter: of the core tube [m], below the diameter, broadcast, refused outside
    pitch: of the flighting [m], broadcast
    flight_friction: coefficient between material and flight, 0.3 to 0.5 [1], broadcast
    returns: torque [N m]; bearings and trough come on top

    Independent of speed. The screw must not lock: alpha plus the friction angle below 90 degrees.

    >>> inch = 0.0254
    >>> round(float(auger_torque(3910.0, 7 * inch, 4 * inch, 6 * inch, 0.4)))
    239

    Source: own model, a screw against the pull at the area-mean radius; common practice.
    """
    outer, core = as_array(diameter), as_array(shaft_diameter)
    require((core >= 0.0) & (core < outer), "auger shaft must be thinner than the auger")
    radius = (outer**3 - core**3) / (3.0 * (outer**2 - core**2))
    climb = np.arctan(as_array(pitch) / (2.0 * np.pi * radius))
    angle = climb + np.arctan(as_array(flight_friction))
    require(angle < 0.5 * np.pi, "an auger of that pitch and friction locks")
    result: Array = as_array(pull) * radius * np.tan(angle)
    return result


def spinner_torque(discharge: ArrayLike, radius: ArrayLike, speed: ArrayLike) -> Array:
    """Torque that a spinner needs to throw material.

    T = m R^2 w

    discharge: mass flow onto the disc [kg/s], broadcast
    radius: of the disc's rim [m], broadcast
    speed: of the disc [rad/s], broadcast
    returns: torque [N m]; windage and bearings come on top

    Exact for any friction where grains leave with the rim's tangential speed.

    >>> round(float(spinner_torque(5.67, 0.25, 600 * 6.283185307 / 60)), 1)
    22.3

    Source: balance of angular momentum.
    """
    return as_array(discharge) * as_array(radius) ** 2 * as_array(speed)


def spinner_power(discharge: ArrayLike, radius: ArrayLike, speed: ArrayLike) -> Array:
    """Power that a spinner needs to throw material.

    P = m (w R)^2

    discharge: mass flow onto the disc [kg/s], broadcast
    radius: of the disc's rim [m], broadcast
    speed: of the disc [rad/s], broadcast
    returns: power [W]

    >>> round(float(spinner_power(1.5, 0.25, 450 * 6.283185307 / 60)))
    208

    Source: balance of angular momentum.
    """
    return spinner_torque(discharge, radius, speed) * as_array(speed)


def spinner_disc_power(
    radius: ArrayLike, speed: ArrayLike, air_density: ArrayLike, air_viscosity: ArrayLike
) -> Array:
    """Power that a bare spinner disc loses to the air on both sides.

    P = 0.5 C rho w^3 R^5, C = 0.146 Re^-0.2, Re = w R^2 / nu

    radius: of the disc [m], broadcast
    speed: of the disc [rad/s], above 0, broadcast, refused outside
    air_density: about 1.3 when cold [kg/m3], broadcast
    air_viscosity: kinematic, about 1.3e-5 when cold [m2/s], broadcast
    returns: power [W]; vanes lose some thirty times as much

    Turbulent boundary layer, Re above 3e5.

    >>> round(float(spinner_disc_power(0.25, 450 * 6.283185307 / 60, 1.316, 1.28e-5)), 1)
    0.8

    Source: von Karman's law of a free disc; from memory.
    """
    turning, rim = as_array(speed), as_array(radius)
    nu = as_array(air_viscosity)
    require_positive(speed=turning, radius=rim, air_viscosity=nu)
    number = turning * rim**2 / nu
    return 0.5 * 0.146 * number**-0.2 * as_array(air_density) * turning**3 * rim**5


def spinner_exit_speed(radius: ArrayLike, speed: ArrayLike, friction: ArrayLike) -> Array:
    """Speed at which grains leave a flat disc with straight radial vanes.

    v = w R sqrt(1 + (sqrt(1 + mu^2) - mu)^2)

    radius: of the disc's rim [m], broadcast
    speed: of the disc [rad/s], broadcast
    friction: coefficient between grain and vane, 0.4 (0.2 to 0.6) [1], broadcast
    returns: speed [m/s], relative to the truck

    Long vanes: within 0.5 % for feed at a quarter of the radius and 300 rev/min or more. Real
    salt leaves in clusters and scatters widely.

    >>> round(float(spinner_exit_speed(1.0, 1.0, 0.3)), 3)
    1.246

    Source: sliding on a rotating straight vane, closed form; from memory.
    """
    mu = as_array(friction)
    radial = np.sqrt(1.0 + mu**2) - mu
    result: Array = as_array(speed) * as_array(radius) * np.sqrt(1.0 + radial**2)
    return result
