"""Coils: is the current held hot and on a low battery, and does the spool stay free?"""

from __future__ import annotations

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
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Coil, Function
from hydrocheck.physics import coils
from hydrocheck.studies.valvedrive import frequency_band

AREA = "trims and valve drive"


def _coils(truck: Truck) -> list[tuple[str, Function]]:
    """Functions whose section has a coil."""
    return [(name, f) for name, f in subjects.functions(truck) if f.section.coil is not None]


def _coil(function: Function, *keys: str) -> Coil:
    """The coil, with these values given. Raises MissingValue."""
    coil = function.section.coil
    missing = [f"{function.name}.section.coil.{k}" for k in keys if getattr(coil, k) is None]
    if missing or coil is None:
        raise MissingValue(missing)
    return coil


def _low_battery(look: Inspection, coil: Coil) -> float:
    """Supply with a low battery [V]: twice that of a 12 V truck with 24 V, or less as given."""
    supply, low = float(coil.supply or 0.0), float(look.truck.limits.low_battery)
    return min(supply, low if supply < 18.0 else 2.0 * low)


@check(
    "coil-current",
    area=AREA,
    asks="Does the coil still take the current of the maximum trim, hot and on a low battery?",
    formula=(
        "U / (R (1 + 0.00393 (T - 20 degC))) >= maximum trim x rated current, U = {low_battery} "
        "(twice that in a 24 V truck), coil at T = {coil_temperature}"
    ),
    limit="current of the maximum trim (full command where there is none)",
    source="Ohm's law; copper 0.393 %/K from memory",
    subjects=_coils,
)
def coil_current(look: Inspection, function: Function) -> Judgement:
    """Most current of a hot coil on a low battery against what the trim asks."""
    coil = _coil(function, "resistance", "rated_current", "supply")
    top = 1.0 if function.trims.max is None else float(function.trims.max)
    asked, supply = top * float(coil.rated_current or 0.0), _low_battery(look, coil)
    warm = float(look.truck.limits.coil_temperature)
    hot = float(coils.coil_resistance(float(coil.resistance or 0.0), warm))
    current = float(coils.coil_current(supply, hot))
    allowed = float(coil.resistance or 0.0) * current / asked if asked > 0 else 0.0
    return lower(
        Amount(current, "current"),
        Amount(asked, "current"),
        about="current of the hot coil on a low battery",
        at={"supply": Amount(supply, "voltage"), "coil": Amount(warm, "temperature")},
        given={
            "U": Amount(supply, "voltage"),
            "R": Amount(float(coil.resistance or 0.0), "resistance"),
            "R hot": Amount(hot, "resistance"),
        },
        change=words(
            "a coil of {resistance} or less, or a thicker wire to it",
            resistance=at_most(allowed, "resistance"),
        ),
    )


@check(
    "coil-drift",
    area=AREA,
    asks="Does the command stay where it is set while coil and battery change?",
    formula=(
        "driven by duty: 1 - (U low / U) / (1 + 0.00393 (T - 20 degC)), coil from 20 degC to "
        "{coil_temperature}, battery down to {low_battery}; "
        "driven by current: 0"
    ),
    limit="{coil_drift} of the command; more is a caution",
    source=(
        "Ohm's law; a maker's coil note: coil heat cuts current, and closed-loop current control "
        "cures it"
    ),
    subjects=_coils,
)
def coil_drift(look: Inspection, function: Function) -> Judgement:
    """Share of the command that a duty-driven coil loses."""
    coil = _coil(function, "drive")
    limit = Amount(float(look.truck.limits.coil_drift), "fraction")
    if coil.drive == "current":
        why = words("the driver holds the current")
        return Judgement("pass", why, Amount(0.0, "fraction"), limit, 1.0)
    coil = _coil(function, "supply")
    supply, warm = _low_battery(look, coil), float(look.truck.limits.coil_temperature)
    rise = float(coils.coil_resistance(1.0, warm))
    lost = 1.0 - supply / float(coil.supply or 1.0) / rise
    judged = upper(
        Amount(lost, "fraction"),
        limit,
        about="share of the command lost to a hot coil and a low battery",
        at={"supply": Amount(supply, "voltage"), "coil": Amount(warm, "temperature")},
        change=words("a driver that holds current; trims set with warm coils at least"),
    )
    return eased(judged)


@check(
    "drive-frequency",
    area=AREA,
    asks="Does the drive frequency keep the spool moving without hammering it?",
    formula=(
        "f = R / (4 L artanh(dI R / U)), half duty, dI from {ripple_low} to {ripple_high} of "
        "rated current"
    ),
    limit="that band; below it the ripple hammers, above it the spool sticks: a caution",
    source=(
        "closed form of a switched coil; common practice: some tens of percent of ripple at "
        "100-200 Hz"
    ),
    subjects=_coils,
)
def drive_frequency(look: Inspection, function: Function) -> Judgement:
    """Drive frequency against the band that the coil's ripple gives."""
    coil = _coil(function, "frequency", "resistance", "inductance", "rated_current", "supply")
    low, high = frequency_band(look.truck, function)
    value = Amount(float(coil.frequency or 0.0), "frequency")
    change = words(
        "a drive frequency from {low} to {high}",
        low=at_least(low, "frequency"),
        high=at_most(high, "frequency"),
    )
    about = "drive frequency"
    given = {
        "R": Amount(float(coil.resistance or 0.0), "resistance"),
        "L": Amount(float(coil.inductance or 0.0), "inductance"),
        "U": Amount(float(coil.supply or 0.0), "voltage"),
        "rated current": Amount(float(coil.rated_current or 0.0), "current"),
    }
    above = upper(value, Amount(high, "frequency"), about=about, change=change, given=given)
    below = lower(value, Amount(low, "frequency"), about=about, change=change, given=given)
    judged = min(above, below, key=lambda one: one.margin or 0.0)
    return eased(judged)
