"""Full discharge, following of the road speed, links, valve drive: by hand and by practice."""

from __future__ import annotations

from dataclasses import replace
from math import atanh, pi

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Coil
from hydrocheck.model.truck import FullDischarge, Link, SpeedFollowing
from hydrocheck.physics.coils import coil_ripple
from hydrocheck.solver import Points, solve
from hydrocheck.studies.budget import flow_budget
from hydrocheck.studies.following import follow_road_speed, linked_flows
from hydrocheck.studies.fulldischarge import full_discharge
from hydrocheck.studies.valvedrive import duty, frequency_band, valve_drive

RPM, GPM, LB, MPH, MILE = pi / 30, 6.30901964e-5, 0.45359237, 0.44704, 1609.344
LANE = LB / MILE
TRUCKS = {name: demo.load(name) for name in demo.names()}
TANDEM, SINGLE = TRUCKS["tandem"], TRUCKS["single"]

# 7 in auger on a 4 in tube, 6 in pitch, 80 % full of salt of 72 lb/ft3: by hand, 5.18 lb a turn.
POUNDS_A_TURN = pi / 4 * (7**2 - 4**2) * 6 / 1728 * 0.80 * 72


def coil(**values: object) -> Coil:
    given: dict[str, object] = {
        "resistance": 5.3,
        "inductance": 0.030,
        "rated_current": 1.5,
        "supply": 12.0,
    }
    return Coil(**{**given, **values})  # type: ignore[arg-type]  # any field


def with_coil(one: Coil | None) -> Truck:
    auger = TANDEM.function_named("auger")
    new = replace(auger, section=replace(auger.section, coil=one))
    return replace(TANDEM, function=tuple(new if f.name == "auger" else f for f in TANDEM.function))


def band_of(one: Coil) -> tuple[float, float]:
    truck = with_coil(one)
    return frequency_band(truck, truck.function_named("auger"))


# -- valve drive -----------------------------------------------------------------------------------


@pytest.mark.parametrize("frequency", [120.0, 180.0])
@pytest.mark.parametrize(
    "one",
    [coil(), coil(supply=24.0, resistance=20.2, inductance=0.060, rated_current=1.19)],
    ids=["12 V", "24 V"],
)
def test_usual_drive_frequencies_suit_usual_coils(frequency: float, one: Coil) -> None:
    """Common practice: 120 and 180 Hz; the coils are those of a published ripple table (12 V, 5.3
    ohm, 30 mH; 24 V, 20.2 ohm, 60 mH)."""
    low, high = band_of(one)
    assert low < frequency < high
    assert low < 200.0  # an embedded-systems text gives 50-200 Hz: the bands meet
    assert high > 50.0


def test_the_band_is_where_the_ripple_is_in_bounds() -> None:
    low, high = band_of(coil())
    for frequency, share in ((low, 0.8), (high, 0.2)):
        assert coil_ripple(12.0, 5.3, 0.030, frequency) / 1.5 == pytest.approx(share)
    assert low == pytest.approx(5.3 / (4 * 0.030 * atanh(0.8 * 1.5 * 5.3 / 12.0)))


def test_drive_of_a_function() -> None:
    drive = valve_drive(TANDEM, TANDEM.function_named("auger"))
    assert drive is not None
    assert drive.current(0.5) == pytest.approx(0.75)
    assert (drive.holds, drive.frequency, drive.boost, drive.gaps) == ("current", 150.0, None, ())
    assert valve_drive(TANDEM, with_coil(None).function_named("auger")) is None
    bare = valve_drive(TANDEM, with_coil(Coil()).function_named("auger"))
    assert bare is not None
    assert (bare.low, bare.current(0.5), len(bare.gaps)) == (None, None, 4)
    with pytest.raises(MissingValue, match="auger.section.coil.inductance"):
        band_of(Coil(resistance=5.3))


def test_duty_of_a_hot_coil_by_hand() -> None:
    # 1.5 A through 5.3 ohm x 1.31 at 100 degC is 10.4 V of 12 V.
    assert duty(coil(), 1.0, 373.15) == pytest.approx(1.5 * 5.3 * (1 + 0.00393 * 80) / 12.0)
    assert duty(coil(), 0.5, 293.15) == pytest.approx(0.5 * 1.5 * 5.3 / 12.0)
    with pytest.raises(DomainError, match="supply"):
        duty(Coil(resistance=5.3), 0.5, 293.15)


def test_duties_of_a_driver_that_holds_the_duty() -> None:
    held = coil(drive="duty")
    truck = with_coil(held)
    drive = valve_drive(truck, truck.function_named("auger"))
    assert drive is not None
    assert drive.duties(0.5) == pytest.approx((duty(held, 0.5, 293.15), duty(held, 0.5, 373.15)))
    own = valve_drive(TANDEM, TANDEM.function_named("auger"))
    assert own is not None
    assert own.duties(0.5) is None  # it holds the current


# -- full discharge --------------------------------------------------------------------------------


