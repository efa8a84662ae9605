"""Throw: does the spinner cover the lanes, at its ordered speeds and at its trims?

The widths are estimates, to be confirmed on the ground: nothing here is worse than a caution.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from hydrocheck.checks.finding import Amount, Judgement, Words, at_least, at_most, words
from hydrocheck.checks.inspection import Inspection, commands_over, trim
from hydrocheck.checks.registry import check
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function
from hydrocheck.solver import solved_functions
from hydrocheck.studies.pattern import Band, speed_for_width, speeds_for_width, spin_of, width_band
from hydrocheck.studies.throw import lanes_width, ordered_speeds

Array = NDArray[np.float64]

AREA = "throw"

_RPM = np.pi / 30.0
_NEAR = np.linspace(0.4, 2.5, 43)
"""Speeds around the one wanted, as shares of it, over which a band is looked up."""
_ESTIMATE = (
    "theory of a straight vane and flight with drag; the band, 15 % or more, is ours and unproven: "
    "no measured throw of salt was at hand"
)


def _spinners(truck: Truck) -> list[tuple[str, Function]]:
    """Every fitted spinner."""
    return [(f.name, f) for f in truck.function if f.kind == "spinner" and f.fitted]


def _trimmed(truck: Truck) -> list[tuple[str, Function]]:
    """Every spinner with a motor in the steady state."""
    return [(f.name, f) for f in solved_functions(truck) if f.kind == "spinner" and f.motor]


def _width(value: float) -> Amount:
    return Amount(value, "spread_width")


@check(
    "spinner-lane-width",
    area=AREA,
    asks="Does the spinner, at its ordered speeds, throw as wide as the lanes to be treated?",
    formula="width at the ordered speed, with its band, against lanes x lane width",
    limit="the lanes' width must lie inside the band; outside is a caution",
    source=_ESTIMATE,
    subjects=_spinners,
)
def spinner_lane_width(look: Inspection, function: Function) -> Judgement:
    """Width at the speeds that scenarios order."""
    orders = ordered_speeds(look.truck, function)
    if not orders:
        raise MissingValue([f"a scenario with a speed of {function.name}"])
    spin = spin_of(look.truck, function)
    wanted = lanes_width(look.truck)
    band = width_band(spin, [speed for _, speed in orders])
    margins = _margins(band, wanted)
    n = int(np.argmin(margins))
    name, speed = orders[n]
    at: dict[str, Amount | str] = {"scenario": name, "spinner": Amount(speed, "shaft_speed")}
    change = _right_speed(look.truck, function, wanted) if margins[n] < 0.0 else None
    return _judged(band, n, wanted, margins, at, change)


def _margins(band: Band, wanted: float) -> Array:
    """How far inside the band a width lies, as a share of it, (S,); below 0 outside."""
    low, high = np.nan_to_num(band.low), np.nan_to_num(band.high)
    margins: Array = np.minimum(wanted - low, high - wanted) / wanted
    return margins


def _judged(
    band: Band,
    n: int,
    wanted: float,
    margins: Array,
    at: Mapping[str, Amount | str],
    change: Words | None,
) -> Judgement:
    """The width at one speed of a band against the wanted one."""
    width = float(np.nan_to_num(band.width[n]))
    amounts = {
        "width": _width(width),
        "low": _width(float(np.nan_to_num(band.low[n]))),
        "high": _width(float(np.nan_to_num(band.high[n]))),
        "wanted": _width(wanted),
    }
    side = "wider" if width > wanted else "narrower"
    good = margins[n] >= 0.0
    text = "it throws about {width} ({low} to {high}) for {wanted}"
    if not width:
        text = "it turns too slowly to move the material; {wanted} to cover"
    elif not good:
        text += f": {side} than the lanes"
    return Judgement(
        "pass" if good else "caution",
        words(text, **amounts),
        amounts["width"],
        amounts["wanted"],
        float(margins[n]),
        at,
        change,
    )


def _right_speed(truck: Truck, function: Function, wanted: float) -> Words:
    """The spinner speed that throws a width, with that of the band's ends."""
    spin = spin_of(truck, function)
    speed = speed_for_width(spin, wanted)
    if speed is None:
        return words("none found: no usual speed throws so; see the disc's height and its fan")
    slow, fast = speeds_for_width(width_band(spin, speed * _NEAR), wanted)
    if not np.isfinite([slow, fast]).all():
        return words("a spinner speed of {speed}, tried on the ground", speed=_near(speed))
    return words(
        "a spinner speed of {speed} ({slow} to {fast}), tried on the ground",
        speed=_near(speed),
        slow=at_least(slow, "shaft_speed"),
        fast=at_most(fast, "shaft_speed"),
    )


