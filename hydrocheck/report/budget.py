"""Flow budgets as text, as JSON and as a figure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hydrocheck.report.envelope import column, quantity
from hydrocheck.report.text import heading, paragraph, table
from hydrocheck.studies.budget import Budget, starved
from hydrocheck.units import KINDS, display_value, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROWS = 14
LIGHTEST, DARKEST = 0.88, 0.58
HATCHES = ("", "////", "....", "\\\\\\\\", "xxxx", "oo")


def budget_text(truck: str, budget: Budget, units: str) -> str:
    """The budget as a table by engine speed, with the speed that just meets the demand."""
    at = show(budget.oil_temperature, "temperature", units)
    flow_unit = display_value(1.0, "flow", units)[1]
    headers = ["engine rpm", f"available {flow_unit}", "demand", *budget.functions, "short"]
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
            f"scenario {budget.scenario}, oil {at}; flows in {flow_unit}; * working band",
            table(headers, rows, align="r" * len(headers)),
            paragraph(_verdict(budget, units)),
        ]
    )


def _verdict(budget: Budget, units: str) -> str:
    if budget.least_speed is None:
        short = ", ".join(starved(budget)) or "some function"
        return f"No engine speed in range meets the whole demand; short: {short}."
    least = show(budget.least_speed, "shaft_speed", units)
    text = f"The demand is just met at an engine speed of {least}."
    if budget.working is not None:
        low = budget.working[0]
        side = "below" if budget.least_speed <= low else "above"
        text += (
            f" That is {side} the low end of the working band, {show(low, 'shaft_speed', units)}."
        )
    short = starved(budget)
    return text + (f" Short below that: {', '.join(short)}." if short else "")


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
        "oil_temperature": _quantity(budget.oil_temperature, "temperature", units),
        "least_engine_speed": None if least is None else _quantity(least, "shaft_speed", units),
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


def _quantity(value: float, kind: str, units: str) -> dict[str, object]:
    return dict(quantity(value, KINDS[kind].si, show(value, kind, units)))


def budget_figure(truck: str, budget: Budget, units: str) -> Figure:
    """Flow available and demanded, stacked by function, against engine speed.

    Readable without colour: functions differ in grey and hatch and are named where they lie.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 4.6), layout="constrained")
    axes = figure.add_subplot()
    rpm = np.array([display_value(float(v), "shaft_speed", units)[0] for v in budget.engine_speed])
    scale = display_value(1.0, "flow", units)[0]
    unit = display_value(1.0, "flow", units)[1]
    available, demand = budget.available * scale, budget.demand * scale
    total = demand.sum(axis=1)
    top = 1.18 * max(float(available.max()), float(total.max()))
    _shade_band(axes, budget, units, top)
    _stack(axes, rpm, demand, budget.functions, top)
    axes.plot(rpm, total, color="0.15", linewidth=1.4, linestyle=(0, (5, 2)))
    axes.plot(rpm, available, color="black", linewidth=2.2)
    _label_curve(axes, rpm, available, "pump can give", 0.80)
    _label_curve(axes, rpm, total, "demanded", 0.72)
    _mark_shortfall(axes, rpm, available, total, budget.shortfall * scale, unit)
    _mark_least(axes, budget, units, rpm, total)
    axes.set_xlim(float(rpm.min()), float(rpm.max()))
    axes.set_ylim(0, top)
    axes.set_xlabel("engine speed, rpm")
    axes.set_ylabel(f"flow, {unit}")
    oil = show(budget.oil_temperature, "temperature", units)
    axes.set_title(f"{truck}: {budget.scenario}, oil {oil}", fontsize=10, loc="left", wrap=True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return figure


def _shade_band(axes: Axes, budget: Budget, units: str, top: float) -> None:
    if budget.working is None:
        return
    low, high = (display_value(v, "shaft_speed", units)[0] for v in budget.working)
    axes.axvspan(low, high, color="0.93", zorder=0)
    axes.text((low + high) / 2, top * 0.985, "working\nband", ha="center", va="top", fontsize=8)


def _stack(
    axes: Axes, rpm: np.ndarray, demand: np.ndarray, names: tuple[str, ...], top: float
) -> None:
    """Demands on top of each other, each named inside its layer (or beside it, if too thin)."""
    active = [m for m in range(len(names)) if (demand[:, m] > 0).any()]
    base = np.zeros(rpm.size)
    for place, m in enumerate(active):
        grey = LIGHTEST - (LIGHTEST - DARKEST) * place / max(len(active) - 1, 1)
        upper = base + demand[:, m]
        axes.fill_between(
            rpm,
            base,
            upper,
            facecolor=str(grey),
            edgecolor="0.35",
            linewidth=0.6,
            hatch=HATCHES[place % len(HATCHES)],
            zorder=1,
        )
        at = int(0.93 * (rpm.size - 1))
        height = float(upper[at] - base[at])
        inside = height > 0.045 * top
        box = {
            "boxstyle": "round,pad=0.15",
            "facecolor": "white",
            "edgecolor": "none",
            "alpha": 0.9,
        }
        if inside:
            axes.text(
                rpm[at],
                base[at] + height / 2,
                names[m],
                ha="right",
                va="center",
                fontsize=8,
                bbox=box,
                zorder=3,
            )
        else:
            axes.annotate(
                names[m],
                (rpm[at], base[at] + height / 2),
                (rpm[int(0.80 * (rpm.size - 1))], base[at] + height / 2 + 0.06 * top),
                ha="right", va="bottom", fontsize=8, bbox=box, zorder=3,
                arrowprops={"arrowstyle": "-", "linewidth": 0.6},
            )  # fmt: skip
        base = upper


def _label_curve(axes: Axes, rpm: np.ndarray, curve: np.ndarray, label: str, share: float) -> None:
    at = int(share * (rpm.size - 1))
    axes.annotate(
        label,
        (rpm[at], curve[at]),
        (-4, 7),
        textcoords="offset points",
        ha="right",
        fontsize=9,
        zorder=4,
    )


def _mark_shortfall(
    axes: Axes,
    rpm: np.ndarray,
    available: np.ndarray,
    total: np.ndarray,
    short: np.ndarray,
    unit: str,
) -> None:
    lacking = short > 1e-6 * np.maximum(total, 1e-12)
    if not lacking.any():
        return
    axes.fill_between(
        rpm,
        np.minimum(available, total),
        total,
        where=list(lacking),
        facecolor="none",
        edgecolor="black",
        hatch="|||",
        linewidth=0.0,
        zorder=2,
    )
    worst = int(np.argmax(short))
    axes.annotate(
        f"short by up to {short[worst]:.1f} {unit}",
        (rpm[worst], total[worst]),
        (12, 24),
        textcoords="offset points",
        fontsize=9,
        arrowprops={"arrowstyle": "-", "linewidth": 0.8},
        zorder=4,
    )


def _mark_least(axes: Axes, budget: Budget, units: str, rpm: np.ndarray, total: np.ndarray) -> None:
    if budget.least_speed is None:
        return
    least = display_value(budget.least_speed, "shaft_speed", units)[0]
    if not rpm.min() < least < rpm.max():
        return
    height = float(np.interp(least, rpm, total))
    axes.plot([least, least], [0, height], color="black", linewidth=1.0, linestyle=":", zorder=3)
    axes.plot([least], [height], marker="o", color="black", markersize=5, zorder=4)
    axes.annotate(
        f"met from {least:.0f} rpm",
        (least, 0),
        (4, 5),
        textcoords="offset points",
        fontsize=8,
        rotation=90,
        va="bottom",
        zorder=4,
    )
