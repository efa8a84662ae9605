"""A sizing as text and as JSON."""

from __future__ import annotations

import csv
import io
from collections import Counter

from hydrocheck.advice.sizing import Candidate, Neighbour, Sizing
from hydrocheck.advice.sizing_bill import Item, bill
from hydrocheck.advice.sizing_explain import Step, explain
from hydrocheck.advice.sizing_parts import ASSUMED
from hydrocheck.checks.finding import ORDER, Amount
from hydrocheck.report.envelope import quantity
from hydrocheck.report.findings import LIMITS_OF_USE, findings_json
from hydrocheck.report.shown import shown, shown_json
from hydrocheck.report.text import heading, pairs, paragraph, table
from hydrocheck.units import KINDS, show

SHORT = {"load sensing": "LS", "constant pressure": "const. p", "fixed": "fixed"}
AIM_WORDS = {
    "low_speed": "flow in hand at the lowest engine speed, worn",
    "heat": "heat of the main scenario, warm and new",
    "power": "greatest shaft power of the pump",
    "size": "size: sum of displacement x pressure level of all machines",
    "overspeed": "nearest to a speed limit, share of it",
}


def sizing_text(sizing: Sizing, units: str) -> str:
    """What was searched, the best ten, the circuit that was taken and its neighbours."""
    parts = [heading(f"Sizing of {sizing.needs.name}"), paragraph(count_text(sizing))]
    if not sizing.fitting:
        return "\n\n".join([*parts, *_nothing(sizing, units)])
    parts += ["Best circuits\n" + _ranked_table(sizing, units), paragraph(_legend(sizing))]
    shown_all = sizing.chosen is None
    for one, finding in sizing.passed_over[: None if shown_all else 3]:
        parts.append(
            paragraph(
                f"Place {one.place} was passed over: {finding.id} ({finding.subject}): "
                f"{finding.judgement.reason.shown(units)}."
            )
        )
    if sizing.chosen is None or sizing.candidate is None:
        parts.append(paragraph("None of the best passes every check; what fails stands above."))
        return "\n\n".join(parts)
    parts.append(
        paragraph(f"Sizes of the circuit at place {sizing.candidate.place}, and what rules each:")
    )
    parts += [_bill_table(group, units) for group in _groups(bill(sizing))]
    parts.append("One step away\n" + _neighbour_table(sizing.neighbours, units))
    parts += [paragraph(_check_line(sizing)), *_assumed(sizing), paragraph(LIMITS_OF_USE)]
    return "\n\n".join(parts)


def count_text(sizing: Sizing) -> str:
    """How the search went, in numbers."""
    count = sizing.count
    return (
        f"{count.combinations} combinations of circuit, pressure level, drive ratio, pump and "
        f"motors: {count.by_formula} ruled out by formulas, {count.by_bound} by bounds, "
        f"{count.at_worst} solved at their worst points only, {count.in_full} solved in full "
        f"({count.points} points in all). {sizing.fitting} fit, {int(sizing.front.sum())} of "
        "them beaten by none in every aim."
    )


def _ranked_table(sizing: Sizing, units: str) -> str:
    heads = ["place", "circuit", "level", "ratio", "pump", "in hand", "heat", "drive", "size",
             "speed"]  # fmt: skip
    frame = sizing.frames[sizing.ranked[0].frame]
    motors = list(frame.motors)
    rows = []
    for one in sizing.ranked:
        rows.append([*_plain_cells(sizing, one, units), *_motor_cells(sizing, one, units)])
    return table(
        [*heads, *(f"{n} motor" for n in motors)], rows, align="rl" + "r" * (8 + len(motors))
    )


def _plain_cells(sizing: Sizing, one: Candidate, units: str) -> list[str]:
    frame, aims = sizing.frames[one.frame], one.aims
    mark = "*" if sizing.candidate is not None and one.place == sizing.candidate.place else ""
    return [
        f"{mark}{one.place}",
        SHORT[frame.supply],
        show(frame.level, "pressure", units),
        f"{frame.ratios[one.key[0]]:.2f}",
        show(frame.pumps[one.key[1]].displacement, "displacement", units),
        f"{100 * aims['low_speed']:.0f} %",
        show(aims["heat"], "power", units),
        show(aims["power"], "power", units),
        _size(sizing, aims["size"], units),
        f"{100 * aims['overspeed']:.0f} %",
    ]


