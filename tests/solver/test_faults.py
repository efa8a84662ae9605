"""Degraded parts: each is a scale on one physical value, and never helps."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from hydrocheck.demo import load
from hydrocheck.errors import DomainError
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Coupling, Relief
from hydrocheck.solver import Points, Result, solve
from tests.solver.circuits import BASIC, random_case

TRUCK = load("tandem")
VISCOSITIES = np.array([290.0, 316.0, 345.0])
COMMAND = {"auger": 0.55, "spinner": 0.5}


def at(truck: Truck, engine: Any = 180.0, oil: Any = 316.0, **order: Any) -> Result:
    return solve(truck, Points.of(truck, engine, oil, **(order or {"command": COMMAND})))


def bare(**pump: Any) -> Truck:
    """The truck with a pump that holds one pressure and nothing that shares it."""
    held = dataclasses.replace(TRUCK.pump[0], type="constant pressure", **pump)
    return dataclasses.replace(TRUCK, pump=(held,), relief=())


def test_pump_wear_adds_a_multiple_of_the_rated_slip() -> None:
    """Weakly with viscosity: nu^-0.25, own evaluation of an open rig data set (2018)."""
    sound = at(bare(), oil=VISCOSITIES, command={})
    worn = at(bare(wear=2.5), oil=VISCOSITIES, command={})
    pump = TRUCK.pump[0]
    rated = (1.0 - pump.volumetric_efficiency) * pump.displacement * pump.rated_speed
    added = worn.pump_slip / worn.pump_pressure - sound.pump_slip / sound.pump_pressure
    factor = (pump.rated_viscosity / sound.viscosity) ** 0.25
    np.testing.assert_allclose(added, 2.5 * rated / pump.rated_pressure * factor, rtol=1e-12)


def test_motor_wear_adds_a_multiple_of_the_rated_slip() -> None:
    motor = TRUCK.function_named("auger").motor[0]
    given = {"asked": {"auger": 4e-4}}
    sound = at(TRUCK, oil=VISCOSITIES, **given)
    worn = at(TRUCK.vary("auger.motor.wear", 3.0), oil=VISCOSITIES, **given)
    rated = (1.0 / motor.volumetric_efficiency - 1.0) * motor.displacement * motor.rated_speed

    def leak(result: Result) -> Any:
        displaced = motor.displacement * result.motor_speed[0, :, 0]
        return (result.motor_flow[:, 0] - displaced) / result.motor_drop[0, :, 0]

    factor = (motor.rated_viscosity / sound.viscosity) ** 0.25
    expected = 3.0 * rated / motor.rated_pressure * factor
    np.testing.assert_allclose(leak(worn) - leak(sound), expected, rtol=1e-9)


def test_air_takes_the_place_of_displaced_oil() -> None:
    """At full stroke the pump gives (1 - air) D n less its slip, which the pressure sets."""
    short = {"asked": {"auger": 2e-3}}
    truck = TRUCK.vary("pump.air", np.array([0.0, 0.1, 0.3]))
    result = at(truck, np.full(3, 100.0), **short)
    pump = TRUCK.pump[0]
    displaced = pump.displacement * result.pump_speed * np.array([1.0, 0.9, 0.7])
    np.testing.assert_allclose(result.stroke, 1.0, rtol=1e-12)
    np.testing.assert_allclose(result.pump_flow + result.pump_slip, displaced, rtol=1e-12)


def test_the_limiter_sees_the_geometric_stroke() -> None:
    """Torque limit / (D p) of the stroke, whatever part of it is oil."""
    limit = TRUCK.pump[0].displacement * 3e6
    truck = bare(torque_limit=limit).vary("pump.air", np.array([0.0, 0.2]))
    result = at(truck, np.full(2, 150.0), asked={"auger": 3e-3})
    pressure, speed = result.pump_pressure, result.pump_speed
    expected = np.array([1.0, 0.8]) * limit / pressure * speed
    limited = result.stroke < 1.0
    assert limited.all()
    np.testing.assert_allclose(result.pump_flow + result.pump_slip, expected, rtol=1e-9)


def test_part_of_the_ls_pressure_reaches_the_control() -> None:
    shares = np.array([0.0, 0.5, 1.0])
    result = at(TRUCK.vary("pump.ls_signal", shares), np.full(3, 200.0), asked={"auger": 3e-4})
    pump = TRUCK.pump[0]
    held = np.maximum(shares * result.load_signal + pump.margin, pump.standby)
    np.testing.assert_allclose(result.pump_pressure, held, rtol=1e-9)
    assert result.load_signal[2] + pump.margin > pump.standby


def test_a_stuck_spool_passes_its_share() -> None:
    openings = np.array([1.0, 0.6, 0.0])
    truck = TRUCK.vary("auger.section.opening", openings)
    for order in ({"command": {"auger": 0.5}}, {"asked": {"auger": 4e-4}}):
        result = at(truck, np.full(3, 200.0), **order)
        np.testing.assert_allclose(result.asked[:, 0], openings * result.asked[0, 0], rtol=1e-15)
        np.testing.assert_allclose(result.flow[:, 0], result.asked[:, 0], rtol=1e-12)


def test_a_weak_coil_reaches_its_highest_command_and_no_more() -> None:
    limited = TRUCK.vary("auger.section.command_limit", 0.5)
    commands = np.array([0.3, 0.5, 0.9])
    result = at(limited, 200.0, command={"auger": commands})
    sound = at(TRUCK, 200.0, command={"auger": np.minimum(commands, 0.5)})
    np.testing.assert_array_equal(result.asked, sound.asked)
    most = sound.asked[1, 0]
    asked = at(limited, 200.0, asked={"auger": np.array([0.5 * most, 2.0 * most])})
    np.testing.assert_allclose(asked.asked[:, 0], [0.5 * most, most], rtol=1e-15)


@pytest.mark.parametrize("cracking", [None, 1.7e7])
def test_a_weak_relief_is_one_with_lower_setting_and_cracking(cracking: float | None) -> None:
    def truck(weakness: float, share: float) -> Truck:
        own = None if cracking is None else cracking * share
        relief = Relief(
            name="main", at="pump", of="pump", setting=2e7 * share, cracking=own, rated_flow=1e-3
        )
        fixed = dataclasses.replace(TRUCK.pump[0], type="fixed")
        made = dataclasses.replace(TRUCK, pump=(fixed,), relief=(relief,))
        return made.vary("main.weakness", weakness)

    weak, lowered = at(truck(0.3, 1.0), command={}), at(truck(0.0, 0.7), command={})
    np.testing.assert_allclose(weak.pump_pressure, lowered.pump_pressure, rtol=1e-12)
    assert weak.pump_pressure[0] < 0.75 * at(truck(0.0, 1.0), command={}).pump_pressure[0]


def test_a_weak_ls_relief_lowers_the_signal() -> None:
    relief = Relief(name="LS cap", at="LS", of="pump", setting=6e6)
    truck = dataclasses.replace(TRUCK, relief=(*TRUCK.relief, relief))
    result = at(truck.vary("LS cap.weakness", 0.5), 200.0, asked={"auger": 4e-4})
    assert result.load_signal[0] == pytest.approx(3e6)


def test_restrictions_multiply_the_drop_of_their_own_part() -> None:
    """Of a line, a coupling or a filter alone, at the same flow."""
    line = next(n for n in TRUCK.lines if n.name == "auger_supply")
    coupling = Coupling(rated_flow=1e-3, rated_drop=3e5)
    flow = {"asked": {"auger": 4e-4}}

    def drop(**changed: Any) -> float:
        part = dataclasses.replace(line, **{"coupling": (), "loss_factor": 2.0, **changed})
        lines = tuple(part if n is line else n for n in TRUCK.lines)
        result = at(dataclasses.replace(TRUCK, lines=lines), 200.0, **flow)
        assert result.flow[0, 0] == pytest.approx(4e-4)
        return float(result.work_pressure[0, 0] - result.motor_inlet[0, 0, 0])

    hose = drop()
    coupled = drop(coupling=(coupling,)) - hose
    assert coupled == pytest.approx(3e5 * 0.16)
    assert drop(restriction=5.0) == pytest.approx(5.0 * hose)
    clogged = dataclasses.replace(coupling, restriction=4.0)
    both = drop(restriction=2.0, coupling=(clogged,))
    assert both == pytest.approx(2.0 * hose + 4.0 * coupled)


def test_a_clogged_filter_drops_more_until_its_bypass_opens() -> None:
    line = next(n for n in TRUCK.lines if n.filter is not None)
    assert line.filter is not None
    filtered = dataclasses.replace(
        line, length=0.0, loss_factor=0.0, coupling=(), role="return", of=None
    )
    lines = tuple(n for n in TRUCK.lines if n.carries != "return")
    truck = dataclasses.replace(TRUCK, lines=(*lines, filtered))
    path = f"lines.{line.name}.filter.restriction"
    clogged = truck.vary(path, np.array([1.0, 1.5, 300.0]))
    result = at(clogged, np.full(3, 200.0), asked={"auger": 3e-4})
    drop = result.return_pressure
    assert drop[1] == pytest.approx(1.5 * drop[0])
    assert line.filter.bypass_cracking < drop[2] < line.filter.bypass_full


FAULTS: dict[str, Any] = {
    "pump.wear": np.linspace(0.0, 30.0, 9),
    "pump.air": np.linspace(0.0, 0.9, 9),
    "pump.ls_signal": np.linspace(1.0, 0.0, 9),
    "f0.section.opening": np.linspace(1.0, 0.0, 9),
    "f0.section.command_limit": np.linspace(1.0, 0.0, 9),
    "main relief.weakness": np.linspace(0.0, 0.9, 9),
    "lines.pressure.restriction": np.geomspace(1.0, 300.0, 9),
}


@pytest.mark.parametrize("path", FAULTS)
@pytest.mark.parametrize(("kind", "supply"), BASIC)
def test_a_supply_fault_never_raises_what_it_starves(kind: str, supply: str, path: str) -> None:
    """A fault of the supply lowers the first function's flow or leaves it, on random circuits.

    On an open centre the first function may stand behind others, whose share a weak pump takes
    first: the fact holds there all the same.
    """
    tried, levels = 0, FAULTS[path].size
    for seed in range(20):
        # Each of 8 trucks at each level of the fault.
        rows = np.repeat(np.arange(8), levels)
        circuit, points = random_case(np.random.default_rng(seed), 8, kind, supply, hard=False)
        circuit = repeated(circuit, rows)
        try:
            varied = circuit.vary(path, np.tile(FAULTS[path], 8))
        except DomainError:  # the draw has no such part
            continue
        if not circuit.function:
            continue
        flow = solve(varied, points.take(rows)).flow[:, 0].reshape(8, levels)
        assert (np.diff(flow) <= 1e-9 * max(flow.max(), 1e-12)).all(), seed
        tried += 1
        if tried == 2:
            return
    raise AssertionError("too few draws have such a part")


def repeated(part: Any, rows: Any) -> Any:
    """A circuit, or a part of one, with the numbers of some points."""
    if isinstance(part, np.ndarray):
        return part[rows]
    if isinstance(part, tuple):
        return tuple(repeated(item, rows) for item in part)
    if dataclasses.is_dataclass(part) and not isinstance(part, type):
        values = {f.name: repeated(getattr(part, f.name), rows) for f in dataclasses.fields(part)}
        return dataclasses.replace(part, **values)
    return part


@pytest.mark.parametrize("seed", range(12))
def test_a_worn_motor_never_turns_faster_at_equal_flow(seed: int) -> None:
    """Fed by its own command alone, with pressure in plenty."""
    wear = np.linspace(0.0, 40.0, 25)
    engine, oil = np.full(25, 220.0), 270.0 + 6.0 * seed
    truck = TRUCK.vary("auger.motor.wear", wear)
    result = at(truck, engine, oil, asked={"auger": 2e-4})
    assert (np.diff(result.speed[:, 0]) <= 0.0).all()
    assert (np.diff(result.flow[:, 0]) <= 1e-9 * 2e-4).all()


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("pump.wear", -0.1),
        ("pump.air", 1.0),
        ("pump.ls_signal", 1.5),
        ("auger.motor.wear", -1.0),
        ("auger.section.opening", 1.2),
        ("auger.section.command_limit", -0.1),
        ("main relief.weakness", 1.0),
        ("lines.pressure.restriction", 0.0),
    ],
)
def test_what_is_no_fault_is_refused_by_name(path: str, value: float) -> None:
    with pytest.raises(DomainError, match=path):
        TRUCK.vary(path, value)
    with pytest.raises(DomainError, match=path):
        TRUCK.vary(path, np.array([0.5, value]))
