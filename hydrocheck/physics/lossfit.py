"""Loss parameters of a pump or motor from measured points, by linear least squares.

    flow            Q = D n (1 - dp / B) -+ (a 46 cSt / nu + b) dp      - pump, + motor
    lost torque     D dp Cf + D mu n Cd

D is the derived displacement, a + b the slip conductance at 46 cSt and a / (a + b) its viscous
share; both laws are linear in what is sought. The laws are those of `hydrocheck.physics.losses`;
the term in the bulk modulus B, which they leave to slip, is only there for data that need it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydrocheck.errors import DomainError
from hydrocheck.physics._guard import (
    Real,
    require_fraction,
    require_not_negative,
    require_positive,
)
from hydrocheck.physics._leastsquares import Solution, root_mean_square, solve, standard_error
from hydrocheck.physics._torquefit import (
    LEAST_POINTS,
    NOTHING,
    MachinePoints,
    TorqueFit,
    fit_torque,
)
from hydrocheck.physics.arrays import Array
from hydrocheck.physics.losses import SHARE_VISCOSITY

__all__ = [
    "LossFit",
    "MachinePoints",
    "NominalFit",
    "TorqueFit",
    "fit_losses",
    "rated_losses",
]

VISCOSITY_RATIO = 1.2
"""Highest over lowest viscosity below which the viscous share is not sought [1]."""

SPEED_RATIO = 1.1
"""Highest over lowest speed below which points count as one speed [1]; droop stays below it."""

NOMINAL_ERROR = 0.01
"""Error in theoretical flow above which a nominal displacement may be said not to fit [1]."""


@dataclass(frozen=True)
class NominalFit:
    """How the points fit when the displacement is held at its nominal value.

    deviation: derived over nominal displacement, less 1 [1]
    rms: root of the mean square of the flow residuals [m3/s]
    max_error: greatest flow residual over the theoretical flow of its point [1]
    fits: False where `max_error` is above 1 % and more than twice that of the free fit
    """

    deviation: float
    rms: float
    max_error: float
    fits: bool


@dataclass(frozen=True)
class LossFit:
    """Fitted loss parameters; an `_error` is a standard error, nan for what was not fitted.

    displacement: derived displacement [m3/rad]
    conductance: slip conductance [m3/(s Pa)] at `reference_viscosity` [m2/s], the median measured
    viscous, constant: a (at 46 cSt) and b [m3/(s Pa)]; share: a / (a + b) [1]
    residuals: measured less fitted flow [m3/s], (N,); rms, max_residual: of these [m3/s]
    max_error: greatest flow residual over the theoretical flow of its point [1]
    displacement_fitted: False where it had to be held at the nominal value
    share_fitted: False where the given share was kept; share_bound: fitted, but held at 0 or 1
    one_speed: whether the displacement is an intercept at one speed (method of ISO 8426)
    nominal: the fit with nominal displacement, where that was given
    torque: friction and drag, where torque was measured in at least three points
    """

    machine: str
    displacement: float
    displacement_error: float
    conductance: float
    conductance_error: float
    reference_viscosity: float
    viscous: float
    constant: float
    share: float
    share_error: float
    residuals: Array
    rms: float
    max_residual: float
    max_error: float
    displacement_fitted: bool
    share_fitted: bool
    share_bound: bool
    one_speed: bool
    nominal: NominalFit | None
    torque: TorqueFit | None


@dataclass(frozen=True)
class _Flow:
    """The linear flow problem: columns of displacement and of slip, and the measured flow."""

    shaft: Array
    slip: tuple[Array, Array]
    flow: Array

    def slip_columns(self, share: float | None) -> list[Array]:
        """The two slip terms, or their sum in a given share."""
        viscous, constant = self.slip
        if share is None:
            return [viscous, constant]
        return [share * viscous + (1.0 - share) * constant]

    def solve(self, share: float | None, displacement: float | None) -> Solution | None:
        """Free or given share and displacement; the values hold what was free."""
        slip = self.slip_columns(share)
        if displacement is None:
            return solve([self.shaft, *slip], self.flow)
        return solve(slip, self.flow - displacement * self.shaft)


def _problem(machine: str, points: MachinePoints, bulk_modulus: float) -> _Flow:
    """The flow columns of a machine."""
    sign = -1.0 if machine == "pump" else 1.0
    slip = sign * points.pressure
    return _Flow(
        points.speed * (1.0 - points.pressure / bulk_modulus),
        (slip * (SHARE_VISCOSITY / points.viscosity), slip),
        points.flow,
    )


def _check(machine: str, points: MachinePoints) -> None:
    """Refuse what no fit can start from."""
    if machine not in ("pump", "motor"):
        raise DomainError(f"a machine is a pump or a motor, not {machine!r}")
    count = points.flow.size
    sizes = {np.shape(getattr(points, name)) for name in points.__dataclass_fields__}
    if sizes != {(count,)}:
        raise DomainError("every quantity of the measured points needs one value a point")
    if count < LEAST_POINTS:
        raise DomainError(
            f"{count} measured points are too few: displacement and slip need {LEAST_POINTS}"
        )
    if machine == "pump":
        require_positive(speed=points.speed)
    require_not_negative(speed=points.speed, pressure=points.pressure, flow=points.flow)
    require_positive(viscosity=points.viscosity, density=points.density)
    measured = points.torque[~np.isnan(points.torque)]
    require_not_negative(torque=measured)


def fit_losses(
    machine: str,
    points: MachinePoints,
    *,
    nominal: float | None = None,
    share: float = 0.4,
    torque_share: float = 0.5,
    bulk_modulus: float = np.inf,
) -> LossFit:
    """Fit displacement, slip and torque losses of a pump or motor to measured points.

    Q = D n (1 - dp / B) -+ (a 46 cSt / nu + b) dp, least squares in D, a, b; then Cf and Cd from
    T = D dp (1 + Cf) + Cd D mu n (pump) or T = D dp (1 - Cf) - Cd D mu n (motor)

    machine: "pump" or "motor"
    points: speed [rad/s], pressure [Pa], flow [m3/s], viscosity [m2/s], torque [N m] or nan,
        density [kg/m3]; shape (N,) each
    nominal: nominal displacement [m3/rad]; compared with, and kept where none can be fitted
    share: viscous share of slip at 46 cSt [1] where the viscosities do not show it
    torque_share: viscous share of the torque loss [1] where friction and drag are not told apart
    bulk_modulus: B of oil compressed in the machine [Pa]; infinite leaves its share to slip
    returns: `LossFit`, with displacement [m3/rad] and conductance [m3/(s Pa)]

    Residuals weigh alike. Below a viscosity ratio of 1.2, or with fewer than four points, the
    share is kept; below a speed ratio of 1.1 the displacement is an intercept. Refused with
    DomainError: fewer than three points, displacement and slip that cannot be told apart without
    a nominal displacement, negative slip (a volumetric efficiency above 1), torque above what a
    machine without loss would give.

    Five points of a gear pump, 74.2 cm3 nominal, textbook chapter on gear pumps (2010):
    >>> speed = np.array([1200, 1200, 1800, 1800, 1800]) * np.pi / 30
    >>> pressure = np.array([34.5, 172.4, 34.5, 103.4, 172.4]) * 1e5
    >>> flow = np.array([81.95, 69.48, 124.27, 118.52, 112.24]) / 60e3
    >>> oil, none = np.full(5, 46e-6), np.full(5, np.nan)
    >>> points = MachinePoints(speed, pressure, flow, oil, none, np.full(5, 870.0))
    >>> round(fit_losses("pump", points).displacement * 2e6 * np.pi, 2)
    70.85

    Source: multi-speed regression of Q on n and p, as in Energies 2019, 12, 415 (abstract);
    intercept at one speed as in ISO 8426:2008; two slip terms from own evaluation of an open data
    set (2018), see `hydrocheck.physics.losses`.
    """
    _check(machine, points)
    require_fraction(viscous_share=share, viscous_torque_share=torque_share)
    require_positive(nominal_displacement=1.0 if nominal is None else nominal)
    if not bulk_modulus > 0.0:
        raise DomainError(f"bulk modulus must be above zero, got {bulk_modulus:g}")
    problem = _problem(machine, points, bulk_modulus)
    nu = points.viscosity
    wanted = points.flow.size > LEAST_POINTS and nu.max() >= VISCOSITY_RATIO * nu.min()
    # Not from viscosity alone: displacement would then rest on an assumed share.
    fitted = solve([problem.shaft, points.pressure], points.flow) is not None
    if not fitted and nominal is None:
        raise DomainError(
            "displacement and slip cannot be told apart: measure at two pressures at the same"
            " speed, or give the nominal displacement"
        )
    displacement = None if fitted else nominal
    for held in (None, share) if wanted else (share,):
        found = problem.solve(held, displacement)
        if found is not None:
            first = _Found(found, held, fitted, nominal)
            return _result(machine, points, problem, first, torque_share)
    raise DomainError("every pressure is zero: slip cannot be fitted")


@dataclass(frozen=True)
class _Found:
    """A first solution, the share that was held, whether displacement was free."""

    solution: Solution
    share: float | None
    fitted: bool
    nominal: float | None


def _bounded(problem: _Flow, found: _Found) -> tuple[_Found, bool]:
    """The solution with neither slip term negative; and whether one had to be held at zero."""
    if found.share is not None:
        return found, False
    tiny = _tiny(problem)
    if np.all(found.solution.values[-2:] >= -tiny):
        return found, False
    displacement = None if found.fitted else found.nominal
    better = []
    for share in (0.0, 1.0):
        one = problem.solve(share, displacement)
        if one is not None and one.values[-1] >= -tiny:
            better.append(_Found(one, share, found.fitted, found.nominal))
    if not better:  # negative altogether: the caller refuses it
        plain = problem.solve(0.0, displacement)
        return (found if plain is None else _Found(plain, 0.0, found.fitted, found.nominal)), False
    return min(better, key=lambda one: one.solution.squares), True


def _tiny(problem: _Flow) -> float:
    """A conductance that is nothing beside the measured flow [m3/(s Pa)]."""
    return float(NOTHING * problem.flow.max() / np.abs(problem.slip[1]).max())


def _result(
    machine: str, points: MachinePoints, problem: _Flow, first: _Found, torque_share: float
) -> LossFit:
    """The solution as a `LossFit`, refused where it makes no machine."""
    found, bound = _bounded(problem, first)
    solution = found.solution
    if found.fitted:
        displacement = solution.values[0]
        displacement_error = standard_error(solution.covariance[0, 0])
    else:
        displacement, displacement_error = found.nominal or 0.0, np.nan
    start = 1 if found.fitted else 0
    # Rows: what a and b are made of, so that their errors follow from one covariance.
    parts = np.eye(2) if found.share is None else np.array([[found.share], [1.0 - found.share]])
    terms = parts @ solution.values[start:]
    spread = parts @ solution.covariance[start:, start:] @ parts.T
    nu = float(np.median(points.viscosity))
    weight = np.array([SHARE_VISCOSITY / nu, 1.0])
    slip = float(weight @ terms)
    if not displacement > 0.0:
        raise DomainError("the displacement comes out at zero or below: check the flows and speeds")
    if np.any(terms < -_tiny(problem)):
        _refuse_slip(machine, points, displacement, slip)
    viscous, constant = (float(term) for term in np.maximum(terms, 0.0))
    total = viscous + constant
    share_free = found.share is None
    slope = np.array([constant, -viscous]) / total**2 if total > 0.0 else np.zeros(2)
    share = viscous / total if total > 0.0 else found.share or 0.0
    residuals = solution.residuals
    return LossFit(
        machine=machine,
        displacement=float(displacement),
        displacement_error=float(displacement_error),
        conductance=max(slip, 0.0),
        conductance_error=standard_error(float(weight @ spread @ weight)),
        reference_viscosity=nu,
        viscous=viscous,
        constant=constant,
        share=share,
        share_error=standard_error(float(slope @ spread @ slope)) if share_free else np.nan,
        residuals=residuals,
        rms=root_mean_square(residuals),
        max_residual=float(np.abs(residuals).max()),
        max_error=_max_error(residuals, displacement, points),
        displacement_fitted=found.fitted,
        share_fitted=first.share is None,
        share_bound=bound,
        one_speed=_one_speed(points.speed),
        nominal=_nominal_fit(problem, points, found, displacement),
        torque=fit_torque(machine, points, float(displacement), torque_share),
    )


def _refuse_slip(machine: str, points: MachinePoints, displacement: float, slip: float) -> None:
    """Say what volumetric efficiency a negative slip would mean."""
    theoretical = displacement * points.speed.max()
    loss = slip * points.pressure.max() / theoretical
    pump = machine == "pump"
    efficiency = 1.0 - loss if pump else 1.0 / (1.0 + loss)
    raise DomainError(
        "the slip comes out negative: a volumetric efficiency of"
        f" {100.0 * efficiency:.2f} %, above 100 %; check flow meter, speeds, pressures, and"
        f" whether it is not rather a {'motor' if pump else 'pump'}"
    )


def _one_speed(speed: Array) -> bool:
    """Whether all running points lie so close in speed that they count as one."""
    running = speed[speed > 0.0]
    return running.size == 0 or bool(
        speed.size == running.size and running.max() < SPEED_RATIO * running.min()
    )


def _max_error(residuals: Array, displacement: float, points: MachinePoints) -> float:
    """Greatest residual over theoretical flow; a stalled point counts against the highest."""
    speed = np.where(points.speed > 0.0, points.speed, points.speed.max())
    if not np.all(speed > 0.0):
        return np.nan
    return float(np.abs(residuals / (displacement * speed)).max())


def _nominal_fit(
    problem: _Flow, points: MachinePoints, found: _Found, displacement: float
) -> NominalFit | None:
    """The fit with displacement held at nominal, slip as free as it was."""
    if found.nominal is None:
        return None
    held = problem.solve(found.share, found.nominal)
    if held is None:
        return None
    error = _max_error(held.residuals, found.nominal, points)
    free = _max_error(found.solution.residuals, displacement, points)
    return NominalFit(
        deviation=float(displacement) / found.nominal - 1.0,
        rms=root_mean_square(held.residuals),
        max_error=error,
        fits=not (error > NOMINAL_ERROR and error > 2.0 * free),
    )


def rated_losses(
    fit: LossFit, speed: Real, pressure: Real, viscosity: Real
) -> tuple[Array, Array, Array, Array]:
    """Return what a fitted machine does at a rated point, as a truck file states it.

    eta_v = 1 - k dp / (D n) (pump) or 1 / (1 + k dp / (D n)) (motor), k = a 46 cSt / nu + b

    fit: from `fit_losses`
    speed: of the rated point [rad/s]; pressure: [Pa]; viscosity: [m2/s]; all broadcast
    returns: volumetric efficiency on the derived displacement [1], slip conductance [m3/(s Pa)],
        theoretical flow [m3/s] and slip over theoretical flow [1]

    Refused with DomainError where a pump would deliver nothing.
    Source: `hydrocheck.physics.losses`.
    """
    require_positive(rated_speed=speed, rated_pressure=pressure, rated_viscosity=viscosity)
    conductance = np.asarray(fit.viscous * (SHARE_VISCOSITY / viscosity) + fit.constant)
    theoretical = np.asarray(fit.displacement * speed)
    loss = np.asarray(conductance * pressure / theoretical)
    if fit.machine == "pump" and np.any(loss >= 1.0):
        raise DomainError("the rated point lies beyond the pump: its slip takes all of the flow")
    efficiency = 1.0 - loss if fit.machine == "pump" else 1.0 / (1.0 + loss)
    return np.asarray(efficiency), conductance, theoretical, loss
