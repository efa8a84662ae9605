"""What a check returns: one finding about one subject, with the numbers that prove it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from hydrocheck.units import display_value, show

Verdict = Literal["fail", "caution", "not checked", "pass"]

ORDER: tuple[Verdict, ...] = ("fail", "caution", "not checked", "pass")

AREAS = (
    "pressure ladder",
    "pump and drive",
    "lines and inlet",
    "filter and tank",
    "oil and heat",
    "orders and material",
    "trims and valve drive",
    "flow and speed",
    "spreading",
    "throw",
)
"""Areas of findings, causes before what follows from them: a setting before a flow it costs."""

ROUNDING = 1e-9
"""Margin that floating point may take from a value that stands at its limit."""


@dataclass(frozen=True)
class Amount:
    """A value in SI and the kind of quantity that it is.

    toward: the side to which its text is rounded, so that whoever sets the shown number of an
    "or more" or "or less" is on the right side of the limit; nearest where empty, or where it is so
    small or large that it is shown with an exponent
    """

    value: float
    kind: str
    toward: Literal["", "up", "down"] = ""

    def shown(self, system: str = "us") -> str:
        """With its unit, for people."""
        text = show(self.value, self.kind, system)
        return text if not self.toward else self._one_sided(text, system)

    def _one_sided(self, text: str, system: str) -> str:
        """`text` with its last digit one further where rounding took it to the wrong side."""
        number, _, unit = text.partition(" ")
        exact = display_value(self.value, self.kind, system)[0]
        sign = 1.0 if self.toward == "up" else -1.0
        if "e" in number or sign * (exact - float(number)) <= ROUNDING * abs(exact):
            return text
        decimals = len(number.partition(".")[2])
        return f"{float(number) + sign * 10.0**-decimals:.{decimals}f} {unit}".rstrip()


def at_least(value: float, kind: str) -> Amount:
    """A number of an "or more": never shown smaller than it is."""
    return Amount(value, kind, "up")


def at_most(value: float, kind: str) -> Amount:
    """A number of an "or less": never shown greater than it is."""
    return Amount(value, kind, "down")


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
    given: numbers that the formula takes, by its own letters or words
    """

    verdict: Verdict
    reason: Words
    value: Amount | None = None
    limit: Amount | None = None
    margin: float | None = None
    at: Mapping[str, Amount | str] = field(default_factory=dict)
    change: Words | None = None
    given: Mapping[str, Amount | str] = field(default_factory=dict)

    @property
    def numbers(self) -> dict[str, Amount]:
        """The numbers of the change, by their names in its sentence."""
        amounts = {} if self.change is None else self.change.amounts
        return {name: value for name, value in amounts.items() if isinstance(value, Amount)}


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
    def rank(self) -> tuple[int, int, float, str, str]:
        """Order of findings: verdict, area, margin (least first), then name."""
        margin = self.judgement.margin
        return (
            ORDER.index(self.verdict),
            AREAS.index(self.area),
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
    at: Mapping[str, Amount | str] | None = None,
    change: Words | None = None,
    given: Mapping[str, Amount | str] | None = None,
) -> Judgement:
    """Judge a value that must not exceed a limit: fail above it, caution within `reserve` of it.

    about: what the value is, as the subject of a sentence
    """
    margin = (limit.value - value.value) / limit.value if limit.value else -1.0
    reserved = Amount(limit.value * (1.0 - reserve), limit.kind)
    why = (f"{about} is {{value}}; at most {{limit}}", ", {eased} with reserve")
    judged = _against((value, limit, reserved), margin, reserve, why, change, at or {})
    return replace(judged, given=given) if given else judged


def lower(
    value: Amount,
    limit: Amount,
    *,
    reserve: float = 0.0,
    about: str,
    at: Mapping[str, Amount | str] | None = None,
    change: Words | None = None,
    given: Mapping[str, Amount | str] | None = None,
) -> Judgement:
    """Judge a value with a lower limit: fail below it, caution within `reserve` of it."""
    margin = (value.value - limit.value) / limit.value if limit.value else 1.0
    reserved = Amount(limit.value * (1.0 + reserve), limit.kind)
    why = (f"{about} is {{value}}; at least {{limit}}", ", {eased} with reserve")
    judged = _against((value, limit, reserved), margin, reserve, why, change, at or {})
    return replace(judged, given=given) if given else judged


def eased(judged: Judgement) -> Judgement:
    """A caution in place of a failure."""
    return replace(judged, verdict="caution") if judged.verdict == "fail" else judged


def _against(
    amounts: tuple[Amount, Amount, Amount],
    margin: float,
    reserve: float,
    why: tuple[str, str],
    change: Words | None,
    at: Mapping[str, Amount | str],
) -> Judgement:
    """amounts: value, limit, limit with its reserve; why: the sentence, its end for a caution."""
    value, limit, reserved = amounts
    verdict: Verdict = "pass"
    if margin < reserve - ROUNDING:
        verdict = "fail" if margin < -ROUNDING else "caution"
    sentence, end = why
    reason = words(sentence, value=value, limit=limit)
    if verdict == "caution":
        reason = words(sentence + end, value=value, limit=limit, eased=reserved)
    return Judgement(
        verdict, reason, value, limit, margin, at, None if verdict == "pass" else change
    )