def test_ten_seconds_of_full_discharge() -> None:
    """Common practice: a full discharge of 10 s. Mass by hand from the auger's solved speed."""
    found = full_discharge(TANDEM)
    assert found is not None
    assert found.duration == 10.0
    # Idle, 160 degF: auger at 72 %, spinner at 80 %, both short.
    commands = {"auger": 0.72, "spinner": 0.80}
    at = (700 * RPM, found.oil_temperature)
    fed = solve(TANDEM, Points.of(TANDEM, 2000 * RPM, at[1], command={"auger": 0.72}))
    thrown = fed.speed[0, fed.column("auger")] / (2 * pi) * POUNDS_A_TURN * LB
    points = Points.of(TANDEM, *at, command=commands, thrown={"spinner": thrown})
    result = solve(TANDEM, points)
    turns = result.speed[0, result.column("auger")] / (2 * pi) * 10.0
    assert found.mass is not None
    assert found.mass[0] / LB == pytest.approx(turns * POUNDS_A_TURN, rel=1e-4)
    assert set(found.starved) == {"auger", "spinner"}
    asked = 12 * (72 - 28) / 72 + 10 * (80 - 28) / 72  # gal/min by the sections' straight lines
    assert found.asked.sum() / GPM == pytest.approx(asked, rel=2e-3)
    assert found.starts == {"auger": False, "spinner": True}


def test_full_discharge_fed_at_its_least_engine_speed_and_not_below() -> None:
    found = full_discharge(TANDEM)
    assert found is not None
    assert found.least_engine_speed is not None
    for share, fed in ((1.001, True), (0.99, False)):
        assert TANDEM.full_discharge is not None
        at = replace(TANDEM.full_discharge, engine=found.least_engine_speed * share)
        there = full_discharge(replace(TANDEM, full_discharge=at))
        assert there is not None
        assert (there.starved == ()) is fed


def test_until_released_and_absent() -> None:
    released = FullDischarge(engine="working")
    found = full_discharge(replace(SINGLE, full_discharge=released))
    assert found is not None
    assert (found.mass, found.duration, dict(found.starts)) == (None, None, {})
    assert full_discharge(replace(SINGLE, full_discharge=None)) is None
    with pytest.raises(MissingValue, match="full_discharge.engine"):
        full_discharge(replace(SINGLE, full_discharge=FullDischarge()))


# -- road speed ------------------------------------------------------------------------------------


def test_proportional_following() -> None:
    found = follow_road_speed(TANDEM)
    table = found.table
    assert found.mode == "proportional"
    # Discharge at a trim over a rate is a road speed; the file allows 4 % of the rate.
    for k, rate in enumerate((100, 200, 300, 400)):
        speed = table.least / (rate * LANE) / 1.04
        assert table.held_from[k] == pytest.approx(speed, rel=1e-3)
    assert table.share[2:] == pytest.approx(np.ones((2, 3)), abs=1e-9)
    assert table.share[0, 0] == pytest.approx(table.least / (100 * LANE * 15 * MPH))
    assert found.pulses is not None
    # 30000 pulses/mile at 30 mph: half a mile a minute, 250 pulses a second.
    assert found.pulses[-1] == pytest.approx(250.0)


def test_start_stop_puts_down_more_when_slower() -> None:
    found = follow_road_speed(SINGLE)
    assert found.mode == "start-stop"
    # Set for 25 mph, the road speed of its scenario: 25/15 of the rate at 15 mph.
    assert found.table.share[1:, 1] == pytest.approx(np.ones(2), abs=1e-9)
    assert found.table.share[:, 0] == pytest.approx(found.table.share[:, 1] * 25 / 15)
    # Its fixed pump feeds auger and spinner from idle to where its drive drops out.
    assert found.share == pytest.approx(np.ones(4), abs=1e-6)
    assert follow_road_speed(replace(SINGLE, speed_following=SpeedFollowing())).mode == "off"


def test_the_feeder_over_the_engine_range() -> None:
    found = follow_road_speed(TANDEM)
    assert found.engine_speed / RPM == pytest.approx([700, 1200, 1400, 2300])
    assert found.share[0] < 0.75
    assert found.share[1:] == pytest.approx(np.ones(3), abs=1e-6)


def test_orders_are_needed() -> None:
    bare = replace(TANDEM, spreading=replace(TANDEM.spreading, rates=()))
    with pytest.raises(MissingValue, match="spreading.rates"):
        follow_road_speed(bare)


# -- links -----------------------------------------------------------------------------------------


def test_a_link_adds_the_flow_of_a_minimum_trim() -> None:
    link = Link(function="liquid", follows="auger")
    scenario = TANDEM.scenario_named("spreading")
    without = replace(scenario, run=tuple(t for t in scenario.run if t.name != "liquid"))
    truck = replace(TANDEM, link=(link,), scenario=(without,))
    (found,) = linked_flows(truck)
    assert found.flow / GPM == pytest.approx(5 * (34 - 28) / 72)
    plain = replace(truck, link=())
    budgets = [flow_budget(t, t.scenario[0], 1300 * RPM) for t in (truck, plain)]
    added = budgets[0].delivered.sum() - budgets[1].delivered.sum()
    assert added == pytest.approx(found.flow, rel=1e-6)


def test_a_link_of_an_electric_function_adds_no_oil_and_one_without_trim_says_so() -> None:
    liquid = replace(TANDEM.function_named("liquid"), drive="electric")
    functions = tuple(liquid if f.name == "liquid" else f for f in TANDEM.function)
    links = (Link(function="liquid", follows="auger"),)
    assert linked_flows(replace(TANDEM, function=functions, link=links))[0].flow == 0.0
    with pytest.raises(MissingValue, match="plow.trims.min"):
        linked_flows(replace(TANDEM, link=(Link(function="plow", follows="auger"),)))
