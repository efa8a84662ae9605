"""Closed loops: the command rises until the ordered speed or the maximum trim."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.model import Truck
from hydrocheck.model.truck import Scenario, Task
from hydrocheck.studies.budget import flow_budget
from hydrocheck.studies.closedloop import loop_states, loops_of, solve_loops
from hydrocheck.studies.commands import command_of
from hydrocheck.studies.work import flow_for_speed, plan_work, solve_work

RPM = 2 * np.pi / 60
TRUCK = demo.load("tandem")


def closed(*names: str, truck: Truck = TRUCK) -> Truck:
    """The truck with functions in closed loop."""
    functions = tuple(
        dataclasses.replace(f, loop="closed") if f.name in names else f for f in truck.function
    )
    return dataclasses.replace(truck, function=functions)


def scenario(**speeds: float) -> Scenario:
    run = tuple(Task(name=name, speed=speed * RPM) for name, speed in speeds.items())
    return Scenario(name="own", run=run)


def run(truck: Truck, engine: Any, oil: Any = 316.0, **speeds: float) -> Any:
    return solve_loops(truck, plan_work(truck, scenario(**speeds), engine, oil))


def column(solved: Any, name: str, key: str = "speed") -> Any:
    return getattr(solved.result, key)[:, solved.result.column(name)]


def test_with_flow_in_hand_the_plan_is_the_answer() -> None:
    """Slip, load and oil are in the plan: hot oil takes a larger command at the same speed."""
    truck = closed("auger")
    solved = run(truck, 180.0, np.array([300.0, 320.0, 345.0]), auger=30.0)
    np.testing.assert_allclose(column(solved, "auger"), 30.0 * RPM, rtol=1e-9)
    (loop,) = loop_states(truck, solved)
    assert (np.diff(loop.command) > 0).all()
    assert not loop.out_of_command.any()
    function = truck.function_named("auger")
    points = solved.work.points
    flow = flow_for_speed(truck, function, 0, 30.0 * RPM, points)
    np.testing.assert_allclose(loop.command, command_of(function, flow), rtol=1e-12)


def test_a_stuck_spool_is_hidden_by_the_command() -> None:
    stuck = closed("auger", truck=TRUCK.vary("auger.section.opening", 0.8))
    sound = closed("auger")
    held, usual = run(stuck, 180.0, auger=30.0), run(sound, 180.0, auger=30.0)
    assert column(held, "auger")[0] == pytest.approx(30.0 * RPM, rel=1e-9)
    assert held.work.asked[0, 0] == pytest.approx(usual.work.asked[0, 0] / 0.8, rel=1e-8)
    opened = solve_work(stuck, plan_work(stuck, scenario(auger=30.0), 180.0, 316.0))
    assert column(opened, "auger")[0] < 0.85 * 30.0 * RPM


def test_out_of_command_at_the_maximum_trim() -> None:
    truck = closed("auger", truck=TRUCK.vary("auger.section.opening", 0.3))
    solved = run(truck, 180.0, auger=45.0)
    (loop,) = loop_states(truck, solved)
    assert loop.out_of_command[0]
    assert loop.command[0] == pytest.approx(truck.function_named("auger").trims.max)
    assert loop.speed[0] < 45.0 * RPM


def test_on_a_short_pump_the_loop_takes_from_the_others() -> None:
    """An open section starves with the auger; its closed loop opens further and gets its speed."""
    work: dict[str, Any] = {"auger": 40.0, "spinner": 250.0}
    engine = np.linspace(40.0, 110.0, 12)
    opened = solve_work(TRUCK, plan_work(TRUCK, scenario(**work), engine, 316.0))
    held = run(closed("auger"), engine, **work)
    assert (column(held, "auger") >= column(opened, "auger") * (1 - 1e-9)).all()
    assert (column(held, "spinner") <= column(opened, "spinner") * (1 + 1e-9)).all()
    (loop,) = loop_states(closed("auger"), held)
    reached = np.isclose(loop.speed, 40.0 * RPM, rtol=1e-8)
    top = held.work.asked[:, 0] >= flow_at_top("auger") * (1 - 1e-9)
    assert (reached | top).all()
    np.testing.assert_array_equal(loop.out_of_command, ~reached)


def flow_at_top(name: str) -> float:
    from hydrocheck.studies.work import most_flow

    return most_flow(TRUCK.function_named(name))


def test_the_least_command_that_reaches_the_speed() -> None:
    """A little less falls short: worn pump and motor, two loops at once."""
    truck = closed("auger", "spinner", truck=TRUCK.vary("auger.section.opening", 0.7))
    work = plan_work(truck, scenario(auger=30.0, spinner=200.0), np.array([90.0, 150.0]), 330.0)
    solved = solve_loops(truck, work)
    for loop in loops_of(truck, work.scenario):
        np.testing.assert_allclose(solved.result.speed[:, loop.column], loop.ordered, rtol=1e-8)
        less = solved.work.points.asked.copy()
        less[:, loop.column] *= 0.999
        points = dataclasses.replace(solved.work.points, asked=less)
        slower = solve_work(truck, dataclasses.replace(work, points=points))
        assert (slower.result.speed[:, loop.column] < loop.ordered * (1 - 1e-6)).all()


def test_many_trucks_at_once_equal_one_by_one() -> None:
    openings = np.linspace(0.3, 1.0, 8)
    truck = closed("auger", truck=TRUCK.vary("auger.section.opening", openings))
    together = run(truck, np.full(8, 150.0), auger=35.0)
    for i, opening in enumerate(openings):
        alone = run(
            closed("auger", truck=TRUCK.vary("auger.section.opening", float(opening))),
            150.0,
            auger=35.0,
        )
        assert column(alone, "auger")[0] == pytest.approx(column(together, "auger")[i], rel=1e-8)


def test_a_budget_closes_its_loops() -> None:
    truck = closed("auger")
    budget = flow_budget(truck, truck.scenario[0])
    plain = flow_budget(TRUCK, TRUCK.scenario[0])
    assert (budget.delivered[:, 0] >= plain.delivered[:, 0] * (1 - 1e-9)).all()


def test_the_command_says_what_the_loop_does(hydrocheck_cli: Any, tmp_path: Any) -> None:
    path = tmp_path / "closed.toml"
    path.write_text(demo.text("tandem").replace('loop = "open"', 'loop = "closed"'))
    order = ("solve", str(path), "--only", "--engine", "1500 rpm", "--speed")
    held = hydrocheck_cli(*order, "auger=30 rpm").stdout
    assert "The closed loop of auger holds 30.0 rpm at a command of" in held
    over = ("auger=300 rpm",)
    assert "closed loop of auger is out of command" in hydrocheck_cli(*order, *over).stdout
    data = json.loads(hydrocheck_cli(*order, *over, "--json").stdout)["result"]
    assert data["closed_loop"]["auger"]["out_of_command"] is True
