"""Points in blocks: the same numbers as all at once, only the columns asked for, little memory."""

from __future__ import annotations

import tracemalloc
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.errors import DomainError
from hydrocheck.solver import Points, Result, iter_solve, solve, solved_functions
from hydrocheck.solver.blocks import OF_A_FUNCTION
from tests.solver.circuits import SUPPLIES, random_case, some

TRUCK = demo.load("tandem")
KEEP = ("pump_pressure", "speed", "auger.flow", "spinner.motor_speed", "heat.pump slip")
KEEP += ("relief_flow.main relief", "auger.function_limit", "total_heat", "motor_inlet")


def random_points(size: int, seed: int = 3) -> Points:
    rng = np.random.default_rng(seed)
    return Points.of(
        TRUCK,
        rng.uniform(70.0, 240.0, size),
        rng.uniform(270.0, 345.0, size),
        command={
            f.name: rng.uniform(0.0, 1.0, size) * (rng.random(size) < 0.6)
            for f in solved_functions(TRUCK)
        },
        hopper=rng.uniform(0.0, 1.0, size),
    )


def expected(result: Result, name: str) -> Any:
    """A column by hand."""
    auger, spinner = result.column("auger"), result.column("spinner")
    return {
        "pump_pressure": result.pump_pressure,
        "speed": result.speed,
        "auger.flow": result.flow[:, auger],
        "spinner.motor_speed": result.motor_speed[:, :, spinner],
        "heat.pump slip": result.heat["pump slip"],
        "relief_flow.main relief": result.relief_flow["main relief"],
        "auger.function_limit": result.function_limit[:, auger],
        "total_heat": sum(result.heat.values()),
        "motor_inlet": result.motor_inlet,
    }[name]


def test_blocks_equal_all_at_once() -> None:
    points = random_points(3001)
    whole, start = solve(TRUCK, points), 0
    for block in iter_solve(TRUCK, points.blocks(700), KEEP):
        assert block.start == start
        assert tuple(block.columns) == KEEP
        part = whole.rows(start, start + block.size)
        for name in KEEP:
            np.testing.assert_array_equal(block[name], expected(part, name), err_msg=name)
            if name != "total_heat":
                assert block[name].base is None, name  # nothing else is kept alive
        start += block.size
    assert start == points.size


@pytest.mark.parametrize(("kind", "supply"), SUPPLIES)
def test_a_point_does_not_depend_on_its_neighbours(kind: str, supply: str) -> None:
    """Also in circuits whose every number differs by point, given with their points."""
    circuit, points = random_case(np.random.default_rng(31), 300, kind, supply, hard=False)
    whole = solve(circuit, points)
    runs = [np.arange(i, min(i + 120, 300)) for i in range(0, 300, 120)]

    def pairs() -> Iterator[tuple[Any, Points]]:
        for index in runs:
            yield some(circuit, index), points.take(index)

    for index, block in zip(
        runs, iter_solve(circuit, pairs(), ("pump_pressure", "flow")), strict=True
    ):
        for key in ("pump_pressure", "flow"):
            value = getattr(whole, key)
            scale = 1e-9 * (np.abs(value).max() + 1e-30)
            np.testing.assert_allclose(block[key], value[index], rtol=1e-9, atol=scale)


def test_columns_by_function_are_all_known() -> None:
    result = solve(TRUCK, random_points(3))
    wide = [k for k in Result.__dataclass_fields__ if np.ndim(getattr(result, k)) > 1]
    assert sorted(OF_A_FUNCTION) == sorted(wide)


@pytest.mark.parametrize(
    ("keep", "message"),
    [
        ((), "name at least one"),
        (("speeed",), "no column 'speeed'; there is: engine_speed, "),
        (("augur.speed",), "no function 'augur'; there is: auger, spinner, "),
        (("auger.pressure",), "no 'pressure' of a function; there is: asked, "),
        (("heat",), "name one, as heat.NAME"),
        (("relief_flow.port",), "no relief 'port'; there is: main relief"),
        (("functions",), "no column 'functions'"),
        ("x", "no column 'x'"),
    ],
)
def test_unknown_columns_are_refused_at_once(keep: Any, message: str) -> None:
    def never() -> Iterator[Points]:
        raise AssertionError("a block was asked for")
        yield  # makes it a generator

    with pytest.raises(DomainError, match="keep: ") as caught:
        iter_solve(TRUCK, never(), keep)
    assert message in str(caught.value)


def test_an_unknown_element_of_heat_is_refused_with_the_first_block() -> None:
    blocks = iter_solve(TRUCK, [random_points(2)], ("heat.pump",))
    with pytest.raises(DomainError, match="no 'pump' in heat; there is: pump slip, "):
        next(blocks)


def test_blocks_of_no_size_are_refused() -> None:
    with pytest.raises(DomainError, match="at least 1"):
        random_points(2).blocks(0)


def peak_memory(blocks: int, size: int) -> int:
    """Bytes at the peak of as many blocks, made one by one."""
    tracemalloc.start()
    made = (random_points(size, seed) for seed in range(blocks))
    total = 0.0
    for block in iter_solve(TRUCK, made, ("auger.speed", "pump_pressure")):
        total += float(block["auger.speed"].sum())
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert total > 0.0
    return peak


def test_memory_does_not_grow_with_the_number_of_blocks() -> None:
    peak_memory(1, 10)  # what is made once
    assert peak_memory(10, 800) < 1.3 * peak_memory(3, 800)
