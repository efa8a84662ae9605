"""The search against brute force, and the ranking against its definition."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from hydrocheck.advice.sizing_frame import Frame, frames, put
from hydrocheck.advice.sizing_rank import pareto, rank
from hydrocheck.advice.sizing_search import AIMS, Count, Judged, Search
from hydrocheck.advice.sizing_sizes import Combos, combos_at, combos_of, derive, fill, worn
from hydrocheck.checks import REGISTRY
from hydrocheck.errors import DomainError
from hydrocheck.model.needs import Weights
from hydrocheck.studies.budget import is_met
from hydrocheck.studies.work import plan_work, solve_work
from tests.advice.sizingkit import smaller_grid

FRAMES = [
    frame for frame in frames(smaller_grid()) if frame.supply == "load sensing" or frame.level > 2e7
]
EACH = pytest.mark.parametrize("frame", FRAMES, ids=lambda f: f"{f.supply} {f.level / 1e5:.0f} bar")


@cache
def judged_all(place: int) -> tuple[Search, Combos, Judged]:
    """Every combination of a frame, judged as in a sizing."""
    search = Search(FRAMES[place])
    combos = combos_at(search.frame, np.arange(search.frame.size))
    return search, combos, search.judge(combos)


@EACH
def test_no_combination_is_discarded_wrongly(frame: Frame) -> None:
    # Brute force solves every combination at every point and discards by no bound.
    quick, combos, fast = judged_all(FRAMES.index(frame))
    brute = Search(frame)
    slow = brute.judge(combos, brute=True)
    assert (fast.fits == slow.fits).all()
    assert brute.count.by_bound <= quick.count.by_bound
    assert brute.count.points > quick.count.points
    for aim in AIMS:
        got, want = fast.aims[aim][fast.fits], slow.aims[aim][slow.fits]
        assert got == pytest.approx(want, rel=1e-9)
        assert np.isfinite(got).all()


def test_the_grid_has_every_kind_of_outcome() -> None:
    # Otherwise the comparison above would show little.
    counts = [Count(**vars(judged_all(place)[0].count)) for place in range(len(FRAMES))]
    for key in ("by_formula", "by_bound", "in_full", "fit"):
        assert sum(getattr(count, key) for count in counts) > 0, key
    for count, frame in zip(counts, FRAMES, strict=True):
        parts = count.by_formula + count.by_bound + count.at_worst + count.in_full
        assert parts == count.combinations == frame.size


@EACH
def test_one_at_a_time_is_the_same_as_all_together(frame: Frame) -> None:
    _, _, together = judged_all(FRAMES.index(frame))
    fresh = Search(frame)
    for flat in np.linspace(0, frame.size - 1, 7).astype(int):
        picked = combos_at(frame, np.array([flat]))
        alone = fresh.judge(combos_of(frame, [picked.key(0)]))
        assert alone.fits[0] == together.fits[flat]
        if not alone.fits[0]:
            was = together.rules[int(together.broken[flat])]
            assert alone.rules[int(alone.broken[0])] == was
            assert alone.value[0] == pytest.approx(together.value[flat], rel=1e-9)


@EACH
def test_parts_that_fail_alone_take_only_failures_with_them(frame: Frame) -> None:
    _, combos, judged = judged_all(FRAMES.index(frame))
    wanted = {combos.key(int(k)) for k in np.flatnonzero(judged.fits)}
    search = Search(frame)
    found = set()
    for some, result in search.everything():
        found |= {some.key(int(k)) for k in np.flatnonzero(result.fits)}
    assert found == wanted
    assert search.count.combinations == frame.size


def test_too_many_combinations_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("hydrocheck.advice.sizing_search.MOST", 3)
    with pytest.raises(DomainError, match="name fewer sizes"):
        list(Search(max(FRAMES, key=lambda f: f.level)).everything())


def test_whatever_is_rejected_names_a_check_and_is_beyond_its_limit() -> None:
    for place in range(len(FRAMES)):
        _, _, judged = judged_all(place)
        for k in np.flatnonzero(~judged.fits):
            rule = judged.rules[int(judged.broken[k])]
            assert rule.id in REGISTRY
            worse = judged.value[k] > judged.limit[k]
            assert worse == rule.upper or not np.isfinite(judged.value[k])


def test_what_fits_at_the_ends_fits_between_them() -> None:
    # More engine speed never lowers a section's flow; wear between new and worn, oil between the
    # temperatures that were solved.
    frame = max((f for f in FRAMES if f.supply == "load sensing"), key=lambda f: f.level)
    search, combos, judged = judged_all(FRAMES.index(frame))
    rows = np.flatnonzero(judged.fits)
    rng = np.random.default_rng(7)
    for k in rng.choice(rows, size=min(rows.size, 6), replace=False):
        one = combos.take(np.array([k]))
        sizes = derive(frame, one, search.demands)
        values = fill(frame, one, sizes, judged.margin[k])
        for life in (0.0, 0.5, 1.0):
            truck = put(frame.truck, values | worn(frame, life))
            for wanted in search.conditions:
                engine = np.linspace(wanted.engine[0], wanted.engine[-1], 5)
                oil = np.linspace(wanted.oil[0], wanted.oil[-1], 5)
                work = plan_work(truck, wanted.scenario, engine, oil)
                assert is_met(solve_work(truck, work)).all()


COSTS = arrays.arrays(
    np.float64, st.tuples(st.integers(1, 25), st.integers(1, 4)), elements=st.integers(0, 4)
)


@given(COSTS)
def test_front_by_definition(costs: np.ndarray) -> None:
    beaten = [any((other <= row).all() and (other < row).any() for other in costs) for row in costs]
    assert pareto(costs).tolist() == [not b for b in beaten]


AIM_ROWS = arrays.arrays(
    np.float64, st.tuples(st.integers(1, 12), st.just(5)), elements=st.floats(0.1, 9.0)
)


@given(AIM_ROWS)
def test_the_first_is_beaten_by_none(rows: np.ndarray) -> None:
    aims = {aim: rows[:, i] for i, aim in enumerate(AIMS)}
    ranking = rank(aims, Weights())
    assert sorted(ranking.order.tolist()) == list(range(len(rows)))
    assert ranking.front[ranking.order[0]]
    on_front = ranking.front[ranking.order]
    assert (np.diff(on_front.astype(int)) <= 0).all()


@given(AIM_ROWS, st.sampled_from(AIMS))
def test_a_weight_alone_puts_its_best_first(rows: np.ndarray, wanted: str) -> None:
    aims = {aim: rows[:, i] for i, aim in enumerate(AIMS)}
    zero = dict.fromkeys(AIMS, 0.0)
    weights = Weights(**(zero | {wanted: 1.0}))
    first = rank(aims, weights).order[0]
    best = aims[wanted].max() if wanted == "low_speed" else aims[wanted].min()
    assert aims[wanted][first] == pytest.approx(best)
