"""Guarded root finding on arrays: every element has its own bracket and always converges.

`close_in` follows T. R. Chandrupatla, "A new hybrid quadratic/bisection algorithm for finding the zero
of a nonlinear function without using derivatives", Advances in Engineering Software 28 (1997) 145-149:
inverse quadratic interpolation where three points allow it, bisection otherwise.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]

MOST_STEPS = 200
FINENESS = 4.0 * float(np.finfo(np.float64).eps)


@dataclass(frozen=True)
class Bracket:
    """Two neighbouring values with a falling function's sign change between them.

    low, high: shape (N,); at_low >= 0 >= at_high: the function there
    """

    low: Array
    high: Array
    at_low: Array
    at_high: Array

    @property
    def weight(self) -> Array:
        """Share of `high` in the linear interpolation to zero, between 0 and 1."""
        gap = self.at_low - self.at_high
        safe = np.where(gap > 0, gap, 1.0)
        return np.where(gap > 0, self.at_low / safe, 0.0)


def close_in(falling: Callable[[Array, Index], Array], low: Array, high: Array) -> Bracket:
    """Close a bracket around the root of a falling function, element by element.

    falling(x, index): the function at x for the elements `index`; x and index have equal shape
    low, high: shape (N,), with falling(low) >= 0 and falling(high) <= 0; where that does not hold the
        bracket collapses onto the end that is nearer to it.

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
    active = np.flatnonzero(~(below | above) & (np.abs(b - a) > _width(a, b)))
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
        width = np.abs(b[i] - a[i])
        least = _width(a[i], b[i])
        keep = (width > least) & (fx != 0.0)
        t[i] = _next_share(
            a[i],
            b[i],
            c[i],
            fa[i],
            fb[i],
            fc[i],
            np.minimum(0.5, 0.5 * least / np.maximum(width, least)),
        )
        active = i[keep]
    exact = fa == 0.0
    b, fb = np.where(exact, a, b), np.where(exact, fa, fb)
    swap = a > b
    return Bracket(
        np.where(swap, b, a), np.where(swap, a, b), np.where(swap, fb, fa), np.where(swap, fa, fb)
    )


def _width(a: Array, b: Array) -> Array:
    return FINENESS * np.maximum(np.abs(a), np.abs(b)) + 1e-300


def _next_share(
    a: Array, b: Array, c: Array, fa: Array, fb: Array, fc: Array, least: Array
) -> Array:
    """Where to look next, as a share of the way from a to b."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        xi = (a - b) / (c - b)
        phi = (fa - fb) / (fc - fb)
        usable = (phi**2 < xi) & ((1.0 - phi) ** 2 < 1.0 - xi)
        quadratic = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (
            fc - fb
        )
    share = np.where(usable & np.isfinite(quadratic), quadratic, 0.5)
    return np.clip(share, least, 1.0 - least)
