"""A truck: its circuit, and the work that is asked of it. Frozen dataclasses in SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from hydrocheck.errors import DomainError
from hydrocheck.model.circuit import Circuit, Function, Scalar
from hydrocheck.model.fields import (
    choice,
    count,
    flag,
    named_tables,
    quantities,
    quantity,
    reference,
    table,
    tables,
    text,
    word_or_quantity,
)
from hydrocheck.model.limits import Limits


@dataclass(frozen=True)
class About:
    """What the truck is called."""

    name: str = text("what the truck is called", required=True)
    about: str = text("one line about it")


@dataclass(frozen=True)
class AugerGeometry:
    """An auger's size, for the mass that one turn discharges."""

    diameter: Scalar = quantity("length", "outside diameter", bounds="positive", required=True)
    shaft: Scalar = quantity(
        "length", "shaft (tube) diameter", default="0 in", source="a flight without a tube"
    )
    pitch: Scalar = quantity(
        "length", "pitch at the discharge end", bounds="positive", required=True
    )
    fill: Scalar = quantity(
        "fraction",
        "share of the swept volume filled",
        default="85 %",
        bounds="efficiency",
        source="ours; a catch test replaces it",
    )


@dataclass(frozen=True)
class ConveyorGeometry:
    """A conveyor's size, for the mass that one shaft turn discharges."""

    width: Scalar = quantity("length", "width of the bed", bounds="positive", required=True)
    gate: Scalar = quantity("length", "gate opening", bounds="positive", required=True)
    feed: Scalar = quantity(
        "length", "travel of the bed per shaft turn", bounds="positive", required=True
    )
    fill: Scalar = quantity(
        "fraction",
        "share of the opening filled",
        default="100 %",
        bounds="efficiency",
        source="ours; a catch test replaces it",
    )


@dataclass(frozen=True)
class Grain:
    """The grains that are thrown, for the throw."""

    size: Scalar = quantity(
        "length",
        "size of a grain at the edge of the thrown band",
        default="4.75 mm",
        bounds="positive",
        source="ours: about the median of ASTM D632 grade 1 road salt, 0.6-9.5 mm",
    )
    density: Scalar = quantity(
        "density",
        "density of the solid",
        default="2160 kg/m3",
        bounds="positive",
        source="crystalline salt, from memory; quartz sand has 2650 kg/m3",
    )
    drag_factor: Scalar = quantity(
        "ratio",
        "drag / drag of a sphere of that size",
        default="1.5",
        bounds="positive",
        source="range 1.0-2.2: wind tunnel, Journal of Agricultural Engineering 44(2s), 2013",
    )


@dataclass(frozen=True)
class LiquidRig:
    """Nozzles, liquid pump and brine."""

    concentration: Scalar = quantity(
        "fraction",
        "salt in the brine, by mass",
        default="23.3 %",
        bounds="fraction",
        source="the brine of sodium chloride that freezes last",
    )
    rates: tuple[float, ...] = quantities("liquid_rate", "direct liquid rates per lane")
    nozzle_flow: Scalar | None = quantity(
        "flow", "flow of water through all nozzles at `nozzle_pressure`", bounds="positive"
    )
    nozzle_pressure: Scalar | None = quantity(
        "pressure", "pressure at which `nozzle_flow` is stated", bounds="positive"
    )
    least_pressure: Scalar | None = quantity(
        "pressure", "pressure below which the nozzles do not spray", bounds="positive"
    )
    per_turn: Scalar | None = quantity(
        "displacement", "liquid that a turn of the liquid pump's shaft delivers", bounds="positive"
    )


@dataclass(frozen=True)
class Spreading:
    """What is to be put down, and what one turn of the feeder discharges."""

    material: str = text("material")
    density: Scalar | None = quantity("density", "bulk density", bounds="positive")
    lanes: int = count("lanes treated in one pass", default=1)
    lane_width: Scalar = quantity(
        "length",
        "lane width",
        default="12 ft",
        bounds="positive",
        source="common practice: one 12 ft lane",
    )
    rates: tuple[float, ...] = quantities("application_rate", "ordered rates per lane")
    road_speeds: tuple[float, ...] = quantities("road_speed", "road speeds while spreading")
    mass_per_turn: Scalar | None = quantity(
        "mass_per_rev", "discharge per feeder turn, from a catch test", bounds="positive"
    )
    grain: Grain = table(Grain, "the grains, for the throw", always=True)
    auger: AugerGeometry | None = table(AugerGeometry, "auger size, in place of a catch test")
    conveyor: ConveyorGeometry | None = table(
        ConveyorGeometry, "conveyor size, in place of a catch test"
    )
    prewet: Scalar | None = quantity("liquid_per_mass", "pre-wet liquid per mass of material")
    liquid: LiquidRig | None = table(LiquidRig, "nozzles, liquid pump and brine")
    accuracy: Scalar | None = quantity(
        "fraction", "ordered accuracy of the rate", bounds="fraction"
    )


