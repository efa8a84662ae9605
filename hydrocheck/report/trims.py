"""Predicted trims as text and as JSON, with what the valve drive makes of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydrocheck.model.readings import Readings
from hydrocheck.model.truck import Truck
from hydrocheck.report.boost import boost_json, boost_rows
from hydrocheck.report.control import control_json, control_text
from hydrocheck.report.envelope import column
from hydrocheck.report.shown import shown_json
from hydrocheck.report.text import heading, pairs, paragraph, table
from hydrocheck.report.trimgrid import conditions_text, current_columns
from hydrocheck.studies.boosttime import FORMULA as BOOST_TIME
from hydrocheck.studies.boosttime import SOURCE as BOOST_TIME_SOURCE
from hydrocheck.studies.trimcompare import Found, compare_trims
from hydrocheck.studies.trims import Prediction, Trim, predict_trims
from hydrocheck.studies.valvedrive import (
    BOOST,
    BOOST_SOURCE,
    FREQUENCY,
    FREQUENCY_SOURCE,
    ValveDrive,
    valve_drive,
)
from hydrocheck.units import show

TRIMS = (
    "q = D n + slip at the load; command = deadband + (full - deadband) (q / rated flow)^(1/shape)"
    "; the pump's share by the steady state of the whole circuit"
)
TRIMS_SOURCE = "motor speed from flow and displacement; curve of the valve; common practice"
CLOSED = "closed loop: the trims bound what its controller may command"


@dataclass(frozen=True)
class TrimReport:
    """All that the report shows, computed once."""

    truck: Truck
    prediction: Prediction
    found: tuple[Found, ...]
    drives: dict[str, ValveDrive | None]


def study_trims(truck: Truck, readings: Readings | None = None) -> TrimReport:
    """The prediction, the valve drives and the comparison with readings. Raises MissingValue."""
    prediction = predict_trims(truck)
    found = () if readings is None else compare_trims(truck, prediction, readings)
    drives = {
        t.function: valve_drive(truck, truck.function_named(t.function)) for t in prediction.trims
    }
    return TrimReport(truck, prediction, found, drives)


def percent(value: float, band: float = 0.0) -> str:
    """A command as text, with its band where there is one; "-" for none.

    >>> percent(0.379, 0.012), percent(float("nan"))
    ('37.9 +/- 1.2 %', '-')
    """
    if not np.isfinite(value):
        return "-"
    return f"{100 * value:.1f} +/- {100 * band:.1f} %" if band > 0 else f"{100 * value:.1f} %"


def trims_text(report: TrimReport, units: str) -> str:
    """Trims at the reference, each function's reasons and conditions, the control of the truck."""
    prediction = report.prediction
    engine = show(prediction.engine_speed, "shaft_speed", units)
    oil = show(prediction.oil_temperature, "temperature", units)
    parts = [
        heading(f"Trims of {report.truck.name}"),
        paragraph(
            f"Where they should come out at an engine speed of {engine}, oil at {oil}, hopper "
            "full. In percent of full command. " + _band_note(prediction)
        ),
    ]
    if prediction.trims:
        parts.append(_summary(report))
    parts += [_function_text(report, trim, units) for trim in prediction.trims]
    for name, why in prediction.not_predicted:
        parts.append(pairs([(name, f"not predicted: {why}")]))
    if report.found:
        parts.append(_found_text(report.found))
    parts.append(control_text(report.truck, prediction, units))
    parts.append("Formulas and sources\n" + pairs(formula_rows(report.truck), indent=2))
    parts.append(
        paragraph(
            "Set trims with the hopper loaded and the oil warm, two people, clear of auger and "
            "spinner. A component maker's limit comes before any number here. Steady state only."
        )
    )
    return "\n\n".join(part for part in parts if part)


def formula_rows(truck: Truck) -> list[tuple[str, str]]:
    """Formula and source of what is predicted."""
    limits = truck.limits
    ripple = {"low": percent(float(limits.ripple_low)), "high": percent(float(limits.ripple_high))}
    return [
        ("trims", f"{TRIMS} ({TRIMS_SOURCE})"),
        ("boost", f"{BOOST} ({BOOST_SOURCE})"),
        ("boost time", f"{BOOST_TIME} ({BOOST_TIME_SOURCE})"),
        ("frequency", f"{FREQUENCY.format(**ripple)} ({FREQUENCY_SOURCE})"),
    ]


