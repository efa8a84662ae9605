"""Putting what fits in order: who is beaten in every aim, and a compromise among the rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.advice.sizing_search import AIMS
from hydrocheck.model.needs import Weights

Array = NDArray[np.float64]

MORE_IS_BETTER = ("low_speed",)


@dataclass(frozen=True)
class Ranking:
    """K circuits that fit, in order.

    order: their numbers, best first, (K,); front: which are beaten by none in every aim, (K,)
    score: weighted distance from the best value of each aim, by the span of the front, (K,)
    """

    order: NDArray[np.intp]
    front: NDArray[np.bool_]
    score: Array


def rank(aims: Mapping[str, Array], weights: Weights) -> Ranking:
    """Order K circuits: those that none beats first, each group by its score.

    aims: by the names of `AIMS`, (K,) each
    """
    costs = np.stack([-aims[a] if a in MORE_IS_BETTER else aims[a] for a in AIMS], axis=1)
    front = pareto(costs)
    best = costs[front].min(axis=0)
    span = costs[front].max(axis=0) - best
    factor = np.array([float(getattr(weights, aim)) for aim in AIMS])
    score = ((costs - best) / np.where(span > 0, span, 1.0) * factor).sum(axis=1)
    return Ranking(np.lexsort((score, ~front)), front, score)


def pareto(costs: Array) -> NDArray[np.bool_]:
    """Which rows no other row beats: none is at most as costly in all and less in one.

    costs: (K, A); returns: (K,)

    >>> pareto(np.array([[1.0, 3.0], [2.0, 2.0], [2.0, 3.0], [3.0, 1.0]])).tolist()
    [True, True, False, True]
    """
    front = np.zeros(costs.shape[0], dtype=bool)
    left = np.lexsort(costs.T[::-1])
    left = left[np.argsort(costs[left].sum(axis=1), kind="stable")]
    while left.size:
        # The least sum of all that are left is beaten by none of them.
        first = left[0]
        front[first] = True
        rest = costs[left]
        beaten = (rest >= costs[first]).all(axis=1) & (rest > costs[first]).any(axis=1)
        beaten[0] = True
        left = left[~beaten]
    return front
