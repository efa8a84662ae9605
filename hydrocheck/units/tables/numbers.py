"""Kinds without a dimension: fractions, ratios, counts, angles."""

from __future__ import annotations

from math import pi
from typing import Final

from hydrocheck.units.factors import TURN
from hydrocheck.units.kind import Display, Kind, si, us

_ONE: Final = us(1.0, "dimensionless", "1")
_PERCENT: Final = us(0.01, "percent", "%")

KINDS: Final = (
    Kind(
        "fraction", "fraction", "1", "dimensionless",
        (_PERCENT, us(0.01, "percent", "% by weight", "% by mass"), _ONE),
        us=Display("%", 1), metric=Display("%", 1), negative=True, plain=True,
    ),
    Kind(
        "ratio", "ratio", "1", "dimensionless",
        (_ONE, _PERCENT),
        us=Display("1", 3), metric=Display("1", 3), plain=True,
    ),
    Kind(
        "count", "whole number", "1", "dimensionless",
        (_ONE,),
        us=Display("1", 0), metric=Display("1", 0), plain=True,
    ),
    Kind(
        "specific_gravity", "specific gravity", "1", "dimensionless",
        (_ONE,),
        us=Display("1", 3), metric=Display("1", 3), plain=True,
        refused={"%": "a specific gravity is a plain number such as 0.87"},
    ),
    Kind(
        "brine_saturation", "brine saturation", "1", "dimensionless",
        (us(0.01, "percent", "degS", "deg S", "deg salometer"), _PERCENT, _ONE),
        us=Display("degS", 1), metric=Display("degS", 1),
    ),
    Kind(
        "angle", "angle", "rad", "radian",
        (
            us(pi / 180.0, "degree", "deg"),
            us(1.0, "radian", "rad"),
            us(TURN, "revolution", "rev"),
            si(1e-3, "milliradian", "mrad"),
        ),
        us=Display("deg", 1), metric=Display("deg", 1), negative=True, angle=(1,),
        refused={
            "%": "an angle is given in deg or rad; a grade in percent is a fraction",
            "F": "deg F is a temperature; an angle is written deg",
            "C": "deg C is a temperature; an angle is written deg",
        },
    ),
)  # fmt: skip
