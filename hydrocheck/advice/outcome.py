"""What a diagnosis returns."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from hydrocheck.advice.causes import HEALTHY, Cause
from hydrocheck.advice.measurements import Measurement
from hydrocheck.advice.patient import Patient
from hydrocheck.advice.predict import Query
from hydrocheck.advice.states import State, Usual
from hydrocheck.model.readings import Reading

MINUTES_PER_BIT = 200.0
"""What a bit of doubt costs that stays open: measuring on, or a part changed in vain, which is half
a day's work (ours). The ratio of bits to minutes was tried too: it asks many cheap questions and
needs more of them, on trucks of the blind trial's generator beyond those that it scores."""


@dataclass(frozen=True)
class Evidence:
    """One reading under one cause: what was found and expected, and how far apart.

    expected, deviation: in SI, nan for a word; sigmas: (found - expected) / deviation;
    probability: of the word
    """

    reading: Reading
    expected: float
    deviation: float
    sigmas: float
    probability: float = np.nan


@dataclass(frozen=True)
class Ranked:
    """One cause (or two at once) with its probability and its most probable severity."""

    causes: tuple[Cause, ...]
    severities: tuple[float, ...]
    probability: float
    evidence: tuple[Evidence, ...]

    @property
    def name(self) -> str:
        """Name of the cause, or of both."""
        return " and ".join(cause.name for cause in self.causes)

    @property
    def group(self) -> str:
        """What is repaired."""
        return " and ".join(dict.fromkeys(cause.group for cause in self.causes))

    def told(self, system: str = "us") -> str:
        """The severity in words."""
        pairs = zip(self.causes, self.severities, strict=True)
        return "; ".join(cause.told(severity, system) for cause, severity in pairs)


@dataclass(frozen=True)
class Expected:
    """What a further measurement would show: mean and standard deviation, or the likely word."""

    cause: str
    value: float
    deviation: float
    word: str = ""


@dataclass(frozen=True)
class Suggestion:
    """A measurement worth taking: what it tells, what it costs, what it would show."""

    measurement: Measurement
    query: Query
    bits: float
    minutes: float
    expected: tuple[Expected, ...]

    @property
    def saved(self) -> float:
        """Minutes that it saves: what the bits that it tells would cost if they stayed open, less
        its own."""
        return self.bits * MINUTES_PER_BIT - self.minutes


@dataclass(frozen=True)
class Healthy:
    """What a healthy truck would show under the conditions of a reading."""

    reading: Reading
    value: float
    deviation: float
    word: str = ""


@dataclass(frozen=True)
class Diagnosis:
    """The answer: causes by probability, the next measurements, what stays unexplained.

    complained: whether anything read or said is not as it should be
    """

    patient: Patient
    ranked: tuple[Ranked, ...]
    groups: Mapping[str, float]
    suggestions: tuple[Suggestion, ...]
    healthy: tuple[Healthy, ...]
    unexplained: tuple[Reading, ...]
    unused: tuple[tuple[Reading, str], ...]
    standard: Usual
    base: State
    complained: bool = True

    @property
    def leading(self) -> Ranked:
        """The most probable cause."""
        return self.ranked[0]

    @property
    def healthy_cause(self) -> Cause:
        """The hypothesis that nothing is wrong."""
        return HEALTHY
