"""Readings in, causes with their probabilities and the next measurement out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hydrocheck.advice.causes import Cause, causes_for
from hydrocheck.advice.forecast import Forecast, forecast
from hydrocheck.advice.likelihood import (
    Grid,
    Numbers,
    fine_grid,
    given,
    information_of_number,
    information_of_word,
    log_likelihood,
    noise_of,
    normalised,
)
from hydrocheck.advice.measurements import MEASUREMENTS, Measurement
from hydrocheck.advice.patient import Patient, patient_of
from hydrocheck.advice.predict import Query, Unpredictable, numbers, states_for, words
from hydrocheck.advice.states import State, Usual, state_of, usual
from hydrocheck.advice.variants import (
    Hypothesis,
    Variants,
    single_hypotheses,
    variants,
)
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.readable import READABLES, What
from hydrocheck.model.readings import Reading, usual_uncertainty
from hydrocheck.model.truck import Truck
from hydrocheck.physics.arrays import Array

UNEXPLAINED = 3.0
"""Standard deviations from the nearest prediction at which no cause explains a reading."""
POOR = 2.5
"""Standard deviations of the worst reading at which pairs of causes are tried."""
LEADING = 5
"""Leading single causes of which pairs are formed."""
PAIR_PRIOR = 0.1
"""How much rarer two causes at once are than the product of their shares makes them (ours)."""
LEAST_BITS = 0.01
"""Measurements that tell less are not suggested."""
NEGLIGIBLE = 5e-3
"""Probability of all hypotheses together that the choice of the next measurement leaves out."""


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
    def worth(self) -> float:
        """Expected information per minute of effort [bit/min]."""
        return self.bits / self.minutes


@dataclass(frozen=True)
class Healthy:
    """What a healthy truck would show under the conditions of a reading."""

    reading: Reading
    value: float
    deviation: float
    word: str = ""


@dataclass(frozen=True)
class Diagnosis:
    """The answer: causes by probability, the next measurements, what stays unexplained."""

    patient: Patient
    ranked: tuple[Ranked, ...]
    groups: Mapping[str, float]
    suggestions: tuple[Suggestion, ...]
    healthy: tuple[Healthy, ...]
    unexplained: tuple[Reading, ...]
    unused: tuple[tuple[Reading, str], ...]
    standard: Usual
    base: State

    @property
    def leading(self) -> Ranked:
        """The most probable cause."""
        return self.ranked[0]


def diagnose(
    truck: Truck,
    readings: Iterable[Reading],
    *,
    function: str = "",
    assumed: frozenset[str] = frozenset(),
) -> Diagnosis:
    """Causes of a slow function in order of their probability, and what to measure next.

    function: the one that is ill (default: of the first reading of a function, else the feeder)
    assumed: paths of values of the truck that nobody gave, which are varied further

    Raises MissingValue, NotSolvedYet, CircuitError, DomainError, as `solve` does.
    """
    return Session(truck, tuple(readings), function=function, assumed=assumed).diagnosis()


@dataclass
class _Used:
    """Readings with their queries and predictions on the fine grid, (F, ...)."""

    readings: list[Reading] = field(default_factory=list)
    queries: list[Query] = field(default_factory=list)


class Session:
    """A diagnosis that readings are added to; what is solved stays solved."""

    def __init__(
        self,
        truck: Truck,
        readings: Sequence[Reading] = (),
        *,
        function: str = "",
        assumed: frozenset[str] = frozenset(),
    ) -> None:
        self.readings = list(readings)
        self._told: dict[int, Query] = {}
        named = [r.what.function for r in readings if r.what.function]
        motors = {f.name for f in truck.function if f.motor}
        wanted = function or next((n for n in named if n in motors), "")
        self.patient = patient_of(truck, wanted, assumed)
        self.standard = usual(self.patient)
        self.causes = causes_for(self.patient)
        self.grid: Grid = fine_grid(self.causes)
        self._hypotheses = single_hypotheses(self.causes)
        self._whole: dict[State, Forecast] = {}
        self._part: dict[State, Forecast] = {}
        self._rows: NDArray[np.intp] = np.zeros(0, dtype=np.intp)

    def add(self, reading: Reading, query: Query | None = None) -> None:
        """Take a further reading into account; `query`: the suggestion that it answers."""
        if query is not None:
            self._told[len(self.readings)] = query
        self.readings.append(reading)

    @property
    def base(self) -> State:
        """The state that the symptom was seen in: that of the function's first plain reading."""
        from hydrocheck.model.readings import Conditions

        for one in self.readings:
            plain = not one.at.test and not one.at.stop
            if plain and (one.at.run or one.at.scenario) and one.what.function:
                return state_of(self.patient, one.at, self.standard)
        at = [r.at for r in self.readings if r.what.function == self.patient.name and not r.at.test]
        return state_of(self.patient, at[0] if at else Conditions(), self.standard)

    def candidates(self) -> list[tuple[Measurement, Query]]:
        """What could be measured next, without what was read already."""
        base = self.base
        taken = set()
        for i in range(len(self.readings)):
            query = self._query(i)
            if isinstance(query, Query):
                taken.add((query.what, query.state, query.instrument))
                taken.add((query.what, query.state, query.what.readable.instrument))
        found = []
        for one in MEASUREMENTS:
            wanted = one.query(self.patient, base)
            if wanted and (wanted.what, wanted.state, wanted.instrument) not in taken:
                found.append((one, wanted))
        return found

    def diagnosis(self, suggest: bool = True) -> Diagnosis:
        """The answer to all readings so far."""
        used, unused = self._usable()
        self._solve(used.queries)
        table, spoken, failed = self._evidence(used)
        unused += failed
        weight = normalised(
            np.log(self.grid.weight) + log_likelihood(table) + np.log(spoken).sum(axis=1)
        )
        ranked = self._ranked(weight, used, table, spoken)
        ranked = self._with_pairs(ranked, used)
        candidates = self.candidates() if suggest else []
        self._foresee([query for _, query in candidates], weight)
        groups: dict[str, float] = {}
        for one in ranked:
            groups[one.group] = groups.get(one.group, 0.0) + one.probability
        return Diagnosis(
            self.patient,
            tuple(ranked),
            dict(sorted(groups.items(), key=lambda item: -item[1])),
            self._suggestions(candidates, weight, table, ranked),
            self._healthy(used),
            self._unexplained(used, table),
            tuple(unused),
            self.standard,
            self.base,
        )

    def _query(self, index: int) -> Query | str:
        """What a reading answers, or why nothing."""
        if index in self._told:
            return self._told[index]
        reading = self.readings[index]
        try:
            state = state_of(self.patient, reading.at, self.standard)
        except (MissingValue, DomainError) as error:
            return str(error)
        return Query(reading.what, state, reading.instrument)

    def _usable(self) -> tuple[_Used, list[tuple[Reading, str]]]:
        used, unused = _Used(), []
        for i, reading in enumerate(self.readings):
            query = self._query(i)
            if isinstance(query, str):
                unused.append((reading, query))
            else:
                used.readings.append(reading)
                used.queries.append(query)
        return used, unused

    def _solve(self, queries: Sequence[Query]) -> None:
        """Solve the states of readings under every hypothesis, all in one call."""
        new = [s for s in self._states(queries) if s not in self._whole]
        if new:
            table = variants(self.patient, self._hypotheses)
            made = forecast(self.patient, table, new, self.standard)
            self._whole |= dict.fromkeys(new, made)

    def _foresee(self, queries: Sequence[Query], weight: Array) -> None:
        """Solve the states of what could be measured, under the hypotheses that are left."""
        keep = self._left(weight)
        if not np.isin(keep, self._rows).all():
            self._part, self._rows = {}, keep
        new = [s for s in self._states(q for q in queries if not self._known(q))
               if s not in self._part]  # fmt: skip
        if new:
            table = variants(self.patient, [self._hypotheses[i] for i in self._rows])
            made = forecast(self.patient, table, new, self.standard)
            self._part |= dict.fromkeys(new, made)

    def _left(self, weight: Array) -> NDArray[np.intp]:
        """Solved hypotheses on either side of those that hold nearly all of the probability."""
        order = np.argsort(weight)[::-1]
        count = int(np.searchsorted(np.cumsum(weight[order]), 1.0 - NEGLIGIBLE)) + 1
        rows = order[:count]
        return np.unique(np.concatenate([[0], self.grid.low[rows], self.grid.high[rows]]))

    def _states(self, queries: Iterable[Query]) -> list[State]:
        found = (s for q in queries for s in states_for(self.patient, q, self.standard))
        return list(dict.fromkeys(found))

    def _known(self, query: Query) -> bool:
        """Whether a query is answered under every hypothesis."""
        return all(s in self._whole for s in self._states([query]))

    def _numbers(self, query: Query) -> Array:
        """(F, D) predictions on the fine grid, nan where not solved. Raises Unpredictable."""
        if self._known(query):
            return self.grid.spread(numbers(self._whole[query.state], query, self.standard))
        return self._filled(numbers(self._part[query.state], query, self.standard))

    def _words(self, query: Query) -> Array:
        """(F, W) probabilities on the fine grid, nan where not solved. Raises Unpredictable."""
        if self._known(query):
            return self.grid.spread(words(self._whole, query, self.standard))
        return self._filled(words(self._part, query, self.standard))

    def _filled(self, part: Array) -> Array:
        whole = np.full((len(self._hypotheses), part.shape[1]), np.nan)
        whole[self._rows] = part
        return self.grid.spread(whole)

    def _evidence(self, used: _Used) -> tuple[Numbers, Array, list[tuple[Reading, str]]]:
        """The numbers as a table, the probability of each word, (F, W), and what has no equation.

        Readings without an equation leave `used`.
        """
        found, noise, mean, deviation, spoken = [], [], [], [], []
        failed: list[tuple[Reading, str]] = []
        kept = _Used()
        for reading, query in zip(used.readings, used.queries, strict=True):
            try:
                if isinstance(reading.value, str):
                    options = reading.what.readable.words
                    spoken.append(self._words(query)[:, options.index(reading.value)])
                else:
                    predicted = self._numbers(query)
                    middle = predicted.mean(axis=1)
                    found.append(reading.value)
                    mean.append(middle)
                    spread = (predicted - middle[:, None]) / np.sqrt(predicted.shape[1])
                    deviation.append(spread)
                    kind = reading.what.readable.kind
                    noise.append(noise_of(kind, reading.uncertainty, middle, float(middle[0])))
            except Unpredictable as error:
                failed.append((reading, str(error)))
                continue
            kept.readings.append(reading)
            kept.queries.append(query)
        used.readings, used.queries = kept.readings, kept.queries
        rows = self.grid.weight.size
        table = Numbers(
            np.array(found),
            np.stack(noise, axis=1) if noise else np.zeros((rows, 0)),
            np.stack(mean, axis=1) if mean else np.zeros((rows, 0)),
            np.stack(deviation, axis=2) if deviation else np.zeros((rows, 1, 0)),
        )
        return table, np.stack(spoken, axis=1) if spoken else np.ones((rows, 0)), failed

    def _ranked(self, weight: Array, used: _Used, table: Numbers, spoken: Array) -> list[Ranked]:
        """Every single cause, most probable first."""
        made = []
        for i, cause in enumerate(self.causes):
            rows = np.flatnonzero(self.grid.cause == i)
            share = weight[rows].sum()
            best = rows[int(np.argmax(weight[rows]))]
            middle = float(np.sum(weight[rows] * self.grid.severity[rows]) / max(share, 1e-300))
            evidence = _evidence_at(best, used, table, spoken)
            made.append(Ranked((cause,), (middle,), float(share), evidence))
        return sorted(made, key=lambda one: -one.probability)

    def _with_pairs(self, ranked: list[Ranked], used: _Used) -> list[Ranked]:
        """Pairs of the leading causes too, where the leading one leaves a reading far off."""
        worst = max((abs(e.sigmas) for e in ranked[0].evidence if e.sigmas == e.sigmas), default=0)
        if worst < POOR or not used.readings:
            return ranked
        pairs = _pairs([one for one in ranked if one.causes[0].group != "nothing"][:LEADING])
        hypotheses: list[Hypothesis] = [((self.causes[0], 0.0),), *pairs]
        table = variants(self.patient, hypotheses)
        log = self._log_of_pairs(table, used)
        singles = {one.causes[0]: one for one in ranked}
        total = sum(c.prior for c in self.causes)
        prior = [0.0]
        for pair in pairs:
            shares = [cause.prior / total for cause, _ in pair]
            prior.append(PAIR_PRIOR * shares[0] * shares[1] / PAIR_NODES**2)
        # On the same scale as the singles: by the healthy hypothesis, which stands in both.
        healthy = max(singles[self.causes[0]].probability, 1e-300)
        own = self.causes[0].prior / total
        weight = np.array(prior) / own * np.exp(np.minimum(log - log[0], 700.0)) * healthy
        extra: list[Ranked] = []
        by_pair: dict[tuple[Cause, ...], list[int]] = {}
        for i, pair in enumerate(pairs, start=1):
            by_pair.setdefault(tuple(c for c, _ in pair), []).append(i)
        norm = 1.0 + weight[1:].sum()
        for causes, rows in by_pair.items():
            best = max(rows, key=lambda i: weight[i])
            evidence = self._pair_evidence(table, best, used)
            severities = tuple(s for _, s in hypotheses[best])
            share = float(weight[rows].sum() / norm)
            extra.append(Ranked(causes, severities, share, evidence))
        scaled = [
            Ranked(one.causes, one.severities, one.probability / norm, one.evidence)
            for one in ranked
        ]
        return sorted([*scaled, *extra], key=lambda one: -one.probability)

    def _log_of_pairs(self, table: Variants, used: _Used) -> Array:
        self._pair_numbers, self._pair_words = self._pair_table(table, used)
        return log_likelihood(self._pair_numbers) + np.log(self._pair_words).sum(axis=1)

    def _pair_table(self, table: Variants, used: _Used) -> tuple[Numbers, Array]:
        states = dict.fromkeys(
            s for q in used.queries for s in states_for(self.patient, q, self.standard)
        )
        made = forecast(self.patient, table, tuple(states), self.standard)
        found, noise, mean, deviation, spoken = [], [], [], [], []
        for reading, query in zip(used.readings, used.queries, strict=True):
            if isinstance(reading.value, str):
                options = reading.what.readable.words
                told = words(dict.fromkeys(states, made), query, self.standard)
                spoken.append(told[:, options.index(reading.value)])
                continue
            predicted = numbers(made, query, self.standard)
            middle = predicted.mean(axis=1)
            found.append(reading.value)
            mean.append(middle)
            deviation.append((predicted - middle[:, None]) / np.sqrt(predicted.shape[1]))
            kind = reading.what.readable.kind
            noise.append(noise_of(kind, reading.uncertainty, middle, float(middle[0])))
        rows = len(table.hypotheses)
        numbers_ = Numbers(
            np.array(found),
            np.stack(noise, axis=1) if noise else np.zeros((rows, 0)),
            np.stack(mean, axis=1) if mean else np.zeros((rows, 0)),
            np.stack(deviation, axis=2) if deviation else np.zeros((rows, 1, 0)),
        )
        return numbers_, np.stack(spoken, axis=1) if spoken else np.ones((rows, 0))

    def _pair_evidence(self, table: Variants, row: int, used: _Used) -> tuple[Evidence, ...]:
        return _evidence_at(row, used, self._pair_numbers, self._pair_words)

    def _healthy(self, used: _Used) -> tuple[Healthy, ...]:
        made = []
        for reading, query in zip(used.readings, used.queries, strict=True):
            if isinstance(reading.value, str):
                told = self._words(query)[0]
                options = reading.what.readable.words
                made.append(Healthy(reading, np.nan, np.nan, options[int(np.argmax(told))]))
            else:
                predicted = self._numbers(query)[0]
                made.append(Healthy(reading, float(predicted.mean()), float(predicted.std())))
        return tuple(made)

    def _unexplained(self, used: _Used, table: Numbers) -> tuple[Reading, ...]:
        """Readings that stand far from what every hypothesis predicts."""
        spread = np.sqrt(np.einsum("fdi,fdi->fi", table.deviation, table.deviation))
        sigmas = np.abs(table.found - table.mean) / np.hypot(spread, table.noise)
        least = sigmas.min(axis=0) if sigmas.size else np.zeros(0)
        with_number = [r for r in used.readings if not isinstance(r.value, str)]
        return tuple(r for r, s in zip(with_number, least, strict=True) if s > UNEXPLAINED)

    def _suggestions(
        self,
        candidates: Sequence[tuple[Measurement, Query]],
        weight: Array,
        table: Numbers,
        ranked: Sequence[Ranked],
    ) -> tuple[Suggestion, ...]:
        groups = list(dict.fromkeys(cause.group for cause in self.causes))
        group = np.array([groups.index(self.causes[i].group) for i in self.grid.cause])
        leading = [one.causes[0] for one in ranked if len(one.causes) == 1][:3]
        made = []
        for one, query in candidates:
            try:
                if query.what.readable.words:
                    told = self._words(query)
                    left = np.isfinite(told[:, 0])
                    bits = information_of_word(weight[left], group[left], told[left])
                    expected = self._expected_words(query, told, weight, leading)
                else:
                    mean, deviation = self._foreseen(query, table)
                    left = np.isfinite(mean)
                    bits = information_of_number(
                        weight[left], group[left], mean[left], deviation[left]
                    )
                    expected = self._expected_numbers(query, (mean, deviation), weight, leading)
            except Unpredictable:
                continue
            if bits > LEAST_BITS:
                made.append(Suggestion(one, query, bits, one.effort(self.readings), expected))
        return tuple(sorted(made, key=lambda s: -s.worth))

    def _foreseen(self, query: Query, table: Numbers) -> tuple[Array, Array]:
        predicted = self._numbers(query)
        middle = predicted.mean(axis=1)
        spread = (predicted - middle[:, None]) / np.sqrt(predicted.shape[1])
        half = usual_uncertainty(query.what, float(middle[0]), query.instrument)
        noise = noise_of(query.what.readable.kind, half, middle, float(middle[0]))
        return given(table, middle, spread, noise)

    def _expected_numbers(
        self,
        query: Query,
        foreseen: tuple[Array, Array],
        weight: Array,
        leading: Sequence[Cause],
    ) -> tuple[Expected, ...]:
        """A healthy truck's value whatever was read, then after the readings by cause."""
        mean, deviation = foreseen
        healthy = self._numbers(query)[0]
        made = [Expected("healthy", float(healthy.mean()), float(healthy.std()))]
        for cause in leading:
            rows = (self.grid.cause == self.causes.index(cause)) & np.isfinite(mean)
            share = weight[rows] / max(weight[rows].sum(), 1e-300)
            middle = float(np.sum(share * mean[rows]))
            spread = np.sum(share * (deviation[rows] ** 2 + (mean[rows] - middle) ** 2))
            made.append(Expected(cause.name, middle, float(np.sqrt(spread))))
        return tuple(made)

    def _expected_words(
        self, query: Query, told: Array, weight: Array, leading: Sequence[Cause]
    ) -> tuple[Expected, ...]:
        options = query.what.readable.words
        made = [Expected("healthy", np.nan, np.nan, options[int(np.argmax(told[0]))])]
        for cause in leading:
            rows = (self.grid.cause == self.causes.index(cause)) & np.isfinite(told[:, 0])
            word = options[int(np.argmax(weight[rows] @ told[rows]))]
            made.append(Expected(cause.name, np.nan, np.nan, word))
        return tuple(made)


