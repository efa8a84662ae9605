"""Diagnosis on trucks with every kind of bank, end to end: readings from a solve, causes out."""

from __future__ import annotations

import dataclasses
from functools import cache

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.advice.aids import aids_for
from hydrocheck.advice.diagnosis import diagnose
from hydrocheck.advice.outcome import Diagnosis
from hydrocheck.errors import CircuitError, NotSolvedYet
from hydrocheck.model import Truck, truck_from_text
from hydrocheck.model.readings import readings_from_lines
from hydrocheck.solver import Points, Result, solve
from hydrocheck.units import parse, show

AT = "@ engine 1300 rpm, oil 110 degF, auger command 60 %, spinner command 60 %"
SHARES = "shares = [0.5, 0.3, 0.2]"
KINDS = ("parallel", "flow sharing", "plain parallel")


@cache
def fixed(kind: str) -> Truck:
    """The demo truck with one fixed pump, its bank of another kind."""
    text = demo.path("single").read_text(encoding="utf-8")
    more = f"\n{SHARES}" if kind == "gear divider" else ""
    return truck_from_text(text.replace('type = "open centre"', f'type = "{kind}"{more}'))


def solved(truck: Truck) -> Result:
    commands = {"auger": 0.6, "spinner": 0.6}
    engine, oil = parse("1300 rpm", "shaft_speed"), parse("110 degF", "temperature")
    return solve(truck, Points.of(truck, engine, oil, command=commands))


def read_on(truck: Truck) -> list[str]:
    """What instruments show on a truck with that fault."""
    result = solved(truck)
    lines = [
        f"{name} speed = {show(float(result.speed[0, result.column(name)]), 'shaft_speed')} {AT}"
        for name in ("auger", "spinner")
    ]
    auger = float(result.flow[0, result.column("auger")])
    return [
        *lines,
        f"auger flow = {show(auger, 'flow')} {AT}",
        f"pump pressure = {show(float(result.pump_pressure[0]), 'pressure')} {AT}",
        "auger motion = slow",
    ]


def answer(truck: Truck, lines: list[str]) -> Diagnosis:
    found = diagnose(truck, readings_from_lines(lines).readings, suggest=False)
    assert aids_for(found).gauges
    return found


def test_a_worn_outlet_of_a_gear_divider() -> None:
    """Half of the auger's share goes to the other outlets: it slows, and the spinner speeds up."""
    truck = fixed("gear divider")
    (bank,) = truck.bank
    worn = dataclasses.replace(bank, shares=(0.25, 0.45, 0.3))
    lines = read_on(dataclasses.replace(truck, bank=(worn,)))
    found = answer(truck, lines)
    assert next(iter(found.groups)) == "flow divider"
    assert found.leading.severities[0] == pytest.approx(0.5, abs=0.1)


def test_shares_may_be_arrays() -> None:
    """Three dividers in one solve are three solves."""
    truck = fixed("gear divider")
    (bank,) = truck.bank
    sets = np.array([[0.5, 0.3, 0.2], [0.3, 0.4, 0.3], [0.7, 0.2, 0.1]])
    engine, oil = parse("1300 rpm", "shaft_speed"), parse("110 degF", "temperature")
    commands = {"auger": 0.6, "spinner": 0.6}
    both = dataclasses.replace(truck, bank=(dataclasses.replace(bank, shares=tuple(sets.T)),))
    result = solve(both, Points.of(both, np.full(3, engine), oil, command=commands))
    for i, shares in enumerate(sets):
        one = dataclasses.replace(bank, shares=tuple(float(s) for s in shares))
        alone = solved(dataclasses.replace(truck, bank=(one,)))
        assert result.speed[i] == pytest.approx(alone.speed[0], rel=1e-7, abs=1e-9)
        assert result.pump_pressure[i] == pytest.approx(float(alone.pump_pressure[0]), rel=1e-7)


def test_a_priority_valve_that_sticks() -> None:
    """The held flow falls to half: nothing but the valve or the spool in series explains it."""
    truck = fixed("priority valve")
    lines = read_on(truck.vary("auger.section.opening", 0.5))
    found = answer(truck, lines)
    assert found.groups["flow divider"] > 0.1
    leading = list(found.groups)[:4]
    assert {"flow divider", "valve section"} <= set(leading)


