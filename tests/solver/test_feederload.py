"""Feeder torque from a model: worked values of the head-load model, in solve, start and file."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.errors import TruckFileError
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Load
from hydrocheck.model.machines import HopperLoad, ScrewLoad
from hydrocheck.model.reader import truck_from_text
from hydrocheck.solver.feederload import breakaway, feeder_torque
from hydrocheck.solver.needs import Needs
from hydrocheck.studies.feederload import BREAKAWAY_RANGE, torque_band, torque_bands
from hydrocheck.studies.point import PointOrder, solve_point
from hydrocheck.studies.starting import start_from_rest
from hydrocheck.units import parse

INCH = 0.0254
DEGREE = np.pi / 180.0
IN_LB = parse("1 in-lb", "torque")

# Own calculation with the head-load model on a 7 in auger, 4 in tube, 6 in pitch, slot 3.0 m x
# 0.20 m, top 2.0 m, 45 deg, flight friction 0.4: density, delta, phi -> start and running torque.
# The model gives the printed loads of a belt feeder report (30 September 2020) to its last digit.
AUGER = [
    (1150.0, 40.0, 22.0, 239.0, 79.0),
    (1280.0, 50.0, 27.0, 318.0, 87.0),
    (1800.0, 50.0, 30.0, 446.0, 132.0),
]


def auger(density: float, inside: float, wall: float, **more: Any) -> Load:
    sizes: dict[str, Any] = {"length": 3.0, "slot": 0.2, "top": 2.0, "density": density}
    sizes |= {"internal_friction": inside * DEGREE, "wall_friction": wall * DEGREE}
    sizes |= {"diameter": 7 * INCH, "shaft": 4 * INCH, "pitch": 6 * INCH}
    return Load(hopper=HopperLoad(**sizes | more))


def torque(load: Load) -> float:
    needs = Needs()
    found = feeder_torque(load, "load", needs)
    needs.settle()
    assert found is not None
    return float(found[0])


@pytest.mark.parametrize(("density", "inside", "wall", "start", "running"), AUGER)
def test_flooded_auger(
    density: float, inside: float, wall: float, start: float, running: float
) -> None:
    load = auger(density, inside, wall)
    assert torque(load) == pytest.approx(running, abs=0.5)
    factor = float(breakaway(load, "load", Needs())[0])
    assert torque(load) * factor == pytest.approx(start, abs=1.0)  # printed whole


def test_belt_under_a_hopper() -> None:
    """Pull of 1.73 kN and load factor 0.95, belt feeder report of 30 September 2020."""
    sizes: dict[str, Any] = {"length": 2.05, "slot": 0.35, "top": 3.5, "density": 900.0}
    sizes |= {"half_angle": 40 * DEGREE, "internal_friction": 55 * DEGREE}
    load = Load(hopper=HopperLoad(**sizes, wall_friction=15 * DEGREE, radius=0.1, drag=5.0))
    assert torque(load) - 5.0 == pytest.approx(173.0, abs=0.5)
    # 5.36 / 0.95, the report's initial over flowing load: 5.62.
    assert float(breakaway(load, "load", Needs())[0]) == pytest.approx(5.62, abs=0.01)


def test_wide_slot_starts_no_easier_than_a_refill() -> None:
    """Where the flowing load is the larger one, the least factor holds."""
    sizes: dict[str, Any] = {"length": 3.0, "slot": 0.61, "top": 2.0, "density": 1150.0}
    load = Load(hopper=HopperLoad(**sizes, radius=0.089))
    assert float(breakaway(load, "load", Needs())[0]) == 1.5
    given = replace(load, breakaway=4.0)
    assert float(breakaway(given, "load", Needs())[0]) == 4.0


@pytest.mark.parametrize(
    ("density", "factor", "expected"),
    [(72.0, 1.0, 196.0), (100.0, 1.7, 463.0), (115.0, 2.8, 877.0)],
)
def test_control_fed_screw(density: float, factor: float, expected: float) -> None:
    """T = 3.7815 m_rev L Fm in-lb for 7/4/6 in, fill 0.8, 10 ft: US screw formula, by hand."""
    screw = ScrewLoad(
        length=10 * 12 * INCH,
        diameter=7 * INCH,
        shaft=4 * INCH,
        pitch=6 * INCH,
        density=parse(f"{density} lb/ft3", "density"),
        fill=0.8,
        material_factor=factor,
    )
    assert torque(Load(screw=screw)) / IN_LB == pytest.approx(expected, rel=2e-3)
    assert torque(Load(screw=replace(screw, overload=3.0))) / IN_LB == pytest.approx(
        3 * expected, rel=2e-3
    )


MODEL = """load = { hopper = { length = "10 ft", slot = "8 in", top = "80 in", \
density = "80 lb/ft3", internal_friction = "50 deg", wall_friction = "27 deg", \
diameter = "7 in", shaft = "4 in", pitch = "6 in" } }"""


def with_load(new: str) -> str:
    """The demo truck's file with the auger's full-hopper load replaced."""
    text, count = re.subn(r'load = \{ constant = "1900 in-lb"[^\n]*', new, demo.text("tandem"))
    assert count == 1
    return text


def modelled() -> Truck:
    return truck_from_text(with_load(MODEL))


def test_a_truck_file_takes_the_model_in_place_of_a_torque() -> None:
    truck = modelled()
    load = truck.function_named("auger").motor[0].load
    assert load is not None
    solved = solve_point(truck, truck.scenario_named("spreading"), PointOrder())
    place = solved.result.column("auger")
    assert solved.result.torque[0, :, place] == pytest.approx(torque(load))
    assert (solved.result.flow[:, place] > 0).all()
    start = start_from_rest(truck, truck.scenario_named("spreading"), "auger", 130.0, 316.0)
    motor = truck.function_named("auger").motor[0]
    factor = float(breakaway(load, "load", Needs())[0])
    assert motor.displacement is not None
    expected = torque(load) * factor / (motor.displacement * 0.75)
    assert start.needed == pytest.approx(expected)


def test_the_model_can_be_varied() -> None:
    truck = modelled()
    load = truck.function_named("auger").motor[0].load
    assert load is not None
    assert load.hopper is not None
    twice = truck.vary("auger.motor.load.hopper.density", 2.0 * float(load.hopper.density))
    doubled = twice.function_named("auger").motor[0].load
    assert doubled is not None
    assert torque(doubled) == pytest.approx(2.0 * torque(load))


@pytest.mark.parametrize(
    ("load", "message"),
    [
        (MODEL[:-2] + ', constant = "100 in-lb" }', "has hopper and constant; give the torques"),
        (MODEL.replace(', pitch = "6 in"', ""), "pitch: missing"),
        (MODEL.replace('shaft = "4 in"', 'radius = "3 in"'), "needs diameter and pitch"),
        (MODEL.replace('top = "80 in"', 'top = "6 in"'), "must be larger than the slot"),
        (MODEL.replace('"27 deg"', '"55 deg"'), "must lie below internal_friction"),
        (MODEL.replace('shaft = "4 in"', 'shaft = "8 in"'), "must be smaller than the diameter"),
        ("load = {}", "is empty; give pressure, hopper, screw"),
    ],
)
def test_what_does_not_fit_is_told(load: str, message: str) -> None:
    with pytest.raises(TruckFileError) as caught:
        truck_from_text(with_load(load))
    assert any(message in line for line in caught.value.lines), caught.value.lines


def test_the_band_holds_the_defaults_range() -> None:
    truck = modelled()
    (band,) = torque_bands(truck)
    assert (band.function, band.model) == ("auger", "hopper")
    assert band.low < band.running < band.high
    assert band.start == pytest.approx(band.running * band.breakaway)
    assert band.start_low <= BREAKAWAY_RANGE[0] * band.running
    assert band.start_high >= BREAKAWAY_RANGE[1] * band.running
    # One input alone moves the torque no further than all of them together.
    wide = 0.5 * np.log(band.high / band.low)
    assert 0 < max(band.shares.values()) <= wide + 1e-9


def test_a_tolerance_of_the_file_rules_the_band() -> None:
    tight = truck_from_text(with_load(MODEL.replace("80 lb/ft3", "80 lb/ft3 +/- 1 %")))
    (plain,), (narrow,) = torque_bands(modelled()), torque_bands(tight)
    assert plain.shares["density"] == pytest.approx(0.5 * np.log(1.1 / 0.9))
    assert narrow.shares["density"] == pytest.approx(0.5 * np.log(1.01 / 0.99))
    assert torque_bands(demo.load("tandem")) == []


def test_screw_band() -> None:
    screw = ScrewLoad(length=3.0, diameter=0.178, shaft=0.1, pitch=0.15, density=1600.0)
    function = demo.load("tandem").function_named("auger")
    band = torque_band(demo.load("tandem"), function, Load(screw=screw))
    assert band.model == "screw"
    assert band.high / band.running > 1.7