def _band_note(prediction: Prediction) -> str:
    if not prediction.tolerances:
        return "The truck file gives no tolerances, hence no +/- band."
    count = len(prediction.tolerances)
    return f"+/- from {count} tolerance{'' if count == 1 else 's'} of the truck file."


def _summary(report: TrimReport) -> str:
    rows = []
    for trim in report.prediction.trims:
        drive = report.drives[trim.function]
        rows.append(
            [
                trim.function,
                percent(trim.minimum, trim.minimum_band),
                percent(trim.maximum, trim.maximum_band),
                trim.ruled_by,
                _current(drive, trim.minimum, trim.maximum),
            ]
        )
    headers = ["function", "minimum trim", "maximum trim", "maximum ruled by", "coil"]
    return table(headers, rows, align="lrrlr")


def _current(drive: ValveDrive | None, low: float, high: float) -> str:
    if drive is None or drive.rated_current is None or not np.isfinite([low, high]).all():
        return "-"
    return f"{low * drive.rated_current:.2f}-{high * drive.rated_current:.2f} A"


def _function_text(report: TrimReport, trim: Trim, units: str) -> str:
    engine = show(report.prediction.engine_speed, "shaft_speed", units)
    rows = [("set while", beside_words(trim))]
    rows.append(("minimum", minimum_words(trim)))
    rows.append(("maximum", maximum_words(trim)))
    rows.append(("bounds", "; ".join(f"{w.name} {_speed(w.speed)}" for w in trim.wishes)))
    rows.append(("pump", pump_words(trim, engine)))
    if trim.overspeed is not None:
        rows.append(("overspeed", overspeed_words(trim)))
    rows.append(("truck file", _file_words(trim)))
    rows += drive_rows(trim, report.drives[trim.function])
    rows += boost_rows(report.truck, trim)
    if report.truck.function_named(trim.function).loop == "closed":
        rows.append(("loop", CLOSED))
    rows += [("not known", gap) for gap in trim.gaps]
    title = f"{trim.function} ({trim.kind})" if trim.kind != trim.function else trim.function
    return (
        f"{title}\n"
        + pairs(rows, indent=2)
        + "\n"
        + conditions_text(trim, report.drives[trim.function], units)
    )


def beside_words(trim: Trim) -> str:
    """What runs while a function is set."""
    if not trim.beside:
        return "nothing else runs"
    return " and ".join(trim.beside) + (" run" if len(trim.beside) > 1 else " runs")


def _speed(speed: float) -> str:
    return show(speed, "shaft_speed")  # rpm in both systems of units


def minimum_words(trim: Trim) -> str:
    """The minimum trim with its reasons."""
    if not np.isfinite(trim.minimum):
        return "no command turns it at its lowest even speed"
    by_start = bool(trim.grid.by_start[trim.reference])
    text = percent(trim.minimum)
    text += ", to start the load from rest" if by_start else ", at the lowest even speed"
    if by_start:
        text += f" (once turning it holds down to {percent(trim.run)})"
    if not trim.grid.turns[trim.reference]:
        text += "; the supply does not turn it here: its pressure is too low"
    if trim.minimum_hot > trim.minimum + 5e-4:
        text += f"; {percent(trim.minimum_hot)} once the oil is at its hottest"
    if trim.minimum_empty < trim.minimum - 5e-4:
        text += (
            f"; an empty hopper shows only {percent(trim.minimum_empty)}, which does not hold "
            "under load: set it loaded"
        )
    return text


