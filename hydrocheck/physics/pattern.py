"""The pattern across the road: what pans caught, and how wide it counts."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics.arrays import Array, as_array, require

__all__ = ["effective_swath", "liquid_layer", "share_within"]


def _sorted(across: ArrayLike, amount: ArrayLike) -> tuple[Array, Array]:
    places, caught = np.broadcast_arrays(as_array(across), as_array(amount))
    require(places.ndim == 1 and places.size > 2, "a pan test needs three pans or more")
    require(caught >= 0.0, "a pan cannot hold less than nothing")
    require(caught.max(initial=0.0) > 0.0, "the pans are empty")
    order = np.argsort(places, kind="stable")
    require(np.diff(places[order]) > 0.0, "two pans stand at the same place")
    return places[order], caught[order]


def effective_swath(across: ArrayLike, amount: ArrayLike) -> tuple[float, float]:
    """Width over which a pattern counts: out to half the amount of the middle, to each side.

    w = distance between the points left and right where the amount falls to half

    across: places of the pans, 0 behind the middle of the truck [m], (K,), each once
    amount: caught in each, in any unit [1], (K,), 0 or above; half refers to the pan nearest 0
    returns: places of the left and the right end [m]; the outermost pan where half is not reached

    Straight between pans. Neighbouring passes at that width overlap to about an even layer.

    >>> left, right = effective_swath([-6.0, 0.0, 6.0], [2.0, 4.0, 2.0])
    >>> right - left
    12.0

    Source: Ohio State University Extension bulletin 817, section 13 (4 in deep in the middle, 2 in
    at 6 ft: effective swath 12 ft).
    """
    places, caught = _sorted(across, amount)
    middle = int(np.argmin(np.abs(places)))
    half = 0.5 * caught[middle]
    require(half > 0.0, "the pan in the middle is empty: no half of it can be found")

    def edge(step: int) -> float:
        at = middle
        while 0 <= at + step < places.size:
            here, there = caught[at], caught[at + step]
            if there <= half:
                share = (here - half) / (here - there) if here > there else 0.0
                return float(places[at] + share * (places[at + step] - places[at]))
            at += step
        return float(places[at])

    return edge(-1), edge(1)


def share_within(across: ArrayLike, amount: ArrayLike, left: float, right: float) -> float:
    """Share of what pans caught that lies between two places.

    share = integral from left to right / integral over all pans, straight between pans

    across: places of the pans [m], (K,), each once
    amount: caught in each, in any unit [1], (K,)
    left, right: places [m]
    returns: share [1]

    >>> round(share_within([-2.0, 0.0, 2.0], [0.0, 1.0, 0.0], -1.0, 1.0), 3)
    0.75

    Source: trapezoidal rule.
    """
    places, caught = _sorted(across, amount)
    low, high = max(left, float(places[0])), min(right, float(places[-1]))
    if high <= low:
        return 0.0
    inner = places[(places > low) & (places < high)]
    cut = np.concatenate(([low], inner, [high]))
    part = np.trapezoid(np.interp(cut, places, caught), cut)
    return float(part / np.trapezoid(caught, places))


def liquid_layer(flow: ArrayLike, width: ArrayLike, road_speed: ArrayLike) -> Array:
    """Depth of liquid that a spray bar lays down.

    h = Q / (w v)

    flow: of the liquid [m3/s], broadcast
    width: of the bar's swath [m], broadcast
    road_speed: of the truck [m/s], broadcast
    returns: depth [m], inf at rest; it stays where flow follows road speed, as with a pump that
        the drivetrain turns in one gear

    >>> gallon, yard, foot = 3.785411784e-3, 0.9144, 0.3048
    >>> depth = liquid_layer(100 * gallon / 60, 12 * foot, 300 * foot / 60)
    >>> round(float(depth) * yard**2 / gallon, 3)
    0.25

    Source: TM 5-3895-371-10, paragraph 2-18 (9 Q / (W V) gal/yd2 with gal/min, ft and ft/min).
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return as_array(flow) / (as_array(width) * as_array(road_speed))
