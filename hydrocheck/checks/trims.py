"""Trims: do the minimum and maximum commands make sense for the valve and the shaft?"""

from __future__ import annotations

import numpy as np

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import Amount, Judgement, lower, words
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.solver import Points, solve
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures

AREA = "trims and valve drive"


def _trim(function: Function, which: str) -> float:
    value = getattr(function.trims, which)
    if value is None:
        raise MissingValue([f"{function.name}.trims.{which}"])
    return float(value)


@check(
    "trim-order",
    area=AREA,
    asks="Is the minimum trim below the maximum trim?",
    formula="min < max",
    limit="the maximum trim",
    source="definition of a trim: setting 0+ % gives the minimum, 100 % the maximum",
    subjects=subjects.trimmed,
)
def trim_order(look: Inspection, function: Function) -> Judgement:
    """Minimum against maximum trim."""
    low, high = _trim(function, "min"), _trim(function, "max")
    value, limit = Amount(low, "fraction"), Amount(high, "fraction")
    if low < high:
        return Judgement(
            "pass",
            words("minimum trim {low}, maximum {high}", low=value, high=limit),
            value,
            limit,
            (high - low) / high,
        )
    return Judgement(
        "fail",
        words(
            "minimum trim is {low}, maximum only {high}: the setting turns nothing",
            low=value,
            high=limit,
        ),
        value,
        limit,
        (high - low) / high if high else -1.0,
        change=words("a minimum trim below {high}", high=limit),
    )


@check(
    "trim-deadband",
    area=AREA,
    asks="Does the minimum trim open the valve at all?",
    formula="min > deadband of the section",
    limit="the deadband",
    source="valve curve: no flow up to the deadband",
    subjects=subjects.trimmed,
)
def trim_deadband(look: Inspection, function: Function) -> Judgement:
    """Minimum trim against the section's deadband."""
    section = function.section
    if section.curve:
        shut = [c for c, q in section.curve if q <= 0]
        deadband = max(shut, default=0.0)
    elif section.deadband is None:
        raise MissingValue([f"{function.name}.section.deadband"])
    else:
        deadband = float(section.deadband)
    low = _trim(function, "min")
    if low == deadband:
        low_margin = words("a minimum trim above {limit}", limit=Amount(deadband, "fraction"))
        amount = Amount(low, "fraction")
        return Judgement(
            "fail",
            words("minimum trim stands at the deadband: no flow"),
            amount,
            amount,
            0.0,
            change=low_margin,
        )
    return lower(
        Amount(low, "fraction"),
        Amount(deadband, "fraction"),
        about="minimum trim",
        change=words("a minimum trim above {limit}", limit=Amount(deadband, "fraction")),
    )


@check(
    "minimum-speed",
    area=AREA,
    asks="Does the shaft turn steadily at the minimum trim, hopper full?",
    formula=(
        "n = (q - slip) / D at the minimum trim, over the working band and the oil temperatures"
    ),
    limit="the motor's min_speed; a stall fails, a slower turn is a caution",
    source=(
        "the limit is the motor maker's; orbital motors turn unevenly below about 15 rpm "
        "(from memory)"
    ),
    subjects=subjects.trimmed,
)
def minimum_speed(look: Inspection, function: Function) -> Judgement:
    """Slowest speed at the minimum trim."""
    low = _trim(function, "min")
    engine = engine_speeds(look.truck, "working")[[0, -1]]
    oil = oil_temperatures(look.truck, "range")
    speeds, temperatures = (g.ravel() for g in np.meshgrid(engine, oil, indexing="ij"))
    result = solve(
        look.truck, Points.of(look.truck, speeds, temperatures, command={function.name: low})
    )
    turning = result.motor_speed[0][:, result.column(function.name)]
    n = int(np.argmin(turning))
    slowest = Amount(float(turning[n]), "shaft_speed")
    at: dict[str, Amount | str] = {
        "engine": Amount(float(speeds[n]), "shaft_speed"),
        "oil": Amount(float(temperatures[n]), "temperature"),
    }
    if slowest.value <= 0:
        return Judgement(
            "fail",
            words("the shaft stands still at the minimum trim: all the flow is slip"),
            slowest,
            at=at,
            change=words(
                "a higher minimum trim, found at the truck with a loaded hopper and warm oil"
            ),
        )
    limit = function.motor[0].min_speed
    if limit is None:
        raise MissingValue([f"{function.name}.motor.min_speed"])
    judged = lower(
        slowest, Amount(float(limit), "shaft_speed"), about="motor speed at minimum trim", **at
    )
    if judged.verdict == "fail":
        return Judgement(
            "caution",
            judged.reason,
            judged.value,
            judged.limit,
            judged.margin,
            at,
            words("a higher minimum trim, or accept uneven turning at the least rate"),
        )
    return judged


@check(
    "absent-liquid-zero",
    area=AREA,
    asks="Is a liquid function that the truck does not have set to zero everywhere?",
    formula="fitted = false: trims zero or absent, no scenario or link asks for it",
    limit="zero",
    source="common practice: an absent function left above zero draws oil and raises false alarms",
    subjects=subjects.liquids,
)
def absent_liquid_zero(look: Inspection, function: Function) -> Judgement:
    """An absent liquid function must ask for nothing."""
    if function.fitted:
        return Judgement("pass", words("fitted"))
    left = [f"trims.{k}" for k in ("min", "max") if getattr(function.trims, k)]
    for scenario in look.truck.scenario:
        for task in scenario.run:
            if task.name == function.name and getattr(task, task.asks):
                left.append(f"scenario '{scenario.name}'")
    left += [f"link to {k.follows}" for k in look.truck.link if k.function == function.name]
    if not left:
        return Judgement("pass", words("not fitted, and nothing asks for it"))
    return Judgement(
        "caution",
        words("not fitted, yet not zero in: {places}", places=", ".join(left)),
        change=words("set these to zero or take them out"),
    )