def maximum_words(trim: Trim) -> str:
    """The maximum trim with its reasons."""
    if not np.isfinite(trim.maximum):
        return "none: the other functions already take all that the supply gives"
    at = trim.grid.speed[trim.reference]
    text = f"{percent(trim.maximum)}, {_speed(float(at))} of its shaft, ruled by {trim.ruled_by}"
    if np.isfinite(trim.maximum_hot) and trim.maximum_hot > trim.maximum + 5e-4:
        text += f"; {percent(trim.maximum_hot)} for the same speed with the hottest oil"
    if trim.maximum_empty < trim.maximum - 5e-4:
        text += f"; {percent(trim.maximum_empty)} with an empty hopper"
    return text


def pump_words(trim: Trim, engine: str) -> str:
    """Up to which command everything is fed, and the dead travel beyond."""
    if not np.isfinite(trim.fed):
        return f"at {engine} the others are short even while it stands"
    if not trim.starved:
        return f"feeds its full command at {engine}"
    return (
        f"feeds up to {percent(trim.fed)} at {engine}; beyond, {trim.starved} is short of oil: "
        "dead travel"
    )


def overspeed_words(trim: Trim) -> str:
    """What a trim set on a starved pump does at the highest engine speed."""
    over = trim.overspeed
    assert over is not None
    return (
        f"a trim of {percent(over.command)}, set where the pump starves, turns it at "
        f"{_speed(over.speed)} once the engine reaches {_speed(over.engine_speed)}; its limit is "
        f"{_speed(over.limit)}"
    )


def _file_words(trim: Trim) -> str:
    low, high = (None if v is None else float(v) for v in (trim.file.min, trim.file.max))
    if low is None and high is None:
        return "gives no trims"
    text = f"{'-' if low is None else percent(low)} to {'-' if high is None else percent(high)}"
    if low is not None and low < trim.minimum - max(trim.minimum_band, 5e-4):
        text += "; its minimum is below the predicted one"
    if high is not None and trim.starved and high > trim.fed + 5e-4:
        text += f"; {100 * (high - trim.fed):.0f} points of its travel are dead"
    return text


def drive_rows(trim: Trim, drive: ValveDrive | None) -> list[tuple[str, str]]:
    """Boost and drive frequency of a function, as labels and texts."""
    rows = []
    if np.isfinite(trim.boost):
        asked = (
            f"{100 * trim.boost:.1f} points beyond a command that just keeps it turning, for a "
            "start from rest with the hottest oil"
            if trim.boost > 5e-4
            else "none needed: the command that keeps it turning also starts it"
        )
        if drive is not None and drive.boost is not None:
            enough = "enough" if drive.boost >= trim.boost - 5e-4 else "too small"
            lasts = "" if drive.boost_time is None else f" for {drive.boost_time:.2g} s"
            asked += f"; the truck file gives {100 * drive.boost:.1f}{lasts}, {enough}"
        rows.append(("boost", asked))
    if drive is None:
        return rows
    pairs_of = [drive.duties(u) for u in (trim.minimum, trim.maximum) if np.isfinite(u)]
    if len(pairs_of) == 2 and None not in pairs_of:
        (cold, hot), (more, most) = (pair for pair in pairs_of if pair is not None)
        text = (
            f"{100 * cold:.0f} % to {100 * more:.0f} % with a coil at 20 degC, {100 * hot:.0f} % "
            f"to {100 * most:.0f} % with a hot one: trims set cold come out low when it is hot"
        )
        rows.append(("duty", text))
    if drive.low is None or drive.high is None:
        rows.append(("frequency", "not known: needs " + ", ".join(drive.gaps)))
        return rows
    text = f"{drive.low:.0f} to {drive.high:.0f} Hz suit the coil"
    if drive.frequency is not None:
        inside = drive.low <= drive.frequency <= drive.high
        text += f"; {drive.frequency:.0f} Hz is set, {'inside' if inside else 'outside'}"
    rows.append(("frequency", text))
    return rows


def _found_text(found: tuple[Found, ...]) -> str:
    rows = []
    for one in found:
        verdict = "agrees" if one.agrees else "; ".join(one.points_to)
        rows.append(
            [
                f"{one.function} {one.which}",
                percent(one.found),
                percent(one.predicted),
                f"{100 * one.half_width:.1f}",
                verdict,
            ]
        )
    headers = ["found on the truck", "found", "predicted", "+/-", "points to"]
    return table(headers, rows, align="lrrrl")


