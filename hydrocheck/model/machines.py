"""Pumps, motors, cylinders and the loads that they move."""

from __future__ import annotations

from dataclasses import dataclass

from hydrocheck.model.engine import Drive
from hydrocheck.model.fields import (
    choice,
    count,
    fault,
    flag,
    quantity,
    references,
    table,
    text,
)
from hydrocheck.model.scalar import Scalar


@dataclass(frozen=True)
class RatedMachine:
    """What pumps and motors share: size, and losses stated at one rated point."""

    name: str = text("name")
    displacement: Scalar | None = quantity(
        "displacement", "nominal displacement (full stroke)", bounds="positive"
    )
    derived_displacement: Scalar | None = quantity(
        "displacement", "derived displacement (ISO 8426), where measured", bounds="positive"
    )
    rated_speed: Scalar | None = quantity(
        "shaft_speed", "speed at which its efficiencies are stated", bounds="positive"
    )
    rated_pressure: Scalar | None = quantity(
        "pressure_drop", "pressure (drop) at which its efficiencies are stated", bounds="positive"
    )
    rated_viscosity: Scalar = quantity(
        "kinematic_viscosity",
        "oil viscosity at which its efficiencies are stated",
        default="36 cSt",
        bounds="positive",
        source="common practice: catalogues state them near 36 cSt",
    )
    volumetric_efficiency: Scalar | None = quantity(
        "fraction", "volumetric efficiency at the rated point", bounds="efficiency"
    )
    hydromechanical_efficiency: Scalar | None = quantity(
        "fraction", "hydromechanical efficiency at the rated point", bounds="efficiency"
    )
    viscous_slip_share: Scalar = quantity(
        "fraction",
        "share of slip that follows viscosity, at 46 cSt",
        default="0.4",
        bounds="fraction",
        source="fit of an open hydraulic rig data set of 2018, range 0.25-0.55",
    )
    viscous_torque_share: Scalar = quantity(
        "fraction",
        "share of the rated torque loss that is viscous",
        default="0.5",
        bounds="fraction",
        source="ours: no open measurement splits it",
    )
    min_viscosity: Scalar | None = quantity(
        "kinematic_viscosity", "thinnest oil that its maker allows at work", bounds="positive"
    )
    max_viscosity: Scalar | None = quantity(
        "kinematic_viscosity", "thickest oil that its maker allows at work", bounds="positive"
    )
    cleanliness: str = text("oil cleanliness that its maker asks, an ISO 4406 code (19/17/14)")
    wear: Scalar = fault(
        "ratio",
        "fault: leakage that wear adds, as a multiple of the slip at the rated point",
        sound="0",
        bounds="not negative",
    )


@dataclass(frozen=True)
class Pump(RatedMachine):
    """A pump with its losses at one rated point, its controls and its maker's limits."""

    name: str = text("name", required=True)
    type: str = choice(
        "how it delivers", "fixed", "load sensing", "constant pressure", required=True
    )
    build: str | None = choice("how it is built", "gear", "vane", "piston")
    feeds: tuple[str, ...] = references("the banks that it feeds", "bank")
    drive: Drive | None = table(Drive, "its own drive, in place of the engine's")
    margin: Scalar | None = quantity("pressure", "LS margin", bounds="positive")
    compensator: Scalar | None = quantity("pressure", "compensator setting", bounds="positive")
    standby: Scalar | None = quantity("pressure", "standby pressure", bounds="positive")
    torque_limit: Scalar | None = quantity("torque", "torque limiter setting", bounds="positive")
    min_speed: Scalar | None = quantity("shaft_speed", "lowest speed allowed by its maker")
    max_speed: Scalar | None = quantity(
        "shaft_speed", "highest speed allowed by its maker", bounds="positive"
    )
    max_pressure: Scalar | None = quantity("pressure", "pressure rating", bounds="positive")
    min_inlet: Scalar | None = quantity(
        "absolute_pressure", "lowest absolute inlet pressure", bounds="positive"
    )
    air: Scalar = fault(
        "fraction", "fault: share of air in what it sucks", sound="0", bounds="loss"
    )
    ls_signal: Scalar = fault(
        "fraction",
        "fault: share of the LS pressure that reaches its control (0: line lost)",
        sound="100 %",
        bounds="fraction",
    )


