"""Readings beside their predictions under every hypothesis."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from hydrocheck.advice.likelihood import Numbers, log_likelihood, noise_of, spread_of
from hydrocheck.advice.outcome import Evidence
from hydrocheck.advice.predict import Query
from hydrocheck.model.readings import Reading
from hydrocheck.physics.arrays import Array

TRUST = 0.8
"""Power of the likelihood: what the model leaves out errs the same way in many readings, so that
they count for less than as many independent ones. Chosen on trucks of the blind trial's generator
beyond those that it scores, so that stated probabilities come true about as often as they say; the
trial prints how nearly."""


@dataclass
class Used:
    """Readings with the queries that they answer."""

    readings: list[Reading] = field(default_factory=list)
    queries: list[Query] = field(default_factory=list)


@dataclass(frozen=True)
class Table:
    """All readings under F hypotheses: numbers, and the probability of each word, (F, words)."""

    numbers: Numbers
    spoken: Array

    @property
    def log_likelihood(self) -> Array:
        """log probability of all readings, as far as they are trusted, (F,), but for a constant."""
        whole = log_likelihood(self.numbers) + np.log(self.spoken).sum(axis=1)
        return np.asarray(TRUST * whole)

    def at(self, row: int, used: Used) -> tuple[Evidence, ...]:
        """Every reading under one hypothesis."""
        made, number, word = [], 0, 0
        for reading in used.readings:
            if isinstance(reading.value, str):
                told = float(self.spoken[row, word])
                made.append(Evidence(reading, np.nan, np.nan, np.nan, told))
                word += 1
                continue
            mean = float(self.numbers.mean[row, number])
            spread = float(np.sqrt(np.sum(self.numbers.deviation[row, :, number] ** 2)))
            sd = float(np.hypot(spread, self.numbers.noise[row, number]))
            made.append(Evidence(reading, mean, sd, (reading.value - mean) / max(sd, 1e-300)))
            number += 1
        return tuple(made)


def tabled(used: Used, predicted: Callable[[Query], Array], rows: int) -> Table:
    """The table of readings; predicted: numbers (F, D) or words (F, W) of a query."""
    found, noise, mean, deviation, spoken = [], [], [], [], []
    for reading, query in zip(used.readings, used.queries, strict=True):
        prediction = predicted(query)
        if isinstance(reading.value, str):
            spoken.append(prediction[:, reading.what.readable.words.index(reading.value)])
            continue
        middle, spread = spread_of(prediction)
        found.append(reading.value)
        mean.append(middle)
        deviation.append(spread)
        noise.append(noise_of(reading.what, reading.uncertainty, middle, float(middle[0])))
    numbers = Numbers(
        np.array(found),
        np.stack(noise, axis=1) if noise else np.zeros((rows, 0)),
        np.stack(mean, axis=1) if mean else np.zeros((rows, 0)),
        np.stack(deviation, axis=2) if deviation else np.zeros((rows, 1, 0)),
    )
    return Table(numbers, np.stack(spoken, axis=1) if spoken else np.ones((rows, 0)))
