"""Pumps, motors, dividers and displacements against published figures and round trips."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import bar, gallon, hp, inch, lbf, minute, psi

from hydrocheck.errors import DomainError, HydrocheckError
from hydrocheck.physics import machines

# Outside factors from scipy; displacement and speed per radian.
GPM = gallon / minute
IN3 = inch**3 / (2 * pi)
CM3 = 1e-6 / (2 * pi)
RPM = 2 * pi / minute
LPM = 1e-3 / minute
LBF_IN = lbf * inch
CST = 1e-6


# --- handbook relations -------------------------------------------------------------------


def test_motor_takes_more_than_its_theoretical_flow() -> None:
    # Negative check: a web answer to this exercise multiplies by the volumetric efficiency and
    # gets 0.9 L/min and 120 W. 200 bar, 10 cm3 a turn, 150 rpm, 60 % volumetric, 40 % overall.
    flow = machines.motor_flow(10 * CM3, 150 * RPM, 0.60)
    assert flow / LPM == pytest.approx(2.5, rel=1e-9)
    power = machines.hydraulic_power(flow, 200 * bar) * 0.40
    assert power == pytest.approx(333.3, abs=0.1)
    torque = machines.motor_torque(10 * CM3, 200 * bar, 0.40 / 0.60)
    assert machines.shaft_power(torque, 150 * RPM) == pytest.approx(power, rel=1e-9)


def test_pump_overall_is_not_the_transcribed_figure() -> None:
    # A transcription of Fluid Power with Applications, Example 5-9, prints 89.8 %.
    eta = machines.pump_overall_efficiency(0.0015, 70 * bar, 120.0, 1000 * RPM)
    assert eta == pytest.approx(0.8357, abs=2e-4)
    volumetric = machines.pump_volumetric_efficiency(0.0015, 100 * CM3, 1000 * RPM)
    torque = machines.pump_hydromechanical_efficiency(120.0, 100 * CM3, 70 * bar)
    assert machines.overall_efficiency(volumetric, torque) == pytest.approx(eta, rel=1e-12)


def test_transmission_input_power() -> None:
    # Fluid Power with Applications, Example 9-5: a transcription subtracts 3.7 hp and prints
    # 11.8 hp and 81.9 %; pump 0.94 x 0.92, 40.7 gal/min at 569 psi, 582 lbf in at 1057 rpm.
    shaft = machines.pump_shaft_power(40.7 * GPM, 569 * psi, 0.94 * 0.92)
    assert shaft / hp == pytest.approx(15.7, abs=0.1)
    output = machines.shaft_power(582 * LBF_IN, 1057 * RPM)
    assert output / shaft == pytest.approx(0.62, abs=0.01)


def test_over_rounded_torque_constants() -> None:
    # Fluid Power: Theory and Applications, Examples 9.1 and 14.1: 0.16 p D and 0.013 p D.
    assert machines.motor_torque(0.5 * IN3, 2000 * psi) / LBF_IN == pytest.approx(159.15, abs=0.01)
    per_unit = machines.motor_torque(1.0 * IN3, 1.0 * psi) / (12 * LBF_IN)
    assert per_unit == pytest.approx(0.013263, abs=5e-7)


def test_drive_rating_against_the_printed_form() -> None:
    # FED-STD-794, p. 10: HP = P V 1.5 / (1714 x 0.85); 1714 is 12000/7 rounded (0.017 %).
    printed = 3000 * 31.43 * 1.5 / (1714 * 0.85)
    ours = machines.drive_power_rating(3000 * psi, 31.43 * GPM) / hp
    assert ours == pytest.approx(printed, rel=2e-4)
    assert ours < printed


def test_series_motors() -> None:
    # Trade article: 60 L/min, 200 cm3 motors, 140/100/60 bar over 20 bar, about 300 rpm.
    inlets = machines.series_inlet_pressures(np.full(3, 40 * bar), 20 * bar)
    np.testing.assert_allclose(inlets / bar, [140.0, 100.0, 60.0], rtol=1e-12)
    assert machines.motor_speed(60 * LPM, 200 * CM3) / RPM == pytest.approx(300.0, rel=1e-9)
    many = machines.series_inlet_pressures(np.full((5, 3), 40 * bar), np.arange(5) * bar)
    assert many.shape == (5, 3)
    np.testing.assert_allclose(many[4] / bar, [124.0, 84.0, 44.0], rtol=1e-12)


def test_gear_divider() -> None:
    # Textbook on fluid power circuits, chapter 13, p. 6: (1500 + 300) / 2 = 900 psi; 2000 in
    # with one outlet to tank puts 4000 on the other.
    inlet = machines.divider_inlet_pressure(np.array([1500.0, 300.0]) * psi, np.ones(2))
    assert inlet / psi == pytest.approx(900.0)
    assert machines.divider_intensified_pressure(2000 * psi, 0.5) / psi == pytest.approx(4000.0)


@given(
    st.lists(st.floats(0.0, 3e7), min_size=3, max_size=3),
    st.lists(st.floats(1e-7, 1e-5), min_size=3, max_size=3),
)
def test_gear_divider_conserves_power(pressures: list[float], sizes: list[float]) -> None:
    p, d = np.array(pressures), np.array(sizes)
    inlet = float(machines.divider_inlet_pressure(p, d))
    assert inlet * d.sum() == pytest.approx(float((p * d).sum()), rel=1e-12, abs=1e-12)
    # The first outlet, from the inlet and the mean of the other two.
    other = float(machines.divider_inlet_pressure(p[1:], d[1:]))
    first = machines.divider_intensified_pressure(inlet, d[0] / d.sum(), other)
    assert first == pytest.approx(p[0], rel=1e-9, abs=1e-2)


efficiency = st.floats(0.05, 1.0)
size = st.floats(1e-8, 1e-3)
positive = st.floats(1e-3, 1e3)


@given(size, positive, efficiency, efficiency, st.floats(1e4, 5e7))
def test_round_trips(d: float, n: float, ev: float, eh: float, dp: float) -> None:
    q = machines.pump_flow(d, n, ev)
    assert machines.pump_displacement(q, n, ev) == pytest.approx(d, rel=1e-12)
    assert machines.pump_volumetric_efficiency(q, d, n) == pytest.approx(ev, rel=1e-12)
    assert machines.pump_slip(d, n, q) == pytest.approx(
        d * n * (1 - ev), rel=1e-9, abs=1e-15 * d * n
    )
    t = machines.pump_torque(d, dp, eh)
    assert machines.pump_hydromechanical_efficiency(t, d, dp) == pytest.approx(eh, rel=1e-12)
    assert machines.pump_overall_efficiency(q, dp, t, n) == pytest.approx(ev * eh, rel=1e-12)
    assert machines.pump_shaft_power(q, dp, ev * eh) == pytest.approx(t * n, rel=1e-12)
    q = machines.motor_flow(d, n, ev)
    assert machines.motor_speed(q, d, ev) == pytest.approx(n, rel=1e-12)
    assert machines.motor_volumetric_efficiency(q, d, n) == pytest.approx(ev, rel=1e-12)
    assert machines.motor_displacement_for_speed(q, n, ev) == pytest.approx(d, rel=1e-12)
    t = machines.motor_torque(d, dp, eh)
    assert machines.motor_displacement_for_torque(t, dp, eh) == pytest.approx(d, rel=1e-12)
    assert machines.motor_pressure_for_torque(t, d, eh) == pytest.approx(dp, rel=1e-12)
    assert machines.motor_hydromechanical_efficiency(t, d, dp) == pytest.approx(eh, rel=1e-12)
    assert machines.motor_overall_efficiency(t, n, q, dp) == pytest.approx(ev * eh, rel=1e-12)
    assert machines.torque_from_power(machines.shaft_power(t, n), n) == pytest.approx(t)
    assert machines.hydromechanical_efficiency(ev * eh, ev) == pytest.approx(eh, rel=1e-12)


REFUSED: list[tuple[str, dict[str, Any], str]] = [
    ("pump_flow", {"displacement": -1e-6, "speed": 1.0}, "displacement"),
    ("pump_flow", {"displacement": float("nan"), "speed": 1.0}, "displacement"),
    ("pump_flow", {"displacement": 1e-6, "speed": -1.0}, "speed"),
    ("pump_flow", {"displacement": 1e-6, "speed": 1.0, "volumetric_efficiency": 1.2}, "volum"),
    ("pump_torque", {"displacement": 1e-6, "pressure_drop": 1e5,
                     "hydromechanical_efficiency": 0.0}, "hydromechanical"),
    ("pump_displacement", {"flow": 1e-3, "speed": 0.0}, "speed"),
    ("motor_flow", {"displacement": 1e-6, "speed": 1.0, "volumetric_efficiency": 0.0}, "volum"),
    ("motor_speed", {"flow": float("inf"), "displacement": 1e-6}, "flow"),
    ("motor_displacement_for_torque", {"torque": 1.0, "pressure_drop": 0.0}, "pressure drop"),
    ("pump_volumetric_efficiency", {"flow": 2e-3, "displacement": 1e-5, "speed": 100.0}, "100 %"),
    ("motor_volumetric_efficiency", {"flow": 1e-3, "displacement": 2e-5, "speed": 100.0}, "100 %"),
    ("pump_hydromechanical_efficiency",
     {"torque": 10.0, "displacement": 1e-5, "pressure_drop": 2e6}, "200.0 %"),
    ("motor_hydromechanical_efficiency",
     {"torque": 30.0, "displacement": 1e-5, "pressure_drop": 2e6}, "150.0 %"),
    ("hydromechanical_efficiency", {"overall": 0.9, "volumetric": 0.8}, "112.5 %"),
    ("pump_slip", {"displacement": 1e-5, "speed": 10.0, "flow": 2e-4}, "slip"),
    ("drive_ratio", {"pump_speed": 100.0, "engine_speed": 0.0}, "engine speed"),
    ("divider_intensified_pressure", {"inlet_pressure": 1e5, "share": 0.0}, "share"),
    ("vane_motor_displacement",
     {"vane_radius": 0.1, "rotor_radius": 0.1, "vane_width": 0.1}, "rotor radius"),
    ("gear_displacement",
     {"outside_diameter": 0.1, "inside_diameter": 0.2, "width": 0.1}, "inside diameter"),
    ("axial_piston_displacement",
     {"pistons": 9, "piston_diameter": 0.01, "circle_diameter": 0.1, "angle": pi / 2}, "angle"),
    ("next_preferred", {"displacement": 0.0}, "displacement"),
    ("preferred_displacements", {"lowest": 2e-6, "highest": 1e-6}, "lowest"),
    ("slip_conductance", {"displacement": 1e-5, "loss": -0.1, "rated_speed": 100.0,
                          "rated_pressure": 1e7}, "slip loss"),
    ("viscous_share_at_rating", {"share": 1.1, "rated_viscosity": 4e-5}, "viscous share"),
    ("starting_pressure", {"torque": 10.0, "displacement": 1e-5, "starting_efficiency": 0.0},
     "starting efficiency"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "arguments", "word"), REFUSED)
def test_refused(name: str, arguments: dict[str, Any], word: str) -> None:
    with pytest.raises(DomainError, match=word) as caught:
        getattr(machines, name)(**arguments)
    assert "\n" not in str(caught.value)
    assert isinstance(caught.value, HydrocheckError)


def test_arrays_broadcast_and_one_bad_value_is_named() -> None:
    flow = machines.pump_flow(np.array([[1e-5], [2e-5]]), np.array([10.0, 20.0, 30.0]), 0.9)
    assert np.shape(flow) == (2, 3)
    with pytest.raises(DomainError, match="got -2e-05"):
        machines.pump_flow(np.array([1e-5, -2e-5]), 10.0)


# --- preferred displacements --------------------------------------------------------------


def test_preferred_are_r10_numbers() -> None:
    # ISO 3 (from memory): the theoretical R10 number is 10^(k/10); rounding moves it by < 1.3 %.
    series = machines.preferred_displacements(1.0 * CM3, 1000.0 * CM3) / CM3
    assert len(series) == 31
    np.testing.assert_allclose(series, 10.0 ** (np.arange(31) / 10.0), rtol=0.0127)


@given(st.floats(0.05, 5000.0))
def test_next_preferred(wanted: float) -> None:
    found = machines.next_preferred(wanted * CM3)
    assert found >= wanted * CM3 * (1 - 1e-8)
    assert found <= 1.29 * wanted * CM3
    assert machines.next_preferred(found) == pytest.approx(found, rel=1e-12)


def test_no_preferred_between() -> None:
    assert machines.preferred_displacements(41 * CM3, 49 * CM3).size == 0
