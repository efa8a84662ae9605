"""What rises with what: facts that hold for every circuit, and tempting ones that do not.

At fixed oil temperature, loads and commands; reliefs referred to their own outlet.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from hydrocheck.demo import load
from hydrocheck.model.circuit import Circuit
from hydrocheck.solver import Points, Result, solve, solved_functions
from tests.solver.circuits import BASIC, SUPPLIES, random_case, single

SIZE = 60
ROUNDING = 1e-9


def one(seed: int, kind: str, supply: str) -> tuple[Circuit, Points]:
    """A random circuit of one truck, and one point of it."""
    rng = np.random.default_rng(seed)
    while True:
        circuit, points = random_case(rng, 1, kind, supply, hard=False)
        if circuit.function:
            return single(circuit, 0), points


def repeated(points: Points, size: int, **changed: Any) -> Points:
    """One point many times, with some of it changed."""
    rows = points.take(np.zeros(size, dtype=np.intp))
    return Points(**{k: changed.get(k, getattr(rows, k)) for k in rows.__dataclass_fields__})


def never_falls(values: Any) -> bool:
    scale = np.max(np.abs(values), initial=1e-30)
    return bool((np.diff(values, axis=0) >= -ROUNDING * scale).all())


@pytest.mark.parametrize(
    ("kind", "supply", "seed"),
    [(*one, seed) for one in SUPPLIES for seed in range(25 if one in BASIC else 4)],
)
def test_more_engine_speed_never_lowers_a_flow(kind: str, supply: str, seed: int) -> None:
    circuit, points = one(seed, kind, supply)
    speeds = np.linspace(1.0, 300.0, SIZE)
    assert never_falls(solve(circuit, repeated(points, SIZE, engine_speed=speeds)).flow)


@pytest.mark.parametrize("seed", range(25))
def test_a_lower_relief_never_raises_pump_pressure_or_a_flow(seed: int) -> None:
    circuit, points = one(seed, "parallel", "fixed")
    setting = np.linspace(2e6, 3e7, SIZE)
    relief = [r for r in circuit.relief if r.at == "pump"]
    circuit = dataclasses.replace(circuit, relief=(dataclasses.replace(relief[0], cracking=None),))
    result = solve(circuit.vary(f"{relief[0].name}.setting", setting), repeated(points, SIZE))
    assert never_falls(result.flow)
    assert never_falls(result.pump_pressure)


@pytest.mark.parametrize("seed", range(25))
def test_thinner_oil_never_slips_less_at_equal_pressure_and_speed(seed: int) -> None:
    """Pump slip, nothing else running, whatever the oil."""
    circuit, points = one(seed, "parallel", "constant pressure")
    viscosity = np.geomspace(5e-4, 8e-6, SIZE)
    warm = dataclasses.replace(circuit.oil.point[0], viscosity=viscosity)
    hot = dataclasses.replace(circuit.oil.point[1], viscosity=0.2 * viscosity)
    oil = dataclasses.replace(circuit.oil, point=(warm, hot))
    nothing = {"command": np.zeros((SIZE, len(solved_functions(circuit))))}
    idle = repeated(points, SIZE, engine_speed=np.full(SIZE, 200.0), **nothing)
    result = solve(dataclasses.replace(circuit, oil=oil, relief=()), idle)
    # Per pressure: in the thinnest oil a small pump cannot hold its compensator.
    assert never_falls(result.pump_slip / result.pump_pressure)


def commands(points: Points, column: int, size: int) -> Points:
    """One function's command from full to shut."""
    command = np.repeat(points.command, size, axis=0)
    command[:, column] = np.linspace(1.0, 0.0, size)
    return repeated(points, size, command=command)


def others(result: Result, column: int) -> Any:
    return np.delete(result.flow, column, axis=1)


@pytest.mark.parametrize("seed", range(25))
def test_closing_one_function_never_slows_another(seed: int) -> None:
    """On a non-sharing bank whose LS margin covers the section drop and the supply line."""
    circuit, points = one(seed, "parallel", "load sensing")
    plenty = circuit.vary("bank.section_drop", 3e5).vary("pump.margin", 3e6)
    plenty = dataclasses.replace(
        plenty, lines=tuple(line for line in plenty.lines if line.carries != "pressure")
    )
    engine = np.full(1, 150.0)
    points = repeated(points, 1, engine_speed=engine)
    for column in range(len(solved_functions(plenty))):
        result = solve(plenty, commands(points, column, 15))
        assert never_falls(others(result, column))


def test_false_closing_one_function_never_slows_another() -> None:
    """With a margin below the section drop the light function lives on the heavy one's signal."""
    truck = load("tandem").vary("pump.margin", 3e5)
    command = {"auger": np.array([0.7, 0.0]), "spinner": 0.8}
    result = solve(truck, Points.of(truck, 150.0, 316.0, command=command))
    spinner = result.flow[:, result.column("spinner")]
    auger = result.work_pressure[0, result.column("auger")]
    assert auger > result.work_pressure[0, result.column("spinner")]
    assert spinner[1] < 0.95 * spinner[0]


def test_false_thinner_oil_always_slips_more() -> None:
    """An unloaded motor slips more in cold oil: drag makes the pressure that drives slip."""
    truck = load("tandem")
    free = truck.vary("spinner.motor.load.constant", 0.0).vary("spinner.motor.load.square", 0.0)
    free = free.vary("spinner.motor.viscous_slip_share", 0.0)
    points = Points.of(free, 150.0, np.array([255.0, 340.0]), asked={"spinner": 5e-4})
    result = solve(free, points)
    speed = result.motor_speed[0][:, result.column("spinner")]
    assert speed[0] < speed[1]  # equal flow: the cold motor turns slower, so it slips more


def test_false_a_lower_relief_lowers_every_pressure() -> None:
    """What opens the relief goes to the return line, whose pressure rises."""
    truck = load("single")
    relief = dataclasses.replace(truck.relief[0], outlet="return")
    truck = dataclasses.replace(truck, relief=(relief,))
    low = float(relief.setting or 0.0)
    varied = truck.vary(f"{relief.name}.setting", np.array([0.25 * low, low]))
    points = Points.of(varied, np.full(2, 200.0), 316.0, asked={"auger": 2e-4, "spinner": 4e-4})
    result = solve(varied, points)
    assert result.relief_flow[relief.name][0] > 0
    assert result.pump_pressure[0] < result.pump_pressure[1]
    assert result.return_pressure[0] >= result.return_pressure[1]
