"""Catch tests, calibration tables and weighed loads as text and as JSON."""

from __future__ import annotations

import numpy as np

from hydrocheck.report.envelope import column
from hydrocheck.report.shown import shown_json
from hydrocheck.report.text import heading, paragraph, table
from hydrocheck.studies.catchtest import Calibration, CatchTest, Verification
from hydrocheck.units import display_value, show


def _percent(value: float, digits: int = 1, sign: bool = False) -> str:
    return f"{100.0 * value:{'+' if sign else ''}.{digits}f} %" if np.isfinite(value) else "-"


def catch_text(truck: str, test: CatchTest, calibration: Calibration | None, units: str) -> str:
    """What the catches say, beside the size and the truck file, and the classic table."""
    return "\n\n".join(
        [
            heading(f"Catch test of {truck}"),
            _setting_table(test, units),
            paragraph(_mean_said(test, units)),
            *(paragraph(said) for said in _beside(test, units)),
            *([] if calibration is None else [calibration_text(calibration, units)]),
        ]
    )


def _setting_table(test: CatchTest, units: str) -> str:
    rows = []
    for one in test.settings:
        setting = "-" if np.isnan(one.setting) else f"{100.0 * one.setting:.0f} %"
        speed = "-" if np.isnan(one.shaft_speed) else show(one.shaft_speed, "shaft_speed", units)
        mass = "-" if np.isnan(one.discharge) else show(one.discharge, "mass_flow", units)
        rows.append(
            [
                setting,
                str(one.catch.count),
                show(one.catch.mean, "mass_per_rev", units),
                _percent(one.catch.variation),
                speed,
                mass,
            ]
        )
    headers = ["setting", "catches", "discharge per rev", "scatter", "shaft", "discharge"]
    return table(headers, rows, align="rrrrrr")


def _mean_said(test: CatchTest, units: str) -> str:
    """The mean, how well it is known, and how many catches are missing."""
    mean = show(test.catch.mean, "mass_per_rev", units)
    whose = "ordered" if test.accuracy_ordered else "usual, ours"
    wanted = f"{_percent(test.accuracy)} ({whose})"
    if not np.isfinite(test.half_width):
        return f"{mean} from a single catch proves nothing: catch at least two more."
    text = (
        f"{mean} +/- {_percent(test.half_width)} with 95 % confidence (Student's t, scatter of a "
        f"catch {_percent(test.pooled)})."
    )
    if test.proven:
        return f"{text} That proves the accuracy of {wanted}."
    if test.more is None:
        return f"{text} Not proven for {wanted}; no number of such catches would be enough."
    more = f"{test.more} more catch{'es' if test.more > 1 else ''}"
    return f"{text} Not proven for {wanted}: {more} with such scatter would do."


def _beside(test: CatchTest, units: str) -> list[str]:
    """Cautions, and the other sources of the same number."""
    said = []
    if test.outlier_line is not None:
        said.append(
            f"Caution: the catch in line {test.outlier_line} lies too far from the others to be "
            "chance (Grubbs, 5 %). Find the reason, or catch again; it is counted above."
        )
    if test.wide:
        said.append(
            f"Caution: a scatter of {_percent(test.pooled)} is more than catching by pail gives "
            "(1 to 5 %): steady flow first, start and stop on a mark, pails two thirds full."
        )
    if test.by_size is not None and test.size_low is not None and test.size_high is not None:
        low, stated, high = (
            show(v, "mass_per_rev", units) for v in (test.size_low, test.by_size, test.size_high)
        )
        inside = test.size_low <= test.catch.mean <= test.size_high
        fits = "The catches lie within" if inside else "Caution: the catches lie outside"
        filled = "" if test.fill is None else f" They fill {_percent(test.fill, 0)} of the sweep."
        said.append(f"By size: {stated}, {low} to {high} over the range of fill. {fits}.{filled}")
    if test.in_file is not None and test.file_error is not None:
        known = abs(test.file_error) > test.half_width
        said.append(
            f"The truck file has {show(test.in_file, 'mass_per_rev', units)}, "
            f"{_percent(test.file_error, sign=True)} off the mean: "
            + ("set it anew." if known else "no more than the catches leave open.")
        )
    else:
        mean = show(test.catch.mean, "mass_per_rev", units)
        said.append(f'For the truck file: [spreading] mass_per_turn = "{mean}"')
    return said


