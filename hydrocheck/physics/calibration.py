"""Calibration: what weighed catches say about the discharge per revolution, and how surely.

Also reached through `material`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.errors import DomainError
from hydrocheck.physics._guard import require_not_negative, require_positive
from hydrocheck.physics.arrays import Array, as_array, require

__all__ = [
    "Catch",
    "catch_statistics",
    "catches_needed",
    "mean_half_width",
    "outlier",
    "pooled_variation",
    "student_t",
    "verification_error",
]

# Two-sided 95 % values of Student's t for 0 to 30 degrees of freedom, from memory, proved by test.
_T_TABLE = np.array(
    [np.inf, 12.70620, 4.30265, 3.18245, 2.77645, 2.57058, 2.44691, 2.36462, 2.30600, 2.26216]
    + [2.22814, 2.20099, 2.17881, 2.16037, 2.14479, 2.13145, 2.11991, 2.10982, 2.10092, 2.09302]
    + [2.08596, 2.07961, 2.07387, 2.06866, 2.06390, 2.05954, 2.05553, 2.05183, 2.04841, 2.04523]
    + [2.04227]
)
_NORMAL = 1.959964
# Grubbs's two-sided 5 % limits for 3 to 20 values, then 25 and 30; from memory, proved by test.
_GRUBBS_COUNT = np.array([*range(3, 21), 25, 30], dtype=np.float64)
_GRUBBS = np.array(
    [1.155, 1.481, 1.715, 1.887, 2.020, 2.126, 2.215, 2.290, 2.355, 2.412]
    + [2.462, 2.507, 2.549, 2.585, 2.620, 2.651, 2.681, 2.709, 2.822, 2.908]
)
_LEAST_TO_JUDGE = 4
_MOST_CATCHES = 2000


@dataclass(frozen=True)
class Catch:
    """What a catch test says: see `catch_statistics`."""

    mean: float
    """Mean discharge per revolution [kg/rad]."""
    variation: float
    """Coefficient of variation of a catch [1]; nan from a single catch."""
    half_width: float
    """Half-width of the 95 % interval of the mean, over the mean [1]; inf from a single catch."""
    count: int
    """Number of catches."""

    def proves(self, accuracy: float) -> bool:
        """Whether the mean is known within a share of it, with 95 % confidence."""
        return self.half_width <= accuracy


def catch_statistics(masses: ArrayLike, angles: ArrayLike) -> Catch:
    """Discharge per revolution from weighed catches, and how well it is known.

    mean and sample coefficient of variation of mass / angle; half-width t cv / sqrt(count)

    masses: weights of the catches [kg], (K,), above 0
    angles: turned by the shaft during each, 2 pi for a turn [rad], (K,) or one for all, above 0
    returns: `Catch`; its mean in [kg/rad], the rest in [1]

    Takes catches as independent and of the normal kind. No catch, and what is not above 0, is
    refused with DomainError.

    >>> catch = catch_statistics([10.0, 10.2, 9.8], 6.283185307)
    >>> round(catch.variation, 3), round(catch.half_width, 3)
    (0.02, 0.05)

    Source: Student's t at 95 %; from memory. At 2 % variation three catches give 5.0 %.
    """
    mass, angle = np.broadcast_arrays(np.atleast_1d(as_array(masses)), as_array(angles))
    require(mass.ndim == 1 and mass.size > 0, "a catch test needs at least one catch")
    require_positive(catch_mass=mass, catch_revolutions=angle)
    each = mass / angle
    mean = float(np.mean(each))
    if each.size == 1:
        return Catch(mean, np.nan, np.inf, 1)
    variation = float(np.std(each, ddof=1)) / mean
    return Catch(mean, variation, float(mean_half_width(variation, each.size)), each.size)


def mean_half_width(
    variation: ArrayLike, count: ArrayLike, degrees_of_freedom: ArrayLike | None = None
) -> Array:
    """Half-width of the 95 % interval of a mean of catches, over the mean.

    w = t cv / sqrt(count)

    variation: coefficient of variation of a catch [1], broadcast
    count: catches in the mean [1], at least 1, broadcast
    degrees_of_freedom: behind the variation [1], count - 1 unless pooled, broadcast
    returns: half-width [1], inf with no degree of freedom

    >>> [round(float(mean_half_width(0.02, n)), 3) for n in (3, 4, 5)]
    [0.05, 0.032, 0.025]
    >>> round(float(mean_half_width(0.02, 3, 6)), 3)
    0.028

    Source: Student's t at 95 %; from memory.
    """
    number = as_array(count)
    require(number >= 1, "a catch test needs at least one catch")
    freedom = number - 1.0 if degrees_of_freedom is None else as_array(degrees_of_freedom)
    result: Array = student_t(freedom) * as_array(variation) / np.sqrt(number)
    return result


def student_t(degrees_of_freedom: ArrayLike) -> Array:
    """Two-sided 95 % value of Student's t.

    table to 30; beyond it z + (z^3 + z) / (4 n) + (5 z^5 + 16 z^3 + 3 z) / (96 n^2), z = 1.96

    degrees_of_freedom: whole number [1], at least 0, broadcast, refused outside
    returns: t [1], inf for 0

    >>> float(student_t(2))
    4.30265

    Source: any table of Student's t; from memory. Expansion: Cornish and Fisher, from memory.
    """
    n = as_array(degrees_of_freedom)
    require((n >= 0) & (n == np.floor(n)), "degrees of freedom must be a whole number from 0")
    z = _NORMAL
    many = np.maximum(n, 30.0)
    far = z + (z**3 + z) / (4 * many) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * many**2)
    return np.where(n <= 30, _T_TABLE[np.minimum(n, 30.0).astype(np.int64)], far)


def pooled_variation(variations: ArrayLike, counts: ArrayLike) -> tuple[float, int]:
    """Coefficient of variation behind several sets of catches, as at several speeds.

    cv = sqrt(sum((count_i - 1) cv_i^2) / f), f = sum(count_i - 1)

    variations: coefficient of variation of each set [1], (K,)
    counts: catches of each set [1], (K,), 2 or more, refused outside with DomainError
    returns: pooled variation [1] and its degrees of freedom [1]

    Fits where the scatter is alike, whatever the means.

    >>> cv, f = pooled_variation([0.02, 0.02, 0.02], [3, 3, 3])
    >>> round(cv, 6), f
    (0.02, 6)

    Source: pooled variance; from memory.
    """
    cv, count = np.atleast_1d(as_array(variations)), np.atleast_1d(as_array(counts))
    require_not_negative(variation=cv)
    if cv.shape != count.shape or cv.ndim != 1 or cv.size == 0:
        raise DomainError("pooling needs one count for each variation")
    require(count >= 2, "each set needs two catches or more")
    freedom = np.sum(count - 1.0)
    return float(np.sqrt(np.sum((count - 1.0) * cv**2) / freedom)), round(float(freedom))


def catches_needed(variation: ArrayLike, accuracy: ArrayLike) -> NDArray[np.int64]:
    """Fewest catches whose mean is proven within an accuracy, with 95 % confidence.

    smallest count >= 2 with t cv / sqrt(count) <= accuracy

    variation: coefficient of variation of a catch [1], 0.02 usual (0.01 to 0.05), broadcast
    accuracy: wanted half-width over the mean [1], above 0, broadcast, refused outside
    returns: number of catches [1]; more than 2000 is refused with DomainError

    >>> [int(n) for n in catches_needed(0.02, [0.05, 0.042, 0.025])]
    [3, 4, 5]

    Source: Student's t at 95 %, from memory; usual variation from common practice.
    """
    cv, wanted = as_array(variation), as_array(accuracy)
    require_not_negative(variation=cv)
    require_positive(accuracy=wanted)
    count = np.arange(2, _MOST_CATCHES + 1)
    reach = student_t(count - 1) / np.sqrt(count)  # falls with the count
    with np.errstate(divide="ignore", over="ignore"):
        place = np.searchsorted(-reach, -(wanted / cv))
    require(place < count.size, f"{_MOST_CATCHES} catches do not prove an accuracy so close")
    return np.asarray(count[place])


def outlier(values: ArrayLike) -> int | None:
    """Which of several catches lies too far from the others to be chance, at 5 %.

    G = max |x - mean| / s against Grubbs's limit for their number

    values: discharge per revolution, or any readings of one thing [kg/rad], (K,)
    returns: its place, counted from 0; None where none does, and for fewer than four [1]

    For one outlier among values of the normal kind. Beyond 30 values the limit for 30 holds, a
    little strict. Look for the reason before a catch is left out.

    >>> outlier([10.0, 10.1, 9.9, 10.05, 12.0])
    4
    >>> outlier([10.0, 10.2, 9.8, 10.1]) is None
    True

    Source: Grubbs, Technometrics 11, 1969, two-sided table; from memory.
    """
    found = np.atleast_1d(as_array(values))
    if found.size < _LEAST_TO_JUDGE:
        return None
    deviation = float(np.std(found, ddof=1))
    away = np.abs(found - found.mean())
    place = int(np.argmax(away))
    limit = float(np.interp(found.size, _GRUBBS_COUNT, _GRUBBS))
    return place if away[place] > limit * deviation else None


def verification_error(put_down: ArrayLike, ordered: ArrayLike) -> Array:
    """How far what was put down lies from what was ordered.

    error = put down / ordered - 1

    put_down: weighed mass that left the hopper [kg], broadcast
    ordered: rate x distance x lanes [kg], above 0, broadcast, refused outside with DomainError
    returns: error [1], above 0 for too much

    >>> round(float(verification_error(624.0, 600.0)), 3)
    0.04

    Source: definition; common practice.
    """
    wanted = as_array(ordered)
    require_positive(ordered=wanted)
    return as_array(put_down) / wanted - 1.0
