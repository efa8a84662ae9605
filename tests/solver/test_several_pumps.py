"""Several pumps on one shaft, and several banks on one pump."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from hydrocheck.model.circuit import Circuit
from hydrocheck.solver import Points, solve
from tests.solver.circuits import SUPPLIES, random_case, single
from tests.solver.oracle import Plant
from tests.solver.oracle_parts import line_drop, root
from tests.solver.test_against_oracle import task_of

PAIRS = list(zip(SUPPLIES, (*SUPPLIES[4:], *SUPPLIES[:4]), strict=True))


POINTERS = ("name", "of", "bank", "feeds", "order")


def renamed(part: Any, names: dict[str, str], pointer: bool = False) -> Any:
    """A circuit with other names of its parts, wherever one points to another."""
    if isinstance(part, str):
        return names.get(part, part) if pointer else part
    if isinstance(part, tuple):
        return tuple(renamed(item, names, pointer) for item in part)
    if dataclasses.is_dataclass(part) and not isinstance(part, type):
        values = {
            f.name: renamed(getattr(part, f.name), names, f.name in POINTERS)
            for f in dataclasses.fields(part)
        }
        return dataclasses.replace(part, **values)
    return part


def two_pumps(
    seed: int, size: int, kinds: tuple[tuple[str, str], tuple[str, str]], hard: bool
) -> tuple[Circuit, Circuit, Circuit, Points]:
    """Two random circuits, the two on one engine and one return line, and its points."""
    rng = np.random.default_rng(seed)
    first, points = random_case(rng, size, *kinds[0], hard)
    second, more = random_case(rng, size, *kinds[1], hard)
    names = {f.name: f"second {f.name}" for f in second.function}
    names |= {r.name: f"second {r.name}" for r in second.relief}
    names |= {line.name: f"second {line.name}" for line in second.lines}
    second = renamed(second, names | {"pump": "second pump", "bank": "second bank"})
    back = tuple(line for line in first.lines if line.carries == "return")
    second = dataclasses.replace(
        second,
        engine=first.engine,
        oil=first.oil,
        lines=tuple(line for line in second.lines if line.carries != "return") + back,
    )
    own = tuple(
        dataclasses.replace(line, of="pump") if line.carries == "pressure" else line
        for line in first.lines
    )
    both = dataclasses.replace(
        first,
        pump=first.pump + second.pump,
        bank=first.bank + second.bank,
        function=second.function + first.function,
        relief=first.relief + second.relief,
        lines=own + tuple(line for line in second.lines if line not in back),
    )
    values = {key: getattr(points, key) for key in points.__dataclass_fields__}
    wide = {
        key: np.concatenate([getattr(more, key), value], axis=1)
        for key, value in values.items()
        if value.ndim == 2
    }
    return first, second, both, Points(**{**values, **wide})


@pytest.mark.parametrize(
    ("kinds", "hard"), [(k, False) for k in PAIRS] + [(k, True) for k in PAIRS[1::4]]
)
def test_flow_and_energy_balance(kinds: Any, hard: bool) -> None:
    circuit, points = two_pumps(0, 10 if hard else 25, kinds, hard)[2:]
    result = solve(circuit, points)
    assert result.pumps == ("pump", "second pump")
    assert result.flow_residual.max() < 1e-9
    assert result.energy_residual.max() < 1e-9
    assert np.isfinite(result.flow).all()
    returned = sum(part.return_flow for part in result.supplies)
    pumped = ~result.lowered.any(axis=1)
    np.testing.assert_allclose(result.return_flow[pumped], returned[pumped], rtol=1e-12)
    for part in result.supplies:
        np.testing.assert_array_equal(part.return_pressure, result.return_pressure)


@pytest.mark.parametrize("kinds", PAIRS[:6])
def test_against_one_oracle_a_pump(kinds: Any) -> None:
    """Each pump's oracle at a return pressure; the one that both together make is sought."""
    first, second, both, points = two_pumps(5, 4, kinds, False)
    result = solve(both, points)
    for i in range(points.size):
        task = task_of(single(both, i), points, i)
        plants = [Plant(single(circuit, i), task) for circuit in (first, second)]

        def settled(returns: float, plants: list[Plant] = plants) -> list[Any]:
            found = []
            for plant in plants:
                plant.with_return = lambda law, r=returns: (law(r), r)  # type: ignore[method-assign]  # held by both
                kind = plant.circuit.bank[0].type
                if kind in ("open centre", "priority valve"):
                    bank = plant.cascade_at(returns)
                elif kind == "gear divider":
                    bank = plant.divided_at(returns)
                else:
                    law = plant.sharing if kind == "flow sharing" else plant.parallel
                    bank = plant.settle_by_pressure(law)[0]
                found.append((bank, *plant.around(bank, returns)))
            return found

        def falling(returns: float, plants: list[Plant] = plants) -> float:
            flow = sum(part[3] for part in settled(returns))
            lost = line_drop(plants[0].back, abs(flow), plants[0].fluid)
            return float(np.copysign(lost, flow)) - returns

        returns = root(falling, 0.0, 1.001 * max(falling(0.0), 0.0))
        for part, (bank, pressure, _, _) in zip(result.supplies, settled(returns), strict=True):
            assert part.pump_pressure[i] == pytest.approx(pressure, rel=1e-8, abs=1e-3)
            for name, flow in bank.section.items():
                m = part.functions.index(name)
                scale = max(part.pump_flow[i], 1e-9)
                assert part.flow[i, m] == pytest.approx(flow, rel=1e-8, abs=1e-8 * scale)
                assert result.flow[i, result.column(name)] == part.flow[i, m]


