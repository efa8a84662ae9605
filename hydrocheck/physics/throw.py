"""Salt on a spinner: how it leaves the vane, where it bounces, what misses the lane.

The flight between the two is in `flight`. Real salt leaves a disc in changing clusters, not grain
by grain: speeds and angles scatter about what is computed here.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics._guard import require_fraction, require_not_negative, require_positive
from hydrocheck.physics.arrays import Array, as_array, require

__all__ = ["bounce_run_out", "scatter_share", "vane_exit"]

_GRAVITY = 9.80665
_NEWTON_STEPS = 60
_MPH = 0.44704
# Road speed and share lost; before and after, constant.
_DRY = ((20 * _MPH, 0.125), (25 * _MPH, 0.30), (35 * _MPH, 0.30), (45 * _MPH, 0.40))
_PREWET = 0.125


def vane_exit(
    speed: ArrayLike,
    radius: ArrayLike,
    feed_radius: ArrayLike,
    friction: ArrayLike,
    vane_angle: ArrayLike = 0.0,
) -> tuple[Array, Array]:
    """Radial and tangential speed at which a grain slides off a straight vane of a flat disc.

    s'' = w^2 s - mu |2 w s' - w^2 c| - mu g from s = sqrt(r0^2 - c^2), s' = 0; c = R sin(angle)

    solved in closed form, s = A exp(k1 w t) + B exp(k2 w t) + rest, on either side of a change of
    sign between the bars; then v_r = s s' / R, v_t = w R - c s' / R at s = sqrt(R^2 - c^2)

    speed: of the disc [rad/s], above 0, broadcast
    radius: of the disc, where the vane ends [m], broadcast
    feed_radius: where material lands on the disc [m], less than radius, broadcast
    friction: of grains on vane and disc, 0.4 (0.2 to 0.6) [1], broadcast
    vane_angle: between vane and radius at the rim, above 0 where the tip trails [rad], broadcast
    returns: radial [m/s]; tangential [m/s]

    One grain by itself, sliding along the vane, without a lip at the rim; nan where the disc turns
    too slowly, or is fed too near its centre, to move it. A feed point inside the circle that the
    line of the vane touches is refused with DomainError.

    >>> radial, tangential = vane_exit(500 * 3.14159265 / 30, 0.25, 0.06, 0.3)
    >>> round(float(radial), 3), round(float(tangential), 2)
    (9.62, 13.09)

    Source: classic theory of a straight vane, from memory. A step-by-step integration gives 9.621
    m/s for the example.
    """
    w, rim, feed = as_array(speed), as_array(radius), as_array(feed_radius)
    mu, angle = as_array(friction), as_array(vane_angle)
    require_positive(speed=w, radius=rim, feed_radius=feed)
    require_not_negative(friction=mu)
    require(feed < rim, "the material must land on the disc inside its rim")
    require(np.abs(angle) < 0.5 * np.pi, "the vane angle must lie between -90 and 90 degrees")
    w, rim, feed, mu, angle = np.broadcast_arrays(w, rim, feed, mu, angle)
    # Lengths in radii, time in 1/w from here.
    c, start = np.sin(angle), feed / rim
    require(np.abs(c) < start, "the vanes are so oblique that the feed point lies beside them")
    rest = mu * _GRAVITY / (w**2 * rim)
    begin = np.sqrt(start**2 - c**2)
    moves = begin > mu * np.abs(c) + rest
    begin, c, rest = (np.where(moves, v, safe) for v, safe in ((begin, 0.5), (c, 0.0), (rest, 0.0)))
    end = np.sqrt(1.0 - c**2)
    place, rate = _until_held(begin, end, mu, c, rest)
    offset = rest - mu * c
    along = np.where(place < end, _slide(place, rate, end, -mu, offset), rate)
    radial, tangential = w * rim * along * end, w * rim * (1.0 - c * along)
    return np.where(moves, radial, np.nan), np.where(moves, tangential, np.nan)


def _until_held(begin: Array, end: Array, mu: Array, c: Array, rest: Array) -> tuple[Array, Array]:
    """Place and rate at which the push on a trailing vane changes its sides: s' = c/2.

    Before, friction falls as the grain speeds up. The rim may come first.
    """
    rate = np.maximum(c, 0.0) / 2.0
    first = rate > 0.0
    if not first.any():
        return begin, rate
    up, down = mu + np.hypot(1.0, mu), mu - np.hypot(1.0, mu)
    offset = rest + mu * c
    a = (begin - offset) * -down / (up - down)
    # s' = a k1 (exp(k1 t) - exp(k2 t)), zero at the start and convex: from beyond, as in _slide
    time = np.log1p(rate / (a * up)) / up
    for _ in range(_NEWTON_STEPS):
        rise, fall = np.exp(up * time), np.exp(down * time)
        time = time + (rate / (a * up) - rise + fall) / (up * rise - down * fall)
    place = a * np.exp(up * time) - a * up / down * np.exp(down * time) + offset
    place = np.where(first, place, begin)
    early = first & (place > end)
    return place, np.where(early, _slide(begin, 0.0 * rate, end, mu, offset), rate)


def _slide(place: Array, rate: Array, end: Array, mu: Array, offset: Array) -> Array:
    """Rate at `end` of s'' = (s - offset) + 2 mu s', from `place` at `rate`; all without dimension.

    The solution is convex, so that Newton's method from beyond the end comes down onto it.
    """
    up, down = mu + np.hypot(1.0, mu), mu - np.hypot(1.0, mu)
    a = (rate - down * (place - offset)) / (up - down)
    b = (place - offset) - a
    time = np.log(np.maximum((end - offset - np.minimum(b, 0.0)) / a, 1.0)) / up
    for _ in range(_NEWTON_STEPS):
        rise, fall = a * np.exp(up * time), b * np.exp(down * time)
        step = (rise + fall + offset - end) / (up * rise + down * fall)
        time = time - step
        if np.all(np.abs(step) <= 1e-14 * np.maximum(time, 1.0)):
            break
    rate_there: Array = a * up * np.exp(up * time) + b * down * np.exp(down * time)
    return rate_there


def bounce_run_out(
    fall_speed: ArrayLike,
    speed: ArrayLike,
    normal_restitution: ArrayLike = 0.4,
    tangential_restitution: ArrayLike = 0.7,
) -> Array:
    """How far grains bounce on after they land.

    d = 2 v_z v_h e_n e_t / (g (1 - e_n e_t)), the sum of all hops

    fall_speed: downward, on landing [m/s], broadcast
    speed: along the road in the direction asked for, on landing [m/s], broadcast
    normal_restitution: share of the downward speed kept, 0.4 (0.3 to 0.5) [1], broadcast
    tangential_restitution: share of the speed along the road kept, 0.7 (0.6 to 0.8) [1], broadcast
    returns: distance [m]; an estimate: no measurement of salt on pavement was at hand

    Hops without drag on a hard, dry road; wet or rough ones keep less.

    >>> round(float(bounce_run_out(2.97, 12.0, 0.3, 0.6)), 1)
    1.6

    Source: restitution between two solids, both coefficients from memory.
    """
    normal, along = as_array(normal_restitution), as_array(tangential_restitution)
    require_fraction(normal_restitution=normal, tangential_restitution=along)
    kept = normal * along
    require(kept < 1.0, "a grain that keeps all its speed never comes to rest")
    result: Array = 2.0 * as_array(fall_speed) * as_array(speed) * kept / (_GRAVITY * (1.0 - kept))
    return result


def scatter_share(road_speed: ArrayLike, prewet: bool = False) -> Array:
    """Share of the salt that bounces or scatters out of the lane at once; an estimate.

    dry: 12.5 % up to 20 mph, 30 % from 25 to 35 mph, 40 % from 45 mph; prewet: 12.5 %

    road_speed: of the truck [m/s], 0 or above, broadcast
    prewet: whether the salt is wetted
    returns: share [1]; the true one may be half or half as much again

    >>> scatter_share([4.5, 13.0, 25.0]).round(3).tolist()
    [0.125, 0.3, 0.4]

    Source: a state study of dry salt in the early 1970s (30 %), as quoted by Cornell Local Roads,
    2015; the steps of speed are ours. A Danish study found up to 34 % of prewet salt lost at once.
    """
    v = as_array(road_speed)
    require_not_negative(road_speed=v)
    if prewet:
        return np.full(v.shape, _PREWET)
    speeds, shares = zip(*_DRY, strict=True)
    return np.asarray(np.interp(v, speeds, shares))
