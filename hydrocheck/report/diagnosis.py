"""A diagnosis as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hydrocheck.advice.aids import Aids
from hydrocheck.advice.outcome import Diagnosis, Evidence, Expected, Ranked, Suggestion
from hydrocheck.advice.patient import Patient
from hydrocheck.advice.predict import Query
from hydrocheck.advice.states import Order, State
from hydrocheck.model.readable import TESTS
from hydrocheck.model.readings import Reading
from hydrocheck.report.envelope import quantity
from hydrocheck.report.text import heading, pairs, paragraph, table
from hydrocheck.units import KINDS, show

LEAST = 0.02
"""Causes below this probability are only counted."""
TELLING = 3
"""Causes that are told in full."""
CAUTIONS = (
    "Two people; engine off, keys out and pressure relieved before a line is opened or a hand goes"
    " near a shaft. Never feel for a leak: oil under pressure goes through skin. Makers' limits and"
    " licensed practice come first."
)


def diagnosis_text(
    truck: str, diagnosis: Diagnosis, aids: Aids | None, said: Sequence[str], units: str
) -> str:
    """The answer for people."""
    name = diagnosis.patient.name
    parts = [heading(f"Diagnosis of {truck}: {name}")]
    if said:
        parts.append(paragraph("Assumed, since nobody said: " + "; ".join(said) + "."))
    parts += [_causes(diagnosis, units), *_why(diagnosis, units)]
    if not diagnosis.complained:
        parts.append(
            paragraph(
                "Nobody complains and every reading is as a healthy truck's, so that the truck"
                " counts as one that was only looked over; a complaint (--symptom slow) changes"
                " that."
            )
        )
    if diagnosis.unexplained:
        listed = ", ".join(
            f"{r.what} = {r.written or _found(r, units)}" for r in diagnosis.unexplained
        )
        parts.append(
            paragraph(
                f"No cause that is known here explains: {listed}. Read it again, with another"
                " instrument if there is one; if it stands, something else is wrong."
            )
        )
    if diagnosis.unused:
        lines = [f"{r.what}: {why.removeprefix(f'{r.what}: ')}" for r, why in diagnosis.unused]
        parts.append(
            "Not weighed among the causes:\n"
            + "\n".join(paragraph(x, indent=2, hang=2) for x in lines)
        )
    parts += [_next(diagnosis, units), _healthy(diagnosis, units)]
    if aids is not None:
        parts += aids_text(aids, units)
    parts.append(paragraph(CAUTIONS))
    return "\n\n".join(part for part in parts if part)


def _causes(diagnosis: Diagnosis, units: str) -> str:
    shown = [one for one in diagnosis.ranked if one.probability >= LEAST]
    rows = [[_percent(one.probability), one.name, one.group] for one in shown]
    left = len(diagnosis.ranked) - len(shown)
    share = 1.0 - sum(one.probability for one in shown)
    rest = f"\n{left} further causes share {_percent(share)}." if left else ""
    return table(["", "cause", "repair"], rows, align="rll") + rest


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.005 else "< 1 %"


def _why(diagnosis: Diagnosis, units: str) -> list[str]:
    """The leading causes in words, reading by reading."""
    parts = []
    for one in diagnosis.ranked[:TELLING]:
        if one.probability < LEAST:
            continue
        lines = [paragraph(f"{one.name} ({_percent(one.probability)}): {one.told(units)}.")]
        lines += [paragraph(_fit(e, units), indent=2, hang=2) for e in one.evidence]
        for cause in one.causes:
            lines.append(paragraph(f"Do: {cause.action}.", indent=2, hang=2))
            if cause.caution:
                lines.append(paragraph(f"Caution: {cause.caution}.", indent=2, hang=2))
        parts.append("\n".join(lines))
    return parts


def _fit(evidence: Evidence, units: str) -> str:
    """One reading under one cause: `fits`, or how far off."""
    reading = evidence.reading
    what = f"{reading.what}{_conditions_of(reading)}"
    if isinstance(reading.value, str):
        usual = 1.0 / len(reading.what.readable.words)
        word = "fits" if evidence.probability > usual else "hardly fits"
        share = _percent(evidence.probability)
        return f"{word}: {what} {reading.value} (said so {share} of the time)"
    kind = reading.what.readable.kind
    sigmas = abs(evidence.sigmas)
    word = "fits" if sigmas < 2.0 else "doubtful" if sigmas < 3.0 else "does not fit"
    return (
        f"{word}: {what} {_found(reading, units)}, expected {show(evidence.expected, kind, units)}"
        f" +/- {_half(evidence.deviation, kind, units)}, {sigmas:.1f} sigma"
    )


def _half(deviation: float, kind: str, units: str) -> str:
    kind = "temperature_rise" if kind == "temperature" else kind
    return show(deviation, kind, units)


def _found(reading: Reading, units: str) -> str:
    if isinstance(reading.value, str):
        return reading.value
    return show(reading.value, reading.what.readable.kind, units)


def _conditions_of(reading: Reading) -> str:
    parts = [reading.at.test or "", *(f"{name} at stop" for name in reading.at.stop)]
    told = ", ".join(part for part in parts if part)
    return f" ({told})" if told else ""


def _next(diagnosis: Diagnosis, units: str) -> str:
    """The next measurement in full, two more in a line each."""
    if not diagnosis.suggestions:
        return paragraph("Nothing that could be measured next would tell the causes apart.")
    first, *others = diagnosis.suggestions[:3]
    return "\n".join(
        [
            paragraph(f"Measure next: {first.measurement.title}"),
            suggestion_text(diagnosis.patient, first, units),
            *(
                paragraph(
                    f"or: {one.measurement.title} ({one.bits:.1f} bit, {one.minutes:.0f} min)",
                    indent=2, hang=4,
                )
                for one in others
            ),
        ]
    )  # fmt: skip


def suggestion_text(patient: Patient, one: Suggestion, units: str) -> str:
    """How to take a measurement, and what it would show."""
    measurement = one.measurement
    items = [
        ("with", f"{measurement.instrument}, {measurement.where}"),
        ("safely", measurement.how),
        ("effort", f"{one.minutes:.0f} min with its risk ({measurement.risk}), {one.bits:.1f} bit"),
        ("expect", "; ".join(_expected(one, e, units) for e in one.expected)),
    ]
    if at := reading_conditions(patient, one.query):
        items.insert(2, ("write", f"{one.query.what} = ... @ {at}"))
    return pairs(items, indent=2)


def _expected(one: Suggestion, expected: Expected, units: str) -> str:
    if expected.word:
        return f"{expected.cause}: {expected.word}"
    kind = one.query.what.readable.kind
    value = show(expected.value, kind, units)
    return f"{expected.cause}: {value} +/- {_half(expected.deviation, kind, units)}"


def conditions_text(patient: Patient, state: State) -> str:
    """A state as the conditions of a reading in one line, empty for the truck's usual one."""
    parts = []
    if state.engine is not None:
        parts.append(f"engine {show(state.engine, 'shaft_speed')}")
    if state.oil is not None:
        parts.append(f"oil {show(state.oil, 'temperature')}")
    parts += [f"{name} at stop" for name in state.stop]
    scenario = next(
        (s for s in patient.truck.scenario if any(t.name == patient.name for t in s.run)), None
    )
    usual = [] if scenario is None else [task.name for task in scenario.run]
    on = dict(state.orders)
    told = {name: order for name, order in on.items() if order.told and name not in state.stop}
    if told:
        parts += [f"{name} {_order_text(order)}" for name, order in told.items()]
    else:
        parts += [f"{name} off" for name in usual if name not in on]
    if state.hopper != "full":
        parts.append(f"hopper {state.hopper}")
    if state.test in TESTS:
        parts.append(f"test {state.test}")
    return ", ".join(parts)


