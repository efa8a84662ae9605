"""Kinds of spread material and liquid."""

from __future__ import annotations

from typing import Final

from hydrocheck.units.factors import (
    FOOT,
    GALLON,
    HOUR,
    IMPERIAL_GALLON,
    INCH,
    LITRE,
    LONG_TON,
    MILE,
    MINUTE,
    OUNCE,
    POUND,
    SHORT_TON,
    TONNE,
    TURN,
    YARD,
)
from hydrocheck.units.kind import Display, Kind, si, us

_TWO_LANE: Final = dict.fromkeys(
    ("lb/two-lane mile", "lb/two-lane-mile", "lb/2-lane mile", "lb/2 lane mile",
     "kg/two-lane km", "gal/two-lane mile"),
    "rates are per lane here: halve a rate per two-lane mile",
)  # fmt: skip

KINDS: Final = (
    Kind(
        "mass_flow", "mass flow", "kg/s", "kilogram/second",
        (
            us(POUND / MINUTE, "pound/minute", "lb/min"),
            us(1.0 / MINUTE, "kilogram/minute", "kg/min"),
            us(SHORT_TON / HOUR, "short_ton/hour", "ton/h", "tph"),
            us(POUND, "pound/second", "lb/s"),
            us(POUND / HOUR, "pound/hour", "lb/h"),
            us(1.0, "kilogram/second", "kg/s"),
            us(1.0 / HOUR, "kilogram/hour", "kg/h"),
            si(TONNE / HOUR, "metric_ton/hour", "tonne/h", "t/h"),
            us(LONG_TON / HOUR, "long_ton/hour", "long ton/h"),
        ),
        us=Display("lb/min", 1), metric=Display("kg/min", 1),
    ),
    Kind(
        "mass_per_rev", "discharge per revolution", "kg/rad", "kilogram/radian",
        (
            us(POUND / TURN, "pound/revolution", "lb/rev"),
            us(1.0 / TURN, "kilogram/revolution", "kg/rev"),
            us(1.0, "kilogram/radian", "kg/rad"),
        ),
        us=Display("lb/rev", 2), metric=Display("kg/rev", 3), angle=(-1,),
        refused=dict.fromkeys(("lb", "kg"), "a discharge per revolution is written lb/rev, kg/rev"),
    ),
    Kind(
        "application_rate", "application rate", "kg/m", "kilogram/meter",
        (
            us(POUND / MILE, "pound/mile", "lb/lane-mile", "lb/mi"),
            us(1e-3, "kilogram/kilometer", "kg/lane-km", "kg/km"),
            us(1.0, "kilogram/meter", "kg/m"),
        ),
        us=Display("lb/lane-mile", 0), metric=Display("kg/lane-km", 1), refused=_TWO_LANE,
    ),
    Kind(
        "area_rate", "area rate", "kg/m2", "kilogram/meter**2",
        (
            si(1e-3, "gram/meter**2", "g/m2"),
            us(POUND / (1000.0 * FOOT * FOOT), "millipound/foot**2", "lb/1000 ft2"),
            us(POUND / (FOOT * FOOT), "pound/foot**2", "lb/ft2"),
            us(OUNCE / (YARD * YARD), "ounce/yard**2", "oz/yd2"),
            us(POUND / (YARD * YARD), "pound/yard**2", "lb/yd2"),
            us(1.0, "kilogram/meter**2", "kg/m2"),
        ),
        us=Display("lb/1000 ft2", 2), metric=Display("g/m2", 1),
    ),
    Kind(
        "spread_width", "width on the road", "m", "meter",
        (
            us(FOOT, "foot", "ft", "'"),
            us(INCH, "inch", "in", '"'),
            us(YARD, "yard", "yd"),
            us(1e-2, "centimeter", "cm"),
            si(1.0, "meter", "m"),
        ),
        us=Display("ft", 1), metric=Display("m", 2),
    ),
    Kind(
        "liquid_per_mass", "liquid per mass", "m3/kg", "meter**3/kilogram",
        (
            us(GALLON / SHORT_TON, "gallon/short_ton", "gal/ton"),
            si(LITRE / TONNE, "liter/metric_ton", "L/t", "L/tonne", "l/t"),
            us(IMPERIAL_GALLON / TONNE, "imperial_gallon/metric_ton", "imp gal/tonne"),
            us(GALLON / POUND, "gallon/pound", "gal/lb"),
            us(LITRE, "liter/kilogram", "L/kg"),
            us(1.0, "meter**3/kilogram", "m3/kg"),
        ),
        us=Display("gal/ton", 1), metric=Display("L/t", 1),
    ),
    Kind(
        "liquid_rate", "liquid rate", "m3/m", "meter**2",
        (
            us(GALLON / MILE, "gallon/mile", "gal/lane-mile", "gal/mi"),
            us(LITRE / 1e3, "liter/kilometer", "L/lane-km", "L/km"),
            us(1.0, "meter**3/meter", "m3/m"),
        ),
        us=Display("gal/lane-mile", 1), metric=Display("L/lane-km", 1), refused=_TWO_LANE,
    ),
)  # fmt: skip
