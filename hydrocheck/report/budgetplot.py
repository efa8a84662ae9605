"""A flow budget as a figure: flow available and demanded against engine speed."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hydrocheck.report.figures import open_corner, wrapped_title
from hydrocheck.report.text import printable
from hydrocheck.studies.budget import ENOUGH, Budget
from hydrocheck.units import display_value, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

LIGHTEST, DARKEST = 0.90, 0.62
HATCHES = ("", "////", "....", "\\\\\\\\", "xxxx", "oo")
NAME_WIDTH = 26
ROOM = 1.15  # height of the axes over the highest curve
SPACING = 0.058  # between function names, share of that height
BOX = {"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": "none", "alpha": 0.92}
LEADER = {"arrowstyle": "-", "linewidth": 0.7, "color": "0.25", "shrinkA": 0, "shrinkB": 0}


def budget_figure(truck: str, budget: Budget, units: str) -> Figure:
    """Flow available and demanded, stacked by function, against engine speed.

    Readable without colour: functions differ in grey and hatch and are named beside their layer.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 4.6), layout="constrained")
    axes = figure.add_subplot()
    rpm = np.array([display_value(float(v), "shaft_speed", units)[0] for v in budget.engine_speed])
    scale, unit = display_value(1.0, "flow", units)
    available, demand = budget.available * scale, budget.demand * scale
    delivered = np.minimum(budget.delivered * scale, demand).sum(axis=1)
    total = demand.sum(axis=1)
    top = ROOM * max(float(available.max()), float(total.max()), 1e-9)
    axes.set_xlim(_limits(rpm))
    axes.set_ylim(0, top)
    shade_band(axes, budget.working, units)
    _stack(axes, rpm, demand, budget.functions, top)
    axes.plot(rpm, total, color="0.15", linewidth=1.4, linestyle=(0, (5, 2)))
    axes.plot(rpm, available, color="black", linewidth=2.2)
    _label_curve(axes, rpm, available, total, "pump can give")
    _label_curve(axes, rpm, total, available, "demanded")
    _mark_shortfall(axes, rpm, available, total, delivered, unit)
    _mark_least(axes, budget, units, rpm, total)
    axes.set_xlabel("engine speed, rpm")
    axes.set_ylabel(f"flow, {unit}")
    oil = show(budget.oil_temperature, "temperature", units)
    title = wrapped_title(f"{truck}: {budget.scenario}, oil {oil}", 3)
    axes.set_title(title, fontsize=10, loc="left", pad=18, parse_math=False)
    open_corner(axes)
    return figure


def _limits(rpm: Array) -> tuple[float, float]:
    low, high = float(rpm.min()), float(rpm.max())
    return (low, high) if high > low else (low - 1.0, high + 1.0)


def shade_band(axes: Axes, working: tuple[float, float] | None, units: str) -> None:
    """The working band [rad/s], named above the axes, where no curve passes."""
    if working is None:
        return
    left, right = axes.get_xlim()
    low, high = (display_value(v, "shaft_speed", units)[0] for v in working)
    low, high = max(low, left), min(high, right)
    if low >= high:
        return
    axes.axvspan(low, high, color="0.93", zorder=0)
    axes.text(
        (low + high) / 2, 1.01, "working band", ha="center", va="bottom", fontsize=8,
        transform=axes.get_xaxis_transform(),
    )  # fmt: skip


def _stack(axes: Axes, rpm: Array, demand: Array, names: tuple[str, ...], top: float) -> None:
    """Demands on top of each other, each named beside its layer at the right."""
    active = [m for m in range(len(names)) if (demand[:, m] > 0).any()]
    base = np.zeros(rpm.size)
    middles = []
    for place, m in enumerate(active):
        grey = LIGHTEST - (LIGHTEST - DARKEST) * place / max(len(active) - 1, 1)
        upper = base + demand[:, m]
        axes.fill_between(
            rpm, base, upper, facecolor=str(grey), edgecolor="0.35", linewidth=0.6,
            hatch=HATCHES[place % len(HATCHES)], zorder=1,
        )  # fmt: skip
        middles.append(float(base[-1] + upper[-1]) / 2)
        base = upper
    right = axes.get_xlim()[1]
    beside = right + 0.025 * (right - axes.get_xlim()[0])
    for m, middle, height in zip(active, middles, spread(middles, SPACING * top), strict=True):
        name = textwrap.shorten(printable(names[m]), NAME_WIDTH, placeholder=" ...")
        axes.annotate(
            name[:NAME_WIDTH], (right, middle), (beside, height), ha="left", va="center",
            fontsize=9, annotation_clip=False, parse_math=False,
            arrowprops={**LEADER, "relpos": (0.0, 0.5)},
        )  # fmt: skip


