"""Spread rates: published calibration arithmetic, limits by brute force, turndown, gears."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.truck import LiquidRig
from hydrocheck.solver import solve
from hydrocheck.studies import spreading, spreadplan
from hydrocheck.studies.liquid import liquid_need
from hydrocheck.studies.spreading import SpreadOrder, spread_table
from hydrocheck.units import parse

TRUCK = demo.load("tandem")
MPH = parse("1 mph", "road_speed")
RATE = parse("1 lb/lane-mile", "application_rate")
LB_MIN = parse("1 lb/min", "mass_flow")
RPM = parse("1 rpm", "shaft_speed")
LB_REV = parse("1 lb/rev", "mass_per_rev")


def order(rates: list[float], speeds: list[float], **more: object) -> SpreadOrder:
    """Rates in lb/lane-mile at speeds in mph."""
    given = SpreadOrder(tuple(r * RATE for r in rates), tuple(v * MPH for v in speeds))
    return replace(given, **more)  # type: ignore[arg-type]  # fields by name


def test_the_handbook_example() -> None:
    """200 lb/min at 20 mph is 600 lb a mile; the same 200 lb/min is 480 at 25 and 400 at 30 mph.

    Minnesota Snow and Ice Control Field Handbook, 2012; 50 rev/min at 4 lb/rev.
    """
    found = spread_table(TRUCK, order([600, 480, 400], [20, 25, 30], per_turn=4 * LB_REV))
    place = {600: 2, 480: 1, 400: 0}
    for rate, speed in ((600, 0), (480, 1), (400, 2)):
        assert found.discharge[place[rate], speed] / LB_MIN == pytest.approx(200.0)
        assert found.shaft_speed[place[rate], speed] / RPM == pytest.approx(50.0)


def test_share_is_what_the_solved_auger_lays_down() -> None:
    """The chain by hand: flow, solve, shaft speed, rate."""
    found = spread_table(TRUCK, order([300], [25]))
    scenario = TRUCK.scenario_named("spreading")
    rows = spreadplan.Rows(
        found.engine_speed,
        np.array([found.oil_temperature]),
        np.array([300 * RATE]),
        np.array([25 * MPH]),
        np.array([True]),
    )
    plan = spreadplan.plan_rows(TRUCK, scenario, rows)
    result = solve(TRUCK, plan.work.points)
    auger = result.column("auger")
    laid = result.speed[0, auger] * found.per_turn / (25 * MPH)
    assert found.share[0, 0] == pytest.approx(laid / (300 * RATE))
    assert result.flow[0, auger] == pytest.approx(found.flow[0, 0])
    # The pre-wet pump turns at its scenario speed times the share of the scenario's discharge.
    assert result.speed[0, result.column("liquid")] / RPM == pytest.approx(
        900.0 * (300 * 25) / (400 * 30), rel=1e-6
    )


def test_minimum_trim_lays_down_too_much_and_says_so() -> None:
    found = spread_table(TRUCK, order([100], [15]))
    assert found.share[0, 0] > 1.5
    assert found.limit[0][0] == "minimum trim"
    assert not found.held[0, 0]
    assert found.least_rate == pytest.approx(found.share[0, 0] * 100 * RATE, rel=1e-3)


def test_limits_of_a_rate_by_brute_force() -> None:
    """Every quarter mile an hour below, at and above the limits found."""
    found = spread_table(TRUCK, order([300], [25]))
    low, high = float(found.held_from[0]), float(found.held_to[0])
    speeds = tuple(np.array([low - 0.1, low + 0.01, 0.5 * (low + high), high - 0.01, high + 0.1]))
    check = spread_table(TRUCK, replace(order([300], [25]), road_speeds=speeds))
    assert check.held[0].tolist() == [False, True, True, True, False]


def test_a_small_pump_is_named_as_the_limit() -> None:
    small = TRUCK.vary("pump.displacement", parse("1.6 in^3/rev", "displacement"))
    found = spread_table(small, order([400], [30]))
    assert found.limit[0][0] == "pump"
    assert found.share[0, 0] < 0.96


@settings(max_examples=12)
@given(st.floats(1.5, 4.0), st.floats(1.05, 1.5))
def test_more_displacement_never_lays_down_less(size: float, more: float) -> None:
    unit = parse("1 in^3/rev", "displacement")
    few, many = (
        spread_table(TRUCK.vary("pump.displacement", d * unit), order([400], [30])).share
        for d in (size, size * more)
    )
    assert (many >= few - 1e-9).all()


def test_gear_nearest_the_working_band() -> None:
    speeds = np.array([2.0, 15.0, 26.0, 80.0]) * MPH
    engine, gears = spreading.engine_in_gear(TRUCK, speeds)
    assert gears == ("4", "4", "5", "")
    assert engine[0] / RPM == pytest.approx(700.0)  # idle, the coupling slips
    assert engine[1] / RPM == pytest.approx(1300.0 * 15 / 19)
    assert engine[2] / RPM == pytest.approx(1300.0)
    assert np.isnan(engine[3])
    bare = replace(TRUCK, engine=replace(TRUCK.engine, gear=()))
    engine, gears = spreading.engine_in_gear(bare, speeds)
    assert engine / RPM == pytest.approx(1200.0)
    assert set(gears) == {""}


def test_without_speed_following_the_rate_moves_with_the_speed() -> None:
    """Discharge of the scenario's 30 mph at 15 mph: twice the rate."""
    fixed = replace(TRUCK, speed_following=replace(TRUCK.speed_following, mode="off"))
    found = spread_table(fixed, order([400], [15, 30]))
    assert found.share[0] == pytest.approx([2.0, 1.0], rel=1e-6)


