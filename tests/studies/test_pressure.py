"""The pressure that work needs, against the solved circuit and arithmetic typed here."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.model import Truck
from hydrocheck.studies.pressure import needed_pressure
from hydrocheck.studies.work import plan_work, solve_work

RPM, PSI = pi / 30, 6894.757293168
WARM = (110 - 32) / 1.8 + 273.15
TANDEM, SINGLE, MISTAKES = (demo.load(n) for n in ("tandem", "single", "mistakes"))


@pytest.mark.parametrize("truck", [TANDEM, SINGLE], ids=["load sensing", "open centre"])
def test_where_every_demand_is_met_the_need_is_the_solved_pressure(truck: Truck) -> None:
    work = plan_work(truck, truck.scenario[0], 1300 * RPM, WARM)
    need, result = needed_pressure(truck, work), solve_work(truck, work).result
    on = work.asked[0] > 0
    # The open centre's remainder adds a few psi to the return line that the work does not need.
    assert need.work[0, on] == pytest.approx(result.work_pressure[0, on], abs=10 * PSI)
    assert need.pump[0] == pytest.approx(result.pump_pressure[0], abs=10 * PSI)
    assert need.load_signal[0] == need.work[0].max()
    assert (need.work[0, ~on] == 0).all()


def test_the_plow_needs_its_force_over_its_piston() -> None:
    work = plan_work(MISTAKES, MISTAKES.scenario_named("plow lift"), 1300 * RPM, WARM)
    need = needed_pressure(MISTAKES, work)
    plow = 8800 / (pi / 4 * 2.5**2 * 0.95)  # psi; 95 % is the cylinder's default efficiency
    assert need.work[0, 2] / PSI == pytest.approx(plow, abs=5)
    # 100 psi over the section at its flow, and the pressure line
    assert need.pump[0] / PSI == pytest.approx(plow + 100, abs=15)
    assert solve_work(MISTAKES, work).result.pump_pressure[0] < need.pump[0]


def test_neither_relief_nor_compensator_takes_part() -> None:
    work = plan_work(TANDEM, TANDEM.scenario[1], 1300 * RPM, WARM)
    low = replace(TANDEM, pump=(replace(TANDEM.pump[0], compensator=500 * PSI),))
    assert needed_pressure(low, work).pump == pytest.approx(needed_pressure(TANDEM, work).pump)


def test_a_load_sensing_pump_stands_at_least_its_margin_above_the_load() -> None:
    work = plan_work(TANDEM, TANDEM.scenario[0], 1300 * RPM, WARM)
    need = needed_pressure(TANDEM, work)
    assert need.pump[0] - need.load_signal[0] == pytest.approx(300 * PSI)
    small = TANDEM.vary("pump.margin", 20 * PSI)
    close = needed_pressure(small, work)
    # Then the section's 150 psi and the line rule.
    assert close.pump[0] - close.load_signal[0] == pytest.approx(151 * PSI, abs=5 * PSI)


def test_more_speed_of_the_functions_needs_more_pressure() -> None:
    tasks = TANDEM.scenario[0].run
    pumps = []
    for rpm in np.linspace(100, 400, 7):
        run = tuple(replace(t, speed=rpm * RPM) if t.name == "spinner" else t for t in tasks)
        scenario = replace(TANDEM.scenario[0], run=run)
        need = needed_pressure(TANDEM, plan_work(TANDEM, scenario, 1300 * RPM, WARM))
        pumps.append(need.work[0, 1])
    assert (np.diff(pumps) > 0).all()


def test_the_line_drop_is_that_of_the_asked_flow() -> None:
    work = plan_work(TANDEM, TANDEM.scenario[0], 1300 * RPM, WARM)
    result = solve_work(TANDEM, work).result
    drop = result.pump_pressure - result.inlet_pressure
    assert needed_pressure(TANDEM, work).line == pytest.approx(drop)
