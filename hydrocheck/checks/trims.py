"""Trims: do the minimum and maximum commands make sense for the valve and the shaft?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import Amount, Judgement, Words, at_least, lower, words
from hydrocheck.checks.inspection import Inspection, commands_over, trim
from hydrocheck.checks.registry import check
from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.solver import Points

Array = NDArray[np.float64]

AREA = "trims and valve drive"


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
    low, high = trim(function, "min"), trim(function, "max")
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
    low = trim(function, "min")
    limit = Amount(deadband, "fraction")
    change = words("a minimum trim above {limit}", limit=limit)
    if low == deadband:
        why = words("minimum trim stands at the deadband, {limit}: no flow", limit=limit)
        return Judgement("fail", why, limit, limit, 0.0, change=change)
    return lower(Amount(low, "fraction"), limit, about="minimum trim", change=change)


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
    low = trim(function, "min")
    points, turning = _turning(look, function, np.array([low]))
    n = int(np.argmin(turning))
    slowest = Amount(float(turning[n]), "shaft_speed")
    at: dict[str, Amount | str] = {
        "engine": Amount(float(points.engine_speed[n]), "shaft_speed"),
        "oil": Amount(float(points.oil_temperature[n]), "temperature"),
    }
    limit = function.motor[0].min_speed
    if slowest.value <= 0:
        return Judgement(
            "fail",
            words("the shaft stands still at the minimum trim: all the flow is slip"),
            slowest,
            at=at,
            change=_higher_trim(look, function, low, float(limit or 0.0)),
        )
    if limit is None:
        raise MissingValue([f"{function.name}.motor.min_speed"])
    judged = lower(
        slowest, Amount(float(limit), "shaft_speed"), about="motor speed at minimum trim", at=at
    )
    if judged.verdict == "fail":  # uneven turning at the least rate can be accepted
        change = _higher_trim(look, function, low, float(limit))
        return replace(judged, verdict="caution", change=change)
    return judged


def _turning(look: Inspection, function: Function, command: Array) -> tuple[Points, Array]:
    """Motor speed [rad/s] at every command, at both ends of the working band and every oil."""
    points, result = commands_over(look, function, command, "range")
    return points, result.motor_speed[0][:, result.column(function.name)]


def _higher_trim(look: Inspection, function: Function, low: float, limit: float) -> Words:
    """The least whole percent of command at which the shaft turns, and turns at its limit."""
    commands = np.arange(np.floor(100 * low) + 1, 101) / 100
    if not commands.size:
        return words("none found")
    _, turning = _turning(look, function, commands)
    slowest = turning.reshape(commands.size, -1).min(axis=1)
    good = (slowest > 0) & (slowest >= limit)
    if not good.any():
        return words("none found: no command turns it so fast")
    return words(
        "a minimum trim of {command} or more, proved with a full hopper and warm oil",
        command=at_least(float(commands[int(np.argmax(good))]), "fraction"),
    )


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
