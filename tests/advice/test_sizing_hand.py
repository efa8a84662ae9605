"""Published design examples and practitioners' cases: as printed, or rounded up to what is sold."""

from __future__ import annotations

import pytest

from hydrocheck.advice.sizing_hand import (
    hand_bore,
    hand_drive,
    hand_motor_for_speed,
    hand_motor_for_torque,
    hand_pump,
)
from hydrocheck.advice.sizing_parts import (
    BORES,
    DASHES,
    ISO_4397,
    R10,
    dash_of,
    next_cylinder_bore,
    next_number,
)
from hydrocheck.errors import DomainError
from hydrocheck.physics import loads, machines, motors, pumps
from hydrocheck.units import parse


def q(text: str, kind: str) -> float:
    return parse(text, kind)


# Case 1, an open-hardware tractor wiki ("Hydraulic Hose Sizing"): 1.84 in3 a turn at 3600 rpm
# worked well; the engine now turns 2700 rpm.


def test_case_1_slower_engine_same_flow() -> None:
    flow = float(pumps.pump_flow(q("1.84 in3/rev", "displacement"), q("3600 rpm", "shaft_speed")))
    assert flow == pytest.approx(q("28.68 gpm", "flow"), rel=2e-4)
    found = hand_pump(flow, q("2700 rpm", "shaft_speed"))
    assert found.exact == pytest.approx(q("2.453 in3/rev", "displacement"), rel=2e-4)
    assert found.size == pytest.approx(q("50 cm3/rev", "displacement"))


def test_case_1_power_check() -> None:
    # 28.34 gpm at 3000 psi: 49.6 hp in the oil, 58.4 hp in at 85 %.
    oil = float(machines.hydraulic_power(q("28.34 gpm", "flow"), q("3000 psi", "pressure")))
    assert oil == pytest.approx(q("49.6 hp", "power"), rel=1e-3)
    assert oil / 0.85 == pytest.approx(q("58.4 hp", "power"), rel=1e-3)


# Case 2, a trade journal on power take-offs: 25 hp at 1000 rpm; 1000 rpm of 1500; 1500 of 1000.


def test_case_2_drive_torque_and_ratio() -> None:
    torque = machines.torque_from_power(q("25 hp", "power"), q("1000 rpm", "shaft_speed"))
    assert float(torque) == pytest.approx(q("131.3 lb-ft", "torque"), rel=5e-4)
    fast, slow = q("1500 rpm", "shaft_speed"), q("1000 rpm", "shaft_speed")
    assert float(machines.drive_ratio(slow, fast)) == pytest.approx(0.667, abs=5e-4)
    assert float(machines.drive_ratio(fast, slow)) == pytest.approx(1.50)


# Case 3, FED-STD-794, p. 10, for 20 gpm at 2500 psi.


def test_case_3_drive_rating_and_bores_by_a_truck_standard() -> None:
    flow = q("20 gpm", "flow")
    rating = hand_drive(q("2500 psi", "pressure"), flow)
    assert rating == pytest.approx(q("51.5 hp", "power"), rel=1e-3)
    suction = hand_bore(flow, q("4 ft/s", "velocity"))
    assert suction.exact == pytest.approx(q("1.429 in", "length"), rel=5e-4)
    assert suction.size == pytest.approx(q("1-1/2 in", "length"))
    discharge = hand_bore(flow, q("25 ft/s", "velocity"))
    assert discharge.exact == pytest.approx(q("0.572 in", "length"), rel=1e-3)
    assert discharge.size == pytest.approx(q("5/8 in", "length"))


# Case 27, the same wiki: bores at 20, 15 and 5 ft/s (and 4 ft/s).


