"""What the cases of the checks are made of: the demo trucks, parts replaced, and cures."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from math import pi
from typing import Any

from hydrocheck import demo
from hydrocheck.model import Truck

RPM, PSI, INCH, FOOT_POUND, HP = pi / 30, 6894.757293168, 0.0254, 1.3558179483, 745.6998716
NAMES = ("tandem", "single", "conveyor", "mistakes")
TANDEM, SINGLE, CONVEYOR, MISTAKES = (demo.load(name) for name in NAMES)

Cure = Callable[[Truck, float], Truck]


def fahrenheit(value: float) -> float:
    return (value - 32) / 1.8 + 273.15


def put(part: Any, path: str, value: object) -> Any:
    """A copy of a part with one attribute replaced; items of an array by name or number."""
    key, _, rest = path.partition(".")
    if isinstance(part, tuple):
        names = [getattr(item, "name", "") for item in part]
        place = int(key) if key.isdecimal() else names.index(key)
        return (*part[:place], put(part[place], rest, value), *part[place + 1 :])
    return replace(part, **{key: put(getattr(part, key), rest, value) if rest else value})


def sets(*paths: str, factor: float = 1.0) -> Cure:
    """Put the number of a change at these paths."""

    def cure(truck: Truck, number: float) -> Truck:
        for path in paths:
            truck = put(truck, path, factor * number)
        return truck

    return cure


def wide_open(function: str) -> Cure:
    """A section of so much flow with its maximum trim at full command."""

    def cure(truck: Truck, flow: float) -> Truck:
        truck = put(truck, f"function.{function}.section.rated_flow", flow)
        return put(truck, f"function.{function}.trims.max", 1.0)  # type: ignore[no-any-return]  # a truck as before

    return cure


def work_from(truck: Truck, speed: float) -> Truck:
    """A working band that begins at a speed."""
    return replace(truck, engine=replace(truck.engine, working=(speed, speed + 100 * RPM)))


def nudged(path: str, by: float) -> Cure:
    """A change that says "above" or "below" a number."""
    return lambda truck, number: put(truck, path, number + by)


@dataclass(frozen=True)
class Case:
    """A truck that a check finds fault with, its subject, and what cures it by name of a number."""

    id: str
    subject: str
    truck: Truck
    verdict: str = "fail"
    cures: Mapping[str, Cure] = field(default_factory=dict)
    after: Mapping[str, str] = field(default_factory=dict)  # verdict after a cure, if not pass
