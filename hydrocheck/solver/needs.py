"""Reading the values that a solve cannot do without, all that are missing at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError, MissingValue

Array = NDArray[np.float64]


class Needs:
    """Collects values of a circuit and the keys of those that are not given."""

    def __init__(self) -> None:
        self.missing: list[str] = []

    def __call__(self, part: Any, attribute: str, key: str) -> Any:
        """A value, or 1.0 in its place and its key noted as missing."""
        value = getattr(part, attribute)
        if value is None:
            self.missing.append(f"{key}.{attribute}")
            return 1.0
        return value

    def settle(self) -> None:
        """Raise MissingValue if anything was missing."""
        if self.missing:
            raise MissingValue(list(dict.fromkeys(self.missing)))


def stack(values: Sequence[Any], size: int, what: str) -> Array:
    """Scalars and (N,) arrays of M parts as one array, (1, M) or (N, M). Raises DomainError."""
    columns = [column(value, size, what) for value in values]
    if not columns:
        return np.zeros((1, 0))
    return np.stack(np.broadcast_arrays(*columns), axis=1)


def column(value: Any, size: int, what: str) -> Array:
    """A scalar as (1,), an (N,) array as it is; finite. Raises DomainError."""
    array = np.atleast_1d(np.asarray(value, dtype=np.float64))
    if array.ndim != 1 or array.size not in (1, size):
        raise DomainError(f"{what}: shape {array.shape} does not fit {size} point(s)")
    if not np.isfinite(array).all():
        raise DomainError(f"{what}: not finite")
    return array


def take_rows(array: Array, index: NDArray[np.intp]) -> Array:
    """The rows of the points at `index`; an array that all points share stays as it is."""
    return array if array.shape[0] == 1 else array[index]
