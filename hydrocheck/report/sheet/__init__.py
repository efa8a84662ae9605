"""The set-up sheet: one self-contained HTML page to print, or to fill in on a phone.

Three files beside this one make the page: `page.html` (a jinja2 template that escapes all that it
is given), `page.css` and `page.js`. The page takes nothing from elsewhere: its policy allows the
one script by its hash and refuses every connection.
"""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import dataclass
from importlib import resources
from typing import TYPE_CHECKING

from hydrocheck.checks import Finding, inspect
from hydrocheck.errors import HydrocheckError
from hydrocheck.model.readings import Readings
from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.report.boost import boost_rows
from hydrocheck.report.control import control_rows
from hydrocheck.report.figures import wrapped_title
from hydrocheck.report.sheet import texts, view
from hydrocheck.report.sheet.room import Contents, room_for
from hydrocheck.report.sheet.view import Field
from hydrocheck.report.trimgrid import current_text
from hydrocheck.report.trims import (
    drive_rows,
    maximum_words,
    minimum_words,
    overspeed_words,
    pump_words,
)
from hydrocheck.studies.budget import flow_budget
from hydrocheck.studies.setup import SetUp, set_up, speed_curves
from hydrocheck.studies.spreading import SpreadOrder, spread_table
from hydrocheck.studies.trims import Prediction, predict_trims, with_predicted
from hydrocheck.studies.valvedrive import valve_drive
from hydrocheck.units import show

if TYPE_CHECKING:
    from matplotlib.figure import Figure

STEPS = {
    "pressures": "Check the pressures",
    "flow and speed": "Check flow and speed",
    "trims": "Set the trims",
    "catch test": "Catch and weigh",
}


PICTURE = (5.0, 3.3)
"""Size of a figure [in]: small, so that its words stay large on a phone and on half a page."""
TITLE_WIDTH = 52

MOST_UNCHECKED = 25
"""Findings without their values that the sheet lists; it has room for four pages."""


@dataclass(frozen=True)
class Picture:
    """A figure as a data address, with its text for who cannot see it."""

    address: str
    about: str


@dataclass(frozen=True)
class Sheet:
    """A sheet: its blanks, what could not be predicted, readings without a blank, the page."""

    fields: tuple[Field, ...]
    gaps: tuple[str, ...]
    others: tuple[view.Other, ...]
    html: str


def make_sheet(truck: Truck, units: str, readings: Readings | None = None) -> Sheet:
    """The sheet of a truck, filled with readings where there are any. Raises MissingValue."""
    prediction = predict_trims(truck)
    known = with_predicted(truck, prediction)
    setup = set_up(known, prediction)
    blanks = view.fields_of(setup, units)
    given = view.Filled() if readings is None else view.filled(blanks, readings)
    fields = view.put_in(blanks, given)
    pictures, missed = _pictures(known, setup, units)
    gaps = (*setup.gaps, *missed)
    findings = inspect(truck)
    open_ones = [_finding(f, units) for f in findings if f.verdict in ("fail", "caution")]
    unchecked = [_finding(f, units)[1:3] for f in findings if f.verdict == "not checked"]
    circuit = view.circuit_rows(truck, units)
    functions = view.function_rows(truck, units)
    settings = view.setting_rows(truck, texts.WHERE, units)
    notes = _trim_notes(known, prediction, units)
    control = control_rows(truck, prediction, units)
    spread = _spread(known, units)
    style, script = (_part(name) for name in ("page.css", "page.js"))
    context = {
        "truck": truck,
        "policy": _policy(script),
        "style": style,
        "script": script,
        "key": _key(fields, truck.name, given),
        "file_name": _slug(truck.name) + "-readings.json",
        "texts": texts,
        "given": given,
        "circuit": circuit,
        "function_head": view.FUNCTION_HEAD,
        "functions": functions,
        "settings": settings,
        "warm_up": _of(fields, "warm-up"),
        "steps": [(title, step, _of(fields, step)) for step, title in STEPS.items()],
        "running": _running(setup, units),
        "trim_notes": notes,
        "control": control,
        "pictures": pictures,
        "findings": open_ones,
        "unchecked": unchecked,
        "most_unchecked": MOST_UNCHECKED,
        "passed": sum(f.verdict == "pass" for f in findings),
        "spread": spread,
        "room": room_for(
            Contents(
                fields=fields,
                circuit=[*circuit, *functions, *settings],
                notes=notes,
                control=control,
                spread=spread[2] if spread else [],
                findings=open_ones,
                others=given.others,
                remarks=[*("".join(part) for part in unchecked[:MOST_UNCHECKED]), *gaps],
            )
        ),
        "gaps": gaps,
        "defaults": len(truck.defaults_used),
        "tolerances": len(prediction.tolerances),
    }
    return Sheet(fields, gaps, given.others, _render(context))


def _of(fields: tuple[Field, ...], step: str) -> list[Field]:
    return [f for f in fields if f.step == step]


def _part(name: str) -> str:
    return resources.files("hydrocheck.report.sheet").joinpath(name).read_text(encoding="utf-8")


