"""Probability of readings under each hypothesis.

Readings of numbers are taken as a multivariate t about the mean prediction, with the covariance
that the tolerance draws give, the instruments' uncertainty and an allowance for what the model
leaves out. The heavy tail keeps one wrong reading from ruling everything else out. Words have the
probabilities that `predict` gives.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from hydrocheck.advice.causes import NODES, Cause
from hydrocheck.model.readable import What
from hydrocheck.physics.arrays import Array
from hydrocheck.studies.tolerance import UNTOLD_RETURN

SUB = 6
"""Severities between two solved ones, by straight lines."""
FREEDOM = 5.0
"""Degrees of freedom of the t: how often a reading is far off (ours)."""

MODEL_ERROR: Mapping[str, tuple[float, float, float]] = {
    "shaft_speed": (0.04, 0.02, 0.0),
    "pressure": (0.05, 0.03, 0.0),
    "return pressure": (0.3, 0.0, UNTOLD_RETURN),
    "inlet vacuum": (0.15, 0.0, 4e3),
    "flow": (0.05, 0.03, 0.0),
    "fraction": (0.0, 0.01, 0.0),
    "current": (0.02, 0.01, 0.0),
    "voltage": (0.02, 0.01, 0.0),
    "time": (0.05, 0.02, 0.0),
    "temperature": (0.0, 0.005, 0.0),
}
"""What the model leaves out, one standard deviation: share of the prediction, share of what a
healthy truck would show, and in SI (ours; the blind trial says how well that holds). By the kind of
reading, or by its name: fittings, galleries and strainers that no truck file tells make up most of
a return pressure and of an inlet vacuum."""


@dataclass(frozen=True)
class Grid:
    """The fine grid of severities: rows between the solved hypotheses.

    low, high: rows of the solved hypotheses on either side; share: of `high`
    cause: index of each row's cause; severity; weight: prior, (F,)
    """

    low: NDArray[np.intp]
    high: NDArray[np.intp]
    share: Array
    cause: NDArray[np.intp]
    severity: Array
    weight: Array

    def spread(self, solved: Array) -> Array:
        """(H, ...) values of the solved hypotheses on the fine grid, (F, ...)."""
        shape = (-1,) + (1,) * (solved.ndim - 1)
        share = self.share.reshape(shape)
        made: Array = (1.0 - share) * solved[self.low] + share * solved[self.high]
        return made


def fine_grid(causes: Sequence[Cause]) -> Grid:
    """The grid for hypotheses as `single_hypotheses` lists them: healthy, then every cause."""
    columns: list[tuple[int, int, float, int, float, float]] = [
        (0, 0, 0.0, 0, 0.0, causes[0].prior)
    ]
    count = (NODES - 1) * SUB + 1
    for i, cause in enumerate(causes[1:], start=1):
        start = 1 + (i - 1) * NODES
        grid = cause.grid()
        for k in range(count):
            node, part = divmod(k, SUB)
            high = min(node + 1, NODES - 1)
            share = part / SUB
            low_s, high_s = float(grid[node]), float(grid[high])
            severity = (
                low_s * (high_s / low_s) ** share if cause.log else low_s + share * (high_s - low_s)
            )
            columns.append((start + node, start + high, share, i, severity, cause.prior / count))
    low, high_, share_, which, severities, weights = (
        np.array(c) for c in zip(*columns, strict=True)
    )
    return Grid(low, high_, share_, which, severities, weights / weights.sum())


@dataclass(frozen=True)
class Numbers:
    """Readings of numbers: R of them.

    found: (R,); noise: standard deviation of each, model error included, (F, R)
    mean: (F, R); deviation: of the draws from it, as `spread_of` gives, (F, D, R)
    """

    found: Array
    noise: Array
    mean: Array
    deviation: Array

    @cached_property
    def covariance(self) -> Array:
        """(F, R, R)."""
        made: Array = np.einsum("fdi,fdj->fij", self.deviation, self.deviation)
        index = np.arange(self.found.size)
        made[:, index, index] += self.noise**2
        return made

    @cached_property
    def weights(self) -> Array:
        """Inverse of the covariance, (F, R, R)."""
        return np.asarray(np.linalg.inv(self.covariance))


def noise_of(what: What, half_width: Array | float, mean: Array, healthy: float) -> Array:
    """Standard deviation of a reading about the prediction, (F,): instrument and model error."""
    error = MODEL_ERROR.get(what.key) or MODEL_ERROR[what.readable.kind]
    relative, floor, least = error
    model = relative * np.abs(mean) + floor * abs(healthy) + least
    return np.asarray(np.hypot(0.5 * np.asarray(half_width), model))


def spread_of(predicted: Array) -> tuple[Array, Array]:
    """Mean prediction, (F,), and the draws' deviations from it over sqrt(D), (F, D).

    predicted: (F, D)
    """
    middle = predicted.mean(axis=1)
    return middle, (predicted - middle[:, None]) / np.sqrt(predicted.shape[1])


def log_likelihood(numbers: Numbers) -> Array:
    """log density of all readings together, (F,), but for a constant."""
    count = numbers.found.size
    if not count:
        return np.zeros(numbers.mean.shape[0])
    covariance = numbers.covariance
    gap = numbers.found - numbers.mean
    solved = np.einsum("fij,fj->fi", numbers.weights, gap)
    distance = np.sum(gap * solved, axis=1)
    determinant = np.linalg.slogdet(covariance)[1]
    tail = 0.5 * (FREEDOM + count) * np.log1p(distance / FREEDOM)
    return np.asarray(-0.5 * determinant - tail)


def given(numbers: Numbers, mean: Array, deviation: Array, noise: Array) -> tuple[Array, Array]:
    """Mean and standard deviation of a further reading after those taken, (F,) each.

    mean, noise: (F,); deviation: (F, D), over sqrt(D)
    """
    own = np.sum(deviation**2, axis=1) + noise**2
    if not numbers.found.size:
        return mean, np.sqrt(own)
    cross = np.einsum("fd,fdi->fi", deviation, numbers.deviation)
    gain = np.einsum("fij,fj->fi", numbers.weights, cross)
    shifted = mean + np.sum(gain * (numbers.found - numbers.mean), axis=1)
    left = own - np.sum(gain * cross, axis=1)
    return shifted, np.sqrt(np.maximum(left, 0.25 * noise**2))


def normalised(log_weight: Array) -> Array:
    """Weights that sum to one from their logarithms."""
    weight = np.exp(log_weight - np.max(log_weight))
    return np.asarray(weight / weight.sum())


def information_of_number(
    weight: Array, group: NDArray[np.intp], mean: Array, deviation: Array, most: int = 150
) -> float:
    """Expected information [bit] about the group from a reading: its mutual information.

    weight: posterior, (F,); group: index, (F,); mean, deviation: predictive, (F,)

    Each hypothesis is a normal density; integrated at three Gauss-Hermite nodes of the heaviest.
    """
    order = np.argsort(weight)[::-1][:most]
    share = weight[order] / weight[order].sum()
    mu, sd, of = mean[order], np.maximum(deviation[order], 1e-12), group[order]
    nodes = np.array([-np.sqrt(3.0), 0.0, np.sqrt(3.0)])
    node_weights = np.array([1.0, 4.0, 1.0]) / 6.0
    at = (mu[:, None] + sd[:, None] * nodes).reshape(-1)
    density = np.exp(-0.5 * ((at[:, None] - mu) / sd) ** 2) / sd
    joint = density * share
    same = of[:, None] == np.unique(of)[None, :]
    by_group = joint @ same.astype(float)
    total = by_group.sum(axis=1)
    own_column = np.argmax(same, axis=1).repeat(nodes.size)
    group_share = share @ same.astype(float)
    own = by_group[np.arange(at.size), own_column] / group_share[own_column]
    weights = (share[:, None] * node_weights).reshape(-1)
    bits = np.sum(weights * np.log2(np.maximum(own, 1e-300) / np.maximum(total, 1e-300)))
    return float(max(bits, 0.0))


def information_of_word(weight: Array, group: NDArray[np.intp], probability: Array) -> float:
    """Expected information [bit] about the group from a word; probability: (F, W)."""
    joint = np.zeros((int(group.max()) + 1, probability.shape[1]))
    np.add.at(joint, group, weight[:, None] * probability)
    marginal, groups = joint.sum(axis=0), joint.sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(joint > 0, joint * np.log2(joint / (groups[:, None] * marginal)), 0.0)
    return float(max(np.nansum(terms), 0.0))
