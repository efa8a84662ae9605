"""Flow budgets: what the pump can give, the speed that just meets a demand, who starves."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.truck import Scenario, Task
from hydrocheck.studies.budget import (
    ENOUGH,
    available_flow,
    flow_budget,
    is_met,
    least_engine_speed,
    starved,
)
from hydrocheck.studies.work import plan_work, solve_work

RPM, INCH = pi / 30, 0.0254
GPM = 231 * INCH**3 / 60
WARM = (110 - 32) / 1.8 + 273.15
TRUCKS = {name: demo.load(name) for name in demo.names()}
TANDEM, MISTAKES = TRUCKS["tandem"], TRUCKS["mistakes"]
EVERY = [(name, s.name) for name, truck in TRUCKS.items() for s in truck.scenario]


def test_common_practice_the_spreading_demand_is_met_from_1200_to_1400_rpm() -> None:
    # Common practice: 1200-1400 engine rpm while spreading, too little at idle.
    budget = flow_budget(TANDEM, TANDEM.scenario_named("spreading"))
    band = (budget.engine_speed >= 1200 * RPM) & (budget.engine_speed <= 1400 * RPM)
    assert band.sum() > 5
    assert (budget.shortfall[band] <= ENOUGH * budget.total_demand[band]).all()
    assert budget.least_speed is not None
    assert 700 < budget.least_speed / RPM < 1200
    assert starved(budget)


@pytest.mark.parametrize(("name", "scenario"), EVERY)
def test_the_least_speed_agrees_with_a_brute_scan(name: str, scenario: str) -> None:
    truck = TRUCKS[name]
    work = truck.scenario_named(scenario)
    least = least_engine_speed(truck, work, WARM)
    step = 4 * RPM
    speeds = np.arange(step, 1800 * RPM, step)
    met = is_met(solve_work(truck, plan_work(truck, work, speeds, WARM)))
    if least is None:
        assert not met.any()
        return
    first = speeds[int(np.argmax(met))]
    assert met.any()
    assert first - step <= least <= first + 1e-3


def test_available_is_displacement_times_speed_less_slip() -> None:
    budget = flow_budget(TANDEM, TANDEM.scenario[0])
    solved = solve_work(TANDEM, plan_work(TANDEM, TANDEM.scenario[0], budget.engine_speed, WARM))
    slip = solved.result.pump_slip / GPM
    expected = 4.0 * budget.engine_speed / RPM / 231 - slip  # 4 in3/rev, drive ratio 1
    assert budget.available / GPM == pytest.approx(expected)
    assert (slip > 0).all()


def test_a_pump_at_full_stroke_gives_all_that_is_available() -> None:
    budget = flow_budget(TANDEM, TANDEM.scenario[0])
    short = budget.shortfall > ENOUGH * budget.total_demand
    assert short.any()
    given_flow = budget.delivered.sum(axis=1)[short]
    assert given_flow == pytest.approx(budget.available[short], rel=1e-6)


def test_a_torque_limiter_bounds_what_is_available() -> None:
    limited = replace(TANDEM, pump=(replace(TANDEM.pump[0], torque_limit=20.0),))
    speeds = np.array([1300 * RPM])
    scenario = TANDEM.scenario[0]
    solved = solve_work(limited, plan_work(limited, scenario, speeds, WARM))
    free = solve_work(TANDEM, plan_work(TANDEM, scenario, speeds, WARM))
    assert available_flow(limited, solved) == pytest.approx(solved.result.pump_flow)
    assert available_flow(limited, solved)[0] < available_flow(TANDEM, free)[0]


@pytest.mark.parametrize(("name", "scenario"), EVERY)
def test_more_engine_speed_never_gives_a_function_less(name: str, scenario: str) -> None:
    budget = flow_budget(TRUCKS[name], TRUCKS[name].scenario_named(scenario))
    assert (np.diff(budget.delivered, axis=0) >= -1e-9 * budget.demand.max()).all()
    assert (np.diff(budget.engine_speed) > 0).all()
    assert (budget.delivered <= budget.demand * (1 + 1e-9)).all()
    assert (budget.shortfall >= 0).all()


@settings(max_examples=12)
@given(st.floats(0.4, 2.5))
def test_a_larger_pump_meets_the_demand_at_a_lower_speed(scale: float) -> None:
    least = [
        least_engine_speed(_with_pump(TANDEM, f), TANDEM.scenario[0], WARM)
        for f in (scale, 1.1 * scale)
    ]
    if least[0] is not None:
        assert least[1] is not None
        # Slip grows with the pump, so that speed and displacement trade nearly one for one.
        assert least[1] < least[0]
        assert least[1] / least[0] == pytest.approx(1 / 1.1, rel=0.01)


def _with_pump(truck: Truck, factor: float) -> Truck:
    return truck.vary("pump.displacement", factor * float(truck.pump[0].displacement or 0.0))


def test_a_demand_that_no_speed_meets() -> None:
    # The mistaken relief stands below what the plow needs: no engine speed helps.
    scenario = MISTAKES.scenario_named("plow lift")
    budget = flow_budget(MISTAKES, scenario)
    assert budget.least_speed is None
    assert starved(budget) == ["plow"]
    assert (budget.available > budget.total_demand).all()


def test_a_scenario_that_asks_for_nothing_is_met_at_a_standstill() -> None:
    nothing = Scenario(name="nothing", run=(Task(name="auger", setting=0.0),))
    assert least_engine_speed(TANDEM, nothing, WARM) == 0.0
    budget = flow_budget(TANDEM, nothing)
    assert starved(budget) == []
    assert budget.total_demand.max() == 0.0


def test_the_hottest_oil_of_a_scenario_rules() -> None:
    scenario = replace(TANDEM.scenario[0], oil="range")
    assert flow_budget(TANDEM, scenario).oil_temperature == TANDEM.oil.hot
    assert flow_budget(TANDEM, scenario, oil_temperature=300.0).oil_temperature == 300.0


def test_a_budget_needs_the_idle_speed_unless_speeds_are_given() -> None:
    truck = replace(TANDEM, engine=replace(TANDEM.engine, idle=None))
    with pytest.raises(MissingValue, match=r"engine\.idle"):
        flow_budget(truck, TANDEM.scenario[0])
    assert flow_budget(truck, TANDEM.scenario[0], [1300 * RPM]).engine_speed.size == 1
