"""Guarded root finding on arrays: every element has its own bracket and always converges.

`close_in` follows T. R. Chandrupatla, "A new hybrid quadratic/bisection algorithm for finding the
zero of a nonlinear function without using derivatives", Advances in Engineering Software 28 (1997)
145-149: inverse quadratic interpolation where three points allow it, bisection otherwise.
`newton` and `secant` start near the root and fall back on bisection where a step leaves the
bracket.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.needs import Index, Mask

MOST_STEPS = 200
EPS = float(np.finfo(np.float64).eps)
FINENESS = 4.0 * EPS
WIDE = 1e30
"""Stands for no bound."""


@dataclass(frozen=True)
class Bracket:
    """Two neighbouring values with a falling function's sign change between them.

    low, high: shape (N,)
    """

    low: Array
    high: Array

    def rows(self, index: Index) -> Bracket:
        """The elements at `index`."""
        return Bracket(self.low[index], self.high[index])

    def opened(self, where: Mask) -> Bracket:
        """Wide open at some elements."""
        return Bracket(np.where(where, -WIDE, self.low), np.where(where, WIDE, self.high))


def wide_open(like: Array) -> Bracket:
    """A bracket that nothing is known of."""
    return Bracket(np.full_like(like, -WIDE), np.full_like(like, WIDE))


def kept_in(
    bracket: Bracket, x: Array, step: Array, fine: float = 8.0 * EPS
) -> tuple[Bracket, Array]:
    """The bracket that the sign of a step from x leaves, and the step kept within it, (N,) each.

    A step that would leave it goes to its middle. A bracket that has closed, to a share `fine` of
    x, was wrong: it is opened.
    """
    low, high = np.where(step > 0.0, x, bracket.low), np.where(step < 0.0, x, bracket.high)
    closed = high - low <= fine * np.abs(x)
    low, high = np.where(closed, -WIDE, low), np.where(closed, WIDE, high)
    aim = x + step
    outside = ((aim <= low) | (aim >= high)) & (low > -WIDE) & (high < WIDE) & (step != 0.0)
    return Bracket(low, high), np.where(outside, 0.5 * (low + high) - x, step)


def zero_between(at_low: Array, at_high: Array) -> Array:
    """Where a falling straight line through two values is zero, as a share of the way, 0 to 1."""
    gap = at_low - at_high
    return np.where(gap > 0, np.clip(at_low / np.where(gap > 0, gap, 1.0), 0.0, 1.0), 0.0)


def close_in(falling: Callable[[Array, Index], Array], low: Array, high: Array) -> Bracket:
    """Close a bracket around the root of a falling function, element by element.

    falling(x, index): the function at x for the elements `index`; x and index have equal shape
    low, high: shape (N,), with falling(low) >= 0 and falling(high) <= 0; where that does not hold
        the bracket collapses onto the end that is nearer to it.

    Steps end when a bracket is `FINENESS` of its own size wide, or after `MOST_STEPS`.
    """
    everything = np.arange(low.size)
    a, b = high.astype(np.float64), low.astype(np.float64)
    fa, fb = falling(a, everything), falling(b, everything)
    # Ends that already satisfy the equation: keep them as a bracket without width.
    below, above = fb <= 0.0, fa >= 0.0
    a, fa = np.where(below, b, a), np.where(below, fb, fa)
    b, fb = np.where(above & ~below, a, b), np.where(above & ~below, fa, fb)
    c, fc = a.copy(), fa.copy()
    t = np.full(low.size, 0.5)
    nothing = EPS**2 * np.abs(high - low) + 1e-300
    active = np.flatnonzero(~(below | above) & (np.abs(b - a) > _width(a, b, nothing)))
    for _ in range(MOST_STEPS):
        if active.size == 0:
            break
        i = active
        x = a[i] + t[i] * (b[i] - a[i])
        fx = falling(x, i)
        same = np.sign(fx) == np.sign(fa[i])
        c[i], fc[i] = np.where(same, a[i], b[i]), np.where(same, fa[i], fb[i])
        b[i], fb[i] = np.where(same, b[i], a[i]), np.where(same, fb[i], fa[i])
        a[i], fa[i] = x, fx
        width, least = np.abs(b[i] - a[i]), _width(a[i], b[i], nothing[i])
        keep = (width > least) & (fx != 0.0)
        smallest = np.minimum(0.5, 0.5 * least / np.maximum(width, least))
        t[i] = _next_share(a[i], b[i], c[i], (fa[i], fb[i], fc[i]), smallest)
        active = i[keep]
    b = np.where(fa == 0.0, a, b)
    return Bracket(np.minimum(a, b), np.maximum(a, b))


def _width(a: Array, b: Array, nothing: Array) -> Array:
    return FINENESS * np.maximum(np.abs(a), np.abs(b)) + nothing


def _next_share(a: Array, b: Array, c: Array, f: tuple[Array, Array, Array], least: Array) -> Array:
    """Where to look next, as a share of the way from a to b; f holds the values at a, b and c."""
    fa, fb, fc = f
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        xi = (a - b) / (c - b)
        phi = (fa - fb) / (fc - fb)
        usable = (phi**2 < xi) & ((1.0 - phi) ** 2 < 1.0 - xi)
        quadratic = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (
            fc - fb
        )
    share = np.where(usable & np.isfinite(quadratic), quadratic, 0.5)
    return np.clip(share, least, 1.0 - least)


def newton(
    rising: Callable[[Array, Index], tuple[Array, Array]],
    high: Array,
    start: Array,
    noise: Array,
) -> Array:
    """The root between 0 and `high` of a rising function, by element, from a start near it.

    rising(x, index): value and slope at x for the elements `index`; not above zero at 0, not below
        it at `high`. Its last call for an element is at the x that is returned.
    noise: values within it count as zero; all of shape (N,)

    Where the function jumps over zero the answer is the last x below the jump.
    """
    x = np.where((start > 0.0) & (start < high), start, high)
    low, top = np.zeros_like(x), high.copy()
    fine = 4.0 * EPS * high
    active = np.arange(x.size)
    for _ in range(MOST_STEPS):
        at = x[active]
        value, slope = rising(at, active)
        over = value > 0.0
        top[active] = np.where(over, at, top[active])
        low[active] = np.where(over, low[active], at)
        step = value / np.maximum(slope, 1e-300)
        closed = top[active] - low[active] <= fine[active]
        found = (np.abs(value) <= noise[active]) | (np.abs(step) <= fine[active])
        aim = at - step
        inside = (aim > low[active]) & (aim < top[active])
        aim = np.where(inside, aim, 0.5 * (low[active] + top[active]))
        aim = np.where(closed, low[active], aim)
        more = ~found & ~(closed & (at == low[active]))
        active, aim = active[more], aim[more]
        if active.size == 0:
            break
        x[active] = aim
    return x


def secant(
    falling: Callable[[Array, Index], Array], high: Array, start: Array, slope: float
) -> Array:
    """The root between 0 and `high` of a falling function, by element, from a start near it.

    falling(x, index): the function at x for the elements `index`, not below zero at 0, not above it
        at `high`
    slope: of the first step; all other arguments of shape (N,)
    """
    x = np.clip(start, 0.0, high)
    low, top = np.zeros_like(x), np.nextafter(high, np.inf)  # the upper end may be the root
    before, at_before = np.full_like(x, np.nan), np.zeros_like(x)
    width, stale = top - low, np.zeros(x.size)
    active = np.arange(x.size)
    for _ in range(MOST_STEPS):
        at = x[active]
        value = falling(at, active)
        top[active] = np.where(value < 0.0, at, top[active])
        low[active] = np.where(value >= 0.0, at, low[active])
        run, fall = at - before[active], value - at_before[active]
        usable = np.isfinite(run) & (run * fall < 0.0)
        rate = np.where(usable, fall / np.where(usable, run, 1.0), slope)
        aim = at - value / rate
        nearer = np.abs(at_before[active]) < np.abs(value)
        last = np.where(np.isfinite(run) & nearer, before[active], at)
        before[active], at_before[active] = at, value
        between = top[active] - low[active]
        fine = 4.0 * EPS * np.maximum(at, EPS * high[active])
        settled = (between <= 2.5 * fine) | (np.abs(value) <= 4.0 * fine)
        # A cliff makes steps small far from the root: a look just beyond tells.
        small = np.abs(aim - at) <= fine
        aim = np.where(small, at + np.copysign(2.0 * fine, value), aim)
        # Halve the bracket where three steps have not.
        slow = between > 0.5 * width[active]
        stale[active] = np.where(slow, stale[active] + 1, 0)
        width[active] = np.where(slow, width[active], between)
        inside = (aim > low[active]) & (aim < top[active]) & (stale[active] < 3)
        aim = np.where(inside, aim, 0.5 * (low[active] + top[active]))
        x[active] = np.where(settled, last, aim)
        active = active[~settled]
        if active.size == 0:
            break
    return x