def test_two_banks_on_one_pump_are_one() -> None:
    """Split in two, a parallel bank works as it did whole."""
    for seed in range(6):
        circuit, points = random_case(
            np.random.default_rng(seed), 50, "parallel", "load sensing", False
        )
        half = len(circuit.function) // 2
        moved = {f.name for f in circuit.function[half:]}
        split = dataclasses.replace(
            circuit,
            bank=(*circuit.bank, dataclasses.replace(circuit.bank[0], name="rear", order=())),
            pump=(dataclasses.replace(circuit.pump[0], feeds=("bank", "rear")),),
            function=tuple(
                dataclasses.replace(f, bank="rear") if f.name in moved else f
                for f in circuit.function
            ),
        )
        whole, parted = solve(circuit, points), solve(split, points)
        np.testing.assert_array_equal(whole.flow, parted.flow)
        np.testing.assert_array_equal(whole.pump_pressure, parted.pump_pressure)


def test_no_return_line_means_no_influence() -> None:
    first, _, both, points = two_pumps(3, 40, (SUPPLIES[1], SUPPLIES[3]), False)
    without = tuple(line for line in both.lines if line.carries != "return")
    both = dataclasses.replace(both, lines=without)
    count = len(first.function)
    own = {
        key: getattr(points, key)[:, -count:] if getattr(points, key).ndim == 2 else value
        for key, value in ((k, getattr(points, k)) for k in points.__dataclass_fields__)
    }
    alone = dataclasses.replace(
        first, lines=tuple(line for line in first.lines if line.carries != "return")
    )
    apart, together = solve(alone, Points(**own)), solve(both, points)
    np.testing.assert_array_equal(apart.flow, together.flow[:, -count:])
    np.testing.assert_array_equal(apart.pump_pressure, together.pump_pressure)


def test_rows_and_joins_keep_each_pump() -> None:
    circuit, points = two_pumps(1, 20, (SUPPLIES[1], SUPPLIES[3]), False)[2:]
    result = solve(circuit, points)
    again = result.rows(0, 8).joined(result.rows(8, 20))
    for mine, theirs in zip(result.supplies, again.supplies, strict=True):
        np.testing.assert_array_equal(mine.pump_pressure, theirs.pump_pressure)