def test_command_turns_the_section_round() -> None:
    auger = TRUCK.function_named("auger")
    flow = np.array([0.0, 1.0, 5.0, 12.0, 13.0]) * parse("1 gpm", "flow")
    command = spreadplan.command_for(auger, flow)
    assert command[:4] == pytest.approx([0.0, 0.34, 0.58, 1.0])  # 28 % + 72 % q / 12
    assert np.isnan(command[4])


def with_orders(truck: Truck, **values: object) -> Truck:
    return replace(truck, spreading=replace(truck.spreading, **values))  # type: ignore[arg-type]  # fields by name


@pytest.mark.parametrize(
    ("truck", "names"),
    [
        (with_orders(TRUCK, rates=()), "spreading.rates"),
        (with_orders(TRUCK, road_speeds=()), "spreading.road_speeds"),
        (with_orders(TRUCK, auger=None), "spreading.mass_per_turn"),
        (replace(TRUCK, scenario=()), "a feeder runs"),
        (replace(TRUCK, engine=replace(TRUCK.engine, working=None)), "engine.working"),
    ],
)
def test_what_is_missing_is_named(truck: Truck, names: str) -> None:
    with pytest.raises(MissingValue, match=names):
        spread_table(truck)


def test_a_scenario_without_a_feeder_is_refused() -> None:
    with pytest.raises(DomainError, match="no hydraulic feeder runs"):
        spread_table(TRUCK, SpreadOrder(scenario="dump"))


def test_liquid_by_hand() -> None:
    """MaineDOT: 250 lb/lane-mile at 20 mph, 10 gal/ton: 0.4167 gal/min; AASHTO M 143-14: 1.176.

    Nozzles of 1 gal/min at 40 psi on water then need 40 x 1.178 x 0.4167^2 psi.
    """
    rig = LiquidRig(
        nozzle_flow=parse("1 gpm", "flow"),
        nozzle_pressure=parse("40 psi", "pressure"),
        per_turn=parse("0.5 in^3/rev", "displacement"),
        rates=(parse("65 gal/lane-mile", "liquid_rate"),),
    )
    truck = with_orders(TRUCK, prewet=parse("10 gal/ton", "liquid_per_mass"), liquid=rig, lanes=1)
    need = liquid_need(truck, np.array([250 * RATE]), np.array([20 * MPH]))
    assert need is not None
    assert need.gravity == pytest.approx(1.176, abs=3e-3)
    assert need.prewet is not None
    assert need.prewet.flow[0, 0] == pytest.approx(parse("0.4167 gpm", "flow"), rel=1e-4)
    assert need.prewet.pressure is not None
    assert need.prewet.pressure[0, 0] == pytest.approx(
        parse("40 psi", "pressure") * need.gravity * 0.41667**2, rel=1e-4
    )
    assert need.prewet.weak == 0  # no least pressure is given
    weak = replace(rig, least_pressure=parse("10 psi", "pressure"))  # 40 x 1.178 x 0.174 = 8.2 psi
    below = liquid_need(
        with_orders(truck, liquid=weak), np.array([250 * RATE]), np.array([20 * MPH, 40 * MPH])
    )
    assert below is not None
    assert below.prewet is not None
    assert below.prewet.weak == 1
    assert need.prewet.pump_speed is not None
    assert need.prewet.pump_speed[0, 0] / RPM == pytest.approx(0.41667 * 231 / 0.5, rel=1e-4)
    assert need.direct is not None
    # 65 gal x 3 lanes at 45 mph are 146.25 gal/min: 65 x 20 / 60 for one lane at 20 mph.
    assert need.direct.flow[0, 0] == pytest.approx(parse("21.6667 gpm", "flow"), rel=1e-5)
    assert need.may_freeze  # -10 degF against -6 degF
    dry = with_orders(TRUCK, prewet=None, liquid=None)
    assert liquid_need(dry, np.array([RATE]), np.array([MPH])) is None
