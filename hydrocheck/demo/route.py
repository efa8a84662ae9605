"""A route log of our own making: an evening's run of an invented truck through Alder Fork County.

The road speed follows a list of targets with limited acceleration; the driver takes the truck's
gear that keeps the engine nearest the working band, shifts up early on the flat (an overdrive of
0.75), and twice lets the truck roll downhill at idle. Noise comes from a seeded generator, so that
the same call makes the same text.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random
from typing import TYPE_CHECKING

from hydrocheck.errors import MissingValue

if TYPE_CHECKING:
    from hydrocheck.model import Truck

RPM, MPH = 0.10471975511965977, 0.44704
OVERDRIVE = 0.75
HEADER = "time [s],engine speed [rpm],road speed [mph],rate [lb/lane-mile],spreading"

# Seconds, target road speed [mph], rate [lb/lane-mile], spreading, how it is driven.
ROUTE = (
    (20, 0.0, 0, 0, "gear"),  # yard
    (60, 22.0, 200, 1, "gear"),
    (12, 0.0, 200, 1, "gear"),  # a stop sign
    (90, 28.0, 300, 1, "gear"),
    (60, 30.0, 400, 1, "overdrive"),
    (35, 30.0, 400, 1, "rolling"),  # downhill, engine at idle
    (60, 24.0, 400, 1, "gear"),  # uphill
    (25, 0.0, 400, 1, "gear"),  # traffic light
    (80, 26.0, 300, 1, "overdrive"),
    (40, 32.0, 400, 1, "rolling"),
    (70, 18.0, 400, 1, "gear"),  # village
    (48, 30.0, 0, 0, "overdrive"),  # empty, on the way back
)


def route_lines(truck: Truck, rounds: int = 1, step: float = 0.5, seed: int = 1) -> Iterator[str]:
    """The lines of a log without their ends, header first.

    rounds: how often the route is driven; step: between rows [s]. Raises MissingValue for a truck
    without idle or working speed.
    """
    engine = truck.engine
    if engine.idle is None or engine.working is None:
        raise MissingValue(["engine.idle" if engine.idle is None else "engine.working"])
    idle, middle = float(engine.idle), 0.5 * sum(engine.working)
    gears = [float(g.at) / float(g.road_speed) for g in engine.gear if g.at and g.road_speed]
    gears = gears or [middle / (25.0 * MPH)]
    chance = Random(seed)
    yield HEADER
    time, speed, turning = 0.0, 0.0, idle
    for _ in range(rounds):
        for seconds, target, rate, on, way in ROUTE:
            for _ in range(round(seconds / step)):
                change = target * MPH - speed
                speed += max(-1.8 * step, min(0.9 * step, change))
                wanted = _engine_speed(speed, gears, middle, way)
                turning += min(1.0, step / 0.8) * (max(idle, wanted) - turning)
                shown = max(0.0, speed + chance.gauss(0.0, 0.05)) if speed > 0.3 else 0.0
                engine_shown = turning * (1.0 + chance.gauss(0.0, 0.004)) / RPM
                flag = "on" if on else "off"
                yield f"{time:.1f},{engine_shown:.0f},{shown / MPH:.2f},{rate},{flag}"
                time += step


def _engine_speed(speed: float, gears: list[float], middle: float, way: str) -> float:
    """Engine speed [rad/s] of the gear nearest the middle of the working band."""
    if way == "rolling":
        return 0.0
    turning = min((ratio * speed for ratio in gears), key=lambda n: abs(n - middle))
    return turning * (OVERDRIVE if way == "overdrive" else 1.0)
