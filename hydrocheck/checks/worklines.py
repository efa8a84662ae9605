"""Lines to and from the functions: velocities, and the pressure that lines take altogether."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import (
    Amount,
    Judgement,
    Words,
    at_least,
    at_most,
    eased,
    upper,
    words,
)
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.checks.watched import line_drops, line_shares
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Line
from hydrocheck.model.truck import Scenario
from hydrocheck.physics import lines
from hydrocheck.solver import solve
from hydrocheck.studies.work import Solved, most_flow

Array = NDArray[np.float64]

AREA = "lines and inlet"

_STEP = 0.0254 / 16.0  # bores are tried by sixteenths of an inch
_TRIED = 32


def _work_lines(truck: Truck) -> list[tuple[str, Line]]:
    """Lines between a section and its motor or cylinder."""
    fitted = {name for name, _ in subjects.functions(truck)}
    roles = ("work supply", "work return")
    return [(f"{n.name} line", n) for n in truck.lines if n.carries in roles and n.of in fitted]


def _largest_flow(look: Inspection, line: Line) -> float:
    """Most that a work line carries [m3/s]: its section at the maximum trim, or the whole pump."""
    function = look.truck.function_named(line.of or "")
    flow = min(most_flow(function), look.full_flow(look.pump))
    if not np.isfinite(most_flow(function)):
        raise MissingValue([f"{function.name}.section.rated_flow"])
    return flow


@check(
    "work-line-velocity",
    area=AREA,
    asks="Is the line between section and function wide enough for the most that it can carry?",
    formula="v = Q / A, Q the section flow at the maximum trim (at most the pump's theoretical)",
    limit="{pressure_velocity} on the supply side, {return_velocity} on the return side",
    source="FED-STD-794, p. 10; return from common practice",
    subjects=_work_lines,
)
def work_line_velocity(look: Inspection, line: Line) -> Judgement:
    """Velocity in a work line at the largest section flow."""
    limits = look.truck.limits
    supply = line.carries == "work supply"
    limit = float(limits.pressure_velocity if supply else limits.return_velocity)
    flow, bore = _largest_flow(look, line), look.bore(line)
    return upper(
        Amount(float(lines.velocity(flow, bore)), "velocity"),
        Amount(limit, "velocity"),
        about="velocity in the line",
        change=words(
            "a bore of {bore} or more",
            bore=at_least(float(lines.bore_for_velocity(flow, limit)), "length"),
        ),
        at={"flow": Amount(flow, "flow")},
        given={"Q": Amount(flow, "flow"), "bore": Amount(bore, "length")},
    )


def _coupled(truck: Truck) -> list[tuple[str, Line]]:
    return [(label, line) for label, line in _work_lines(truck) if line.coupling]


@check(
    "coupling-drop",
    area=AREA,
    asks="Do the quick couplings of a line pass its flow without much loss?",
    formula="dp = sum of rated drop x (Q / rated flow)^2, Q as in work-line-velocity",
    limit="{coupling_drop} a line; more is a caution",
    source="square law of a part known by one flow and drop",
    subjects=_coupled,
)
def coupling_drop(look: Inspection, line: Line) -> Judgement:
    """Drop of a line's quick couplings at the largest flow."""
    flow = _largest_flow(look, line)
    shares = [(flow / float(c.rated_flow)) ** 2 for c in line.coupling]
    if flow <= 0.0:
        return Judgement("pass", words("no flow can be asked of it"))
    most = float(look.truck.limits.coupling_drop)
    drop = sum(float(c.rated_drop) * share for c, share in zip(line.coupling, shares, strict=True))
    judged = upper(
        Amount(drop, "pressure_drop"),
        Amount(most, "pressure_drop"),
        about="drop of the quick couplings",
        at={"flow": Amount(flow, "flow")},
        given={"rated flow": Amount(float(line.coupling[0].rated_flow), "flow")},
        change=words(
            "couplings that lose {drop} or less at their rated flow",
            drop=at_most(most / sum(shares), "pressure_drop"),
        ),
    )
    return eased(judged)


@check(
    "line-loss",
    area=AREA,
    asks="Do the lines take only a small part of the pump's pressure?",
    formula=(
        "drop of pressure line, work lines and return (couplings and filter included) on the way "
        "of the highest load / pump pressure"
    ),
    limit="{line_share} at the scenario's own points; more is a caution",
    source="steady-state balance",
    subjects=subjects.scenarios,
)
def line_loss(look: Inspection, scenario: Scenario) -> Judgement:
    """Share of the pump's pressure that lines take."""
    solved = look.solved(scenario)
    shares, heaviest = line_shares(look.truck, solved.result)
    n = int(np.argmax(shares))
    if shares[n] <= 0.0:
        return Judgement("pass", words("no line takes part"))
    name = solved.result.functions[int(heaviest[n])]
    judged = upper(
        Amount(float(shares[n]), "fraction"),
        Amount(float(look.truck.limits.line_share), "fraction"),
        about="share of the pump's pressure lost in lines",
        at={
            "function": name,
            "engine": Amount(float(solved.result.engine_speed[n]), "shaft_speed"),
            "oil": Amount(float(solved.result.oil_temperature[n]), "temperature"),
        },
    )
    if judged.verdict == "pass":
        return judged
    change = _wider(look, solved, name, n)
    return replace(judged, verdict="caution", change=change)


def _wider(look: Inspection, solved: Solved, name: str, n: int) -> Words:
    """The least bore, by sixteenths of an inch, that cures it in the line that loses most."""
    result = solved.result
    drops = line_drops(look.truck, result, np.full(result.size, result.column(name)))
    for role in sorted(drops, key=lambda r: -float(drops[r][n])):
        mine = [x for x in look.truck.lines if x.carries == role and x.of in (name, None)]
        if role == "pressure":
            mine = [look.line(role, look.pump)]
        if len(mine) != 1 or mine[0].bore is None:
            continue
        line = mine[0]
        bores: Array = float(line.bore or 0.0) + _STEP * np.arange(1.0, _TRIED + 1.0)
        for bore in _cured(look, solved, line.name, bores):
            return words(
                "a bore of {bore} or more in the line {line}, which loses most",
                bore=at_least(float(bore), "length"),
                line=line.name,
            )
        worst = Amount(float(drops[role][n]), "pressure_drop")
        return words(
            "none found in one line alone: {line} loses most, {drop}", line=line.name, drop=worst
        )
    return words("none found")


def _cured(look: Inspection, solved: Solved, name: str, bores: Array) -> Array:
    """Those of the bores with which every point of a scenario passes."""
    size, count = solved.result.size, bores.size
    points = solved.work.points.take(np.repeat(np.arange(size), count))
    truck = look.truck.vary(f"lines.{name}.bore", np.tile(bores, size))
    shares, _ = line_shares(truck, solve(truck, points))
    return bores[(shares <= float(look.truck.limits.line_share)).reshape(size, count).all(axis=0)]