@dataclass(frozen=True)
class FullDischarge:
    """Full discharge (blast): everything open for a while, whatever the road speed."""

    duration: Scalar | None = quantity(
        "time", "how long it runs; none means until released", bounds="positive"
    )
    from_rest: bool = flag("whether it can be started at a standstill", default=False)
    spinner_at_max: bool = flag("whether the spinner goes to its maximum trim", default=True)
    engine: str | float | None = word_or_quantity(
        "engine speed where drivers use it", "shaft_speed", "idle", "working", "governed", "range"
    )


@dataclass(frozen=True)
class SpeedFollowing:
    """How discharge follows road speed."""

    mode: str = choice("how", "off", "start-stop", "proportional", default="off")
    sensor: Scalar | None = quantity(
        "pulses_per_distance", "pulses of the speed sensor", bounds="positive"
    )


@dataclass(frozen=True)
class Link:
    """A function that runs at its minimum trim whenever another runs."""

    function: str | None = reference("the function that follows", "function", required=True)
    follows: str | None = reference("the function it follows", "function", required=True)


@dataclass(frozen=True)
class Task:
    """What one function does in a scenario: exactly one of these, `rate` with its road speed."""

    name: str = text("function", required=True)
    setting: Scalar | None = quantity("fraction", "setting, 0 is off", bounds="fraction")
    command: Scalar | None = quantity("fraction", "command", bounds="fraction")
    speed: Scalar | None = quantity("shaft_speed", "wanted speed of its load shaft")
    flow: Scalar | None = quantity("flow", "wanted section flow")
    rate: Scalar | None = quantity("application_rate", "ordered rate per lane (a feeder)")
    road_speed: Scalar | None = quantity("road_speed", "road speed for that rate")
    motion: str | None = choice(
        "wanted motion of a cylinder in its stated time; lower: driven in by its load; stop: its "
        "section held open at the end of the stroke",
        "extend",
        "retract",
        "lower",
        "stop",
    )

    ASKS = ("setting", "command", "speed", "flow", "rate", "motion")

    @property
    def asks(self) -> str:
        """Which of the ways of asking it uses."""
        return next((key for key in self.ASKS if getattr(self, key) is not None), "")


@dataclass(frozen=True)
class Scenario:
    """What runs together, at which engine speeds and oil temperatures."""

    name: str = text("name", required=True)
    engine: str | float = word_or_quantity(
        "engine speed", "shaft_speed", "idle", "working", "governed", "range", default="working"
    )
    oil: str | float = word_or_quantity(
        "oil temperature", "temperature", "cold", "working", "hot", "range", default="working"
    )
    hopper: str = choice("hopper", "full", "empty", default="full")
    winter: Scalar | None = quantity(
        "fraction", "share of a winter's engine hours", bounds="fraction"
    )
    summer: Scalar | None = quantity(
        "fraction", "share of a summer's engine hours", bounds="fraction"
    )
    run: tuple[Task, ...] = named_tables(Task, "what each function does")


@dataclass(frozen=True)
class Truck(Circuit):
    """A truck file, read: the circuit, the work, and where each number came from."""

    truck: About = table(About, "what the truck is called", required=True)
    spreading: Spreading = table(Spreading, "material, rates and calibration", always=True)
    full_discharge: FullDischarge | None = table(FullDischarge, "full discharge (blast)")
    speed_following: SpeedFollowing = table(
        SpeedFollowing, "how discharge follows road speed", always=True
    )
    link: tuple[Link, ...] = tables(Link, "functions that run with another")
    scenario: tuple[Scenario, ...] = tables(Scenario, "what runs together")
    limits: Limits = table(Limits, "overrides of thresholds", always=True)
    defaults_used: tuple[str, ...] = field(default=(), kw_only=True)
    tolerances: Mapping[str, float] = field(
        default_factory=lambda: MappingProxyType({}), kw_only=True
    )

    @property
    def name(self) -> str:
        """What the truck is called."""
        return self.truck.name

    def function_named(self, wanted: str) -> Function:
        """One function; DomainError, with those that there are, if there is none of that name."""
        for function in self.function:
            if function.name == wanted:
                return function
        have = ", ".join(f.name for f in self.function) or "none"
        raise DomainError(f"no function '{wanted}'; the truck has: {have}")

    def scenario_named(self, wanted: str) -> Scenario:
        """One scenario; DomainError, with those that there are, if there is none of that name."""
        for scenario in self.scenario:
            if scenario.name == wanted:
                return scenario
        have = ", ".join(s.name for s in self.scenario) or "none"
        raise DomainError(f"no scenario '{wanted}'; the truck has: {have}")
