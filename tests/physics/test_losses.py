"""The loss model and the motor state against measured points, cases and closed balances."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import bar, gallon, inch, lbf, minute, psi
from scipy.optimize import brentq

from hydrocheck.physics import machines

# Outside factors from scipy; displacement and speed per radian.
GPM = gallon / minute
IN3 = inch**3 / (2 * pi)
CM3 = 1e-6 / (2 * pi)
RPM = 2 * pi / minute
LPM = 1e-3 / minute
LBF_IN = lbf * inch
CST = 1e-6


size = st.floats(1e-8, 1e-3)


# --- slip against measured and published points -------------------------------------------

# Textbook chapter on gear pumps, republished as a web tutorial (2010, 2012): 4.53 in3 a turn.
GEAR_SPEED = np.array([1200, 1200, 1800, 1800, 1800]) * RPM
GEAR_PRESSURE = np.array([500, 2500, 500, 1500, 2500]) * psi
GEAR_FLOW = np.array([81.95, 69.48, 124.27, 118.52, 112.24]) * LPM


def test_slip_law_on_a_measured_gear_pump() -> None:
    # Refit: derived displacement 70.85 +- 0.05 cm3, conductance 0.0891 +- 0.0005 L/min/bar.
    columns = np.column_stack([GEAR_SPEED, -GEAR_PRESSURE])
    (d, k), *_ = np.linalg.lstsq(columns, GEAR_FLOW, rcond=None)
    assert d / CM3 == pytest.approx(70.85, abs=0.05)
    assert k / (LPM / bar) == pytest.approx(0.0891, abs=0.0005)
    error = (machines.pump_delivery(d, GEAR_SPEED, GEAR_PRESSURE, k) - GEAR_FLOW) / LPM
    assert np.abs(error).max() <= 0.22
    # The nominal displacement cannot do it: more than 3 % of the theoretical flow is missed.
    nominal = 4.53 * IN3
    k_nominal = float(GEAR_PRESSURE @ (nominal * GEAR_SPEED - GEAR_FLOW)) / float(
        GEAR_PRESSURE @ GEAR_PRESSURE
    )
    missed = machines.pump_delivery(nominal, GEAR_SPEED, GEAR_PRESSURE, k_nominal) - GEAR_FLOW
    assert np.abs(missed / (nominal * GEAR_SPEED)).max() > 0.03


@pytest.mark.parametrize(
    ("speed", "cs", "cst", "cv", "cf", "ch", "eta_v", "eta_hm"),
    [
        # Two coefficient sets of one 107 cm3 axial piston unit, in public university code.
        (500, 1.04e-9, 1.20e-5, 1.53e5, 0.0048, 0.0, 0.972, 0.984),
        (1000, 1.04e-9, 1.20e-5, 1.53e5, 0.0048, 0.0, 0.980, 0.974),
        (2000, 1.04e-9, 1.20e-5, 1.53e5, 0.0048, 0.0, 0.984, 0.953),
        (500, 4.26e-9, 0.0, 2.35e4, 0.0537, 53.6, 0.930, 0.946),
        (1000, 4.26e-9, 0.0, 2.35e4, 0.0537, 53.6, 0.959, 0.938),
        (2000, 4.26e-9, 0.0, 2.35e4, 0.0537, 53.6, 0.974, 0.914),
    ],
)
def test_published_coefficient_sets(
    speed: float,
    cs: float,
    cst: float,
    cv: float,
    cf: float,
    ch: float,
    eta_v: float,
    eta_hm: float,
) -> None:
    d, n, dp, mu, rho, bulk = 107 * CM3, speed * RPM, 200 * bar, 0.0278, 870.0, 1.7e9
    # Terms of that code that our law leaves out: compression, turbulent slip, churning.
    beyond_flow = d * n * dp / bulk + cst * d ** (2 / 3) * np.sqrt(2 * dp / rho)
    beyond_torque = ch * n**2 * rho * d ** (5 / 3) / 2
    q = machines.pump_delivery(d, n, dp, cs * d / mu) - beyond_flow
    drag = machines.drag_torque_per_speed(d, cv, mu)
    t = machines.pump_input_torque(d, n, dp, cf, drag) + beyond_torque
    assert q / (d * n) == pytest.approx(eta_v, abs=0.002)
    assert d * dp / t == pytest.approx(eta_hm, abs=0.002)


@pytest.mark.parametrize(
    ("viscosity", "share", "factor", "tolerance"),
    [
        # VG 46 of VI 100 at 80, 20 and 0 degC (11.1, 134.5, 585 cSt): computed multipliers.
        (11.1, 1.0, 4.1, 0.06),
        (134.5, 1.0, 0.34, 0.006),
        (585.0, 1.0, 0.08, 0.006),
        (11.1, 0.41, 2.3, 0.05),
        (134.5, 0.41, 0.73, 0.006),
        (585.0, 0.41, 0.62, 0.006),
    ],
)
def test_slip_multiplier(viscosity: float, share: float, factor: float, tolerance: float) -> None:
    got = machines.slip_viscosity_factor(viscosity * CST, 46 * CST, share)
    assert got == pytest.approx(factor, abs=tolerance)


@given(st.floats(0.0, 1.0), st.floats(5.0, 200.0), st.floats(5.0, 2000.0))
def test_share_moves_with_the_rating(share: float, rated: float, present: float) -> None:
    # Moving the rating leaves the law unchanged: a (46 / nu) + 1 - a, scaled to 1 at the rating.
    moved = machines.viscous_share_at_rating(share, rated * CST)
    ours = machines.slip_viscosity_factor(present * CST, rated * CST, moved)
    law = (share * 46 / present + 1 - share) / (share * 46 / rated + 1 - share)
    assert ours == pytest.approx(law, rel=1e-12)
    assert machines.viscous_share_at_rating(share, 46 * CST) == pytest.approx(share, abs=1e-15)


def test_wear_hardly_follows_viscosity() -> None:
    # Threefold thinner oil: 3^0.25 = 1.32 (condition monitoring data set, 2018).
    grown = machines.wear_slip(1e-12, 46 / 3 * CST)
    assert grown / 1e-12 == pytest.approx(1.316, abs=1e-3)
    assert machines.wear_slip(1e-12, 46 * CST) == pytest.approx(1e-12)


@given(
    st.floats(0.5, 1.0), st.floats(0.5, 1.0), st.floats(0.0, 1.0), size,
    st.floats(5.0, 300.0), st.floats(1e6, 4e7), st.floats(0.005, 0.5),
)  # fmt: skip
def test_rated_point_comes_back(
    ev: float, eh: float, share: float, d: float, n: float, dp: float, mu: float
) -> None:
    # ISO 4391 definitions of the efficiencies at the rated point.
    k = machines.slip_conductance(d, machines.pump_slip_loss(ev), n, dp)
    assert machines.pump_delivery(d, n, dp, k) == pytest.approx(ev * d * n, rel=1e-12)
    cf, cd = machines.torque_loss_coefficients(machines.pump_torque_loss(eh), dp, mu, n, share)
    drag = machines.drag_torque_per_speed(d, cd, mu)
    t = machines.pump_input_torque(d, n, dp, cf, drag)
    assert d * dp / t == pytest.approx(eh, rel=1e-12)
    k = machines.slip_conductance(d, machines.motor_slip_loss(ev), n, dp)
    cf, cd = machines.torque_loss_coefficients(machines.motor_torque_loss(eh), dp, mu, n, share)
    drag = machines.drag_torque_per_speed(d, cd, mu)
    speed, drop = machines.motor_state(d * n / ev, d, k, cf, drag, eh * d * dp, 0.0, 0.0)
    assert float(speed) == pytest.approx(n, rel=1e-9)
    assert float(drop) == pytest.approx(dp, rel=1e-9)


def test_destroked_pump_still_loses() -> None:
    full = machines.pump_input_torque(1e-5, 100.0, 2e7, 0.05, 0.02)
    idle = machines.pump_input_torque(1e-5, 100.0, 2e7, 0.05, 0.02, 0.0)
    assert full - idle == pytest.approx(1e-5 * 2e7)
    assert idle == pytest.approx(0.05 * 1e-5 * 2e7 + 2.0)
    assert machines.pump_delivery(1e-5, 100.0, 2e7, 1e-12, 0.0) == pytest.approx(-2e-5)


def test_part_stroke_makes_a_good_pump_look_bad() -> None:
    # Trade article: 1000 L/min theoretical, 920 delivered: 92 %. At 400 L/min theoretical the
    # same slip shows as 80 %.
    d, n, dp = 1.0 * LPM, 1000.0, 4350 * psi
    k = machines.pump_slip(d, n, 920 * LPM) / dp
    part = machines.pump_delivery(d, n, dp, k, 0.4)
    assert part / (0.4 * d * n) == pytest.approx(0.80, rel=1e-9)


# --- motor state --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gpm", "viscosity", "rpm"),
    [(15, 30, 1080), (15, 10, 930), (5, 30, 310), (5, 10, 160), (3, 30, 156), (3, 10, 6)],
)
def test_slow_auger_suffers_first(gpm: float, viscosity: float, rpm: float) -> None:
    # Trade exercise: 3.0 in3 a turn, 15 gal/min, 1080 rpm, 1750 psi, 790 lbf in; the slip taken
    # as all viscous, 30 and 10 cSt (our extension).
    d, dp = 3.0 * IN3, 1750 * psi
    eta_v = machines.motor_volumetric_efficiency(15 * GPM, d, 1080 * RPM)
    eta_hm = machines.motor_hydromechanical_efficiency(790 * LBF_IN, d, dp)
    k = machines.slip_conductance(d, machines.motor_slip_loss(eta_v), 1080 * RPM, dp)
    k *= machines.slip_viscosity_factor(viscosity * CST, 30 * CST, 1.0)
    speed, drop = machines.motor_state(
        gpm * GPM, d, k, machines.motor_torque_loss(eta_hm), 0.0, 790 * LBF_IN, 0.0, 0.0
    )
    assert float(speed) / RPM == pytest.approx(rpm, abs=0.6)
    assert float(drop) / psi == pytest.approx(1750.0)


def zero_or(low: float, high: float) -> st.SearchStrategy[float]:
    exponent = st.floats(np.log10(low), np.log10(high)).map(lambda e: float(10.0**e))
    return st.one_of(st.just(0.0), exponent)


MOTOR = {
    "displacement": st.floats(-8.0, -3.0).map(lambda e: float(10.0**e)),
    "slip_conductance": zero_or(1e-18, 1e-9),
    "friction": st.floats(0.0, 0.6),
    "drag_torque_per_speed": zero_or(1e-9, 10.0),
    "load0": zero_or(1e-6, 1e5),
    "load1": zero_or(1e-9, 1e3),
    "load2": zero_or(1e-12, 1e2),
}
motor = st.fixed_dictionaries(MOTOR)
inflow = zero_or(1e-10, 1.0)


def residuals(q: float, m: dict[str, float]) -> tuple[float, float, float, float]:
    speed, drop = (float(v) for v in machines.motor_state(q, **m))
    through = m["displacement"] * speed + m["slip_conductance"] * drop
    shaft = m["displacement"] * drop * (1 - m["friction"])
    taken = (
        m["load0"] + (m["load1"] + m["drag_torque_per_speed"]) * speed + m["load2"] * speed * speed
    )
    return speed, drop, abs(through - q) / max(q, 1e-300), (taken - shaft) / max(taken, 1e-300)


@given(inflow, motor)
def test_motor_state_satisfies_both_equations(q: float, m: dict[str, float]) -> None:
    speed, drop, flow_error, torque_error = residuals(q, m)
    assert speed >= 0.0
    assert drop >= 0.0
    if q == 0.0:
        assert (speed, drop) == (0.0, 0.0)
        return
    assert flow_error < 1e-12
    if speed > 0.0:
        assert abs(torque_error) < 1e-12
    else:
        # Stalled: the pressure does not overcome the load at rest.
        assert torque_error >= -1e-12
        assert q <= m["slip_conductance"] * m["load0"] / (
            m["displacement"] * (1 - m["friction"])
        ) * (1 + 1e-12)


@given(inflow, inflow, motor)
def test_motor_state_is_monotone_in_flow(a: float, b: float, m: dict[str, float]) -> None:
    low, high = sorted((a, b))
    speed, drop = machines.motor_state(np.array([low, high]), **m)
    assert speed[1] >= speed[0] * (1 - 1e-13)
    assert drop[1] >= drop[0] * (1 - 1e-13)


@given(inflow, motor)
def test_motor_energy_balance(q: float, m: dict[str, float]) -> None:
    speed, drop = (float(v) for v in machines.motor_state(q, **m))
    useful = (m["load0"] + m["load1"] * speed + m["load2"] * speed**2) * speed
    slip_heat = m["slip_conductance"] * drop * drop
    friction_heat = m["friction"] * m["displacement"] * drop * speed
    drag_heat = m["drag_torque_per_speed"] * speed * speed
    hydraulic = q * drop
    assert useful + slip_heat + friction_heat + drag_heat == pytest.approx(hydraulic, rel=1e-11)


@given(st.floats(-6.0, 0.0), motor)
def test_motor_slope_is_the_derivative(exponent: float, m: dict[str, float]) -> None:
    q = 10.0**exponent
    knee = m["slip_conductance"] * m["load0"] / (m["displacement"] * (1 - m["friction"]))
    step = 1e-4 * q
    if abs(q - knee) < 3 * step:
        return  # no two-sided derivative at the knee
    _, drop = machines.motor_state(np.array([q - step, q + step]), **m)
    numeric = (drop[1] - drop[0]) / (2 * step)
    slope = float(machines.motor_state_slope(q, **m))
    # The numeric one loses digits where a large constant pressure hides a small change.
    noise = 1e-15 * float(drop[1]) / step
    assert slope == pytest.approx(numeric, rel=1e-5, abs=10 * noise)


@given(inflow, motor)
def test_motor_state_against_a_root_finder(q: float, m: dict[str, float]) -> None:
    knee = m["slip_conductance"] * m["load0"] / (m["displacement"] * (1 - m["friction"]))
    if q <= knee * 1.001:
        return

    def excess(speed: float) -> float:
        taken = m["load0"] + (m["load1"] + m["drag_torque_per_speed"]) * speed
        drop = (taken + m["load2"] * speed**2) / (m["displacement"] * (1 - m["friction"]))
        return m["displacement"] * speed + m["slip_conductance"] * drop - q

    root = brentq(excess, 0.0, q / m["displacement"] * 1.001, xtol=1e-300, rtol=1e-14)
    assert float(machines.motor_state(q, **m)[0]) == pytest.approx(root, rel=1e-9)


def test_motor_state_stalls() -> None:
    # Knee at k T0 / (D (1 - Cf)) = 1e-11 * 90 / (1e-5 * 0.9) = 1e-4 m3/s.
    state = machines.motor_state(
        np.array([-1.0, 0.0, 5e-5, 1e-4, 2e-4]), 1e-5, 1e-11, 0.1, 0.0, 90.0, 0.0, 0.0
    )
    np.testing.assert_allclose(state[0], [0.0, 0.0, 0.0, 0.0, 10.0], rtol=1e-12, atol=1e-9)
    np.testing.assert_allclose(state[1], [0.0, 0.0, 5e6, 1e7, 1e7], rtol=1e-12)
    slope = machines.motor_state_slope(
        np.array([5e-5, 2e-4]), 1e-5, 1e-11, 0.1, 0.0, 90.0, 0.0, 0.0
    )
    np.testing.assert_allclose(slope, [1e11, 0.0], rtol=1e-12)


def test_motor_state_without_slip_never_stalls() -> None:
    speed, drop = machines.motor_state(
        np.array([0.0, 1e-12, 1e-4]), 1e-5, 0.0, 0.0, 0.0, 100.0, 0.0, 0.0
    )
    np.testing.assert_allclose(speed, [0.0, 1e-7, 10.0], rtol=1e-12)
    np.testing.assert_allclose(drop, [0.0, 1e7, 1e7], rtol=1e-12)


def test_motor_state_square_term_fades_smoothly() -> None:
    sizes = 10.0 ** np.arange(-300.0, 1.0, 10.0)
    speed, drop = machines.motor_state(1e-3, 1e-5, 1e-12, 0.05, 0.01, 20.0, 0.1, sizes)
    plain = machines.motor_state(1e-3, 1e-5, 1e-12, 0.05, 0.01, 20.0, 0.1, 0.0)
    np.testing.assert_allclose(speed[:28], plain[0], rtol=1e-12)
    np.testing.assert_allclose(drop[:28], plain[1], rtol=1e-12)
    assert speed[-1] < plain[0]


def test_motor_state_broadcasts() -> None:
    q = np.linspace(0.0, 1e-3, 7)[:, np.newaxis]
    d = np.array([1e-5, 2e-5, 4e-5])
    speed, drop = machines.motor_state(q, d, 1e-12, 0.05, 0.01, 20.0, 0.1, 0.01)
    slope = machines.motor_state_slope(q, d, 1e-12, 0.05, 0.01, 20.0, 0.1, 0.01)
    assert speed.shape == drop.shape == slope.shape == (7, 3)
    one = machines.motor_state(float(q[5, 0]), 2e-5, 1e-12, 0.05, 0.01, 20.0, 0.1, 0.01)
    assert float(one[0]) == speed[5, 1]
    assert float(one[1]) == drop[5, 1]


def test_starting_pressure() -> None:
    # Statics: 100 N m running, breakaway 3, 160 cm3 a turn, starting efficiency 0.75.
    got = machines.starting_pressure(100.0, 160 * CM3, 0.75, 3.0)
    assert got / bar == pytest.approx(300.0 * 2 * pi / (160e-6 * 0.75) / 1e5, rel=1e-12)
    assert got > machines.motor_pressure_for_torque(100.0, 160 * CM3, 0.9)