@dataclass(frozen=True)
class HopperLoad:
    """A feeder that lies flooded under a hopper: an auger, or a belt or chain on its pulley.

    Of the weight above the slot a share rests on the feeder, and the lowest layer is pulled out
    against the material's own friction. An order of magnitude: see `hydrocheck spread`.
    """

    length: Scalar = quantity("length", "of the slot", bounds="positive", required=True)
    slot: Scalar = quantity("length", "width of the slot", bounds="positive", required=True)
    top: Scalar = quantity(
        "length", "width of the hopper at the material's surface", bounds="positive", required=True
    )
    density: Scalar = quantity(
        "density", "bulk density of the material", bounds="positive", required=True
    )
    half_angle: Scalar = quantity(
        "angle",
        "of the hopper walls, from the vertical",
        default="45 deg",
        bounds="positive",
        source="common practice: a V-box",
    )
    internal_friction: Scalar = quantity(
        "angle",
        "effective angle of friction inside the material",
        default="40 deg",
        bounds="positive",
        source="dry salt, from memory, 35-55 deg; damp salt and wet sand 50 deg",
    )
    wall_friction: Scalar = quantity(
        "angle",
        "angle of friction at the hopper walls",
        default="25 deg",
        bounds="positive",
        source="from memory, 15-35 deg",
    )
    flight_friction: Scalar = quantity(
        "ratio",
        "coefficient of friction between material and flight",
        default="0.4",
        source="from memory, 0.3-0.5",
    )
    diameter: Scalar | None = quantity("length", "auger: over the flighting", bounds="positive")
    shaft: Scalar = quantity(
        "length", "auger: shaft (tube) diameter", default="0 in", source="a flight without a tube"
    )
    pitch: Scalar | None = quantity("length", "auger: pitch in the hopper", bounds="positive")
    radius: Scalar | None = quantity(
        "length", "belt or chain: radius of its pulley or sprocket", bounds="positive"
    )
    drag: Scalar = quantity(
        "torque",
        "of bearings, trough, belt or chain, on top",
        default="0 in-lb",
        source="the model's own torque alone",
    )


@dataclass(frozen=True)
class ScrewLoad:
    """A control-fed screw: it carries what is dropped into it, and no hopper rests on it."""

    length: Scalar = quantity("length", "of the screw", bounds="positive", required=True)
    diameter: Scalar = quantity("length", "over the flighting", bounds="positive", required=True)
    shaft: Scalar = quantity(
        "length", "shaft (tube) diameter", default="0 in", source="a flight without a tube"
    )
    pitch: Scalar = quantity("length", "pitch", bounds="positive", required=True)
    density: Scalar = quantity(
        "density", "bulk density of the material", bounds="positive", required=True
    )
    fill: Scalar = quantity(
        "fraction",
        "share of the swept volume filled",
        default="30 %",
        bounds="efficiency",
        source="course notes on screw conveyors, 2007: abrasives not above 30 %",
    )
    material_factor: Scalar = quantity(
        "ratio",
        "material factor",
        default="1.0",
        bounds="positive",
        source="rock salt, from memory, 0.8-1.7; dry sand 1.7, wet sand 2.8",
    )
    overload: Scalar = quantity(
        "ratio",
        "overload factor on that torque",
        default="1",
        bounds="positive",
        source="none; the standard's curve, from memory, runs from 3 at 0.2 hp to 1 at 5 hp",
    )
    drag: Scalar = quantity(
        "torque",
        "of bearings and trough, on top",
        default="0 in-lb",
        source="the model's own torque alone",
    )


@dataclass(frozen=True)
class Load:
    """Torque that a shaft asks for: constant + linear (n / at) + square (n / at)^2.

    A feeder's torque can be computed from a model in place of that.
    """

    constant: Scalar | None = quantity("torque", "torque that does not depend on speed")
    linear: Scalar | None = quantity(
        "torque", "torque at speed `at` of the part that grows with speed"
    )
    square: Scalar | None = quantity(
        "torque", "torque at speed `at` of the part that grows with its square"
    )
    pressure: Scalar | None = quantity(
        "pressure_drop",
        "pressure drop over the motor at work, in place of torques",
        bounds="positive",
    )
    hopper: HopperLoad | None = table(
        HopperLoad, "flooded feeder under a hopper, in place of torques"
    )
    screw: ScrewLoad | None = table(ScrewLoad, "control-fed screw, in place of torques")
    at: Scalar | None = quantity(
        "shaft_speed", "shaft speed at which `linear`, `square` are stated", bounds="positive"
    )
    breakaway: Scalar | None = quantity(
        "ratio", "starting torque / running torque", bounds="positive"
    )


@dataclass(frozen=True)
class Disc:
    """A spinner's disc: what decides how far it throws, beside its radius and its speed."""

    height: Scalar | None = quantity(
        "length", "height above the road at which grains leave", bounds="positive"
    )
    tilt: Scalar | None = quantity("angle", "tilt of the disc; 0 deg where it is level")
    high_side: str | None = choice(
        "side of the truck to which a tilted disc rises", "left", "right", "rear", "front"
    )
    exit_elevation: Scalar | None = quantity(
        "angle",
        "angle above the disc's plane at which grains leave; 0 deg for a flat disc, more for a "
        "cupped one",
        bounds="any",
    )
    vane_angle: Scalar = quantity(
        "angle",
        "between vane and radius at the rim, above zero where the tip trails",
        default="0 deg",
        bounds="any",
        source="straight radial vanes",
    )
    feed_share: Scalar = quantity(
        "fraction",
        "radius at which material lands on the disc / disc radius",
        default="25 %",
        bounds="efficiency",
        source="ours, range 10-50 %",
    )
    friction: Scalar = quantity(
        "ratio",
        "friction coefficient of grains on vane and disc",
        default="0.4",
        source="range 0.2-0.6: outlet angles of potassium chloride gave 0.44 (abstract of a paper)",
    )
    fan: Scalar = quantity(
        "angle",
        "half-angle over which grains leave, from straight back; less behind deflectors",
        default="90 deg",
        bounds="positive",
        source="ours, range 60-90 deg",
    )


