"""Pump and drive: speeds, torque and power over the whole engine range."""

from __future__ import annotations

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import (
    Amount,
    Judgement,
    at_least,
    at_most,
    lower,
    upper,
    words,
)
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Pump
from hydrocheck.physics import losses, machines
from hydrocheck.studies.conditions import engine_speeds

AREA = "pump and drive"


def _drive_key(pump: Pump) -> str:
    return "engine.drive" if pump.drive is None else f"{pump.name}.drive"


def _engine_at(look: Inspection, pump: Pump, pump_speed: float) -> Amount:
    return Amount(pump_speed / float(look.drive_of(pump).ratio), "shaft_speed")


@check(
    "pump-overspeed",
    area=AREA,
    asks=(
        "Does the pump stay below its highest speed over the whole engine range, overrun included?"
    ),
    formula="pump speed = highest engine speed with the drive engaged x drive ratio",
    limit="the pump's max_speed",
    source=(
        "the limit is the pump maker's; FED-STD-794, p. 10, asks for a drop-out at a preset "
        "engine speed"
    ),
    subjects=subjects.pumps,
)
def pump_overspeed(look: Inspection, pump: Pump) -> Judgement:
    """Highest pump speed against the maker's limit."""
    if pump.max_speed is None:
        raise MissingValue([f"{pump.name}.max_speed"])
    top, ratio = look.top_pump_speed(pump), float(look.drive_of(pump).ratio)
    limit = float(pump.max_speed)
    return upper(
        Amount(top, "shaft_speed"),
        Amount(limit, "shaft_speed"),
        about="highest pump speed",
        change=words(
            "drop the drive out above {engine} at the engine, or a drive ratio of {ratio} or less",
            engine=at_most(limit / ratio, "shaft_speed"),
            ratio=at_most(ratio * limit / top, "ratio"),
        ),
        at={"engine": _engine_at(look, pump, top)},
        given={"engine": _engine_at(look, pump, top), "ratio": Amount(ratio, "ratio")},
    )


@check(
    "pump-underspeed",
    area=AREA,
    asks="Does the pump turn fast enough at idle?",
    formula="pump speed = idle speed x drive ratio",
    limit="the pump's min_speed",
    source="the limit is the pump maker's",
    subjects=subjects.pumps,
)
def pump_underspeed(look: Inspection, pump: Pump) -> Judgement:
    """Pump speed at idle against the maker's lower limit."""
    if pump.min_speed is None:
        raise MissingValue([f"{pump.name}.min_speed"])
    idle, ratio = float(engine_speeds(look.truck, "idle")[0]), float(look.drive_of(pump).ratio)
    return lower(
        Amount(idle * ratio, "shaft_speed"),
        Amount(float(pump.min_speed), "shaft_speed"),
        about="pump speed at idle",
        change=words(
            "an idle of {engine} or more",
            engine=at_least(float(pump.min_speed) / ratio, "shaft_speed"),
        ),
        at={"engine": Amount(idle, "shaft_speed")},
        given={"idle": Amount(idle, "shaft_speed"), "ratio": Amount(ratio, "ratio")},
    )


@check(
    "drive-torque",
    area=AREA,
    asks="Does the drive carry the pump's torque at full stroke and the highest pressure?",
    formula=(
        "T = D p / eta_hm at the relief setting (compensator of a controlled pump, or its "
        "torque limiter)"
    ),
    limit="the drive's torque_rating",
    source="pump torque (ISO 4391 terms); the limit is the drive maker's",
    subjects=subjects.pumps,
)
def drive_torque(look: Inspection, pump: Pump) -> Judgement:
    """Greatest shaft torque against the drive's rating."""
    rating = look.drive_of(pump).torque_rating
    missing = [
        f"{pump.name}.{k}"
        for k in ("displacement", "hydromechanical_efficiency")
        if getattr(pump, k) is None
    ]
    if rating is None:
        missing.append(f"{_drive_key(pump)}.torque_rating")
    if missing or rating is None:
        raise MissingValue(missing)
    pressure = look.highest_pressure(pump)
    displacement = float(pump.displacement or 0.0)
    share = float(losses.pump_torque_loss(float(pump.hydromechanical_efficiency or 1.0)))
    ideal = displacement * pressure
    if pump.torque_limit is not None:
        ideal = min(ideal, float(pump.torque_limit))
    torque = ideal + share * displacement * pressure
    # Without the limiter's help: torque is then in proportion to pressure.
    allowed = float(rating) / (displacement * (1.0 + share))
    return upper(
        Amount(torque, "torque"),
        Amount(float(rating), "torque"),
        about="pump torque at full stroke and highest pressure",
        change=words(
            "a drive rated {torque} or more, or a highest pressure of {pressure} or less",
            torque=at_least(torque, "torque"),
            pressure=at_most(allowed, "pressure"),
        ),
        at={"pressure": Amount(pressure, "pressure")},
        given={
            "D": Amount(displacement, "displacement"),
            "p": Amount(pressure, "pressure"),
            "eta_hm": Amount(1.0 / (1.0 + share), "fraction"),
        },
    )


@check(
    "drive-power",
    area=AREA,
    asks="Is the drive rated for the greatest flow at the highest pressure?",
    formula=(
        "rating >= 1.5 p Q / 0.85, Q the theoretical flow at the highest engine speed with "
        "the drive engaged"
    ),
    limit="the drive's power_rating ({drive_duty} of it where the rating is intermittent)",
    source="FED-STD-794, p. 10",
    subjects=subjects.pumps,
)
def drive_power(look: Inspection, pump: Pump) -> Judgement:
    """Power rating asked by FED-STD-794 against the drive's."""
    drive = look.drive_of(pump)
    if drive.power_rating is None:
        raise MissingValue([f"{_drive_key(pump)}.power_rating"])
    share = float(look.truck.limits.drive_duty) if drive.duty == "intermittent" else 1.0
    pressure, flow = look.highest_pressure(pump), look.full_flow(pump)
    asked = float(machines.drive_power_rating(pressure, flow))
    allowed = float(drive.power_rating) * share
    top = look.top_pump_speed(pump)
    return upper(
        Amount(asked, "power"),
        Amount(allowed, "power"),
        about="drive rating asked for",
        change=words(
            "a drive rated {power} or more for its duty, or a drop-out above {engine}",
            power=at_least(asked / share, "power"),
            engine=at_most(_engine_at(look, pump, top * allowed / asked).value, "shaft_speed"),
        ),
        at={"engine": _engine_at(look, pump, top), "pressure": Amount(pressure, "pressure")},
        given={"p": Amount(pressure, "pressure"), "Q": Amount(flow, "flow")},
    )
