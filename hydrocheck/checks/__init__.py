"""Checks: one finding a function, grouped by area, in one registry.

`inspect(truck)` runs them all. To add one, write a function with the `check` decorator in a
module of its area.
"""

from __future__ import annotations

from collections.abc import Collection

from hydrocheck.checks import (
    boost,
    coils,
    drive,
    engine,
    feeding,
    flow,
    gaps,
    holding,
    hotandcold,
    ladder,
    lines,
    liquid,
    lowering,
    oil,
    orders,
    roadspeed,
    safety,
    seals,
    starts,
    tank,
    throw,
    together,
    travel,
    trims,
    worklines,
)
from hydrocheck.checks.finding import AREAS, Amount, Finding, Judgement, Verdict, Words
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import REGISTRY, Check
from hydrocheck.checks.solving import Pending
from hydrocheck.model import Truck

_MODULES = (
    flow,
    together,
    trims,
    travel,
    coils,
    boost,
    ladder,
    gaps,
    holding,
    seals,
    drive,
    engine,
    lines,
    worklines,
    tank,
    oil,
    orders,
    feeding,
    roadspeed,
    hotandcold,
    liquid,
    lowering,
    safety,
    starts,
    throw,
)
"""They hold the checks; importing them fills the registry."""

__all__ = [
    "AREAS",
    "REGISTRY",
    "Amount",
    "Check",
    "Finding",
    "Inspection",
    "Judgement",
    "Verdict",
    "Words",
    "inspect",
]


def inspect(truck: Truck, only: Collection[str] = ()) -> list[Finding]:
    """Every finding about a truck, worst first: verdict, area, margin.

    only: names of checks, where not all are wanted

    The checks take turns until every solve that they ask for is made, many at a time.
    """
    look = Inspection(truck)
    chosen = [one for name, one in REGISTRY.items() if not only or name in only]
    waiting = [(one, label, subject) for one in chosen for label, subject in one.subjects(truck)]
    findings = []
    look.gathering = True
    while waiting:
        broken_off = []
        for one, label, subject in waiting:
            try:
                findings.append(one.finding(look, label, subject))
            except Pending:
                broken_off.append((one, label, subject))
        waiting = broken_off
        look.settle()
    return sorted(findings, key=lambda finding: finding.rank)
