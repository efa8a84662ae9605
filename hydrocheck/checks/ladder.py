"""Pressure ladder: work < compensator < relief cracking < ratings, each step with its gap."""

from __future__ import annotations

import numpy as np

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import (
    Amount,
    Judgement,
    at_least,
    at_most,
    lower,
    upper,
    words,
)
from hydrocheck.checks.inspection import Inspection, cracking
from hydrocheck.checks.registry import check
from hydrocheck.checks.subjects import FittedMotor
from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Bank, Pump, Relief, Scalar
from hydrocheck.model.truck import Scenario
from hydrocheck.physics.losses import starting_pressure
from hydrocheck.solver import Points
from hydrocheck.solver.feederload import breakaway
from hydrocheck.solver.needs import Needs
from hydrocheck.solver.stages import load_torques

AREA = "pressure ladder"


@check(
    "working-pressure-relief",
    area=AREA,
    asks="Does the work need less pressure than the relief lets through?",
    formula=(
        "highest load pressure + section drop (or LS margin) + line drop <= relief cracking "
        "pressure"
    ),
    limit="cracking of the relief that opens first; a caution within {relief_reserve}",
    source=(
        "common practice: the relief stands clear of the working pressure; pilot reliefs crack "
        "at about 95 % of setting"
    ),
    subjects=subjects.scenarios,
)
def working_pressure_relief(look: Inspection, scenario: Scenario) -> Judgement:
    """Needed pump pressure against the cracking pressure of the main relief."""
    need = look.need(scenario)
    relief = look.main_relief(look.pump)
    opens = cracking(relief)
    n = int(np.argmax(need.pump))
    reserve = float(look.truck.limits.relief_reserve)
    setting = float(relief.setting) if relief.setting is not None else opens
    wanted = (float(need.pump[n]) + reserve) * setting / opens
    return upper(
        Amount(float(need.pump[n]), "pressure"),
        Amount(opens, "pressure"),
        reserve=reserve / opens,
        about="pressure that the work needs at the pump",
        change=words(
            "set {name} to {setting} or more, if ratings allow it, else larger motors",
            setting=at_least(wanted, "pressure"),
            name=relief.name,
        ),
        at=_at(look, scenario, n),
    )


@check(
    "working-pressure-compensator",
    area=AREA,
    asks="Does the work need less pressure than the compensator allows?",
    formula="highest load pressure + LS margin (or section and line drop) <= compensator",
    limit="the compensator setting",
    source="load-sensing control: above the compensator the pump destrokes and work stops",
    subjects=lambda truck: [
        (s.name, s) for s in truck.scenario if truck.pump and truck.pump[0].type != "fixed"
    ],
)
def working_pressure_compensator(look: Inspection, scenario: Scenario) -> Judgement:
    """Needed pump pressure against the compensator setting."""
    need = look.need(scenario)
    pump = look.pump
    if pump.compensator is None:
        raise MissingValue([f"{pump.name}.compensator"])
    n = int(np.argmax(need.pump))
    return upper(
        Amount(float(need.pump[n]), "pressure"),
        Amount(float(pump.compensator), "pressure"),
        about="pressure that the work needs at the pump",
        change=words(
            (
                "set the compensator to {p} or more, if relief and ratings allow it; else "
                "larger motors"
            ),
            p=at_least(float(need.pump[n]), "pressure"),
        ),
        at=_at(look, scenario, n),
    )


def _at(look: Inspection, scenario: Scenario, n: int) -> dict[str, Amount | str]:
    points = look.solved(scenario).work.points
    return {
        "engine": Amount(float(points.engine_speed[n]), "shaft_speed"),
        "oil": Amount(float(points.oil_temperature[n]), "temperature"),
    }


@check(
    "compensator-relief",
    area=AREA,
    asks="Does the compensator destroke the pump before the relief opens?",
    formula="compensator + gap <= cracking pressure of the relief",
    limit=(
        "relief cracking less {compensator_gap}; above cracking the relief passes the whole flow"
    ),
    source=(
        "trade column, 'Think first, then troubleshoot', chapter 8: the relief stands above the "
        "compensator"
    ),
    subjects=subjects.controlled_pumps,
)
def compensator_relief(look: Inspection, pump: Pump) -> Judgement:
    """Compensator against relief cracking."""
    if pump.compensator is None:
        raise MissingValue([f"{pump.name}.compensator"])
    relief = look.main_relief(pump)
    opens = cracking(relief)
    gap = float(look.truck.limits.compensator_gap)
    setting = float(relief.setting) if relief.setting is not None else opens
    return upper(
        Amount(float(pump.compensator), "pressure"),
        Amount(opens, "pressure"),
        reserve=gap / opens,
        about="compensator setting",
        change=words(
            "a compensator of {low} or less, or a relief set to {high} or more",
            low=at_most(opens - gap, "pressure"),
            high=at_least((float(pump.compensator) + gap) * setting / opens, "pressure"),
        ),
    )


@check(
    "margin-section-drop",
    area=AREA,
    asks="Is the LS margin enough for the section and the line to it?",
    formula="LS margin >= section drop + pressure-line drop at the flow that the scenario asks",
    limit="section drop + line drop",
    source=(
        "load sensing: with less, the function of the highest load never gets its commanded flow"
    ),
    subjects=subjects.load_sensing_pumps,
)
def margin_section_drop(look: Inspection, pump: Pump) -> Judgement:
    """LS margin against what section and line take at the greatest flow of any scenario."""
    needs = Needs()
    margin = float(needs(pump, "margin", pump.name))
    banks = [b for b in look.truck.bank if b.name in pump.feeds]
    drops = [float(needs(b, "section_drop", b.name)) for b in banks]
    needs.settle()
    # At the flow that is asked: what too small a margin lets through says too little.
    line = max((float(look.need(s).line.max()) for s in look.truck.scenario), default=0.0)
    return lower(
        Amount(margin, "pressure_drop"),
        Amount(max(drops, default=0.0) + line, "pressure_drop"),
        about="LS margin",
        given={
            "section": Amount(max(drops, default=0.0), "pressure_drop"),
            "line": Amount(line, "pressure_drop"),
        },
        change=words(
            "an LS margin of {m} or more, or a larger pressure line",
            m=at_least(max(drops, default=0.0) + line, "pressure_drop"),
        ),
    )


