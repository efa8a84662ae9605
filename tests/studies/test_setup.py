"""What a healthy truck reads at set-up: against the truck file, hand sums and the whole circuit."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import pi

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.errors import DomainError
from hydrocheck.model import Truck
from hydrocheck.model.readable import what_named
from hydrocheck.model.readings import usual_uncertainty
from hydrocheck.solver import Points, solve
from hydrocheck.studies.setup import Blank, SetUp, set_up, speed_curves
from hydrocheck.studies.tolerance import half_widths, value_at
from hydrocheck.studies.trims import predict_trims

RPM, GPM, PSI, INCH = pi / 30, 6.30901964e-5, 6894.757293168361, 0.0254
TRUCKS = {name: replace(demo.load(name), tolerances={}) for name in demo.names()}
TANDEM = TRUCKS["tandem"]


@cache
def setup_of(name: str) -> SetUp:
    return set_up(TRUCKS[name], predict_trims(TRUCKS[name]))


def blank(name: str, label: str, setup: SetUp | None = None) -> Blank:
    found = [b for b in (setup or setup_of(name)).blanks if b.label == label]
    assert len(found) == 1, label
    return found[0]


@pytest.mark.parametrize("name", TRUCKS)
def test_labels_and_readings_are_sound(name: str) -> None:
    setup = setup_of(name)
    labels = [b.label for b in setup.blanks]
    assert len(set(labels)) == len(labels)
    assert setup.gaps == ()
    for one in setup.blanks:
        assert 0 <= one.low < one.expected < one.high, one.label
        assert one.kind
        assert one.how
    steps = list(dict.fromkeys(b.step for b in setup.blanks))
    assert steps == ["pressures", "flow and speed", "trims", "catch test"]


def test_pressures_of_the_truck_file() -> None:
    """Set-points of the file: standby 350 psi, compensator 2700 psi, LS margin 300 psi."""
    assert blank("tandem", "standby pressure").expected == pytest.approx(350 * PSI)
    assert blank("tandem", "compensator pressure").expected == pytest.approx(2700 * PSI)
    work, signal = (
        blank("tandem", label).expected
        for label in ("pump pressure at work", "load signal at work")
    )
    assert work - signal == pytest.approx(300 * PSI)
    assert blank("tandem", "compensator pressure").stop == ("plow",)
    # What stands is said, so that a reading means the same to who reads it later.
    assert blank("tandem", "standby pressure").off == tuple(f.name for f in TANDEM.function)
    assert blank("tandem", "pump pressure at work").off == ("plow", "dump")
    assert blank("tandem", "plow raise time").off == ("auger", "spinner", "liquid", "dump")
    # A fixed pump holds its relief, which cracks at 95 % of 2000 psi and passes the pump's flow.
    relief = blank("single", "relief pressure").expected
    assert 1900 * PSI < relief < 2000 * PSI


def test_times_and_discharge_by_hand() -> None:
    # Plow: 3 in bore, 10 in stroke, 8 gal/min: 70.7 in3 / 231 x 60 / 8 = 2.30 s; dump 5 x 90 in.
    assert blank("tandem", "plow raise time").expected == pytest.approx(
        pi / 4 * 9 * 10 / 231 * 60 / 8, rel=1e-9
    )
    assert blank("tandem", "dump raise time").expected == pytest.approx(
        pi / 4 * 25 * 90 / 231 * 60 / 18, rel=1e-9
    )
    pounds = pi / 4 * (7**2 - 4**2) * 6 / 1728 * 0.80 * 72
    one = blank("tandem", "auger discharge a turn")
    assert one.expected * 2 * pi / 0.45359237 == pytest.approx(pounds)
    # Fill of 70 to 95 % in place of 80 %, and a scale of 3 %.
    assert one.low == pytest.approx(one.expected * (0.70 / 0.80 - 0.03))
    assert one.high == pytest.approx(one.expected * (0.95 / 0.80 + 0.03))


def test_speeds_and_ports_by_the_circuit() -> None:
    setup = setup_of("tandem")
    thrown = blank("tandem", "auger speed, low end of the band").expected
    mass = blank("tandem", "auger discharge a turn").expected
    for end, engine in (("low", 1200), ("high", 1400)):
        points = Points.of(
            TANDEM,
            engine * RPM,
            setup.oil_temperature,
            command=dict(setup.commands),
            thrown={"spinner": thrown * mass},
        )
        result = solve(TANDEM, points)
        for name in setup.commands:
            m = result.column(name)
            one = blank("tandem", f"{name} speed, {end} end of the band")
            assert one.expected == pytest.approx(result.speed[0, m], rel=1e-5)
            assert one.engine_speed == pytest.approx(engine * RPM)
            if end == "low":
                port = blank("tandem", f"{name} pressure at work").expected
                assert port == pytest.approx(result.work_pressure[0, m], rel=1e-5)


def test_range_joins_tolerance_and_reading() -> None:
    tolerance = {"pump.compensator": 60 * PSI}
    truck = replace(TANDEM, tolerances=tolerance)
    setup = set_up(truck, predict_trims(truck, ["auger"]))
    one = blank("", "compensator pressure", setup)
    usual = usual_uncertainty(what_named("pump pressure"), one.expected, "gauge")
    assert one.high - one.expected == pytest.approx(np.hypot(60 * PSI, usual))
    other = blank("", "standby pressure", setup)
    assert other.high - other.expected == pytest.approx(25 * PSI)


def test_a_return_pressure_may_be_what_untold_fittings_make_it() -> None:
    """A gauge at the bank that shows 30 psi is no fault: common practice."""
    found = blank("tandem", "return pressure at work")
    assert found.low < found.expected < 30 * PSI < found.high < 60 * PSI


def test_a_closed_loop_is_read_by_its_command() -> None:
    auger = replace(TANDEM.function_named("auger"), loop="closed")
    functions = tuple(auger if f.name == "auger" else f for f in TANDEM.function)
    truck = replace(TANDEM, function=functions)
    setup = set_up(truck, predict_trims(truck, ["auger"]))
    one = blank("", "auger command that holds its speed", setup)
    assert (one.what, one.kind) == ("auger holding command", "fraction")
    assert one.expected == pytest.approx(setup.commands["auger"], abs=1e-6)
    # A worn motor needs more command for the same speed: slip hides there.
    worn = truck.vary("auger.motor.volumetric_efficiency", 0.85)
    need = half_widths(replace(truck, tolerances={}), lambda t: [1.0])
    assert need == pytest.approx([0.0])
    more = set_up(worn, predict_trims(worn, ["auger"])).commands["auger"]
    assert more > setup.commands["auger"] + 0.02


def test_what_cannot_be_predicted_is_named() -> None:
    poor = replace(TANDEM, pump=(replace(TANDEM.pump[0], standby=None),))
    setup = set_up(poor, predict_trims(TANDEM, ["auger"]))
    assert any("pump.standby" in gap for gap in setup.gaps)
    assert [b.step for b in setup.blanks] == ["trims", "trims", "catch test"]


# -- tolerances ------------------------------------------------------------------------------------


def test_half_widths_of_a_sum_and_a_product() -> None:
    truck = replace(
        TANDEM, tolerances={"pump.compensator": 3.0, "auger.section.rated_flow": 4.0e-6}
    )

    def result(t: Truck) -> list[float]:
        a = float(t.pump[0].compensator or 0.0)
        b = float(t.function_named("auger").section.rated_flow or 0.0) * 1e6
        return [a + b, b, 7.0]

    assert half_widths(truck, result) == pytest.approx([5.0, 4.0, 0.0], rel=1e-6)
    assert half_widths(truck, result, ["pump"]) == pytest.approx([4.0, 4.0, 0.0], rel=1e-6)


@pytest.mark.parametrize(
    "path",
    ["pump.displacement", "auger.section.deadband", "auger.motor.displacement", "lines.return.bore",
     "oil.working", "limits.setting_up", "spreading.density"],
)  # fmt: skip
def test_value_at_agrees_with_vary(path: str) -> None:
    value = value_at(TANDEM, path)
    assert value_at(TANDEM.vary(path, value * 1.01), path) == pytest.approx(value * 1.01)


@pytest.mark.parametrize("path", ["pump.type", "nothing.at.all", "auger.motor", "auger.fitted"])
def test_value_at_refuses_what_is_no_number(path: str) -> None:
    with pytest.raises(DomainError, match="no single number"):
        value_at(TANDEM, path)


# -- curves ----------------------------------------------------------------------------------------


def test_speed_curves() -> None:
    curves = speed_curves(TANDEM, TANDEM.scenario_named("spreading, plow lifted"), steps=9)
    assert curves.functions == ("auger", "spinner", "liquid", "plow")
    assert curves.engine_speed[[0, -1]] / RPM == pytest.approx([700, 2300])
    assert (np.diff(curves.share, axis=0) > -1e-9).all()
    assert curves.share[-1] == pytest.approx(np.ones(4), abs=1e-6)
    assert curves.share[0].min() < 0.5
