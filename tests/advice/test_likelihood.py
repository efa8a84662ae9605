"""Likelihood and expected information against scipy, closed forms and counts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from hydrocheck.advice.causes import CAUSES, HEALTHY, NODES
from hydrocheck.advice.likelihood import (
    FREEDOM,
    SUB,
    Numbers,
    fine_grid,
    information_of_number,
    information_of_word,
    log_likelihood,
)
from hydrocheck.advice.likelihood import (
    given as after,
)
from hydrocheck.advice.variants import DRAWS, hadamard

RNG = np.random.default_rng(7)


def table(rows: int, readings: int) -> Numbers:
    return Numbers(
        RNG.normal(size=readings),
        RNG.uniform(0.5, 1.5, (rows, readings)),
        RNG.normal(size=(rows, readings)),
        RNG.normal(size=(rows, DRAWS, readings)) / np.sqrt(DRAWS),
    )


def test_likelihood_is_that_of_scipys_multivariate_t() -> None:
    made = table(5, 4)
    expected = [
        stats.multivariate_t(made.mean[i], made.covariance[i], df=FREEDOM).logpdf(made.found)
        for i in range(5)
    ]
    got = log_likelihood(made)
    assert got - got[0] == pytest.approx(np.array(expected) - expected[0], abs=1e-9)


def test_a_further_reading_is_foreseen_as_the_normal_law_says() -> None:
    """Conditional mean and variance of a joint normal, from the whole covariance matrix."""
    whole = table(3, 4)
    part = Numbers(
        whole.found[:3], whole.noise[:, :3], whole.mean[:, :3], whole.deviation[:, :, :3]
    )
    mean, spread = after(part, whole.mean[:, 3], whole.deviation[:, :, 3], whole.noise[:, 3])
    for i in range(3):
        c = whole.covariance[i]
        gain = np.linalg.solve(c[:3, :3], c[:3, 3])
        assert mean[i] == pytest.approx(whole.mean[i, 3] + gain @ (part.found - part.mean[i]))
        assert spread[i] ** 2 == pytest.approx(c[3, 3] - gain @ c[:3, 3])


def test_hadamard_columns_are_orthogonal() -> None:
    signs = hadamard(DRAWS)
    assert np.array_equal(signs @ signs.T, DRAWS * np.eye(DRAWS))
    assert np.all(signs[:, 0] == 1)


def test_two_groups_far_apart_are_worth_one_bit() -> None:
    weight, group = np.array([0.5, 0.5]), np.array([0, 1])
    far = information_of_number(weight, group, np.array([0.0, 100.0]), np.ones(2))
    same = information_of_number(weight, group, np.zeros(2), np.ones(2))
    assert far == pytest.approx(1.0)
    assert same == pytest.approx(0.0, abs=1e-12)
    sure = information_of_word(weight, group, np.array([[1.0, 0.0], [0.0, 1.0]]))
    assert sure == pytest.approx(1.0)
    assert information_of_word(weight, group, np.full((2, 2), 0.5)) == pytest.approx(0.0)


def test_information_of_two_normals_against_quadrature() -> None:
    """Mutual information of a mixture of two unit normals two apart, by numerical integration."""
    x = np.linspace(-12.0, 14.0, 20001)
    a, b = stats.norm.pdf(x, 0.0), stats.norm.pdf(x, 2.0)
    mixed = 0.5 * (a + b)
    bits = 0.5 * np.trapezoid(a * np.log2(a / mixed) + b * np.log2(b / mixed), x)
    got = information_of_number(np.full(2, 0.5), np.array([0, 1]), np.array([0.0, 2.0]), np.ones(2))
    assert got == pytest.approx(bits, abs=0.06)  # three nodes a normal


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_information_never_exceeds_what_is_not_known(seed: int) -> None:
    rng = np.random.default_rng(seed)
    weight = rng.dirichlet(np.ones(12))
    group = rng.integers(0, 4, 12)
    shares = np.bincount(group, weight, 4)
    entropy = -np.sum(shares[shares > 0] * np.log2(shares[shares > 0]))
    words = rng.dirichlet(np.ones(3), 12)
    assert 0.0 <= information_of_word(weight, group, words) <= entropy + 1e-9
    mean = rng.normal(0.0, 5.0, 12)
    bits = information_of_number(weight, group, mean, rng.uniform(0.1, 2.0, 12))
    assert 0.0 <= bits <= entropy + 0.05


def test_the_fine_grid_holds_every_severity_and_the_priors() -> None:
    causes = (HEALTHY, *CAUSES)
    grid = fine_grid(causes)
    total = sum(cause.prior for cause in causes)
    assert grid.weight.sum() == pytest.approx(1.0)
    for i, cause in enumerate(causes):
        rows = grid.cause == i
        assert grid.weight[rows].sum() == pytest.approx(cause.prior / total)
        if i:
            assert rows.sum() == (NODES - 1) * SUB + 1
            assert grid.severity[rows][::SUB] == pytest.approx(cause.grid())
    solved = np.concatenate([[0.0], *(cause.grid() for cause in CAUSES)])
    line = ~np.isin(grid.cause, [i for i, c in enumerate(causes) if c.log])
    assert grid.spread(solved)[line] == pytest.approx(grid.severity[line])