def reading_conditions(patient: Patient, query: Query) -> str:
    """Conditions as a reading of a query writes them: with its instrument, if not the usual one."""
    at = conditions_text(patient, query.state)
    if query.instrument in ("", query.what.readable.instrument):
        return at
    return ", ".join(part for part in (at, f"with {query.instrument}") if part)


def _order_text(order: Order) -> str:
    return f"command {show(order.command, 'fraction')}"


def _healthy(diagnosis: Diagnosis, units: str) -> str:
    if not diagnosis.healthy:
        return ""
    rows = []
    for one in diagnosis.healthy:
        reading = one.reading
        expected = one.word
        if not expected:
            kind = reading.what.readable.kind
            expected = f"{show(one.value, kind, units)} +/- {_half(one.deviation, kind, units)}"
        rows.append([f"{reading.what}{_conditions_of(reading)}", _found(reading, units), expected])
    return "A healthy truck under the same conditions\n" + table(
        ["reading", "found", "healthy"], rows, align="lrr"
    )


def aids_text(aids: Aids, units: str) -> list[str]:
    """The decision aids."""
    gauges = table(
        ["healthy gauges", "pump", "LS port", "work port"],
        [[r.name, *(show(v, "pressure", units) if np.isfinite(v) else "-"
                    for v in (r.pump, r.signal, r.port))]
         for r in aids.gauges],
    )  # fmt: skip
    slip = table(
        ["healthy pump at stop", "engine", "slip", "share left"],
        [[r.name, show(r.engine, "shaft_speed", units), show(r.slip, "flow", units),
          _percent(r.efficiency)] for r in aids.slip],
    )  # fmt: skip
    facts = [paragraph(fact + ".", hang=2) for fact in aids.facts]
    return [gauges, slip, "\n".join(facts)]


