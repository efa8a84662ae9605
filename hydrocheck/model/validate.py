"""What must hold between the values of a truck file: names, references, order, either-or.

Each rule is a generator of `(path, key, message)`; the reader adds the line. Whether the truck is a
*good* one is not asked here: that is what the checks are for.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING

from hydrocheck.model.lineindex import Path

if TYPE_CHECKING:
    from hydrocheck.model.circuit import Function, Load, Motor
    from hydrocheck.model.truck import Truck

Problem = tuple[Path, str, str]

_RELIEF_PLACES = {"pump": "pump", "bank inlet": "bank", "port": "function", "LS": "pump"}


def problems(truck: Truck) -> Iterator[Problem]:
    """All that does not fit together in a truck whose single values are well formed."""
    yield from _names(truck)
    yield from _references(truck)
    yield from _engine(truck)
    yield from _oil(truck)
    yield from _pumps(truck)
    for position, function in enumerate(truck.function):
        yield from _function(function, ("function", position))
    yield from _scenarios(truck)
    yield from _details(truck)


def _names(truck: Truck) -> Iterator[Problem]:
    parts = {
        "pump": truck.pump,
        "bank": truck.bank,
        "function": truck.function,
        "relief": truck.relief,
    }
    seen = Counter(part.name for group in parts.values() for part in group)
    for group, members in parts.items():
        for position, part in enumerate(members):
            path, key = (group, position, "name"), f"{part.name}.name"
            if seen[part.name] > 1:
                yield (
                    path,
                    key,
                    f"'{part.name}' is used twice; pumps, banks, functions and reliefs each need a name of their own",
                )
            if "." in part.name:
                yield path, key, "a name must not hold a point; it separates the parts of a path"
    scenarios = Counter(s.name for s in truck.scenario)
    for position, scenario in enumerate(truck.scenario):
        if scenarios[scenario.name] > 1:
            yield (
                ("scenario", position, "name"),
                "scenario.name",
                f"'{scenario.name}' is used twice",
            )


def _references(truck: Truck) -> Iterator[Problem]:
    known = {
        "pump": [p.name for p in truck.pump],
        "bank": [b.name for b in truck.bank],
        "function": [f.name for f in truck.function],
    }

    def missing(kind: str, wanted: str | None, path: Path, key: str) -> Iterator[Problem]:
        if wanted is not None and wanted not in known[kind]:
            yield path, key, f"no {kind} '{wanted}'; there is: {', '.join(known[kind]) or 'none'}"

    for i, pump in enumerate(truck.pump):
        for bank in pump.feeds:
            yield from missing("bank", bank, ("pump", i, "feeds"), f"{pump.name}.feeds")
    for i, bank_ in enumerate(truck.bank):
        for function in bank_.order:
            yield from missing("function", function, ("bank", i, "order"), f"{bank_.name}.order")
        feeders = [p.name for p in truck.pump if bank_.name in p.feeds]
        if len(feeders) > 1:
            yield ("bank", i), bank_.name, f"is fed by more than one pump: {', '.join(feeders)}"
    for i, function_ in enumerate(truck.function):
        yield from missing(
            "bank", function_.bank, ("function", i, "bank"), f"{function_.name}.bank"
        )
    for i, relief in enumerate(truck.relief):
        place = _RELIEF_PLACES[relief.at]
        yield from missing(place, relief.of, ("relief", i, "of"), f"{relief.name}.of")
    for line in truck.lines:
        place = "pump" if line.carries in ("suction", "pressure") else "function"
        yield from missing(place, line.of, ("lines", line.name, "of"), f"lines.{line.name}.of")
    for i, link in enumerate(truck.link):
        yield from missing("function", link.function, ("link", i, "function"), "link.function")
        yield from missing("function", link.follows, ("link", i, "follows"), "link.follows")
    for i, scenario in enumerate(truck.scenario):
        for task in scenario.run:
            yield from missing(
                "function",
                task.name,
                ("scenario", i, "run", task.name),
                f"{scenario.name}.run.{task.name}",
            )


def _engine(truck: Truck) -> Iterator[Problem]:
    engine = truck.engine
    low, high = engine.working or (None, None)
    speeds = [
        ("idle", engine.idle),
        ("working", low),
        ("working", high),
        ("governed", engine.governed),
        ("overrun", engine.overrun),
    ]
    given = [(key, speed) for key, speed in speeds if speed is not None]
    for (key_a, a), (key_b, b) in zip(given, given[1:], strict=False):
        if b < a:
            yield (
                ("engine", key_b),
                f"engine.{key_b}",
                f"lies below engine.{key_a}; the order is idle, working, governed, overrun",
            )


def _oil(truck: Truck) -> Iterator[Problem]:
    oil = truck.oil
    if oil.point and (oil.grade is not None or oil.viscosity_index is not None):
        yield (
            ("oil", "point"),
            "oil.point",
            "two measured points stand in place of grade and viscosity_index; give one or the other",
        )
    if oil.point and len(oil.point) != 2:
        yield ("oil", "point"), "oil.point", f"read {len(oil.point)} point(s); two fit"
    if len(oil.point) == 2:
        cooler, warmer = sorted(oil.point, key=lambda p: float(p.temperature))
        if cooler.temperature == warmer.temperature or warmer.viscosity >= cooler.viscosity:
            yield ("oil", "point"), "oil.point", "the warmer point must have the lower viscosity"
    temperatures = [
        (k, t) for k in ("cold", "working", "hot") if (t := getattr(oil, k)) is not None
    ]
    for (key_a, a), (key_b, b) in zip(temperatures, temperatures[1:], strict=False):
        if b < a:
            yield ("oil", key_b), f"oil.{key_b}", f"lies below oil.{key_a}"


def _pumps(truck: Truck) -> Iterator[Problem]:
    for i, pump in enumerate(truck.pump):
        nominal, derived, efficiency = (
            pump.displacement,
            pump.derived_displacement,
            pump.volumetric_efficiency,
        )
        if (
            derived is not None
            and nominal is not None
            and efficiency is not None
            and derived < efficiency * nominal
        ):
            yield (
                ("pump", i, "derived_displacement"),
                f"{pump.name}.derived_displacement",
                "is smaller than the rated delivery per turn: slip would be negative",
            )


def _function(function: Function, path: Path) -> Iterator[Problem]:
    ways = {
        "motor": bool(function.motor),
        "cylinder": function.cylinder is not None,
        "flow": function.flow is not None,
    }
    if sum(ways.values()) > 1:
        given = ", ".join(way for way, is_given in ways.items() if is_given)
        yield path, function.name, f"has {given}; one of motor, cylinder, flow (with pressure) fits"
    section = function.section
    if section.deadband is not None and section.deadband >= section.full_command:
        yield (
            (*path, "section", "deadband"),
            f"{function.name}.section.deadband",
            "must lie below section.full_command",
        )
    for j, motor in enumerate(function.motor):
        at = (*path, "motor", j)
        yield from _motor(motor, at, f"{function.name}.motor")
    cylinder = function.cylinder
    if (
        cylinder
        and cylinder.bore is not None
        and cylinder.rod is not None
        and cylinder.rod >= cylinder.bore
    ):
        yield (
            (*path, "cylinder", "rod"),
            f"{function.name}.cylinder.rod",
            "must be smaller than the bore",
        )


def _motor(motor: Motor, path: Path, key: str) -> Iterator[Problem]:
    nominal, derived, efficiency = (
        motor.displacement,
        motor.derived_displacement,
        motor.volumetric_efficiency,
    )
    if (
        derived is not None
        and nominal is not None
        and efficiency is not None
        and derived > nominal / efficiency
    ):
        yield (
            (*path, "derived_displacement"),
            f"{key}.derived_displacement",
            "is larger than the rated flow per turn: slip would be negative",
        )
    for name in ("load", "load_empty"):
        if (load := getattr(motor, name)) is not None:
            yield from _load(load, (*path, name), f"{key}.{name}")


def _load(load: Load, path: Path, key: str) -> Iterator[Problem]:
    torques = [k for k in ("constant", "linear", "square") if getattr(load, k) is not None]
    if load.pressure is not None and torques:
        yield path, key, f"has pressure and {', '.join(torques)}; give the pressure or the torques"
    if load.pressure is None and not torques:
        yield path, key, "is empty; give pressure, or constant, linear, square torques"
    if load.at is None and {"linear", "square"} & set(torques):
        yield path, f"{key}.at", "missing; the speed at which linear and square are stated"


def _scenarios(truck: Truck) -> Iterator[Problem]:
    kinds = {f.name: f for f in truck.function}
    for i, scenario in enumerate(truck.scenario):
        for task in scenario.run:
            path, key = ("scenario", i, "run", task.name), f"{scenario.name}.run.{task.name}"
            function = kinds.get(task.name)
            given = [k for k in task.ASKS if getattr(task, k) is not None]
            if len(given) != 1:
                yield (
                    path,
                    key,
                    f"gives {', '.join(given) or 'nothing'}; exactly one fits of: {', '.join(task.ASKS)}",
                )
                continue
            if task.rate is not None and task.road_speed is None:
                yield path, key, "an ordered rate needs its road_speed"
            if function is None:
                continue
            if task.rate is not None and function.kind != "feeder":
                yield (
                    path,
                    key,
                    f"an ordered rate fits a feeder; '{function.name}' is a {function.kind}",
                )
            if task.motion is not None and function.cylinder is None:
                yield path, key, "a motion fits a function with a cylinder"
            if task.speed is not None and function.cylinder is not None:
                yield path, key, "a shaft speed does not fit a cylinder; motion or flow does"


def _details(truck: Truck) -> Iterator[Problem]:
    for i, relief in enumerate(truck.relief):
        if (
            relief.cracking is not None
            and relief.setting is not None
            and relief.cracking >= relief.setting
        ):
            yield ("relief", i, "cracking"), f"{relief.name}.cracking", "must lie below the setting"
    for line in truck.lines:
        if (
            line.filter
            and line.filter.bypass_cracking is not None
            and line.filter.bypass_full is None
        ):
            yield (
                ("lines", line.name, "filter"),
                f"lines.{line.name}.filter.bypass_full",
                "missing; a bypass needs both pressures",
            )
        if (
            line.filter
            and line.filter.bypass_full is not None
            and line.filter.bypass_cracking is not None
            and line.filter.bypass_full <= line.filter.bypass_cracking
        ):
            yield (
                ("lines", line.name, "filter"),
                f"lines.{line.name}.filter.bypass_full",
                "must lie above bypass_cracking",
            )
        if line.role is None and line.name not in ("suction", "pressure", "return"):
            yield (
                ("lines", line.name),
                f"lines.{line.name}.role",
                "missing; here fits: suction, pressure, work supply, work return, return, case drain",
            )
        if line.role in ("work supply", "work return") and line.of is None:
            yield (
                ("lines", line.name),
                f"lines.{line.name}.of",
                "missing; the function that the line serves",
            )
    auger = truck.spreading.auger
    if auger and auger.shaft >= auger.diameter:
        yield (
            ("spreading", "auger", "shaft"),
            "spreading.auger.shaft",
            "must be smaller than the diameter",
        )
    ways = [
        k for k in ("mass_per_turn", "auger", "conveyor") if getattr(truck.spreading, k) is not None
    ]
    if len(ways) > 1 and set(ways) >= {"auger", "conveyor"}:
        yield (
            ("spreading", "conveyor"),
            "spreading.conveyor",
            "has auger and conveyor; one of them fits",
        )
