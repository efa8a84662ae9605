"""Heat by balance and against textbook sums; single published rows run in tests/reference."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck.errors import DomainError
from hydrocheck.physics import heat

temperatures = st.floats(230.0, 400.0)


def test_rating_of_an_exchanger() -> None:
    # Fluid Power with Applications, 6th ed., 2005, Example 11-5: 6.41 kW. Pump of 85 % at 70 bar,
    # relief open half the time, lines a tenth of the relief.
    flow, pressure = 0.00126, 70e5
    pump = float(heat.pump_heat(flow, pressure, 0.85))
    relief = 0.5 * float(heat.relief_heat(flow, pressure))
    assert (pump + 1.1 * relief) / 1e3 == pytest.approx(6.41, abs=0.005)


def test_two_ways_to_the_rise_over_a_relief() -> None:
    # Fluid Power with Applications, 6th ed., 2005, Example 11-3: 50 degC becomes 54.3 degC.
    loss = heat.relief_heat(0.000632, 70e5)
    by_flow = float(heat.temperature_rise(loss, 895.0 * 0.000632, 1800.0))
    assert by_flow == pytest.approx(float(heat.throttling_rise(70e5, 895.0, 1800.0)), rel=1e-12)
    assert float(heat.outlet_temperature(50.0, by_flow)) == pytest.approx(54.3, abs=0.06)


@given(st.floats(-5e3, 2e4), temperatures, st.floats(1.0, 50.0), st.floats(1.0, 30.0))
def test_steady_state_balances(power: float, air: float, area: float, coefficient: float) -> None:
    total = heat.surface_conductance(area, coefficient)
    oil = heat.steady_temperature(power, air, total)
    lost = float(heat.surface_loss(area, coefficient, oil, air))
    assert lost == pytest.approx(power, rel=1e-6, abs=1e-6)
    assert float(heat.cooler_heat(total, oil, air)) == pytest.approx(lost, rel=1e-9, abs=1e-9)


@given(st.floats(100.0, 2e4), temperatures, st.floats(5.0, 80.0))
def test_conductance_holds_the_limit(power: float, air: float, margin: float) -> None:
    needed = heat.conductance_for_limit(power, air, air + margin)
    assert float(heat.steady_temperature(power, air, needed)) == pytest.approx(air + margin)


@given(st.floats(0.0, 1e5), temperatures, temperatures, st.floats(60.0, 1e4))
def test_warm_up_runs_from_start_to_end(time: float, start: float, end: float, tau: float) -> None:
    now = float(heat.warm_up(time, start, end, tau))
    assert min(start, end) - 1e-9 <= now <= max(start, end) + 1e-9
    assert float(heat.warm_up(0.0, start, end, tau)) == pytest.approx(start)
    # After one time constant 1 - 1/e of the change is done: from memory.
    change = float(heat.warm_up(tau, start, end, tau)) - start
    assert change == pytest.approx(0.6321205588 * (end - start), abs=1e-7)


@given(temperatures, temperatures, st.floats(0.01, 0.99), st.floats(60.0, 1e4))
def test_warm_up_time_turns_round(start: float, end: float, share: float, tau: float) -> None:
    if abs(end - start) < 1.0:
        return
    target = start + share * (end - start)
    time = float(heat.warm_up_time(target, start, end, tau))
    assert float(heat.warm_up(time, start, end, tau)) == pytest.approx(target, abs=1e-6)
    assert time == pytest.approx(-tau * np.log(1.0 - share), rel=1e-6, abs=1e-6)


def test_warm_up_time_at_the_edges() -> None:
    start, end = 290.0, 330.0
    targets = np.array([280.0, 290.0, 330.0, 340.0])
    assert heat.warm_up_time(targets, start, end, 100.0).tolist() == [0.0, 0.0, np.inf, np.inf]
    # Cooling down: already below it, or never so cold.
    assert float(heat.warm_up_time(335.0, end, start, 100.0)) == 0.0
    assert float(heat.warm_up_time(285.0, end, start, 100.0)) == np.inf


@given(st.floats(0.0, 1e5), temperatures, st.floats(0.1, 1e4), st.floats(1.0, 10.0))
def test_more_cooling_never_warms(power: float, air: float, total: float, more: float) -> None:
    oil = float(heat.steady_temperature(power, air, total))
    assert float(heat.steady_temperature(power, air, total * more)) <= oil
    assert float(heat.steady_temperature(power * more, air, total)) >= oil


@given(temperatures, temperatures, st.floats(1.0, 1e5), st.floats(0.0, 1e6), st.floats(0.0, 1e6))
def test_warming_never_turns_back(
    start: float, end: float, tau: float, one: float, two: float
) -> None:
    early, late = heat.warm_up(np.sort([one, two]), start, end, tau)
    assert abs(late - end) <= abs(early - end) + 1e-9


def test_warm_up_obeys_the_heat_balance() -> None:
    # Oracle: the balance m c dT/dt = P - G (T - T_air), stepped by hand.
    mass, specific, conductance, power, air = 80.0, 1900.0, 30.0, 1500.0, 263.15
    oil, step = 263.15, 1.0
    for _ in range(3600):
        oil += step * (power - conductance * (oil - air)) / (mass * specific + 100.0 * 480.0)
    tau = heat.time_constant(mass, specific, conductance, 100.0)
    end = heat.steady_temperature(power, air, conductance)
    assert float(heat.warm_up(3600.0, air, end, tau)) == pytest.approx(oil, abs=0.01)


def test_measured_time_constant_is_plausible() -> None:
    # Rig data set "Condition monitoring of hydraulic systems", 2018: 19 minutes with about 2.4 kW
    # towards 53 degC. In a 20 degC hall that is 73 W/K and a heat capacity of 83 kJ/K.
    conductance = float(heat.conductance_for_limit(2400.0, 293.15, 326.15))
    tau = float(heat.time_constant(30.0, 1900.0, conductance, 54.0))
    assert tau == pytest.approx(19 * 60, rel=0.02)


def test_reservoirs() -> None:
    # Swing of three hoist cylinders, single-acting, 5 in by 40 in each, plus a tenth: by hand
    # 3 x 19.635 in2 x 40 in x 1.1 = 2591.8 in3.
    inch = 0.0254
    swing = heat.swing_volume(5 * inch, 40 * inch, 3)
    assert float(heat.reservoir_volume_for_swing(swing)) / inch**3 == pytest.approx(2591.8, abs=0.1)
    assert float(heat.reservoir_volume(1e-3, 180.0)) == pytest.approx(0.18)


@pytest.mark.parametrize(
    "call",
    [
        lambda: heat.pump_heat(1.0, 1.0, 0.0),
        lambda: heat.pump_heat(1.0, 1.0, 1.1),
        lambda: heat.temperature_rise(1.0, 0.0, 1900.0),
        lambda: heat.throttling_rise(1.0, 870.0, -1.0),
        lambda: heat.steady_temperature(1.0, 290.0, np.array([10.0, 0.0])),
        lambda: heat.conductance_for_limit(1.0, 290.0, 290.0),
        lambda: heat.time_constant(1.0, 1.0, 0.0),
        lambda: heat.warm_up(-1.0, 290.0, 300.0, 100.0),
        lambda: heat.warm_up(1.0, 290.0, 300.0, 0.0),
        lambda: heat.warm_up_time(295.0, 290.0, 300.0, np.nan),
    ],
)
def test_refusals(call: Callable[[], object]) -> None:
    with pytest.raises(DomainError, match=r"^[^\n]+$"):
        call()
