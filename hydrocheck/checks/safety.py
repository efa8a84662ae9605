"""What guards the oil: low level, hoses with their safety factor, cleanliness."""

from __future__ import annotations

from dataclasses import replace

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import Amount, Judgement, at_least, at_most, lower, words
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.checks.tank import swing
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Line, Pump


def _never_stopped(truck: Truck) -> list[tuple[str, Pump]]:
    """Pumps on the crankshaft."""
    return [(p.name, p) for p in truck.pump if (p.drive or truck.engine.drive).kind == "crankshaft"]


@check(
    "low-oil-shut-off",
    area="pump and drive",
    asks="Is a pump that never stops guarded against a tank that runs empty?",
    formula="oil left when the low-level switch acts >= oil that covers the suction port",
    limit="reservoir.least_volume; an alarm alone, or nothing, is a caution",
    source="common practice: a crankshaft pump runs on when a hose bursts, and then runs dry",
    subjects=_never_stopped,
)
def low_oil_shut_off(look: Inspection, pump: Pump) -> Judgement:
    """Level at which the shut-off acts against the suction port."""
    tank = look.truck.reservoir
    if tank.low_level_action is None:
        raise MissingValue(["reservoir.low_level_action"])
    if tank.low_level_action == "none":
        why = words("nothing acts when the oil is low, and the pump cannot be stopped alone")
        return Judgement("caution", why, change=words("a low-level shut-off, or an alarm at least"))
    missing = [f"reservoir.{k}" for k in ("low_level", "least_volume") if getattr(tank, k) is None]
    if missing or tank.low_level is None or tank.least_volume is None:
        raise MissingValue(missing)
    judged = lower(
        Amount(float(tank.low_level), "volume"),
        Amount(float(tank.least_volume), "volume"),
        about=f"oil left when the {tank.low_level_action} acts",
        change=words(
            "a switch that acts at {volume} or more",
            volume=at_least(float(tank.least_volume), "volume"),
        ),
    )
    if judged.verdict == "pass" and tank.low_level_action == "alarm":
        why = words("only an alarm tells of low oil, and the pump cannot be stopped alone")
        change = words("a shut-off that unloads the functions")
        return replace(judged, verdict="caution", reason=why, change=change)
    return judged


@check(
    "oil-level-body-up",
    area="filter and tank",
    asks="Does the oil level stay high enough with the body up and every cylinder out?",
    formula="oil volume - what the cylinders hold >= level of the switch, or of the suction port",
    limit="the greater of reservoir.low_level and reservoir.least_volume",
    source="volume balance; below it the switch stops the work, or the pump draws air",
    subjects=lambda truck: (
        [("tank", None)] if any(f.cylinder for _, f in subjects.functions(truck)) else []
    ),
)
def oil_level_body_up(look: Inspection, _: None) -> Judgement:
    """Oil left in the tank with the cylinders out."""
    tank = look.truck.reservoir
    levels = [float(v) for v in (tank.low_level, tank.least_volume) if v is not None]
    missing = [] if tank.volume is not None else ["reservoir.volume"]
    if not levels:
        missing.append("reservoir.least_volume")
    if missing or tank.volume is None:
        raise MissingValue(missing)
    taken = sum(volume for _, volume in swing(look.truck))
    return lower(
        Amount(float(tank.volume) - taken, "volume"),
        Amount(max(levels), "volume"),
        about="oil left with every cylinder out",
        given={
            "volume": Amount(float(tank.volume), "volume"),
            "cylinders": Amount(taken, "volume"),
        },
        change=words("{volume} of oil or more", volume=at_least(max(levels) + taken, "volume")),
    )


def _hoses(truck: Truck) -> list[tuple[str, Line]]:
    """Hoses on the pressure side."""
    sides = ("pressure", "work supply")
    return [(f"{n.name} hose", n) for n in truck.lines if n.kind == "hose" and n.carries in sides]


