"""Rise of current and pressure against scipy's integrator and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from hydrocheck.errors import DomainError
from hydrocheck.physics.rise import current_rise_time, pressure_rise_time


def test_pressure_by_an_integrator() -> None:
    # scipy.integrate.solve_ivp of (V / B) dp/dt = q - k p, until the pressure is reached
    v, b, q, k, p = 2e-3, 5e8, 2e-4, 1.5e-11, 1.2e7

    def reached(_: float, y: np.ndarray) -> float:
        return float(y[0]) / p - 1.0

    reached.terminal = True  # type: ignore[attr-defined]  # how scipy is told to stop there
    done = solve_ivp(
        lambda _, y: b / v * (q - k * y), (0.0, 60.0), [0.0], events=reached, rtol=1e-9, atol=1.0
    )
    assert float(pressure_rise_time(v, b, q, k, p)) == pytest.approx(done.t_events[0][0], rel=1e-6)


def test_current_by_an_integrator() -> None:
    # scipy.integrate.solve_ivp of L di/dt = U - R i: 95 % of U / R is reached at the time given
    ohm, henry = 5.3, 0.030
    end = float(current_rise_time(ohm, henry))
    done = solve_ivp(lambda _, i: (1.0 - ohm * i) / henry, (0.0, end), [0.0], rtol=1e-9, atol=1e-12)
    assert done.y[0, -1] * ohm == pytest.approx(0.95, rel=1e-6)


POSITIVE = st.floats(1e-3, 1e3)


@given(POSITIVE, POSITIVE, POSITIVE, st.floats(0.0, 0.99), st.floats(1.01, 10.0))
def test_more_flow_is_faster_and_more_slip_slower(
    v: float, b: float, q: float, leak: float, more: float
) -> None:
    # leak: k p / q at a pressure of 1
    base = float(pressure_rise_time(v, b, q, leak * q, 1.0))
    assert float(pressure_rise_time(v, b, more * q, leak * q, 1.0)) < base
    assert base >= float(pressure_rise_time(v, b, q, 0.0, 1.0)) * (1 - 1e-12)
    assert float(pressure_rise_time(more * v, b, q, leak * q, 1.0)) == pytest.approx(more * base)


def test_ends() -> None:
    assert float(pressure_rise_time(1.0, 1.0, 1.0, 1.0, 1.0)) == np.inf  # all of it slips
    assert float(pressure_rise_time(1.0, 1.0, 0.0, 0.0, 1.0)) == np.inf
    assert float(pressure_rise_time(1.0, 1.0, 0.0, 1.0, 0.0)) == 0.0
    assert float(pressure_rise_time(0.0, 1.0, 1.0, 0.5, 1.0)) == 0.0


@pytest.mark.parametrize("bad", [(-1, 1, 1, 1, 1), (1, 0, 1, 1, 1), (1, 1, -1, 1, 1)])
def test_bad_input_is_refused(bad: tuple[float, ...]) -> None:
    with pytest.raises(DomainError):
        pressure_rise_time(*bad)
    for share in (1.0, -0.1):
        with pytest.raises(DomainError):
            current_rise_time(1.0, 1.0, share)
