"""Demand and asked flow of a scenario, against arithmetic typed here in the units of the trade."""

from __future__ import annotations

from dataclasses import replace
from math import pi
from typing import Any

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.truck import Link, Scenario, Task
from hydrocheck.studies.work import (
    Work,
    cylinder_flow,
    discharge,
    feeder_speed,
    flow_for_speed,
    mass_per_turn,
    most_flow,
    plan_work,
    solve_work,
)

RPM, INCH, POUND = pi / 30, 0.0254, 0.45359237
GPM = 231 * INCH**3 / 60
LB_PER_MILE, MPH = POUND / 1609.344, 0.44704
TANDEM, SINGLE, CONVEYOR = (demo.load(n) for n in ("tandem", "single", "conveyor"))
WARM = (110 - 32) / 1.8 + 273.15


def one(truck: Truck, *tasks: Task, **asks: object) -> Work:
    """Tasks at 1300 rpm and 110 degF."""
    scenario = Scenario(name="test", run=tasks, **asks)  # type: ignore[arg-type]  # free keys
    return plan_work(truck, scenario, 1300 * RPM, WARM)


def column(truck: Truck, name: str) -> int:
    return [f.name for f in truck.function if f.fitted].index(name)


def task(name: str = "auger", **asks: float | str) -> Task:
    return Task(name=name, **asks)  # type: ignore[arg-type]  # free keys


# -- ordered rate -> pounds a minute -> turns -> gallons a minute ---------------------------------


def test_discharge_is_rate_times_road_speed_times_lanes() -> None:
    order = task(rate=400 * LB_PER_MILE, road_speed=30 * MPH)
    two_lanes = replace(TANDEM, spreading=replace(TANDEM.spreading, lanes=2))
    assert discharge(TANDEM, order) * 60 / POUND == pytest.approx(400 * 30 / 60)  # lb/min
    assert discharge(two_lanes, order) * 60 / POUND == pytest.approx(2 * 400 * 30 / 60)
    assert discharge(TANDEM, task(speed=4.0)) == 0.0


def test_mass_per_turn_from_the_auger_the_bed_or_a_catch_test() -> None:
    # 7 in auger on a 4 in shaft, 6 in pitch, 80 % full, 72 lb/ft3
    auger = pi / 4 * (7**2 - 4**2) * 6 * 0.80 * 72 / 1728
    assert mass_per_turn(TANDEM) * 2 * pi / POUND == pytest.approx(auger)
    # 14 in bed, 2 in gate, 12 in a turn
    bed = 14 * 2 * 12 * 72 / 1728
    assert mass_per_turn(CONVEYOR) * 2 * pi / POUND == pytest.approx(bed)
    caught = replace(TANDEM, spreading=replace(TANDEM.spreading, mass_per_turn=0.5))
    assert mass_per_turn(caught) == 0.5


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"auger": None}, r"spreading\.mass_per_turn, \.auger or \.conveyor"),
        ({"density": None}, r"spreading\.density"),
    ],
)
def test_a_feeder_that_cannot_be_reckoned_names_what_it_needs(
    changes: dict[str, Any], key: str
) -> None:
    truck = replace(TANDEM, spreading=replace(TANDEM.spreading, **changes))
    with pytest.raises(MissingValue, match=key):
        one(truck, task(rate=400 * LB_PER_MILE, road_speed=30 * MPH))


def test_the_rate_chain_of_the_auger_with_its_slip() -> None:
    order = task(rate=400 * LB_PER_MILE, road_speed=30 * MPH)
    rpm = 400 * 30 / 60 / (pi / 4 * (7**2 - 4**2) * 6 * 0.80 * 72 / 1728)
    assert feeder_speed(TANDEM, order) / RPM == pytest.approx(rpm)
    work = one(TANDEM, order)
    viscosity = float(solve_work(TANDEM, work).result.viscosity[0]) * 1e6  # cSt
    # Motor: 22.6 in3/rev; rated 200 rpm, 1500 psi, 36 cSt, 94 % volumetric, 88 % hydromechanical.
    # Half of its torque loss follows viscosity and speed, the other half pressure.
    loss = 1 - 0.88
    drag = loss / 2 * 22.6 * 1500 / (2 * pi) * rpm / 200 * viscosity / 36  # in-lb
    torque = 1900 + 150 * rpm / 60 + drag
    drop = torque * 2 * pi / 22.6 / (1 - loss / 2)  # psi
    # 40 % of slip follows viscosity at 46 cSt; at the rated 36 cSt that share is greater.
    viscous = 0.4 * 46 / 36 / (0.4 * 46 / 36 + 0.6)
    rated_slip = (1 / 0.94 - 1) * 22.6 * 200 / 231  # gal/min
    slip = rated_slip * drop / 1500 * (viscous * 36 / viscosity + 1 - viscous)
    expected = 22.6 * rpm / 231 + slip
    assert work.demand[0, 0] / GPM == pytest.approx(expected, rel=1e-3)  # density of warm oil
    assert work.asked[0, 0] == work.demand[0, 0]
    assert 0.1 < slip / expected < 0.2


