"""What a new truck must do: the file that sizing starts from. Frozen dataclasses in SI.

Work, oil, air and scenarios are written as in a truck file. In place of the parts there stand the
choices that are open (pump type, pressure levels, drive ratios) and the limits within which parts
are to be found.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path as FilePath

from hydrocheck.model.engine import Ambient, Gear, Oil
from hydrocheck.model.fields import (
    band,
    choice,
    flag,
    pairs,
    quantities,
    quantity,
    table,
    tables,
    text,
)
from hydrocheck.model.files import read_text
from hydrocheck.model.limits import Limits
from hydrocheck.model.machines import Cylinder, Load
from hydrocheck.model.reader import tables_from_text
from hydrocheck.model.scalar import Scalar
from hydrocheck.model.truck import About, Scenario, Spreading
from hydrocheck.model.validate import Problem, load_problems, work_problems

OURS = "ours"
PARTS = ("pump", "bank", "main relief")
"""Names that the sized truck gives to its own parts."""


@dataclass(frozen=True)
class DriveChoices:
    """What may turn the pump, and how much it may carry."""

    kind: str | None = choice("what turns the pump", "crankshaft", "power take-off")
    ratios: tuple[float, ...] = quantities("ratio", "pump speed / engine speed, each on offer")
    torque_rating: float | None = quantity(
        "torque", "largest torque at the pump shaft that the drive may carry", bounds="positive"
    )
    power_rating: float | None = quantity(
        "power", "largest power that the drive may carry", bounds="positive"
    )
    duty: str | None = choice(
        "whether the rating is for continuous or intermittent duty", "continuous", "intermittent"
    )
    engaged_to: float | None = quantity(
        "shaft_speed", "highest engine speed with the drive engaged", bounds="positive"
    )


@dataclass(frozen=True)
class NeededEngine:
    """Engine speeds, what the engine can give, and the drives on offer."""

    idle: float = quantity("shaft_speed", "low idle", bounds="positive", required=True)
    working: tuple[float, float] | None = band("shaft_speed", "working band, low and high end")
    governed: float = quantity("shaft_speed", "governed speed", bounds="positive", required=True)
    overrun: float | None = quantity(
        "shaft_speed", "highest no-load speed, downhill or unloaded", bounds="positive"
    )
    torque_curve: tuple[tuple[float, float], ...] = pairs(
        "shaft_speed", "torque", "full-load torque by engine speed"
    )
    drive: DriveChoices = table(DriveChoices, "the pump drives on offer", always=True)
    gear: tuple[Gear, ...] = tables(Gear, "road speed by gear")


@dataclass(frozen=True)
class PumpChoices:
    """Which pumps are considered."""

    type: str = choice(
        "circuit: a load-sensing or constant-pressure pump on a parallel bank, a fixed one on an "
        "open centre, or any of these",
        "any",
        "load sensing",
        "constant pressure",
        "fixed",
        default="any",
    )
    pressures: tuple[float, ...] = quantities(
        "pressure", "pressure levels on offer: the main relief is set to one of them"
    )
    displacements: tuple[float, ...] = quantities(
        "displacement", "sizes to consider, in place of the preferred ones"
    )


@dataclass(frozen=True)
class LiquidDuty:
    """A liquid pump that a motor is to turn; scenarios then ask a flow of the liquid."""

    displacement: float = quantity(
        "displacement", "of the liquid pump", bounds="positive", required=True
    )
    pressure: float = quantity("pressure", "at the liquid pump's outlet", required=True)
    volumetric_efficiency: float = quantity(
        "fraction",
        "volumetric efficiency of the liquid pump",
        default="95 %",
        bounds="efficiency",
        source=OURS,
    )
    efficiency: float = quantity(
        "fraction",
        "overall efficiency of the liquid pump",
        default="60 %",
        bounds="efficiency",
        source=OURS,
    )
    breakaway: float | None = quantity(
        "ratio", "starting torque / running torque", bounds="positive"
    )


@dataclass(frozen=True)
class NeededFunction:
    """One function: what it must move. Its sizes are to be found."""

    name: str = text("name", required=True)
    kind: str = choice(
        "what it does", "feeder", "spinner", "liquid", "cylinder", "other", required=True
    )
    build: str | None = choice(
        "how its motor is built (a liquid pump's: gear, any other: orbit)", "orbit", "gear"
    )
    load: Load | None = table(Load, "torque at its shaft, hopper full (or the only one)")
    load_empty: Load | None = table(Load, "torque at its shaft, hopper empty")
    liquid: LiquidDuty | None = table(LiquidDuty, "the liquid pump that its motor turns")
    flow: float | None = quantity(
        "flow", "flow that it takes, where its motor is given elsewhere", bounds="positive"
    )
    pressure: float | None = quantity("pressure", "pressure that it works at with that flow")
    cylinder: Cylinder | None = table(Cylinder, "its cylinder; a bore that is not given is sized")
    gearbox_ratio: float = quantity(
        "ratio", "motor speed / load speed", default="1", bounds="positive", source="no gearbox"
    )
    gearbox_efficiency: float = quantity(
        "fraction",
        "efficiency of the gearbox",
        default="100 %",
        bounds="efficiency",
        source="no gearbox",
    )
    disc_radius: float | None = quantity(
        "length", "spinner disc: radius at which material leaves", bounds="positive"
    )
    max_speed: float | None = quantity(
        "shaft_speed", "highest speed that its machinery allows", bounds="positive"
    )
    loop: str = choice(
        "open, or closed with a shaft-speed sensor", "open", "closed", default="open"
    )
    case_drain: bool | None = flag("whether its motor gets a case drain")
    displacements: tuple[float, ...] = quantities(
        "displacement", "motor sizes to consider, in place of the preferred ones"
    )
    line: float = quantity(
        "length",
        "length of its hoses, each way",
        default="20 ft",
        bounds="positive",
        source=OURS,
    )
    loss_factor: float = quantity(
        "ratio", "sum of the K values of each hose's fittings", default="2.5", source=OURS
    )

    @property
    def turns(self) -> bool:
        """Whether a motor is to be sized for it."""
        return self.cylinder is None and self.flow is None

    @property
    def motor_build(self) -> str:
        """How its motor is built."""
        return self.build or ("gear" if self.kind == "liquid" else "orbit")


@dataclass(frozen=True)
class MainLines:
    """The lines that all functions share."""

    suction: float = quantity("length", "suction line", default="4 ft", source=OURS)
    head: float = quantity(
        "length",
        "oil level above the pump inlet",
        default="1 ft",
        bounds="any",
        source=OURS,
    )
    pressure: float = quantity("length", "pressure line", default="12 ft", source=OURS)
    back: float = quantity("length", "return line", default="12 ft", source=OURS)


@dataclass(frozen=True)
class TankSpace:
    """Room for the oil tank, and how it gives off heat."""

    max_volume: float | None = quantity("volume", "largest oil volume", bounds="positive")
    heat_transfer: float = quantity(
        "heat_transfer",
        "surface coefficient",
        default="2 Btu/(h ft2 F)",
        bounds="positive",
        source="a formula sheet, with good air; published values run from 1 to 2.5",
    )
    dwell: float = quantity(
        "time",
        "time that the pump's flow rests in the tank",
        default="60 s",
        source="common practice",
    )


@dataclass(frozen=True)
class Margins:
    """What is to be in hand, over all engine speeds and oil temperatures of each scenario."""

    flow: float = quantity(
        "fraction",
        "flow in hand at the lowest engine speed of a scenario",
        default="10 %",
        source=OURS,
    )
    pump_wear: float = quantity(
        "ratio",
        "leakage added by the end of life, as a multiple of the rated slip: pump",
        default="1",
        source=OURS,
    )
    motor_wear: float = quantity(
        "ratio",
        "leakage added by the end of life, as a multiple of the rated slip: motors",
        default="1",
        source=OURS,
    )
    warmed_up: float | None = quantity(
        "temperature", "coldest oil with which all work must be done", bounds="any"
    )


@dataclass(frozen=True)
class Weights:
    """How much each aim counts when circuits that are not beaten in all aims are put in order."""

    low_speed: float = quantity("ratio", "flow in hand at low speed", default="1", source=OURS)
    heat: float = quantity("ratio", "heat of the main work", default="1", source=OURS)
    power: float = quantity("ratio", "greatest drive power", default="1", source=OURS)
    size: float = quantity("ratio", "size (or price)", default="1", source=OURS)
    overspeed: float = quantity("ratio", "nearness to speed limits", default="1", source=OURS)


@dataclass(frozen=True)
class NeedsTables:
    """The tables of a needs file."""

    truck: About = table(About, "what the truck is called", required=True)
    engine: NeededEngine = table(NeededEngine, "the engine", required=True)
    oil: Oil = table(Oil, "the oil", required=True)
    ambient: Ambient = table(Ambient, "where it works", always=True)
    pump: PumpChoices = table(PumpChoices, "which pumps are considered", always=True)
    function: tuple[NeededFunction, ...] = tables(NeededFunction, "what it must move")
    lines: MainLines = table(MainLines, "the lines that all functions share", always=True)
    tank: TankSpace = table(TankSpace, "room for the oil tank", always=True)
    spreading: Spreading = table(Spreading, "material, rates and calibration", always=True)
    scenario: tuple[Scenario, ...] = tables(Scenario, "what runs together; the first is the main")
    margins: Margins = table(Margins, "what is to be in hand", always=True)
    weights: Weights = table(Weights, "how much each aim counts", always=True)
    limits: Limits = table(Limits, "overrides of thresholds", always=True)


@dataclass(frozen=True)
class Needs(NeedsTables):
    """A needs file, read."""

    defaults_used: tuple[str, ...] = field(default=(), kw_only=True)

    @property
    def name(self) -> str:
        """What the truck is called."""
        return self.truck.name

    @property
    def warmed_up(self) -> Scalar:
        """Coldest oil with which all work must be done [K]."""
        working = self.oil.working
        assert working is not None  # the reader refuses a file without it
        return working if self.margins.warmed_up is None else self.margins.warmed_up


def read_needs(path: str | FilePath) -> Needs:
    """Read a needs file. Raises FileError or TruckFileError with all that is wrong."""
    return needs_from_text(read_text(path, "a needs file"))


def needs_from_text(text: str) -> Needs:
    """Read the text of a needs file. Raises TruckFileError with all that is wrong."""
    needs, notes = tables_from_text(text, Needs, problems)
    return replace(needs, defaults_used=notes.defaults)


def problems(needs: Needs) -> Iterator[Problem]:
    """All that does not fit together in a needs file whose single values are well formed."""
    yield from work_problems(needs)
    engine, oil = needs.engine, needs.oil
    if engine.working is None:
        yield ("engine",), "engine.working", "missing; working band, low and high end"
    elif not engine.idle <= engine.working[0] <= engine.working[1] <= engine.governed:
        yield (
            ("engine", "working"),
            "engine.working",
            "must lie between idle and governed speed",
        )
    for key in ("cold", "working", "hot"):
        if getattr(oil, key) is None:
            yield ("oil",), f"oil.{key}", "missing; sizing goes over the whole range"
    if oil.grade is None and not oil.point:
        yield ("oil",), "oil.grade", "missing; grade with viscosity_index, or two points"
    if not needs.pump.pressures:
        yield ("pump",), "pump.pressures", "missing; pressure levels on offer"
    yield from _choices(needs)
    if not needs.scenario:
        yield ("scenario",), "scenario", "missing; say what runs together"
    if not needs.function:
        yield ("function",), "function", "missing; say what must be moved"
    for i, function in enumerate(needs.function):
        yield from _function(function, ("function", i))
    names = [f.name for f in needs.function]
    for i, name in enumerate(names):
        if name in names[:i]:
            yield ("function", i, "name"), f"{name}.name", f"'{name}' is used twice"
    yield from _tasks(needs, names)
    yield from _orders(needs)


def _choices(needs: Needs) -> Iterator[Problem]:
    """Sizes and speeds on offer, and the oil that all work is done with."""
    lists: list[tuple[tuple[str | int, ...], str, tuple[float, ...]]] = [
        (("engine", "drive", "ratios"), "engine.drive.ratios", needs.engine.drive.ratios),
        (("pump", "pressures"), "pump.pressures", needs.pump.pressures),
        (("pump", "displacements"), "pump.displacements", needs.pump.displacements),
    ]
    for i, function in enumerate(needs.function):
        key = f"{function.name}.displacements"
        lists.append((("function", i, "displacements"), key, function.displacements))
    for path, key, values in lists:
        if any(value <= 0.0 for value in values):
            yield path, key, "every value must be above zero"
        if len(set(values)) < len(values):
            yield path, key, "holds a value twice"
    warm, cold, hot = needs.margins.warmed_up, needs.oil.cold, needs.oil.hot
    if warm is not None and cold is not None and hot is not None and not cold <= warm <= hot:
        said = "must lie between oil.cold and oil.hot"
        yield ("margins", "warmed_up"), "margins.warmed_up", said


def _orders(needs: Needs) -> Iterator[Problem]:
    """The greatest order of the spreading table must be asked: the sizes follow the scenarios."""
    spreading = needs.spreading
    tasks = [t for s in needs.scenario for t in s.run if t.rate is not None]
    if not (spreading.rates and spreading.road_speeds and tasks):
        return
    asked = max(float(t.rate or 0.0) * float(t.road_speed or 0.0) for t in tasks)
    if max(spreading.rates) * max(spreading.road_speeds) > asked * (1.0 + 1e-9):
        said = "no scenario asks for the greatest rate at the greatest road speed; let one do so"
        yield ("spreading", "rates"), "spreading.rates", said


def _function(function: NeededFunction, path: tuple[str | int, ...]) -> Iterator[Problem]:
    name = function.name
    taken = {*PARTS, *NeedsTables.__dataclass_fields__, "relief", "bank", "reservoir", "link"}
    if name in taken or "." in name or "," in name:
        yield (*path, "name"), f"{name}.name", "choose another name: without a point, no part's"
    if function.cylinder is None and function.kind == "cylinder":
        yield path, f"{name}.cylinder", "missing; stroke, load and time"
    if function.cylinder is not None:
        for key in ("stroke", "extend_load", "extend_time"):
            if getattr(function.cylinder, key) is None:
                yield (*path, "cylinder"), f"{name}.cylinder.{key}", "missing"
    ways = [getattr(function, key) is not None for key in ("load", "liquid", "flow", "cylinder")]
    if sum(ways) != 1:
        yield path, name, "exactly one fits of: load, liquid, cylinder, flow (with pressure)"
    if function.flow is not None and function.pressure is None:
        yield path, f"{name}.pressure", "missing; the pressure that it works at"
    for key in ("load", "load_empty"):
        if (load := getattr(function, key)) is not None:
            yield from load_problems(load, (*path, key), f"{name}.{key}")
            if load.pressure is not None:
                yield (*path, key), f"{name}.{key}", "needs torques: a motor is sized for them"


def _tasks(needs: Needs, names: list[str]) -> Iterator[Problem]:
    known = dict(zip(names, needs.function, strict=True))
    for i, scenario in enumerate(needs.scenario):
        if not scenario.run:
            yield ("scenario", i), f"scenario.{scenario.name}.run", "missing; what runs together"
        for task in scenario.run:
            path = ("scenario", i, "run", task.name)
            key = f"scenario.{scenario.name}.run.{task.name}"
            if task.name not in known:
                have = ", ".join(names) or "none"
                yield path, key, f"no function '{task.name}'; there is: {have}"
            elif task.asks in ("setting", "command"):
                yield path, key, "say what it must do (speed, rate, flow or motion), not how"
            elif task.speed is not None and not known[task.name].turns:
                yield path, key, "a speed fits a function with a load; flow does here"
            elif task.flow is not None and known[task.name].load is not None:
                yield path, key, "a speed or a rate fits a function with a load"
            elif task.rate is not None and not (known[task.name].turns and _calibrated(needs)):
                yield path, key, "a rate needs a feeder's load, and spreading.mass_per_turn or size"
            elif task.motion in ("lower", "stop"):
                yield path, key, "asks no flow of the pump; extend or retract does"
            elif task.motion == "retract":
                yield from _retract(known[task.name], path, key)


def _retract(function: NeededFunction, path: tuple[str | int, ...], key: str) -> Iterator[Problem]:
    cylinder = function.cylinder
    if cylinder is not None and (cylinder.retract_time is None or cylinder.retract_load is None):
        yield path, key, "needs the cylinder's retract_time and retract_load"


def _calibrated(needs: Needs) -> bool:
    spreading = needs.spreading
    shaped = spreading.auger is not None or spreading.conveyor is not None
    return spreading.mass_per_turn is not None or (shaped and spreading.density is not None)
