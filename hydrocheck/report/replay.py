"""A replayed route as text, as JSON, and its rows as CSV."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import IO

import numpy as np

from hydrocheck.report.envelope import column
from hydrocheck.report.shown import shown, shown_json
from hydrocheck.report.text import heading, pairs, paragraph, table
from hydrocheck.studies.cures import Cure
from hydrocheck.studies.replay import (
    CAUSES,
    DRIVE_OUT,
    ENGINE_STEP,
    NOT_FOLLOWING,
    Replay,
    RowBlock,
)
from hydrocheck.units import display_value, show

LISTED = 8
ROUNDING = 1e-9


def clock(seconds: float) -> str:
    """A time in hours, minutes and seconds.

    >>> clock(3725.4)
    '1:02:05'
    """
    whole = round(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def moment(seconds: float, is_clock: bool) -> str:
    """A time of the log: since its own start, or a date and time of day (UTC).

    >>> moment(1767583800.0, True)
    '2026-01-05 03:30:00'
    """
    if not is_clock:
        return clock(seconds)
    from datetime import UTC, datetime

    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%d %H:%M:%S")


def _percent(value: float, digits: int = 1) -> str:
    return f"{100.0 * value:.{digits}f} %" if np.isfinite(value) else "-"


def replay_text(truck: str, found: Replay, cures: Sequence[Cure], units: str) -> str:
    """Totals of a route, where it fell short, why, and what would cure it."""
    parts = [
        heading(f"Route of {truck}"),
        paragraph(
            f"{found.log}, scenario {found.scenario.name}. A row is short where less than "
            f"{_percent(1.0 - found.tolerance)} of the ordered rate comes out of the "
            f"{found.feeder}."
        ),
        pairs(_totals(found, units)),
        *(paragraph(said) for said in _left_out(found)),
    ]
    if not found.totals.short_rows:
        parts.append(paragraph("No row is short: the truck puts down what is ordered."))
        return "\n\n".join(parts)
    parts += [_worst_text(found, units), _classes_text(found, units)]
    if cures:
        parts.append(_cures_text(cures, units))
    if CAUSES[NOT_FOLLOWING] in found.limits:
        parts.append(
            paragraph(
                "No pump cures what comes of a discharge that does not follow the road speed: "
                "speed following in proportion would."
            )
        )
    if CAUSES[DRIVE_OUT] in found.limits:
        parts.append(
            paragraph(
                "While the engine turns above the speed at which the pump's drive drops out "
                "nothing is put down: a higher gear cures that."
            )
        )
    return "\n\n".join(parts)


def _totals(found: Replay, units: str) -> list[tuple[str, str]]:
    sums = found.totals

    def share(part: float, whole: float) -> str:
        return _percent(part / whole) if whole > 0 else "-"

    missing, beyond = (
        0.0 if part < ROUNDING * sums.ordered else part for part in (sums.missing, sums.beyond)
    )
    heat = sums.heat / sums.time if sums.time > 0 else 0.0
    rows = [
        ("time", f"{clock(sums.time)}, moving {clock(sums.moving)}"),
        ("distance", show(sums.distance, "distance", units)),
        (
            "spreading",
            f"{clock(sums.spreading)} over {show(sums.spread_distance, 'distance', units)}",
        ),
        ("ordered", show(sums.ordered, "mass", units)),
        ("put down", f"{show(sums.delivered, 'mass', units)}, {_percent(found.laid_share)}"),
        (
            "lacking",
            f"{shown(missing, 'mass', units)} ({share(missing, sums.ordered)}); too much elsewhere "
            f"{shown(beyond, 'mass', units)}",
        ),
        (
            "short",
            f"{clock(sums.short_time)} ({share(sums.short_time, sums.spreading)} of the "
            f"spreading) over {shown(sums.short_distance, 'distance', units)}, "
            f"{found.stretches} stretch{'es' if found.stretches != 1 else ''}",
        ),
        (
            "heat into the oil",
            f"{show(heat, 'heat_flow', units)} in the mean, at most "
            f"{show(sums.most_heat, 'heat_flow', units)}",
        ),
    ]
    if sums.liquid > 0:
        rows.insert(6, ("pre-wet", show(sums.liquid, "volume", units)))
    lacking = [(name, time) for name, time in zip(found.functions, found.starved, strict=True)]
    lacks = ", ".join(f"{name} {clock(time)}" for name, time in lacking if time > 0)
    if lacks:
        rows.append(("starved most", lacks))
    return rows


def _left_out(found: Replay) -> list[str]:
    """Rows that were left out or mended, with their lines."""
    tally, said = found.tally, []
    if tally.left_out:
        why = ", ".join(f"{count} {reason}" for reason, count in tally.reasons.most_common())
        said.append(f"Left out: {tally.left_out} of {tally.rows} rows: {why}.")
        first = "; ".join(f"line {row.line}: {row.why}" for row in tally.first[:LISTED])
        more = "; ..." if tally.left_out > LISTED else ""
        said.append(first + more)
    if tally.held:
        lines = ", ".join(str(line) for line in tally.held_lines[:LISTED])
        more = ", ..." if tally.held > LISTED else ""
        said.append(
            f"Road speed held over drop-outs and spikes of its signal in {tally.held} rows: "
            f"lines {lines}{more}."
        )
    if found.totals.gaps:
        said.append(
            f"{found.totals.gaps} gap{'s' if found.totals.gaps > 1 else ''} in time, "
            f"{clock(found.totals.gap_time)} together: nothing is counted over them."
        )
    return said


def _worst_text(found: Replay, units: str) -> str:
    worst = found.worst
    if worst is None:
        return ""
    laid = worst.delivered / worst.ordered if worst.ordered else np.nan
    causes = ", ".join(
        f"{name} {clock(time)}" for name, time in sorted(found.limits.items(), key=lambda i: -i[1])
    )
    return paragraph(
        f"Worst stretch: {clock(worst.lasts)} from {moment(worst.start, found.clock)} on, "
        f"{show(worst.distance, 'distance', units)}, {_percent(laid)} laid, "
        f"{show(worst.missing, 'mass', units)} lacking. All short time is limited by: {causes}."
    )


def _classes_text(found: Replay, units: str) -> str:
    """Engine speeds of the short time."""
    total = float(found.engine_short.sum())
    if not total > 0:
        return ""
    rows = []
    for place in np.flatnonzero(found.engine_short > 0):
        spread, short = float(found.engine_spreading[place]), float(found.engine_short[place])
        low, high = (
            display_value(k * ENGINE_STEP, "shaft_speed", units)[0] for k in (place, place + 1)
        )
        rows.append(
            [
                f"{low:.0f}-{high:.0f}",
                clock(spread),
                clock(short),
                _percent(short / spread if spread > 0 else np.nan, 0),
                _percent(short / total, 0),
            ]
        )
    headers = ["engine rpm", "spreading", "short", "of that speed", "of all short"]
    return "\n\n".join(
        [heading("Engine speeds of the shortfall"), table(headers, rows, align="rrrrr")]
    )


def _cures_text(cures: Sequence[Cure], units: str) -> str:
    rows = []
    for cure in cures:
        if cure.needed is None:
            needed = f"none up to {show(cure.tried, cure.kind, units)}"
            note = f"{_percent(cure.leaves, 0)} of the short rows stay short"
        else:
            needed, note = show(cure.needed, cure.kind, units), cure.note
        rows.append([cure.what, show(cure.now, cure.kind, units), needed, note])
    return "\n\n".join(
        [
            heading("What would cure it"),
            paragraph("One change at a time, each the least that leaves no row short."),
            table(["change", "now", "needed", "note"], rows, align="lrrl"),
        ]
    )


def fleet_text(truck: str, found: Sequence[Replay], units: str) -> str:
    """Many logs, a row each, and all together."""
    rows = []
    for one in found:
        sums = one.totals
        rows.append(
            [
                one.log if len(one.log) <= 22 else "..." + one.log[-19:],
                clock(sums.time),
                f"{display_value(sums.distance, 'distance', units)[0]:.1f}",
                f"{display_value(sums.ordered, 'mass', units)[0]:.0f}",
                _percent(one.laid_share),
                clock(sums.short_time),
                f"{display_value(sums.short_distance, 'distance', units)[0]:.1f}",
                str(one.tally.left_out),
            ]
        )
    way, mass = (display_value(1.0, kind, units)[1] for kind in ("distance", "mass"))
    headers = ["log", "time", way, f"ordered {mass}", "laid", "short", f"short {way}", "bad rows"]
    ordered = sum(one.totals.ordered for one in found)
    laid = sum(one.totals.delivered for one in found) / ordered if ordered else np.nan
    return "\n\n".join(
        [
            heading(f"Routes of {truck}"),
            table(headers, rows, align="lrrrrrrr"),
            paragraph(
                f"All together {show(ordered, 'mass', units)} ordered, {_percent(laid)} laid."
            ),
        ]
    )


def replay_json(found: Replay, cures: Sequence[Cure], units: str) -> dict[str, object]:
    """A route for the JSON envelope: sums in SI, the short time by engine speed, the cures."""
    sums, tally = found.totals, found.tally
    used = np.flatnonzero(found.engine_spreading + found.engine_short > 0)

    def q(value: float, kind: str) -> object:
        return shown_json(value, kind, units)

    return {
        "log": found.log,
        "scenario": found.scenario.name,
        "tolerance": q(found.tolerance, "fraction"),
        "rows": tally.rows,
        "rows_used": tally.used,
        "rows_left_out": tally.left_out,
        "reasons": dict(tally.reasons),
        "bad_rows": [{"line": row.line, "why": row.why} for row in tally.first],
        "speed_held": {"rows": tally.held, "lines": tally.held_lines},
        "time": q(sums.time, "time"),
        "moving": q(sums.moving, "time"),
        "spreading": q(sums.spreading, "time"),
        "gaps": sums.gaps,
        "gap_time": q(sums.gap_time, "time"),
        "distance": q(sums.distance, "distance"),
        "spread_distance": q(sums.spread_distance, "distance"),
        "ordered": q(sums.ordered, "mass"),
        "put_down": q(sums.delivered, "mass"),
        "laid": found.laid_share,
        "lacking": q(sums.missing, "mass"),
        "too_much": q(sums.beyond, "mass"),
        "liquid": q(sums.liquid, "volume"),
        "heat": q(sums.heat, "energy"),
        "most_heat": q(sums.most_heat, "heat_flow"),
        "short_time": q(sums.short_time, "time"),
        "short_distance": q(sums.short_distance, "distance"),
        "short_rows": sums.short_rows,
        "starved": {
            name: q(float(time), "time")
            for name, time in zip(found.functions, found.starved, strict=True)
        },
        "limited_by": {name: q(time, "time") for name, time in found.limits.items()},
        "engine_speed": {
            "from": column(used * ENGINE_STEP, "rad/s"),
            "spreading": column(found.engine_spreading[used], "s"),
            "short": column(found.engine_short[used], "s"),
        },
        "stretches": found.stretches,
        "worst_stretch": _worst_json(found, units),
        "cures": [_cure_json(cure, units) for cure in cures],
    }


def _worst_json(found: Replay, units: str) -> dict[str, object] | None:
    worst = found.worst
    if worst is None:
        return None
    return {
        "start": shown_json(worst.start, "time", units),
        "lasts": shown_json(worst.lasts, "time", units),
        "distance": shown_json(worst.distance, "distance", units),
        "ordered": shown_json(worst.ordered, "mass", units),
        "put_down": shown_json(worst.delivered, "mass", units),
    }


def _cure_json(cure: Cure, units: str) -> dict[str, object]:
    needed = cure.needed
    return {
        "what": cure.what,
        "now": shown_json(cure.now, cure.kind, units),
        "needed": None if needed is None else shown_json(needed, cure.kind, units),
        "leaves": cure.leaves,
        "note": cure.note,
    }


class RowWriter:
    """Writes solved rows as CSV, block by block, units in the header."""

    COLUMNS = (
        ("time", "time", "time", 2),
        ("engine speed", "engine_speed", "shaft_speed", 0),
        ("road speed", "road_speed", "road_speed", 2),
        ("oil temperature", "oil_temperature", "temperature", 1),
        ("ordered discharge", "ordered", "mass_flow", 2),
        ("discharge", "delivered", "mass_flow", 2),
        ("lacking discharge", "missing", "mass_flow", 2),
        ("flow available", "available", "flow", 3),
        ("flow asked", "asked", "flow", 3),
        ("feeder speed", "shaft_speed", "shaft_speed", 2),
        ("oil heat", "heat", "heat_flow", 3),
    )

    def __init__(self, stream: IO[str], functions: Sequence[str], units: str) -> None:
        self.stream, self.units = stream, units
        self.starved = np.array([*(f'"{name}"' if "," in name else name for name in functions), ""])
        names = ["line"]
        names += [f"{name} [{self._unit(kind)}]" for name, _, kind, _ in self.COLUMNS]
        rate = self._unit("application_rate")
        names += [f"ordered rate [{rate}]", f"laid rate [{rate}]", "short", "starved"]
        stream.write(",".join(names) + "\n")

    def _unit(self, kind: str) -> str:
        return "s" if kind == "time" else display_value(1.0, kind, self.units)[1]

    def _number(self, kind: str) -> Callable[[float], float]:
        if kind == "time":
            return float
        return lambda value: display_value(value, kind, self.units)[0]

    def __call__(self, block: RowBlock) -> None:
        """One block. Units are straight lines, so that two values give the whole column."""
        columns: list[list[object]] = [block.lines.tolist()]
        forms = ["%d"]
        for _, attribute, kind, digits in self.COLUMNS:
            number = self._number(kind)
            shift = number(0.0)
            factor = number(1.0) - shift
            columns.append((getattr(block, attribute) * factor + shift).tolist())
            forms.append(f"%.{digits}f")
        factor = self._number("application_rate")(1.0)
        columns += [(block.rate * factor).tolist(), (block.laid * factor).tolist()]
        columns += [block.short.astype(np.int64).tolist(), self.starved[block.starved].tolist()]
        line = ",".join([*forms, "%.1f", "%.1f", "%d", "%s"]) + "\n"
        text = "".join([line % row for row in zip(*columns, strict=True)])
        self.stream.write(text.replace(",nan,", ",,"))
