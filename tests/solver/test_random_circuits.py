"""Balances of random circuits: flow and energy, 5 to 20,000 cSt, standstill, stall, standby."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from hydrocheck.solver import Points, Result, SupplyLimit, joint, solve
from hydrocheck.solver.branches import Branch
from tests.solver.circuits import BASIC, SUPPLIES, UNCAPPED, random_case, single

LEAST = 1e-9


def solved(seed: int, size: int, kind: str, supply: str, hard: bool) -> Result:
    """A random circuit at its points; a warning is an error (see the project file)."""
    circuit, points = random_case(np.random.default_rng(seed), size, kind, supply, hard)
    return solve(circuit, points)


def size_of(kind: str, supply: str, hard: bool) -> int:
    """Points of a circuit: many where that is quick, 226,920 in all."""
    if kind == "parallel":
        return 500 if hard else 11_000
    if (kind, supply) in BASIC:
        return 300 if hard else 500
    return 80 if hard else 200


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("hard", [False, True], ids=["usual", "extreme"])
@pytest.mark.parametrize(("kind", "supply"), SUPPLIES)
def test_flow_and_energy_balance(kind: str, supply: str, hard: bool, seed: int) -> None:
    """More than 200,000 points of 156 circuits; every number differs by point."""
    result = solved(100 + seed, size_of(kind, supply, hard), kind, supply, hard)
    assert result.flow_residual.max() < LEAST
    assert result.energy_residual.max() < LEAST
    for key in ("pump_pressure", "pump_flow", "flow", "speed", "work_pressure", "pump_torque"):
        assert np.isfinite(getattr(result, key)).all(), key
    assert (result.flow >= 0).all()
    if kind not in UNCAPPED:
        assert (result.flow <= result.asked * (1 + 1e-9)).all()


@given(
    case=st.sampled_from(SUPPLIES),
    hard=st.booleans(),
    seed=st.integers(0, 2**32 - 1),
    size=st.integers(1, 40),
)
@example(case=("priority valve", "load sensing"), hard=True, seed=1277085874, size=32)  # on a level
@settings(max_examples=60, deadline=None)
def test_any_structure_balances(case: tuple[str, str], hard: bool, seed: int, size: int) -> None:
    """Bank, supply, number and kind of functions, lines and reliefs, as hypothesis draws them."""
    result = solved(seed, size, *case, hard)
    assert result.flow_residual.max() < LEAST
    assert result.energy_residual.max() < LEAST
    assert np.isfinite(result.flow).all()
    assert np.isfinite(result.pump_pressure).all()


def test_the_draws_reach_every_supply_limit() -> None:
    reached: set[int] = set()
    for seed in range(6):
        for kind, supply in BASIC:
            reached |= set(solved(100 + seed, 300, kind, supply, False).supply_limit.tolist())
    assert reached == {limit.value for limit in SupplyLimit}


def test_a_wrong_section_law_breaks_the_balance(monkeypatch: pytest.MonkeyPatch) -> None:
    """The heat of a starving section comes from its own law, so that a wrong flow shows."""
    right = joint.section_row

    def wrong(branch: Branch, *unknowns: Any) -> Any:
        bent = dataclasses.replace(branch, section_drop=1.5 * branch.section_drop)
        return right(bent, *unknowns)

    before = solved(100, 400, "parallel", "load sensing", False)
    monkeypatch.setattr(joint, "section_row", wrong)
    after = solved(100, 400, "parallel", "load sensing", False)
    assert before.energy_residual.max() < LEAST
    assert after.energy_residual.max() > 1e-4


def test_a_wrong_motor_law_breaks_the_balance(monkeypatch: pytest.MonkeyPatch) -> None:
    """The loads' power comes from their torque, the motors' heat from slip and friction."""
    from hydrocheck.solver.branches import Stage

    right = Stage.state

    def wrong(stage: Stage, flow: Any) -> Any:
        speed, drop, slope = right(stage, flow)
        return 1.02 * speed, drop, slope

    monkeypatch.setattr(Stage, "state", wrong)
    assert solved(101, 400, "parallel", "load sensing", False).energy_residual.max() > 1e-4


@pytest.mark.parametrize(("kind", "supply"), SUPPLIES)
def test_many_trucks_at_once_equal_one_by_one(kind: str, supply: str) -> None:
    circuit, points = random_case(np.random.default_rng(7), 150, kind, supply, hard=False)
    together = solve(circuit, points)
    for i in range(0, 150, 5):
        alone = solve(single(circuit, i), points.take(np.array([i])))
        for key in ("pump_pressure", "return_pressure", "flow", "speed", "pump_torque"):
            scale = np.max(np.abs(getattr(together, key))) + 1e-30
            difference = np.abs(getattr(alone, key)[0] - getattr(together, key)[i])
            assert np.all(difference <= 1e-9 * scale), (i, key)


def test_a_thousand_varied_trucks_equal_one_by_one() -> None:
    from hydrocheck.demo import load

    rng = np.random.default_rng(5)
    truck = load("tandem")
    paths = {
        "pump.displacement": truck.pump[0].displacement * rng.uniform(0.7, 1.1, 1000),
        "pump.volumetric_efficiency": rng.uniform(0.8, 0.96, 1000),
        "auger.motor.displacement": truck.function[0].motor[0].displacement
        * rng.uniform(0.8, 1.2, 1000),
        "lines.auger_supply.bore": rng.uniform(0.012, 0.025, 1000),
        "main relief.setting": rng.uniform(1.9e7, 2.2e7, 1000),
    }
    varied: Any = truck
    for path, values in paths.items():
        varied = varied.vary(path, values)
    asked = {"auger": 0.7, "spinner": 0.8, "liquid": 0.6}
    together = solve(varied, Points.of(varied, np.full(1000, 90.0), 315.0, command=asked))
    for i in range(1000):
        one: Any = truck
        for path, values in paths.items():
            one = one.vary(path, float(values[i]))
        alone = solve(one, Points.of(one, 90.0, 315.0, command=asked))
        np.testing.assert_allclose(together.flow[i], alone.flow[0], rtol=1e-10, atol=1e-18)
        np.testing.assert_allclose(together.pump_pressure[i], alone.pump_pressure[0], rtol=1e-10)


def test_blocks_that_settle_at_different_steps_agree_with_one_block(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Rows are worked through in blocks: one may be settled while another still has rows left."""
    whole = solved(100, 300, "parallel", "load sensing", True)
    monkeypatch.setattr(joint, "BLOCK", 3)
    parts = solved(100, 300, "parallel", "load sensing", True)
    np.testing.assert_allclose(parts.pump_pressure, whole.pump_pressure, rtol=1e-9)
    np.testing.assert_allclose(parts.flow, whole.flow, rtol=1e-7, atol=1e-15)
