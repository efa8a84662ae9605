"""The array types and the one conversion that the physics functions share."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.errors import DomainError

Array = NDArray[np.float64]


def as_array(value: ArrayLike) -> Array:
    """Float array of any shape, 0-d for a scalar."""
    return np.asarray(value, dtype=np.float64)


def require(condition: ArrayLike, message: str) -> None:
    """Raise `DomainError` with the message unless the condition holds everywhere."""
    if not np.all(condition):
        raise DomainError(message)
