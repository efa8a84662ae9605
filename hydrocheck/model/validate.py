"""What must hold between the values of a truck file: names, references, order, either-or.

Each rule is a generator of `(path, key, message)`; the reader adds the line. Whether the truck is a
*good* one is not asked here: that is what the checks are for.
"""

from __future__ import annotations

import dataclasses
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

from hydrocheck.model.fields import specs
from hydrocheck.model.lineindex import Path

if TYPE_CHECKING:
    from hydrocheck.model.circuit import Function, Line, Load, Motor
    from hydrocheck.model.machines import HopperLoad
    from hydrocheck.model.truck import Truck

Problem = tuple[Path, str, str]

_MOST_LISTED = 10
_RIGHT_ANGLE = 1.5707963267948966

_CODE = re.compile(r"\d{1,2}/\d{1,2}(/\d{1,2})?")

_DISC_ANGLES = {"tilt": 45, "exit_elevation": 60, "vane_angle": 60, "fan": 180}

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
    yield from _cleanliness(truck)


def work_problems(made: Any) -> Iterator[Problem]:
    """Rules for oil, scenarios and feeder, which a file of needs has in common with a truck."""
    yield from _oil(made)
    yield from _scenarios(made)
    yield from _feeder(made)


def _names(truck: Truck) -> Iterator[Problem]:
    groups: dict[str, list[str]] = {
        "pump": [p.name for p in truck.pump],
        "bank": [b.name for b in truck.bank],
        "function": [f.name for f in truck.function],
        "relief": [r.name for r in truck.relief],
    }
    seen = Counter(name for names in groups.values() for name in names)
    words = {f.name for f in dataclasses.fields(truck)}
    for group, names in groups.items():
        for position, name in enumerate(names):
            path, key = (group, position, "name"), f"{name}.name"
            if seen[name] > 1:
                yield (
                    path,
                    key,
                    f"'{name}' is used twice; each pump, bank, function and relief needs its own",
                )
            if "." in name:
                yield path, key, "a name must not hold a point; it separates the parts of a path"
            if name in words and name != group:
                yield path, key, f"'{name}' is a word of the file itself; choose another name"
    for line in truck.lines:
        at, key = ("lines", line.name), f"lines.{line.name}"
        if line.name in seen or line.name in words:
            yield at, key, f"'{line.name}' is also the name of another part; choose another"
        if "." in line.name:
            yield at, key, "a name must not hold a point; it separates the parts of a path"
    yield from _twice([s.name for s in truck.scenario], ("scenario",), "scenario")
    yield from _twice([g.name for g in truck.engine.gear], ("engine", "gear"), "engine.gear")
    for i, function in enumerate(truck.function):
        motors = [m.name for m in function.motor if m.name]
        yield from _twice(motors, ("function", i, "motor"), f"{function.name}.motor")


def _twice(names: Iterable[str], path: Path, key: str) -> Iterator[Problem]:
    """Names that one list holds more than once."""
    for name, times in Counter(names).items():
        if times > 1:
            yield path, key, f"'{name}' is used {times} times; each needs its own name"