@pytest.mark.parametrize("kind", KINDS)
def test_other_banks_on_a_load_sensing_pump(kind: str) -> None:
    text = demo.path("tandem").read_text(encoding="utf-8")
    truck = truck_from_text(text.replace('type = "parallel"', f'type = "{kind}"'))
    found = answer(truck, ["auger motion = stopped", "pump pressure = 350 psi @ engine 1300 rpm"])
    assert next(iter(found.groups)) in ("LS line", "pump control")


def test_what_is_not_solved_is_refused_by_name() -> None:
    text = demo.path("tandem").read_text(encoding="utf-8")
    order = 'order = ["auger", "spinner", "liquid", "plow", "dump"]'
    lines = readings_from_lines(["auger motion = slow"]).readings
    for kind, error, word in (
        ("open centre", NotSolvedYet, "open centre"),
        ("priority valve", CircuitError, "pump.margin"),
    ):
        truck = truck_from_text(text.replace('type = "parallel"', f'type = "{kind}"\n{order}'))
        with pytest.raises(error, match=word):
            diagnose(truck, lines, suggest=False)


def two_pumps() -> Truck:
    """The tandem truck with its spinner on a second pump, bank and relief of the same make."""
    truck = demo.load("tandem")
    (pump,), (bank,) = truck.pump, truck.bank
    reliefs = [r for r in truck.relief if r.at in ("pump", "bank inlet")]
    of = {pump.name: "second pump", bank.name: "second bank"}
    own = [dataclasses.replace(r, name=f"second {r.name}", of=of[str(r.of)]) for r in reliefs]
    lines = [
        dataclasses.replace(line, of=pump.name) if line.carries in ("pressure", "suction") else line
        for line in truck.lines
    ]
    lines += [
        dataclasses.replace(line, name=f"second {line.name}", of="second pump")
        for line in lines
        if line.carries in ("pressure", "suction")
    ]
    return dataclasses.replace(
        truck,
        pump=(pump, dataclasses.replace(pump, name="second pump", feeds=("second bank",))),
        bank=(bank, dataclasses.replace(bank, name="second bank")),
        relief=(*truck.relief, *own),
        lines=tuple(lines),
        function=tuple(
            dataclasses.replace(f, bank="second bank") if f.name == "spinner" else f
            for f in truck.function
        ),
    )


def test_each_function_is_judged_by_its_own_pump() -> None:
    """The gauge stands at the pump that feeds it; a low relief is that pump's own."""
    truck = two_pumps()
    supplies = solved(truck).supplies
    assert len(supplies) == 2
    for supply, name in zip(supplies, ("auger", "spinner"), strict=True):
        (pump,) = supply.pumps
        lines = [f"{name} motion = stopped {AT}", f"pump pressure = 350 psi {AT}"]
        found = answer(truck, lines)
        assert found.patient.name == name
        assert found.patient.pump.name == pump
        gauge = next(h for h in found.healthy if not h.word)
        assert gauge.value == pytest.approx(float(supply.pump_pressure[0]), rel=0.02)
        assert found.groups["LS line"] + found.groups["valve section"] > 0.2
        assert found.patient.reliefs
        assert all(("second" in r) == (name == "spinner") for r in found.patient.reliefs)


def test_ls_readings_are_those_of_the_pump_that_feeds_the_function() -> None:
    """Pump pressure, LS pressure and the margin between them hang together at either pump."""
    truck = two_pumps()
    first, second = truck.pump
    lower = dataclasses.replace(second, margin=0.8 * float(first.margin or 0.0))
    truck = dataclasses.replace(truck, pump=(first, lower))
    for supply, name in zip(solved(truck).supplies, ("auger", "spinner"), strict=True):
        keys = ("pump pressure", "LS pressure", "LS margin")
        lines = [f"{name} motion = slow {AT}", *(f"{key} = 300 psi {AT}" for key in keys)]
        healthy = [h.value for h in answer(truck, lines).healthy if not h.word]
        assert healthy[0] == pytest.approx(float(supply.pump_pressure[0]), rel=0.02)
        assert healthy[1] == pytest.approx(float(supply.load_signal[0]), rel=0.02)
        assert healthy[2] == pytest.approx(healthy[0] - healthy[1], rel=1e-9)
