"""Each kind of bank on circuits small enough to work out by hand: plain pressures, no lines, no
losses."""

from __future__ import annotations

import dataclasses
from math import sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck.model.circuit import Circuit, Function, Relief, Section
from hydrocheck.solver import FunctionLimit, Points, Result, SupplyLimit, solve
from tests.solver.test_published_chains import PSI, WARM, circuit, pump

LPM = 1e-3 / 60.0
BAR = 1e5
DROP = 10.0 * BAR


def function(name: str, flow: float, pressure: float) -> Function:
    """A function that works at a pressure [Pa], its section rated for a flow [m3/s]."""
    section = Section(rated_flow=flow, deadband=0.0)
    return Function(name=name, kind="other", bank="bank", section=section, pressure=pressure)


def relief(at: str, of: str, setting: float, flow: float = 1000.0 * LPM) -> Relief:
    """A relief that barely rises above its cracking pressure."""
    return Relief(
        name=f"{of} {at} relief",
        at=at,
        of=of,
        setting=setting * (1.0 + 1e-4),
        cracking=setting,
        rated_flow=flow,
    )


def bank_of(kind: str, circuit: Circuit, **changed: Any) -> Circuit:
    """The same circuit with a bank of another kind."""
    order = tuple(f.name for f in circuit.function)
    bank = dataclasses.replace(circuit.bank[0], type=kind, order=order, **changed)
    return dataclasses.replace(circuit, bank=(bank,))


def run(circuit: Circuit, **commands: float) -> Result:
    """At a pump speed of 100 rad/s."""
    result = solve(circuit, Points.of(circuit, 100.0, WARM, command=commands))
    assert result.flow_residual.max() < 1e-9
    assert result.energy_residual.max() < 1e-9
    return result


def sensing(flow: float, **values: Any) -> Any:
    """A load sensing pump: margin 20 bar, compensator 200 bar."""
    given = {"margin": 20 * BAR, "compensator": 200 * BAR, "standby": 15 * BAR, **values}
    return pump(flow, "load sensing", **given)


# --- flow sharing ---


def test_sharing_gives_all_the_same_part_when_the_pump_is_short() -> None:
    """120 l/min asked of 60: each gets half, at the highest load plus a quarter of the drop."""
    parts = (function("a", 80 * LPM, 100 * BAR), function("b", 40 * LPM, 50 * BAR))
    result = run(bank_of("flow sharing", circuit(sensing(60 * LPM), *parts, drop=DROP)), a=1, b=1)
    np.testing.assert_allclose(result.flow[0], [40 * LPM, 20 * LPM], rtol=1e-9)
    assert result.pump_pressure[0] == pytest.approx(100 * BAR + DROP / 4, rel=1e-9)
    assert result.supply_limit[0] == SupplyLimit.FULL_STROKE
    assert (result.function_limit[0] == FunctionLimit.SHORT).all()


def test_not_sharing_starves_the_highest_load_of_the_same_circuit() -> None:
    parts = (function("a", 80 * LPM, 100 * BAR), function("b", 40 * LPM, 50 * BAR))
    result = run(circuit(sensing(60 * LPM), *parts, drop=DROP), a=1, b=1)
    np.testing.assert_allclose(result.flow[0], [20 * LPM, 40 * LPM], rtol=1e-9)


def test_sharing_with_a_margin_below_the_drop_slows_all_alike() -> None:
    """Margin 5 bar over sections that want 10: sqrt(1/2) of each command."""
    parts = (function("a", 30 * LPM, 100 * BAR), function("b", 20 * LPM, 50 * BAR))
    supply = sensing(200 * LPM, margin=5 * BAR)
    result = run(bank_of("flow sharing", circuit(supply, *parts, drop=DROP)), a=1, b=1)
    np.testing.assert_allclose(result.flow[0], np.array([30, 20]) * LPM * sqrt(0.5), rtol=1e-9)


def test_a_stalled_section_stops_all_others_unless_the_signal_is_relieved() -> None:
    """A load that the compensator cannot lift rules p_LS: no drop is left for anyone. A LS relief
    below compensator less margin gives the others their flow back."""
    parts = (function("stuck", 30 * LPM, 300 * BAR), function("free", 20 * LPM, 50 * BAR))
    plant = bank_of("flow sharing", circuit(sensing(200 * LPM), *parts, drop=DROP))
    stopped = run(plant, stuck=1, free=1)
    assert not stopped.flow.any()
    assert stopped.pump_pressure[0] == pytest.approx(200 * BAR)
    relieved = dataclasses.replace(plant, relief=(relief("LS", "pump", 150 * BAR),))
    result = run(relieved, stuck=1, free=1)
    assert result.flow[0, 0] == 0.0
    assert result.flow[0, 1] == pytest.approx(20 * LPM)
    assert result.pump_pressure[0] == pytest.approx(170 * BAR, rel=1e-4)
    assert (run(plant, free=1).flow[0] == [0.0, 20 * LPM]).all()


# --- plain parallel ---


def test_plain_sections_take_what_the_pressure_drives() -> None:
    """At a constant 140 bar: c sqrt((p - load) / rated drop), more than is asked."""
    supply = pump(400 * LPM, "constant pressure", compensator=140 * BAR)
    parts = (function("a", 30 * LPM, 100 * BAR), function("b", 20 * LPM, 135 * BAR))
    result = run(bank_of("plain parallel", circuit(supply, *parts, drop=DROP)), a=1, b=1)
    expected = [30 * LPM * sqrt(4.0), 20 * LPM * sqrt(0.5)]
    np.testing.assert_allclose(result.flow[0], expected, rtol=1e-9)
    np.testing.assert_allclose(result.asked[0], [30 * LPM, 20 * LPM])
    assert result.function_limit[0].tolist() == [FunctionLimit.COMMAND, FunctionLimit.SHORT]


