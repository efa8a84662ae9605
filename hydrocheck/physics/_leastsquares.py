"""Linear least squares with standard errors. Private to `hydrocheck.physics`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hydrocheck.physics.arrays import Array

_RANK = 1e-7  # least over greatest singular value of the scaled columns


@dataclass(frozen=True)
class Solution:
    """A least-squares solution: values, their covariance (nan without spare points), residuals."""

    values: Array
    covariance: Array
    residuals: Array

    @property
    def squares(self) -> float:
        """Sum of the squared residuals."""
        return float(self.residuals @ self.residuals)


def solve(columns: Sequence[Array], target: Array) -> Solution | None:
    """Least squares over the columns; None where they cannot be told apart."""
    matrix = np.column_stack(columns)
    # Unit columns: displacement and conductance differ by many powers of ten.
    scale = np.sqrt(np.sum(matrix**2, axis=0))
    if len(target) < len(columns) or not np.all(scale > 0.0):
        return None
    left, singular, right = np.linalg.svd(matrix / scale, full_matrices=False)
    if singular[-1] < _RANK * singular[0]:
        return None
    inverse = right.T / singular
    values = inverse @ (left.T @ target)
    residuals = target - (matrix / scale) @ values
    spare = len(target) - len(columns)
    variance = float(residuals @ residuals) / spare if spare else np.nan
    covariance = variance * (inverse @ inverse.T) / np.outer(scale, scale)
    return Solution(values / scale, covariance, residuals)


def standard_error(variance: float) -> float:
    """The standard error; rounding may leave a variance of nothing below zero."""
    return float(np.sqrt(max(variance, 0.0)))


def root_mean_square(residuals: Array) -> float:
    """The root of the mean square over all points."""
    return float(np.sqrt(np.mean(residuals**2)))
