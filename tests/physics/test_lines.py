"""Lines against package fluids and hydrostatics; the published rows run in tests/reference."""

from __future__ import annotations

from collections.abc import Callable

import fluids
import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from fluids.friction import Colebrook
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck.errors import DomainError
from hydrocheck.physics import lines

WALLS = (0.0, 1e-6, 1e-5, 1e-4, 1e-3, 3e-3, 1e-2, 3e-2, 5e-2)

flows = st.floats(-5e-3, 5e-3)
bores = st.floats(4e-3, 60e-3)
viscosities = st.floats(2e-6, 3e-3)
roughnesses = st.floats(0.0, 1e-4)
factors = st.floats(0.0, 50.0)


@pytest.mark.parametrize("wall", WALLS)
def test_turbulent_friction_against_colebrook(wall: float) -> None:
    # Oracle: package fluids, Colebrook's law solved to full accuracy.
    numbers = np.geomspace(4000.0, 1e8, 45)
    # Rough walls at high Re overflow fluids' closed form; its solver is asked there.
    exact = [Colebrook(n, wall, tol=1e-12 if n * wall > 1e4 else -1) for n in numbers]
    assert lines.friction_factor(numbers, wall) == pytest.approx(np.array(exact), rel=5e-4)


def test_laminar_friction_is_64_over_re() -> None:
    numbers = np.array([1e-6, 1.0, 774.0, 2000.0])
    assert lines.friction_factor(numbers, 0.01) == pytest.approx(64.0 / numbers, rel=1e-14)
    assert float(lines.friction_factor(0.0, 0.0)) == np.inf
    # package fluids, friction_factor below its own end of laminar flow, Re 2040
    assert float(lines.friction_factor(774.0, 0.0)) == pytest.approx(
        fluids.friction_factor(Re=774.0, eD=0.0), rel=1e-12
    )


@pytest.mark.parametrize("wall", WALLS)
def test_friction_is_continuous_and_f_re_squared_rises(wall: float) -> None:
    numbers = np.concatenate([np.linspace(1.0, 6000.0, 60001), np.geomspace(6001, 1e8, 2000)])
    product, slope = lines._friction_product(numbers, np.array(wall))
    assert np.all(np.diff(product) > 0.0)
    assert np.all(slope >= 64.0)
    for edge in (2000.0, 4000.0):
        below, above = lines.friction_factor(edge * np.array([1 - 1e-10, 1 + 1e-10]), wall)
        assert below == pytest.approx(above, rel=1e-8)
        both = lines._friction_product(edge * np.array([1 - 1e-10, 1 + 1e-10]), np.array(wall))[1]
        assert both[0] == pytest.approx(both[1], rel=1e-6)


def test_regimes() -> None:
    got = lines.regime(np.array([0.0, 2000.0, 2000.1, 3999.0, 4000.0, 1e9, np.nan]))
    assert got.tolist() == [0, 0, 1, 1, 2, 2, 0]
    assert lines.REGIMES[int(lines.regime(9799.0))] == "turbulent"


@given(flows, flows, bores, roughnesses, factors, viscosities)
def test_drop_rises_with_flow_and_is_odd(
    one: float, two: float, bore: float, wall: float, factor: float, nu: float
) -> None:
    def drop(q: float) -> float:
        return float(lines.pressure_drop(q, bore, 2.0, wall, factor, 870.0, nu))

    assert drop(-one) == -drop(one)
    low, high = sorted((one, two))
    if high - low > 1e-9 * max(abs(low), abs(high), 1e-12):
        assert drop(low) < drop(high)


@given(st.floats(1e-7, 5e-3), bores, roughnesses, factors, viscosities)
def test_slope_is_the_derivative(
    q: float, bore: float, wall: float, factor: float, nu: float
) -> None:
    def drop(flow: float) -> float:
        return float(lines.pressure_drop(flow, bore, 2.0, wall, factor, 870.0, nu))

    step = 1e-5 * q
    measured = (drop(q + step) - drop(q - step)) / (2.0 * step)
    slope = lines.pressure_drop_slope(q, bore, 2.0, wall, factor, 870.0, nu)
    assert float(slope) == pytest.approx(measured, rel=2e-3)
    assert float(lines.pressure_drop_slope(-q, bore, 2.0, wall, factor, 870.0, nu)) == slope