def test_a_gearbox_multiplies_the_speed_of_the_motor() -> None:
    # 7 rpm of the conveyor shaft is 175 rpm of the motor: 4.9 x 175 / 231 gal/min and some slip
    demand = one(CONVEYOR, task("conveyor", speed=7 * RPM)).demand[0, 0] / GPM
    assert 1.0 < demand / (4.9 * 175 / 231) < 1.15


def test_demand_grows_with_speed_and_stays_above_the_ideal_flow() -> None:
    speeds = np.linspace(5, 90, 12) * RPM
    flows = [float(one(TANDEM, task(speed=float(n))).demand[0, 0]) for n in speeds]
    assert (np.diff(flows) > 0).all()
    assert (np.array(flows) > 22.6 * INCH**3 / (2 * pi) * speeds).all()


def test_a_full_hopper_asks_more_than_an_empty_one() -> None:
    order = task(speed=40 * RPM)
    full, empty = (one(TANDEM, order, hopper=h).demand[0, 0] for h in ("full", "empty"))
    assert full > empty


def test_the_spinner_is_loaded_by_what_the_feeder_throws() -> None:
    spin = task("spinner", speed=350 * RPM)
    i = column(TANDEM, "spinner")
    alone = one(TANDEM, spin)
    fed = one(TANDEM, spin, task(rate=400 * LB_PER_MILE, road_speed=30 * MPH))
    turned = one(
        TANDEM, spin, task(speed=float(feeder_speed(TANDEM, task(rate=0.1, road_speed=10.0))))
    )
    assert alone.points.thrown[0, i] == 0
    assert fed.points.thrown[0, i] * 60 / POUND == pytest.approx(200)
    assert turned.points.thrown[0, i] == pytest.approx(1.0)  # 0.1 kg/m x 10 m/s
    assert fed.demand[0, i] > turned.demand[0, i] * 0.999 > alone.demand[0, i]


def test_a_function_that_delivers_the_demand_turns_at_the_wanted_speed() -> None:
    work = one(TANDEM, task(speed=40 * RPM), task("spinner", speed=350 * RPM))
    result = solve_work(TANDEM, work).result
    assert result.speed[0, :2] / RPM == pytest.approx([40, 350], rel=1e-6)


# -- settings, commands, trims -------------------------------------------------------------------


def test_a_setting_lies_between_the_trims() -> None:
    # Auger of the tandem: 12 gal/min from 28 % to 100 %, trims 37 % and 72 %.
    for setting in (0.01, 0.35, 1.0):
        command = 0.37 + setting * (0.72 - 0.37)
        work = one(TANDEM, task(setting=setting))
        assert work.asked[0, 0] / GPM == pytest.approx(12 * (command - 0.28) / 0.72)
        assert np.isnan(work.demand[0, 0])
        assert solve_work(TANDEM, work).wanted[0, 0] == work.asked[0, 0]


def test_setting_zero_is_off_and_not_the_minimum_trim() -> None:
    work = one(TANDEM, task(setting=0.0))
    assert (work.asked[0, 0], work.demand[0, 0]) == (0.0, 0.0)
    assert not work.active.any()


def test_a_command_takes_no_heed_of_the_trims() -> None:
    assert one(TANDEM, task(command=1.0)).asked[0, 0] / GPM == pytest.approx(12)
    assert one(TANDEM, task(command=0.28)).asked[0, 0] == 0.0


def test_a_setting_needs_both_trims() -> None:
    auger = TANDEM.function[0]
    bare = replace(auger, trims=replace(auger.trims, max=None))
    truck = replace(TANDEM, function=(bare,))
    with pytest.raises(MissingValue, match=r"auger\.trims\.max"):
        one(truck, task(setting=0.5))


def test_asked_is_never_more_than_the_maximum_trim_passes() -> None:
    most = 12 * (0.72 - 0.28) / 0.72  # gal/min at 72 %
    assert most_flow(TANDEM.function[0]) / GPM == pytest.approx(most)
    work = one(TANDEM, task(speed=90 * RPM))
    assert work.demand[0, 0] / GPM > most
    assert work.asked[0, 0] / GPM == pytest.approx(most)
    assert solve_work(TANDEM, work).shortfall[0, 0] > 0


