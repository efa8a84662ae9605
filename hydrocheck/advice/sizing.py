"""Sizing a new truck: from what it must do to the circuits that do it.

`size_truck(needs)` searches every combination of circuit type, pressure level, drive ratio, pump
and motors, ranks what fits, makes the best into a truck that `check` passes, and says of each
neighbour why it was not taken. Where nothing fits, `sizing_relax` finds what to relax.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.advice.sizing_build import Built, build
from hydrocheck.advice.sizing_frame import Frame, frames
from hydrocheck.advice.sizing_rank import Ranking, rank
from hydrocheck.advice.sizing_relax import Relaxation, relaxations
from hydrocheck.advice.sizing_rules import Rule
from hydrocheck.advice.sizing_search import AIMS, Count, Search
from hydrocheck.advice.sizing_sizes import combos_of
from hydrocheck.checks import Amount, Finding, inspect
from hydrocheck.checks.finding import Words, words
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.needs import Needs
from hydrocheck.model.shelf import ShelfPart

Array = NDArray[np.float64]

BEST = 10
TRIES = 25
"""Circuits, best first, that are made into trucks until `check` passes one."""


@dataclass(frozen=True)
class Candidate:
    """A circuit that keeps every rule.

    frame: number of its frame; key: numbers along its axes; place: in the ranking, from 1
    aims: by the names of `AIMS`; front: whether none beats it in every aim
    margin: LS margin [Pa]; score: distance from the best, smaller is better
    """

    frame: int
    key: tuple[int, ...]
    place: int
    aims: dict[str, float]
    front: bool
    margin: float
    score: float


@dataclass(frozen=True)
class Neighbour:
    """A circuit one step from the chosen one.

    step: what differs; place: in the ranking, None where a rule rejects it
    rejected: the check that rejects it, "" where none does; reason: in words
    """

    axis: str
    step: Words
    place: int | None
    rejected: str
    subject: str
    reason: Words


@dataclass(frozen=True)
class Sizing:
    """The answer.

    fitting: number of circuits that fit; ranked: the best of them; aims: of all that fit, (K,)
    chosen: the first of them that `check` passes; passed_over: better ranked ones, with the finding
    """

    needs: Needs
    searches: tuple[Search, ...]
    count: Count
    fitting: int
    ranked: tuple[Candidate, ...]
    cloud: dict[str, Array]
    front: NDArray[np.bool_]
    chosen: Built | None
    candidate: Candidate | None
    passed_over: tuple[tuple[Candidate, Finding], ...]
    neighbours: tuple[Neighbour, ...]
    relaxations: tuple[Relaxation, ...]

    @property
    def priced(self) -> bool:
        """Whether circuits are ranked by price: every part on offer has one."""
        return all(search.priced for search in self.searches)

    @property
    def frames(self) -> tuple[Frame, ...]:
        """Circuit types and pressure levels that were searched."""
        return tuple(search.frame for search in self.searches)


@dataclass
class _Found:
    """All circuits that fit, over all frames."""

    frame: list[int]
    key: list[tuple[int, ...]]
    margin: list[float]
    aims: dict[str, list[float]]

    def columns(self) -> dict[str, Array]:
        return {aim: np.array(values) for aim, values in self.aims.items()}


def size_truck(
    needs: Needs,
    shelf: tuple[ShelfPart, ...] | None = None,
    *,
    relax: bool = True,
    place: int = 1,
) -> Sizing:
    """Size a truck. Raises DomainError or MissingValue for needs that cannot be searched.

    shelf: the parts to choose from, in place of preferred sizes
    relax: whether to look for what to relax where nothing fits
    place: in the ranking, from which on the first circuit that `check` passes is taken
    """
    offers = frames(needs, shelf)
    priced = all(frame.priced for frame in offers)
    searches = tuple(Search(frame, priced=priced) for frame in offers)
    found = _search(searches)
    count = Count()
    for search in searches:
        count.add(search.count)
    if not found.key:
        loose = tuple(relaxations(needs, shelf)) if relax else ()
        nothing = {aim: np.zeros(0) for aim in AIMS}
        none = np.zeros(0, dtype=bool)
        return Sizing(needs, searches, count, 0, (), nothing, none, None, None, (), (), loose)
    ranking = rank(found.columns(), needs.weights)
    ranked = [_candidate(found, ranking, k) for k in range(min(TRIES, len(found.key)))]
    if place > len(ranked):
        raise DomainError(f"place {place}: only {len(ranked)} circuits are ranked")
    chosen, candidate, passed_over = _first_that_passes(searches, ranked[place - 1 :])
    near: tuple[Neighbour, ...] = ()
    if candidate is not None:
        near = tuple(_neighbours(searches, candidate, found, ranking))
    return Sizing(
        needs, searches, count, len(found.key), tuple(ranked[:BEST]), found.columns(),
        ranking.front, chosen, candidate, tuple(passed_over), near, (),
    )  # fmt: skip


def _search(searches: tuple[Search, ...]) -> _Found:
    found = _Found([], [], [], {aim: [] for aim in AIMS})
    for number, search in enumerate(searches):
        for combos, judged in search.everything():
            for k in np.flatnonzero(judged.fits):
                found.frame.append(number)
                found.key.append(combos.key(int(k)))
                found.margin.append(float(judged.margin[k]))
                for aim in AIMS:
                    found.aims[aim].append(float(judged.aims[aim][k]))
    return found


def _candidate(found: _Found, ranking: Ranking, place: int) -> Candidate:
    k = int(ranking.order[place])
    return Candidate(
        found.frame[k],
        found.key[k],
        place + 1,
        {aim: found.aims[aim][k] for aim in AIMS},
        bool(ranking.front[k]),
        found.margin[k],
        float(ranking.score[k]),
    )


def _first_that_passes(
    searches: tuple[Search, ...], ranked: list[Candidate]
) -> tuple[Built | None, Candidate | None, list[tuple[Candidate, Finding]]]:
    """The best circuit whose truck `check` passes, and those before it with what failed."""
    passed_over: list[tuple[Candidate, Finding]] = []
    for one in ranked:
        truck = build(searches[one.frame], one.key, one.margin)
        made = Built(one.frame, one.key, truck, tuple(inspect(truck)))
        if not made.unfit:
            return made, one, passed_over
        passed_over.append((one, made.unfit[0]))
    return None, None, passed_over


def _neighbours(
    searches: tuple[Search, ...], chosen: Candidate, found: _Found, ranking: Ranking
) -> list[Neighbour]:
    """Every circuit one step away: one size up or down, another ratio, level or circuit type."""
    places = {
        (found.frame[k], found.key[k]): place + 1 for place, k in enumerate(ranking.order.tolist())
    }
    near = []
    for frame, key, axis, step in _steps(searches, chosen):
        place = places.get((frame, key))
        if place is not None:
            reason = words("fits; place {place} of {all}", place=str(place), all=str(len(places)))
            near.append(Neighbour(axis, step, place, "", "", reason))
            continue
        rule, value, limit = _rejection(searches[frame], key)
        reason = words(rule.says, value=Amount(value, rule.kind), limit=Amount(limit, rule.kind))
        near.append(Neighbour(axis, step, None, rule.id, rule.subject, reason))
    return near


def _rejection(search: Search, key: tuple[int, ...]) -> tuple[Rule, float, float]:
    before = Count(**vars(search.count))
    judged = search.judge(combos_of(search.frame, [key]))
    search.count = before
    rule = judged.rules[int(judged.broken[0])]
    return rule, float(judged.value[0]), float(judged.limit[0])


def _steps(
    searches: tuple[Search, ...], chosen: Candidate
) -> list[tuple[int, tuple[int, ...], str, Words]]:
    """Frame, key, what differs and its value, of every circuit one step away."""
    frame, key = searches[chosen.frame].frame, chosen.key
    found: list[tuple[int, tuple[int, ...], str, Words]] = []
    names = ["drive ratio", "pump", *(f"{n} motor" for n in frame.motors)]
    machines = [frame.pumps, *frame.motors.values()]
    for axis, name in enumerate(names):
        for step in (-1, 1):
            place = key[axis] + step
            if not 0 <= place < frame.shape[axis]:
                continue
            moved = (*key[:axis], place, *key[axis + 1 :])
            if axis == 0:
                what = Amount(frame.ratios[place], "ratio")
            else:
                what = Amount(machines[axis - 1][place].displacement, "displacement")
            found.append((chosen.frame, moved, name, words("{size}", size=what)))
    for number, search in enumerate(searches):
        other = search.frame
        alike = other.supply == frame.supply
        if number == chosen.frame or not (alike or other.level == frame.level):
            continue
        wanted = frame.pumps[key[1]].displacement
        sizes = np.array([m.displacement for m in other.pumps])
        pump = int(np.argmin(np.abs(np.log(sizes / wanted))))
        moved = (key[0], pump, *key[2:])
        level = Amount(other.level, "pressure")
        size = Amount(float(sizes[pump]), "displacement")
        if alike:
            found.append((number, moved, "pressure level", words("{size}", size=level)))
        else:
            said = words(f"{other.supply} pump, {{size}}", size=size)
            found.append((number, moved, "circuit", said))
    return found


def require_chosen(sizing: Sizing) -> Built:
    """The chosen truck. Raises MissingValue where no circuit fits."""
    if sizing.chosen is None:
        raise MissingValue(["needs that some circuit can fill (see what to relax)"])
    return sizing.chosen
