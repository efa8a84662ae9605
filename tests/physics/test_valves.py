"""Valve sections, reliefs, orifices and coils against published rows, tables and balances."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from fluids.fittings import Cv_to_Kv
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import bar, gallon, inch, minute, psi
from scipy.integrate import solve_ivp

from hydrocheck.errors import DomainError
from hydrocheck.physics import valves

GPM = gallon / minute
LPM = 1e-3 / minute

fraction = st.floats(0.0, 1.0)


# --- sections -----------------------------------------------------------------------------


def test_section_curve_by_hand() -> None:
    # Definition: nothing up to 30 %, the rated flow from 90 % on, half way at 60 %.
    u = np.array([-0.5, 0.0, 0.3, 0.6, 0.9, 1.0, 1.4])
    np.testing.assert_allclose(
        valves.section_flow(u, 0.3, 0.9, 40 * LPM) / LPM, [0, 0, 0, 20, 40, 40, 40], atol=1e-12
    )
    curved = valves.section_flow(0.6, 0.3, 0.9, 40 * LPM, 2.0)
    assert curved / LPM == pytest.approx(10.0)


def test_deadband_from_two_points() -> None:
    # Trade site, "Proportional solenoid on a throttle valve": 40 % gives 5 %, 80 % gives 50 %.
    line = valves.command_line(0.40, 0.05, 0.80, 0.50)
    assert line.slope == pytest.approx(1.125)
    assert line.deadband == pytest.approx(0.3556, abs=1e-4)
    assert line.full_flow == pytest.approx(0.725)
    again = valves.section_flow(np.array([0.4, 0.8]), line.deadband, 1.0, line.full_flow)
    np.testing.assert_allclose(again, [0.05, 0.50], rtol=1e-12)


@given(fraction, fraction, st.floats(0.0, 0.6), st.floats(0.61, 1.0), st.floats(0.3, 3.0))
def test_section_flow_rises_and_turns_back(
    a: float, b: float, dead: float, full: float, shape: float
) -> None:
    low, high = sorted((a, b))
    curve = (dead, full, 1e-3, shape)
    q_low, q_high = (float(valves.section_flow(u, *curve)) for u in (low, high))
    assert 0.0 <= q_low <= q_high <= 1e-3
    if q_high > 1e-9:
        u = float(valves.command_for_flow(q_high, *curve))
        assert u == pytest.approx(min(high, full), rel=1e-6)
    assert valves.command_for_flow(0.0, *curve) == dead


def test_no_command_gives_more_than_the_rated_flow() -> None:
    u = valves.command_for_flow(np.array([1.0, 1.0 + 1e-15, 1.01]), 0.3, 0.9, 1.0)
    np.testing.assert_allclose(u, [0.9, 0.9, np.inf], rtol=1e-15)


@given(st.floats(0.0, 1e-2), st.floats(1e-6, 1e-2), st.floats(1e4, 5e6))
def test_section_drop_and_compensated_flow_agree(q: float, asked: float, rated: float) -> None:
    drop = float(valves.section_drop(q, asked, rated))
    got = float(valves.compensated_flow(asked, drop, rated))
    assert got == pytest.approx(min(q, asked), rel=1e-9, abs=1e-12)


def test_section_limits() -> None:
    np.testing.assert_array_equal(
        valves.section_drop(np.array([0.0, 1e-3, -1e-3]), 0.0, 1e6), [0.0, np.inf, 0.0]
    )
    assert valves.section_drop(2e-3, 1e-3, 5e5) == pytest.approx(2e6)
    # Below the compensator's drop the section is an orifice; a check valve holds reverse flow.
    got = valves.compensated_flow(1e-3, np.array([-1e5, 0.0, 2.5e5, 1e6, 9e6]), 1e6)
    np.testing.assert_allclose(got, [0.0, 0.0, 0.5e-3, 1e-3, 1e-3], rtol=1e-12)


# --- orifices -----------------------------------------------------------------------------


def test_small_orifice_of_a_magazine() -> None:
    # Tip 15 of a trade magazine: 0.080 in at 1500 psi passes 4.8 to 5.6 gal/min (Cd 0.6 to 0.7,
    # oil of 870 kg/m3), not 10; 10 need 0.107 to 0.116 in. Computed range, two digits.
    area = np.pi / 4 * (0.080 * inch) ** 2
    low, high = valves.orifice_flow(1500 * psi, area, np.array([0.6, 0.7]), 870.0) / GPM
    assert low == pytest.approx(4.8, abs=0.06)
    assert high == pytest.approx(5.6, abs=0.06)
    d = valves.orifice_diameter(10 * GPM, 1500 * psi, np.array([0.7, 0.6]), 870.0) / inch
    np.testing.assert_allclose(d, [0.107, 0.116], atol=0.0008)


@given(st.floats(1e2, 1e8), st.floats(1e-9, 1e-2), st.floats(0.3, 1.0), st.floats(500.0, 1500.0))
def test_orifice_round_trips(drop: float, area: float, cd: float, rho: float) -> None:
    q = valves.orifice_flow(drop, area, cd, rho)
    assert valves.orifice_flow(-drop, area, cd, rho) == -q
    assert valves.orifice_area(q, drop, cd, rho) == pytest.approx(area, rel=1e-12)
    assert valves.discharge_coefficient(q, drop, area, rho) == pytest.approx(cd, rel=1e-12)
    assert valves.orifice_diameter(q, drop, cd, rho) ** 2 * np.pi / 4 == pytest.approx(area)
    # Bernoulli: the energy of the jet is the drop.
    assert rho / 2 * (q / (cd * area)) ** 2 == pytest.approx(drop, rel=1e-12)
    c = valves.flow_coefficient(q, drop, rho / 1000)
    assert valves.coefficient_drop(q, c, rho / 1000) == pytest.approx(drop, rel=1e-12)
    assert valves.coefficient_drop(-q, c, rho / 1000) == pytest.approx(-drop, rel=1e-12)
    assert valves.coefficient_flow(-drop, c, rho / 1000) == pytest.approx(-q, rel=1e-12)
    assert valves.flow_at_drop(q, drop, 4 * drop) == pytest.approx(2 * q, rel=1e-12)


def test_flow_coefficient_against_a_library() -> None:
    # fluids: Kv is the flow in m3/h at 1 bar of the valve whose Cv is gal/min at 1 psi.
    c = valves.flow_coefficient(2.37 * GPM, 1 * psi)
    at_one_bar = valves.coefficient_flow(1 * bar, c) * 3600
    assert at_one_bar == pytest.approx(Cv_to_Kv(2.37), rel=1e-3)


@given(st.floats(1.0, 5e4))
def test_meter_in_and_out_balance(load: float) -> None:
    # The same throttle on either side: forces on the piston balance.
    ap, ar, supply = 2e-3, 5e-4, 1e7
    v = float(valves.meter_in_speed(1e-8, ap, load, supply, 0.87))
    drop = valves.coefficient_drop(v * ap, 1e-8, 0.87)
    assert (supply - drop) * ap == pytest.approx(min(load, supply * ap), rel=1e-9)
    if load < supply * ap:
        p2 = valves.meter_out_pressure(supply, load, ap, ar)
        assert supply * ap - p2 * (ap - ar) == pytest.approx(load, rel=1e-6)
        c = valves.meter_out_coefficient(0.1, ap, ar, load, supply, 0.87)
        assert valves.coefficient_flow(p2, c, 0.87) == pytest.approx(0.1 * (ap - ar), rel=1e-9)


# --- relief valves ------------------------------------------------------------------------


def test_relief_by_hand() -> None:
    p = np.array([0.0, 170.0, 170.001, 185.0, 200.0, 230.0]) * bar
    q = valves.relief_flow(p, 170 * bar, 200 * bar, 60 * LPM) / LPM
    np.testing.assert_allclose(q, [0, 0, 0.002, 30, 60, 120], atol=1e-9)


def test_measured_relief() -> None:
    # Condition monitoring data set (2018): 191.3 bar with all flow over it, about 1.0 bar per
    # L/min near full flow of about 7.8 L/min, so cracking at about 96 %.
    cracking = 0.96 * 191.3 * bar
    slope = (
        valves.relief_inlet_pressure(7.8 * LPM, cracking, 191.3 * bar, 7.8 * LPM)
        - valves.relief_inlet_pressure(6.8 * LPM, cracking, 191.3 * bar, 7.8 * LPM)
    ) / bar
    assert slope == pytest.approx(1.0, abs=0.05)
    assert valves.relief_cracking(191.3 * bar, "pilot") == pytest.approx(cracking, rel=0.011)


def test_cracking_by_type() -> None:
    # From memory: pilot 5 %, direct 15 % under the setting.
    assert valves.relief_cracking(200.0, "pilot") == pytest.approx(190.0)
    assert valves.relief_cracking(200.0, "direct") == pytest.approx(170.0)
    with pytest.raises(DomainError, match="pilot, direct, got spring"):
        valves.relief_cracking(200.0, "spring")


@given(st.floats(0.0, 2e-2), st.floats(0.5, 0.99), st.floats(1e6, 4e7), st.floats(0.0, 5e6))
def test_relief_turns_back(q: float, part: float, setting: float, outlet: float) -> None:
    p = valves.relief_inlet_pressure(q, part * setting, setting, 1e-3, outlet)
    back = valves.relief_flow(p - outlet, part * setting, setting, 1e-3)
    assert back == pytest.approx(q, rel=1e-9, abs=1e-14)
    assert p >= outlet + part * setting


# --- load sensing -------------------------------------------------------------------------


def test_load_sensing_gauge() -> None:
    # Hydraulic Systems for Mobile Equipment (2017), ch. 18, p. 421: 1000 psi load, 250 margin;
    # another circuit 300. Standby 400 psi without a signal (a fork truck's manual).
    at = {"standby": 400 * psi, "compensator": 2500 * psi}
    assert valves.ls_pump_pressure(1000 * psi, 250 * psi, **at) / psi == pytest.approx(1250)
    assert valves.ls_pump_pressure(1000 * psi, 300 * psi, **at) / psi == pytest.approx(1300)
    assert valves.ls_pump_pressure(0.0, 250 * psi, **at) / psi == pytest.approx(400)
    assert valves.ls_pump_pressure(2400 * psi, 250 * psi, **at) / psi == pytest.approx(2500)


def test_ladder() -> None:
    # Trade article: relief 100 to 150 psi above the compensator; here it stands below.
    gaps = valves.pressure_gaps(np.array([1250.0, 2500.0, 2450.0, 3250.0]))
    np.testing.assert_allclose(gaps, [1250.0, -50.0, 800.0])
    assert valves.pressure_gaps(np.ones((4, 3))).shape == (4, 2)


# --- coils --------------------------------------------------------------------------------


def test_coil_loses_current_when_hot() -> None:
    # Copper 0.393 %/K: 1.16 at 60 degC, 1.31 at 100, 1.39 at 120; 12 V on 5.3 ohm gives 2.26 A
    # at 20 degC and 1.72 at 100, from 11 V 1.58 and 1.49 at 120. Computed with the standard value.
    t = np.array([20.0, 60.0, 100.0, 120.0]) + 273.15
    r = np.asarray(valves.coil_resistance(5.3, t))
    np.testing.assert_allclose(r / 5.3, [1.0, 1.16, 1.31, 1.39], atol=0.005)
    np.testing.assert_allclose(valves.coil_current(12.0, r[[0, 2]]), [2.26, 1.72], atol=0.006)
    np.testing.assert_allclose(valves.coil_current(11.0, r[2:]), [1.58, 1.49], atol=0.006)
    # A 24 V coil loses 19 % of its current over 60 K (published in words and figures).
    lost = 1 - valves.coil_current(24.0, valves.coil_resistance(20.2, 353.15)) / (24.0 / 20.2)
    assert lost == pytest.approx(0.19, abs=0.005)


@pytest.mark.parametrize("duty", [0.2, 0.5, 0.8])
def test_ripple_against_an_integrated_circuit(duty: float) -> None:
    # scipy integrates the switched R-L circuit until it repeats.
    u, r, ind, f = 12.0, 5.3, 0.012, 200.0
    current, span = 0.0, 1.0 / f
    for _ in range(12):
        on = solve_ivp(lambda t, i: (u - r * i) / ind, (0, duty * span), [current], rtol=1e-9)
        off = solve_ivp(lambda t, i: -r * i / ind, (0, (1 - duty) * span), on.y[:, -1], rtol=1e-9)
        current = float(off.y[0, -1])
    got = float(valves.coil_ripple(u, r, ind, f, duty))
    assert got == pytest.approx(float(on.y[0, -1]) - current, rel=1e-5)


@given(st.floats(1.0, 1e4), st.floats(1.0, 1e4), fraction)
def test_ripple_bounds(f_1: float, f_2: float, duty: float) -> None:
    low, high = sorted((f_1, f_2))
    slow, fast = (float(valves.coil_ripple(24.0, 20.2, 0.06, f, duty)) for f in (low, high))
    assert 0.0 <= fast <= slow * (1 + 1e-12) <= 24.0 / 20.2 * (1 + 1e-9)
    assert slow <= float(valves.coil_ripple(24.0, 20.2, 0.06, low, 0.5)) * (1 + 1e-12)
    mirrored = float(valves.coil_ripple(24.0, 20.2, 0.06, low, 1.0 - duty))
    assert mirrored == pytest.approx(slow, rel=1e-9, abs=1e-12)


def test_drive_frequency_band() -> None:
    # The computed table: 12 V, 5.3 ohm, 30 mH, 1.5 A ripples 33 % at 200 Hz, 17 % at 400 Hz.
    low, high = valves.drive_frequency_band(0.17 * 1.5, 0.33 * 1.5, 12.0, 5.3, 0.03)
    assert low == pytest.approx(200.0, rel=0.03)
    assert high == pytest.approx(400.0, rel=0.03)
    # 3 A peak to peak cannot come out of a coil that takes 2.26 A.
    f = np.asarray(valves.drive_frequency(np.array([3.0, 0.255]), 12.0, 5.3, 0.03))
    assert f[0] == 0.0
    assert f[1] == pytest.approx(high, rel=1e-12)


@given(st.floats(0.01, 0.99), st.floats(1.0, 50.0), st.floats(1e-3, 0.2))
def test_drive_frequency_inverts_the_ripple(part: float, r: float, ind: float) -> None:
    f = valves.drive_frequency(part * 12.0 / r, 12.0, r, ind)
    assert valves.coil_ripple(12.0, r, ind, f) == pytest.approx(part * 12.0 / r, rel=1e-9)


# --- refusals -----------------------------------------------------------------------------

REFUSED: list[tuple[str, tuple[Any, ...], str]] = [
    ("section_flow", (0.5, 0.9, 0.3, 1e-3), "deadband must be smaller"),
    ("section_flow", (0.5, -0.1, 0.9, 1e-3), "deadband must be between"),
    ("section_flow", (0.5, 0.3, 1.2, 1e-3), "full command"),
    ("section_flow", (0.5, 0.3, 0.9, 1e-3, 0.0), "shape"),
    ("command_for_flow", (-1e-3, 0.3, 0.9, 1e-3), "flow"),
    ("command_for_flow", (1e-3, 0.3, 0.9, 0.0), "rated flow"),
    ("command_line", (0.4, 0.05, 0.4, 0.5), "second test point"),
    ("command_line", (0.4, 0.0, 0.8, 0.5), "flow 1"),
    ("orifice_flow", (1e5, 1e-4, 0.6, 0.0), "density"),
    ("orifice_area", (1e-3, 0.0, 0.6, 870.0), "drop"),
    ("coefficient_drop", (1e-3, 0.0), "coefficient"),
    ("flow_at_drop", (1e-3, 1e5, -1e5), "new drop"),
    ("meter_out_pressure", (1e7, 1e3, 1e-3, 1e-3), "rod area"),
    ("meter_out_coefficient", (0.1, 2e-3, 5e-4, 1e6, 1e7, 0.87), "drop"),
    ("relief_inlet_pressure", (1e-3, 2e7, 1e7, 1e-3), "cracking"),
    ("spring_relief_pressure", (0.0, 1e5, 1e-3), "poppet area"),
    ("relief_setting_for_load", (1e3, 0.0), "bore"),
    ("coil_resistance", (5.3, -5.0), "temperature"),
    ("coil_resistance", (5.3, 20.0), "too low"),
    ("coil_current", (12.0, 0.0), "resistance"),
    ("coil_current", (12.0, 5.3, 1.5), "duty"),
    ("coil_ripple", (12.0, 5.3, 0.0, 100.0), "inductance"),
    ("drive_frequency", (0.0, 12.0, 5.3, 0.03), "ripple"),
    ("drive_frequency_band", (0.5, 0.2, 12.0, 5.3, 0.03), "low ripple"),
]


@pytest.mark.parametrize(("name", "arguments", "word"), REFUSED)
def test_refused(name: str, arguments: tuple[Any, ...], word: str) -> None:
    function = getattr(valves, name)
    with pytest.raises(DomainError, match=word) as caught:
        function(*arguments)
    assert "\n" not in str(caught.value)