def test_most_flow_of_a_full_command_of_a_curve_and_of_no_section() -> None:
    auger = TANDEM.function[0]
    free = replace(auger, trims=replace(auger.trims, max=None))
    assert most_flow(free) / GPM == pytest.approx(12)
    curve = replace(auger.section, curve=((0.3, 0.0), (0.9, 6 * GPM)))
    # 72 % lies 0.42 of the 0.60 along
    assert most_flow(replace(auger, section=curve)) / GPM == pytest.approx(6 * 0.42 / 0.60)
    assert most_flow(replace(free, section=curve)) / GPM == pytest.approx(6)
    assert most_flow(replace(free, section=replace(auger.section, rated_flow=None))) == np.inf


def test_a_link_adds_its_function_at_its_minimum_trim() -> None:
    truck = replace(TANDEM, link=(Link(function="liquid", follows="auger"),))
    i = column(TANDEM, "liquid")
    order = task(speed=40 * RPM)
    assert one(TANDEM, order).asked[0, i] == 0
    # Liquid: 5 gal/min from 28 % to 100 %, minimum trim 34 %
    least = 5 * (0.34 - 0.28) / 0.72
    assert one(truck, order).asked[0, i] / GPM == pytest.approx(least)
    assert one(truck, task("spinner", speed=350 * RPM)).asked[0, i] == 0
    own = one(truck, order, task("liquid", speed=900 * RPM))
    assert own.asked[0, i] / GPM > 0.5 * 900 / 231  # a task of its own rules


def test_a_link_needs_the_minimum_trim_and_passes_over_what_is_not_fitted() -> None:
    links = (Link(function="liquid", follows="auger"),)
    bare = [
        replace(f, trims=replace(f.trims, min=None)) if f.name == "liquid" else f
        for f in TANDEM.function
    ]
    with pytest.raises(MissingValue, match=r"liquid\.trims\.min"):
        one(replace(TANDEM, function=tuple(bare), link=links), task(speed=40 * RPM))
    absent = one(replace(SINGLE, link=links), task(speed=20 * RPM))
    assert absent.active.tolist() == [True, False, False]


# -- flows and cylinders -------------------------------------------------------------------------


def test_a_wanted_flow_is_the_demand() -> None:
    work = one(TANDEM, task(flow=6 * GPM))
    assert work.demand[0, 0] == pytest.approx(6 * GPM)


def test_a_cylinder_takes_its_volume_in_its_time() -> None:
    plow = next(f for f in TANDEM.function if f.name == "plow")
    # 3 in bore, 1.5 in rod, 10 in stroke, 4 s
    extend = pi / 4 * 3**2 * 10 / 4 * 60 / 231
    assert cylinder_flow(plow, "extend") / GPM == pytest.approx(extend)
    assert plow.cylinder is not None
    pair = replace(plow, cylinder=replace(plow.cylinder, count=2, retract_time=5.0))
    assert cylinder_flow(pair, "extend") / GPM == pytest.approx(2 * extend)
    retract = 2 * pi / 4 * (3**2 - 1.5**2) * 10 / 5 * 60 / 231
    assert cylinder_flow(pair, "retract") / GPM == pytest.approx(retract)
    untold = replace(plow, cylinder=replace(plow.cylinder, retract_time=None))
    with pytest.raises(MissingValue, match=r"plow\.cylinder\.retract_time"):
        cylinder_flow(untold, "retract")


def test_a_speed_fits_a_motor_and_a_motion_a_cylinder() -> None:
    with pytest.raises(DomainError, match="auger: a motion fits a function with a cylinder"):
        cylinder_flow(TANDEM.function[0], "extend")
    points = one(TANDEM, task(speed=40 * RPM)).points
    with pytest.raises(DomainError, match="plow: a speed fits a function with a motor"):
        flow_for_speed(TANDEM, TANDEM.function[3], 3, 1.0, points)


def test_points_are_every_speed_with_every_temperature() -> None:
    scenario = Scenario(name="test", engine="working", oil="range", run=(task(speed=4.0),))
    work = plan_work(TANDEM, scenario)
    pairs = set(zip(work.points.engine_speed, work.points.oil_temperature, strict=True))
    speeds = {n for n, _ in pairs}
    temperatures = {t for _, t in pairs}
    assert len(pairs) == work.points.size == len(speeds) * len(temperatures)
    assert work.demand.shape == (work.points.size, 5)
    assert max(speeds) / RPM == pytest.approx(1400)
