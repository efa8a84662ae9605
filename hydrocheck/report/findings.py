"""Findings as text and as JSON."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from hydrocheck.checks import AREAS, Amount, Check, Finding, Words
from hydrocheck.checks.finding import ORDER, shown
from hydrocheck.model import Truck
from hydrocheck.model.fields import specs
from hydrocheck.model.limits import Limits
from hydrocheck.report.shown import shown_json
from hydrocheck.report.text import heading, pairs, paragraph, table

Paint = Callable[[str, str], str]

CAUTIONS = (
    "Before work on the truck: two people, protective equipment, engine off and locked out, "
    "body and plow blocked, pressure released. Never search for leaks by hand. Stay clear of "
    "auger, spinner and discharge. Component makers' limits, local codes and licensed practice "
    "come first."
)
LIMITS_OF_USE = "Steady state only: pressure spikes and loop stability are not covered."


def summary(findings: Sequence[Finding]) -> str:
    """How many findings have each verdict, all four named."""
    counts = Counter(f.verdict for f in findings)
    return ", ".join(f"{counts[verdict]} {verdict}" for verdict in reversed(ORDER))


def findings_text(
    truck: Truck, findings: Sequence[Finding], units: str, paint: Paint, every: bool = False
) -> str:
    """The verdicts of a truck: a count, the findings that need attention, what was not checked.

    every: also the findings that pass, as a table
    """
    count = f"{len(findings)} finding{'' if len(findings) == 1 else 's'}"
    parts = [heading(f"Check of {truck.name}"), f"{count}: {summary(findings)}"]
    if changed := overridden(truck):
        parts.append("Limits of the truck file\n" + _limits_text(changed, units))
    for verdict in ("fail", "caution"):
        chosen = [f for f in findings if f.verdict == verdict]
        if chosen:
            parts.append("\n\n".join(_finding_text(f, units, paint) for f in chosen))
    unchecked = [f for f in findings if f.verdict == "not checked"]
    if unchecked:
        rows = [[f.id, f.subject, f.judgement.reason.shown(units)] for f in unchecked]
        parts.append("Not checked\n" + table(["finding", "subject", "why"], rows, align="lll"))
    passed = [f for f in findings if f.verdict == "pass"]
    if passed and every:
        rows = [[f.id, f.subject, *_numbers(f, units), _margin(f.judgement.margin)] for f in passed]
        parts.append(
            "Pass\n"
            + table(["finding", "subject", "value", "limit", "margin"], rows, align="llrrr")
        )
    more = "" if every or not passed else "`--all` shows the findings that pass; "
    parts.append(paragraph(f"{more}`hydrocheck explain ID` gives formula, limit and source."))
    parts.append(paragraph(CAUTIONS) + "\n" + paragraph(LIMITS_OF_USE))
    return "\n\n".join(parts)


def overridden(truck: Truck) -> dict[str, tuple[Amount, Amount]]:
    """Thresholds that the truck file sets: its own and the default, by name."""
    usual = Limits()
    return {
        name: (Amount(float(mine), spec.kind), Amount(float(theirs), spec.kind))
        for name, spec in specs(Limits).items()
        if (mine := getattr(truck.limits, name)) != (theirs := getattr(usual, name))
    }


def _limits_text(changed: Mapping[str, tuple[Amount, Amount]], units: str) -> str:
    rows = [[name, own.shown(units), usual.shown(units)] for name, (own, usual) in changed.items()]
    return table(["limit", "set to", "in place of"], rows, align="lrr")


def _finding_text(finding: Finding, units: str, paint: Paint) -> str:
    """Reason and place in a sentence, the change in another: two or three lines, seldom more."""
    judged = finding.judgement
    mark = finding.verdict.upper()
    head = f"{mark} {finding.id} ({finding.subject})"
    if judged.margin is not None:
        head += f" {_margin(judged.margin)}"
    head += f": {judged.reason.shown(units)}"
    if judged.at:
        head += f"; {_listed(judged.at, units)}"
    # Colour goes in last: its codes have no width.
    text = paragraph(head, hang=2)
    text = paint(mark, finding.verdict) + text.removeprefix(mark)
    if judged.change is None:
        return text
    return text + "\n" + paragraph("> " + judged.change.shown(units), indent=2, hang=2)


def _listed(amounts: Mapping[str, Amount | str], units: str) -> str:
    return ", ".join(f"{k} {shown(v, units)}" for k, v in amounts.items())


def _numbers(finding: Finding, units: str) -> tuple[str, str]:
    judged = finding.judgement
    value, limit = (
        "-" if amount is None else amount.shown(units) for amount in (judged.value, judged.limit)
    )
    return value, limit


def _margin(margin: float | None) -> str:
    return "-" if margin is None else f"{100 * margin:.0f} %"


def findings_json(truck: Truck, findings: Sequence[Finding], units: str) -> dict[str, object]:
    """Counts, limits of the truck file, and the findings, for the JSON envelope."""
    counts = Counter(f.verdict for f in findings)
    return {
        "counts": {verdict: counts[verdict] for verdict in reversed(ORDER)},
        "limits": {
            name: {"set": _amount(own, units), "default": _amount(usual, units)}
            for name, (own, usual) in overridden(truck).items()
        },
        "findings": [finding_json(f, units) for f in findings],
    }


def finding_json(finding: Finding, units: str) -> dict[str, object]:
    """One finding."""
    judged = finding.judgement
    return {
        "id": finding.id,
        "subject": finding.subject,
        "area": finding.area,
        "verdict": finding.verdict,
        "value": _amount(judged.value, units),
        "limit": _amount(judged.limit, units),
        "margin": judged.margin,
        "at": _amounts(judged.at, units),
        "reason": judged.reason.shown(units),
        "change": _change(judged.change, finding.verdict, units),
        "change_numbers": _amounts(judged.numbers, units),
        "source": finding.source,
    }


def _amounts(amounts: Mapping[str, Amount | str], units: str) -> dict[str, object]:
    return {k: v if isinstance(v, str) else _amount(v, units) for k, v in amounts.items()}


def _change(change: Words | None, verdict: str, units: str) -> str | None:
    if change is not None:
        return change.shown(units)
    return "none found" if verdict in ("fail", "caution") else None


def _amount(amount: Amount | None, units: str) -> dict[str, object] | None:
    if amount is None:
        return None
    plain: dict[str, object] = dict(shown_json(amount.value, amount.kind, units))
    return plain | {"shown": amount.shown(units)} if amount.toward else plain


KEYS = ("asks", "formula", "limit", "source", "area")


@dataclass(frozen=True)
class Example:
    """What a check finds on a truck."""

    truck: str
    finding: Finding


def explain_text(check: Check, example: Example | None, units: str) -> str:
    """What a check asks, its formula, limit and source, and an example in numbers."""
    rows = [(key, check.said(key, units)) for key in KEYS]
    text = heading(check.id) + "\n" + pairs(rows)
    if example is None:
        return text
    judged = example.finding.judgement
    worked = [("subject", example.finding.subject)]
    if judged.given:
        worked.append(("with", _listed(judged.given, units)))
    if judged.at:
        worked.append(("at", _listed(judged.at, units)))
    worked.append(("result", judged.reason.shown(units)))
    if judged.margin is not None:
        worked.append(("margin", f"{_margin(judged.margin)} of the limit"))
    worked.append(("verdict", example.finding.verdict))
    if judged.change is not None:
        worked.append(("change", judged.change.shown(units)))
    head = paragraph(f"Example: {example.truck}", hang=2)
    return f"{text}\n\n{head}\n{pairs(worked, indent=2)}"


def explain_list(checks: Mapping[str, Check]) -> str:
    """All checks, a line each, by area."""
    blocks = []
    for area, members in by_area(checks).items():
        rows = [[one.id, one.asks] for one in members]
        blocks.append(f"{area}\n" + table(["check", "asks"], rows, align="ll"))
    return "\n\n".join(blocks)


def by_area(checks: Mapping[str, Check]) -> dict[str, list[Check]]:
    """The checks by area, in the order in which findings stand."""
    areas: dict[str, list[Check]] = {}
    for one in sorted(checks.values(), key=lambda c: (AREAS.index(c.area), c.id)):
        areas.setdefault(one.area, []).append(one)
    return areas


def explain_markdown(checks: Mapping[str, Check]) -> str:
    """All checks as a table for a page of documentation."""
    lines = ["| finding | asks | limit |", "| --- | --- | --- |"]
    for area, members in by_area(checks).items():
        lines.append(f"| **{area}** | | |")
        lines += [f"| `{one.id}` | {one.asks} | {_cell(one.said('limit'))} |" for one in members]
    return "\n".join(lines)


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def explain_json(check: Check, example: Example | None, units: str) -> dict[str, object]:
    """A check for the JSON envelope."""
    texts: dict[str, object] = {"id": check.id}
    texts |= {key: check.said(key, units) for key in KEYS}
    if example is None:
        return texts | {"example": None}
    judged = example.finding.judgement
    shown_as = finding_json(example.finding, units) | {"with": _amounts(judged.given, units)}
    return texts | {"example": {"truck": example.truck} | shown_as}
