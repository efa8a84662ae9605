"""Where the salt lands: width against spinner speed, the speed for the lanes, what bounces away.

An estimate, to be confirmed on the ground.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError
from hydrocheck.model.circuit import Disc, Function
from hydrocheck.model.truck import Truck
from hydrocheck.physics.grains import ROAD_SALT
from hydrocheck.physics.throw import bounce_run_out, scatter_share
from hydrocheck.studies.pattern import (
    AIR,
    Band,
    Spin,
    pattern,
    speed_for_width,
    speeds_for_width,
    spin_of,
    spinner,
    width_band,
)

Array = NDArray[np.float64]

_RPM = np.pi / 30.0
_STEP = 25.0 * _RPM
_USUAL_TOP = 900.0 * _RPM
_ROAD_SPEEDS = tuple(mph * 0.44704 for mph in (15.0, 25.0, 35.0, 45.0))
_RESTITUTION = ((0.3, 0.6), (0.4, 0.7), (0.5, 0.8))  # least, middle, greatest, from memory
SCATTER_DOUBT = 0.5
"""Share by which the salt said to miss the lane may be more or less: ours."""
WIDEST = 40.0
"""Width that may be asked for [m]: airport spreaders reach 24 m."""


@dataclass(frozen=True)
class ThrowOrder:
    """What to answer.

    width: to be covered [m], None for the lanes of the truck file; road_speed: [m/s], None for the
    greatest of the truck file; air: temperature [K]; disc: values in place of the truck file's
    """

    spinner: str | None = None
    width: float | None = None
    road_speed: float | None = None
    air: float = AIR
    disc: Disc | None = None


@dataclass(frozen=True)
class Ordered:
    """The width at the spinner speed that a scenario orders: [rad/s], [m]."""

    scenario: str
    speed: float
    width: float
    low: float
    high: float


@dataclass(frozen=True)
class Bounce:
    """What happens after landing, at K road speeds, at one spinner speed.

    road_speed, forward (on landing, below 0 backward): [m/s], (K,)
    along, aside: way from first touch to rest, least, middle, greatest [m], (3, K)
    lost: share that leaves the lane at once, least, middle, greatest [1], (3, K)
    """

    speed: float
    road_speed: Array
    forward: Array
    along: Array
    aside: Array
    lost: Array


@dataclass(frozen=True)
class Throw:
    """The throw of one spinner; widths in [m], speeds in [rad/s].

    needed, slowest, fastest: speed that throws `wanted`, and those at the ends of the band
    grains: sizes [m], (G,); reach: half the width of each [m], (G, S)
    at: place of `needed` or else of an ordered speed in `band`, at which shares are told
    """

    function: str
    spin: Spin
    air: float
    wanted: float
    lanes: int | None
    band: Band
    grains: Array
    reach: Array
    needed: float | None
    slowest: float
    fastest: float
    ordered: tuple[Ordered, ...]
    at: int
    bounce: Bounce
    prewet: bool


def study_throw(truck: Truck, order: ThrowOrder) -> Throw:
    """Widths over the spinner's speeds, the speed for a width, ordered speeds, bounces.

    Raises MissingValue, DomainError.
    """
    function = spinner(truck, order.spinner)
    if order.disc is not None:
        function = replace(function, disc=merged(function.disc, order.disc))
    spin = spin_of(truck, function, order.road_speed, order.air)
    wanted = lanes_width(truck) if order.width is None else order.width
    if not 0.0 < wanted <= WIDEST:
        raise DomainError(f"the width to cover must be above 0 and at most {WIDEST:g} m")
    needed = speed_for_width(spin, wanted)
    orders = ordered_speeds(truck, function)
    speeds = _speeds(function, [*(n for _, n in orders), *([needed] if needed else [])])
    band = width_band(spin, speeds)
    if not np.isfinite(band.width).any():
        raise DomainError("the disc moves no material at any of its speeds: see friction, feed")
    told = needed if needed is not None else _told(band, [speed for _, speed in orders])
    sizes = np.array([size for size, *_ in reversed(ROAD_SALT[1:])])
    reach = pattern([replace(spin, size=float(d)) for d in sizes], speeds).width / 2.0
    slowest, fastest = speeds_for_width(band, wanted)
    prewet = bool(truck.spreading.prewet)
    return Throw(
        function.name,
        spin,
        order.air,
        wanted,
        truck.spreading.lanes if order.width is None else None,
        band,
        sizes,
        reach,
        needed,
        slowest,
        fastest,
        tuple(_ordered(band, name, speed) for name, speed in orders),
        int(np.argmin(np.abs(band.speed - told))),
        _bounce(truck, spin, told, prewet),
        prewet,
    )


def lanes_width(truck: Truck) -> float:
    """Width of the lanes that one pass treats [m]."""
    return truck.spreading.lanes * float(truck.spreading.lane_width)


def merged(disc: Disc | None, told: Disc) -> Disc:
    """A disc with the values told in place of its own."""
    changes: dict[str, Any] = {
        k: getattr(told, k)
        for k in ("height", "tilt", "high_side", "exit_elevation")
        if getattr(told, k) is not None
    }
    return replace(disc or Disc(), **changes)


def ordered_speeds(truck: Truck, function: Function) -> list[tuple[str, float]]:
    """Scenarios that order a speed of the spinner, and the speed [rad/s]."""
    return [
        (scenario.name, float(task.speed))
        for scenario in truck.scenario
        for task in scenario.run
        if task.name == function.name and task.speed is not None and task.speed > 0
    ]


def _speeds(function: Function, told: list[float]) -> Array:
    """Spinner speeds to answer for: up to the limit of the machinery, the told ones included."""
    limit = function.limits.max_speed
    top = max(_USUAL_TOP if limit is None else float(limit), *told, 0.0)
    # Beyond, so that the ends of the band of speeds lie inside.
    count = int(np.ceil(1.3 * top / _STEP))
    even = _STEP * np.arange(1, max(count, 12) + 1)
    return np.unique(np.round([*even, *told], 9))


def _told(band: Band, ordered: list[float]) -> float:
    """The first ordered speed that throws at all, else the fastest of the band."""
    throws = [n for n in ordered if np.isfinite(band.width[np.argmin(np.abs(band.speed - n))])]
    return throws[0] if throws else float(band.speed[np.isfinite(band.width)][-1])


def _ordered(band: Band, scenario: str, speed: float) -> Ordered:
    n = int(np.argmin(np.abs(band.speed - speed)))
    return Ordered(scenario, speed, float(band.width[n]), float(band.low[n]), float(band.high[n]))


def _bounce(truck: Truck, spin: Spin, speed: float, prewet: bool) -> Bounce:
    given = truck.spreading.road_speeds or _ROAD_SPEEDS
    road = np.unique([*given, spin.road_speed])
    impact = pattern([replace(spin, road_speed=float(v)) for v in road], [speed]).impact[:, 0]
    forward, aside, down = impact.T
    ways = [
        [bounce_run_out(down, way, normal, along) for normal, along in _RESTITUTION]
        for way in (np.abs(forward), aside)
    ]
    lost = scatter_share(road, prewet)
    doubt = np.array([1.0 - SCATTER_DOUBT, 1.0, 1.0 + SCATTER_DOUBT])
    return Bounce(speed, road, forward, np.array(ways[0]), np.array(ways[1]), doubt[:, None] * lost)
