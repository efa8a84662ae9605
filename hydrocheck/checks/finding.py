"""What a check returns: one finding about one subject, with the numbers that prove it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from hydrocheck.units import show

Verdict = Literal["fail", "caution", "not checked", "pass"]

ORDER: tuple[Verdict, ...] = ("fail", "caution", "not checked", "pass")


@dataclass(frozen=True)
class Amount:
    """A value in SI and the kind of quantity that it is."""

    value: float
    kind: str

    def shown(self, system: str = "us") -> str:
        """With its unit, for people."""
        return show(self.value, self.kind, system)  # type: ignore[arg-type]  # checked at the edge


@dataclass(frozen=True)
class Words:
    """A sentence with amounts in it, so that it can be shown in either system of units."""

    template: str
    amounts: Mapping[str, Amount | str] = field(default_factory=dict)

    def shown(self, system: str = "us") -> str:
        """The sentence with its amounts in a system of units."""
        return self.template.format(**{k: shown(a, system) for k, a in self.amounts.items()})


def shown(value: Amount | str, system: str = "us") -> str:
    """An amount with its unit, or a name as it is."""
    return value if isinstance(value, str) else value.shown(system)


def words(template: str, **amounts: Amount | str) -> Words:
    """A sentence; `{name}` in it is the amount or name of that key.

    A name never goes into the template.
    """
    return Words(template, amounts)


@dataclass(frozen=True)
class Judgement:
    """What one check found about one subject.

    margin: (limit - value) / limit, or its mirror for a lower limit; None where there is no such
    number
    at: the operating point where it is worst
    """

    verdict: Verdict
    reason: Words
    value: Amount | None = None
    limit: Amount | None = None
    margin: float | None = None
    at: Mapping[str, Amount | str] = field(default_factory=dict)
    change: Words | None = None


@dataclass(frozen=True)
class Finding:
    """A judgement with the check that made it and the subject it is about."""

    id: str
    subject: str
    area: str
    judgement: Judgement
    source: str

    @property
    def verdict(self) -> Verdict:
        """pass, caution, fail or not checked."""
        return self.judgement.verdict

    @property
    def rank(self) -> tuple[int, str, float, str, str]:
        """Order of findings: verdict, area, margin (least first), then name."""
        margin = self.judgement.margin
        return (
            ORDER.index(self.verdict),
            self.area,
            float("inf") if margin is None else margin,
            self.id,
            self.subject,
        )


def upper(
    value: Amount,
    limit: Amount,
    *,
    reserve: float = 0.0,
    about: str,
    change: Words | None = None,
    **at: Amount | str,
) -> Judgement:
    """Judge a value that must not exceed a limit: fail above it, caution within `reserve` of it.

    about: what the value is, as the subject of a sentence
    """
    margin = (limit.value - value.value) / limit.value if limit.value else -1.0
    return _against(
        value, limit, margin, reserve, f"{about} is {{value}}; at most {{limit}}", change, at
    )


def lower(
    value: Amount,
    limit: Amount,
    *,
    reserve: float = 0.0,
    about: str,
    change: Words | None = None,
    **at: Amount | str,
) -> Judgement:
    """Judge a value with a lower limit: fail below it, caution within `reserve` of it."""
    margin = (value.value - limit.value) / limit.value if limit.value else 1.0
    return _against(
        value, limit, margin, reserve, f"{about} is {{value}}; at least {{limit}}", change, at
    )


def _against(
    value: Amount,
    limit: Amount,
    margin: float,
    reserve: float,
    template: str,
    change: Words | None,
    at: Mapping[str, Amount | str],
) -> Judgement:
    verdict: Verdict = "fail" if margin < 0 else "caution" if margin < reserve else "pass"
    return Judgement(
        verdict,
        words(template, value=value, limit=limit),
        value,
        limit,
        margin,
        at,
        None if verdict == "pass" else change,
    )
