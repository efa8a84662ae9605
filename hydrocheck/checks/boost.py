"""Duration of the breakaway boost: long enough to start, not so long that the shaft runs away."""

from __future__ import annotations

import numpy as np

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import (
    Amount,
    Judgement,
    at_least,
    at_most,
    eased,
    lower,
    upper,
    words,
)
from hydrocheck.checks.inspection import Inspection, trim
from hydrocheck.checks.registry import check
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function
from hydrocheck.studies.boosttime import FORMULA, SOURCE, boost_time


def _boosted(truck: Truck) -> list[tuple[str, Function]]:
    """Functions whose valve drive gives a boost."""
    return [
        (name, f)
        for name, f in subjects.trimmed(truck)
        if f.section.coil is not None and (f.section.coil.boost or 0.0) > 0
    ]


@check(
    "boost-duration",
    area="trims and valve drive",
    asks="Does the breakaway boost last long enough to start the shaft, and no longer?",
    formula=(
        f"boost_time >= {FORMULA}: q flow of the minimum trim + boost, k slip of the standing "
        "motor, p breakaway pressure, V supply hose and half the motor; oil.hot"
    ),
    limit="that time, and one turn of the shaft more; outside is a caution",
    source=f"{SOURCE}. Inertia, pump response and ramps are left out",
    subjects=_boosted,
)
def boost_duration(look: Inspection, function: Function) -> Judgement:
    """Duration of the boost against what it must outlast."""
    coil, low = function.section.coil, trim(function, "min")
    if coil is None or coil.boost_time is None:
        raise MissingValue([f"{function.name}.section.coil.boost_time"])
    found = boost_time(look.truck, function, low + float(coil.boost or 0.0))
    at = {"oil": Amount(found.oil_temperature, "temperature")}
    if not np.isfinite(found.needed):
        return Judgement(
            "caution",
            words("the boost never builds {p} up: all its flow slips", p=_pressure(found.pressure)),
            at=at,
            change=words("a larger boost: see breakaway-boost for its size"),
        )
    value = Amount(float(coil.boost_time), "time")
    given = {
        "coil": Amount(found.coil, "time"),
        "filling": Amount(found.filling, "time"),
        "V": Amount(found.volume, "volume"),
        "p": _pressure(found.pressure),
    }
    short = lower(
        value,
        Amount(found.needed, "time"),
        about="duration of the boost",
        at=at,
        given=given,
        change=words("{time} or more", time=at_least(found.needed, "time")),
    )
    if short.verdict != "pass" or not np.isfinite(found.longest):
        return eased(short)
    long = upper(
        value,
        Amount(found.longest, "time"),
        about="duration of the boost",
        at={**at, "shaft then": Amount(found.speed, "shaft_speed")},
        given=given,
        change=words("{most} or less", most=at_most(found.longest, "time")),
    )
    return eased(long) if long.verdict != "pass" else short


def _pressure(value: float) -> Amount:
    return Amount(value, "pressure_drop")
