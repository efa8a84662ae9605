"""Pumps and motors: the one door to their formulas, and what both share with the drive.

Displacements are per radian, so that 2 pi never appears. Arguments are floats or arrays and
broadcast together; floats give a float. Efficiencies lie above 0 and at most 1, displacements
and divisors are positive; anything else raises DomainError, except in the four loss laws that
the solver calls at trial points (`pump_delivery`, `pump_input_torque`, `motor_state`,
`motor_state_slope`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hydrocheck.physics._guard import (
    Real,
    checked_efficiency,
    require_efficiency,
    require_not_negative,
    require_positive,
)
from hydrocheck.physics.displacement import (
    axial_piston_displacement,
    gear_displacement,
    next_preferred,
    piston_displacement,
    preferred_displacements,
    swash_tangent,
    vane_displacement,
    vane_eccentricity,
    vane_motor_displacement,
)
from hydrocheck.physics.losses import (
    MotorLaw,
    drag_torque_per_speed,
    motor_law,
    motor_slip_loss,
    motor_state,
    motor_state_slope,
    motor_torque_loss,
    pump_delivery,
    pump_input_torque,
    pump_slip_loss,
    pump_torque_loss,
    slip_conductance,
    slip_viscosity_factor,
    starting_pressure,
    torque_loss_coefficients,
    viscous_share_at_rating,
    wear_slip,
)
from hydrocheck.physics.motors import (
    motor_displacement_for_speed,
    motor_displacement_for_torque,
    motor_flow,
    motor_hydromechanical_efficiency,
    motor_overall_efficiency,
    motor_pressure_for_torque,
    motor_speed,
    motor_torque,
    motor_volumetric_efficiency,
)
from hydrocheck.physics.pumps import (
    pump_displacement,
    pump_flow,
    pump_hydromechanical_efficiency,
    pump_overall_efficiency,
    pump_shaft_power,
    pump_slip,
    pump_torque,
    pump_volumetric_efficiency,
)

__all__ = [
    "MotorLaw",
    "RATING_EFFICIENCY",
    "RATING_FACTOR",
    "axial_piston_displacement",
    "divider_inlet_pressure",
    "divider_intensified_pressure",
    "drag_torque_per_speed",
    "drive_power_rating",
    "drive_ratio",
    "gear_displacement",
    "hydraulic_power",
    "hydromechanical_efficiency",
    "motor_displacement_for_speed",
    "motor_displacement_for_torque",
    "motor_flow",
    "motor_hydromechanical_efficiency",
    "motor_overall_efficiency",
    "motor_pressure_for_torque",
    "motor_slip_loss",
    "motor_speed",
    "motor_law",
    "motor_state",
    "motor_state_slope",
    "motor_torque",
    "motor_torque_loss",
    "motor_volumetric_efficiency",
    "next_preferred",
    "overall_efficiency",
    "piston_displacement",
    "preferred_displacements",
    "pump_delivery",
    "pump_displacement",
    "pump_flow",
    "pump_hydromechanical_efficiency",
    "pump_input_torque",
    "pump_overall_efficiency",
    "pump_shaft_power",
    "pump_slip",
    "pump_slip_loss",
    "pump_torque",
    "pump_torque_loss",
    "pump_volumetric_efficiency",
    "series_inlet_pressures",
    "shaft_power",
    "slip_conductance",
    "slip_viscosity_factor",
    "starting_pressure",
    "swash_tangent",
    "torque_from_power",
    "torque_loss_coefficients",
    "usable_drive_power",
    "vane_displacement",
    "vane_eccentricity",
    "vane_motor_displacement",
    "viscous_share_at_rating",
    "wear_slip",
]

RATING_FACTOR = 1.5
"""Reserve of the drive rating rule [1] (FED-STD-794)."""

RATING_EFFICIENCY = 0.85
"""Overall pump efficiency of the drive rating rule [1] (FED-STD-794)."""


def hydraulic_power(flow: Real, pressure_drop: Real) -> Real:
    """Return the power in a flow over a pressure drop.

    P = Q dp

    flow: [m3/s]
    pressure_drop: [Pa]
    returns: power [W], signed; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 3-15, p. 114 (8.35 kW after rounding):
    >>> round(hydraulic_power(50e-3 / 60, 10e6))
    8333
    """
    return flow * pressure_drop


def overall_efficiency(volumetric: Real, hydromechanical: Real) -> Real:
    """Return the overall efficiency of a pump or motor.

    eta = eta_v eta_hm

    volumetric: efficiency [1]
    hydromechanical: efficiency [1]
    returns: efficiency [1]; all arguments broadcast

    Source: ISO 4391, from memory.
    """
    require_efficiency(volumetric_efficiency=volumetric)
    require_efficiency(hydromechanical_efficiency=hydromechanical)
    return volumetric * hydromechanical


def hydromechanical_efficiency(overall: Real, volumetric: Real) -> Real:
    """Return the hydromechanical part of an overall efficiency.

    eta_hm = eta / eta_v

    overall: efficiency [1]
    volumetric: efficiency [1]
    returns: efficiency [1], refused above 1; all arguments broadcast

    Source: Fluid Power: Theory and Applications (4th ed.), Example 9.6, p. 197:
    >>> round(100 * hydromechanical_efficiency(0.88, 0.97), 3)
    90.722
    """
    require_efficiency(overall_efficiency=overall, volumetric_efficiency=volumetric)
    return checked_efficiency(overall / volumetric, "hydromechanical efficiency")


def shaft_power(torque: Real, speed: Real) -> Real:
    """Return the power of a turning shaft.

    P = T n

    torque: [N m]
    speed: [rad/s]
    returns: power [W], signed; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 7-6, p. 267 (35.6 kW):
    >>> round(shaft_power(170, 2000 * 2 * np.pi / 60) / 1e3, 1)
    35.6
    """
    return torque * speed


def torque_from_power(power: Real, speed: Real) -> Real:
    """Return the torque of a shaft that carries a power.

    T = P / n

    power: [W]
    speed: [rad/s]
    returns: torque [N m]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 3-16, p. 114 (65.9 N m):
    >>> round(torque_from_power(10e3, 1450 * 2 * np.pi / 60), 1)
    65.9
    """
    require_positive(speed=speed)
    return power / speed


def drive_ratio(pump_speed: Real, engine_speed: Real) -> Real:
    """Return the ratio of a pump drive.

    ratio = n_pump / n_engine

    pump_speed: [rad/s]
    engine_speed: [rad/s]
    returns: ratio [1]; all arguments broadcast

    Source: trade journal article on specifying power take-offs (67 % for 1000 over 1500 rpm).
    """
    require_positive(pump_speed=pump_speed, engine_speed=engine_speed)
    return pump_speed / engine_speed


def drive_power_rating(pressure: Real, flow: Real) -> Real:
    """Return the power for which a power take-off must be rated.

    P = 1.5 p Q / 0.85

    pressure: working pressure [Pa], zero or above
    flow: of the pump [m3/s], zero or above
    returns: rating [W]; all arguments broadcast

    The standard writes P V 1.5 / (1714 x 0.85) in hp, psi and gal/min; its 1714 is 12000/7
    rounded, so that the SI form gives 0.017 % less.
    Source: FED-STD-794, p. 10.
    """
    require_not_negative(pressure=pressure, flow=flow)
    return RATING_FACTOR * pressure * flow / RATING_EFFICIENCY


def usable_drive_power(engine_power: Real, fraction: Real = 0.86) -> Real:
    """Return the power left at a power take-off by a rule of thumb.

    P = fraction P_engine

    engine_power: [W], zero or above
    fraction: [1], above 0 and at most 1
    returns: power [W]; all arguments broadcast

    Common practice for farm tractors; a truck's take-off has its own rating, which comes first.
    Source: agricultural engineering textbook extract, tractor power ratings (107.5 of 125 hp):
    >>> usable_drive_power(125.0)
    107.5
    """
    require_not_negative(engine_power=engine_power)
    require_efficiency(fraction=fraction)
    return engine_power * fraction


def series_inlet_pressures(pressure_drops: Real, outlet_pressure: Real) -> NDArray[np.float64]:
    """Return the inlet pressure of each motor in a series.

    p_i = p_out + sum of dp_j over j = i ... M

    pressure_drops: of the motors in flow order [Pa]; shape (..., M)
    outlet_pressure: behind the last motor [Pa]; shape (...)
    returns: inlet pressures [Pa]; shape (..., M)

    Each motor's outlet is the next one's inlet: its shaft seal or drain must stand that.
    Source: trade article on motors in series (140, 100, 60 bar over a return of 20 bar):
    >>> [float(p) / 1e5 for p in series_inlet_pressures(np.full(3, 40e5), 20e5)]
    [140.0, 100.0, 60.0]
    """
    drops = np.atleast_1d(np.asarray(pressure_drops, dtype=np.float64))
    after = np.cumsum(drops[..., ::-1], axis=-1)[..., ::-1]
    pressures: NDArray[np.float64] = after + np.asarray(outlet_pressure)[..., np.newaxis]
    return pressures


def divider_inlet_pressure(outlet_pressures: Real, displacements: Real) -> Real:
    """Return the inlet pressure of a lossless gear flow divider.

    p_in = sum D_i p_i / sum D_i

    outlet_pressures: of the sections [Pa]; shape (..., M)
    displacements: of the sections [m3/rad], or any weights in that ratio; shape (..., M)
    returns: inlet pressure [Pa]; shape (...)

    Source: textbook on fluid power circuits, chapter on flow dividers, p. 6 (1500 and 300 psi on
    equal sections make 900):
    >>> float(divider_inlet_pressure(np.array([1500.0, 300.0]), np.array([1.0, 1.0])))
    900.0
    """
    require_positive(displacement=displacements)
    weights = np.asarray(displacements, dtype=np.float64)
    weighted = weights * outlet_pressures
    total = np.broadcast_to(weights, weighted.shape).sum(axis=-1)
    pressure: NDArray[np.float64] = weighted.sum(axis=-1) / total
    return pressure


def divider_intensified_pressure(
    inlet_pressure: Real, share: Real, other_pressure: Real = 0.0
) -> Real:
    """Return the pressure to which one outlet of a gear flow divider can rise.

    p_1 = p_other + (p_in - p_other) / share

    inlet_pressure: [Pa]
    share: displacement of the section over that of all sections [1], above 0 and at most 1
    other_pressure: at the other outlets [Pa]
    returns: pressure of the section's outlet [Pa]; all arguments broadcast

    A light load on the other outlets drives this one above the inlet: each needs its own relief.
    Source: textbook on fluid power circuits, chapter on flow dividers, p. 6 (2000 psi in, equal
    sections, one outlet to tank: 4000 psi):
    >>> divider_intensified_pressure(2000.0, 0.5)
    4000.0
    """
    require_efficiency(share=share)
    return other_pressure + (inlet_pressure - other_pressure) / share
