"""Warming of the oil as a figure: temperature above, heat made and given off below."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError
from hydrocheck.report.text import printable
from hydrocheck.studies.heatstudy import HeatStudy
from hydrocheck.studies.thermal import HIGHEST
from hydrocheck.studies.warmup import WarmUp
from hydrocheck.units import display_value, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

POINTS = 241
NEAR = 4.0  # e-folds of the way that the figure shows
SHORTEST, LONGEST = 1800.0, 12 * 3600.0
TITLE_WIDTH = 84
BOX = {"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": "none", "alpha": 0.92}
# Share of the width at which each curve is named; the band's ends are far apart at the right.
MIDDLE, EDGE = 0.55, 0.93


def heat_figure(truck: str, study: HeatStudy, units: str) -> Figure:
    """Oil temperature since a cold start, with its range, over the heat made and given off.

    Readable without colour: curves differ in weight and dash and are named beside themselves.
    """
    from matplotlib.figure import Figure

    if study.warming is None:
        raise DomainError("the figure shows the warming of the oil, which was not asked for")
    stated = study.warming.stated
    time = np.linspace(0.0, _horizon(stated), POINTS)
    scale, unit = (60.0, "min") if time[-1] <= 7200.0 else (3600.0, "h")
    figure = Figure(figsize=(7.2, 6.0), layout="constrained")
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
    _temperatures(upper, study, time, scale, units)
    _heats(lower, stated, time, scale, units)
    lower.set_xlabel(f"time since the start, {unit}")
    lower.set_xlim(0.0, time[-1] / scale)
    duty = ", ".join(study.shares)
    air = show(float(stated.ambient[0]), "temperature", units)
    title = printable(f"{truck}: {duty}, air {air}")
    title = "\n".join(textwrap.wrap(title, TITLE_WIDTH, max_lines=3, placeholder=" ..."))
    upper.set_title(title, fontsize=10, loc="left", parse_math=False)
    for axes in (upper, lower):
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
    return figure


def _horizon(stated: WarmUp) -> float:
    """Time [s] that shows most of the way, on a round number of half hours."""
    node = int(np.searchsorted(stated.folds, NEAR))
    wanted = float(np.clip(stated.time[node, 0], SHORTEST, LONGEST))
    return 1800.0 * float(np.ceil(wanted / 1800.0))


def _shown(values: Array, units: str) -> Array:
    """Temperatures in the unit of the figure; nan stays."""
    return np.array([display_value(float(v), "temperature", units)[0] for v in values])


def _temperatures(axes: Axes, study: HeatStudy, time: Array, scale: float, units: str) -> None:
    """The stated curve in its range, and the temperatures that the truck file names."""
    warming = study.warming
    assert warming is not None
    x = time / scale
    curves = {
        name: _shown(getattr(warming, name).temperature_at(time)[:, 0], units)
        for name in ("cool", "stated", "warm")
    }
    top = _shown(np.array([HIGHEST]), units)[0]
    axes.fill_between(x, curves["cool"], np.nan_to_num(curves["warm"], nan=top), color="0.90")
    for name, width in (("cool", 0.8), ("warm", 0.8), ("stated", 2.2)):
        dash = "solid" if name == "stated" else (0, (4, 2))
        axes.plot(x, curves[name], color="black", linewidth=width, linestyle=dash)
    names = {
        "warm": ("coefficient / 1.6", EDGE, (-4, 5), "right"),
        "stated": ("stated coefficient", MIDDLE, (0, 8), "right"),
        "cool": ("coefficient x 1.6", EDGE, (-4, -12), "right"),
    }
    for name, (label, share, offset, side) in names.items():
        known = np.flatnonzero(np.isfinite(curves[name]))
        at = known[min(int(share * (x.size - 1)), known.size - 1)]
        axes.annotate(
            label, (x[at], curves[name][at]), offset, textcoords="offset points", ha=side,
            fontsize=9, bbox=BOX, zorder=5,
        )  # fmt: skip
    low, high = np.nanmin(curves["cool"]), max(float(np.nanmax(c)) for c in curves.values())
    room = 0.08 * max(high - low, 1.0)
    marks = ((study.working, "working"), (study.hot, "hot"))
    for mark, label in marks:
        if mark is None:
            continue
        height = _shown(np.array([mark]), units)[0]
        if low - room < height < high + room:
            axes.axhline(height, color="0.35", linewidth=1.0, linestyle=":", zorder=1)
            axes.annotate(
                f"{label} by the truck file, {show(mark, 'temperature', units)}", (0, height),
                (6, 3), textcoords="offset points", fontsize=8, color="0.2",
            )  # fmt: skip
    axes.set_ylim(low - room, high + 1.5 * room)
    axes.set_ylabel(f"oil, {display_value(1.0, 'temperature', units)[1]}")


def _heats(axes: Axes, stated: WarmUp, time: Array, scale: float, units: str) -> None:
    """Heat made and given off with the stated coefficient."""
    factor, unit = display_value(1.0, "power", units)
    known = stated.temperature[:, 0]
    given = stated.conductance[0] * (known - stated.ambient[0]) * factor
    made = stated.heat[:, 0] * factor
    past = stated.time[:, 0] / scale
    ends = time[-1] / scale
    # The first minutes of thick oil would hide all that follows.
    later = past >= 0.03 * ends
    top = 1.25 * max(float(made[later].max()), float(given.max()))
    axes.plot(past, made, color="black", linewidth=1.8)
    axes.plot(past, given, color="black", linewidth=1.4, linestyle=(0, (5, 2)))
    axes.set_ylim(0.0, top)
    middle = int(np.searchsorted(past, 0.45 * ends))
    middle = min(middle, past.size - 1)
    apart = made[middle] - given[middle] > 0.12 * top
    for curve, label, offset in ((made, "heat made", 6), (given, "given off", -14)):
        drop = offset if apart or curve is given else 8
        axes.annotate(
            label, (past[middle], curve[middle]), (0, drop), textcoords="offset points",
            ha="center", fontsize=9, bbox=BOX, zorder=5,
        )  # fmt: skip
    axes.set_ylabel(f"heat, {unit}")
