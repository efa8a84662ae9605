"""Motors: speed, flow, torque, displacement and efficiency.

Displacements are per radian. Arguments are floats or arrays and broadcast together. Efficiencies
lie above 0 and at most 1, displacements and divisors are positive; anything else raises
DomainError. Public names are also reached through `hydrocheck.physics.machines`.
"""

from __future__ import annotations

from hydrocheck.physics._guard import (
    Real,
    checked_efficiency,
    require_efficiency,
    require_not_negative,
    require_positive,
)


def motor_speed(flow: Real, displacement: Real, volumetric_efficiency: Real = 1.0) -> Real:
    """Return the speed of a motor.

    n = eta_v Q / D

    flow: inlet flow [m3/s], zero or above
    displacement: [m3/rad]
    volumetric_efficiency: [1]
    returns: speed [rad/s]; all arguments broadcast

    Source: Fluid Power: Theory and Applications (4th ed.), Example 9.2, p. 194 (866.25 rpm).
    """
    require_not_negative(flow=flow)
    require_positive(displacement=displacement)
    require_efficiency(volumetric_efficiency=volumetric_efficiency)
    return flow * volumetric_efficiency / displacement


def motor_flow(displacement: Real, speed: Real, volumetric_efficiency: Real = 1.0) -> Real:
    """Return the flow that a motor takes.

    Q = D n / eta_v

    displacement: [m3/rad]
    speed: shaft speed [rad/s], zero or above
    volumetric_efficiency: [1]
    returns: inlet flow [m3/s]; all arguments broadcast

    A motor takes more than its theoretical flow; multiplying by the efficiency is a common error.
    10 cm3 a turn at 150 rpm and 60 % take 2.5 L/min, not 0.9:
    >>> from math import pi
    >>> round(motor_flow(10e-6 / (2 * pi), 150 * 2 * pi / 60, 0.60) * 60e3, 3)
    2.5

    Source: Fluid Power: Theory and Applications (4th ed.), Example 9.3, p. 195 (8.095 gal/min).
    """
    require_positive(displacement=displacement)
    require_not_negative(speed=speed)
    require_efficiency(volumetric_efficiency=volumetric_efficiency)
    return displacement * speed / volumetric_efficiency


def motor_torque(
    displacement: Real, pressure_drop: Real, hydromechanical_efficiency: Real = 1.0
) -> Real:
    """Return the shaft torque of a motor.

    T = eta_hm D dp

    displacement: [m3/rad]
    pressure_drop: inlet less outlet [Pa], zero or above
    hydromechanical_efficiency: [1]
    returns: torque [N m]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 7-2, p. 259 (795 lbf in, truncated).
    """
    require_positive(displacement=displacement)
    require_not_negative(pressure_drop=pressure_drop)
    require_efficiency(hydromechanical_efficiency=hydromechanical_efficiency)
    return displacement * pressure_drop * hydromechanical_efficiency


def motor_displacement_for_torque(
    torque: Real, pressure_drop: Real, hydromechanical_efficiency: Real = 1.0
) -> Real:
    """Return the displacement that a motor needs for a torque.

    D = T / (eta_hm dp)

    torque: wanted at the shaft [N m], zero or above
    pressure_drop: inlet less outlet [Pa]
    hydromechanical_efficiency: [1]
    returns: displacement [m3/rad]; all arguments broadcast

    Source: inverse of `motor_torque`, standard textbook form, from memory.
    """
    require_not_negative(torque=torque)
    require_positive(pressure_drop=pressure_drop)
    require_efficiency(hydromechanical_efficiency=hydromechanical_efficiency)
    return torque / (pressure_drop * hydromechanical_efficiency)


def motor_displacement_for_speed(
    flow: Real, speed: Real, volumetric_efficiency: Real = 1.0
) -> Real:
    """Return the displacement with which a motor turns at a speed on a flow.

    D = eta_v Q / n

    flow: inlet flow [m3/s], zero or above
    speed: wanted shaft speed [rad/s]
    volumetric_efficiency: [1]
    returns: displacement [m3/rad]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 7-4, p. 264 (4.71 in3 a turn).
    """
    require_not_negative(flow=flow)
    require_positive(speed=speed)
    require_efficiency(volumetric_efficiency=volumetric_efficiency)
    return flow * volumetric_efficiency / speed


def motor_pressure_for_torque(
    torque: Real, displacement: Real, hydromechanical_efficiency: Real = 1.0
) -> Real:
    """Return the pressure drop that a motor needs for a torque.

    dp = T / (eta_hm D)

    torque: wanted at the shaft [N m], zero or above
    displacement: [m3/rad]
    hydromechanical_efficiency: [1]
    returns: pressure drop [Pa]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 7-1, p. 248 (1000 psi).
    """
    require_not_negative(torque=torque)
    require_positive(displacement=displacement)
    require_efficiency(hydromechanical_efficiency=hydromechanical_efficiency)
    return torque / (displacement * hydromechanical_efficiency)


def motor_volumetric_efficiency(flow: Real, displacement: Real, speed: Real) -> Real:
    """Return the volumetric efficiency of a motor from measured values.

    eta_v = D n / Q

    flow: measured inlet flow [m3/s]
    displacement: [m3/rad]
    speed: shaft speed [rad/s], zero or above
    returns: efficiency [1], refused above 1; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 7-6, p. 267 (91.2 % after rounding up):
    >>> from math import pi
    >>> round(motor_volumetric_efficiency(0.006, 164e-6 / (2 * pi), 2000 * 2 * pi / 60), 4)
    0.9111
    """
    require_positive(flow=flow, displacement=displacement)
    require_not_negative(speed=speed)
    return checked_efficiency(displacement * speed / flow, "volumetric efficiency")


def motor_hydromechanical_efficiency(torque: Real, displacement: Real, pressure_drop: Real) -> Real:
    """Return the hydromechanical efficiency of a motor from measured values.

    eta_hm = T / (D dp)

    torque: measured at the shaft [N m], zero or above
    displacement: [m3/rad]
    pressure_drop: inlet less outlet [Pa]
    returns: efficiency [1], refused above 1; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 7-6, p. 267 (93.0 %):
    >>> from math import pi
    >>> round(motor_hydromechanical_efficiency(170, 164e-6 / (2 * pi), 70e5), 3)
    0.93
    """
    require_not_negative(torque=torque)
    require_positive(displacement=displacement, pressure_drop=pressure_drop)
    return checked_efficiency(torque / (displacement * pressure_drop), "hydromechanical efficiency")


def motor_overall_efficiency(torque: Real, speed: Real, flow: Real, pressure_drop: Real) -> Real:
    """Return the overall efficiency of a motor from measured values.

    eta = T n / (Q dp)

    torque: measured at the shaft [N m], zero or above
    speed: shaft speed [rad/s], zero or above
    flow: measured inlet flow [m3/s]
    pressure_drop: inlet less outlet [Pa]
    returns: efficiency [1], refused above 1; all arguments broadcast

    Source: Fluid Power: Theory and Applications (4th ed.), Example 9.4, p. 195 (83.66 %).
    """
    require_not_negative(torque=torque, speed=speed)
    require_positive(flow=flow, pressure_drop=pressure_drop)
    return checked_efficiency(torque * speed / (flow * pressure_drop), "overall efficiency")
