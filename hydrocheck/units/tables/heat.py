"""Kinds of temperature and heat."""

from __future__ import annotations

from typing import Final

from hydrocheck.units.factors import BTU, FAHRENHEIT, FOOT, HORSEPOWER, HOUR, POUND
from hydrocheck.units.kind import Display, Kind, Unit, si, us

_BTU: Final = "international_british_thermal_unit"
_SQUARE_FOOT: Final = FOOT * FOOT
_RISE: Final = dict.fromkeys(
    ("delta F", "delta C", "F deg", "C deg"),
    "that is a temperature difference; a temperature is expected: degF, degC",
)

KINDS: Final = (
    Kind(
        "temperature", "temperature", "K", "kelvin",
        (
            Unit(("degF", "F"), FAHRENHEIT, "degree_Fahrenheit", shift=459.67),
            Unit(("degC", "C"), 1.0, "degree_Celsius", shift=273.15),
            si(1.0, "kelvin", "K"),
        ),
        us=Display("degF", 0), metric=Display("degC", 1), negative=False, refused=_RISE,
    ),
    Kind(
        "temperature_rise", "temperature difference", "K", "kelvin",
        (
            us(FAHRENHEIT, "delta_degree_Fahrenheit", "degF", "F", "delta degF", "F deg"),
            us(1.0, "delta_degree_Celsius", "degC", "C", "delta degC", "C deg"),
            si(1.0, "kelvin", "K"),
        ),
        us=Display("degF", 1), metric=Display("K", 1), negative=True,
    ),
    Kind(
        "heat_flow", "heat flow", "W", "watt",
        (
            us(BTU / HOUR, f"{_BTU}/hour", "Btu/h", "btuh"),
            us(1e3, "kilowatt", "kW"),
            si(1.0, "watt", "W"),
            us(HORSEPOWER, "horsepower", "hp"),
            us(BTU / 60.0, f"{_BTU}/minute", "Btu/min"),
        ),
        us=Display("Btu/h", 0), metric=Display("kW", 2), negative=True,
        refused={"Btu": "Btu is an energy; a heat flow is Btu per time: Btu/h"},
    ),
    Kind(
        "heat_conductance", "heat conductance", "W/K", "watt/kelvin",
        (
            us(BTU / HOUR / FAHRENHEIT, f"{_BTU}/hour/delta_degree_Fahrenheit", "Btu/h/F"),
            si(1.0, "watt/kelvin", "W/K"),
            si(1.0, "watt/kelvin", "W/C"),
            us(1e3, "kilowatt/kelvin", "kW/K", "kW/C"),
            us(HORSEPOWER / FAHRENHEIT, "horsepower/delta_degree_Fahrenheit", "hp/F"),
        ),
        us=Display("Btu/h/F", 1), metric=Display("W/K", 1),
    ),
    Kind(
        "heat_transfer", "heat transfer coefficient", "W/(m2 K)", "watt/meter**2/kelvin",
        (
            us(
                BTU / HOUR / _SQUARE_FOOT / FAHRENHEIT,
                f"{_BTU}/hour/foot**2/delta_degree_Fahrenheit",
                "Btu/h/ft2/F", "Btu/ft2/h/F",
            ),
            si(1.0, "watt/meter**2/kelvin", "W/(m2 K)", "W/m2K", "W/m2/C", "W/K/m2"),
            us(
                HORSEPOWER / _SQUARE_FOOT / FAHRENHEIT,
                "horsepower/foot**2/delta_degree_Fahrenheit",
                "hp/ft2/F",
            ),
        ),
        us=Display("Btu/h/ft2/F", 2), metric=Display("W/(m2 K)", 1),
    ),
    Kind(
        "specific_heat", "specific heat", "J/(kg K)", "joule/kilogram/kelvin",
        (
            us(
                BTU / POUND / FAHRENHEIT,
                f"{_BTU}/pound/delta_degree_Fahrenheit",
                "Btu/lb/F",
            ),
            us(1e3, "kilojoule/kilogram/kelvin", "kJ/(kg K)", "kJ/kg/C", "kJ/kgK"),
            si(1.0, "joule/kilogram/kelvin", "J/(kg K)", "J/kg/C", "J/kgK"),
        ),
        us=Display("Btu/lb/F", 3), metric=Display("kJ/(kg K)", 3),
    ),
    Kind(
        "expansion", "thermal expansion", "1/K", "1/kelvin",
        (
            us(1.0 / FAHRENHEIT, "1/delta_degree_Fahrenheit", "1/F"),
            us(1.0, "1/kelvin", "1/K", "1/C"),
            us(0.01, "percent/kelvin", "%/K", "%/C"),
            us(0.01 / FAHRENHEIT, "percent/delta_degree_Fahrenheit", "%/F"),
        ),
        us=Display("1/F", 6), metric=Display("1/K", 6), negative=True,
    ),
)  # fmt: skip