@check(
    "hose-safety",
    area="pressure ladder",
    asks="Does the hose burst only far above the relief, by the standard that it is made to?",
    formula="burst pressure >= {hose_factor} x setting of the relief in front of it",
    limit="{hose_factor} times the relief setting; the standard's edition must be named",
    source="SAE J517 (from memory): ratings changed with its editions, the factor did not",
    subjects=_hoses,
)
def hose_safety(look: Inspection, line: Line) -> Judgement:
    """Burst pressure against the relief with its safety factor."""
    missing = [] if line.burst_pressure is not None else [f"lines.{line.name}.burst_pressure"]
    if not line.standard:
        missing.append(f"lines.{line.name}.standard")
    if missing or line.burst_pressure is None:
        raise MissingValue(missing)
    ports = [r for r in look.truck.relief if r.at == "port" and r.of == line.of]
    relief = ports[0] if ports else look.main_relief(look.pump)
    if relief.setting is None:
        raise MissingValue([f"{relief.name}.setting"])
    factor, setting = float(look.truck.limits.hose_factor), float(relief.setting)
    burst = float(line.burst_pressure)
    return lower(
        Amount(burst, "pressure"),
        Amount(factor * setting, "pressure"),
        about="burst pressure of the hose",
        at={"standard": line.standard, "relief": relief.name},
        given={"setting": Amount(setting, "pressure"), "factor": Amount(factor, "ratio")},
        change=words(
            "a hose that bursts at {burst} or more, or {relief} at {setting} or less",
            burst=at_least(factor * setting, "pressure"),
            relief=relief.name,
            setting=at_most(burst / factor, "pressure"),
        ),
    )


def _codes(truck: Truck) -> dict[str, tuple[int, ...]]:
    """ISO 4406 codes that the makers ask, by component."""
    found = {p.name: p.cleanliness for p in truck.pump}
    found |= {b.name: b.cleanliness for b in truck.bank}
    found |= {one.key: one.motor.cleanliness for _, one in subjects.motors(truck)}
    return {name: _scale(code) for name, code in found.items() if code}


def _scale(code: str) -> tuple[int, ...]:
    """Scale numbers at 6 and 14 micron, with that at 4 micron before them where it is given."""
    return tuple(int(part) for part in code.split("/"))


@check(
    "cleanliness",
    area="filter and tank",
    asks="Is the oil kept as clean as the most sensitive component asks?",
    formula="each ISO 4406 scale number of oil.cleanliness <= the least that a component asks",
    limit="the least scale numbers of pump, valve bank and motors",
    source="ISO 4406: one scale number more is twice the particles; the codes are the makers'",
    subjects=lambda truck: [("oil", None)] if truck.pump else [],
)
def cleanliness(look: Inspection, _: None) -> Judgement:
    """Cleanliness that is kept against the most sensitive component."""
    asked = _codes(look.truck)
    missing = [] if look.truck.oil.cleanliness else ["oil.cleanliness"]
    if not asked:
        missing.append("cleanliness of pump, bank or motors")
    if missing:
        raise MissingValue(missing)
    kept = _scale(look.truck.oil.cleanliness)
    shared = min(len(kept), *(len(code) for code in asked.values()))
    own = kept[-shared:]
    target = tuple(min(code[i - shared] for code in asked.values()) for i in range(shared))
    excess = max(a - b for a, b in zip(own, target, strict=True))
    most = min(asked, key=lambda name: sum(asked[name][-shared:]))
    text = {"kept": _code(own), "target": _code(target), "name": most}
    why = "oil is kept at {kept}; {name} asks most, {target} in all"
    if excess <= 0:
        return Judgement("pass", words(why, **text))
    return Judgement(
        "fail",
        words(why + ": {times} times the particles", times=str(2**excess), **text),
        margin=-float(excess) / max(target),
        change=words("finer filtration and sampling until it is {target}", target=_code(target)),
    )


def _code(numbers: tuple[int, ...]) -> str:
    return "/".join(str(n) for n in numbers)
