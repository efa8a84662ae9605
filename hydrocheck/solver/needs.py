"""Reading the values that a solve cannot do without: present, in bounds, of a shape that fits.

Missing values are collected and raised together; a value out of bounds is refused at once, by its
name. The bounds are those of the model's own field.
"""

from __future__ import annotations

import math
from typing import cast

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.fields import BOUND_WORDS, Bounds, specs, within
from hydrocheck.model.scalar import Scalar
from hydrocheck.physics.arrays import Array

BLOCK = 16_384
"""Points worked on at a time: what lies between two steps stays near the processor."""

Index = NDArray[np.intp]
Mask = NDArray[np.bool_]


class Needs:
    """Reads values of a circuit for N points and collects the keys of those that are not given."""

    def __init__(self, size: int = 1) -> None:
        self.size = size
        self.missing: list[str] = []

    def __call__(self, part: object, attribute: str, key: str) -> Scalar:
        """A value as it is given; 1.0 in place of one that is not, and its key noted as missing.

        Raises DomainError for a value out of its bounds or of a shape that does not fit.
        """
        name = f"{key}.{attribute}"
        value: Scalar | None = getattr(part, attribute)
        if value is None:
            self.missing.append(name)
            return 1.0
        bounds = _bounds(type(part), attribute)
        # Most values are plain floats: no arrays are made for them.
        if type(value) is float and math.isfinite(value) and within(value, bounds):
            return value
        _refuse_out_of_bounds(column(value, self.size, name), bounds, name)
        return value

    def column(
        self, part: object, attribute: str, key: str, otherwise: float | None = None
    ) -> Array:
        """A value as (1,) or (N,); `otherwise`, if there is that, for one that is not given."""
        if otherwise is not None and getattr(part, attribute) is None:
            return np.array([otherwise])
        value = self(part, attribute, key)
        if type(value) is float:
            return np.array([value])
        return column(value, self.size, f"{key}.{attribute}")

    def settle(self) -> None:
        """Raise MissingValue if anything was missing."""
        if self.missing:
            raise MissingValue(list(dict.fromkeys(self.missing)))


_KNOWN: dict[tuple[type, str], Bounds] = {}


def _bounds(cls: type, attribute: str) -> Bounds:
    """Bounds of a model attribute, looked up once."""
    key = (cls, attribute)
    if key not in _KNOWN:
        _KNOWN[key] = specs(cls)[attribute].bounds
    return _KNOWN[key]


def _refuse_out_of_bounds(array: Array, bounds: Bounds, name: str) -> None:
    good = {
        "any": np.isfinite(array),
        "positive": array > 0.0,
        "not negative": array >= 0.0,
        "fraction": (array >= 0.0) & (array <= 1.0),
        "efficiency": (array > 0.0) & (array <= 1.0),
        "loss": (array >= 0.0) & (array < 1.0),
    }[bounds]
    if not good.all():
        raise DomainError(f"{name}: {BOUND_WORDS[bounds]}, read {array[~good][0]:g}")


def column(value: object, size: int, what: str) -> Array:
    """A scalar as (1,), an (N,) array as it is; finite numbers. Raises DomainError."""
    try:
        array = np.atleast_1d(np.asarray(value, dtype=np.float64))
    except (TypeError, ValueError):
        raise DomainError(f"{what}: not a number") from None
    if array.ndim != 1 or array.size not in (1, size):
        raise DomainError(f"{what}: shape {array.shape} does not fit {size} point(s)")
    if not np.isfinite(array).all():
        raise DomainError(f"{what}: not finite")
    return array


def side_by_side(columns: list[Array]) -> Array:
    """K columns, each (1,) or (N,), as one array (1, K) or (N, K)."""
    if not columns:
        return np.zeros((1, 0))
    return np.stack(np.broadcast_arrays(*columns)).T


def beside(columns: list[Array], size: int) -> Array:
    """K columns (N,) as one array (N, K), each column without gaps in memory: sums are quick."""
    return np.stack(columns).T if columns else np.zeros((size, 0))


def run(start: int, stop: int) -> Index:
    """Points one after the other, as an index that makes views instead of copies."""
    return cast(Index, slice(start, stop))


def take_rows(array: Array, index: Index) -> Array:
    """The rows of the points at `index`; an array that all points share stays as it is."""
    return array if array.shape[0] == 1 else array[index]


def sum_of(parts: list[Array]) -> Array:
    """The sum of arrays that broadcast, one after the other."""
    total = parts[0]
    for part in parts[1:]:
        total = total + part
    return total
