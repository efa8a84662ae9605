"""Friction and drag of a pump or motor from measured torques. Part of `lossfit`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydrocheck.errors import DomainError
from hydrocheck.physics._leastsquares import Solution, root_mean_square, solve
from hydrocheck.physics.arrays import Array

LEAST_POINTS = 3
"""Two unknowns and one degree of freedom [1]."""

NOTHING = 1e-9
"""Share of the measured values below which a negative loss is rounding [1]."""


@dataclass(frozen=True)
class MachinePoints:
    """Measured points, all of shape (N,).

    speed: [rad/s]
    pressure: pressure difference of the machine [Pa]
    flow: delivered by the pump, or taken by the motor [m3/s]
    viscosity: kinematic [m2/s]
    torque: at the shaft [N m], nan where it was not measured
    density: of the oil [kg/m3]
    """

    speed: Array
    pressure: Array
    flow: Array
    viscosity: Array
    torque: Array
    density: Array


@dataclass(frozen=True)
class TorqueFit:
    """Friction and drag, with standard errors, nan where they were not separated.

    friction: Cf [1]; drag: Cd [1]
    residuals: measured less fitted torque [N m], (N,), nan where torque was not measured
    rms, max_residual: of these [N m]; count: points with a torque
    split: whether friction and drag were told apart; else a given share was kept
    bound: whether one of them came out negative and was held at zero
    """

    friction: float
    drag: float
    friction_error: float
    drag_error: float
    residuals: Array
    rms: float
    max_residual: float
    count: int
    split: bool
    bound: bool


def fit_torque(
    machine: str, points: MachinePoints, displacement: float, share: float
) -> TorqueFit | None:
    """Friction and drag from the points that have a torque; None below three of them."""
    known = ~np.isnan(points.torque)
    if np.count_nonzero(known) < LEAST_POINTS:
        return None
    sign = 1.0 if machine == "pump" else -1.0
    ideal = displacement * points.pressure[known]
    lost = sign * (points.torque[known] - ideal)
    mu = (points.viscosity * points.density)[known]
    drag = displacement * mu * points.speed[known]
    solution = solve([ideal, drag], lost)
    split = solution is not None
    bound = False
    scale = NOTHING * points.torque[known].max() / ideal.max() if ideal.max() > 0.0 else 0.0
    if solution is not None and np.any(solution.values < -scale):
        solution, bound = _torque_bounded(ideal, drag, lost)
    if solution is not None:
        friction, drag_value = solution.values
        errors = np.sqrt(np.maximum(np.diag(solution.covariance), 0.0))
        residuals = solution.residuals
    else:
        friction, drag_value, residuals = _torque_share(ideal, drag, lost, share)
        errors = np.full(2, np.nan)
    other = "motor" if machine == "pump" else "pump"
    if friction < -scale or drag_value < -scale or np.isnan(friction):
        raise DomainError(
            "the torque loss comes out negative: a hydromechanical efficiency above 100 %; check"
            f" torque, pressure, and whether it is not rather a {other}"
        )
    spread = np.full(points.torque.shape, np.nan)
    spread[known] = sign * residuals
    return TorqueFit(
        friction=max(float(friction), 0.0),
        drag=max(float(drag_value), 0.0),
        friction_error=float(errors[0]),
        drag_error=float(errors[1]),
        residuals=spread,
        rms=root_mean_square(residuals),
        max_residual=float(np.abs(residuals).max()),
        count=int(np.count_nonzero(known)),
        split=split,
        bound=bound,
    )


def _torque_bounded(ideal: Array, drag: Array, lost: Array) -> tuple[Solution, bool]:
    """Friction alone or drag alone, whichever fits better without being negative."""
    best = Solution(np.full(2, np.nan), np.full((2, 2), np.nan), lost)
    for place, column in enumerate((ideal, drag)):
        one = solve([column], lost)
        if one is not None and one.values[0] >= 0.0 and one.squares <= best.squares:
            values, covariance = np.zeros(2), np.full((2, 2), np.nan)
            values[place], covariance[place, place] = one.values[0], one.covariance[0, 0]
            best = Solution(values, covariance, one.residuals)
    return best, True


def _torque_share(
    ideal: Array, drag: Array, lost: Array, share: float
) -> tuple[float, float, Array]:
    """Friction, drag and residuals with the loss divided in a given share.

    Drag is scaled to the size of the ideal torque, so that the share holds where they were taken.
    """
    if not np.any(ideal > 0.0):
        raise DomainError("every pressure is zero: torque losses cannot be fitted")
    ratio = float(ideal @ drag / (drag @ drag)) if np.any(drag > 0.0) else 0.0
    share = share if ratio > 0.0 else 0.0
    column = (1.0 - share) * ideal + share * ratio * drag
    loss = float(column @ lost / (column @ column))
    return (1.0 - share) * loss, share * ratio * loss, lost - column * loss