def diagnosis_json(
    diagnosis: Diagnosis, aids: Aids | None, said: Sequence[str], units: str
) -> dict[str, object]:
    """The answer for the JSON envelope."""
    made: dict[str, object] = {
        "function": diagnosis.patient.name,
        "assumed": list(said),
        "causes": [_ranked_json(one, units) for one in diagnosis.ranked],
        "repair": dict(diagnosis.groups),
        "complained": diagnosis.complained,
        "next": [_suggestion_json(diagnosis.patient, s, units) for s in diagnosis.suggestions],
        "healthy": [
            {
                "reading": str(one.reading.what),
                "found": _value(one.reading, one.reading.value, units),
                "healthy": one.word or _value(one.reading, one.value, units),
            }
            for one in diagnosis.healthy
        ],
        "unexplained": [str(r.what) for r in diagnosis.unexplained],
        "unused": [{"reading": str(r.what), "reason": why} for r, why in diagnosis.unused],
        "cautions": CAUTIONS,
    }
    if aids is not None:
        made["aids"] = {
            "gauges": [
                {
                    "state": r.name,
                    "pump": _number(r.pump, "pressure", units),
                    "ls_port": _number(r.signal, "pressure", units),
                    "work_port": _number(r.port, "pressure", units),
                }
                for r in aids.gauges
            ],
            "slip": [
                {
                    "state": r.name,
                    "engine_speed": _number(r.engine, "shaft_speed", units),
                    "slip": _number(r.slip, "flow", units),
                    "volumetric_efficiency": r.efficiency,
                }
                for r in aids.slip
            ],
            "growth": None if aids.growth is None else {
                "factor": aids.growth.factor, "verdict": aids.growth.verdict,
            },
            "facts": list(aids.facts),
        }  # fmt: skip
    return made


def _number(value: float, kind: str, units: str) -> object:
    return quantity(value, KINDS[kind].si, show(value, kind, units) if np.isfinite(value) else "")


def _value(reading: Reading, value: float | str, units: str) -> object:
    return value if isinstance(value, str) else _number(value, reading.what.readable.kind, units)


def _ranked_json(one: Ranked, units: str) -> dict[str, object]:
    return {
        "cause": one.name,
        "repair": one.group,
        "probability": one.probability,
        "severity": one.told(units),
        "action": [cause.action for cause in one.causes],
        "caution": [cause.caution for cause in one.causes if cause.caution],
        "evidence": [
            {
                "reading": str(e.reading.what),
                "found": _value(e.reading, e.reading.value, units),
                "expected": None
                if isinstance(e.reading.value, str)
                else _value(e.reading, e.expected, units),
                "sigmas": e.sigmas,
                "probability": e.probability,
            }
            for e in one.evidence
        ],
    }


def _suggestion_json(patient: Patient, one: Suggestion, units: str) -> dict[str, object]:
    kind = one.query.what.readable.kind
    return {
        "measure": one.measurement.title,
        "what": str(one.query.what),
        "conditions": reading_conditions(patient, one.query),
        "instrument": one.measurement.instrument,
        "where": one.measurement.where,
        "how": one.measurement.how,
        "risk": one.measurement.risk,
        "minutes": one.minutes,
        "bits": one.bits,
        "expect": {e.cause: e.word or _number(e.value, kind, units) for e in one.expected},
    }
