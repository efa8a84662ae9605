"""Steps of the unknowns: linear in the steps of the bank inlet and the return manifold pressure.

Parts that all points share are floats, so that a coefficient of zero costs nothing.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.needs import Mask

Part = Array | float
"""An array (n,), or a float where all points share it: zero makes no arrays."""


def add(part: Part, other: Part, factor: Part = 1.0) -> Part:
    """part + factor other, without work where that is nothing."""
    if isinstance(other, float) and other == 0.0:
        return part
    more = other if isinstance(factor, float) and factor == 1.0 else factor * other
    return more if isinstance(part, float) and part == 0.0 else part + more


class Form(NamedTuple):
    """A quantity's step, linear in those of b and r: at + by_b db + by_r dr, (n,) each."""

    at: Part
    by_b: Part
    by_r: Part

    def plus(self, other: Form, factor: Part = 1.0) -> Form:
        """The sum with a multiple of another."""
        return Form(*(add(a, b, factor) for a, b in zip(self, other, strict=True)))

    def times(self, factor: Part) -> Form:
        """A multiple."""
        return NOTHING.plus(self, factor)

    def value(self, b: Array, r: Array) -> Part:
        """The step for steps of b and r."""
        return add(add(self.at, self.by_b, b), self.by_r, r)


NOTHING, STEP_B, STEP_R = Form(0.0, 0.0, 0.0), Form(0.0, 1.0, 0.0), Form(0.0, 0.0, 1.0)


def where(condition: Mask, yes: Form, no: Form) -> Form:
    """One form or the other, point by point."""
    return Form(
        *(
            a if isinstance(a, float) and isinstance(b, float) and a == b
            else np.where(condition, a, b)
            for a, b in zip(yes, no, strict=True)
        )
    )  # fmt: skip