def _policy(script: str) -> str:
    """What the page may do: show its pictures and run its own script, nothing else."""
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii")
    return (
        "default-src 'none'; img-src data:; style-src 'unsafe-inline'; "
        f"script-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    )


def _render(context: dict[str, object]) -> str:
    from jinja2 import Environment, StrictUndefined

    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(_part("page.html")).render(context)


def _key(fields: tuple[Field, ...], name: str, given: view.Filled) -> str:
    """Under which the browser keeps what is filled in: another truck or prediction, another key."""
    content = repr([name, [(f.label, f.expected, f.low, f.high) for f in fields], given.values])
    return "sheet-" + hashlib.sha256(content.encode()).hexdigest()[:20]


def _slug(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:60] or "truck"


def _running(setup: SetUp, units: str) -> str:
    """What runs while pressures, flows and speeds are measured."""
    if not setup.commands:
        return ""
    told = [f"{name} {100 * command:.1f} %" for name, command in setup.commands.items()]
    low, high = (show(v, "shaft_speed", units) for v in setup.engine_speed)
    return (
        f"Commands by hand ({setup.scenario}): {', '.join(told)}. "
        f"Engine at {low}, the low end of the working band ({high} where the high end stands)."
    )


def _trim_notes(truck: Truck, prediction: Prediction, units: str) -> list[tuple[str, list[str]]]:
    """What the installer should know of each function's trims."""
    engine = show(prediction.engine_speed, "shaft_speed", units)
    notes = []
    for trim in prediction.trims:
        told = ["minimum " + minimum_words(trim), "maximum " + maximum_words(trim)]
        told.append("pump " + pump_words(trim, engine))
        if trim.overspeed is not None:
            told.append("caution: " + overspeed_words(trim))
        drive = valve_drive(truck, truck.function_named(trim.function))
        told += [f"{label}: {text}" for label, text in drive_rows(trim, drive)]
        told += [f"{label}: {text}" for label, text in boost_rows(truck, trim)]
        if currents := current_text(trim, drive, units):
            told.append(f"coil current by oil and hopper, engine at {engine}: {currents}")
        notes.append((trim.function, told))
    notes += [(name, [f"not predicted: {why}"]) for name, why in prediction.not_predicted]
    return notes


def _finding(finding: Finding, units: str) -> tuple[str, str, str, str]:
    """Verdict, what and about what, why, what to change."""
    judged = finding.judgement
    change = "" if judged.change is None else judged.change.shown(units)
    name = f"{finding.id} ({finding.subject})"
    return finding.verdict, name, judged.reason.shown(units), change


def _spread(truck: Truck, units: str) -> tuple[str, tuple[str, ...], list[tuple[str, ...]]] | None:
    oil = truck.oil.working
    try:
        order = SpreadOrder(oil_temperature=None if oil is None else float(oil))
        table = spread_table(truck, order)
    except HydrocheckError:
        return None
    return table.feeder, *view.spread_cells(table, units)


def _pictures(truck: Truck, setup: SetUp, units: str) -> tuple[list[Picture], list[str]]:
    """The flow budget and the speeds of the scenario, and what could not be drawn."""
    if not setup.scenario:
        return [], ["figures: need a [[scenario]] without a moving cylinder"]
    scenario = truck.scenario_named(setup.scenario)
    drawn: list[Picture] = []
    missed: list[str] = []
    for name, draw in (("flow budget", _budget_picture), ("speeds", _speed_picture)):
        try:
            drawn.append(draw(truck, scenario, units))
        except HydrocheckError as error:
            missed.append(f"figure of the {name}: {error}")
    return drawn, missed


def _budget_picture(truck: Truck, scenario: Scenario, units: str) -> Picture:
    from hydrocheck.report.budget import verdict_text
    from hydrocheck.report.budgetplot import budget_figure

    budget = flow_budget(truck, scenario)
    figure = budget_figure(truck.name, budget, units)
    _fit(figure, f"flow, {scenario.name}, oil {show(budget.oil_temperature, 'temperature', units)}")
    return Picture(
        _address(figure),
        "Flow that the pump can give and flow demanded, against engine speed. "
        + verdict_text(budget, units),
    )


def _speed_picture(truck: Truck, scenario: Scenario, units: str) -> Picture:
    from hydrocheck.report.speedplot import speed_figure

    curves = speed_curves(truck, scenario)
    figure = speed_figure(truck.name, curves, truck.engine.working, units)
    _fit(
        figure, f"speed, {scenario.name}, oil {show(curves.oil_temperature, 'temperature', units)}"
    )
    idle = ", ".join(
        f"{name} {100 * share:.0f} %"
        for name, share in zip(curves.functions, curves.share[0], strict=True)
    )
    return Picture(
        _address(figure),
        "Speed of each function in percent of the wanted one, against engine speed. "
        f"At idle: {idle}.",
    )


def _fit(figure: Figure, title: str) -> None:
    """A figure in the size of the sheet, its title in what then fits: the truck stands above."""
    figure.set_size_inches(*PICTURE)
    title = wrapped_title(title, 2, TITLE_WIDTH)
    figure.axes[0].set_title(title, fontsize=9, loc="left", pad=16, parse_math=False)


def _address(figure: Figure) -> str:
    """A figure as SVG in a data address: equal figures are equal texts, no script in it runs."""
    from hydrocheck.report.figures import figure_bytes

    data = base64.b64encode(figure_bytes(figure, "svg")).decode("ascii")
    return f"data:image/svg+xml;base64,{data}"
