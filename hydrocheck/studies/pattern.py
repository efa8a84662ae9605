"""The width that a spinner covers: exit from the vane and flight, over the directions of its fan.

An estimate, to be confirmed on the ground. The width is that of a grain of one size (`Grain.size`),
from where it lands at the far left to where it lands at the far right; bounces are not in it. The
exit point counts along the flight only: by what it lies beside it, less than the disc's radius, the
pattern of a real disc is skewed to the side to which it turns.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Truck
from hydrocheck.physics.flight import air_state, landing
from hydrocheck.physics.throw import vane_exit

Array = NDArray[np.float64]

AIR = 268.15
"""Air temperature where none is given: spreading weather, -5 degC [K]."""
DOUBT = 0.15
"""Least half-width of the band, as a share of the width, for a measured height and tilt: ours."""
_RPM = np.pi / 30.0
FASTEST = 1500.0 * _RPM
"""Spinner speed up to which one is looked for [rad/s]."""
HIGHEST, MOST_ROAD_SPEED = 5.0, 50.0
"""Height of a disc [m] and speed of a truck [m/s] beyond which a value is taken for an error."""
_RISES = {"rear": 0.0, "left": 0.5 * np.pi, "front": np.pi, "right": -0.5 * np.pi}
_DIRECTIONS = 25
_LOWEST = 0.01  # of a rim above the road, m

# What is not known well: range, from the same sources as the defaults.
RANGES: Mapping[str, tuple[float, float]] = {
    "size": (2.36e-3, 9.5e-3),
    "drag_factor": (1.0, 2.2),
    "friction": (0.2, 0.6),
    "feed_share": (0.10, 0.50),
}
OFFSETS: Mapping[str, float] = {"height": 0.0254, "elevation": np.radians(1.0)}
"""How far a measured height [m] and angle [rad] may be off; a laden truck sits lower: ours."""


@dataclass(frozen=True)
class Spin:
    """How one spinner throws.

    radius, height: [m]; tilt, rises (direction of its high side, from rear over left), elevation,
    vane_angle, fan: [rad]; size: of the grain [m], density: [kg/m3]; road_speed: [m/s];
    air_density: [kg/m3], air_viscosity: [Pa s]; the others [1]
    """

    radius: float
    height: float
    tilt: float
    rises: float
    elevation: float
    vane_angle: float
    feed_share: float
    friction: float
    fan: float
    size: float
    density: float
    drag_factor: float
    road_speed: float
    air_density: float
    air_viscosity: float


@dataclass(frozen=True)
class Pattern:
    """Reach of V cases at S spinner speeds, (V, S) each; nan where the disc moves no material.

    exit_speed: of the grains, over the truck [m/s]
    left, right: how far from the disc's centre they land [m]
    impact: velocity of the farthest on landing, forward (below 0 backward), outward, down [m/s],
    (V, S, 3)
    error: estimate of the numerical error of a reach [m]
    """

    exit_speed: Array
    left: Array
    right: Array
    impact: Array
    error: Array

    @property
    def width(self) -> Array:
        """From the far left to the far right [m]."""
        return self.left + self.right


@dataclass(frozen=True)
class Band:
    """Width of a pattern with what it may be, at S spinner speeds.

    width, low, high: [m], (S,)
    shares: change of the width by each doubtful quantity, down and up [1], (S,) each
    """

    speed: Array
    pattern: Pattern
    width: Array
    low: Array
    high: Array
    shares: Mapping[str, tuple[Array, Array]]


def spinner(truck: Truck, name: str | None = None) -> Function:
    """The fitted spinner, or that of a name. Raises MissingValue, DomainError."""
    if name is not None:
        found = truck.function_named(name)
        if found.kind != "spinner":
            raise DomainError(f"'{name}' is a {found.kind}, no spinner")
        return found
    for function in truck.function:
        if function.kind == "spinner" and function.fitted:
            return function
    raise MissingValue(["a [[function]] of kind spinner"])


def spin_of(
    truck: Truck, function: Function, road_speed: float | None = None, air: float = AIR
) -> Spin:
    """How a truck's spinner throws.

    road_speed: [m/s], None for the greatest of the truck file; air: temperature [K]
    Raises MissingValue for what the file does not give: radius, height, tilt and exit elevation of
    the disc are never guessed. Raises DomainError for a height or road speed of no truck.
    """
    disc, grain = function.disc, truck.spreading.grain
    key = f"{function.name}.disc"
    radius = function.motor[0].disc_radius if function.motor else None
    lacking = [] if radius is not None else [f"{function.name}.motor.disc_radius"]
    for attribute in ("height", "tilt", "exit_elevation"):
        if disc is None or getattr(disc, attribute) is None:
            lacking.append(f"{key}.{attribute}")
    if disc is not None and disc.tilt and disc.high_side is None:
        lacking.append(f"{key}.high_side")
    if lacking or disc is None or radius is None:
        raise MissingValue(lacking)
    if road_speed is None:
        road_speed = max(truck.spreading.road_speeds, default=0.0)
    if not 0.0 <= road_speed <= MOST_ROAD_SPEED:
        raise DomainError(f"the road speed must be from 0 to {MOST_ROAD_SPEED:g} m/s")
    if not 0.0 < float(disc.height or 0.0) <= HIGHEST:
        raise DomainError(f"{key}.height must be above 0 and at most {HIGHEST:g} m")
    density, viscosity = air_state(float(truck.ambient.altitude), air)
    values = {
        k: float(getattr(disc, k))
        for k in ("height", "tilt", "vane_angle", "feed_share", "friction", "fan")
        if getattr(disc, k) is not None
    }
    return Spin(
        radius=float(radius),
        rises=_RISES[disc.high_side or "rear"],
        elevation=float(disc.exit_elevation or 0.0),
        size=float(grain.size),
        density=float(grain.density),
        drag_factor=float(grain.drag_factor),
        road_speed=road_speed,
        air_density=float(density),
        air_viscosity=float(viscosity),
        **values,
    )


def pattern(cases: Sequence[Spin], speed: ArrayLike) -> Pattern:
    """Where grains land.

    cases: V of them; speed: of the spinner [rad/s], (S,), above 0
    Raises DomainError for vanes so oblique that the feed point lies beside them.
    """
    case = {
        f.name: np.array([getattr(one, f.name) for one in cases])[:, None, None]
        for f in fields(Spin)
    }
    turning = np.atleast_1d(np.asarray(speed, dtype=np.float64))[None, :, None]
    radial, tangential = vane_exit(
        turning, case["radius"], case["feed_share"] * case["radius"], case["friction"],
        case["vane_angle"],
    )  # fmt: skip
    exit_speed = np.hypot(radial, tangential)
    moves = np.isfinite(exit_speed)
    v = np.where(moves, exit_speed, 1.0)
    toward = _directions(case)
    slope = np.arctan(np.tan(case["tilt"]) * np.cos(toward - case["rises"]))
    up = case["elevation"] + slope
    rim = case["radius"] * np.where(moves, radial, 0.0) / v  # the exit point, along the flight
    flown = landing(
        np.stack(
            np.broadcast_arrays(
                case["road_speed"] - v * np.cos(up) * np.cos(toward),
                v * np.cos(up) * np.sin(toward),
                v * np.sin(up),
            ),
            axis=-1,
        ),
        np.maximum(case["height"] + rim * np.tan(slope), _LOWEST),
        case["size"], case["density"], case["drag_factor"], case["air_density"],
        case["air_viscosity"],
    )  # fmt: skip
    side = np.where(moves, flown.left + rim * np.cos(up) * np.sin(toward), np.nan)
    widest = np.argmax(np.where(moves, np.abs(side), 0.0), axis=2)[..., None]
    impact = np.take_along_axis(flown.velocity, widest[..., None], axis=2)[:, :, 0]
    return Pattern(
        exit_speed[..., 0],
        np.maximum(side.max(axis=2), 0.0),
        np.maximum(-side.min(axis=2), 0.0),
        np.concatenate([impact[..., :1], np.abs(impact[..., 1:])], axis=-1),
        flown.error.max(axis=2),
    )


def _directions(case: Mapping[str, Array]) -> Array:
    """Directions of flight from straight back over left [rad], (V, 1, D)."""
    if not case["tilt"].any():  # the same on both sides, farthest nearest to sideways
        return np.asarray(np.minimum(case["fan"], 0.5 * np.pi) * np.array([-1.0, 1.0]))
    return np.asarray(case["fan"] * np.linspace(-1.0, 1.0, _DIRECTIONS))


def width_band(spin: Spin, speed: ArrayLike) -> Band:
    """Width against spinner speed, with a band.

    speed: [rad/s], (S,)
    Each doubtful quantity is taken to both ends of its range by itself; the changes of the width
    add up by their squares, to at least `DOUBT`.
    """
    speeds = np.atleast_1d(np.asarray(speed, dtype=np.float64))
    names, cases = _doubts(spin)
    found = pattern([spin, *cases], speeds)
    width = found.width[0]
    change = np.nan_to_num(found.width[1:] / width - 1.0).reshape(len(names), 2, speeds.size)
    down = np.minimum(change.min(axis=1), 0.0)
    up = np.maximum(change.max(axis=1), 0.0)
    low, high = (np.maximum(np.sqrt((part**2).sum(axis=0)), DOUBT) for part in (down, up))
    first = Pattern(*(getattr(found, f.name)[:1] for f in fields(Pattern)))
    return Band(
        speeds,
        first,
        width,
        width * np.maximum(1.0 - low, 0.0),
        width * (1.0 + high),
        {name: (down[k], up[k]) for k, name in enumerate(names)},
    )


def _doubts(spin: Spin) -> tuple[list[str], list[Spin]]:
    """The doubtful quantities, and two cases of each."""
    names, cases = [*OFFSETS, *RANGES], []
    for name, off in OFFSETS.items():
        value = getattr(spin, name)
        low = max(value - off, 0.5 * value) if name == "height" else value - off
        cases += [replace(spin, **{name: low}), replace(spin, **{name: value + off})]
    # Beside the vane's line nothing lands.
    beside = 1.05 * abs(float(np.sin(spin.vane_angle)))
    for name, (least, most) in RANGES.items():
        value = getattr(spin, name)
        inner = max(least, beside) if name == "feed_share" else least
        cases += [
            replace(spin, **{name: min(inner, value)}),
            replace(spin, **{name: max(most, value)}),
        ]
    return names, cases


def speed_for_width(spin: Spin, width: float) -> float | None:
    """Spinner speed that throws a width [rad/s]; None where none up to `FASTEST` does.

    width: [m]
    """
    low, high = 20.0 * _RPM, FASTEST
    for _ in range(7):
        speeds = np.linspace(low, high, 21)
        widths = np.nan_to_num(pattern([spin], speeds).width[0])
        reached = widths >= width
        if not reached.any():
            return None
        first = int(np.argmax(reached))
        if first == 0 or widths[first - 1] == 0.0:  # the slowest that throws at all throws wider
            return None
        low, high = float(speeds[first - 1]), float(speeds[first])
    return float(np.interp(width, widths[first - 1 : first + 1], [low, high]))


def speeds_for_width(band: Band, width: float) -> tuple[float, float]:
    """Spinner speeds at whose band's high and low end a width lies [rad/s]; nan beyond the band."""
    found = []
    for edge in (band.high, band.low):
        known = np.isfinite(edge)
        rising, speed = np.maximum.accumulate(edge[known]), band.speed[known]
        found.append(float(np.interp(width, rising, speed, left=np.nan, right=np.nan)))
    return found[0], found[1]
