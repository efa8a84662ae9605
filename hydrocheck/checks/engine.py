"""Engine and drive beside their ratings: drop-out, torque left, circulation on the road."""

from __future__ import annotations

import numpy as np

from hydrocheck.checks import subjects
from hydrocheck.checks.cooling import tank_cooling
from hydrocheck.checks.finding import (
    Amount,
    Judgement,
    at_least,
    at_most,
    eased,
    lower,
    upper,
    words,
)
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Pump
from hydrocheck.model.truck import Scenario
from hydrocheck.solver import Points
from hydrocheck.studies.conditions import engine_speeds, top_speed

AREA = "pump and drive"


def _taken_off(truck: Truck) -> list[tuple[str, Pump]]:
    """Pumps on a power take-off."""
    return [
        (p.name, p) for p in truck.pump if (p.drive or truck.engine.drive).kind == "power take-off"
    ]


@check(
    "drive-drop-out",
    area=AREA,
    asks="Does the power take-off drop out before the engine passes its governed speed?",
    formula="engaged_to <= governed speed",
    limit="the governed speed; none, or a higher one, is a caution",
    source="FED-STD-794, p. 10: overspeed protection drops the drive at a preset engine speed",
    subjects=_taken_off,
)
def drive_drop_out(look: Inspection, pump: Pump) -> Judgement:
    """Drop-out speed of a power take-off against the governed speed."""
    if look.truck.engine.governed is None:
        raise MissingValue(["engine.governed"])
    governed = float(look.truck.engine.governed)
    set_to = look.drive_of(pump).engaged_to
    change = words(
        "an overspeed drop-out at {engine} or less", engine=at_most(governed, "shaft_speed")
    )
    limit = Amount(governed, "shaft_speed")
    if set_to is None:
        why = words("no overspeed drop-out is given for the power take-off")
        return Judgement("caution", why, limit=limit, change=change)
    judged = upper(
        Amount(float(set_to), "shaft_speed"), limit, about="overspeed drop-out", change=change
    )
    return eased(judged)


@check(
    "pump-speed-build",
    area=AREA,
    asks="Does the pump turn at speeds that are usual for its build?",
    formula="pump speed from idle to the highest engine speed with the drive engaged",
    limit=(
        "gear {gear_pump_low} to {gear_pump_high}, piston {piston_pump_low} to "
        "{piston_pump_high}, each end only where the file gives no maker's limit; outside is a "
        "caution, a vane pump is not judged"
    ),
    source="common practice (piston from memory); the pump maker's own limits come first",
    subjects=lambda truck: [(p.name, p) for p in truck.pump if p.build != "vane"],
)
def pump_speed_build(look: Inspection, pump: Pump) -> Judgement:
    """Speeds of the pump against what its build usually turns, where its maker says nothing."""
    if pump.min_speed is not None and pump.max_speed is not None:
        return Judgement("pass", words("the maker's own limits rule"))
    if pump.build is None:
        raise MissingValue([f"{pump.name}.build"])
    low, high = (
        float(getattr(look.truck.limits, f"{pump.build}_pump_{end}")) for end in ("low", "high")
    )
    ratio = float(look.drive_of(pump).ratio)
    idle = float(engine_speeds(look.truck, "idle")[0])
    below = lower(
        Amount(idle * ratio, "shaft_speed"),
        Amount(low, "shaft_speed"),
        about=f"speed of the {pump.build} pump at idle",
        at={"engine": Amount(idle, "shaft_speed")},
        change=words("an idle of {idle} or more", idle=at_least(low / ratio, "shaft_speed")),
    )
    top = look.top_pump_speed(pump)
    above = upper(
        Amount(top, "shaft_speed"),
        Amount(high, "shaft_speed"),
        about=f"highest speed of the {pump.build} pump",
        at={"engine": Amount(top / ratio, "shaft_speed")},
        change=words(
            "a drop-out at {engine} or less, or the maker's limit in the truck file",
            engine=at_most(high / ratio, "shaft_speed"),
        ),
    )
    open_ends = [
        one for one, limit in ((below, pump.min_speed), (above, pump.max_speed)) if limit is None
    ]
    judged = min(open_ends, key=lambda one: one.margin or 0.0)
    return eased(judged)


@check(
    "engine-torque",
    area=AREA,
    asks="Does the pump leave the engine torque enough to drive the truck?",
    formula="pump torque by the steady state x drive ratio <= full-load torque at the engine speed",
    limit="the torque curve; a caution above {engine_share} of it",
    source="torque balance at the crankshaft, losses of the drive left out",
    subjects=subjects.scenarios,
)
def engine_torque(look: Inspection, scenario: Scenario) -> Judgement:
    """Torque of the pump at the engine against the engine's own, at the scenario's points."""
    curve = look.truck.engine.torque_curve
    if not curve:
        raise MissingValue(["engine.torque_curve"])
    speeds, torques = np.array(curve, dtype=np.float64).T
    result = look.solved(scenario).result
    taken = result.pump_torque * float(look.drive_of(look.pump).ratio)
    engine = result.engine_speed
    on_curve = (engine >= speeds.min()) & (engine <= speeds.max())
    if not on_curve.any():
        raise DomainError("engine.torque_curve does not reach the engine speeds of the scenario")
    has = np.interp(engine, speeds, torques)
    share = np.where(on_curve, taken / np.maximum(has, 1e-12), 0.0)
    n, most = int(np.argmax(share)), float(look.truck.limits.engine_share)
    return upper(
        Amount(float(taken[n]), "torque"),
        Amount(float(has[n]), "torque"),
        reserve=1.0 - most,
        about="torque of the pump at the engine",
        at={
            "engine": Amount(float(engine[n]), "shaft_speed"),
            "oil": Amount(float(result.oil_temperature[n]), "temperature"),
        },
        change=words(
            "an engine that gives {torque} or more there, or a torque limiter on the pump",
            torque=at_least(float(taken[n]) / most, "torque"),
        ),
    )


@check(
    "circulation-heat",
    area=AREA,
    asks="Does the tank give off what the unloaded pump makes on the road?",
    formula=(
        "pump shaft power with every function off, at governed speed (drop-out if lower) <= "
        "(h A + cooler) (oil.hot - ambient.hottest)"
    ),
    limit="heat of the tank and cooler at oil.hot; more is a caution",
    source="heat balance of an idling circuit: standby or neutral pressure x flow is all heat",
    subjects=subjects.pumps,
)
def circulation_heat(look: Inspection, pump: Pump) -> Judgement:
    """Power of the unloaded pump at road speed against what the tank gives off."""
    truck, cooling = look.truck, tank_cooling(look.truck)
    hot, warmer = cooling.hot, cooling.warmer
    governed = float(engine_speeds(truck, "governed")[0])
    speed = min(governed, top_speed(truck, truck.pump.index(pump)))
    points = Points.of(truck, np.array([speed]), np.array([hot]))
    power = float(look.solve(points).shaft_power[0])
    out = look.drive_of(pump).kind == "power take-off"
    judged = upper(
        Amount(power, "power"),
        Amount(cooling.gives, "power"),
        about="heat of the unloaded pump on the road",
        at={"engine": Amount(speed, "shaft_speed"), "oil": Amount(hot, "temperature")},
        change=words(
            "a tank surface of {area} or more, or as much more cooler"
            + (", or the power take-off out on the road" if out else ""),
            area=at_least(max(power / warmer - cooling.cooler, 0.0) / cooling.per_area, "area"),
        ),
    )
    return eased(judged)
