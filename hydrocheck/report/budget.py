"""Flow budgets as text and as JSON."""

from __future__ import annotations

import numpy as np

from hydrocheck.report.envelope import column
from hydrocheck.report.shown import shown_json
from hydrocheck.report.text import heading, paragraph, table
from hydrocheck.studies.budget import Budget, starved
from hydrocheck.units import display_value, show

ROWS = 14


def budget_text(truck: str, budget: Budget, units: str) -> str:
    """The budget as a table by engine speed, with the speed that just meets the demand."""
    at = show(budget.oil_temperature, "temperature", units)
    flow_unit = display_value(1.0, "flow", units)[1]
    headers = ["engine rpm", "available", "demand", *budget.functions, "short"]
    rows = []
    for n in _chosen(budget):
        values = [
            budget.available[n],
            budget.total_demand[n],
            *budget.delivered[n],
            budget.shortfall[n],
        ]
        mark = "" if not _in_band(budget, budget.engine_speed[n]) else " *"
        rpm = display_value(float(budget.engine_speed[n]), "shaft_speed", units)[0]
        cells = [f"{display_value(float(v), 'flow', units)[0]:.1f}" for v in values]
        rows.append([f"{rpm:.0f}{mark}", *cells])
    active = [m for m, _ in enumerate(budget.functions) if (budget.demand[:, m] > 0).any()]
    keep = [0, 1, 2, *(3 + m for m in active), len(headers) - 1]
    headers = [headers[k] for k in keep]
    rows = [[row[k] for k in keep] for row in rows]
    return "\n\n".join(
        [
            heading(f"Flow budget of {truck}"),
            paragraph(
                f"Scenario {budget.scenario}, oil {at}. Flows in {flow_unit}: what the pump can "
                "give, what is demanded, what each function gets, what they lack together. "
                "* marks the working band."
            ),
            table(headers, rows, align="r" * len(headers)),
            paragraph(verdict_text(budget, units)),
        ]
    )


def verdict_text(budget: Budget, units: str) -> str:
    """Where the demand is just met, and who falls short below."""
    low, high = (float(budget.engine_speed[k]) for k in (0, -1))
    short = ", ".join(starved(budget))
    if budget.least_speed is None or budget.least_speed > high:
        top = show(high, "shaft_speed", units)
        text = f"No engine speed up to {top} meets the whole demand; short: {short}."
        if (budget.available >= budget.total_demand).any():
            text += " Where the pump could give enough, pressure falls short: see check."
        return text
    least = show(budget.least_speed, "shaft_speed", units)
    if budget.least_speed <= low:
        return f"Every demand is met from {show(low, 'shaft_speed', units)} up."
    text = f"The demand is just met at an engine speed of {least}"
    if budget.working is not None:
        start, end = budget.working
        side = "below" if budget.least_speed < start else "in"
        side = "above" if budget.least_speed > end else side
        start_shown, end_shown = (show(v, "shaft_speed", units) for v in (start, end))
        text += f", {side} the working band of {start_shown} to {end_shown}"
    return text + "." + (f" Below that speed fall short: {short}." if short else "")


def _in_band(budget: Budget, speed: float) -> bool:
    band = budget.working
    return band is not None and band[0] - 1e-9 <= speed <= band[1] + 1e-9


def _chosen(budget: Budget) -> list[int]:
    """About `ROWS` rows of the budget, ends included."""
    size = budget.engine_speed.size
    return sorted({round(i) for i in np.linspace(0, size - 1, min(size, ROWS))})


def budget_json(budget: Budget, units: str) -> dict[str, object]:
    """The budget for the JSON envelope; columns in SI."""
    least = budget.least_speed
    return {
        "scenario": budget.scenario,
        "oil_temperature": shown_json(budget.oil_temperature, "temperature", units),
        "least_engine_speed": None if least is None else shown_json(least, "shaft_speed", units),
        "starved": starved(budget),
        "engine_speed": column(budget.engine_speed, "rad/s"),
        "available": column(budget.available, "m3/s"),
        "shortfall": column(budget.shortfall, "m3/s"),
        "pump_pressure": column(budget.pressure, "Pa"),
        "functions": {
            name: {
                "demand": column(budget.demand[:, m], "m3/s"),
                "delivered": column(budget.delivered[:, m], "m3/s"),
            }
            for m, name in enumerate(budget.functions)
        },
    }
