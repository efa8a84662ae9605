"""The solver against an oracle of plain floats and scipy's brentq, one point at a time."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from hydrocheck.model.circuit import Circuit
from hydrocheck.solver import Points, Result, solve, solved_functions
from tests.solver.circuits import BASIC, SUPPLIES, random_case, single
from tests.solver.oracle import Plant, Task

CLOSE = 1e-8
"""Relative to the larger of a value and its quantity's scale at the point."""


def task_of(circuit: Circuit, points: Points, i: int) -> Task:
    """What the points ask at one point, in the oracle's words."""
    names = [f.name for f in solved_functions(circuit)]

    def by_name(array: Any, kind: type) -> dict[str, Any]:
        return {name: kind(array[i, m]) for m, name in enumerate(names)}

    return Task(
        float(points.engine_speed[i]),
        float(points.oil_temperature[i]),
        float(points.hopper[i]),
        by_name(points.command, float),
        by_name(points.retract, bool),
        by_name(points.thrown, float),
        by_name(points.lower, bool),
        by_name(points.stop, bool),
    )


def assert_same(circuit: Circuit, points: Points, result: Result, i: int) -> None:
    """One point of a result is what the oracle finds."""
    answer = Plant(single(circuit, i), task_of(circuit, points, i)).answer()
    theoretical = circuit.pump[0].displacement * result.pump_speed
    flow = max(float(np.ravel(theoretical)[i]), *answer.section.values(), 1e-9)
    pressure = max(abs(answer.pump), 1e5)
    torque = max(abs(answer.torque), 1e-3)
    pairs = {
        "pump pressure": (answer.pump, result.pump_pressure[i], pressure),
        "inlet pressure": (answer.inlet, result.inlet_pressure[i], pressure),
        "return pressure": (answer.returns, result.return_pressure[i], pressure),
        "pump flow": (answer.delivered, result.pump_flow[i], flow),
        "pump torque": (answer.torque, result.pump_torque[i], torque),
        "passed": (answer.passed, result.passed[i], flow),
    }
    divider = circuit.bank[0].type == "gear divider"
    for m, name in enumerate(result.functions):
        pairs[f"{name} flow"] = (answer.section[name], result.flow[i, m], flow)
        pairs[f"{name} line flow"] = (answer.line[name], result.motor_flow[i, m], flow)
        if not divider or result.flow[i].any():
            # Of a divider at standstill only the mean of its outlets is known.
            pairs[f"{name} work port"] = (answer.work[name], result.work_pressure[i, m], pressure)
        pairs[f"{name} lowered"] = (answer.lowered[name], result.lowered[i, m], flow)
        pairs[f"{name} speed"] = (
            answer.speed[name],
            result.speed[i, m],
            max(np.abs(result.speed[:, m]).max(), 1e-3),
        )
    wrong = {
        what: (expected, found)
        for what, (expected, found, scale) in pairs.items()
        if not abs(expected - found) <= CLOSE * max(abs(expected), scale)
    }
    assert not wrong, wrong


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("hard", [False, True], ids=["usual", "extreme"])
@pytest.mark.parametrize(("kind", "supply"), SUPPLIES)
def test_random_circuits(kind: str, supply: str, hard: bool, seed: int) -> None:
    count = 5 if (kind, supply) in BASIC else 2
    circuit, points = random_case(np.random.default_rng(900 + seed), count, kind, supply, hard)
    result = solve(circuit, points)
    for i in range(points.size):
        assert_same(circuit, points, result, i)


def at_speed(points: Points, speeds: Any) -> Points:
    """The first point's order at other engine speeds [rad/s]."""
    size = len(speeds)
    rows = points.take(np.zeros(size, dtype=np.intp))
    values = {key: getattr(rows, key) for key in rows.__dataclass_fields__}
    return Points(**{**values, "engine_speed": np.asarray(speeds, dtype=np.float64)})


def regime(result: Result, i: int) -> tuple[Any, ...]:
    """All that limits at a point."""
    return (result.supply_limit[i], *result.function_limit[i])


@pytest.mark.parametrize(
    ("kind", "supply", "seed"),
    [(*one, seed) for one in SUPPLIES for seed in range(3 if one in BASIC else 1)],
)
def test_on_both_sides_of_every_switch(kind: str, supply: str, seed: int) -> None:
    """Along the engine speed, each change of what limits is closed in on from both sides."""
    circuit, points = random_case(np.random.default_rng(300 + seed), 1, kind, supply, hard=False)
    circuit = single(circuit, 0)
    speeds = np.linspace(5.0, 300.0, 60)
    swept = solve(circuit, at_speed(points, speeds))
    switches = [i for i in range(59) if regime(swept, i) != regime(swept, i + 1)]
    for i in switches:
        low, high, before = speeds[i], speeds[i + 1], regime(swept, i)
        for _ in range(8):
            steps = np.linspace(low, high, 25)
            finer = solve(circuit, at_speed(points, steps))
            first = next((k for k in range(25) if regime(finer, k) != before), 24)
            low, high = steps[max(first - 1, 0)], steps[max(first, 1)]
        near = at_speed(points, [low, high, low * (1 - 1e-7), high * (1 + 1e-7)])
        result = solve(circuit, near)
        for j in range(near.size):
            assert_same(circuit, near, result, j)