def calibration_text(found: Calibration, units: str) -> str:
    """The classic table: discharge per turn x turns a minute x minutes for a mile."""
    mass, mile = ("lb", "mile") if units == "us" else ("kg", "km")
    rate = display_value(1.0, "application_rate", units)[1]
    speeds = [show(float(v), "road_speed", units) for v in found.road_speeds]
    length = 1609.344 if units == "us" else 1000.0
    pace = [f"{float(p) * length / 60.0:.2f}" for p in found.pace]
    rows = [["", "", "", f"min/{mile}", *pace]]
    for s, setting in enumerate(found.settings):
        rows.append(
            [
                "-" if np.isnan(setting) else f"{100.0 * setting:.0f} %",
                f"{display_value(float(found.per_turn[s]), 'mass_per_rev', units)[0]:.2f}",
                f"{display_value(float(found.shaft_speed[s]), 'shaft_speed', units)[0]:.1f}",
                f"{display_value(float(found.discharge[s]), 'mass_flow', units)[0]:.1f}",
                *(
                    f"{display_value(float(v), 'application_rate', units)[0]:.0f}"
                    for v in found.rate[s]
                ),
            ]
        )
    headers = ["setting", f"{mass}/rev", "rev/min", f"{mass}/min", *speeds]
    return "\n\n".join(
        [
            heading(f"Calibration in {rate}"),
            paragraph(
                f"{mass}/rev x rev/min gives {mass}/min; times the minutes for a {mile} at each "
                "road speed gives the rate."
            ),
            table(headers, rows, align="r" * len(headers)),
        ]
    )


def loads_text(truck: str, found: Verification, units: str) -> str:
    """Weighed loads against what was ordered."""
    rows = [
        [
            show(float(o), "mass", units),
            show(float(p), "mass", units),
            _percent(float(e), sign=True),
        ]
        for o, p, e in zip(found.ordered, found.put_down, found.error, strict=True)
    ]
    whose = "ordered" if found.accuracy_ordered else "usual, ours"
    verdict = "Every load lies within" if found.good else "Not every load lies within"
    return "\n\n".join(
        [
            heading(f"Weighed loads of {truck}"),
            table(["ordered", "put down", "error"], rows, align="rrr"),
            paragraph(
                f"All together {_percent(found.total, sign=True)}. {verdict} "
                f"{_percent(found.accuracy)} ({whose})."
            ),
        ]
    )


def catch_json(test: CatchTest, calibration: Calibration | None, units: str) -> dict[str, object]:
    """The catch test for the JSON envelope."""
    optional = {"by_size": test.by_size, "size_low": test.size_low, "size_high": test.size_high}
    optional["in_file"] = test.in_file
    return {
        "mean": shown_json(test.catch.mean, "mass_per_rev", units),
        "catches": test.catch.count,
        "scatter": test.pooled,
        "half_width": test.half_width,
        "accuracy": test.accuracy,
        "accuracy_ordered": test.accuracy_ordered,
        "proven": test.proven,
        "more_catches": test.more,
        "outlier_line": test.outlier_line,
        "wide_scatter": test.wide,
        "fill": test.fill,
        "file_error": test.file_error,
        **{
            key: None if value is None else shown_json(value, "mass_per_rev", units)
            for key, value in optional.items()
        },
        "settings": [
            {
                "setting": one.setting,
                "catches": one.catch.count,
                "mean": shown_json(one.catch.mean, "mass_per_rev", units),
                "scatter": one.catch.variation,
                "shaft_speed": shown_json(one.shaft_speed, "shaft_speed", units),
            }
            for one in test.settings
        ],
        "calibration": None
        if calibration is None
        else {
            "settings": column(calibration.settings, "1"),
            "mass_per_turn": column(calibration.per_turn, "kg/rad"),
            "shaft_speed": column(calibration.shaft_speed, "rad/s"),
            "road_speeds": column(calibration.road_speeds, "m/s"),
            "rate": column(calibration.rate, "kg/m"),
        },
    }


def loads_json(found: Verification, units: str) -> dict[str, object]:
    """Weighed loads for the JSON envelope."""
    return {
        "ordered": column(found.ordered, "kg"),
        "put_down": column(found.put_down, "kg"),
        "error": column(found.error, "1"),
        "total_error": shown_json(found.total, "fraction", units),
        "accuracy": shown_json(found.accuracy, "fraction", units),
        "good": found.good,
    }
