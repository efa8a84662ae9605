"""Load curves, liquid pumps and cylinders against published rows, agency sets and balances."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import gallon, hp, inch, lbf, mile, minute, psi

from hydrocheck.errors import DomainError
from hydrocheck.physics import loads, machines, valves

GPM = gallon / minute
RPM = 2 * np.pi / minute

torque = st.floats(0.0, 1e4)
speed = st.floats(0.1, 500.0)


@given(torque, torque, torque, speed, speed, speed)
def test_load_curve(c: float, li: float, sq: float, at: float, a: float, b: float) -> None:
    t0, t1, t2 = loads.load_coefficients(c, li, sq, at)
    assert loads.load_torque(at, t0, t1, t2) == pytest.approx(c + li + sq, rel=1e-12)
    assert loads.load_torque(0.0, t0, t1, t2) == c
    assert loads.load_torque(2 * at, t0, t1, t2) == pytest.approx(c + 2 * li + 4 * sq, rel=1e-12)
    low, high = sorted((a, b))
    assert loads.load_torque(low, t0, t1, t2) <= loads.load_torque(high, t0, t1, t2) * (1 + 1e-12)


@given(torque, torque, torque, st.floats(0.2, 50.0), st.floats(0.5, 1.0), speed)
def test_gearbox_balances_power(
    c: float, li: float, sq: float, ratio: float, efficiency: float, n: float
) -> None:
    at_load = loads.load_coefficients(c, li, sq, 30.0)
    at_motor = loads.through_gearbox(at_load, ratio, efficiency)
    out = loads.load_torque(n / ratio, *at_load) * n / ratio
    taken = loads.load_torque(n, *at_motor) * n
    assert taken * efficiency == pytest.approx(out, rel=1e-9, abs=1e-12)


@given(st.floats(1.0, 1e5), speed)
def test_windage(power: float, n: float) -> None:
    square = loads.windage_coefficient(power, n)
    assert loads.windage_power(square, n) == pytest.approx(power, rel=1e-12)
    # Fan law: twice the speed takes eight times the power.
    assert loads.windage_power(square, 2 * n) == pytest.approx(8 * power, rel=1e-12)
    assert loads.load_torque(n, 0.0, 0.0, square) * n == pytest.approx(power, rel=1e-12)


# --- liquid pump --------------------------------------------------------------------------


def test_liquid_truck_of_an_agency() -> None:
    # Agency set: 65 gal a lane-mile, three lanes at 45 mph = 146.25 gal/min; 40 psi, pump 60 %:
    # 5.69 hp; motor 85 % at 1500 psi: 7.65 gal/min of oil. Efficiencies assumed there.
    flow = 65 * gallon / mile * 3 * (45 * mile / 3600)
    assert flow / GPM == pytest.approx(146.25, rel=1e-12)
    power = loads.liquid_pump_power(flow, 40 * psi, 0.60)
    assert power / hp == pytest.approx(5.69, abs=0.006)
    assert power / 0.85 / (1500 * psi) / GPM == pytest.approx(7.65, abs=0.006)
    shaft = loads.liquid_pump_torque(flow, 40 * psi, 3000 * RPM, 0.60)
    assert machines.shaft_power(shaft, 3000 * RPM) == pytest.approx(power, rel=1e-12)


@given(st.floats(1e-6, 1e-4), st.floats(0.5, 1.0), st.floats(0.5, 1.0), speed)
def test_nozzle_load_against_orifice_and_pump(d: float, ev: float, eh: float, n: float) -> None:
    # Another way: flow of the pump, pressure of the nozzle by the orifice law, torque of the pump.
    nozzle_flow, nozzle_pressure = 1e-3, 3e5
    q = machines.pump_flow(d, n, ev)
    c = valves.flow_coefficient(nozzle_flow, nozzle_pressure)
    p = valves.coefficient_drop(q, c)
    expected = machines.pump_torque(d, float(p), eh)
    square = loads.nozzle_load(d, nozzle_flow, nozzle_pressure, ev, eh)
    assert loads.load_torque(n, 0.0, 0.0, square) == pytest.approx(expected, rel=1e-9)


# --- cylinders ----------------------------------------------------------------------------


def test_cylinder_example_in_one_piece() -> None:
    # Fluid Power with Applications (2005), Example 6-1, p. 219: 2 in bore, 1 in rod, 1000 lbf,
    # 20 gal/min: extend 318 psi and 2.05 ft/s, retract 425 psi (rounded up) and 2.73 ft/s.
    q, bore, rod, load = 20 * GPM, 2 * inch, 1 * inch, 1000 * lbf
    assert loads.extend_pressure(load, bore) / psi == pytest.approx(318, abs=0.5)
    assert loads.extend_speed(q, bore) / (12 * inch) == pytest.approx(2.05, abs=0.01)
    assert loads.retract_pressure(load, bore, rod) / psi == pytest.approx(425, abs=0.6)
    v = loads.retract_speed(q, bore, rod)
    assert v / (12 * inch) == pytest.approx(2.73, abs=0.01)
    assert loads.cylinder_power(load, v) / hp == pytest.approx(4.96, abs=0.015)
    # No loss: the same power in the oil.
    oil = machines.hydraulic_power(q, loads.retract_pressure(load, bore, rod))
    assert oil == pytest.approx(loads.cylinder_power(load, v), rel=1e-12)


def test_retract_pressure_is_not_the_printed_one() -> None:
    # Fluid Power: Theory and Applications (4th ed.), Example 8.6, p. 186 prints 1413.711 psi.
    p = loads.retract_pressure(7500 * lbf, 3 * inch, 1.5 * inch) / psi
    assert p == pytest.approx(1414.711, abs=0.001)


def test_regenerative_example() -> None:
    # Fluid Power with Applications (2005), Example 9-1, p. 331: rod area 7 in2, 20 gal/min.
    rod = np.sqrt(4 / np.pi * 7) * inch
    assert loads.regenerative_speed(20 * GPM, rod) / inch == pytest.approx(11.0, abs=0.05)


def test_plow_lift_time() -> None:
    # Agency set A: 4 in bore, 10 in stroke, 4.74 gal/min: 0.544 gal, 6.9 s.
    area = loads.piston_area(4 * inch)
    assert area * 10 * inch / gallon == pytest.approx(0.544, abs=0.0005)
    assert loads.stroke_time(4.74 * GPM, area, 10 * inch) == pytest.approx(6.9, abs=0.05)


bore = st.floats(0.02, 0.3)
part = st.one_of(st.just(0.0), st.floats(0.01, 0.95))


@given(bore, part, st.floats(1e-6, 1e-2), st.integers(1, 4))
def test_cylinder_geometry(d: float, part: float, q: float, count: int) -> None:
    rod = part * d
    whole = float(loads.piston_area(d, count))
    annulus = float(loads.annulus_area(d, rod, count))
    assert loads.piston_area(d) * count == pytest.approx(whole, rel=1e-12)
    if rod > 0:
        assert annulus + loads.piston_area(rod, count) == pytest.approx(whole, rel=1e-12)
        # Regeneration: pump flow plus rod-side flow fills the piston side.
        v = loads.regenerative_speed(q, rod, count)
        assert q + v * annulus == pytest.approx(v * whole, rel=1e-9)
    ratio = float(loads.area_ratio(d, rod))
    assert ratio >= 1.0 - 1e-12
    assert ratio == pytest.approx(whole / annulus, rel=1e-12)
    # Lowering returns what the piston side displaces.
    v = loads.retract_speed(q, d, rod, count)
    assert loads.retract_return_flow(q, d, rod) == pytest.approx(v * whole, rel=1e-9)
    # Blocked rod side: forces on the piston balance.
    p = loads.annulus_intensified_pressure(1e7, d, rod)
    assert p * annulus == pytest.approx(1e7 * whole, rel=1e-9)
    assert loads.cylinder_speed(q, annulus) == pytest.approx(v, rel=1e-12)


@given(bore, st.floats(1e5, 4e7), st.integers(1, 4), st.floats(0.01, 3.0), st.floats(0.1, 60.0))
def test_cylinder_round_trips(d: float, p: float, count: int, stroke: float, time: float) -> None:
    area = float(loads.piston_area(d, count))
    assert loads.bore_for_load(p * area, p, count) == pytest.approx(d, rel=1e-12)
    assert loads.extend_pressure(p * area, d, count) == pytest.approx(p, rel=1e-12)
    q = loads.stroke_flow(area, stroke, time)
    assert loads.stroke_time(q, area, stroke) == pytest.approx(time, rel=1e-12)
    assert loads.extend_speed(q, d, count) * time == pytest.approx(stroke, rel=1e-12)


def test_equal_double_rod_ratio_by_hand() -> None:
    # A rod of 0.7071 bores halves the area: ratio 2.
    assert loads.area_ratio(0.1, 0.1 / np.sqrt(2)) == pytest.approx(2.0, rel=1e-12)


REFUSED: list[tuple[str, tuple[Any, ...], str]] = [
    ("load_coefficients", (10.0, -1.0, 0.0, 30.0), "linear torque"),
    ("load_coefficients", (10.0, 0.0, -1.0, 30.0), "square torque"),
    ("load_coefficients", (10.0, 0.0, 0.0, 0.0), "speed"),
    ("through_gearbox", ((1.0, 0.0, 0.0), 0.0), "gearbox ratio"),
    ("through_gearbox", ((1.0, 0.0, 0.0), 4.0, 1.1), "gearbox efficiency"),
    ("windage_coefficient", (100.0, 0.0), "speed"),
    ("liquid_pump_power", (1e-3, 3e5, 0.0), "overall efficiency"),
    ("liquid_pump_torque", (1e-3, 3e5, 0.0), "speed"),
    ("nozzle_load", (1e-5, 0.0, 3e5), "nozzle flow"),
    ("piston_area", (-0.05,), "bore"),
    ("piston_area", (float("nan"),), "bore"),
    ("annulus_area", (0.05, 0.05), "rod"),
    ("annulus_area", (0.05, -0.01), "rod"),
    ("area_ratio", (0.05, 0.06), "rod"),
    ("cylinder_speed", (1e-3, 0.0), "area"),
    ("extend_pressure", (-10.0, 0.05), "load"),
    ("retract_pressure", (-10.0, 0.05, 0.02), "load"),
    ("stroke_time", (0.0, 1e-3, 0.5), "flow"),
    ("stroke_flow", (1e-3, 0.5, 0.0), "time"),
    ("bore_for_load", (1e4, 0.0), "pressure"),
]


@pytest.mark.parametrize(("name", "arguments", "word"), REFUSED)
def test_refused(name: str, arguments: tuple[Any, ...], word: str) -> None:
    with pytest.raises(DomainError, match=word) as caught:
        getattr(loads, name)(*arguments)
    assert "\n" not in str(caught.value)
