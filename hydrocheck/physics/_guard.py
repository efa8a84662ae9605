"""Refuse numbers for which a formula means nothing. Private to `hydrocheck.physics`."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError

Real = float | NDArray[np.float64]
"""A float or an array of floats; arguments of that kind broadcast together."""


def _refuse(name: str, value: Real, good: NDArray[np.bool_], wanted: str) -> None:
    bad = np.asarray(value, dtype=np.float64)[~good].flat[0]
    raise DomainError(f"{name.replace('_', ' ')} must be {wanted}, got {bad:g}")


def require_positive(**values: Real) -> None:
    """Raise DomainError unless every value is finite and above zero."""
    for name, value in values.items():
        array = np.asarray(value)
        good = np.isfinite(array) & (array > 0.0)
        if not good.all():
            _refuse(name, value, good, "a positive number")


def require_not_negative(**values: Real) -> None:
    """Raise DomainError unless every value is finite and zero or above."""
    for name, value in values.items():
        array = np.asarray(value)
        good = np.isfinite(array) & (array >= 0.0)
        if not good.all():
            _refuse(name, value, good, "zero or a positive number")


def require_efficiency(**values: Real) -> None:
    """Raise DomainError unless every value is above 0 and at most 1."""
    for name, value in values.items():
        array = np.asarray(value)
        # A hair above one is rounding of the caller's own division, not a machine that makes oil.
        good = (array > 0.0) & (array <= 1.0 + 1e-12)
        if not good.all():
            _refuse(name, value, good, "above 0 and at most 1")


def require_fraction(**values: Real) -> None:
    """Raise DomainError unless every value lies between 0 and 1, both included."""
    for name, value in values.items():
        array = np.asarray(value)
        good = (array >= 0.0) & (array <= 1.0 + 1e-12)
        if not good.all():
            _refuse(name, value, good, "between 0 and 1")


def checked_efficiency(value: Real, name: str) -> Real:
    """Return a computed efficiency, or raise DomainError where it exceeds 1."""
    array = np.asarray(value)
    if not (array <= 1.0 + 1e-12).all():
        raise DomainError(
            f"{name} comes out at {100.0 * float(np.max(array)):.1f} %, above 100 %:"
            " check the displacement and the measured values"
        )
    return value
