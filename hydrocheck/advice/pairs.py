"""Two causes at once: tried only where the leading single cause leaves a reading far off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from hydrocheck.advice.causes import Cause
from hydrocheck.advice.evidence import Used, tabled
from hydrocheck.advice.forecast import forecast
from hydrocheck.advice.outcome import Ranked
from hydrocheck.advice.predict import Query, numbers, states_for, words
from hydrocheck.advice.variants import Hypothesis, variants
from hydrocheck.physics.arrays import Array

if TYPE_CHECKING:
    from hydrocheck.advice.diagnosis import Session

POOR = 2.5
"""Standard deviations of the worst reading at which pairs are tried."""
LEADING = 5
"""Leading single causes of which pairs are formed."""
PAIR_PRIOR = 0.3
"""How much rarer two causes at once are than the product of their shares makes them (ours)."""
PAIR_NODES = 4
"""Severities of each cause of a pair."""


def with_pairs(session: Session, ranked: list[Ranked], used: Used) -> list[Ranked]:
    """The ranking with pairs of the leading causes, where the leading one fits badly."""
    sigmas = [abs(e.sigmas) for e in ranked[0].evidence if not np.isnan(e.sigmas)]
    if max(sigmas, default=0.0) < POOR:
        return ranked
    healthy = session.causes[0]
    pairs = _pairs([one for one in ranked if one.causes[0] is not healthy][:LEADING])
    hypotheses: list[Hypothesis] = [((healthy, 0.0),), *pairs]
    queries = used.queries
    states = dict.fromkeys(
        s for q in queries for s in states_for(session.patient, q, session.standard)
    )
    table = variants(session.patient, hypotheses)
    made = forecast(session.patient, table, tuple(states), session.standard)
    book = dict.fromkeys(states, made)

    def predicted(query: Query) -> Array:
        if query.what.readable.words:
            return words(book, query, session.standard)
        return numbers(made, query, session.standard)

    evidence = tabled(used, predicted, len(hypotheses))
    log = evidence.log_likelihood
    total = sum(cause.prior for cause in session.causes)
    prior = np.array(
        [0.0]
        + [
            PAIR_PRIOR * np.prod([c.prior / total for c, _ in pair]) / PAIR_NODES**2
            for pair in pairs
        ]
    )
    # On the same scale as the singles by the healthy hypothesis, which stands among both.
    share = next(one.probability for one in ranked if one.causes[0] is healthy)
    scale = max(share, 1e-300) / (healthy.prior / total)
    weight = prior * scale * np.exp(np.minimum(log - log[0], 700.0))
    norm = 1.0 + float(weight.sum())
    by_pair: dict[tuple[Cause, ...], list[int]] = {}
    for i, pair in enumerate(pairs, start=1):
        by_pair.setdefault(tuple(cause for cause, _ in pair), []).append(i)
    extra = []
    for causes, rows in by_pair.items():
        best = max(rows, key=lambda i: float(weight[i]))
        severities = tuple(severity for _, severity in hypotheses[best])
        probability = float(weight[rows].sum() / norm)
        extra.append(Ranked(causes, severities, probability, evidence.at(best, used)))
    scaled = [Ranked(r.causes, r.severities, r.probability / norm, r.evidence) for r in ranked]
    return sorted([*scaled, *extra], key=lambda one: -one.probability)


def _pairs(leading: Sequence[Ranked]) -> list[Hypothesis]:
    """Every two of the leading causes that are repaired apart, at some severities each."""
    made: list[Hypothesis] = []
    for i, first in enumerate(leading):
        for second in leading[i + 1 :]:
            a, b = first.causes[0], second.causes[0]
            if a.group == b.group:
                continue
            some = [_severities(one) for one in (first, second)]
            made += [((a, float(s)), (b, float(t))) for s in some[0] for t in some[1]]
    return made


def _severities(one: Ranked) -> list[float]:
    """What the cause alone would take, and others over its range."""
    grid = one.causes[0].grid()
    spread = grid[np.linspace(1, len(grid) - 1, PAIR_NODES - 1).round().astype(int)]
    return [one.severities[0], *(float(s) for s in spread)]
