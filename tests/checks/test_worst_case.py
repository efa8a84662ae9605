"""The worst case that the checks find against brute force over a fine grid.

Trucks are the demo trucks with a few values changed at random: supplies that starve, compensators
that act, oil that gets thick, lines that are narrow.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from hydrocheck.checks import Inspection, watched
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Scenario
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures
from hydrocheck.studies.work import Solved, plan_pairs, solve_work
from tests.checks.casekit import CONVEYOR, SINGLE, TANDEM

Array = NDArray[np.float64]

CLOSE = 5e-3
"""Share of a worst value that the search may miss."""
ENGINE, OIL = 61, 121
"""Nodes of the fine grid: far finer than the lattice, on whose nodes it does not lie."""

BASES = {"tandem": TANDEM, "single": SINGLE, "conveyor": CONVEYOR}
FACTORS = {  # value and the factors between which it is drawn
    "pump.pump.displacement": (0.5, 1.2),
    "oil.grade": (0.7, 2.0),
    "lines.pressure.bore": (0.5, 1.0),
    "lines.return.bore": (0.5, 1.0),
    "lines.spinner_supply.bore": (0.5, 1.0),
    "function.spinner.motor.0.displacement": (0.7, 1.4),
    "function.spinner.motor.0.load.constant": (0.5, 3.0),
    "relief.main relief.setting": (0.55, 1.0),
}
SEEDS = range(12)


def changed(part: Any, path: str, factor: float) -> Any:
    """A copy of a part with one value multiplied."""
    key, _, rest = path.partition(".")
    if isinstance(part, tuple):
        names = [getattr(item, "name", "") for item in part]
        place = int(key) if key.isdecimal() else names.index(key)
        return (*part[:place], changed(part[place], rest, factor), *part[place + 1 :])
    value = getattr(part, key)
    return replace(part, **{key: changed(value, rest, factor) if rest else value * factor})


@cache
def truck_of(seed: int) -> Truck:
    """A demo truck with four values changed, the work at every engine speed and oil."""
    draw = np.random.default_rng(seed)
    truck = list(BASES.values())[seed % len(BASES)]
    for path in draw.choice(list(FACTORS), 4, replace=False):
        low, high = FACTORS[path]
        truck = changed(truck, str(path), float(draw.uniform(low, high)))
    first = replace(truck.scenario[0], engine="range", oil="range")
    return replace(truck, scenario=(first, *truck.scenario[1:]))


@cache
def look_at(seed: int) -> Inspection:
    return Inspection(truck_of(seed))


def brute(look: Inspection, scenario: Scenario, engine: Array, oil: Array, hopper: Array) -> Solved:
    grid = np.meshgrid(engine, oil, hopper, indexing="ij")
    speeds, temperatures, filled = (part.ravel() for part in grid)
    return solve_work(look.truck, plan_pairs(look.truck, scenario, speeds, temperatures, filled))


def reaches(found: Array, truth: Array) -> None:
    """Every watched value's greatest is found, and none that is not there."""
    best, real = found.max(axis=1), truth.max(axis=1)
    np.testing.assert_array_less(real * (1.0 - CLOSE) - 1e-9, best)
    # The search may stand closer to the peak than the grid does.
    np.testing.assert_array_less(best * (1.0 - 0.02) - 1e-6, real)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_scenario_over_its_engine_speeds_and_oil(seed: int) -> None:
    look = look_at(seed)
    scenario = look.truck.scenario[0]
    engine, oil = (w(look.truck, "range") for w in (engine_speeds, oil_temperatures))
    full = np.array([1.0])
    truth = brute(
        look,
        scenario,
        np.linspace(engine[0], engine[-1], ENGINE),
        np.linspace(oil[0], oil[-1], OIL),
        full,
    )
    reaches(watched.at_work(look, look.solved(scenario)), watched.at_work(look, truth))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_scenario_from_cold_to_hot_empty_and_full(seed: int) -> None:
    look = look_at(seed)
    scenario = look.truck.scenario[-1]
    found = look.over_oil(scenario)
    engine = np.unique(found.result.engine_speed)
    oil = oil_temperatures(look.truck, "range")
    ends = engine[[0, -1]] if engine.size > 1 else engine
    truth = brute(
        look,
        scenario,
        np.linspace(ends[0], ends[-1], 9),
        np.linspace(oil[0], oil[-1], OIL),
        np.linspace(0, 1, 5),
    )
    rows, real = watched.over_oil(found), watched.over_oil(truth)
    reaches(rows, real)


@pytest.mark.parametrize("kind", ["feeder", "spinner"])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_function_at_its_maximum_trim(seed: int, kind: str) -> None:
    look = look_at(seed)
    (function,) = [f for f in look.truck.function if f.kind == kind]
    found = look.at_max_trim(function)
    engine, oil = (w(look.truck, "range") for w in (engine_speeds, oil_temperatures))
    truth = alone(
        look,
        function,
        np.linspace(engine[0], engine[-1], ENGINE),
        np.linspace(oil[0], oil[-1], OIL),
    )
    m = found.column(function.name)
    reaches(found.motor_speed[:, :, m], truth.result.motor_speed[:, :, m])


def alone(look: Inspection, function: Function, engine: Array, oil: Array) -> Solved:
    assert function.trims.max is not None
    plan = look.alone(function, float(function.trims.max))
    grid = np.meshgrid(engine, oil, np.linspace(0, 1, 3), indexing="ij")
    return solve_work(look.truck, plan(*(part.ravel() for part in grid)))