@pytest.mark.parametrize(
    ("flow", "velocity", "printed", "hose"),
    [
        ("13 gpm", "20 ft/s", "0.515 in", "5/8 in"),
        ("13 gpm", "15 ft/s", "0.595 in", "5/8 in"),
        ("13 gpm", "5 ft/s", "1.031 in", "1-1/4 in"),
        ("13 gpm", "4 ft/s", "1.152 in", "1-1/4 in"),
        ("16 gpm", "20 ft/s", "0.572 in", "5/8 in"),
        ("16 gpm", "15 ft/s", "0.660 in", "3/4 in"),
        ("16 gpm", "5 ft/s", "1.143 in", "1-1/4 in"),
        ("16 gpm", "4 ft/s", "1.278 in", "1-1/2 in"),
        ("28.5 gpm", "20 ft/s", "0.763 in", "1 in"),
        ("28.5 gpm", "15 ft/s", "0.881 in", "1 in"),
        ("28.5 gpm", "5 ft/s", "1.526 in", "2 in"),
        ("28.5 gpm", "4 ft/s", "1.706 in", "2 in"),
        # Fluid Power with Applications, Example 10-1, p. 367.
        ("30 gpm", "20 ft/s", "0.783 in", "1 in"),
        # A supplier's FAQ on nominal width: 20 L/min.
        ("20 L/min", "0.5 m/s", "29.1 mm", "1-1/4 in"),
        ("20 L/min", "1.5 m/s", "16.8 mm", "3/4 in"),
        ("20 L/min", "2 m/s", "14.6 mm", "5/8 in"),
        ("20 L/min", "4 m/s", "10.3 mm", "1/2 in"),
        ("20 L/min", "3 m/s", "11.9 mm", "1/2 in"),
        ("20 L/min", "10 m/s", "6.5 mm", "5/16 in"),
    ],
)
def test_hose_bore_from_velocity(flow: str, velocity: str, printed: str, hose: str) -> None:
    found = hand_bore(q(flow, "flow"), q(velocity, "velocity"))
    assert found.exact == pytest.approx(q(printed, "length"), rel=5e-3)
    assert found.size == pytest.approx(q(hose, "length"))


# Textbook design rows: Fluid Power with Applications (2005), Examples 7-4 and 7-7; Fluid Power:
# Theory and Applications (4th ed.), Example 8.1.


@pytest.mark.parametrize(
    ("pump", "printed", "bought"),
    [
        ("5 in3/rev", "4.71 in3/rev", "80 cm3/rev"),
        ("82 cm3/rev", "77.3 cm3/rev", "80 cm3/rev"),
    ],
)
def test_motor_of_a_hydrostatic_drive(pump: str, printed: str, bought: str) -> None:
    flow = pumps.pump_flow(q(pump, "displacement"), q("500 rpm", "shaft_speed"), 0.82)
    found = hand_motor_for_speed(float(flow), q("400 rpm", "shaft_speed"), 0.92)
    assert found.exact == pytest.approx(q(printed, "displacement"), rel=1.1e-3)
    assert found.size == pytest.approx(q(bought, "displacement"))


def test_motor_for_a_torque_is_the_inverse_of_a_printed_example() -> None:
    # Example 7-2, p. 259: 5 in3 a turn at 1000 psi gives 795 lb-in.
    found = hand_motor_for_torque(q("795 in-lb", "torque"), q("1000 psi", "pressure"))
    assert found.exact == pytest.approx(q("5 in3/rev", "displacement"), rel=1.5e-3)
    assert found.size == pytest.approx(q("100 cm3/rev", "displacement"))
    torque = motors.motor_torque(found.size, q("1000 psi", "pressure"))
    assert float(torque) >= q("795 in-lb", "torque")


def test_cylinder_bore_for_a_load() -> None:
    # 80000 lbf at 1600 psi: 7.979 in, so 250 mm (9.84 in), the next above 200 mm.
    exact = float(loads.bore_for_load(q("80000 lbf", "force"), q("1600 psi", "pressure")))
    assert exact == pytest.approx(q("7.979 in", "length"), rel=1e-4)
    assert next_cylinder_bore(exact) == pytest.approx(0.250)


# Tables.


def test_hose_bores_against_the_metric_series() -> None:
    # A dash is a sixteenth of an inch; ISO 4397 rounds it: within 4 %.
    assert BORES[DASHES.index(12)] == pytest.approx(q("0.75 in", "length"))
    for dash, bore in zip(DASHES, BORES, strict=True):
        assert ISO_4397[dash] * 1e-3 == pytest.approx(float(bore), rel=0.05)
        assert dash_of(float(bore)) == dash
    with pytest.raises(DomainError, match="no hose"):
        dash_of(0.02)


def test_preferred_numbers_are_tenth_roots_of_ten() -> None:
    # ISO 3: R10 numbers are powers of the tenth root of ten, rounded within 1.3 %.
    for place, number in enumerate(R10):
        assert number == pytest.approx(10.0 ** (place / 10.0), rel=0.013)
    assert float(next_number(40.0, 1.0)) == 40.0  # type: ignore[arg-type]  # a float does
    assert float(next_number(40.1, 1.0)) == 50.0  # type: ignore[arg-type]  # a float does
    assert float(next_number(81.0, 1.0)) == 100.0  # type: ignore[arg-type]  # a float does
    assert float(next_number(0.0021, 1e-3)) == pytest.approx(2.5e-3)  # type: ignore[arg-type]  # a float does
