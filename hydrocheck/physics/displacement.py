"""Displacement from the geometry of a machine, and preferred displacements.

All displacements are per radian. Arguments are floats or arrays and broadcast together.
Public names are also reached through `hydrocheck.physics.machines`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError
from hydrocheck.physics._guard import Real, require_not_negative, require_positive

_TURN = 2.0 * np.pi
_R10 = (10.0, 12.5, 16.0, 20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0)
_CM3 = 1e-6


def vane_displacement(
    rotor_diameter: Real, cam_ring_diameter: Real, vane_width: Real, eccentricity: Real
) -> Real:
    """Return the displacement of an unbalanced vane pump.

    D = (d_cam + d_rotor) e w / 4

    rotor_diameter: [m]
    cam_ring_diameter: [m]
    vane_width: axial width of the vanes [m]
    eccentricity: of the rotor in its ring [m]
    returns: displacement [m3/rad]; all arguments broadcast

    Neglects the thickness of the vanes. Refuses sizes that are not positive.
    Source: Fluid Power with Applications (2005), Example 5-4, p. 177 (0.0785 L per turn):
    >>> round(vane_displacement(0.050, 0.075, 0.050, 0.008) * 2 * np.pi * 1e3, 4)
    0.0785
    """
    require_positive(
        rotor_diameter=rotor_diameter, cam_ring_diameter=cam_ring_diameter, vane_width=vane_width
    )
    require_not_negative(eccentricity=eccentricity)
    return (cam_ring_diameter + rotor_diameter) * eccentricity * vane_width / 4.0


def vane_eccentricity(
    displacement: Real, rotor_diameter: Real, cam_ring_diameter: Real, vane_width: Real
) -> Real:
    """Return the eccentricity that a vane pump needs for a displacement.

    e = 4 D / ((d_cam + d_rotor) w)

    displacement: [m3/rad]
    rotor_diameter: [m]
    cam_ring_diameter: [m]
    vane_width: axial width of the vanes [m]
    returns: eccentricity [m]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 5-3, p. 176.
    """
    require_positive(
        rotor_diameter=rotor_diameter, cam_ring_diameter=cam_ring_diameter, vane_width=vane_width
    )
    require_not_negative(displacement=displacement)
    return 4.0 * displacement / ((cam_ring_diameter + rotor_diameter) * vane_width)


def vane_motor_displacement(vane_radius: Real, rotor_radius: Real, vane_width: Real) -> Real:
    """Return the displacement of a balanced vane motor.

    D = (r_vane^2 - r_rotor^2) w / 2

    vane_radius: outer radius of the vanes [m]
    rotor_radius: [m], below the vane radius, refused otherwise
    vane_width: axial width of the vanes [m]
    returns: displacement [m3/rad]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 7-1, p. 248.
    """
    require_positive(vane_radius=vane_radius, rotor_radius=rotor_radius, vane_width=vane_width)
    if np.any(np.asarray(rotor_radius) >= vane_radius):
        raise DomainError("rotor radius must be smaller than vane radius")
    return (vane_radius**2 - rotor_radius**2) * vane_width / 2.0


def gear_displacement(outside_diameter: Real, inside_diameter: Real, width: Real) -> Real:
    """Return the displacement of an external gear machine.

    D = (d_out^2 - d_in^2) w / 8

    outside_diameter: of the gear teeth [m]
    inside_diameter: at the tooth roots [m], below the outside diameter, refused otherwise
    width: of the gears [m]
    returns: displacement [m3/rad]; all arguments broadcast

    Takes teeth and gaps as equal. Source: Fluid Power with Applications (2005), Example 5-2,
    p. 167 (prints 55.3 L/min after rounding the displacement first):
    >>> round(0.9 * gear_displacement(0.075, 0.050, 0.025) * 1000 * 2 * np.pi * 1e3, 2)
    55.22
    """
    require_positive(
        outside_diameter=outside_diameter, inside_diameter=inside_diameter, width=width
    )
    if np.any(np.asarray(inside_diameter) >= outside_diameter):
        raise DomainError("inside diameter must be smaller than outside diameter")
    return (outside_diameter**2 - inside_diameter**2) * width / 8.0


def piston_displacement(pistons: Real, piston_diameter: Real, stroke: Real) -> Real:
    """Return the displacement of a piston machine from its stroke.

    D = z (pi d^2 / 4) s / (2 pi)

    pistons: number of pistons z [1]
    piston_diameter: [m]
    stroke: of each piston, once a turn [m]
    returns: displacement [m3/rad]; all arguments broadcast

    Source: Fluid Power: Theory and Applications (4th ed.), Example 2.6, p. 28.
    """
    require_positive(pistons=pistons, piston_diameter=piston_diameter)
    require_not_negative(stroke=stroke)
    return pistons * piston_diameter**2 * stroke / 8.0


def axial_piston_displacement(
    pistons: Real, piston_diameter: Real, circle_diameter: Real, angle: Real
) -> Real:
    """Return the displacement of an axial piston machine.

    D = z (pi d^2 / 4) d_c tan(angle) / (2 pi)

    pistons: number of pistons z [1]
    piston_diameter: [m]
    circle_diameter: of the circle on which the pistons sit [m]
    angle: of the swash plate [rad], 0 to below pi / 2, refused outside
    returns: displacement [m3/rad]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 5-7, p. 183 (0.55 L/s at 1000 rpm, 94 %):
    >>> d = axial_piston_displacement(9, 0.015, 0.125, np.radians(10))
    >>> round(float(0.94 * d * 1000 * 2 * np.pi / 60 * 1e3), 2)
    0.55
    """
    require_not_negative(swash_angle=angle)
    if np.any(np.asarray(angle) >= np.pi / 2.0):
        raise DomainError("swash angle must be below 90 degrees")
    return piston_displacement(pistons, piston_diameter, circle_diameter * np.tan(angle))


def swash_tangent(
    displacement: Real, pistons: Real, piston_diameter: Real, circle_diameter: Real
) -> Real:
    """Return the tangent of the swash angle that gives a displacement.

    tan(angle) = 2 pi D / (z (pi d^2 / 4) d_c)

    displacement: [m3/rad]
    pistons: number of pistons z [1]
    piston_diameter: [m]
    circle_diameter: of the circle on which the pistons sit [m]
    returns: tangent of the angle [1]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 5-6, p. 182.
    """
    require_positive(
        pistons=pistons, piston_diameter=piston_diameter, circle_diameter=circle_diameter
    )
    require_not_negative(displacement=displacement)
    return 8.0 * displacement / (pistons * piston_diameter**2 * circle_diameter)


def preferred_displacements(lowest: float, highest: float) -> NDArray[np.float64]:
    """Return the preferred displacements between two bounds, both included.

    10, 12.5, 16, 20, 25, 31.5, 40, 50, 63, 80 cm3 a turn, times powers of ten

    lowest: [m3/rad], above 0
    highest: [m3/rad], not below the lowest, refused otherwise
    returns: displacements [m3/rad], ascending; shape (K,), K = 0 when none lies between

    Source: ISO 3662, R10 series of ISO 3, from memory.
    >>> [round(float(v), 1) for v in preferred_displacements(3e-6, 8e-6) * 2e6 * np.pi]
    [20.0, 25.0, 31.5, 40.0, 50.0]
    """
    require_positive(lowest_displacement=lowest, highest_displacement=highest)
    if highest < lowest:
        raise DomainError("highest displacement must not be below the lowest")
    slack = 1e-9  # a preferred value that the caller converted stays itself
    decades = range(
        int(np.floor(np.log10(lowest * _TURN / _CM3))) - 1,
        int(np.ceil(np.log10(highest * _TURN / _CM3))) + 1,
    )
    series = np.array([step * 10.0 ** (k - 1) for k in decades for step in _R10])
    series = series * _CM3 / _TURN
    inside = (series >= lowest * (1.0 - slack)) & (series <= highest * (1.0 + slack))
    return series[inside]


def next_preferred(displacement: float) -> float:
    """Return the smallest preferred displacement that is not below the one asked.

    displacement: wanted [m3/rad], above 0, refused otherwise
    returns: preferred displacement [m3/rad]; scalar

    Source: ISO 3662, R10 series of ISO 3, from memory.
    >>> round(next_preferred(45e-6 / (2 * np.pi)) * 2e6 * np.pi, 6)
    50.0
    """
    require_positive(displacement=displacement)
    return float(preferred_displacements(displacement, 1.3 * displacement)[0])
