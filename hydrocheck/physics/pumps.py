"""Pumps: flow, displacement, torque, power and efficiency.

Displacements are per radian. Arguments are floats or arrays and broadcast together. Efficiencies
lie above 0 and at most 1, displacements and divisors are positive; anything else raises
DomainError. Public names are also reached through `hydrocheck.physics.machines`.
"""

from __future__ import annotations

import numpy as np

from hydrocheck.physics._guard import (
    Real,
    checked_efficiency,
    require_efficiency,
    require_not_negative,
    require_positive,
)


def pump_flow(displacement: Real, speed: Real, volumetric_efficiency: Real = 1.0) -> Real:
    """Return the flow of a pump.

    Q = eta_v D n

    displacement: [m3/rad]
    speed: shaft speed [rad/s], zero or above
    volumetric_efficiency: [1]
    returns: flow [m3/s]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 5-2, p. 167:
    >>> round(pump_flow(61.36e-6 / (2 * np.pi), 1000 * 2 * np.pi / 60, 0.90) * 60e3, 2)
    55.22
    """
    require_positive(displacement=displacement)
    require_not_negative(speed=speed)
    require_efficiency(volumetric_efficiency=volumetric_efficiency)
    return displacement * speed * volumetric_efficiency


def pump_displacement(flow: Real, speed: Real, volumetric_efficiency: Real = 1.0) -> Real:
    """Return the displacement that a pump needs for a flow.

    D = Q / (eta_v n)

    flow: wanted [m3/s], zero or above
    speed: shaft speed [rad/s]
    volumetric_efficiency: [1]
    returns: displacement [m3/rad]; all arguments broadcast

    Source: inverse of `pump_flow`, standard textbook form, from memory.
    """
    require_not_negative(flow=flow)
    require_positive(speed=speed)
    require_efficiency(volumetric_efficiency=volumetric_efficiency)
    return flow / (speed * volumetric_efficiency)


def pump_torque(
    displacement: Real, pressure_drop: Real, hydromechanical_efficiency: Real = 1.0
) -> Real:
    """Return the shaft torque of a pump.

    T = D dp / eta_hm

    displacement: [m3/rad]
    pressure_drop: rise of pressure over the pump [Pa], zero or above
    hydromechanical_efficiency: [1]
    returns: torque [N m]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 5-9, p. 201 (112 N m, rounded):
    >>> round(pump_torque(100e-6 / (2 * np.pi), 70e5), 1)
    111.4
    """
    require_positive(displacement=displacement)
    require_not_negative(pressure_drop=pressure_drop)
    require_efficiency(hydromechanical_efficiency=hydromechanical_efficiency)
    return displacement * pressure_drop / hydromechanical_efficiency


def pump_shaft_power(flow: Real, pressure_drop: Real, overall_efficiency: Real = 1.0) -> Real:
    """Return the power that a pump takes from its shaft.

    P = Q dp / eta

    flow: delivered [m3/s], zero or above
    pressure_drop: rise of pressure over the pump [Pa], zero or above
    overall_efficiency: [1]
    returns: power [W]; all arguments broadcast

    Source: standard textbook form, from memory.
    """
    require_not_negative(flow=flow, pressure_drop=pressure_drop)
    require_efficiency(overall_efficiency=overall_efficiency)
    return flow * pressure_drop / overall_efficiency


def pump_slip(displacement: Real, speed: Real, flow: Real) -> Real:
    """Return the slip of a pump from its measured flow.

    q_s = D n - Q

    displacement: [m3/rad]
    speed: shaft speed [rad/s], zero or above
    flow: measured [m3/s], zero or above
    returns: slip [m3/s]; negative is refused; all arguments broadcast

    Slip is a flow: at part stroke or low speed it is the same flow, hence a larger share.
    Source: ISO 4391 terms, from memory.
    """
    require_positive(displacement=displacement)
    require_not_negative(speed=speed, flow=flow)
    slip = displacement * speed - flow
    require_not_negative(slip=np.where(np.abs(slip) < 1e-12 * flow, 0.0, slip))
    return slip


def pump_volumetric_efficiency(flow: Real, displacement: Real, speed: Real) -> Real:
    """Return the volumetric efficiency of a pump from measured values.

    eta_v = Q / (D n)

    flow: measured [m3/s], zero or above
    displacement: [m3/rad]
    speed: shaft speed [rad/s]
    returns: efficiency [1], refused above 1; all arguments broadcast

    Source: Fluid Power: Theory and Applications (4th ed.), Example 7.2, p. 137 (97.067 %).
    """
    require_not_negative(flow=flow)
    require_positive(displacement=displacement, speed=speed)
    return checked_efficiency(flow / (displacement * speed), "volumetric efficiency")


def pump_hydromechanical_efficiency(torque: Real, displacement: Real, pressure_drop: Real) -> Real:
    """Return the hydromechanical efficiency of a pump from measured values.

    eta_hm = D dp / T

    torque: measured at the shaft [N m]
    displacement: [m3/rad]
    pressure_drop: rise of pressure over the pump [Pa], zero or above
    returns: efficiency [1], refused above 1; all arguments broadcast

    Source: our definition for a pump; ISO 4409 gives one for motors only.
    """
    require_positive(torque=torque, displacement=displacement)
    require_not_negative(pressure_drop=pressure_drop)
    return checked_efficiency(displacement * pressure_drop / torque, "hydromechanical efficiency")


def pump_overall_efficiency(flow: Real, pressure_drop: Real, torque: Real, speed: Real) -> Real:
    """Return the overall efficiency of a pump from measured values.

    eta = Q dp / (T n)

    flow: measured [m3/s], zero or above
    pressure_drop: rise of pressure over the pump [Pa], zero or above
    torque: measured at the shaft [N m]
    speed: shaft speed [rad/s]
    returns: efficiency [1], refused above 1; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 5-9, p. 201 (83.5 % carried on):
    >>> round(100 * pump_overall_efficiency(1.5e-3, 70e5, 120, 1000 * 2 * np.pi / 60), 2)
    83.56
    """
    require_not_negative(flow=flow, pressure_drop=pressure_drop)
    require_positive(torque=torque, speed=speed)
    return checked_efficiency(flow * pressure_drop / (torque * speed), "overall efficiency")
