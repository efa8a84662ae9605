"""The spec page of a sizing: one HTML file in neutral words, fit for a bid."""

from __future__ import annotations

import io
from typing import Any

from hydrocheck.advice.sizing import Sizing, require_chosen
from hydrocheck.advice.sizing_bill import bill
from hydrocheck.checks.finding import ORDER
from hydrocheck.model.needs import NeededFunction, Needs
from hydrocheck.model.truck import Task
from hydrocheck.report.budgetplot import budget_figure
from hydrocheck.report.findings import CAUTIONS, LIMITS_OF_USE
from hydrocheck.report.sizing import count_text
from hydrocheck.studies.budget import Budget, flow_budget
from hydrocheck.units import show, to_unit

PAGE = """\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{ title }}</title>
<style>
body { font: 14px/1.45 sans-serif; color: #111; max-width: 60em; margin: 2em auto; padding: 0 1em; }
h1 { font-size: 1.5em; } h2 { font-size: 1.15em; margin: 1.8em 0 .4em; }
table { border-collapse: collapse; width: 100%; margin: .4em 0 1em; }
th, td { border: 1px solid #999; padding: .3em .5em; text-align: left; vertical-align: top; }
th { background: #eee; } td.n { white-space: nowrap; }
.figure svg { width: 100%; height: auto; } .note { color: #333; font-size: .92em; }
tr, .figure { break-inside: avoid; } h2 { break-after: avoid; }
@media (max-width: 40em) { th, td { padding: .2em .3em; font-size: .9em; } }
@media print { body { margin: 0; max-width: none; font-size: 12px; } }
</style>
</head>
<body>
<h1>{{ title }}</h1>
<p>{{ about }}</p>
<h2>1. What the hydraulic system must do</h2>
<table>
<tr><th>function</th><th>what it moves</th></tr>
{% for name, what in functions %}<tr><td class="n">{{ name }}</td><td>{{ what }}</td></tr>
{% endfor %}</table>
<table>
<tr><th>together</th><th>engine</th><th>work</th></tr>
{% for name, engine, work in scenarios %}<tr><td class="n">{{ name }}</td><td>{{ engine }}</td>\
<td>{{ work }}</td></tr>
{% endfor %}</table>
<table>
{% for name, value in conditions %}<tr><th>{{ name }}</th><td>{{ value }}</td></tr>
{% endfor %}</table>
<h2>2. Sizes</h2>
<p>Equal or better is accepted where the requirement in the last column is still met.</p>
<table>
<tr><th>part</th><th>item</th><th>no.</th><th>size</th><th>ruled by</th></tr>
{% for i in items %}<tr><td>{{ i.group }}</td><td>{{ i.item }}</td><td>{{ i.count }}</td>\
<td>{{ i.size }}</td><td>{{ i.rule }}</td></tr>
{% endfor %}</table>
<h2>3. Flow budget</h2>
<div class="figure">{{ figure|safe }}</div>
<p class="note">Flow that the pump can give and that the scenario demands against engine speed, \
parts as new.</p>
<h2>4. How it was found</h2>
<p>{{ count }}</p>
<p>{{ checked }}</p>
<p class="note">{{ cautions }}</p>
<p class="note">{{ limits }}</p>
</body>
</html>
"""


def sizing_page(sizing: Sizing, units: str) -> str:
    """The spec page. Raises MissingValue where no circuit fits."""
    from jinja2 import Environment, StrictUndefined

    made = require_chosen(sizing)
    needs = sizing.needs
    findings = made.findings
    counted = {v: sum(f.verdict == v for f in findings) for v in ORDER}
    template = Environment(autoescape=True, undefined=StrictUndefined).from_string(PAGE)
    return template.render(
        title=f"{needs.name}: hydraulic system",
        about=needs.truck.about,
        functions=[(f.name, _moved(f, units)) for f in needs.function],
        scenarios=[
            (s.name, _engine(s.engine, units), "; ".join(_task(t, units) for t in s.run))
            for s in needs.scenario
        ],
        conditions=_conditions(needs, units),
        items=[
            {
                "group": i.group,
                "item": i.item,
                "count": i.count or "-",
                "size": i.size.shown(units),
                "rule": i.rule.shown(units),
            }
            for i in bill(sizing)
        ],
        figure=_svg(made.truck.name, main_budget(sizing), units),
        count=count_text(sizing),
        checked=(
            f"Findings about this truck as new: {counted['pass']} pass, {counted['caution']} are "
            f"cautions, {counted['fail']} fail; {counted['not checked']} wait for values of the "
            "parts' makers."
        ),
        cautions=CAUTIONS,
        limits=LIMITS_OF_USE,
    )