@given(bores, st.floats(0.0, 1.0), viscosities)
def test_laminar_drop_is_hagen_poiseuille(bore: float, share: float, nu: float) -> None:
    # Hagen-Poiseuille, dp = 128 mu L Q / (pi d^4), from memory.
    q = share * 2000.0 * nu * np.pi * bore / 4.0 * (1.0 - 1e-9)
    drop, slope = lines.drop_and_slope(q, bore, 3.0, 1e-5, 0.0, 870.0, nu)
    exact = 128.0 * 870.0 * nu * 3.0 / (np.pi * bore**4)
    assert float(slope) == pytest.approx(exact, rel=1e-12)
    assert float(drop) == pytest.approx(exact * q, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize("q", [2e-4, 1e-3, 3e-3])
def test_drop_against_fluids(q: float) -> None:
    # Oracle: package fluids, one_phase_dP, away from the transition (Re 460 to 65 000).
    for nu in (2.5e-6, 1e-4):
        mine = float(lines.pressure_drop(q, 0.0127, 5.0, 1e-5, 0.0, 870.0, nu))
        other = fluids.friction.one_phase_dP(
            m=870.0 * q, rho=870.0, mu=870.0 * nu, D=0.0127, roughness=1e-5, L=5.0
        )
        number = float(lines.reynolds(lines.velocity(q, 0.0127), 0.0127, nu))
        if not 2000.0 < number < 4000.0:
            assert mine == pytest.approx(other, rel=5e-3)


def test_fittings() -> None:
    q, d, rho = 5e-4, 0.02, 870.0
    speed = lines.velocity(q, d)
    dynamic = float(rho * speed**2 / 2.0)
    # At high Re the laminar term fades: K alone, within 1000 / Re.
    fast = float(lines.pressure_drop(q, d, 0.0, 0.0, 4.0, rho, 1e-9))
    assert fast == pytest.approx(4.0 * dynamic, rel=1e-4)
    assert float(lines.minor_loss_drop(4.0, speed, rho)) == pytest.approx(4.0 * dynamic)
    # At Re 1000 K counts twice (two-K method, Hooper 1981, K1 = 1000 K, from memory).
    nu = float(speed) * d / 1000.0
    slow = float(lines.pressure_drop(q, d, 0.0, 0.0, 4.0, rho, nu))
    assert slow == pytest.approx(8.0 * dynamic, rel=1e-9)
    assert float(lines.pressure_drop(q, d, 0.0, 0.0, 4.0, rho, nu, 0.0)) == pytest.approx(
        4.0 * dynamic, rel=1e-9
    )
    # Elbow at Re 100 from the two-K method as package fluids has it.
    elbow = fluids.fittings.Hooper2K(Di=50.0, Re=100.0, K1=800.0, Kinfty=0.75) * dynamic
    nu = float(speed) * d / 100.0
    assert float(lines.pressure_drop(q, d, 0.0, 0.0, 0.75, rho, nu)) == pytest.approx(
        elbow, rel=0.15
    )


def test_equivalent_length_loses_as_much() -> None:
    f = lines.friction_factor(5e4, 1e-3)
    length = lines.equivalent_length(2.5, f, 0.02)
    along = lines.friction_drop(f, 3.0, 0.02, length, 870.0)
    assert float(along) == pytest.approx(float(lines.minor_loss_drop(2.5, 3.0, 870.0)))


def test_nothing_warns_and_rest_is_zero() -> None:
    wild = np.array([0.0, -0.0, np.inf, -np.inf, np.nan, 1e300, -1e-300, 1e-3])
    drop, slope = lines.drop_and_slope(wild, 0.0127, 3.0, 1e-5, 2.0, 870.0, 46e-6)
    assert drop[0] == drop[1] == 0.0
    assert drop[2] == np.inf
    assert drop[3] == -np.inf
    assert np.isnan(drop[4])
    assert np.all(slope[np.isfinite(wild)] > 0.0)
    for bore, nu in ((0.0, 46e-6), (0.01, 0.0), (-1.0, 46e-6), (np.nan, np.nan)):
        got = lines.drop_and_slope(wild, bore, 3.0, 1e-5, 2.0, 870.0, nu)
        assert np.shape(got[0]) == wild.shape
    nothing, flat = lines.drop_and_slope(1e-3, 0.0127, 0.0, 0.0, 0.0, 870.0, 46e-6)
    assert float(nothing) == float(flat) == 0.0


def test_shapes_broadcast() -> None:
    flow = np.linspace(-3e-3, 3e-3, 15).reshape(5, 3)
    bore, nu = np.array([[0.01, 0.02, 0.03]]), np.geomspace(2e-6, 1e-3, 5)[:, None]
    drop, slope = lines.drop_and_slope(flow, bore, 3.0, 1e-5, 1.0, 870.0, nu)
    assert drop.shape == slope.shape == (5, 3)
    one = lines.pressure_drop(flow[4, 1], bore[0, 1], 3.0, 1e-5, 1.0, 870.0, nu[4, 0])
    assert drop[4, 1] == pytest.approx(float(one), rel=1e-14)
    # A rough wall of many values at one fast flow, as a sweep over hoses makes it.
    walls = lines.pressure_drop(3e-3, 0.0127, 3.0, np.array([0.0, 1e-5, 1e-4]), 0.0, 870.0, 2e-6)
    assert walls.shape == (3,)
    assert np.all(np.diff(walls) > 0.0)


@given(st.floats(0.01, 20.0), st.floats(0.004, 0.1))
def test_bore_velocity_and_flow_turn_round(speed: float, bore: float) -> None:
    q = lines.flow_at_velocity(speed, bore)
    assert float(lines.velocity(q, bore)) == pytest.approx(speed, rel=1e-12)
    assert float(lines.bore_for_velocity(q, speed)) == pytest.approx(bore, rel=1e-12)
    number = lines.reynolds(speed, bore, 46e-6)
    assert float(lines.velocity_at_reynolds(number, bore, 46e-6)) == pytest.approx(speed, rel=1e-12)


# --- rated parts and filters --------------------------------------------------------------------


def test_rated_drop() -> None:
    q = np.array([-2.0, -0.0, 0.0, 0.5, 1.0])
    assert lines.rated_drop(q, 1.0, 1e5).tolist() == [-4e5, 0.0, 0.0, 0.25e5, 1e5]
    assert lines.rated_drop_slope(q, 1.0, 1e5).tolist() == [4e5, 0.0, 0.0, 1e5, 2e5]
    assert lines.rated_drop_slope(q, 1.0, 1e5, 1.0).tolist() == [1e5] * 5


BYPASS = {
    "rated_flow": 1e-3,
    "rated_drop": 0.5e5,
    "rated_viscosity": 32e-6,
    "bypass_cracking": 2e5,
    "bypass_full": 3e5,
}


def test_filter_by_hand() -> None:
    # Clean and warm: the element alone. Cold, ten times as thick: R = 5 bar for the rated flow.
    # At twice the rated flow (q - dp / R) / Q_r = dp - 2 bar gives dp = (2 + 2) / 1.2 bar.
    assert float(lines.filter_drop(1e-3, viscosity=32e-6, **BYPASS)) == pytest.approx(0.5e5)
    drop, slope = lines.filter_drop_and_slope(2e-3, viscosity=320e-6, **BYPASS)
    assert float(drop) == pytest.approx(4e5 / 1.2)
    assert float(slope) == pytest.approx(1e5 / 1.2 / 1e-3)
    share = float(lines.bypass_share(2e-3, viscosity=320e-6, **BYPASS))
    assert share * 2.0 == pytest.approx(4.0 / 1.2 - 2.0)
    # Reverse: the bypass is a check valve.
    assert float(lines.filter_drop(-2e-3, viscosity=320e-6, **BYPASS)) == pytest.approx(-10e5)
    assert float(lines.bypass_share(-2e-3, viscosity=320e-6, **BYPASS)) == 0.0


def test_bypass_alone_passes_rated_flow_at_full_pressure() -> None:
    blocked = BYPASS | {"rated_drop": 1e12}
    assert float(lines.filter_drop(1e-3, viscosity=32e-6, **blocked)) == pytest.approx(3e5)


@given(st.floats(-5e-3, 5e-3), st.floats(-5e-3, 5e-3), st.floats(1e-6, 2e-3))
def test_filter_rises_and_bypass_only_helps(one: float, two: float, nu: float) -> None:
    low, high = sorted((one, two))
    if high - low > 1e-9:
        assert lines.filter_drop(low, viscosity=nu, **BYPASS) < lines.filter_drop(
            high, viscosity=nu, **BYPASS
        )
    without = BYPASS | {"bypass_cracking": None, "bypass_full": None}
    for q in (one, two):
        assert lines.filter_drop(q, viscosity=nu, **BYPASS) <= lines.filter_drop(
            q, viscosity=nu, **without
        )
        assert 0.0 <= float(lines.bypass_share(q, viscosity=nu, **BYPASS)) < 1.0


def test_filter_without_bypass_and_edges() -> None:
    for none in (None, np.inf):
        parts = BYPASS | {"bypass_cracking": none, "bypass_full": None}
        drop, slope = lines.filter_drop_and_slope(1e-2, viscosity=320e-6, **parts)
        assert float(drop) == pytest.approx(50e5)
        assert float(slope) == pytest.approx(5e8)
        assert float(lines.bypass_share(1e-2, viscosity=320e-6, **parts)) == 0.0
    sudden = BYPASS | {"bypass_full": None}
    drop, slope = lines.filter_drop_and_slope(1e-2, viscosity=320e-6, **sudden)
    assert float(drop) == 2e5
    assert float(slope) == 0.0
    # A line without a filter, as the solver writes it: nothing lost, nothing warned.
    drop, slope = lines.filter_drop_and_slope(
        np.array([1e-3, 0.0]), np.inf, 0.0, 46e-6, 1e-6, np.inf, np.inf
    )
    assert drop.tolist() == slope.tolist() == [0.0, 0.0]


# --- head, inlet and tubes ----------------------------------------------------------------------


def test_atmosphere_against_fluids() -> None:
    for altitude in (-5000.0, -400.0, 0.0, 500.0, 1609.344, 3500.0, 8848.0, 11000.0):
        # Oracle: package fluids, US Standard Atmosphere 1976.
        assert float(lines.atmospheric_pressure(altitude)) == pytest.approx(
            ATMOSPHERE_1976(altitude).P, rel=1e-6
        )


def test_inlet_pressure_adds_up() -> None:
    head = lines.head_pressure(0.5, 870.0)
    assert float(lines.pressure_head(head, 870.0)) == pytest.approx(0.5)
    assert float(lines.inlet_absolute_pressure(101325.0, head, 20e3)) == pytest.approx(
        101325.0 + 0.5 * 870.0 * 9.80665 - 20e3
    )


@pytest.mark.parametrize(
    "call",
    [
        lambda: lines.atmospheric_pressure(12000.0),
        lambda: lines.atmospheric_pressure(np.nan),
        lambda: lines.bore_for_velocity(1e-3, 0.0),
        lambda: lines.dash_bore(-12),
        lambda: lines.tube_working_pressure(1e-3, 0.0, 4e8, 8.0),
    ],
)
def test_refusals(call: Callable[[], object]) -> None:
    with pytest.raises(DomainError, match=r"^[^\n]+$"):
        call()
