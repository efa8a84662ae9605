"""One point: a scenario, one's own order, or both."""

from __future__ import annotations

from math import pi

import pytest

from hydrocheck import demo
from hydrocheck.errors import DomainError
from hydrocheck.model.truck import Task
from hydrocheck.studies.point import PointOrder, solve_point

RPM = pi / 30
TANDEM, SINGLE = demo.load("tandem"), demo.load("single")
SPREADING = TANDEM.scenario[0]


def test_a_band_is_taken_at_its_middle() -> None:
    result = solve_point(TANDEM, SPREADING, PointOrder()).result
    assert result.size == 1
    assert result.engine_speed[0] / RPM == pytest.approx(1300)
    assert result.oil_temperature[0] == pytest.approx((110 - 32) / 1.8 + 273.15)


def test_an_order_replaces_what_it_names_and_nothing_else() -> None:
    order = PointOrder(900 * RPM, 300.0, "empty", {"auger": Task(name="auger", speed=20 * RPM)})
    solved = solve_point(TANDEM, SPREADING, order)
    assert solved.result.engine_speed[0] / RPM == pytest.approx(900)
    assert solved.result.oil_temperature[0] == 300.0
    assert solved.work.points.hopper[0] == 0.0
    assert solved.result.speed[0, 0] / RPM == pytest.approx(20)
    assert solved.result.speed[0, 1] / RPM == pytest.approx(350)  # the scenario's spinner


def test_without_a_scenario_only_the_order_runs() -> None:
    order = PointOrder(tasks={"spinner": Task(name="spinner", command=0.5)})
    solved = solve_point(TANDEM, None, order)
    assert solved.work.active.tolist() == [False, True, False, False, False]
    assert solved.work.points.hopper[0] == 1.0


def test_a_cylinder_that_moves_in() -> None:
    truck = TANDEM.vary("plow.cylinder.retract_time", 5.0)
    tasks = {"plow": Task(name="plow", motion="retract")}
    solved = solve_point(truck, None, PointOrder(tasks=tasks))
    assert solved.work.points.retract[0].tolist() == [0, 0, 0, 1, 0]
    assert solved.result.speed[0, 3] == pytest.approx(10 * 0.0254 / 5)


def test_a_function_that_is_not_there_or_takes_no_oil_is_refused() -> None:
    for name, why in (("blower", "no function 'blower'; the truck has"), ("liquid", "not fitted")):
        order = PointOrder(tasks={name: Task(name=name, command=0.5)})
        with pytest.raises(DomainError, match=why):
            solve_point(SINGLE, None, order)
