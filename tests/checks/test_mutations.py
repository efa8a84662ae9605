"""Mutation sweep: one value made worse, and the finding that says so comes first."""

from __future__ import annotations

import pytest

from hydrocheck.checks import REGISTRY, Finding, inspect
from hydrocheck.model import Truck
from tests.checks.mutations import ALONE, PAIRS, WHY_NOT, Mutation

GRAVITY = {"pass": 0, "not checked": 0, "caution": 1, "fail": 2}

_BASES: dict[int, dict[tuple[str, str], str]] = {}
_WORSENED: dict[int, list[Finding]] = {}


def base_of(truck: Truck) -> dict[tuple[str, str], str]:
    """Verdicts of a truck as it is, looked up once."""
    if id(truck) not in _BASES:
        _BASES[id(truck)] = {(f.id, f.subject): f.verdict for f in inspect(truck)}
    return _BASES[id(truck)]


def worsened(mutation: Mutation) -> list[Finding]:
    """Findings whose verdict is worse than before, in the order of the output."""
    if id(mutation) not in _WORSENED:
        _WORSENED[id(mutation)] = _compared(mutation)
    return _WORSENED[id(mutation)]


def _compared(mutation: Mutation) -> list[Finding]:
    before = base_of(mutation.truck)
    return [
        f
        for f in inspect(mutation.mutated)
        if GRAVITY[f.verdict] > GRAVITY[before.get((f.id, f.subject), "pass")]
    ]


def named(mutation: Mutation) -> str:
    return f"{mutation.expected}-{mutation.path}"


def test_there_are_some_sixty_pairs() -> None:
    assert len(PAIRS) >= 60
    assert {one.expected for one in [*PAIRS, *ALONE]} <= set(REGISTRY)


@pytest.mark.parametrize("mutation", PAIRS, ids=named)
def test_the_expected_finding_is_listed_first(mutation: Mutation) -> None:
    found = worsened(mutation)
    assert found, "nothing got worse"
    assert found[0].id == mutation.expected, [f.id for f in found]


@pytest.mark.parametrize("mutation", ALONE, ids=named)
def test_a_mutation_of_another_truck_turns_it_alone(mutation: Mutation) -> None:
    assert {f.id for f in worsened(mutation)} == {mutation.expected}


def test_each_finding_is_turned_alone_or_says_why_not() -> None:
    alone = {one.expected for one in ALONE}
    for mutation in PAIRS:
        if {f.id for f in worsened(mutation)} == {mutation.expected}:
            alone.add(mutation.expected)
    assert not alone & set(WHY_NOT)
    assert alone | set(WHY_NOT) == set(REGISTRY)