# --- priority valve ---


def test_excess_opens_when_the_held_flow_is_met() -> None:
    """A fixed 30 l/min: 20 held for the first, 10 of 25 left; the inlet at the higher need."""
    supply = pump(30 * LPM)
    parts = (function("first", 20 * LPM, 60 * BAR), function("excess", 25 * LPM, 90 * BAR))
    plant = bank_of("priority valve", circuit(supply, *parts, drop=DROP))
    plant = dataclasses.replace(plant, relief=(relief("pump", "pump", 250 * BAR),))
    result = run(plant, first=1, excess=1)
    np.testing.assert_allclose(result.flow[0], [20 * LPM, 10 * LPM], rtol=1e-9)
    assert result.inlet_pressure[0] == pytest.approx(90 * BAR + DROP * 0.16, rel=1e-9)
    short = run(dataclasses.replace(plant, pump=(pump(15 * LPM),)), first=1, excess=1)
    np.testing.assert_allclose(short.flow[0], [15 * LPM, 0.0], rtol=1e-9, atol=1e-18)
    assert short.inlet_pressure[0] == pytest.approx(60 * BAR + DROP * (15 / 20) ** 2, rel=1e-9)


def test_what_no_one_takes_goes_to_tank_or_over_the_relief() -> None:
    parts = (function("first", 20 * LPM, 60 * BAR),)
    closed = bank_of("priority valve", circuit(pump(30 * LPM), *parts, drop=DROP))
    closed = dataclasses.replace(closed, relief=(relief("pump", "pump", 180 * BAR),))
    blown = run(closed, first=1)
    assert blown.pump_pressure[0] == pytest.approx(180 * BAR, rel=1e-4)
    assert blown.relief_flow["pump pump relief"][0] == pytest.approx(10 * LPM, rel=1e-9)
    open_ = bank_of(
        "priority valve", closed, neutral_flow=10 * LPM, neutral_drop=2 * BAR, section_drop=DROP
    )
    passed = run(open_, first=1)
    assert passed.passed[0] == pytest.approx(10 * LPM, rel=1e-9)
    assert passed.pump_pressure[0] == pytest.approx(70 * BAR, rel=1e-9)


# --- gear divider ---


def divider(outlets: tuple[float, float], *reliefs: Relief) -> Circuit:
    """40 l/min over equal gears, to two functions at their pressures [Pa]."""
    parts = (function("a", 20 * LPM, outlets[0]), function("b", 20 * LPM, outlets[1]))
    plant = bank_of("gear divider", circuit(pump(40 * LPM), *parts), shares=(1.0, 1.0))
    return dataclasses.replace(plant, relief=(relief("pump", "pump", 2000 * PSI), *reliefs))


def test_the_inlet_is_the_mean_of_the_outlets() -> None:
    """1500 and 300 psi: 900 psi (textbook on fluid power circuits, chapter 13, flow dividers)."""
    result = run(divider((1500 * PSI, 300 * PSI)), a=1, b=1)
    assert result.inlet_pressure[0] / PSI == pytest.approx(900.0)
    np.testing.assert_allclose(result.flow[0], [20 * LPM, 20 * LPM], rtol=1e-9)


def test_an_outlet_doubles_the_inlet_when_the_other_runs_to_tank() -> None:
    """2000 psi in, one outlet to tank: the other holds 4000 psi (the same textbook)."""
    result = run(divider((9000 * PSI, 300 * PSI)), a=1)
    assert result.inlet_pressure[0] / PSI == pytest.approx(2000.0, rel=1e-4)
    assert result.work_pressure[0, 0] / PSI == pytest.approx(4000.0, rel=1e-4)
    assert result.function_limit[0, 0] == FunctionLimit.STALL


def test_a_relief_after_the_outlet_lets_the_other_run_on() -> None:
    guarded = divider((9000 * PSI, 300 * PSI), relief("port", "a", 2500 * PSI))
    result = run(guarded, a=1, b=1)
    assert result.work_pressure[0, 0] / PSI == pytest.approx(2500.0, rel=1e-4)
    assert result.inlet_pressure[0] / PSI == pytest.approx(1400.0, rel=1e-4)
    assert result.flow[0, 1] == pytest.approx(20 * LPM, rel=1e-9)
    assert result.function_limit[0].tolist() == [FunctionLimit.STALL, FunctionLimit.COMMAND]


@given(
    share=st.floats(0.05, 0.95),
    loads=st.tuples(st.floats(1e5, 1e7), st.floats(1e5, 1e7)),
)
@settings(max_examples=40, deadline=None)
def test_power_passes_a_divider_whole(share: float, loads: tuple[float, float]) -> None:
    parts = (function("a", 20 * LPM, loads[0]), function("b", 20 * LPM, loads[1]))
    plant = bank_of("gear divider", circuit(pump(40 * LPM), *parts), shares=(share, 1.0 - share))
    plant = dataclasses.replace(plant, relief=(relief("pump", "pump", 400 * BAR),))
    result = run(plant, a=1, b=1)
    given = (result.flow * result.work_pressure).sum(axis=1)
    np.testing.assert_allclose(result.inlet_pressure * 40 * LPM, given, rtol=1e-9)
    np.testing.assert_allclose(result.flow[0], [share * 40 * LPM, (1 - share) * 40 * LPM])