@dataclass(frozen=True)
class Motor(RatedMachine):
    """A hydraulic motor with its losses at one rated point, its gearbox, limits and load."""

    name: str = text("name, where a function has several")
    starting_efficiency: Scalar | None = quantity(
        "fraction", "starting torque / theoretical torque", bounds="efficiency"
    )
    case_drain: bool | None = flag("whether a case drain line is fitted")
    case_share: Scalar | None = quantity(
        "fraction", "share of slip that leaves by the drain", bounds="fraction"
    )
    min_speed: Scalar | None = quantity("shaft_speed", "lowest even speed of the motor")
    max_speed: Scalar | None = quantity(
        "shaft_speed", "highest speed allowed by its maker", bounds="positive"
    )
    max_pressure: Scalar | None = quantity(
        "pressure", "highest inlet pressure allowed by its maker", bounds="positive"
    )
    max_back_pressure: Scalar | None = quantity(
        "pressure", "highest outlet or case pressure at its shaft seal", bounds="positive"
    )
    gearbox_ratio: Scalar = quantity(
        "ratio",
        "motor speed / load speed",
        default="1",
        bounds="positive",
        source="no gearbox",
    )
    gearbox_efficiency: Scalar = quantity(
        "fraction",
        "efficiency of the gearbox",
        default="100 %",
        bounds="efficiency",
        source="no gearbox",
    )
    load: Load | None = table(Load, "torque at the load shaft, hopper full (or the only one)")
    load_empty: Load | None = table(Load, "torque at the load shaft, hopper empty")
    disc_radius: Scalar | None = quantity(
        "length", "spinner disc: radius at which material leaves", bounds="positive"
    )


@dataclass(frozen=True)
class LiquidPump:
    """The liquid pump that a function turns, with its nozzles, which set its pressure."""

    displacement: Scalar | None = quantity(
        "displacement", "liquid per turn of its shaft, without slip", bounds="positive"
    )
    volumetric_efficiency: Scalar | None = quantity(
        "fraction", "liquid delivered / displaced", bounds="efficiency"
    )
    hydromechanical_efficiency: Scalar | None = quantity(
        "fraction", "theoretical torque / shaft torque", bounds="efficiency"
    )
    nozzle_flow: Scalar | None = quantity(
        "flow", "flow of water through one nozzle at `nozzle_pressure`", bounds="positive"
    )
    nozzle_pressure: Scalar | None = quantity(
        "pressure", "pressure at which `nozzle_flow` is stated", bounds="positive"
    )
    nozzles: int = count("how many nozzles are open", default=1)
    density: Scalar = quantity(
        "density",
        "density of the liquid",
        default="1177 kg/m3",
        bounds="positive",
        source="brine of 23.3 % salt",
    )
    max_pressure: Scalar | None = quantity("pressure", "pressure rating", bounds="positive")
    electric_speed: Scalar | None = quantity(
        "shaft_speed", "electric drive: speed of its shaft at full command", bounds="positive"
    )


@dataclass(frozen=True)
class Cylinder:
    """A cylinder, or several alike that move together."""

    bore: Scalar | None = quantity("length", "bore", bounds="positive")
    rod: Scalar | None = quantity(
        "length", "rod diameter", default="0 in", source="extending does not depend on it"
    )
    stroke: Scalar | None = quantity("length", "stroke", bounds="positive")
    count: int = count("how many move together", default=1)
    acting: str = choice("how it is driven", "double", "single", default="double")
    extend_load: Scalar | None = quantity(
        "force", "force against extending, all cylinders together"
    )
    retract_load: Scalar | None = quantity(
        "force",
        "force against retracting, all cylinders together; one that drives it in is lower_load",
    )
    lower_load: Scalar | None = quantity(
        "force",
        "force of the load that drives it in when it is lowered, all cylinders together",
    )
    extend_time: Scalar | None = quantity("time", "wanted time to extend", bounds="positive")
    retract_time: Scalar | None = quantity("time", "wanted time to retract", bounds="positive")
    efficiency: Scalar = quantity(
        "fraction",
        "force efficiency",
        default="95 %",
        bounds="efficiency",
        source="common practice: seal friction takes about 5 %",
    )
    max_pressure: Scalar | None = quantity("pressure", "pressure rating", bounds="positive")