def _motor_cells(sizing: Sizing, one: Candidate, units: str) -> list[str]:
    frame = sizing.frames[one.frame]
    return [
        show(options[pick].displacement, "displacement", units)
        for options, pick in zip(frame.motors.values(), one.key[2:], strict=True)
    ]


def _size(sizing: Sizing, value: float, units: str) -> str:
    return f"{value:.0f}" if sizing.priced else show(value, "torque", units)


def _legend(sizing: Sizing) -> str:
    size = "price: sum of the parts' prices" if sizing.priced else AIM_WORDS["size"]
    words = {**AIM_WORDS, "size": size}
    taken = "* is taken. " if sizing.candidate is not None else ""
    return (
        f"{taken}in hand: {words['low_speed']}; heat: {words['heat']}; drive: {words['power']}; "
        f"{size if sizing.priced else words['size']}; speed: {words['overspeed']}."
    )


def _groups(items: tuple[Item, ...]) -> list[list[Item]]:
    groups: dict[str, list[Item]] = {}
    for item in items:
        groups.setdefault(item.group, []).append(item)
    return list(groups.values())


def _bill_table(items: list[Item], units: str) -> str:
    """One group of the bill: the size, and under it what rules it."""
    rows = [(_counted(i), f"{i.size.shown(units)}\n- {i.rule.shown(units)}") for i in items]
    return f"{items[0].group}\n" + pairs(rows, indent=2)


def _counted(item: Item) -> str:
    return item.item if item.count < 2 else f"{item.count} x {item.item}"


def _neighbour_table(neighbours: tuple[Neighbour, ...], units: str) -> str:
    rows = []
    for n in neighbours:
        why = n.reason.shown(units)
        if n.rejected:
            why = f"{n.rejected} ({n.subject}): {why}"
        rows.append([n.axis, n.step.shown(units), why])
    return table(["what", "instead", "what then"], rows, align="lll")


def _check_line(sizing: Sizing) -> str:
    assert sizing.chosen is not None
    findings = sizing.chosen.findings
    counts = Counter(f.verdict for f in findings)
    total = ", ".join(f"{counts[v]} {v}" for v in ORDER if counts[v])
    cautions = sorted({f.id for f in findings if f.verdict == "caution"})
    text = f"Check of this truck, as new: {total}."
    return text + (f" Cautions: {', '.join(cautions)}." if cautions else "")


def _assumed(sizing: Sizing) -> list[str]:
    """What is assumed of the machines that were taken."""
    chosen = sizing.chosen
    assert chosen is not None
    frame = sizing.frames[chosen.frame]
    machines = [frame.pumps[chosen.key[1]]]
    machines += [m[k] for m, k in zip(frame.motors.values(), chosen.key[2:], strict=True)]
    lines = []
    for build in dict.fromkeys(m.build for m in machines if m.assumed):
        about = ASSUMED[build]
        lines.append(
            paragraph(
                f"Assumed of {_article(build)} {build} where its list says nothing: "
                f"{about.volumetric} volumetric, {about.hydromechanical} hydromechanical at "
                f"{about.rated_speed}, {about.rated_pressure}; {about.source}.",
                hang=2,
            )
        )
    return ["\n".join(lines)] if lines else []


def _article(noun: str) -> str:
    return "an" if noun[0] in "aeiou" else "a"


def _nothing(sizing: Sizing, units: str) -> list[str]:
    if not sizing.relaxations:
        return [paragraph("Nothing fits, and no single need relaxed up to twofold would do.")]
    rows = [
        [r.what, show(r.value, r.kind, units), show(r.relaxed, r.kind, units),
         f"{100 * r.change:+.0f} %"]
        for r in sizing.relaxations
    ]  # fmt: skip
    told = (
        "Nothing fits. Any one of these alone lets a circuit fit, all else unchanged; each was "
        "searched again, the least change first:"
    )
    heads = ["relax", "from", "to", "change"]
    return [paragraph(told), table(heads, rows, align="lrrr")]


def explain_text(sizing: Sizing, units: str) -> str:
    """The hand calculation, step by step."""
    parts = [heading(f"Hand calculation for {sizing.needs.name}")]
    parts.append(
        paragraph(
            "One point, rated efficiencies, end-of-life slip: to be followed on paper. The sizes "
            "that were taken come from the search over the whole range."
        )
    )
    for number, step in enumerate(explain(sizing), start=1):
        parts.append(_step_text(number, step, units))
    return "\n\n".join(parts)