def trims_json(report: TrimReport, units: str) -> dict[str, object]:
    """The prediction for the JSON envelope."""
    prediction = report.prediction
    return {
        "engine_speed": shown_json(prediction.engine_speed, "shaft_speed", units),
        "oil_temperature": shown_json(prediction.oil_temperature, "temperature", units),
        "hopper": "full",
        "tolerances": list(prediction.tolerances),
        "functions": {t.function: _trim_json(report, t, units) for t in prediction.trims},
        "not_predicted": dict(prediction.not_predicted),
        "found": [_found_json(one, units) for one in report.found],
        "control": control_json(report.truck, prediction, units),
    }


def _fraction(value: float, units: str) -> dict[str, object] | None:
    return dict(shown_json(value, "fraction", units)) if np.isfinite(value) else None


def _trim_json(report: TrimReport, trim: Trim, units: str) -> dict[str, object]:
    drive, grid = report.drives[trim.function], trim.grid
    keys = ("minimum", "maximum", "minimum_band", "maximum_band", "minimum_hot", "maximum_hot")
    more = ("minimum_empty", "maximum_empty", "run", "start", "fed", "boost")
    over = trim.overspeed
    return {
        "kind": trim.kind,
        "set_while": list(trim.beside),
        **{key: _fraction(getattr(trim, key), units) for key in (*keys, *more)},
        "ruled_by": trim.ruled_by,
        "starved": trim.starved,
        "bounds": {w.name: shown_json(w.speed, "shaft_speed", units) for w in trim.wishes},
        "overspeed": None
        if over is None
        else {
            "command": _fraction(over.command, units),
            "speed": shown_json(over.speed, "shaft_speed", units),
            "limit": shown_json(over.limit, "shaft_speed", units),
            "engine_speed": shown_json(over.engine_speed, "shaft_speed", units),
        },
        "coil": _drive_json(trim, drive, units),
        "boost_time": boost_json(report.truck, trim, units),
        "gaps": list(trim.gaps),
        "conditions": {
            "engine_speed": column(grid.engine_speed, "rad/s"),
            "oil_temperature": column(grid.oil_temperature, "K"),
            "hopper": ["full" if full else "empty" for full in grid.full],
            "minimum": column(grid.minimum, "1"),
            "turns": [bool(turns) for turns in grid.turns],
            "maximum": column(grid.maximum, "1"),
            "fed": column(grid.fed, "1"),
            "ruled_by": list(grid.ruled_by),
            "speed": column(grid.speed, "rad/s"),
            **current_columns(grid, drive),
        },
    }


def _drive_json(trim: Trim, drive: ValveDrive | None, units: str) -> dict[str, object] | None:
    if drive is None:
        return None

    def amount(value: float | None, kind: str) -> dict[str, object] | None:
        known = value is not None and np.isfinite(value)
        return dict(shown_json(float(value or 0.0), kind, units)) if known else None

    return {
        "holds": drive.holds or None,
        "current_at_minimum": amount(drive.current(trim.minimum), "current"),
        "current_at_maximum": amount(drive.current(trim.maximum), "current"),
        "frequency": amount(drive.frequency, "frequency"),
        "lowest_frequency": amount(drive.low, "frequency"),
        "highest_frequency": amount(drive.high, "frequency"),
        "boost": amount(drive.boost, "fraction"),
        "formula": {"frequency": FREQUENCY, "boost": BOOST},
        "source": {"frequency": FREQUENCY_SOURCE, "boost": BOOST_SOURCE},
        "needs": list(drive.gaps),
    }


def _found_json(one: Found, units: str) -> dict[str, object]:
    return {
        "function": one.function,
        "which": one.which,
        "found": _fraction(one.found, units),
        "predicted": _fraction(one.predicted, units),
        "half_width": _fraction(one.half_width, units),
        "engine_speed": shown_json(one.engine_speed, "shaft_speed", units),
        "oil_temperature": shown_json(one.oil_temperature, "temperature", units),
        "hopper": one.hopper,
        "agrees": one.agrees,
        "points_to": list(one.points_to),
    }
