"""Starts from rest: statics, what the supply can give, and the running law as a second opinion."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function, Load
from hydrocheck.model.truck import Scenario, Task
from hydrocheck.physics import valves
from hydrocheck.solver import SupplyLimit, solve, solved_functions
from hydrocheck.studies.starting import Start, StartLimit, start_from_rest, starts_of
from hydrocheck.studies.work import plan_work

RPM, INCH, PSI = pi / 30, 0.0254, 6894.757293168361
IN_LB = 4.4482216152605 * INCH
TRUCKS = {name: demo.load(name) for name in demo.names()}
TANDEM = TRUCKS["tandem"]
SPREADING = TANDEM.scenario_named("spreading")
WARM = 316.5


def changed(truck: Truck, name: str, **motor: object) -> Truck:
    """The truck with values of a function's motor replaced."""
    function = truck.function_named(name)
    motors = tuple(replace(m, **motor) for m in function.motor)  # type: ignore[arg-type]  # any field
    return with_function(truck, replace(function, motor=motors))


def with_function(truck: Truck, new: Function) -> Truck:
    return replace(truck, function=tuple(new if f.name == new.name else f for f in truck.function))


def auger(truck: Truck = TANDEM, **motor: object) -> Start:
    return start_from_rest(changed(truck, "auger", **motor), SPREADING, "auger", 1300 * RPM, WARM)


# -- the need --------------------------------------------------------------------------------------


def test_the_need_by_hand() -> None:
    # Statics: 1900 in-lb at rest x 2.5 over 22.6 in3/rev at 75 %: 1761 psi. Empty: 350 x 1.5.
    by_hand = 1900 * 2.5 * 2 * pi / (22.6 * 0.75)
    assert auger().needed[0] / PSI == pytest.approx(by_hand, rel=1e-9)
    empty = start_from_rest(TANDEM, replace(SPREADING, hopper="empty"), "auger", 1300 * RPM, WARM)
    assert empty.needed[0] / PSI == pytest.approx(350 * 1.5 * 2 * pi / (22.6 * 0.75), rel=1e-9)
    assert empty.margin[0] > auger().margin[0]


def test_published_first_start_of_a_flooded_feeder() -> None:
    # Screw feeder example with head load: the start takes 5.62 times the running torque. The auger
    # that starts at 2.5 times (1761 psi) then needs 3959 psi: beyond any setting of this truck.
    load = replace(TANDEM.function_named("auger").motor[0].load or Load(), breakaway=5.62)
    start = auger(load=load)
    assert start.needed[0] / PSI == pytest.approx(3959, abs=1)
    assert not start.starts[0]
    assert start.margin[0] < 0
    assert start.limit[0] == StartLimit.SUPPLY


# -- what is available -----------------------------------------------------------------------------


def test_a_load_sensing_pump_gives_its_compensator() -> None:
    start = auger()
    assert start.supply_limit[0] == SupplyLimit.COMPENSATOR
    # 2700 psi at the pump, less the section and lines that slip and the other functions take.
    assert 2600 < start.port_available[0] / PSI < 2700
    assert start.port_available == pytest.approx(start.available + start.beside)
    assert start.port_needed == pytest.approx(start.needed + start.beside)
    higher = auger(TANDEM.vary("pump.compensator", 2750 * PSI))
    gain = higher.available[0] - start.available[0]
    assert 0.8 * 50 * PSI < gain <= 50 * PSI


def test_a_relief_bounds_a_fixed_pump() -> None:
    truck = TRUCKS["mistakes"]
    start = start_from_rest(truck, truck.scenario_named("spreading"), "auger", 1300 * RPM, WARM)
    relief = truck.relief[0]
    assert start.supply_limit[0] == SupplyLimit.RELIEF
    cracks = float(valves.relief_cracking(float(relief.setting or 0.0), relief.type))
    assert cracks - 20 * PSI < start.port_available[0] < float(relief.setting or 0.0)


def test_a_small_command_passes_as_slip() -> None:
    # A worn motor at a crawl: it passes what its command gives before the pressure is there.
    slow = Scenario(name="crawl", run=(Task(name="auger", flow=2e-5),))
    truck = changed(TANDEM, "auger", volumetric_efficiency=0.9)
    start = start_from_rest(truck, slow, "auger", 1300 * RPM, WARM)
    assert start.limit[0] == StartLimit.COMMAND
    assert not start.starts[0]
    wide = Scenario(name="wide", run=(Task(name="auger", flow=4e-4),))
    assert start_from_rest(truck, wide, "auger", 1300 * RPM, WARM).starts[0]


def test_a_port_relief_bounds_it() -> None:
    relief = replace(TANDEM.relief[0], name="auger port", at="port", of="auger", setting=1500 * PSI)
    start = auger(replace(TANDEM, relief=(*TANDEM.relief, relief)))
    assert start.limit[0] == StartLimit.PORT_RELIEF
    assert not start.starts[0]
    assert start.port_available[0] <= 1500 * PSI


