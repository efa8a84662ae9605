"""Kinds of length, motion, mass, force, torque and power."""

from __future__ import annotations

from typing import Final

from hydrocheck.units.factors import (
    BTU,
    CUBIC_CM,
    CUBIC_FOOT,
    CUBIC_INCH,
    CUBIC_YARD,
    ELECTRICAL_HORSEPOWER,
    FOOT,
    GALLON,
    GRAVITY,
    HORSEPOWER,
    HOUR,
    IMPERIAL_GALLON,
    INCH,
    KGF,
    LBF,
    LITRE,
    LONG_TON,
    METRIC_HORSEPOWER,
    MILE,
    MINUTE,
    OUNCE,
    POUND,
    SHORT_TON,
    TONNE,
    TURN,
    YARD,
)
from hydrocheck.units.kind import Display, Kind, Unit, si, us

_BTU: Final = "international_british_thermal_unit"

_INCH: Final = Unit(("in", '"'), INCH, "inch", fractions=True)

VOLUME: Final = (
    us(CUBIC_INCH, "inch**3", "in3", "cu in", "ci"),
    us(GALLON, "gallon", "gal"),
    us(CUBIC_CM, "centimeter**3", "cm3", "cc"),
    us(LITRE, "liter", "L"),
    us(CUBIC_FOOT, "foot**3", "ft3"),
    us(CUBIC_YARD, "yard**3", "yd3"),
    us(GALLON / 4.0, "quart", "qt"),
    us(GALLON / 8.0, "pint", "pt"),
    us(GALLON / 128.0, "fluid_ounce", "fl oz"),
    us(IMPERIAL_GALLON, "imperial_gallon", "imp gal"),
    si(CUBIC_CM, "milliliter", "mL", "ml"),
    si(1.0, "meter**3", "m3"),
    si(1e-9, "millimeter**3", "mm3"),
)

_HZ: Final = (
    "Hz, 1/s and counts do not say whether a turn or a radian is meant (a factor of 2 pi); "
    "write rpm or rev/s"
)
_LANE_MILE: Final = "a lane-mile is no length; give miles, and the number of lanes on its own"

