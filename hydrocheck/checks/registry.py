"""The one list of checks. `@check(...)` on a function of (inspection, subject) puts it there."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from string import Formatter
from typing import Any

from hydrocheck.checks.finding import Amount, Finding, Judgement, words
from hydrocheck.checks.inspection import Inspection
from hydrocheck.errors import CircuitError, DomainError, MissingValue, NotSolvedYet
from hydrocheck.model import Truck
from hydrocheck.model.fields import specs
from hydrocheck.model.limits import Limits

Subjects = Callable[[Truck], Iterable[tuple[str, Any]]]
Judge = Callable[[Inspection, Any], Judgement]


@dataclass(frozen=True)
class Check:
    """One kind of finding: what it asks, by which formula and limit, and where these come from.

    formula, limit: `{name}` in them stands for the threshold of that name
    """

    id: str
    area: str
    asks: str
    formula: str
    limit: str
    source: str
    subjects: Subjects
    judge: Judge

    def said(self, key: str, system: str = "us", limits: Limits | None = None) -> str:
        """One of its texts, with thresholds in a system of units: the defaults, or those given."""
        text: str = getattr(self, key)
        names = [name for _, name, _, _ in Formatter().parse(text) if name]
        table = limits or Limits()
        kinds = specs(Limits)
        return text.format(
            **{n: Amount(float(getattr(table, n)), kinds[n].kind).shown(system) for n in names}
        )

    def run(self, inspection: Inspection) -> Iterable[Finding]:
        """The findings of this check, one a subject."""
        for label, subject in self.subjects(inspection.truck):
            yield self.finding(inspection, label, subject)

    def finding(self, inspection: Inspection, label: str, subject: Any) -> Finding:
        """The finding about one subject."""
        return Finding(self.id, label, self.area, self._judged(inspection, subject), self.source)

    def _judged(self, inspection: Inspection, subject: Any) -> Judgement:
        try:
            return self.judge(inspection, subject)
        except MissingValue as error:
            return Judgement("not checked", words("needs {keys}", keys=_listed(error.keys)))
        except (NotSolvedYet, CircuitError, DomainError) as error:
            return Judgement("not checked", words("{why}", why=str(error)))


REGISTRY: dict[str, Check] = {}


def check(
    id: str, *, area: str, asks: str, formula: str, limit: str, source: str, subjects: Subjects
) -> Callable[[Judge], Judge]:
    """Register the decorated judge as a check."""

    def register(judge: Judge) -> Judge:
        if id in REGISTRY:
            raise ValueError(f"check {id} is registered twice")
        REGISTRY[id] = Check(id, area, asks, formula, limit, source, subjects, judge)
        return judge

    return register


def _listed(keys: tuple[str, ...]) -> str:
    shown = ", ".join(keys[:4])
    return shown if len(keys) <= 4 else f"{shown} and {len(keys) - 4} more"
