"""Readings in, causes with their probabilities and the next measurement out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.advice.causes import NODES, Cause, causes_for
from hydrocheck.advice.complaint import complained, unasked_prior
from hydrocheck.advice.evidence import Table, Used, tabled
from hydrocheck.advice.forecast import Forecast, forecast
from hydrocheck.advice.likelihood import (
    Grid,
    Numbers,
    fine_grid,
    given,
    information_of_number,
    information_of_word,
    noise_of,
    normalised,
    spread_of,
)
from hydrocheck.advice.measurements import MEASUREMENTS, Measurement
from hydrocheck.advice.outcome import Diagnosis, Expected, Healthy, Ranked, Suggestion
from hydrocheck.advice.pairs import with_pairs
from hydrocheck.advice.patient import patient_of
from hydrocheck.advice.predict import Query, Unpredictable, numbers, states_for, words
from hydrocheck.advice.states import State, state_of, usual
from hydrocheck.advice.variants import single_hypotheses, variants
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.readings import Conditions, Reading, usual_uncertainty
from hydrocheck.model.truck import Truck
from hydrocheck.physics.arrays import Array

UNEXPLAINED = 3.0
"""Standard deviations from the nearest prediction at which no cause explains a reading."""
HOLDING = "NAME holding command"
LEAST_BITS = 0.01
"""Measurements that tell less are not suggested."""
NEGLIGIBLE = 5e-3
"""Probability of all hypotheses together that the choice of the next measurement leaves out."""


def diagnose(
    truck: Truck,
    readings: Iterable[Reading],
    *,
    function: str = "",
    assumed: frozenset[str] = frozenset(),
    suggest: bool = True,
) -> Diagnosis:
    """Causes of a slow function in order of their probability, and what to measure next.

    function: the one that is ill (default: of the first reading of a function, else the feeder)
    assumed: paths of values of the truck that nobody gave, which are varied further
    suggest: whether to look for the next measurement

    Raises MissingValue, NotSolvedYet, CircuitError, DomainError, as `solve` does.
    """
    session = Session(truck, tuple(readings), function=function, assumed=assumed)
    return session.diagnosis(suggest)


@dataclass(frozen=True)
class Plan:
    """Which hypotheses are left, and which of them are solved for what could be measured.

    left: rows; solved: mask; low, high, share: rows between which each is taken, and how far
    """

    left: NDArray[np.intp]
    solved: NDArray[np.bool_]
    low: NDArray[np.intp]
    high: NDArray[np.intp]
    share: Array


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
        self._known_states: dict[Conditions, State] = {}
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
        self._plan: Plan | None = None

    def add(self, reading: Reading, query: Query | None = None) -> None:
        """Take a further reading into account; `query`: the suggestion that it answers."""
        if query is not None:
            self._told[len(self.readings)] = query
        self.readings.append(reading)

    @property
    def base(self) -> State:
        """The state that the symptom was seen in: that of the function's first plain reading."""
        for one in self.readings:
            plain = not one.at.test and not one.at.stop
            if plain and (one.at.run or one.at.scenario) and one.what.function:
                return self._state(one.at)
        at = [r.at for r in self.readings if r.what.function == self.patient.name and not r.at.test]
        return self._state(at[0] if at else Conditions())

    def _state(self, at: Conditions) -> State:
        """The state of conditions, worked out once. Raises MissingValue, DomainError."""
        if at not in self._known_states:
            self._known_states[at] = state_of(self.patient, at, self.standard)
        return self._known_states[at]

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
        table, failed = self._evidence(used)
        unused += failed
        asked = complained(self.readings, table.at(0, used), self.patient.name)
        prior = self.grid.weight if asked else unasked_prior(self.grid.weight)
        weight = normalised(np.log(prior) + table.log_likelihood)
        ranked = with_pairs(self, self._ranked(weight, used, table), used)
        candidates = self.candidates() if suggest else []
        self._foresee([query for _, query in candidates], weight)
        groups: dict[str, float] = {}
        for one in ranked:
            groups[one.group] = groups.get(one.group, 0.0) + one.probability
        return Diagnosis(
            self.patient,
            tuple(ranked),
            dict(sorted(groups.items(), key=lambda item: -item[1])),
            self._suggestions(candidates, weight, table.numbers, ranked),
            self._healthy(used),
            self._unexplained(used, table.numbers),
            tuple(unused),
            self.standard,
            self.base,
            asked,
        )

    def _query(self, index: int) -> Query | str:
        """What a reading answers, or why nothing."""
        if index in self._told:
            return self._told[index]
        reading = self.readings[index]
        if reading.at.swept == "down":
            return "hysteresis is not modelled: only what was found going up is weighed"
        try:
            state = self._state(reading.at)
        except (MissingValue, DomainError) as error:
            return str(error)
        return Query(reading.what, state, reading.instrument)

    def _usable(self) -> tuple[Used, list[tuple[Reading, str]]]:
        used, unused = Used(), []
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
        """Solve the states of what could be measured, under the hypotheses that are left.

        Of each cause the ends and the middle of the severities that are left are solved; straight
        lines between them are good enough to choose a measurement by.
        """
        plan = self._left(weight)
        if self._plan is None or not np.isin(plan.left, self._plan.left).all():
            self._part, self._plan = {}, plan
        new = [s for s in self._states(q for q in queries if not self._known(q))
               if s not in self._part]  # fmt: skip
        if new:
            kept = np.flatnonzero(self._plan.solved)
            table = variants(self.patient, [self._hypotheses[i] for i in kept])
            made = forecast(self.patient, table, new, self.standard)
            self._part |= dict.fromkeys(new, made)

    def _left(self, weight: Array) -> Plan:
        """Which solved hypotheses hold nearly all of the probability, and which to solve again."""
        order = np.argsort(weight)[::-1]
        count = int(np.searchsorted(np.cumsum(weight[order]), 1.0 - NEGLIGIBLE)) + 1
        rows = order[:count]
        near = np.unique(np.concatenate([[0], self.grid.low[rows], self.grid.high[rows]]))
        size = len(self._hypotheses)
        low, high = np.arange(size), np.arange(size)
        share, solved, left = np.zeros(size), np.zeros(size, dtype=bool), []
        for start in (0, *range(1, size, NODES)):
            stop = 1 if start == 0 else start + NODES
            own = near[(near >= start) & (near < stop)]
            if not own.size:
                continue
            first, last = int(own[0]), int(own[-1])
            middle = (first + last) // 2
            solved[[first, middle, last]] = True
            for i in range(first, last + 1):
                a, b = (first, middle) if i <= middle else (middle, last)
                low[i], high[i], share[i] = a, b, (i - a) / max(b - a, 1)
                left.append(i)
        return Plan(np.array(left), solved, low, high, share)

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
        plan = self._plan
        assert plan is not None
        whole = np.full((len(self._hypotheses), part.shape[1]), np.nan)
        whole[plan.solved] = part
        rows, share = plan.left, plan.share[plan.left, None]
        whole[rows] = (1.0 - share) * whole[plan.low[rows]] + share * whole[plan.high[rows]]
        return self.grid.spread(whole)

    def _evidence(self, used: Used) -> tuple[Table, list[tuple[Reading, str]]]:
        """The evidence on the fine grid, and what has no equation: that leaves `used`."""
        failed: list[tuple[Reading, str]] = []
        kept = Used()
        for reading, query in zip(used.readings, used.queries, strict=True):
            try:
                self._predicted(query)
            except Unpredictable as error:
                failed.append((reading, str(error)))
                continue
            kept.readings.append(reading)
            kept.queries.append(query)
        used.readings, used.queries = kept.readings, kept.queries
        return tabled(used, self._predicted, self.grid.weight.size), failed

    def _predicted(self, query: Query) -> Array:
        """Numbers (F, D) or probabilities of words (F, W)."""
        return self._words(query) if query.what.readable.words else self._numbers(query)

    def _ranked(self, weight: Array, used: Used, table: Table) -> list[Ranked]:
        """Every single cause, most probable first."""
        made = []
        for i, cause in enumerate(self.causes):
            rows = np.flatnonzero(self.grid.cause == i)
            share = weight[rows].sum()
            best = rows[int(np.argmax(weight[rows]))]
            middle = float(np.sum(weight[rows] * self.grid.severity[rows]) / max(share, 1e-300))
            evidence = table.at(int(best), used)
            made.append(Ranked((cause,), (middle,), float(share), evidence))
        return sorted(made, key=lambda one: -one.probability)

    def _healthy(self, used: Used) -> tuple[Healthy, ...]:
        """A truck exactly as its file says, with the spread that its tolerances give."""
        made = []
        states = self._states(used.queries)
        bare = variants(self.patient, self._hypotheses[:1], draws=False)
        exact = forecast(self.patient, bare, states, self.standard) if states else None
        for reading, query in zip(used.readings, used.queries, strict=True):
            predicted = self._predicted(query)[0]
            if isinstance(reading.value, str):
                word = reading.what.readable.words[int(np.argmax(predicted))]
                made.append(Healthy(reading, np.nan, np.nan, word))
            elif exact is not None:
                value = float(numbers(exact, query, self.standard)[0, 0])
                made.append(Healthy(reading, value, float(predicted.std())))
        return tuple(made)

    def _unexplained(self, used: Used, table: Numbers) -> tuple[Reading, ...]:
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
        # The command that a closed loop holds costs nothing and says most: it is asked first.
        return tuple(sorted(made, key=lambda s: (s.query.what.key != HOLDING, -s.saved)))

    def _foreseen(self, query: Query, table: Numbers) -> tuple[Array, Array]:
        middle, spread = spread_of(self._numbers(query))
        half = usual_uncertainty(query.what, float(middle[0]), query.instrument)
        noise = noise_of(query.what, half, middle, float(middle[0]))
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


def reading_of(query: Query, value: float | str, written: str = "") -> Reading:
    """A reading of a suggested measurement, for a program that takes it itself."""
    half = 0.0 if isinstance(value, str) else usual_uncertainty(query.what, value, query.instrument)
    return Reading(query.what, value, half, Conditions(), written, query.instrument)
