"""The engine, its drive, the oil and the surroundings."""

from __future__ import annotations

from dataclasses import dataclass

from hydrocheck.model.fields import (
    band,
    choice,
    pairs,
    quantity,
    table,
    tables,
    text,
)
from hydrocheck.model.scalar import Scalar


@dataclass(frozen=True)
class Drive:
    """What turns the pump, and how much it may carry."""

    kind: str | None = choice("what turns the pump", "crankshaft", "power take-off")
    ratio: Scalar = quantity(
        "ratio",
        "pump speed / engine speed",
        default="1",
        bounds="positive",
        source="direct drive",
    )
    torque_rating: Scalar | None = quantity(
        "torque", "largest torque at the pump shaft that the drive may carry", bounds="positive"
    )
    power_rating: Scalar | None = quantity(
        "power", "largest power that the drive may carry", bounds="positive"
    )
    duty: str | None = choice(
        "whether the rating is for continuous or intermittent duty", "continuous", "intermittent"
    )
    engaged_to: Scalar | None = quantity(
        "shaft_speed",
        "highest engine speed with the drive engaged (overspeed drop-out, or a rule of use)",
        bounds="positive",
    )


@dataclass(frozen=True)
class Gear:
    """Road speed in one gear."""

    name: str = text("gear", required=True)
    road_speed: Scalar | None = quantity("road_speed", "road speed", bounds="positive")
    at: Scalar | None = quantity(
        "shaft_speed", "engine speed at that road speed", bounds="positive"
    )


@dataclass(frozen=True)
class Engine:
    """Engine speeds and what the engine can give."""

    idle: Scalar | None = quantity("shaft_speed", "low idle", bounds="positive")
    working: tuple[float, float] | None = band("shaft_speed", "working band, low and high end")
    governed: Scalar | None = quantity("shaft_speed", "governed speed", bounds="positive")
    overrun: Scalar | None = quantity(
        "shaft_speed", "highest no-load speed, downhill or unloaded", bounds="positive"
    )
    torque_curve: tuple[tuple[float, float], ...] = pairs(
        "shaft_speed", "torque", "full-load torque by engine speed"
    )
    drive: Drive = table(Drive, "the pump drive, unless a pump has its own", always=True)
    gear: tuple[Gear, ...] = tables(Gear, "road speed by gear")


@dataclass(frozen=True)
class ViscosityPoint:
    """Viscosity at one temperature."""

    temperature: Scalar = quantity("temperature", "temperature", bounds="any", required=True)
    viscosity: Scalar = quantity(
        "kinematic_viscosity", "kinematic viscosity", bounds="positive", required=True
    )


@dataclass(frozen=True)
class Oil:
    """The hydraulic oil and the temperatures it is used at."""

    grade: Scalar | None = quantity(
        "kinematic_viscosity", "ISO 3448 grade: viscosity at 40 degC", bounds="positive"
    )
    viscosity_index: Scalar | None = quantity("ratio", "viscosity index (ASTM D2270)")
    point: tuple[ViscosityPoint, ...] = tables(
        ViscosityPoint, "two measured points, in place of grade and index"
    )
    density: Scalar = quantity(
        "density",
        "density at 15 degC",
        default="870 kg/m3",
        bounds="positive",
        source="mineral oil, from memory",
    )
    expansion: Scalar = quantity(
        "expansion",
        "thermal expansion",
        default="0.0007 1/K",
        source="mineral oil, from memory",
    )
    specific_heat: Scalar = quantity(
        "specific_heat",
        "specific heat",
        default="1950 J/(kg K)",
        bounds="positive",
        source="mineral oil, from memory",
    )
    cold: Scalar | None = quantity("temperature", "coldest oil at start", bounds="any")
    working: Scalar | None = quantity("temperature", "oil when warm at work", bounds="any")
    hot: Scalar | None = quantity("temperature", "hottest oil", bounds="any")
    cleanliness: str = text("cleanliness that is kept, an ISO 4406 code (18/16/13)")


@dataclass(frozen=True)
class Ambient:
    """Where the truck works."""

    coldest: Scalar | None = quantity("temperature", "coldest air", bounds="any")
    hottest: Scalar | None = quantity("temperature", "hottest air at work", bounds="any")
    summer: Scalar | None = quantity(
        "temperature", "hottest air of the summer, if the truck works then", bounds="any"
    )
    altitude: Scalar = quantity(
        "length",
        "height above sea level",
        default="0 ft",
        bounds="any",
        source="sea level",
    )


@dataclass(frozen=True)
class Reservoir:
    """The oil tank and what cools it."""

    volume: Scalar | None = quantity("volume", "oil volume", bounds="positive")
    area: Scalar | None = quantity("area", "surface that gives off heat", bounds="positive")
    heat_transfer: Scalar | None = quantity(
        "heat_transfer",
        "surface coefficient (published values differ by a factor of 2.5)",
        bounds="positive",
    )
    cooler: Scalar | None = quantity("heat_conductance", "cooler, heat per degree above ambient")
    least_volume: Scalar | None = quantity(
        "volume", "oil that still covers the suction port on a slope", bounds="positive"
    )
    low_level: Scalar | None = quantity(
        "volume", "oil left when the low-level switch acts", bounds="positive"
    )
    low_level_action: str | None = choice(
        "what the low-level switch does; a shut-off unloads the functions",
        "none",
        "alarm",
        "shut-off",
    )
