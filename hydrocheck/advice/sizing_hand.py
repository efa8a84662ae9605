"""One-point sizing as on paper: the exact value, and the next size that can be bought.

The search does not use these: it goes over the whole range. They stand beside its answer in
`--explain`, and are held against published design examples.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydrocheck.advice.sizing_parts import next_bore
from hydrocheck.physics import lines, machines, motors, pumps
from hydrocheck.physics.displacement import next_preferred


@dataclass(frozen=True)
class Sized:
    """A value that a formula gives, and the next preferred size; SI."""

    exact: float
    size: float


def hand_pump(flow: float, speed: float, volumetric_efficiency: float = 1.0) -> Sized:
    """Displacement that gives a flow [m3/s] at a pump speed [rad/s]; D = Q / (eta_v n), in m3/rad.

    A machine moved from 3600 to 2700 rpm whose 1.84 in3 a turn worked well needs 2.453 (our sum):

    >>> turn, inch3 = 2 * np.pi, 0.0254**3
    >>> found = hand_pump(1.84 * inch3 * 60.0, 2700 * turn / 60)
    >>> round(found.exact * turn / inch3, 3), round(found.size * turn * 1e6, 1)
    (2.453, 50.0)
    """
    exact = float(pumps.pump_displacement(flow, speed, volumetric_efficiency))
    return Sized(exact, next_preferred(exact))


def hand_motor_for_torque(torque: float, pressure: float, efficiency: float = 1.0) -> Sized:
    """Displacement that gives a torque [N m] at a pressure drop [Pa]; D = T / (eta_hm dp)."""
    exact = float(motors.motor_displacement_for_torque(torque, pressure, efficiency))
    return Sized(exact, next_preferred(exact))


def hand_motor_for_speed(flow: float, speed: float, volumetric_efficiency: float = 1.0) -> Sized:
    """Displacement that turns at a speed [rad/s] on a flow [m3/s]; D = eta_v Q / n.

    The size is the next larger one, which turns slower.
    """
    exact = float(motors.motor_displacement_for_speed(flow, speed, volumetric_efficiency))
    return Sized(exact, next_preferred(exact))


def hand_bore(flow: float, velocity: float) -> Sized:
    """Bore for a flow [m3/s] at a velocity [m/s]; d = sqrt(4 Q / (pi v)); next hose size."""
    exact = float(lines.bore_for_velocity(flow, velocity))
    return Sized(exact, float(next_bore(np.array(exact))))


def hand_drive(pressure: float, flow: float) -> float:
    """Power for which a drive must be rated [W]; P = 1.5 p Q / 0.85 (FED-STD-794, p. 10)."""
    return float(machines.drive_power_rating(pressure, flow))