def spread(heights: list[float], gap: float) -> list[float]:
    """Rising heights, moved up where they are closer than `gap`.

    >>> spread([1.0, 1.2, 5.0], 1.0)
    [1.0, 2.0, 5.0]
    """
    moved: list[float] = []
    for height in heights:
        moved.append(max(height, moved[-1] + gap) if moved else height)
    return moved


def _label_curve(axes: Axes, rpm: Array, curve: Array, other: Array, label: str) -> None:
    """Name a curve just above it, in its right half, where the other curve is farthest."""
    half = np.arange(int(0.55 * (rpm.size - 1)), int(0.92 * (rpm.size - 1)) + 1)
    at = int(half[np.argmax(np.abs(curve[half] - other[half]))])
    axes.annotate(
        label, (rpm[at], curve[at]), (-6, 7), textcoords="offset points", ha="right",
        fontsize=9, zorder=4, bbox=BOX,
    )  # fmt: skip


def _mark_shortfall(
    axes: Axes, rpm: Array, available: Array, total: Array, delivered: Array, unit: str
) -> None:
    """Hatch what the functions lack, and say how much it is at its worst."""
    short = total - delivered
    lacking = short > ENOUGH * np.maximum(total, 1e-12)
    if not lacking.any():
        return
    axes.fill_between(
        rpm, delivered, total, where=list(lacking), facecolor="none", edgecolor="black",
        hatch="|||", linewidth=0.0, zorder=2,
    )  # fmt: skip
    worst = int(np.argmax(short))
    text = f"short by up to {short[worst]:.1f} {unit}"
    if available[worst] > total[worst] * (1.0 + ENOUGH):
        text += "\npressure falls short, not the pump's flow"
    left, right = axes.get_xlim()
    step = 0.02 * (right - left)
    at_left = rpm[worst] < (left + right) / 2
    near = slice(0, 2 + rpm.size // 2) if at_left else slice(rpm.size // 2, None)
    # Above both curves as far as the text reaches.
    above = max(float(available[near].max()), float(total[near].max()))
    height = above + 0.04 * axes.get_ylim()[1]
    x = left + step if at_left else right - step
    axes.annotate(
        text, (float(np.clip(rpm[worst], left + step, right - step)), float(total[worst])),
        (x, height), ha="left" if at_left else "right", va="bottom",
        fontsize=9, arrowprops={**LEADER, "relpos": (0.1 if at_left else 0.9, 0.0)}, zorder=4,
        bbox=BOX,
    )  # fmt: skip


def _mark_least(axes: Axes, budget: Budget, units: str, rpm: Array, total: Array) -> None:
    """The engine speed that just meets the demand."""
    if budget.least_speed is None:
        return
    least = display_value(budget.least_speed, "shaft_speed", units)[0]
    if not rpm.min() < least < rpm.max():
        return
    height = float(np.interp(least, rpm, total))
    axes.plot([least, least], [0, height], color="black", linewidth=1.2, linestyle=":", zorder=3)
    axes.plot([least], [height], marker="o", color="black", markersize=5, zorder=4)
    left, right = axes.get_xlim()
    before = least > left + 0.7 * (right - left)
    axes.annotate(
        f"met from {np.ceil(least):.0f} rpm", (least, 0), (-6 if before else 6, 8),
        textcoords="offset points", fontsize=9, ha="right" if before else "left", va="bottom",
        bbox=BOX, zorder=4,
    )  # fmt: skip
