"""Kinds of pressure, flow, displacement and oil."""

from __future__ import annotations

from typing import Final

from hydrocheck.units.factors import (
    ATMOSPHERE,
    BAR,
    CUBIC_CM,
    CUBIC_FOOT,
    CUBIC_INCH,
    CUBIC_YARD,
    FOOT,
    GALLON,
    HOUR,
    IMPERIAL_GALLON,
    INCH,
    INCH_HG,
    INCH_WATER,
    KGF,
    KPA,
    LITRE,
    MINUTE,
    MM_HG,
    MPA,
    POUND,
    PSI,
    TURN,
)
from hydrocheck.units.kind import Curve, Display, Kind, Unit, each_over, si, us
from hydrocheck.units.saybolt import seconds_from_viscosity, viscosity_from_seconds
from hydrocheck.units.tables.mechanical import VOLUME

_PRESSURE: Final = (
    us(PSI, "psi", "psi", "lbf/in2", "lb/in2"),
    us(BAR, "bar", "bar"),
    us(KPA, "kilopascal", "kPa"),
    si(MPA, "megapascal", "MPa"),
    si(1.0, "pascal", "Pa"),
    us(INCH_HG, "inch_Hg", "inHg", "in Hg", "inHg conventional"),
    us(MM_HG, "mmHg", "mmHg", "mm Hg"),
    us(INCH_WATER, "inch_H2O", "inH2O", "in H2O"),
    si(100.0, "millibar", "mbar"),
    us(KGF * 1e4, "force_kilogram/centimeter**2", "kgf/cm2"),
)
_GAUGE: Final = (
    us(PSI, "psi", "psig", "psi gauge", "psi g"),
    us(BAR, "bar", "barg", "bar gauge"),
    us(KPA, "kilopascal", "kPa gauge", "kPag"),
)
_ABSOLUTE_WORDS: Final = (
    "psia", "psi abs", "psi absolute", "bara", "bar abs", "bar absolute", "kPa abs",
    "kPa absolute", "kPaa", "inHg abs", "in Hg abs", "inHg absolute", "mbar abs",
)  # fmt: skip
_NOT_ABSOLUTE: Final = dict.fromkeys(
    _ABSOLUTE_WORDS, "that is an absolute pressure; a gauge pressure is expected here (psi, bar)"
)
_NOT_GAUGE: Final = dict.fromkeys(
    ("psig", "psi gauge", "barg", "bar gauge", "kPag", "kPa gauge"),
    "that is a gauge pressure; an absolute pressure is expected here (psia, bar abs)",
) | dict.fromkeys(
    ("psi", "bar", "kPa", "MPa", "Pa", "inHg", "mbar", "mmHg"),
    "without more it is a gauge pressure; an absolute pressure is written psia, bar abs, kPa abs",
)

_FLOW: Final = (
    us(GALLON / MINUTE, "gallon/minute", "gal/min", "gpm"),
    us(LITRE / MINUTE, "liter/minute", "L/min", "lpm"),
    us(LITRE, "liter/second", "L/s"),
    us(LITRE / HOUR, "liter/hour", "L/h"),
    si(1.0 / HOUR, "meter**3/hour", "m3/h"),
    si(1.0 / MINUTE, "meter**3/minute", "m3/min"),
    si(1.0, "meter**3/second", "m3/s"),
    us(CUBIC_CM, "centimeter**3/second", "cm3/s"),
    us(CUBIC_CM / MINUTE, "centimeter**3/minute", "cm3/min", "ccm/min"),
    si(CUBIC_CM / MINUTE, "milliliter/minute", "mL/min", "ml/min"),
    us(CUBIC_INCH, "inch**3/second", "in3/s"),
    us(CUBIC_INCH / MINUTE, "inch**3/minute", "in3/min", "cim"),
    us(CUBIC_FOOT, "foot**3/second", "ft3/s", "cfs"),
    us(CUBIC_FOOT / MINUTE, "foot**3/minute", "ft3/min", "cfm"),
    us(CUBIC_FOOT / HOUR, "foot**3/hour", "ft3/h"),
    us(GALLON, "gallon/second", "gal/s"),
    us(GALLON / HOUR, "gallon/hour", "gal/h", "gph"),
    us(IMPERIAL_GALLON / MINUTE, "imperial_gallon/minute", "imp gal/min"),
)

