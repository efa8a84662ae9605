"""Catch tests against scipy's Student distribution; the basics stand in test_material."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from hydrocheck.errors import DomainError
from hydrocheck.physics import calibration


def test_table_of_t_to_its_last_digit() -> None:
    freedom = np.arange(1, 31)
    assert calibration.student_t(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), abs=6e-6)


def half_width(variation: float, count: int) -> float:
    """Oracle: 95 % half-width by scipy."""
    return float(stats.t.ppf(0.975, count - 1)) * variation / count**0.5


@given(st.floats(0.005, 0.10), st.floats(0.005, 0.2))
def test_fewest_catches_against_scipy(variation: float, accuracy: float) -> None:
    count = int(calibration.catches_needed(variation, accuracy))
    # Our t is good to 1e-5, so a count on the very edge may fall either way.
    assert half_width(variation, count) <= accuracy * (1 + 2e-5)
    if count > 2:
        assert half_width(variation, count - 1) > accuracy * (1 - 2e-5)


def test_catches_that_prove_a_bid_limit() -> None:
    # Student's t: at 2 % scatter three catches prove 5.0 %, not 4.2 %; four do. At 1 % three do.
    assert calibration.catches_needed([0.02, 0.01], 0.042).tolist() == [4, 3]
    three = calibration.catch_statistics([9.8, 10.0, 10.2], 1.0)
    assert not three.proves(0.042)
    assert three.proves(0.05)


def test_no_scatter_needs_two() -> None:
    assert int(calibration.catches_needed(0.0, 0.01)) == 2


def test_pooling_against_numpy() -> None:
    # Own data: residuals of two speeds about their means, 3 + 2 degrees of freedom.
    slow, fast = np.array([9.7, 10.1, 10.3, 9.9]), np.array([20.4, 19.8, 19.8])
    sets = [calibration.catch_statistics(s, 1.0) for s in (slow, fast)]
    variation, freedom = calibration.pooled_variation(
        [s.variation for s in sets], [s.count for s in sets]
    )
    rest = np.concatenate([slow / slow.mean() - 1.0, fast / fast.mean() - 1.0])
    assert freedom == 5
    assert variation == pytest.approx(np.sqrt(np.sum(rest**2) / 5), rel=1e-12)


@given(st.floats(0.0, 0.2), st.lists(st.integers(2, 9), min_size=1, max_size=6))
def test_pooling_alike_sets_changes_nothing(cv: float, counts: list[int]) -> None:
    variation, freedom = calibration.pooled_variation([cv] * len(counts), counts)
    assert variation == pytest.approx(cv, rel=1e-12)
    assert freedom == sum(counts) - len(counts)


@pytest.mark.parametrize(
    "call",
    [
        lambda: calibration.catches_needed(0.02, 0.0),
        lambda: calibration.catches_needed(-0.02, 0.1),
        lambda: calibration.catches_needed(0.05, 1e-4),
        lambda: calibration.pooled_variation([0.02], [1]),
        lambda: calibration.pooled_variation([0.02, 0.03], [3]),
        lambda: calibration.pooled_variation([], []),
        lambda: calibration.student_t(-1),
    ],
)
def test_refusals(call: Callable[[], object]) -> None:
    with pytest.raises(DomainError, match=r"^[^\n]+$"):
        call()


def test_grubbs_limits_are_those_of_students_t() -> None:
    """Closed form of the limit through scipy's t at 5 % / (2 n)."""
    for count, printed in zip(calibration._GRUBBS_COUNT, calibration._GRUBBS, strict=True):
        t = stats.t.isf(0.05 / (2.0 * count), count - 2.0)
        exact = (count - 1.0) / np.sqrt(count) * np.sqrt(t**2 / (count - 2.0 + t**2))
        assert printed == pytest.approx(exact, abs=1.1e-3)


def test_outlier_on_both_sides_of_the_limit() -> None:
    """Five values: the limit is 1.715 standard deviations."""
    base = np.array([-1.0, -0.5, 0.5, 1.0])

    def reach(far: float) -> float:
        values = np.append(base, far)
        return float((far - values.mean()) / values.std(ddof=1))

    inside, outside = 4.0, 6.5
    assert reach(inside) < 1.715 < reach(outside)
    assert calibration.outlier(np.append(base, inside) + 10.0) is None
    assert calibration.outlier(np.append(base, outside) + 10.0) == 4
    assert calibration.outlier([1.0, 1.0, 99.0]) is None  # three tell nothing
    assert calibration.outlier([2.0, 2.0, 2.0, 2.0]) is None


def test_verification_error() -> None:
    assert calibration.verification_error([624.0, 570.0], 600.0) == pytest.approx([0.04, -0.05])
    with pytest.raises(DomainError):
        calibration.verification_error(1.0, 0.0)
