"""The bill of sizes: what to buy or set, in neutral words, and the requirement that rules it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from hydrocheck.advice.sizing import Neighbour, Sizing, require_chosen
from hydrocheck.advice.sizing_build import work_flow
from hydrocheck.advice.sizing_frame import Frame, swing
from hydrocheck.advice.sizing_parts import ISO_4397, Machine, dash_of
from hydrocheck.checks import Amount, Inspection
from hydrocheck.checks.finding import Words, at_least, words
from hydrocheck.model.circuit import Function, Line
from hydrocheck.model.truck import Truck
from hydrocheck.physics import heat, lines, machines


@dataclass(frozen=True)
class Item:
    """One line of the bill.

    size: what to buy or set; rule: the requirement that rules it; check: its check, or ""
    """

    group: str
    item: str
    count: int
    size: Words
    rule: Words
    check: str = ""


def bill(sizing: Sizing) -> tuple[Item, ...]:
    """The bill of the chosen circuit. Raises MissingValue where none fits."""
    made = require_chosen(sizing)
    frame, truck = sizing.frames[made.frame], made.truck
    near = {
        n.axis: n
        for n in sizing.neighbours
        if n.axis.endswith(("motor", "pump")) and _down(n, truck)
    }
    items = [
        *_pump(frame, truck, made.key, near),
        *_drive(truck, frame),
        *_functions(frame, truck, made.key, near),
        *_settings(truck, frame),
        *_hoses(truck),
        *_tank(truck, frame),
    ]
    return tuple(items)


def _down(near: Neighbour, truck: Truck) -> bool:
    """Whether a neighbour is the next smaller machine."""
    size = near.step.amounts["size"]
    assert isinstance(size, Amount)
    if near.axis == "pump":
        now = truck.pump[0].displacement
    else:
        now = truck.function_named(near.axis.removesuffix(" motor")).motor[0].displacement
    return size.value < float(now or 0.0)


def _ruled(near: Neighbour | None) -> tuple[Words, str]:
    """Why it is not the next smaller size."""
    if near is None:
        return words("the smallest on offer does it"), ""
    amounts = {**near.step.amounts, **{f"r_{k}": v for k, v in near.reason.amounts.items()}}
    if near.place is not None:
        return Words("the next smaller, {size}, fits too, but ranks lower", amounts), ""
    reason = near.reason.template
    for key in near.reason.amounts:
        reason = reason.replace(f"{{{key}}}", f"{{r_{key}}}")
    return Words(f"with the next smaller, {{size}}: {reason}", amounts), near.rejected


def _machine_words(machine: Machine, level: float) -> Words:
    name = f"{machine.name}, " if machine.name else ""
    return words(
        f"{{name}}{machine.build}, {{size}}, rated {{level}} and {{speed}} or more",
        name=name,
        size=Amount(machine.displacement, "displacement"),
        level=at_least(level, "pressure"),
        speed=Amount(machine.max_speed, "shaft_speed"),
    )


def _pump(
    frame: Frame, truck: Truck, key: tuple[int, ...], near: dict[str, Neighbour]
) -> Iterator[Item]:
    rule, check = _ruled(near.get("pump"))
    size = _machine_words(frame.pumps[key[1]], frame.level)
    yield Item("pump and drive", f"pump, {truck.pump[0].type}", 1, size, rule, check)


def _drive(truck: Truck, frame: Frame) -> Iterator[Item]:
    drive, look = truck.engine.drive, Inspection(truck)
    pressure, flow = look.highest_pressure(look.pump), look.full_flow(look.pump)
    displacement = float(look.pump.displacement or 0.0)
    torque = displacement * pressure / float(look.pump.hydromechanical_efficiency or 1.0)
    kind = drive.kind or "drive"
    group = "pump and drive"
    yield Item(
        group, f"{kind}, ratio", 1, words("{ratio}", ratio=Amount(float(drive.ratio), "ratio")),
        words("pump speed / engine speed, of those on offer"),
    )  # fmt: skip
    yield Item(
        group, f"{kind}, torque rating", 1,
        words("{t}", t=at_least(float(drive.torque_rating or 0.0), "torque")),
        words("pump at full stroke and {p} takes {t}", p=Amount(pressure, "pressure"),
              t=Amount(torque, "torque")),
        "drive-torque",
    )  # fmt: skip
    asked = float(machines.drive_power_rating(pressure, flow))
    yield Item(
        group, f"{kind}, power rating", 1,
        words("{p}", p=at_least(float(drive.power_rating or 0.0), "power")),
        words("1.5 p Q / 0.85 at {p} and {q} asks {w}", p=Amount(pressure, "pressure"),
              q=Amount(flow, "flow"), w=Amount(asked, "power")),
        "drive-power",
    )  # fmt: skip


def _functions(
    frame: Frame, truck: Truck, key: tuple[int, ...], near: dict[str, Neighbour]
) -> Iterator[Item]:
    picks = dict(zip(frame.motors, key[2:], strict=True))
    for function in truck.function:
        name = function.name
        if name in picks:
            rule, check = _ruled(near.get(f"{name} motor"))
            size = _machine_words(frame.motors[name][picks[name]], frame.level)
            yield Item(name, "motor", 1, size, rule, check)
        cylinder = function.cylinder
        if cylinder is not None:
            sizes = words(
                "bore {bore}, stroke {stroke}",
                bore=Amount(float(cylinder.bore or 0.0), "length"),
                stroke=Amount(float(cylinder.stroke or 0.0), "length"),
            )
            load = Amount(float(cylinder.extend_load or 0.0), "force")
            rule = words("load of {load}, all cylinders together", load=load)
            yield Item(name, "cylinder", cylinder.count, sizes, rule, "working-pressure-relief")
        yield _section(function)


def _section(function: Function) -> Item:
    rated = Amount(float(function.section.rated_flow or 0.0), "flow")
    size = words("{q} at full command", q=rated)
    top = function.trims.max
    if top is None:
        return Item(function.name, "valve section", 1, size, words("its greatest demand, worn"),
                    "speed-in-reach")  # fmt: skip
    rule = words(
        "its greatest demand, worn, stands at a command of {top}",
        top=Amount(float(top), "fraction"),
    )
    return Item(function.name, "valve section", 1, size, rule, "speed-in-reach")


def _settings(truck: Truck, frame: Frame) -> Iterator[Item]:
    pump, relief = truck.pump[0], truck.relief[0]
    group = "settings"
    size = words(
        "{p} at {q}",
        p=Amount(float(relief.setting or 0.0), "pressure"),
        q=Amount(float(relief.rated_flow or 0.0), "flow"),
    )
    rule = words(
        "rating {level} of the parts behind it; flow of the pump at the highest engine speed",
        level=Amount(frame.level, "pressure"),
    )
    yield Item(group, "main relief, pilot operated", 1, size, rule, "relief-ratings")
    if pump.compensator is None:
        return
    gap = Amount(float(truck.limits.compensator_gap), "pressure")
    yield Item(
        group, "compensator", 1, words("{p}", p=Amount(float(pump.compensator), "pressure")),
        words("{gap} below the cracking of the main relief", gap=gap), "compensator-relief",
    )  # fmt: skip
    if pump.margin is None:
        return
    yield Item(
        group, "LS margin", 1, words("{p}", p=Amount(float(pump.margin or 0.0), "pressure")),
        words("drop of section and pressure line at the greatest flow, and a tenth more"),
        "margin-section-drop",
    )  # fmt: skip
    yield Item(
        group, "standby", 1, words("{p}", p=Amount(float(pump.standby or 0.0), "pressure")),
        words("above the LS margin"), "standby-margin",
    )  # fmt: skip


def _hoses(truck: Truck) -> Iterator[Item]:
    look = Inspection(truck)
    full = look.full_flow(look.pump)
    for line in truck.lines:
        role = line.carries
        work = role.startswith("work")
        limit = {
            "suction": truck.limits.suction_velocity,
            "pressure": truck.limits.pressure_velocity,
            "work supply": truck.limits.pressure_velocity,
        }.get(role, truck.limits.return_velocity)
        check = f"{role}-velocity" if not work else "work-line-velocity"
        flow = full if not work else work_flow(truck, line)
        fast = float(lines.velocity(flow, float(line.bore or 1.0)))
        rule = words(
            "{q} runs at {v}; at most {limit}",
            q=Amount(flow, "flow"),
            v=Amount(fast, "velocity"),
            limit=Amount(float(limit), "velocity"),
        )  # fmt: skip
        exact = float(lines.bore_for_velocity(flow, float(limit)))
        if work and float(line.bore or 0.0) > 1.3 * exact:
            rule = words(
                "drop in the coldest oil at work; {q} runs at {v}",
                q=Amount(flow, "flow"),
                v=Amount(fast, "velocity"),
            )
        if role == "suction" and float(line.bore or 0.0) > 1.3 * exact:
            rule, check = words("inlet pressure at a cold start"), "pump-inlet-cold"
        yield Item("hoses", _line_name(line), 1, _hose(line), rule, check)


def _line_name(line: Line) -> str:
    work = line.carries.startswith("work")
    return line.name if work else f"{line.carries} line"


def _hose(line: Line) -> Words:
    bore, dash = float(line.bore or 0.0), dash_of(float(line.bore or 0.0))
    return words(
        f"bore {{bore}} (-{dash}, ISO 4397 {ISO_4397[dash]:g} mm), {{length}} long",
        bore=Amount(bore, "length"),
        length=Amount(float(line.length or 0.0), "length"),
    )


def _tank(truck: Truck, frame: Frame) -> Iterator[Item]:
    back = next(line for line in truck.lines if line.filter is not None)
    part, tank = back.filter, truck.reservoir
    assert part is not None
    group = "oil"
    size = words(
        "{q}, {fine} or finer, clean drop {drop} at most, bypass opens at {bypass}",
        q=at_least(float(part.rated_flow), "flow"),
        fine=Amount(float(part.fineness or 0.0), "particle_size"),
        drop=Amount(float(part.rated_drop), "pressure_drop"),
        bypass=Amount(float(part.bypass_cracking or 0.0), "pressure_drop"),
    )
    rule = words("flow of the pump at the highest engine speed")
    yield Item(group, "return filter", 1, size, rule, "filter-clean-drop")
    volume = float(tank.volume or 0.0)
    working = truck.engine.working or (0.0, 0.0)
    flow = float(truck.pump[0].displacement or 0.0) * working[1] * float(truck.engine.drive.ratio)
    dwell = float(heat.reservoir_volume(flow, frame.needs.tank.dwell))
    moved = float(heat.reservoir_volume_for_swing(swing(truck)))
    text = "a pump flow of {q} rests {t}; cylinders take {moved}, a tenth more included"
    if volume < dwell * (1.0 - 1e-9):
        text = "the space there is ({q} would want more to rest {t}); cylinders take {moved}"
    rule = words(
        text,
        q=Amount(flow, "flow"),
        t=Amount(frame.needs.tank.dwell, "time"),
        moved=Amount(moved, "volume"),
    )
    size = words("{v} of oil", v=Amount(volume, "volume"))
    yield Item(group, "tank", 1, size, rule, "tank-swing")
    hot = Amount(float(truck.oil.hot or 0.0), "temperature")
    if tank.cooler:
        size = words(
            "{c} for each degree above the air", c=at_least(float(tank.cooler), "heat_conductance")
        )
        rule = words("holds the oil at {hot} at work and on the road, in the hottest air", hot=hot)
        yield Item(group, "cooler", 1, size, rule, "circulation-heat")
    else:
        rule = words("the tank alone holds the oil below {hot}", hot=hot)
        if truck.ambient.hottest is None:
            rule = words("not judged: needs ambient.hottest")
        yield Item(group, "cooler", 0, words("none"), rule, "circulation-heat")