def _step_text(number: int, step: Step, units: str) -> str:
    result = f"= {step.result.shown(units)}"
    if step.taken is not None:
        result += f"; taken: {step.taken.shown(units)}"
    return "\n".join(
        [
            paragraph(f"{number}. {step.about}: {step.what}", hang=3),
            paragraph(step.formula, indent=3, hang=2),
            paragraph(step.numbers.shown(units), indent=3, hang=2),
            paragraph(result, indent=3, hang=2),
            paragraph(f"[{step.source}]", indent=3, hang=2),
        ]
    )


def bill_csv(sizing: Sizing, units: str) -> str:
    """The bill of sizes as CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["group", "item", "count", "size", "ruled by", "check"])
    for i in bill(sizing):
        row = [i.group, i.item, str(i.count), i.size.shown(units), i.rule.shown(units), i.check]
        writer.writerow(row)
    return out.getvalue()


def sizing_json(sizing: Sizing, units: str) -> dict[str, object]:
    """The sizing for the JSON envelope."""
    chosen = sizing.chosen
    found: dict[str, object] = {
        "needs": sizing.needs.name,
        "count": {**vars(sizing.count), "beaten_by_none": int(sizing.front.sum())},
        "ranked": [_candidate_json(sizing, one, units) for one in sizing.ranked],
        "passed_over": [
            {
                "place": one.place,
                "check": finding.id,
                "subject": finding.subject,
                "reason": finding.judgement.reason.shown(units),
            }
            for one, finding in sizing.passed_over
        ],
        "relax": [
            {
                "what": r.what,
                "value": shown_json(r.value, r.kind, units),
                "relaxed": shown_json(r.relaxed, r.kind, units),
                "change": r.change,
            }
            for r in sizing.relaxations
        ],
        "taken": None,
    }
    if chosen is not None and sizing.candidate is not None:
        found["taken"] = {
            "place": sizing.candidate.place,
            "bill": [_item_json(item, units) for item in bill(sizing)],
            "neighbours": [_neighbour_json(n, units) for n in sizing.neighbours],
            "hand_calculation": [_step_json(step, units) for step in explain(sizing)],
            "check": findings_json(chosen.truck, chosen.findings, units),
        }
    return found


def _candidate_json(sizing: Sizing, one: Candidate, units: str) -> dict[str, object]:
    frame, aims = sizing.frames[one.frame], one.aims
    size: object = aims["size"] if sizing.priced else shown_json(aims["size"], "torque", units)
    return {
        "place": one.place,
        "circuit": frame.supply,
        "pressure_level": shown_json(frame.level, "pressure", units),
        "drive_ratio": frame.ratios[one.key[0]],
        "pump": shown_json(frame.pumps[one.key[1]].displacement, "displacement", units),
        "motors": {
            name: shown_json(options[pick].displacement, "displacement", units)
            for (name, options), pick in zip(frame.motors.items(), one.key[2:], strict=True)
        },
        "flow_in_hand": aims["low_speed"],
        "heat": shown_json(aims["heat"], "power", units),
        "drive_power": shown_json(aims["power"], "power", units),
        "price" if sizing.priced else "size": size,
        "share_of_speed_limit": aims["overspeed"],
        "beaten_by_none": one.front,
    }


def _item_json(item: Item, units: str) -> dict[str, object]:
    values = {
        key: _amount_json(a, units) for key, a in item.size.amounts.items() if isinstance(a, Amount)
    }
    return {
        "group": item.group,
        "item": item.item,
        "count": item.count,
        "size": item.size.shown(units),
        "values": values,
        "ruled_by": item.rule.shown(units),
        "check": item.check or None,
    }


def _amount_json(amount: Amount, units: str) -> dict[str, object]:
    return dict(
        quantity(amount.value, KINDS[amount.kind].si, shown(amount.value, amount.kind, units))
    )


def _neighbour_json(n: Neighbour, units: str) -> dict[str, object]:
    return {
        "what": n.axis,
        "instead": n.step.shown(units),
        "place": n.place,
        "rejected_by": n.rejected or None,
        "subject": n.subject or None,
        "reason": n.reason.shown(units),
    }


def _step_json(step: Step, units: str) -> dict[str, object]:
    return {
        "about": step.about,
        "what": step.what,
        "formula": step.formula,
        "numbers": step.numbers.shown(units),
        "result": _amount_json(step.result, units),
        "taken": None if step.taken is None else _amount_json(step.taken, units),
        "source": step.source,
    }