_LITRE_MINUTE: Final = LITRE / MINUTE
_GPM: Final = GALLON / MINUTE

KINDS: Final = (
    Kind(
        "pressure", "pressure", "Pa", "pascal",
        (*_PRESSURE, *_GAUGE),
        us=Display("psi", 0), metric=Display("bar", 1), negative=True, refused=_NOT_ABSOLUTE,
    ),
    Kind(
        "pressure_drop", "pressure drop", "Pa", "pascal",
        (*_PRESSURE, us(PSI, "psi", "psid")),
        us=Display("psi", 1), metric=Display("bar", 2), negative=True,
        refused=dict.fromkeys(
            _ABSOLUTE_WORDS, "a pressure drop is a difference, neither gauge nor absolute: psi, bar"
        ),
    ),
    Kind(
        "absolute_pressure", "absolute pressure", "Pa", "pascal",
        (
            us(PSI, "psi", "psia", "psi abs", "psi absolute"),
            us(BAR, "bar", "bar abs", "bara", "bar absolute"),
            us(KPA, "kilopascal", "kPa abs", "kPaa", "kPa absolute"),
            si(1.0, "pascal", "Pa abs"),
            us(INCH_HG, "inch_Hg", "inHg abs", "in Hg abs", "inHg absolute"),
            us(MM_HG, "mmHg", "mmHg abs"),
            si(100.0, "millibar", "mbar abs"),
            us(ATMOSPHERE, "atmosphere", "atm"),
        ),
        us=Display("psia", 2), metric=Display("bar abs", 3), refused=_NOT_GAUGE,
    ),
    Kind(
        "vacuum", "vacuum", "Pa", "pascal",
        (
            us(INCH_HG, "inch_Hg", "inHg", "in Hg", "inHg vac", "inHg vacuum", "in Hg vacuum"),
            us(PSI, "psi", "psi", "psi vac"),
            us(BAR, "bar", "bar", "bar vac"),
            us(KPA, "kilopascal", "kPa", "kPa vac"),
            us(MM_HG, "mmHg", "mmHg", "mm Hg"),
            si(100.0, "millibar", "mbar"),
            us(INCH_WATER, "inch_H2O", "inH2O", "in H2O"),
            si(1.0, "pascal", "Pa"),
        ),
        us=Display("inHg", 1), metric=Display("kPa", 1),
        refused=dict.fromkeys(
            _ABSOLUTE_WORDS, "a vacuum is counted downward from the atmosphere: inHg, kPa"
        ),
    ),
    Kind(
        "flow", "flow", "m3/s", "meter**3/second",
        _FLOW,
        us=Display("gal/min", 1), metric=Display("L/min", 1), negative=True,
        refused={"gal": "a flow is a volume per time: gal/min"},
    ),
    Kind(
        "displacement", "displacement", "m3/rad", "meter**3/radian",
        (
            *each_over(VOLUME, "/rev", TURN, "revolution"),
            us(CUBIC_INCH / TURN, "inch**3/revolution", "cir", "cid"),
            # A displacement without "/rev" is per revolution: that is how the trade says it.
            *each_over(VOLUME, "", TURN, "revolution"),
            *each_over(VOLUME, "/rad", 1.0, "radian"),
        ),
        us=Display("in3/rev", 3), metric=Display("cm3/rev", 2), angle=(-1,),
    ),
    Kind(
        "kinematic_viscosity", "kinematic viscosity", "m2/s", "meter**2/second",
        (
            us(1e-6, "centistokes", "cSt"),
            Unit(
                ("SUS", "SSU"), 0.0, "",
                curve=Curve(viscosity_from_seconds, seconds_from_viscosity),
            ),
            si(1e-6, "millimeter**2/second", "mm2/s"),
            si(1e-4, "stokes", "St"),
            us(1e-4, "centimeter**2/second", "cm2/s"),
            us(INCH * INCH, "inch**2/second", "in2/s"),
            us(FOOT * FOOT, "foot**2/second", "ft2/s"),
            si(1.0, "meter**2/second", "m2/s"),
        ),
        us=Display("cSt", 1), metric=Display("cSt", 1),
        refused={"cS": "cS is centisiemens; viscosity is written cSt"},
    ),
    Kind(
        "dynamic_viscosity", "dynamic viscosity", "Pa s", "pascal*second",
        (
            us(1e-3, "centipoise", "cP", "cps"),
            si(1e-3, "millipascal*second", "mPa s"),
            si(1.0, "pascal*second", "Pa s"),
            si(0.1, "poise", "P"),
        ),
        us=Display("cP", 1), metric=Display("cP", 1),
    ),
    Kind(
        "density", "density", "kg/m3", "kilogram/meter**3",
        (
            us(POUND / CUBIC_FOOT, "pound/foot**3", "lb/ft3", "pcf"),
            us(1.0, "kilogram/meter**3", "kg/m3"),
            us(POUND / CUBIC_YARD, "pound/yard**3", "lb/yd3"),
            us(POUND / CUBIC_INCH, "pound/inch**3", "lb/in3"),
            us(POUND / GALLON, "pound/gallon", "lb/gal", "lb/min per gpm"),
            si(1e3, "gram/centimeter**3", "g/cm3", "g/mL", "g/ml"),
            us(1e3, "kilogram/liter", "kg/L"),
            si(1e3, "metric_ton/meter**3", "t/m3"),
        ),
        us=Display("lb/ft3", 1), metric=Display("kg/m3", 0),
    ),
    Kind(
        "specific_volume", "volume per mass", "m3/kg", "meter**3/kilogram",
        (
            us(CUBIC_FOOT / (2000.0 * POUND), "foot**3/short_ton", "ft3/ton"),
            us(CUBIC_FOOT / POUND, "foot**3/pound", "ft3/lb"),
            us(CUBIC_YARD / (2000.0 * POUND), "yard**3/short_ton", "yd3/ton"),
            si(1e-3, "meter**3/metric_ton", "m3/t"),
            us(1.0, "meter**3/kilogram", "m3/kg"),
        ),
        us=Display("ft3/ton", 1), metric=Display("m3/t", 3),
    ),
    Kind(
        "flow_coefficient", "flow coefficient", "m3/(s Pa^0.5)",
        "meter**3/second/pascal**0.5",
        (
            us(_GPM / PSI**0.5, "gallon/minute/psi**0.5", "gpm/psi^0.5", "gal/min/psi^0.5"),
            us(_LITRE_MINUTE / BAR**0.5, "liter/minute/bar**0.5", "L/min/bar^0.5", "lpm/bar^0.5"),
            us(1.0 / HOUR / BAR**0.5, "meter**3/hour/bar**0.5", "m3/h/bar^0.5"),
            si(1.0, "meter**3/second/pascal**0.5", "m3/(s Pa^0.5)"),
        ),
        us=Display("gpm/psi^0.5", 3), metric=Display("L/min/bar^0.5", 2),
    ),
    Kind(
        "slip_per_pressure", "slip per pressure", "m3/(s Pa)", "meter**3/second/pascal",
        (
            us(_GPM / PSI, "gallon/minute/psi", "gpm/psi", "gal/min/psi"),
            us(_GPM / (1000.0 * PSI), "gallon/minute/ksi", "gpm/1000 psi",
               "gal/min/1000 psi"),
            us(_LITRE_MINUTE / BAR, "liter/minute/bar", "L/min/bar", "lpm/bar"),
            us(_LITRE_MINUTE / (100.0 * BAR), "liter/minute/hectobar", "L/min/100 bar"),
            si(1.0, "meter**3/second/pascal", "m3/(s Pa)"),
        ),
        us=Display("gal/min/1000 psi", 3), metric=Display("L/min/100 bar", 3),
    ),
    Kind(
        "particle_size", "particle size", "m", "meter",
        (
            us(1e-6, "micrometer", "micron"),
            si(1e-6, "micrometer", "um"),
            si(1e-3, "millimeter", "mm"),
            Unit(("in",), INCH, "inch", fractions=True),
            si(1.0, "meter", "m"),
        ),
        us=Display("micron", 0), metric=Display("micron", 0),
    ),
    Kind(
        "particle_count", "particle count", "1/m3", "1/meter**3",
        (
            us(1e6, "1/milliliter", "particles/mL", "1/mL", "counts/mL"),
            si(1.0, "1/meter**3", "1/m3"),
        ),
        us=Display("particles/mL", 0), metric=Display("particles/mL", 0),
    ),
)  # fmt: skip
