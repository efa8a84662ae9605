"""Material, liquid, feeders and spinners; single published rows run in tests/reference."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from hydrocheck.errors import DomainError
from hydrocheck.physics import material

POUND, MILE, INCH, FOOT, TURN = 0.45359237, 1609.344, 0.0254, 0.3048, 2.0 * math.pi
GALLON, SHORT_TON = 231 * INCH**3, 2000 * POUND

rates = st.floats(0.0, 1.0)
speeds = st.floats(0.5, 30.0)
lanes = st.floats(0.5, 3.0)


# --- rates --------------------------------------------------------------------------------------


def test_minutes_per_mile_times_pounds_a_minute() -> None:
    # Minnesota field handbook, 2012: 200 lb/min at 20 mph (3 minutes a mile) is 600 lb/mile.
    road = 20 * MILE / 3600
    assert float(material.travel_time(MILE, road)) / 60 == pytest.approx(3.0)
    laid = float(material.application_rate(200 * POUND / 60, road))
    assert laid / POUND * MILE == pytest.approx(600.0)
    # The same handbook: an 18 ft road takes 0.75 of the rate of a two-lane mile, one lane 0.5.
    wide, narrow = (float(material.lane_rate(0.02, w * FOOT)) for w in (24.0, 18.0))
    assert narrow / wide == pytest.approx(0.75)
    two, one = (float(material.discharge(0.05, 10.0, n)) for n in (2, 1))
    assert one / two == pytest.approx(0.5)


@given(st.floats(1e-4, 1.0), speeds, lanes, st.floats(1e-3, 1.0))
def test_rate_to_shaft_and_back(rate: float, road: float, n: float, turn: float) -> None:
    flow = material.discharge(rate, road, n)
    shaft = material.shaft_speed(flow, turn)
    back = material.application_rate(material.shaft_discharge(shaft, turn), road, n)
    assert float(back) == pytest.approx(rate, rel=1e-12)
    assert float(material.road_speed_limit(flow, rate, n)) == pytest.approx(road, rel=1e-12)


@given(rates, st.floats(2.0, 5.0))
def test_area_and_lane_rates_turn_round(rate: float, width: float) -> None:
    assert float(material.area_rate(material.lane_rate(rate, width), width)) == pytest.approx(rate)


def test_at_rest() -> None:
    got = material.application_rate(np.array([1.0, 0.0]), 0.0)
    assert got[0] == np.inf
    assert np.isnan(got[1])
    assert float(material.travel_time(MILE, 0.0)) == np.inf
    assert float(material.road_speed_limit(1.0, 0.0)) == np.inf


# --- discharge per revolution -------------------------------------------------------------------


def test_conveyor_discharge() -> None:
    # Own arithmetic: 20 lb/min of 72 lb/ft3 through 8 x 1 in is a belt speed of 5.0 ft/min.
    density = 72 * POUND / FOOT**3
    turn = material.conveyor_mass_per_revolution(8 * INCH, INCH, FOOT, 1.0, density)
    shaft = float(material.shaft_speed(20 * POUND / 60, turn))
    assert shaft / TURN * 60 == pytest.approx(5.0)


@given(st.floats(0.1, 1.0), st.floats(0.1, 1.0))
def test_auger_discharge_is_proportional(fill: float, pitch: float) -> None:
    one = material.auger_mass_per_revolution(0.18, 0.1, 0.15, 1.0, 1200.0)
    part = material.auger_mass_per_revolution(0.18, 0.1, 0.15 * pitch, fill, 1200.0)
    assert float(part) == pytest.approx(float(one) * fill * pitch, rel=1e-12)


# --- catches ------------------------------------------------------------------------------------


def test_student_t_against_scipy() -> None:
    freedom = np.arange(1, 400)
    exact = stats.t.ppf(0.975, freedom)
    assert material.student_t(freedom) == pytest.approx(exact, rel=5e-5)
    assert float(material.student_t(0)) == np.inf


@given(st.lists(st.floats(1.0, 50.0), min_size=2, max_size=12))
def test_catch_against_scipy(masses: list[float]) -> None:
    catch = material.catch_statistics(masses, 20 * TURN)
    each = np.array(masses) / (20 * TURN)
    assert catch.mean == pytest.approx(each.mean())
    assert catch.count == len(masses)
    if np.ptp(each) > 1e-9 * each.mean():
        assert catch.variation == pytest.approx(stats.variation(each, ddof=1), rel=1e-6)
        low, high = stats.t.interval(0.95, len(each) - 1, each.mean(), stats.sem(each))
        assert catch.half_width * catch.mean == pytest.approx((high - low) / 2, rel=1e-4)


def test_three_catches_cannot_prove_four_percent() -> None:
    # Student's t: at 2 % variation three catches give 5.0 %, four 3.2 %; pooled over three speeds
    # of three catches (6 degrees of freedom) 2.8 %.
    assert float(material.mean_half_width(0.02, 3)) == pytest.approx(0.050, abs=5e-4)
    assert float(material.mean_half_width(0.02, 4)) == pytest.approx(0.032, abs=5e-4)
    assert float(material.mean_half_width(0.02, 3, 6)) == pytest.approx(0.028, abs=5e-4)


def test_catches_of_different_lengths() -> None:
    catch = material.catch_statistics([10.0, 20.0, 5.0], np.array([2.0, 4.0, 1.0]) * TURN)
    assert catch.mean * TURN == pytest.approx(5.0)
    assert catch.variation == pytest.approx(0.0, abs=1e-12)
    single = material.catch_statistics(10.0, TURN)
    assert (single.count, single.half_width) == (1, np.inf)
    assert math.isnan(single.variation)


# --- liquids ------------------------------------------------------------------------------------


def test_prewet_round_trip() -> None:
    # 100 lb/min at 9 gal a ton is 0.45 gal/min: arithmetic.
    dry = 100 * POUND / 60
    flow = material.prewet_flow(dry, 9 * GALLON / SHORT_TON)
    assert float(flow) / GALLON * 60 == pytest.approx(0.45)
    assert float(material.liquid_per_mass(flow, dry)) == pytest.approx(9 * GALLON / SHORT_TON)


@pytest.mark.parametrize(
    ("concentration", "celsius", "density", "source"),
    [
        (0.233, 15.0, 1177.313, "package thermo, Laliberte_density"),
        (0.230, 0.0, 1181.353, "package CoolProp, INCOMP::MNA"),
        (0.233, 15.0, 1.176 * 999.1, "AASHTO M 143-14, 6.3.1, specific gravity 1.176"),
    ],
)
def test_brine_density(concentration: float, celsius: float, density: float, source: str) -> None:
    got = float(material.brine_density(concentration, celsius + 273.15))
    assert got == pytest.approx(density, rel=3e-3), source


def test_slurry() -> None:
    # Minnesota LTAP, vol. 25 no. 2, 2017: 150 lb of 70/30 slurry hold 116 lb of salt, 23 % less.
    salt = float(material.slurry_salt(150.0, 0.30, 0.233))
    assert salt == pytest.approx(116.0, abs=0.6)
    assert 1.0 - salt / 150.0 == pytest.approx(0.23, abs=0.005)
    assert float(material.slurry_salt(150.0, 0.0, 0.233)) == 150.0


# --- feeders ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("diameter", "tube", "loading", "printed"),
    # Capacity tables of a screw-conveyor calculation sheet, document 407240256: ft3/h at 1 rpm;
    # tube sizes from memory.
    [
        (6, 2.375, 0.15, 0.8),
        (9, 2.875, 0.15, 2.7),
        (12, 3.5, 0.15, 6.5),
        (14, 4.0, 0.15, 10.4),
        (6, 2.375, 0.30, 1.5),
        (9, 2.875, 0.30, 5.5),
        (12, 3.5, 0.30, 12.9),
        (14, 4.0, 0.30, 20.8),
    ],
)
def test_screw_tables(diameter: float, tube: float, loading: float, printed: float) -> None:
    turn = material.auger_mass_per_revolution(
        diameter * INCH, tube * INCH, diameter * INCH, loading, 1.0
    )
    per_hour = float(turn) * TURN * 60 / FOOT**3
    assert per_hour == pytest.approx(printed, rel=0.03, abs=0.06)


# Own table: 7 in auger, 4 in tube, 6 in pitch; slot 3.0 m by 0.20 m under a hopper 2.0 m wide at
# 45 degrees; flight friction 0.4. Density, internal and wall friction in degrees; surcharge
# factors, then torques to start and to run in N m. The last row has an inverted-V shield.
FEEDERS = [
    (1150.0, 40.0, 22.0, 2.0, 0.20, 4.50, 1.48, 239.0, 79.0),
    (1280.0, 50.0, 27.0, 2.0, 0.20, 4.50, 1.23, 318.0, 87.0),
    (1800.0, 50.0, 30.0, 2.0, 0.20, 4.50, 1.33, 446.0, 132.0),
    (1800.0, 50.0, 30.0, 1.0, 0.15, 2.83, 1.33, 158.0, 74.0),
]


@pytest.mark.parametrize("row", FEEDERS)
def test_auger_under_a_hopper(row: tuple[float, ...]) -> None:
    density, delta, phi, top, slot, q_start, q_run, start, run = row
    inside, wall, half = (math.radians(v) for v in (delta, phi, 45.0))
    initial = float(material.initial_load_factor(top, slot, half))
    flowing = float(material.flowing_load_factor(half, wall, inside))
    assert initial == pytest.approx(q_start, abs=0.006)
    assert flowing == pytest.approx(q_run, abs=0.006)
    for factor, torque in ((max(initial, flowing), start), (flowing, run)):
        load = material.hopper_load(factor, 3.0, slot, density)
        pull = material.feeder_pull(load, inside)
        got = material.auger_torque(pull, 7 * INCH, 4 * INCH, 6 * INCH, 0.4)
        assert float(got) == pytest.approx(torque, abs=1.0)  # its g is 9.81


def test_control_fed_torque_does_not_depend_on_speed() -> None:
    # Own arithmetic on the US form: 7 x 4 x 6 in, fill 0.8, 10 ft: salt 196, dry sand 463, wet
    # sand 877 lb-in.
    for density, factor, expected in ((72, 1.0, 196.0), (100, 1.7, 463.0), (115, 2.8, 877.0)):
        turn = material.auger_mass_per_revolution(
            7 * INCH, 4 * INCH, 6 * INCH, 0.8, density * POUND / FOOT**3
        )
        for shaft in (1.0, 7.0):
            flow = material.shaft_discharge(shaft, turn)
            power = material.screw_material_power(flow, 10 * FOOT, factor)
            torque = float(material.shaft_torque(power, shaft))
            assert torque / (POUND * 9.80665 * INCH) == pytest.approx(expected, abs=0.6)


def test_a_hopper_auger_needs_more_than_a_control_fed_screw() -> None:
    # Maker's guide, document 455933418: screw feeders need additional power.
    turn = material.auger_mass_per_revolution(7 * INCH, 4 * INCH, 6 * INCH, 0.8, 1150.0)
    power = material.screw_material_power(material.shaft_discharge(1.0, turn), 3.0, 1.0)
    assert 2.0 * float(material.shaft_torque(power, 1.0)) < 79.0


# --- spinner ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("flow", "rpm", "radius", "watt", "newton_metre"),
    # Own table, balance of angular momentum.
    [
        (1.5, 450.0, 0.25, 208.0, 4.4),
        (5.67, 600.0, 0.25, 1399.0, 22.3),
        (5.67, 600, 0.305, 2082, 33.1),
    ],
)
def test_spinner_load(
    flow: float, rpm: float, radius: float, watt: float, newton_metre: float
) -> None:
    shaft = rpm * TURN / 60
    assert float(material.spinner_power(flow, radius, shaft)) == pytest.approx(watt, rel=1.5e-3)
    torque = float(material.spinner_torque(flow, radius, shaft))
    assert torque == pytest.approx(newton_metre, abs=0.06)


def test_spinner_disc_drag() -> None:
    # Own table in still air of -5 degC: 0.8, 1.9 and 4.6 W.
    nu = 1.70e-5 / 1.316
    for rpm, radius, watt in ((450, 0.25, 0.8), (600, 0.25, 1.9), (600, 0.305, 4.6)):
        got = float(material.spinner_disc_power(radius, rpm * TURN / 60, 1.316, nu))
        assert got == pytest.approx(watt, abs=0.15)


def test_spinner_exit_speed() -> None:
    # Straight-vane theory, integrated by hand from the feed radius: the long-vane formula is
    # within 0.5 %. s'' = w^2 s - mu 2 w s'.
    radius, feed, mu, w = 0.25, 0.06, 0.3, 500 * TURN / 60
    s, v, step = feed, 0.0, 1e-6
    while s < radius:
        v += step * (w * w * s - 2.0 * mu * w * v)
        s += step * v
    exact = math.hypot(v, w * radius)
    assert float(material.spinner_exit_speed(radius, w, mu)) == pytest.approx(exact, rel=5e-3)
    assert float(material.spinner_exit_speed(1.0, 1.0, 0.0)) == pytest.approx(math.sqrt(2.0))


@pytest.mark.parametrize(
    "call",
    [
        lambda: material.area_rate(1.0, 0.0),
        lambda: material.shaft_speed(1.0, 0.0),
        lambda: material.auger_mass_per_revolution(0.1, 0.1, 0.1, 1.0, 1000.0),
        lambda: material.auger_torque(1.0, 0.1, 0.2, 0.1, 0.4),
        lambda: material.auger_torque(1.0, 0.2, 0.1, 5.0, 2.0),
        lambda: material.catch_statistics([], TURN),
        lambda: material.catch_statistics([1.0, -1.0], TURN),
        lambda: material.catch_statistics([1.0, 1.0], 0.0),
        lambda: material.catch_statistics([1.0, np.nan], TURN),
        lambda: material.mean_half_width(0.02, 0),
        lambda: material.student_t(1.5),
        lambda: material.brine_density(1.2),
        lambda: material.slurry_salt(1.0, -0.1, 0.2),
        lambda: material.flowing_load_factor(0.7, 0.9, 0.8),
        lambda: material.flowing_load_factor(1.6, 0.3, 0.8),
        lambda: material.flowing_load_factor(*np.radians([89.5, 39.9, 40.0])),
        lambda: material.initial_load_factor(1.0, 0.0, 0.7),
        lambda: material.initial_load_factor(1.0, 0.2, 1.6),
        lambda: material.scaled_rate(1.0, 3.0, 0.0),
        lambda: material.mixed_rate(1.0, 1.2),
        lambda: material.shaft_torque(1.0, 0.0),
        lambda: material.spinner_disc_power(0.25, 0.0, 1.3, 1.3e-5),
    ],
)
def test_refusals(call: Callable[[], object]) -> None:
    with pytest.raises(DomainError, match=r"^[^\n]+$"):
        call()