def _references(truck: Truck) -> Iterator[Problem]:
    known = {
        "pump": [p.name for p in truck.pump],
        "bank": [b.name for b in truck.bank],
        "function": [f.name for f in truck.function],
    }

    def missing(kind: str, wanted: str | None, path: Path, key: str) -> Iterator[Problem]:
        if wanted is not None and wanted not in known[kind]:
            have = ", ".join(known[kind][:_MOST_LISTED]) or "none"
            more = ", ..." if len(known[kind]) > _MOST_LISTED else ""
            yield path, key, f"read '{wanted}'; no such {kind}; there is: {have}{more}"

    for i, pump in enumerate(truck.pump):
        yield from _twice(pump.feeds, ("pump", i, "feeds"), f"{pump.name}.feeds")
        for bank in pump.feeds:
            yield from missing("bank", bank, ("pump", i, "feeds"), f"{pump.name}.feeds")
    for i, bank_ in enumerate(truck.bank):
        yield from _twice(bank_.order, ("bank", i, "order"), f"{bank_.name}.order")
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
        if link.function == link.follows:
            yield ("link", i), "link", f"'{link.function}' cannot follow itself"
    for i, scenario in enumerate(truck.scenario):
        for task in scenario.run:
            yield from missing(
                "function",
                task.name,
                ("scenario", i, "run", task.name),
                f"scenario.{scenario.name}.run.{task.name}",
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
            "two measured points stand in place of grade and viscosity_index; give either",
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
    if function.disc is not None:
        yield from _disc(function, (*path, "disc"))
    if function.liquid_pump is not None:
        yield from _liquid_pump(function, (*path, "liquid_pump"))
    section = function.section
    if section.deadband is not None and section.deadband >= section.full_command:
        yield (
            (*path, "section", "deadband"),
            f"{function.name}.section.deadband",
            "must lie below section.full_command",
        )
    for j, motor in enumerate(function.motor):
        several = f"motor[{j + 1}]" if len(function.motor) > 1 else "motor"
        yield from _motor(motor, (*path, "motor", j), f"{function.name}.{motor.name or several}")
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


def _liquid_pump(function: Function, path: Path) -> Iterator[Problem]:
    key = f"{function.name}.liquid_pump"
    if function.kind != "liquid":
        yield path, key, f"a liquid pump fits a liquid function, not a {function.kind}"
    loads = [m for m in function.motor if m.load is not None or m.load_empty is not None]
    if loads:
        yield path, key, "stands beside the load of a motor; give one of them"
    if len(function.motor) > 1:
        yield path, key, "fits one motor, not several"


def _disc(function: Function, path: Path) -> Iterator[Problem]:
    disc, key = function.disc, f"{function.name}.disc"
    if function.kind != "spinner":
        yield path, key, f"a disc fits a spinner; '{function.name}' is a {function.kind}"
    for attribute, most in _DISC_ANGLES.items():
        angle = getattr(disc, attribute)
        if angle is not None and abs(angle) > math.radians(most) * (1 + 1e-9):
            yield (*path, attribute), f"{key}.{attribute}", f"is more than {most} degrees"


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
            yield from load_problems(load, (*path, name), f"{key}.{name}")


def load_problems(load: Load, path: Path, key: str) -> Iterator[Problem]:
    torques = [k for k in ("constant", "linear", "square") if getattr(load, k) is not None]
    models = [k for k in ("pressure", "hopper", "screw") if getattr(load, k) is not None]
    if len(models) + bool(torques) > 1:
        read = " and ".join([*models, *([", ".join(torques)] if torques else [])])
        yield path, key, f"has {read}; give the torques or one of the others"
    if not models and not torques:
        yield (
            path,
            key,
            "is empty; give pressure, hopper, screw, or constant, linear, square torques",
        )
    if load.at is None and {"linear", "square"} & set(torques):
        yield path, f"{key}.at", "missing; the speed at which linear and square are stated"
    for model in (load.hopper, load.screw):
        if model and model.diameter is not None and model.shaft >= model.diameter:
            name = "hopper" if model is load.hopper else "screw"
            yield (*path, name), f"{key}.{name}.shaft", "must be smaller than the diameter"
    if load.hopper is not None:
        yield from _hopper(load.hopper, (*path, "hopper"), f"{key}.hopper")


def _hopper(hopper: HopperLoad, path: Path, key: str) -> Iterator[Problem]:
    auger = hopper.diameter is not None or hopper.pitch is not None
    if auger == (hopper.radius is not None):
        yield path, key, "needs diameter and pitch (an auger), or radius (a belt or chain)"
    elif auger and (hopper.diameter is None or hopper.pitch is None):
        missing = "pitch" if hopper.pitch is None else "diameter"
        yield path, f"{key}.{missing}", "missing; an auger needs diameter and pitch"
    if hopper.top <= hopper.slot:
        yield (*path, "top"), f"{key}.top", "must be larger than the slot"
    if not hopper.wall_friction < hopper.internal_friction < _RIGHT_ANGLE:
        yield (
            (*path, "wall_friction"),
            f"{key}.wall_friction",
            "must lie below internal_friction, and that below 90 deg",
        )
    if hopper.half_angle >= _RIGHT_ANGLE:
        yield (*path, "half_angle"), f"{key}.half_angle", "must lie below 90 deg"


def _scenarios(truck: Truck) -> Iterator[Problem]:
    kinds = {f.name: f for f in truck.function}
    for i, scenario in enumerate(truck.scenario):
        for task in scenario.run:
            path = ("scenario", i, "run", task.name)
            key = f"scenario.{scenario.name}.run.{task.name}"
            function = kinds.get(task.name)
            given = [k for k in task.ASKS if getattr(task, k) is not None]
            if len(given) != 1:
                read, fits = ", ".join(given) or "nothing", ", ".join(task.ASKS)
                yield path, key, f"gives {read}; exactly one fits of: {fits}"
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
        cracking, setting = relief.cracking, relief.setting
        if cracking is not None and setting is not None and cracking >= setting:
            yield ("relief", i, "cracking"), f"{relief.name}.cracking", "must lie below the setting"
    for line in truck.lines:
        yield from _line(line)
    first: dict[tuple[str, str | None], str] = {}
    for line in truck.lines:
        other = first.setdefault((line.carries, line.of), line.name)
        if other != line.name and line.carries != "case drain":
            whose = f" of '{line.of}'" if line.of else ""
            yield (
                ("lines", line.name),
                f"lines.{line.name}",
                f"lines.{other} is the {line.carries} line{whose} already; one fits",
            )
    yield from _feeder(truck)


def _feeder(truck: Truck) -> Iterator[Problem]:
    auger = truck.spreading.auger
    if auger and auger.shaft >= auger.diameter:
        path = ("spreading", "auger", "shaft")
        yield path, "spreading.auger.shaft", "must be smaller than the diameter"
    if auger and truck.spreading.conveyor:
        yield (
            ("spreading", "conveyor"),
            "spreading.conveyor",
            "stands beside auger; one of them fits",
        )


def _cleanliness(truck: Truck) -> Iterator[Problem]:
    """Codes of ISO 4406: two or three scale numbers, from coarse counts to fine."""
    places: list[tuple[Path, str, str]] = [(("oil",), "oil", truck.oil.cleanliness)]
    for i, pump in enumerate(truck.pump):
        places.append((("pump", i), pump.name, pump.cleanliness))
    for i, bank in enumerate(truck.bank):
        places.append((("bank", i), bank.name, bank.cleanliness))
    for i, function in enumerate(truck.function):
        for j, motor in enumerate(function.motor):
            path: Path = ("function", i, "motor", j)
            places.append((path, f"{function.name}.motor", motor.cleanliness))
    for path, key, code in places:
        if code and not _CODE.fullmatch(code):
            yield (
                (*path, "cleanliness"),
                f"{key}.cleanliness",
                f"read '{code[:40]}'; an ISO 4406 code fits, such as 19/17/14 or 17/14",
            )


def _line(line: Line) -> Iterator[Problem]:
    path, key = ("lines", line.name), f"lines.{line.name}"
    if line.filter is not None:
        opens, full = line.filter.bypass_cracking, line.filter.bypass_full
        at, bypass = (*path, "filter"), f"{key}.filter"
        if opens is not None and full is None:
            yield at, f"{bypass}.bypass_full", "missing; a bypass needs both pressures"
        if full is not None and opens is None:
            yield at, f"{bypass}.bypass_cracking", "missing; a bypass needs both pressures"
        if opens is not None and full is not None and full <= opens:
            key = f"{bypass}.bypass_full"
            yield (*at, "bypass_full"), key, "must lie above bypass_cracking"
    if line.role is None and line.name not in ("suction", "pressure", "return"):
        roles = ", ".join(specs(type(line))["role"].options)
        yield path, f"{key}.role", f"missing; here fits: {roles}"
    if line.role in ("work supply", "work return") and line.of is None:
        yield path, f"{key}.of", "missing; the function that the line serves"
