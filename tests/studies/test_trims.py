"""Predicted trims against commands tried one by one, hand sums, common practice and plain facts."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.demo.variants import in_series
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function, Trims
from hydrocheck.model.truck import LiquidRig, Scenario, Task
from hydrocheck.physics.brine import brine_specific_gravity
from hydrocheck.solver import Points, Result, solve
from hydrocheck.studies.commands import command_of, flow_of, speed_at_flow
from hydrocheck.studies.conditions import oil_temperatures
from hydrocheck.studies.liquid import greatest_speed, least_even_speed
from hydrocheck.studies.starting import start_from_rest
from hydrocheck.studies.trimbounds import lowest_speed, setting_scenario, wanted_speed
from hydrocheck.studies.trims import (
    Prediction,
    Trim,
    predict_trims,
    reference_trims,
    trims_at,
    with_predicted,
)
from hydrocheck.studies.work import mass_per_turn, plan_work

RPM, GPM = pi / 30, 6.30901964e-5
TRUCKS = {name: demo.load(name) for name in demo.names()}
TANDEM = TRUCKS["tandem"]
EXACT = replace(TANDEM, tolerances={})
STEP = 0.002
TRIED = np.arange(0.24, 1.0 + STEP / 2, STEP)
SET_BY_TRIMS = [
    (name, f.name) for name, truck in TRUCKS.items() for f in truck.function if f.fitted and f.motor
]


@cache
def predicted(name: str) -> Prediction:
    return predict_trims(TRUCKS[name])


def trim_of(name: str, function: str) -> Trim:
    found = predicted(name).of(function)
    assert found is not None
    return found


def with_function(truck: Truck, new: Function) -> Truck:
    return replace(truck, function=tuple(new if f.name == new.name else f for f in truck.function))


def changed(truck: Truck, name: str, **values: object) -> Truck:
    return with_function(truck, replace(truck.function_named(name), **values))  # type: ignore[arg-type]  # any field


# -- commands tried one by one, each by the whole circuit ------------------------------------------


@pytest.mark.parametrize(("name", "function"), SET_BY_TRIMS)
def test_turning_and_fed_against_commands_one_by_one(name: str, function: str) -> None:
    """The command that just turns the shaft evenly, and the one up to which nobody is short."""
    truck, trim = TRUCKS[name], trim_of(name, function)
    least = lowest_speed(truck, truck.function_named(function))
    for n in range(trim.grid.minimum.size):
        if not np.isfinite(trim.grid.maximum[n]):
            continue
        others, result = tried(name, function, n)
        m = result.column(function)
        turning = result.speed[:, m] >= least
        assert not turning[0]
        first = TRIED[int(np.argmax(turning))]
        assert first - STEP - 1e-9 <= trim.grid.run[n] <= first + 1e-9, (name, function, n)
        met = (result.flow >= others.asked * (1 - 1e-5)).all(axis=1)
        last = TRIED[met][-1] if met.all() else TRIED[int(np.argmin(met)) - 1]
        assert last - 1e-9 <= trim.grid.fed[n] <= last + STEP + 1e-9, (name, function, n)


@pytest.mark.parametrize(("name", "function"), SET_BY_TRIMS)
def test_maximum_against_commands_one_by_one(name: str, function: str) -> None:
    """The greatest command that keeps every bound: wanted speed, limits in every condition, fed."""
    truck, trim = TRUCKS[name], trim_of(name, function)
    wanted = truck.function_named(function)
    allowed = _within_limits(truck, wanted)
    for n in np.flatnonzero(np.isfinite(trim.grid.maximum)):
        others, result = tried(name, function, int(n))
        m = result.column(function)
        wish = wanted_speed(truck, wanted)
        assert wish is not None
        fed = (result.flow >= others.asked * (1 - 1e-5)).all(axis=1)
        good = allowed & fed & (result.speed[:, m] <= wish)
        last = TRIED[good][-1] if good.all() else TRIED[int(np.argmin(good)) - 1]
        assert last - 1e-9 <= trim.grid.maximum[n] <= last + STEP + 1e-9, (name, function, n)


@cache
def tried(name: str, function: str, n: int) -> tuple[Points, Result]:
    """Every tried command of a function at a condition, with what runs beside it, solved."""
    truck, grid = TRUCKS[name], trim_of(name, function).grid
    setting = replace(setting_scenario(truck, function), hopper="full" if grid.full[n] else "empty")
    beside = plan_work(truck, setting, grid.engine_speed[n], grid.oil_temperature[n]).points
    names = [f.name for f in truck.function if f.fitted]
    points = beside.take(np.zeros(TRIED.size, dtype=np.intp))
    if grid.full[n] and truck.function_named(function).kind == "spinner":
        # What the feeder discharges lands on the spinner: its speed by a solve at a fast engine.
        fast = plan_work(truck, setting, 2100 * RPM, grid.oil_temperature[n]).points
        (feeder,) = (f.name for f in truck.function if f.kind == "feeder")
        turning = solve(truck, fast).speed[0, names.index(feeder)]
        points.thrown[:, names.index(function)] = turning * mass_per_turn(truck)
    asked = points.asked.copy()
    asked[:, names.index(function)] = flow_of(truck.function_named(function), TRIED)
    points = replace(points, asked=asked)
    return points, solve(truck, points)


def _within_limits(truck: Truck, function: Function) -> np.ndarray:
    """Which tried commands keep machinery and motor limits with any oil, hopper empty or full."""
    good = np.ones(TRIED.size, dtype=bool)
    for oil in np.linspace(*(float(oil_temperatures(truck, w)[0]) for w in ("cold", "hot")), 5):
        for hopper in (0.0, 1.0):
            points = Points.of(truck, np.zeros(TRIED.size), np.full(TRIED.size, oil), hopper=hopper)
            speed = speed_at_flow(truck, function, flow_of(function, TRIED), points)
            motor = function.motor[0]
            good &= speed <= float(function.limits.max_speed or np.inf)
            good &= speed * motor.gearbox_ratio <= float(motor.max_speed or np.inf)
    return good


@pytest.mark.parametrize(("name", "function"), [("tandem", "auger"), ("conveyor", "conveyor")])
def test_start_from_rest_against_a_held_shaft(name: str, function: str) -> None:
    """The study of starts holds the shaft still in the whole circuit: a second opinion."""
    truck, trim = TRUCKS[name], trim_of(name, function)
    setting = setting_scenario(truck, function)
    for command, starts in ((trim.start + 0.004, True), (trim.start - 0.004, False)):
        task = Task(name=function, command=command)
        scenario = replace(setting, run=(*setting.run, task))
        start = start_from_rest(
            truck, scenario, function, predicted(name).engine_speed, predicted(name).oil_temperature
        )
        assert bool(start.starts[0]) is starts


# -- by hand ---------------------------------------------------------------------------------------


def test_a_tight_motor_by_hand() -> None:
    # 350 rpm x 4.5 in3/rev / 231 = 6.818 gpm of 10 gpm: 28 + 72 x 0.6818 = 77.1 %, and slip on top:
    # 20 rpm asks 0.390 gpm, 30.8 %.
    section = replace(TANDEM.function_named("spinner").section, deadband=0.28)
    motor = replace(TANDEM.function_named("spinner").motor[0], volumetric_efficiency=0.999999)
    truck = changed(TANDEM, "spinner", section=section, motor=(motor,))
    low, high = reference_trims(truck, "spinner")
    assert low == pytest.approx(0.28 + 0.72 * 20 * 4.5 / 231 / 10, abs=2e-4)
    assert high == pytest.approx(0.28 + 0.72 * 350 * 4.5 / 231 / 10, abs=2e-4)
    assert trim_of("tandem", "spinner").maximum > high  # the real motor slips


def test_command_and_flow_are_inverse_also_on_a_measured_curve() -> None:
    auger = TANDEM.function_named("auger")
    curve = ((0.2, 0.0), (0.3, 0.0), (0.5, 3e-4), (0.8, 6e-4), (1.0, 6e-4))
    measured = replace(auger, section=replace(auger.section, curve=curve))
    for function in (auger, measured):
        commands = np.linspace(0.31, 0.79, 25)
        assert command_of(function, flow_of(function, commands)) == pytest.approx(commands)
    assert command_of(measured, 0.0) == pytest.approx(0.3)
    assert command_of(measured, 6e-4) == pytest.approx(0.8)
    assert np.isinf(command_of(measured, 6.1e-4))
    assert np.isinf(command_of(auger, 12.1 * GPM))


def test_band_adds_in_squares() -> None:
    keys = [k for k in TANDEM.tolerances if k.startswith("auger")]
    alone = []
    for key in keys:
        truck = replace(TANDEM, tolerances={key: TANDEM.tolerances[key]})
        trim = predict_trims(truck, ["auger"]).of("auger")
        assert trim is not None
        alone.append((trim.minimum_band, trim.maximum_band))
    both = trim_of("tandem", "auger")
    assert both.minimum_band == pytest.approx(np.hypot.reduce([a for a, _ in alone]))
    assert both.maximum_band == pytest.approx(np.hypot.reduce([b for _, b in alone]))
    # A deadband off by 2 points moves the minimum by 2 points less the opening's share.
    index = keys.index("auger.section.deadband")
    opening = (both.minimum - 0.28) / 0.72
    assert alone[index][0] == pytest.approx(0.02 * (1 - opening), rel=1e-6)


# -- common practice -------------------------------------------------------------------------------


def test_working_band_and_feeder_setting_of_common_practice() -> None:
    """Common practice: 1200-1400 rpm; the feeder at 30-40 % while the spinner is set."""
    assert 0.30 <= float(TANDEM.limits.setting_up) <= 0.40
    engine = trim_of("tandem", "spinner").grid.engine_speed / RPM
    assert set(np.round(np.unique(engine))) == {700, 1200, 1300, 1400}
    run = {task.name: task for task in setting_scenario(TANDEM, "spinner").run}
    assert run["auger"].setting == TANDEM.limits.setting_up
    assert run["liquid"].setting is None
    assert trim_of("tandem", "spinner").beside == ("auger at 35 %", "liquid")


def test_a_loaded_hopper_gives_truer_trims() -> None:
    """Common practice: trims are set with a loaded hopper; the tool shows the difference."""
    trim = trim_of("tandem", "auger")
    assert trim.minimum_empty < trim.minimum - 0.05
    assert trim.maximum_empty < trim.maximum - 0.02
    # The trim of the empty hopper does not start the loaded auger; the true one does.
    setting = setting_scenario(TANDEM, "auger")
    for command, starts in ((trim.minimum_empty, False), (trim.minimum + 1e-4, True)):
        scenario = replace(setting, run=(*setting.run, Task(name="auger", command=command)))
        assert start_from_rest(TANDEM, scenario, "auger", 1200 * RPM, 316.483).starts[0] == starts


# -- the limit that rules --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "ruled_by"),
    [(30.0, "machinery limit"), (38.7, "machinery limit"), (90.0, "wanted rate")],
)
def test_the_least_bound_rules(limit: float, ruled_by: str) -> None:
    auger = TANDEM.function_named("auger")
    truck = changed(EXACT, "auger", limits=replace(auger.limits, max_speed=limit * RPM))
    trim = predict_trims(truck, ["auger"]).of("auger")
    assert trim is not None
    assert trim.ruled_by == ruled_by
    assert trim.grid.speed[trim.reference] <= limit * RPM * (1 + 1e-9)


def test_motor_limit_and_full_command_rule() -> None:
    liquid = TANDEM.function_named("liquid")
    slow = replace(liquid.motor[0], max_speed=500 * RPM)
    trim = predict_trims(changed(EXACT, "liquid", motor=(slow,)), ["liquid"]).of("liquid")
    assert trim is not None
    assert trim.ruled_by == "motor limit"
    small = replace(liquid.section, rated_flow=1.5 * GPM)
    trim = predict_trims(changed(EXACT, "liquid", section=small), ["liquid"]).of("liquid")
    assert trim is not None
    assert (trim.ruled_by, trim.maximum) == ("full command", 1.0)


def test_a_starved_pump_makes_dead_travel_and_overspeed() -> None:
    trim = trim_of("mistakes", "spinner")
    assert trim.ruled_by == "pump flow"
    assert trim.starved == "spinner"
    over = trim.overspeed
    assert over is not None
    assert (over.command, over.limit) == (1.0, 450 * RPM)
    assert over.engine_speed == pytest.approx(2200 * RPM)
    # 9.29 gpm of a 4.3 in3/rev motor, less slip: the check machinery-overspeed finds 499 rpm or so.
    assert over.speed > over.limit
    assert trim_of("tandem", "spinner").overspeed is None


def test_a_boost_in_the_file_lets_the_minimum_be_what_holds_a_turning_shaft() -> None:
    auger = TANDEM.function_named("auger")
    coil = auger.section.coil
    assert coil is not None
    section = replace(auger.section, coil=replace(coil, boost=0.10))
    boosted = predict_trims(changed(EXACT, "auger", section=section), ["auger"]).of("auger")
    plain = trim_of("tandem", "auger")
    assert boosted is not None
    assert boosted.minimum == plain.run < plain.minimum == plain.start
    assert boosted.boost == plain.boost > 0


def test_nozzles_bound_the_liquid_at_both_ends() -> None:
    """Nozzles of 2 gpm of water at 40 psi, even down to 10 psi; brine, a pump of 0.5 in3/turn."""
    psi, inch = 6894.757293168361, 0.0254
    rig = LiquidRig(
        nozzle_flow=2.0 * GPM,
        nozzle_pressure=40 * psi,
        least_pressure=10 * psi,
        per_turn=0.5 * inch**3 / (2 * pi),
    )
    truck = replace(EXACT, spreading=replace(EXACT.spreading, liquid=rig))
    least = least_even_speed(truck)
    gravity = float(brine_specific_gravity(0.233))
    # Half the pressure ratio's root: 1 gpm of water, a little less brine; 231 in3 in a gallon.
    assert least == pytest.approx(1.0 / gravity**0.5 * 231 / 0.5 * RPM)
    # 9 gal/ton of 200 lb/min is 0.9 gpm.
    assert greatest_speed(truck) == pytest.approx(0.9 * 231 / 0.5 * RPM, rel=1e-6)
    nozzles = predict_trims(truck, ["liquid"]).of("liquid")
    without = replace(EXACT, spreading=replace(EXACT.spreading, liquid=None))
    plain = predict_trims(without, ["liquid"]).of("liquid")
    assert nozzles is not None
    assert plain is not None
    assert nozzles.minimum > plain.minimum + 0.05
    assert lowest_speed(truck, truck.function_named("liquid")) == least
    bare = replace(truck, spreading=replace(truck.spreading, liquid=replace(rig, per_turn=None)))
    assert least_even_speed(bare) is None
    assert greatest_speed(bare) is None


def test_an_electric_or_absent_liquid_has_no_trims() -> None:
    for values in ({"drive": "electric"}, {"fitted": False}):
        runs = tuple(
            replace(s, run=tuple(t for t in s.run if t.name != "liquid")) for s in TANDEM.scenario
        )
        truck = replace(changed(EXACT, "liquid", **values), scenario=runs)
        assert [t.function for t in predict_trims(truck).trims] == ["auger", "spinner"]


def test_missing_values_are_named() -> None:
    auger = TANDEM.function_named("auger")
    motor = replace(auger.motor[0], min_speed=None, max_speed=None, starting_efficiency=None)
    found = predict_trims(changed(EXACT, "auger", motor=(motor,)), ["auger"])
    ((name, why),) = found.not_predicted
    assert name == "auger"
    assert "auger.motor.min_speed" in why
    motor = replace(motor, min_speed=5 * RPM)
    trim = predict_trims(changed(EXACT, "auger", motor=(motor,)), ["auger"]).of("auger")
    assert trim is not None
    assert any("auger.motor.starting_efficiency" in gap for gap in trim.gaps)
    assert any("auger.motor.max_speed" in gap for gap in trim.gaps)
    assert np.isnan(trim.boost)
    with pytest.raises(MissingValue, match="working"):
        predict_trims(replace(TANDEM, engine=replace(TANDEM.engine, working=None)))


def test_predicted_trims_stand_in_for_those_the_file_lacks() -> None:
    bare = changed(EXACT, "auger", trims=Trims())
    found = predict_trims(bare, ["auger", "spinner"])
    trim = found.of("auger")
    assert trim is not None
    trims = with_predicted(bare, found).function_named("auger").trims
    assert (trims.min, trims.max) == (trim.minimum, trim.maximum)
    spinner = found.of("spinner")
    assert spinner is not None
    assert spinner.beside[0] == "auger at 35 %"


# -- plain facts -----------------------------------------------------------------------------------

WHO = st.sampled_from(SET_BY_TRIMS)
FACTS = settings(max_examples=12)


@FACTS
@given(WHO, st.floats(0.2, 3.0), st.floats(1.0, 1.5))
def test_a_higher_machinery_limit_never_lowers_the_maximum(
    who: tuple[str, str], share: float, more: float
) -> None:
    truck, name = TRUCKS[who[0]], who[1]
    limits = truck.function_named(name).limits
    base = share * float(limits.max_speed or 0.0)
    low, high = (
        reference_trims(changed(truck, name, limits=replace(limits, max_speed=v)), name)[1]
        for v in (base, base * more)
    )
    assert high >= low - 1e-9


@FACTS
@given(WHO, st.floats(0.6, 1.0), st.floats(1.0, 1.6))
def test_a_larger_pump_never_lowers_the_maximum(
    who: tuple[str, str], share: float, more: float
) -> None:
    truck, name = TRUCKS[who[0]], who[1]
    size = float(truck.pump[0].displacement or 0.0) * share
    low, high = (
        reference_trims(truck.vary(f"{truck.pump[0].name}.displacement", v), name)[1]
        for v in (size, size * more)
    )
    assert np.nan_to_num(high) >= np.nan_to_num(low) - 1e-4


@FACTS
@given(WHO, st.floats(600, 2000), st.floats(1.0, 1.5))
def test_more_engine_speed_never_lowers_the_maximum(
    who: tuple[str, str], engine: float, more: float
) -> None:
    truck, name = TRUCKS[who[0]], who[1]
    oil = float(oil_temperatures(truck, "working")[0])
    low, high = (trims_at(truck, name, e * RPM, oil, "full")[1] for e in (engine, engine * more))
    assert np.nan_to_num(high) >= np.nan_to_num(low) - 1e-4


@FACTS
@given(WHO, st.floats(0.0, 0.5), st.floats(0.0, 0.2))
def test_a_larger_deadband_raises_the_minimum(
    who: tuple[str, str], deadband: float, more: float
) -> None:
    truck, name = TRUCKS[who[0]], who[1]
    section = truck.function_named(name).section
    low, high = (
        reference_trims(changed(truck, name, section=replace(section, deadband=d)), name)[0]
        for d in (deadband, deadband + more)
    )
    assert high >= low


@FACTS
@given(WHO, st.floats(0.3, 1.5), st.floats(1.0, 2.0))
def test_a_heavier_load_never_lowers_the_minimum(
    who: tuple[str, str], share: float, more: float
) -> None:
    truck, name = TRUCKS[who[0]], who[1]
    motor = truck.function_named(name).motor[0]
    assert motor.load is not None
    base = float(motor.load.constant or 0.0) * share
    low, high = (
        reference_trims(
            changed(truck, name, motor=(replace(motor, load=replace(motor.load, constant=c)),)),
            name,
        )[0]
        for c in (base, base * more)
    )
    assert high >= low - 1e-12


def test_no_scenario_means_nothing_runs_beside() -> None:
    truck = replace(EXACT, scenario=())
    assert setting_scenario(truck, "spinner") == Scenario(name="setting spinner", run=())
    trim = predict_trims(truck, ["spinner"]).of("spinner")
    assert trim is not None
    assert trim.beside == ()
    assert any("no scenario" in gap for gap in trim.gaps)


def _series(**second: float) -> Truck:
    """The auger driven by two motors in series, the second with other values."""
    truck = in_series(TANDEM)
    auger = truck.function_named("auger")
    first, last = auger.motor
    changed = replace(auger, motor=(first, replace(last, **second)))
    return replace(truck, function=tuple(changed if f is auger else f for f in truck.function))


def test_the_slower_rated_motor_of_a_series_bounds_the_maximum() -> None:
    # Conservation of mass: both pass the same flow, so that equal motors turn equally fast; a limit
    # of the second counts as one of the first.
    slow = 30 * RPM
    found = predict_trims(_series(max_speed=slow), ["auger"]).of("auger")
    first = in_series(TANDEM).vary("auger.first.max_speed", slow)
    other = predict_trims(first, ["auger"]).of("auger")
    assert found is not None
    assert other is not None
    assert found.ruled_by == other.ruled_by == "motor limit"
    assert found.maximum == pytest.approx(other.maximum, abs=0.01)


def test_a_larger_second_motor_of_a_series_turns_slower_by_its_displacement() -> None:
    # n2 D2 = n1 D1 without slip (common practice for series circuits)
    size = 2.0 * float(TANDEM.function_named("auger").motor[0].displacement or 0.0)
    truck = _series(displacement=size, max_speed=30 * RPM)
    found = predict_trims(truck, ["auger"]).of("auger")
    assert found is not None
    limit = next(w for w in found.wishes if w.name == "motor limit")
    assert limit.speed == pytest.approx(60 * RPM)


def test_the_minimum_turns_every_motor_of_a_series_evenly() -> None:
    least = 40 * RPM
    plain = predict_trims(_series(), ["auger"]).of("auger")
    found = predict_trims(_series(min_speed=least), ["auger"]).of("auger")
    first = predict_trims(in_series(TANDEM).vary("auger.first.min_speed", least), ["auger"]).of(
        "auger"
    )
    assert plain is not None
    assert found is not None
    assert first is not None
    assert found.run > plain.run
    assert found.run == pytest.approx(first.run, abs=0.01)
