"""Checks: one finding a function, grouped by area, in one registry.

`inspect(truck)` runs them all. To add one, write a function with the `check` decorator in a
module of its area.
"""

from __future__ import annotations

from hydrocheck.checks import (
    coils,
    drive,
    engine,
    flow,
    gaps,
    ladder,
    lines,
    oil,
    orders,
    seals,
    tank,
    together,
    travel,
    trims,
    worklines,
)
from hydrocheck.checks.finding import Amount, Finding, Judgement, Verdict, Words
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import REGISTRY, Check
from hydrocheck.model import Truck

AREAS = (
    flow,
    together,
    trims,
    travel,
    coils,
    ladder,
    gaps,
    seals,
    drive,
    engine,
    lines,
    worklines,
    tank,
    oil,
    orders,
)
"""The modules that hold checks; importing them fills the registry."""

__all__ = [
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


def inspect(truck: Truck) -> list[Finding]:
    """Every finding about a truck, worst first: verdict, area, margin."""
    inspection = Inspection(truck)
    findings = [f for one in REGISTRY.values() for f in one.run(inspection)]
    return sorted(findings, key=lambda finding: finding.rank)
