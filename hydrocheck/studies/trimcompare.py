"""Trims found on the truck against the predicted ones: do they agree, or what is the difference?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from hydrocheck.model.circuit import Function
from hydrocheck.model.readings import Reading, Readings
from hydrocheck.model.truck import Truck
from hydrocheck.studies.commands import deadband_of
from hydrocheck.studies.trims import Prediction, Trim, trims_at

Which = Literal["minimum", "maximum"]


@dataclass(frozen=True)
class Found:
    """One trim that was found, beside its prediction at the same condition.

    found, predicted: [1]; predicted is nan where no command does it
    half_width: of the difference [1], from the reading and the tolerances of the truck file
    points_to: what a difference points to, empty where they agree
    """

    function: str
    which: Which
    found: float
    predicted: float
    half_width: float
    engine_speed: float
    oil_temperature: float
    hopper: str
    points_to: tuple[str, ...]

    @property
    def agrees(self) -> bool:
        """Whether found and predicted lie within the half width."""
        return bool(abs(self.found - self.predicted) <= self.half_width)


def compare_trims(truck: Truck, prediction: Prediction, readings: Readings) -> tuple[Found, ...]:
    """Every trim among the readings against the prediction at the condition of the reading.

    What a reading does not say is taken as at the reference: low end of the working band, warm oil,
    full hopper. Readings of functions that are not predicted are left out.
    """
    found = []
    for trim in prediction.trims:
        pair = {
            which: _one(truck, prediction, trim, which, reading)
            for which in ("minimum", "maximum")
            if (reading := _last(readings, f"{trim.function} {which} trim")) is not None
        }
        found += [_explained(truck, trim, one, pair) for one in pair.values()]
    return tuple(found)


def _last(readings: Readings, what: str) -> Reading | None:
    """The last reading of one thing: what was set in the end."""
    return next(reversed(readings.of(what)), None)


def _one(truck: Truck, prediction: Prediction, trim: Trim, which: str, reading: Reading) -> Found:
    engine = prediction.engine_speed if reading.at.engine is None else reading.at.engine
    oil = prediction.oil_temperature if reading.at.oil is None else reading.at.oil
    hopper = reading.at.hopper or "full"
    low, high = trims_at(truck, trim.function, float(engine), float(oil), hopper)
    band = trim.minimum_band if which == "minimum" else trim.maximum_band
    return Found(
        trim.function,
        "minimum" if which == "minimum" else "maximum",
        reading.number,
        low if which == "minimum" else high,
        float(np.hypot(reading.uncertainty, band)),
        float(engine),
        float(oil),
        hopper,
        (),
    )


def _explained(truck: Truck, trim: Trim, one: Found, pair: dict[str, Found]) -> Found:
    """The comparison with what its difference points to."""
    if one.agrees:
        return one
    function = truck.function_named(one.function)
    reasons = [*_other_condition(truck, trim, one), *_both(function, one, pair)]
    if not reasons:
        reasons = _low_end(trim, one) if one.which == "minimum" else _high_end(function, trim, one)
    return Found(**{**one.__dict__, "points_to": tuple(reasons)})


def _near(one: Found, value: float) -> bool:
    return bool(abs(one.found - value) <= one.half_width)


def _other_condition(truck: Truck, trim: Trim, one: Found) -> list[str]:
    """Conditions in which the prediction would be what was found."""
    told = []
    if one.hopper == "full":
        empty = trims_at(truck, one.function, one.engine_speed, one.oil_temperature, "empty")
        if _near(one, empty[one.which == "maximum"]):
            told.append("it fits an empty hopper: set it again with the hopper loaded")
    if one.which == "minimum":
        told += _start_words(trim, one)
    return told


def _start_words(trim: Trim, one: Found) -> list[str]:
    """What a minimum says of the start from rest."""
    by_start = bool(trim.grid.by_start[trim.reference])
    if by_start and _near(one, trim.run):
        return ["it keeps a turning shaft turning, but does not start it: add a breakaway boost"]
    if not by_start and trim.start > trim.minimum and _near(one, trim.start):
        return ["it fits a start from rest: the boost is not there or too small"]
    if not by_start and trim.start - one.half_width < one.found < one.predicted:
        return ["the shaft starts there, but turns more slowly than its lowest even speed"]
    return []


def _both(function: Function, one: Found, pair: dict[str, Found]) -> list[str]:
    """A shift of both trims by the same amount is a shift of the deadband."""
    if len(pair) < 2:
        return []
    moves = [p.found - p.predicted for p in pair.values()]
    low, high = pair.values()
    wide = float(np.hypot(low.half_width, high.half_width))
    if not np.isfinite(moves).all() or abs(moves[0] - moves[1]) > wide or moves[0] * moves[1] <= 0:
        return []
    shift = sum(moves) / 2.0
    way = "higher" if shift > 0 else "lower"
    nearer = 100.0 * (deadband_of(function) + shift)
    return [
        f"both trims are {way} by about {abs(100 * shift):.0f} points: the deadband is nearer "
        f"{nearer:.0f} % (spool, coil, or the driver's full current)"
    ]


def _low_end(trim: Trim, one: Found) -> list[str]:
    if one.found > one.predicted:
        return [
            "it takes more flow to turn: a worn motor slips more, a heavier or stiffer load, or "
            "oil hotter than stated; or the deadband is larger than in the truck file"
        ]
    return [
        "it takes less to turn: a lighter load or colder oil than stated, or a smaller deadband"
        + ("; was it tried from rest?" if trim.grid.by_start[trim.reference] else "")
    ]


def _high_end(function: Function, trim: Trim, one: Found) -> list[str]:
    told = []
    if np.isfinite(trim.fed) and one.found > trim.fed + one.half_width:
        told.append(
            f"beyond {100 * trim.fed:.0f} % the pump feeds nothing more at that engine speed: dead "
            "travel, which overspeeds the shaft as soon as the engine turns faster"
        )
    opening, wanted = (u - deadband_of(function) for u in (one.found, one.predicted))
    if opening > 0 and wanted > 0:
        share = 100.0 * abs(wanted / opening - 1.0)
        if one.found > one.predicted:
            told.append(
                f"{share:.0f} % less speed for a command than predicted: a smaller section, a "
                "larger or worn motor, or an engine below the stated speed"
            )
        else:
            told.append(
                f"{share:.0f} % more speed for a command than predicted: a larger section or a "
                "smaller motor than in the truck file, or the wanted speed was not reached"
            )
    return told or ["no command gives the predicted speed here: see the prediction"]