KINDS: Final = (
    Kind(
        "length", "length", "m", "meter",
        (
            _INCH,
            us(FOOT, "foot", "ft", "'"),
            si(1e-3, "millimeter", "mm"),
            us(1e-2, "centimeter", "cm"),
            si(1.0, "meter", "m"),
            us(YARD, "yard", "yd"),
            us(MILE, "mile", "mi"),
            us(1e3, "kilometer", "km"),
            si(1e-6, "micrometer", "um", "micron"),
        ),
        us=Display("in", 2), metric=Display("mm", 1), negative=True,
        refused={
            "lane-mile": _LANE_MILE, "lane": _LANE_MILE, "lane-km": _LANE_MILE,
            "mil": "mil is a thousandth of an inch to some and a millimetre to others; "
            "write in or mm",
        },
    ),
    Kind(
        "distance", "distance", "m", "meter",
        (
            us(MILE, "mile", "mi"),
            us(1e3, "kilometer", "km"),
            us(FOOT, "foot", "ft"),
            si(1.0, "meter", "m"),
            us(YARD, "yard", "yd"),
        ),
        us=Display("mi", 2), metric=Display("km", 2),
        refused={"lane-mile": _LANE_MILE, "lane": _LANE_MILE, "lane-km": _LANE_MILE},
    ),
    Kind(
        "area", "area", "m2", "meter**2",
        (
            us(INCH * INCH, "inch**2", "in2"),
            us(FOOT * FOOT, "foot**2", "ft2"),
            us(1e-4, "centimeter**2", "cm2"),
            si(1e-6, "millimeter**2", "mm2"),
            si(1.0, "meter**2", "m2"),
            us(YARD * YARD, "yard**2", "yd2"),
        ),
        us=Display("in2", 2), metric=Display("cm2", 1),
    ),
    Kind(
        "volume", "volume", "m3", "meter**3",
        VOLUME,
        us=Display("gal", 2), metric=Display("L", 1),
    ),
    Kind(
        "mass", "mass", "kg", "kilogram",
        (
            us(POUND, "pound", "lb"),
            us(1.0, "kilogram", "kg"),
            us(SHORT_TON, "short_ton", "ton", "short ton"),
            si(TONNE, "metric_ton", "tonne", "t", "metric ton"),
            us(LONG_TON, "long_ton", "long ton"),
            us(OUNCE, "ounce", "oz"),
            si(1e-3, "gram", "g"),
        ),
        us=Display("lb", 1), metric=Display("kg", 1),
        refused={"T": "T may be a ton or a tonne; write ton (2000 lb) or tonne (1000 kg)"},
    ),
    Kind(
        "time", "time", "s", "second",
        (
            us(1.0, "second", "s"),
            us(MINUTE, "minute", "min"),
            si(HOUR, "hour", "h", "hr"),
            si(1e-3, "millisecond", "ms"),
        ),
        us=Display("s", 1), metric=Display("s", 1),
        refused={"m": "m is a metre; minutes are written min"},
    ),
    Kind(
        "shaft_speed", "shaft speed", "rad/s", "radian/second",
        (
            us(TURN / MINUTE, "revolution/minute", "rpm", "rev/min", "r/min"),
            us(TURN, "revolution/second", "rev/s", "rps", "r/s"),
            us(1.0, "radian/second", "rad/s"),
        ),
        us=Display("rpm", 0), metric=Display("rpm", 0), negative=True, angle=(1,),
        refused=dict.fromkeys(
            ("Hz", "1/s", "s-1", "1/min", "min-1", "cps", "cpm", "count/min", "count/s", "pulse/s",
             "cycle/s", "cycle/min"),
            _HZ,
        ) | dict.fromkeys(("rev", "pulse"), "a shaft speed is turns per time; write rpm or rev/s"),
    ),
    Kind(
        "velocity", "velocity", "m/s", "meter/second",
        (
            us(FOOT, "foot/second", "ft/s", "fps"),
            si(1.0, "meter/second", "m/s"),
            us(FOOT / MINUTE, "foot/minute", "ft/min", "fpm"),
            us(INCH, "inch/second", "in/s", "ips"),
            us(INCH / MINUTE, "inch/minute", "in/min"),
            si(1e-3, "millimeter/second", "mm/s"),
            us(1e-2, "centimeter/second", "cm/s"),
            si(1.0 / MINUTE, "meter/minute", "m/min"),
        ),
        us=Display("ft/s", 2), metric=Display("m/s", 2), negative=True,
    ),
    Kind(
        "road_speed", "road speed", "m/s", "meter/second",
        (
            us(MILE / HOUR, "mile/hour", "mph", "mi/h"),
            us(1e3 / HOUR, "kilometer/hour", "km/h", "kph", "kmh", "kmph"),
            si(1.0, "meter/second", "m/s"),
            us(FOOT, "foot/second", "ft/s"),
        ),
        us=Display("mph", 1), metric=Display("km/h", 1),
        refused={"mpg": "mpg is fuel use; a road speed is written mph or km/h"},
    ),
    Kind(
        "pace", "time per distance", "s/m", "second/meter",
        (
            us(MINUTE / MILE, "minute/mile", "min/mile"),
            us(MINUTE / 1e3, "minute/kilometer", "min/km"),
            si(1.0, "second/meter", "s/m"),
        ),
        us=Display("min/mile", 2), metric=Display("min/km", 2),
    ),
    Kind(
        "acceleration", "acceleration", "m/s2", "meter/second**2",
        (
            us(FOOT, "foot/second**2", "ft/s2"),
            si(1.0, "meter/second**2", "m/s2"),
            si(GRAVITY, "standard_gravity", "g"),
        ),
        us=Display("ft/s2", 2), metric=Display("m/s2", 2), negative=True,
    ),
    Kind(
        "force", "force", "N", "newton",
        (
            us(LBF, "force_pound", "lbf", "lb force"),
            si(1.0, "newton", "N"),
            si(1e3, "kilonewton", "kN", "KN"),
            si(10.0, "decanewton", "daN"),
            us(KGF, "force_kilogram", "kgf"),
        ),
        us=Display("lbf", 0), metric=Display("N", 0), negative=True,
        refused=dict.fromkeys(
            ("lb", "#"), "lb is a mass; a force or the weight on a cylinder is written lbf"
        ) | dict.fromkeys(("kg", "ton", "t"), "a mass is no force; write lbf, N or kN"),
    ),
    Kind(
        "torque", "torque", "N m", "newton*meter",
        (
            us(LBF * FOOT, "force_pound*foot", "lb-ft", "ft-lb", "lbf-ft", "ft-lbf", "lbft",
               "ftlb", "lbfft", "ftlbf"),
            us(LBF * INCH, "force_pound*inch", "lb-in", "in-lb", "lbf-in", "in-lbf", "lbin",
               "inlb", "inlbf"),
            si(1.0, "newton*meter", "N m", "Nm"),
            si(1e3, "kilonewton*meter", "kN m", "kNm"),
            si(10.0, "decanewton*meter", "daN m", "daNm"),
            us(KGF, "force_kilogram*meter", "kgf m"),
            us(LBF * INCH / 16.0, "force_ounce*inch", "ozf-in", "oz-in"),
        ),
        us=Display("lb-ft", 1), metric=Display("N m", 1), negative=True, angle=(0, -1),
        refused=dict.fromkeys(
            ("J", "kJ", "Btu", "kWh", "Wh"), "an energy is no torque, though the dimension agrees"
        ),
    ),
    Kind(
        "energy", "energy", "J", "joule",
        (
            us(BTU, _BTU, "Btu", "Btu_IT"),
            us(HORSEPOWER * HOUR, "horsepower*hour", "hp-h"),
            si(1.0, "joule", "J"),
            si(1e3, "kilojoule", "kJ"),
            si(3.6e6, "kilowatt*hour", "kWh", "kW h"),
        ),
        us=Display("Btu", 1), metric=Display("kJ", 1), negative=True,
        refused=dict.fromkeys(
            ("lb-ft", "ft-lb", "lbf-ft", "ft-lbf", "in-lb", "lb-in", "N m", "Nm"),
            "a torque is no energy, though the dimension agrees",
        ),
    ),
    Kind(
        "power", "power", "W", "watt",
        (
            us(HORSEPOWER, "horsepower", "hp"),
            us(1e3, "kilowatt", "kW"),
            si(1.0, "watt", "W"),
            us(METRIC_HORSEPOWER, "metric_horsepower", "metric hp"),
            si(METRIC_HORSEPOWER, "metric_horsepower", "PS"),
            us(ELECTRICAL_HORSEPOWER, "electrical_horsepower", "electrical hp"),
        ),
        us=Display("hp", 1), metric=Display("kW", 2), negative=True,
        refused={
            "water hp": "one horsepower only: hp is mechanical, 550 ft-lbf/s",
            "boiler hp": "one horsepower only: hp is mechanical, 550 ft-lbf/s",
        },
    ),
    Kind(
        "stiffness", "stiffness", "N/m", "newton/meter",
        (
            us(LBF / INCH, "force_pound/inch", "lbf/in", "lb/in"),
            si(1e3, "newton/millimeter", "N/mm"),
            si(1.0, "newton/meter", "N/m"),
            us(LBF / FOOT, "force_pound/foot", "lbf/ft"),
        ),
        us=Display("lbf/in", 1), metric=Display("N/mm", 2),
    ),
)  # fmt: skip
