"""Fitted losses: the truth comes back, and what cannot be told apart or cannot be is said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import bar, liter, minute

from hydrocheck.errors import DomainError
from hydrocheck.physics import losses
from hydrocheck.physics.lossfit import MachinePoints, fit_losses, rated_losses

LPM = liter / minute
RPM = 2 * np.pi / minute
CM3 = 1e-6 / (2 * np.pi)

# --- synthetic points: the truth comes back -------------------------------------------------

SPEED, PRESSURE, VISCOSITY = (
    grid.ravel()
    for grid in np.meshgrid(
        np.array([600.0, 1200.0, 2200.0]) * RPM,
        np.array([20.0, 100.0, 200.0]) * bar,
        np.array([15e-6, 46e-6, 150e-6]),
    )
)
DENSITY = 855.0


def synthetic(
    machine: str,
    displacement: float,
    losses_of: tuple[float, float],
    torque_of: tuple[float, float],
    index: slice | np.ndarray = np.s_[:],
) -> MachinePoints:
    """Points by the loss laws of the package: slip share and loss, friction and drag."""
    share, loss = losses_of
    friction, drag = torque_of
    n, dp, nu = SPEED[index], PRESSURE[index], VISCOSITY[index]
    k = losses.slip_conductance(displacement, loss, 1200 * RPM, 100 * bar)
    k = k * losses.slip_viscosity_factor(nu, 46e-6, share)
    drag_torque = losses.drag_torque_per_speed(displacement, drag, nu * DENSITY)
    if machine == "pump":
        flow = losses.pump_delivery(displacement, n, dp, k)
        torque = losses.pump_input_torque(displacement, n, dp, friction, drag_torque)
    else:
        flow = displacement * n + k * dp
        torque = displacement * dp * (1.0 - friction) - drag_torque * n
    density = np.full(np.shape(n), DENSITY)
    return MachinePoints(n, dp, np.asarray(flow), nu, np.asarray(torque), density)


machines = st.sampled_from(["pump", "motor"])
displacements = st.floats(5.0, 500.0).map(lambda cm3: cm3 * CM3)
slips = st.tuples(st.floats(0.05, 0.95), st.floats(0.005, 0.08))
torques = st.tuples(st.floats(0.01, 0.08), st.floats(2e3, 1e4))


@given(machines, displacements, slips, torques)
def test_noise_free_points_give_the_truth(
    machine: str, displacement: float, slip: tuple[float, float], torque: tuple[float, float]
) -> None:
    fit = fit_losses(machine, synthetic(machine, displacement, slip, torque))
    share, loss = slip
    k = losses.slip_conductance(displacement, loss, 1200 * RPM, 100 * bar)
    assert fit.displacement == pytest.approx(displacement, rel=1e-9)
    assert fit.share == pytest.approx(share, abs=1e-9)
    assert fit.viscous + fit.constant == pytest.approx(k, rel=1e-9)
    assert fit.conductance == pytest.approx(k, rel=1e-9)  # the median viscosity is 46 cSt
    assert fit.torque is not None
    assert fit.torque.friction == pytest.approx(torque[0], rel=1e-9)
    assert fit.torque.drag == pytest.approx(torque[1], rel=1e-9)
    assert fit.max_error < 1e-9
    assert fit.share_fitted
    assert fit.torque.split
    assert not fit.share_bound
    assert not fit.torque.bound


@pytest.mark.parametrize("machine", ["pump", "motor"])
@pytest.mark.parametrize("share", [0.0, 1.0])
def test_a_share_at_its_end_is_no_bound(machine: str, share: float) -> None:
    fit = fit_losses(machine, synthetic(machine, 50 * CM3, (share, 0.03), (0.03, 5e3)))
    assert fit.share == pytest.approx(share, abs=1e-9)
    assert not fit.share_bound


def test_a_machine_without_losses() -> None:
    fit = fit_losses("motor", synthetic("motor", 50 * CM3, (0.4, 0.0), (0.0, 0.0)))
    assert fit.displacement == pytest.approx(50 * CM3, rel=1e-12)
    assert fit.conductance * 200 * bar < 1e-9 * 50 * CM3 * 600 * RPM
    assert fit.torque is not None
    assert fit.torque.friction < 1e-9


def noisy(machine: str, seed: int) -> tuple[MachinePoints, dict[str, float]]:
    points = synthetic(machine, 50 * CM3, (0.4, 0.04), (0.04, 6e3))
    random = np.random.default_rng(seed)
    flow_noise = random.normal(0.0, 0.1 * LPM, points.flow.shape)
    torque_noise = random.normal(0.0, 0.3, points.torque.shape)
    k = losses.slip_conductance(50 * CM3, 0.04, 1200 * RPM, 100 * bar)
    truth = {"displacement": 50 * CM3, "conductance": k, "share": 0.4}
    return (
        replace(points, flow=points.flow + flow_noise, torque=points.torque + torque_noise),
        truth,
    )


@given(machines, st.integers(0, 10**6))
def test_noisy_points_give_the_truth_within_standard_errors(machine: str, seed: int) -> None:
    points, truth = noisy(machine, seed)
    fit = fit_losses(machine, points)
    # Student's t with 24 degrees of freedom passes 8 once in 30 million.
    for name, value in truth.items():
        error = getattr(fit, f"{name}_error")
        assert abs(getattr(fit, name) - value) < 8.0 * error, name
        assert error < 0.3 * value
    assert fit.torque is not None
    # Torque also carries the error of the displacement, which its standard error leaves out.
    assert fit.torque.friction == pytest.approx(0.04, abs=0.02)


def test_standard_errors_have_the_right_size() -> None:
    # Over many sets (estimate - truth) / error has a mean square of dof / (dof - 2) = 1.09.
    squares: dict[str, list[float]] = {"displacement": [], "conductance": [], "share": []}
    for seed in range(400):
        points, truth = noisy("pump", seed)
        fit = fit_losses("pump", points)
        for name, values in squares.items():
            error = (getattr(fit, name) - truth[name]) / getattr(fit, f"{name}_error")
            values.append(error**2)
    for name, values in squares.items():
        assert np.mean(values) == pytest.approx(1.09, abs=0.25), name


@given(st.permutations(range(27)), st.integers(0, 10**6))
def test_the_order_of_points_does_not_matter(order: list[int], seed: int) -> None:
    points, _ = noisy("pump", seed)
    mixed = MachinePoints(
        *(getattr(points, name)[np.array(order)] for name in points.__dataclass_fields__)
    )
    one, other = fit_losses("pump", points), fit_losses("pump", mixed)
    for name in ("displacement", "conductance", "share", "rms", "displacement_error"):
        assert getattr(other, name) == pytest.approx(getattr(one, name), rel=1e-9)
    assert other.residuals == pytest.approx(one.residuals[np.array(order)], rel=1e-6, abs=1e-12)


@given(st.floats(0.1, 10.0), st.floats(0.1, 10.0), st.integers(0, 10**6))
def test_scaling_follows_the_laws(speed: float, flow: float, seed: int) -> None:
    # The same numbers read in another unit of speed or flow.
    points, _ = noisy("pump", seed)
    scaled = replace(
        points,
        speed=points.speed * speed,
        flow=points.flow * flow,
        torque=np.full(points.torque.shape, np.nan),
    )
    one, other = fit_losses("pump", points), fit_losses("pump", scaled)
    assert other.displacement == pytest.approx(one.displacement * flow / speed, rel=1e-9)
    assert other.conductance == pytest.approx(one.conductance * flow, rel=1e-9)
    assert other.share == pytest.approx(one.share, abs=1e-9)
    assert other.max_error == pytest.approx(one.max_error, rel=1e-6)


# --- what cannot be told apart ----------------------------------------------------------------

TRUE = ("pump", 50 * CM3, (0.7, 0.04), (0.04, 6e3))


def chosen(**wanted: float) -> np.ndarray:
    """The points of the grid at given values."""
    keep = np.full(SPEED.shape, True)
    for values, key in ((SPEED, "speed"), (PRESSURE, "pressure"), (VISCOSITY, "viscosity")):
        if key in wanted:
            keep &= np.isclose(values, wanted[key], rtol=1e-9)
    return keep


def test_one_viscosity_keeps_the_share_and_the_slip() -> None:
    points = synthetic(*TRUE, chosen(viscosity=15e-6))
    fit = fit_losses("pump", points, share=0.25)
    k = losses.slip_conductance(50 * CM3, 0.04, 1200 * RPM, 100 * bar)
    assert not fit.share_fitted
    assert fit.share == pytest.approx(0.25)
    assert np.isnan(fit.share_error)
    # Whatever the share, the slip at that viscosity is what was measured.
    measured_slip = k * losses.slip_viscosity_factor(15e-6, 46e-6, 0.7)
    assert fit.conductance == pytest.approx(measured_slip, rel=1e-9)
    assert fit.reference_viscosity == pytest.approx(15e-6)


def test_three_points_keep_the_share() -> None:
    points = synthetic(*TRUE, np.array([0, 13, 26]))
    fit = fit_losses("pump", points, share=0.7)
    assert not fit.share_fitted
    assert fit.displacement == pytest.approx(50 * CM3, rel=1e-9)


def test_one_speed_and_one_pressure_keep_the_nominal_displacement() -> None:
    points = synthetic(*TRUE, chosen(speed=1200 * RPM, pressure=100 * bar))
    with pytest.raises(DomainError, match="told apart"):
        fit_losses("pump", points)
    fit = fit_losses("pump", points, nominal=50 * CM3)
    assert not fit.displacement_fitted
    assert np.isnan(fit.displacement_error)
    assert fit.displacement == 50 * CM3
    assert fit.nominal is not None
    assert fit.nominal.fits


def test_torque_that_grows_alike_with_both_keeps_the_share() -> None:
    n = np.linspace(600.0, 2200.0, 8) * RPM
    dp = n / n.max() * 200 * bar
    nu = np.full(8, 46e-6)
    d = 50 * CM3
    mu = nu * DENSITY
    points = MachinePoints(
        n,
        dp,
        d * n - 1e-13 * dp * np.linspace(0.99, 1.01, 8),
        nu,
        d * dp * 1.04 + d * 6e3 * mu * n,
        np.full(8, DENSITY),
    )
    fit = fit_losses("pump", points, nominal=d, torque_share=0.5)
    assert fit.torque is not None
    assert not fit.torque.split
    lost = fit.torque.friction * d * dp + fit.torque.drag * d * mu * n
    assert lost == pytest.approx(points.torque - d * dp, rel=1e-6)
    assert fit.torque.friction * d * dp == pytest.approx(0.5 * lost, rel=1e-6)


def test_torque_in_some_points_only() -> None:
    points = synthetic(*TRUE)
    torque = points.torque.copy()
    torque[::2] = np.nan
    fit = fit_losses("pump", replace(points, torque=torque))
    assert fit.torque is not None
    assert fit.torque.count == 13
    assert fit.torque.friction == pytest.approx(0.04, rel=1e-9)
    assert np.array_equal(np.isnan(fit.torque.residuals), np.isnan(torque))
    torque[3:] = np.nan
    assert fit_losses("pump", replace(points, torque=torque)).torque is None


def test_slip_that_falls_with_thinner_oil_is_held_at_its_bound() -> None:
    points = synthetic(*TRUE)
    k = 1e-12 * (1.0 + 0.3 * np.log(VISCOSITY / 15e-6))  # more slip in thick oil: no such law
    fit = fit_losses("pump", replace(points, flow=50 * CM3 * SPEED - k * PRESSURE))
    assert fit.share_bound
    assert fit.share == 0.0
    assert fit.viscous == 0.0
    assert fit.constant > 0.0


def test_negative_drag_is_held_at_zero() -> None:
    points = synthetic("pump", 50 * CM3, (0.4, 0.04), (0.05, -5e2))
    fit = fit_losses("pump", points)
    assert fit.torque is not None
    assert fit.torque.bound
    assert fit.torque.drag == 0.0
    assert fit.torque.friction > 0.0


@pytest.mark.parametrize("machine", ["pump", "motor"])
def test_residuals_are_measured_less_fitted(machine: str) -> None:
    points, _ = noisy(machine, 7)
    fit = fit_losses(machine, points)
    assert fit.torque is not None
    k = fit.viscous * 46e-6 / points.viscosity + fit.constant
    drag = losses.drag_torque_per_speed(
        fit.displacement, fit.torque.drag, points.viscosity * DENSITY
    )
    ideal, n, dp = fit.displacement * points.pressure, points.speed, points.pressure
    if machine == "pump":
        flow = fit.displacement * n - k * dp
        torque = ideal * (1.0 + fit.torque.friction) + drag * n
    else:
        flow = fit.displacement * n + k * dp
        torque = ideal * (1.0 - fit.torque.friction) - drag * n
    assert fit.residuals == pytest.approx(points.flow - flow, rel=1e-6, abs=1e-15)
    assert fit.torque.residuals == pytest.approx(points.torque - torque, rel=1e-6, abs=1e-9)
    assert fit.rms == pytest.approx(np.sqrt(np.mean((points.flow - flow) ** 2)), rel=1e-6)


# --- refusals ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("machine", "other"), [("pump", "motor"), ("motor", "pump")])
def test_negative_slip_is_refused_with_its_efficiency(machine: str, other: str) -> None:
    points = synthetic(other, 50 * CM3, (0.4, 0.04), (0.04, 6e3))
    with pytest.raises(DomainError, match=r"volumetric efficiency of 1\d\d\.\d\d %.*rather a"):
        fit_losses(machine, points)


def test_torque_of_an_impossible_machine_is_refused() -> None:
    points = synthetic(*TRUE)
    with pytest.raises(DomainError, match="hydromechanical efficiency above 100 %"):
        fit_losses("pump", replace(points, torque=0.8 * points.torque))


def test_too_few_points_are_refused() -> None:
    with pytest.raises(DomainError, match="2 measured points are too few"):
        fit_losses("pump", synthetic(*TRUE, np.array([0, 26])))


@pytest.mark.parametrize(
    ("name", "value"),
    [("speed", 0.0), ("speed", np.nan), ("pressure", -1.0), ("flow", np.inf), ("viscosity", 0.0),
     ("torque", -1.0), ("density", 0.0)],
)  # fmt: skip
def test_impossible_values_are_refused(name: str, value: float) -> None:
    points = synthetic(*TRUE)
    values = getattr(points, name).copy()
    values[4] = value
    with pytest.raises(DomainError, match=name):
        fit_losses("pump", replace(points, **{name: values}))


def test_other_refusals() -> None:
    points = synthetic(*TRUE)
    with pytest.raises(DomainError, match="pump or a motor"):
        fit_losses("fan", points)
    with pytest.raises(DomainError, match="one value a point"):
        fit_losses("pump", replace(points, torque=points.torque[1:]))
    with pytest.raises(DomainError, match="bulk modulus"):
        fit_losses("pump", points, bulk_modulus=0.0)
    with pytest.raises(DomainError, match="viscous share"):
        fit_losses("pump", points, share=1.5)
    still = replace(points, pressure=np.zeros(27))
    with pytest.raises(DomainError, match="every pressure is zero"):
        fit_losses("pump", still, nominal=50 * CM3)


def test_stalled_points_belong_to_a_motor() -> None:
    points = synthetic("motor", 50 * CM3, (0.4, 0.04), (0.04, 6e3))
    n = np.append(points.speed, 0.0)
    dp = np.append(points.pressure, 150 * bar)
    k = losses.slip_conductance(50 * CM3, 0.04, 1200 * RPM, 100 * bar)
    stalled = MachinePoints(
        n,
        dp,
        np.append(points.flow, k * 150 * bar),
        np.append(points.viscosity, 46e-6),
        np.full(28, np.nan),
        np.full(28, DENSITY),
    )
    fit = fit_losses("motor", stalled)
    assert fit.displacement == pytest.approx(50 * CM3, rel=1e-9)
    assert fit.max_error < 1e-9


# --- the rated point --------------------------------------------------------------------------


@pytest.mark.parametrize("machine", ["pump", "motor"])
def test_rated_losses_give_the_conductance_back(machine: str) -> None:
    fit = fit_losses(machine, synthetic(machine, 50 * CM3, (0.4, 0.04), (0.04, 6e3)))
    efficiency, conductance, _, loss = rated_losses(fit, 1800 * RPM, 180 * bar, 32e-6)
    slip_loss = losses.pump_slip_loss if machine == "pump" else losses.motor_slip_loss
    assert slip_loss(efficiency) == pytest.approx(loss, rel=1e-9)
    back = losses.slip_conductance(fit.displacement, loss, 1800 * RPM, 180 * bar)
    assert back == pytest.approx(conductance, rel=1e-12)
    # The same machine at another viscosity by the law of the package.
    moved = losses.viscous_share_at_rating(fit.share, 32e-6)
    at_46 = back * losses.slip_viscosity_factor(46e-6, 32e-6, moved)
    assert at_46 == pytest.approx(fit.viscous + fit.constant, rel=1e-9)


def test_a_rated_point_beyond_the_pump_is_refused() -> None:
    fit = fit_losses("pump", synthetic(*TRUE))
    with pytest.raises(DomainError, match="slip takes all"):
        rated_losses(fit, 10 * RPM, 200 * bar, 15e-6)
