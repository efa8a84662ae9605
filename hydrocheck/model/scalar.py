"""The type of a physical value in the model."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Scalar = float | NDArray[np.float64]
else:
    Scalar = Any  # numpy is slow to import, and reading a truck file does without it

__all__ = ["Scalar"]