def test_a_tight_motor_holds_the_whole_pressure() -> None:
    # Without slip nothing flows: the work port stands at the bank's inlet.
    start = auger(volumetric_efficiency=1.0)
    alone = Scenario(name="alone", run=(Task(name="auger", flow=2e-4),))
    tight = changed(TANDEM, "auger", volumetric_efficiency=1.0)
    still = start_from_rest(tight, alone, "auger", 1300 * RPM, WARM)
    assert still.available[0] / PSI == pytest.approx(2700, abs=0.5)
    assert start.available[0] < still.available[0]


def test_other_functions_take_the_flow() -> None:
    # At idle with the plow going up less is left for an auger that stands.
    both = TANDEM.scenario_named("spreading, plow lifted")
    alone, together = (
        start_from_rest(TANDEM, s, "auger", 700 * RPM, WARM).available[0] for s in (SPREADING, both)
    )
    assert together < 0.8 * alone


# -- the running law as a second opinion -----------------------------------------------------------


@settings(max_examples=25)
@given(st.floats(0.3, 3.0), st.sampled_from([255.0, WARM, 340.0]), st.floats(700.0, 1500.0))
def test_a_load_stands_or_runs_as_said(factor: float, oil: float, engine: float) -> None:
    # Oracle: the running solve with a constant load of the torque that breaks away. What stands
    # across a held motor moves a load that needs less, and no other.
    start = start_from_rest(TANDEM, SPREADING, "auger", engine * RPM, oil)
    if abs(factor - 1.0) < 1e-3:
        return
    motor = TANDEM.function_named("auger").motor[0]
    friction = (1 - float(motor.hydromechanical_efficiency or 0)) * (
        1 - float(motor.viscous_torque_share)
    )
    torque = factor * start.available[0] * float(motor.displacement or 0) * (1 - friction)
    truck = changed(TANDEM, "auger", load=Load(constant=torque), load_empty=None)
    points = plan_work(TANDEM, SPREADING, engine * RPM, oil).points
    place = [f.name for f in solved_functions(truck)].index("auger")
    speed = solve(truck, points).speed[0, place]
    assert (speed > 0) == (factor < 1.0)


@pytest.mark.parametrize("name", ["tandem", "single", "conveyor"])
def test_the_demo_trucks_start_cold_and_warm_full_and_empty(name: str) -> None:
    truck = TRUCKS[name]
    oils = [float(truck.oil.cold or 0), float(truck.oil.hot or 0)]
    for scenario in truck.scenario:
        for hopper in ("full", "empty"):
            starts = starts_of(truck, replace(scenario, hopper=hopper), None, oils)
            motors = {f.name for f in truck.function if f.motor}
            assert set(starts) == {task.name for task in scenario.run} & motors
            for start in starts.values():
                assert start.starts.all()
                assert (start.margin >= 0).all()
                assert start.needed.shape == start.engine_speed.shape == start.limit.shape


@settings(max_examples=10)
@given(st.floats(1.0, 1.5))
def test_a_larger_motor_starts_with_less(scale: float) -> None:
    larger = auger(
        displacement=scale * float(TANDEM.function_named("auger").motor[0].displacement or 0)
    )
    assert larger.needed[0] == pytest.approx(auger().needed[0] / scale)
    assert larger.margin[0] >= auger().margin[0] - 1e-9


def test_motors_in_series_need_the_sum() -> None:
    function = TANDEM.function_named("spinner")
    one = function.motor[0]
    two = with_function(
        TANDEM,
        replace(function, motor=(replace(one, name="left"), replace(one, name="right"))),
    )
    starts = [
        start_from_rest(truck, SPREADING, "spinner", 1300 * RPM, WARM) for truck in (TANDEM, two)
    ]
    assert starts[1].needed == pytest.approx(2 * starts[0].needed)
    assert starts[1].available[0] == pytest.approx(starts[0].available[0], rel=0.02)


# -- refusals --------------------------------------------------------------------------------------


def test_missing_values_are_named() -> None:
    truck = changed(TANDEM, "auger", starting_efficiency=None, load=Load(constant=100.0))
    with pytest.raises(MissingValue) as error:
        start_from_rest(truck, SPREADING, "auger")
    assert error.value.keys == ("auger.motor.starting_efficiency", "auger.motor.load.breakaway")


@pytest.mark.parametrize(
    ("name", "words"),
    [("plow", "no hydraulic motor"), ("winch", "no function 'winch'")],
)
def test_what_has_no_motor(name: str, words: str) -> None:
    with pytest.raises(DomainError, match=words):
        start_from_rest(TANDEM, SPREADING, name)


def test_what_takes_no_part() -> None:
    with pytest.raises(DomainError, match="takes no part"):
        start_from_rest(TANDEM, TANDEM.scenario_named("dump"), "auger")
    assert np.size(list(starts_of(TANDEM, TANDEM.scenario_named("dump")))) == 0