def main_budget(sizing: Sizing) -> Budget:
    """The flow budget of the chosen truck in the scenario that leaves least in hand, hot oil."""
    made = require_chosen(sizing)
    truck = made.truck
    hot = truck.oil.hot
    budgets = [
        flow_budget(truck, s, oil_temperature=None if hot is None else float(hot))
        for s in truck.scenario
    ]
    return max(budgets, key=lambda b: float(b.total_demand.max()))


def _svg(name: str, budget: Budget, units: str) -> str:
    """The figure as SVG without its XML head."""
    import matplotlib as mpl

    buffer = io.StringIO()
    with mpl.rc_context({"svg.hashsalt": "hydrocheck"}):
        budget_figure(name, budget, units).savefig(buffer, format="svg", metadata={"Date": None})
    text = buffer.getvalue()
    return text[text.index("<svg") :]


def _moved(function: NeededFunction, units: str) -> str:
    if function.cylinder is not None:
        part = function.cylinder
        return (
            f"{part.count} {part.acting}-acting cylinder(s), stroke "
            f"{_shown(part.stroke, 'length', units)}, "
            f"{_shown(part.extend_load, 'force', units)} in "
            f"{_shown(part.extend_time, 'time', units)}"
        )
    if function.flow is not None:
        flow, pressure = function.flow, function.pressure
        return f"{_shown(flow, 'flow', units)} at {_shown(pressure, 'pressure', units)}"
    if function.liquid is not None:
        duty = function.liquid
        size = _shown(duty.displacement, "displacement", units)
        return f"liquid pump of {size} at {_shown(duty.pressure, 'pressure', units)}"
    load = function.load
    assert load is not None
    if load.hopper is not None or load.screw is not None:
        return "shaft torque of a feeder under its material"
    keys = ("constant", "linear", "square")
    parts = [f"{_shown(t, 'torque', units)} {k}" for k in keys if (t := getattr(load, k))]
    at = f" at {_shown(load.at, 'shaft_speed', units)}" if load.at is not None else ""
    start = f", {load.breakaway:g} times as much to start" if load.breakaway is not None else ""
    top = ""
    if function.max_speed is not None:
        top = f"; never above {_shown(function.max_speed, 'shaft_speed', units)}"
    return f"shaft torque {' + '.join(parts)}{at}{start}{top}"


def _task(task: Task, units: str) -> str:
    if task.rate is not None:
        rate = _shown(task.rate, "application_rate", units)
        return f"{task.name} {rate} at {_shown(task.road_speed, 'road_speed', units)}"
    if task.motion is not None:
        return f"{task.name} {task.motion}s"
    kind = "shaft_speed" if task.speed is not None else "flow"
    return f"{task.name} {_shown(task.speed if task.speed is not None else task.flow, kind, units)}"


def _engine(engine: str | float, units: str) -> str:
    return engine if isinstance(engine, str) else show(engine, "shaft_speed", units)


def _conditions(needs: Needs, units: str) -> list[tuple[str, str]]:
    engine, oil = needs.engine, needs.oil
    low, high = engine.working or (0.0, 0.0)
    return [
        (
            "engine",
            f"idle {_shown(engine.idle, 'shaft_speed', units)}, working "
            f"{_shown(low, 'shaft_speed', units)} to {_shown(high, 'shaft_speed', units)}, "
            f"governed {_shown(engine.governed, 'shaft_speed', units)}",
        ),
        (
            "oil",
            f"start {_shown(oil.cold, 'temperature', units)}, all work from "
            f"{_shown(needs.warmed_up, 'temperature', units)} to "
            f"{_shown(oil.hot, 'temperature', units)}",
        ),
        (
            "in hand",
            f"{_shown(needs.margins.flow, 'fraction', units)} of flow at the lowest engine speed "
            f"of each scenario, with {needs.margins.pump_wear:g} times (pump) and "
            f"{needs.margins.motor_wear:g} times (motors) the rated slip added by wear",
        ),
        ("altitude", _height(float(needs.ambient.altitude), units)),
    ]


def _height(value: float, units: str) -> str:
    """A height above the sea, which is not told in inches."""
    unit = "ft" if units == "us" else "m"
    return f"{to_unit(value, 'length', unit):.0f} {unit}"


def _shown(value: Any, kind: str, units: str) -> str:
    return show(float(value), kind, units)
