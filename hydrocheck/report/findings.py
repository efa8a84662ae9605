"""Findings as text and as JSON."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence

from hydrocheck.checks import Amount, Check, Finding, Words
from hydrocheck.checks.finding import ORDER
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


def findings_text(
    truck: str, findings: Sequence[Finding], units: str, paint: Paint, every: bool = False
) -> str:
    """The verdicts of a truck: a count, the findings that need attention, then the rest as a table.

    every: also give reason and numbers of the findings that pass
    """
    counts = Counter(f.verdict for f in findings)
    total = ", ".join(f"{counts[v]} {v}" for v in ORDER if counts[v])
    count = f"{len(findings)} finding{'' if len(findings) == 1 else 's'}"
    count += f": {total}" if total else ""
    parts = [heading(f"Check of {truck}"), count]
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
        parts.append("\n\n".join(_finding_text(f, units, paint) for f in passed))
    elif passed:
        rows = [[f.id, f.subject, *_numbers(f, units), _margin(f.judgement.margin)] for f in passed]
        parts.append(
            "Pass\n"
            + table(["finding", "subject", "value", "limit", "margin"], rows, align="llrrr")
        )
    parts.append(paragraph(CAUTIONS) + "\n" + paragraph(LIMITS_OF_USE))
    return "\n\n".join(parts)


def _finding_text(finding: Finding, units: str, paint: Paint) -> str:
    judged = finding.judgement
    mark = finding.verdict.upper()
    # Colour goes in last: its codes have no width.
    head = paragraph(f"{mark} {finding.id} ({finding.subject})", hang=2)
    head = paint(mark, finding.verdict) + head.removeprefix(mark)
    lines = [("why", judged.reason.shown(units))]
    if judged.at:
        at = ", ".join(
            f"{k} {v if isinstance(v, str) else v.shown(units)}" for k, v in judged.at.items()
        )
        lines.append(("at", at))
    if judged.margin is not None:
        lines.append(("margin", f"{_margin(judged.margin)} of the limit"))
    if judged.change is not None:
        lines.append(("change", judged.change.shown(units)))
    lines.append(("source", finding.source))
    return head + "\n" + pairs(lines, indent=2)


def _numbers(finding: Finding, units: str) -> tuple[str, str]:
    judged = finding.judgement
    value, limit = (
        "-" if amount is None else amount.shown(units) for amount in (judged.value, judged.limit)
    )
    return value, limit


def _margin(margin: float | None) -> str:
    return "-" if margin is None else f"{100 * margin:.0f} %"


def findings_json(findings: Sequence[Finding], units: str) -> list[dict[str, object]]:
    """The findings for the JSON envelope."""
    return [
        {
            "id": f.id,
            "subject": f.subject,
            "area": f.area,
            "verdict": f.verdict,
            "value": _amount(f.judgement.value, units),
            "limit": _amount(f.judgement.limit, units),
            "margin": f.judgement.margin,
            "at": {
                k: v if isinstance(v, str) else _amount(v, units) for k, v in f.judgement.at.items()
            },
            "reason": f.judgement.reason.shown(units),
            "change": _change(f.judgement.change, f.verdict, units),
            "source": f.source,
        }
        for f in findings
    ]


def _change(change: Words | None, verdict: str, units: str) -> str | None:
    if change is not None:
        return change.shown(units)
    return "none found" if verdict in ("fail", "caution") else None


def _amount(amount: Amount | None, units: str) -> dict[str, object] | None:
    if amount is None:
        return None
    return dict(shown_json(amount.value, amount.kind, units))


def explain_text(check: Check) -> str:
    """What a check asks, its formula, limit and source."""
    rows = [
        ("asks", check.asks),
        ("formula", check.formula),
        ("limit", check.limit),
        ("source", check.source),
        ("area", check.area),
    ]
    return heading(check.id) + "\n" + pairs(rows)


def explain_list(checks: Mapping[str, Check]) -> str:
    """All checks, a line each, by area."""
    rows = [[c.area, c.id, c.asks] for c in sorted(checks.values(), key=lambda c: (c.area, c.id))]
    return table(["area", "check", "asks"], rows, align="lll")


def explain_json(check: Check) -> dict[str, str]:
    """A check for the JSON envelope."""
    keys = ("id", "area", "asks", "formula", "limit", "source")
    return {key: getattr(check, key) for key in keys}