@check(
    "relief-ratings",
    area=AREA,
    asks="Is the relief set no higher than the rating of the weakest part behind it?",
    formula=(
        "relief setting <= lowest pressure rating among pump, bank, lines, motors, "
        "cylinders, function hoses"
    ),
    limit="the lowest rating; parts and work lines behind a port relief count for that one",
    source="FED-STD-807, p. 10: relief setting at most the working pressure of the weakest part",
    subjects=subjects.reliefs,
)
def relief_ratings(look: Inspection, relief: Relief) -> Judgement:
    """Relief setting against the weakest part."""
    if relief.setting is None:
        raise MissingValue([f"{relief.name}.setting"])
    rated = _ratings(look, relief)
    if not rated:
        raise MissingValue(["a max_pressure of any part behind it"])
    weakest = min(rated, key=lambda name: rated[name])
    return upper(
        Amount(float(relief.setting), "pressure"),
        Amount(rated[weakest], "pressure"),
        about="relief setting",
        change=words(
            "a setting of {p} or less, or a stronger part: {part}",
            p=at_most(rated[weakest], "pressure"),
            part=weakest,
        ),
        at={"part": weakest},
    )


def _ratings(look: Inspection, relief: Relief) -> dict[str, float]:
    """Pressure ratings of the parts that a relief protects, by name."""
    truck = look.truck
    found: dict[str, Scalar | None] = {}
    ports = {r.of for r in truck.relief if r.at == "port"}
    served = []
    for function in truck.function:
        mine = relief.of == function.name if relief.at == "port" else function.name not in ports
        if not (mine and function.fitted and function.drive == "hydraulic"):
            continue
        served.append(function.name)
        found[f"{function.name} hoses"] = function.max_pressure
        for motor in function.motor:
            found[f"{function.name} motor"] = motor.max_pressure
        if function.cylinder:
            found[f"{function.name} cylinder"] = function.cylinder.max_pressure
    if relief.at != "port":
        for pump in truck.pump:
            found[pump.name] = pump.max_pressure
        for bank in truck.bank:
            found[bank.name] = bank.max_pressure
        for line in truck.lines:
            if line.carries == "pressure":
                found[f"{line.name} line"] = line.max_pressure
    for line in truck.lines:
        if line.carries == "work supply" and line.of in served:
            found[f"{line.name} line"] = line.max_pressure
    return {name: float(value) for name, value in found.items() if value is not None}


@check(
    "breakaway-pressure",
    area=AREA,
    asks="Does the motor start its load from rest, hopper full?",
    formula=(
        "breakaway torque / (D starting efficiency) + LS margin (or section drop) <= "
        "compensator and relief cracking"
    ),
    limit="the compensator, or relief cracking, whichever is lower",
    source=(
        "fluid power e-book, chapter on actuators: starting torque 75-90 % of maximum for "
        "slow motors"
    ),
    subjects=subjects.motors,
)
def breakaway_pressure(look: Inspection, subject: FittedMotor) -> Judgement:
    """Pressure that starts the motor against what the supply can give."""
    motor, key = subject.motor, subject.key
    needs = Needs()
    displacement = needs(motor, "displacement", key)
    efficiency = needs(motor, "starting_efficiency", key)
    factor = breakaway(motor.load, f"{key}.load", needs) if motor.load else 1.0
    still = Points.of(look.truck, np.zeros(1), np.array([300.0]))
    turned = subject.function.liquid_pump
    torques = load_torques(motor, key, still, np.zeros(1), needs, turned)
    pump = look.pump
    if pump.type == "load sensing":
        extra = float(needs(pump, "margin", pump.name))
    else:
        bank = _bank_of(look, subject)
        extra = float(needs(bank, "section_drop", bank.name))
    needs.settle()
    start = float(
        np.max(starting_pressure(torques["load0"], displacement, efficiency, np.asarray(factor)))
    )
    limits = [cracking(look.main_relief(pump))] if look.reliefs_at(pump) else []
    if pump.type != "fixed" and pump.compensator is not None:
        limits.append(float(pump.compensator))
    if not limits:
        raise MissingValue([f"a relief or compensator at {pump.name}"])
    larger = at_least(float(displacement) * start / max(min(limits) - extra, 1.0), "displacement")
    return upper(
        Amount(start + extra, "pressure"),
        Amount(min(limits), "pressure"),
        about="pressure to start the load from rest (LS margin or section drop included)",
        given={
            "torque at rest": Amount(float(np.max(torques["load0"])), "torque"),
            "breakaway": Amount(float(np.max(factor)), "ratio"),
            "D": Amount(float(displacement), "displacement"),
            "starting efficiency": Amount(float(efficiency), "fraction"),
            "margin or drop": Amount(extra, "pressure_drop"),
        },
        change=words(
            "a motor of {d} or more, or a lighter start; a boost of the command adds no pressure",
            d=larger,
        ),
    )


def _bank_of(look: Inspection, subject: FittedMotor) -> Bank:
    """The bank that a motor's section sits in."""
    for bank in look.truck.bank:
        if bank.name == subject.function.bank:
            return bank
    raise MissingValue([f"{subject.function.name}.bank"])