def _near(speed: float) -> Amount:
    return Amount(speed, "shaft_speed")


@check(
    "width-at-trims",
    area=AREA,
    asks="Do the trims of the spinner span the widths from one lane to all lanes treated?",
    formula=(
        "widths at the minimum and maximum trim, oil warm, at both ends of the working band, with "
        "their bands"
    ),
    limit=(
        "at most one lane at the minimum trim, at least all lanes at the maximum trim; outside is "
        "a caution"
    ),
    source=_ESTIMATE,
    subjects=_trimmed,
)
def width_at_trims(look: Inspection, function: Function) -> Judgement:
    """Greatest width at the minimum trim, least at the maximum trim."""
    truck = look.truck
    low, high = trim(function, "min"), trim(function, "max")
    spin = spin_of(truck, function)
    lane, lanes = float(truck.spreading.lane_width), lanes_width(truck)
    turning = _turning(look, function, np.array([low, high]))
    slow, fast = float(turning[0].max()), float(turning[1].min())
    band = width_band(spin, np.maximum([slow, fast], 1e-3))
    least, most = float(np.nan_to_num(band.low[0])), float(np.nan_to_num(band.high[1]))
    wide, narrow = (lane - least) / lane, (most - lanes) / lanes
    which = 0 if wide < narrow else 1
    end = ("minimum", "maximum")[which]
    at: dict[str, Amount | str] = {
        "spinner": Amount((slow, fast)[which], "shaft_speed"),
        "trim": Amount((low, high)[which], "fraction"),
    }
    width = _width(float(np.nan_to_num(band.width[which])))
    limit = _width((lane, lanes)[which])
    edge = _width((least, most)[which])
    margin = min(wide, narrow)
    if margin >= 0.0:
        reason = words(
            "{least} at the minimum trim, about {most} at the maximum trim",
            least=_width(float(band.width[0])) if least else "too slow to throw",
            most=_width(float(np.nan_to_num(band.width[1]))),
        )
        return Judgement("pass", reason, width, limit, margin, at)
    text = {
        "minimum": "at the minimum trim it throws about {width} ({edge} or more), wider than a "
        "lane of {limit}",
        "maximum": "at the maximum trim it throws about {width} ({edge} or less), narrower than "
        "the lanes' {limit}",
    }[end]
    reason = words(text, width=width, edge=edge, limit=limit)
    change = _other_trim(look, function, which, lane, lanes)
    return Judgement("caution", reason, width, limit, margin, at, change)


def _turning(look: Inspection, function: Function, command: Array) -> Array:
    """Spinner speed [rad/s] at commands, (C,), at both ends of the working band, (C, 2)."""
    _, result = commands_over(look, function, command, "working")
    turning: Array = result.speed[:, result.column(function.name)]
    return turning.reshape(command.size, -1)


def _other_trim(
    look: Inspection, function: Function, which: int, lane: float, lanes: float
) -> Words:
    """The whole percent of command nearest to the trim at which the width would do."""
    commands = np.arange(1, 101) / 100.0
    turning = _turning(look, function, commands)
    spin = spin_of(look.truck, function)
    if which == 0:
        band = width_band(spin, np.maximum(turning.max(axis=1), 1e-3))
        good = np.nan_to_num(band.low) <= lane
        if not good.any():
            return words("none found")
        most = float(commands[np.flatnonzero(good)[-1]])
        return words("a minimum trim of {command} or less", command=at_most(most, "fraction"))
    band = width_band(spin, np.maximum(turning.min(axis=1), 1e-3))
    good = np.nan_to_num(band.high) >= lanes
    if not good.any():
        return words("none found: no command throws so wide; see the disc's height and its fan")
    least = float(commands[int(np.argmax(good))])
    return words(
        "a maximum trim of {command} or more, if the spinner's own limit allows it",
        command=at_least(least, "fraction"),
    )