PAIR_NODES = 4
"""Severities of each cause of a pair."""


def _pairs(leading: Sequence[Ranked]) -> list[Hypothesis]:
    """Every two of the leading causes that are repaired apart, at some severities each."""
    made: list[Hypothesis] = []
    for i, first in enumerate(leading):
        for second in leading[i + 1 :]:
            a, b = first.causes[0], second.causes[0]
            if a.group == b.group:
                continue
            some = [c.grid()[:: max((len(c.grid()) - 1) // (PAIR_NODES - 1), 1)] for c in (a, b)]
            made += [((a, float(s)), (b, float(t))) for s in some[0] for t in some[1]]
    return made


def _evidence_at(row: int, used: _Used, table: Numbers, spoken: Array) -> tuple[Evidence, ...]:
    """Every reading under one hypothesis."""
    made, number, word = [], 0, 0
    for reading in used.readings:
        if isinstance(reading.value, str):
            made.append(Evidence(reading, np.nan, np.nan, np.nan, float(spoken[row, word])))
            word += 1
            continue
        mean = float(table.mean[row, number])
        spread = float(np.sqrt(np.sum(table.deviation[row, :, number] ** 2)))
        sd = float(np.hypot(spread, table.noise[row, number]))
        made.append(Evidence(reading, mean, sd, (reading.value - mean) / max(sd, 1e-300)))
        number += 1
    return tuple(made)


def reading_of(query: Query, value: float | str, written: str = "") -> Reading:
    """A reading of a suggested measurement, for a program that takes it itself."""
    from hydrocheck.model.readings import Conditions

    half = 0.0 if isinstance(value, str) else usual_uncertainty(query.what, value, query.instrument)
    return Reading(query.what, value, half, Conditions(), written, query.instrument)


__all__ = [
    "READABLES",
    "Diagnosis",
    "Evidence",
    "Expected",
    "Healthy",
    "Ranked",
    "Session",
    "Suggestion",
    "What",
    "diagnose",
    "reading_of",
]
