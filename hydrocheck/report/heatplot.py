"""Warming of the oil as a figure: temperature above, heat made and given off below."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError
from hydrocheck.report.budgetplot import LEADER, spread
from hydrocheck.report.figures import open_corner, wrapped_title
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
GAP = 0.055  # between names at the right, share of the height
NAMES = {"warm": "coefficient / 1.6", "stated": "coefficient stated", "cool": "coefficient x 1.6"}


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
    title = wrapped_title(f"{truck}: {duty}, air {air}", 3)
    upper.set_title(title, fontsize=10, loc="left", parse_math=False)
    for axes in (upper, lower):
        open_corner(axes)
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
    known = np.concatenate(list(curves.values()))
    low, high = float(np.nanmin(known)), float(np.nanmax(known))
    room = 0.08 * max(high - low, 1.0)
    beside: list[tuple[float, str]] = []
    for name, label in NAMES.items():
        curve = curves[name]
        if np.isfinite(curve[-1]):
            beside.append((float(curve[-1]), label))
            continue
        end = int(np.flatnonzero(np.isfinite(curve))[-1])
        axes.annotate(
            label, (x[end], curve[end]), (-2, 5), textcoords="offset points", ha="right",
            fontsize=9,
        )  # fmt: skip
    for mark, label in ((study.working, "working"), (study.hot, "hot")):
        height = np.nan if mark is None else _shown(np.array([mark]), units)[0]
        if mark is not None and low - room < height < high + room:
            axes.axhline(height, color="0.35", linewidth=1.0, linestyle=":", zorder=1)
            beside.append((height, f"{label}, {show(mark, 'temperature', units)}"))
    axes.set_ylim(low - room, high + 1.5 * room)
    _name_beside(axes, float(x[-1]), beside, GAP * (high - low + 2.5 * room))
    axes.set_ylabel(f"oil, {display_value(1.0, 'temperature', units)[1]}")


def _name_beside(axes: Axes, right: float, names: list[tuple[float, str]], gap: float) -> None:
    """Names at the right of the axes, at the heights of what they name where there is room."""
    ordered = sorted(names)
    heights = spread([height for height, _ in ordered], gap)
    for (height, name), place in zip(ordered, heights, strict=True):
        axes.annotate(
            name, (right, height), (1.03 * right, place), ha="left", va="center", fontsize=9,
            annotation_clip=False, arrowprops={**LEADER, "relpos": (0.0, 0.5)},
        )  # fmt: skip


def _heats(axes: Axes, stated: WarmUp, time: Array, scale: float, units: str) -> None:
    """Heat made and given off with the stated coefficient."""
    factor, unit = display_value(1.0, "power", units)
    oil = stated.temperature_at(time)[:, 0]
    x, here = time / scale, np.isfinite(oil)
    given = stated.conductance[0] * (oil - stated.ambient[0]) * factor
    made = _heat_made(stated, oil) * factor
    # The first minutes of thick oil would hide all that follows.
    later = here & (time >= 0.03 * time[-1])
    top = 1.25 * max(float(made[later].max()), float(given[here].max()), 1e-9)
    axes.plot(x, made, color="black", linewidth=1.8)
    axes.plot(x, given, color="black", linewidth=1.4, linestyle=(0, (5, 2)))
    axes.set_ylim(0.0, top)
    last = int(np.flatnonzero(here)[-1])
    names = [(float(made[last]), "heat made"), (float(given[last]), "given off")]
    if last == x.size - 1:
        _name_beside(axes, float(x[-1]), names, 1.5 * GAP * top)
    else:
        for (height, name), place in zip(names, (6, -13), strict=True):
            axes.annotate(
                name, (x[last], height), (-2, place), textcoords="offset points", ha="right",
                fontsize=9,
            )  # fmt: skip
    axes.set_ylabel(f"heat, {unit}")


def _heat_made(stated: WarmUp, oil: Array) -> Array:
    """Heat at oil temperatures [W], between those solved: it falls about like a power of them."""
    solved, made = stated.temperature[:, 0], np.maximum(stated.heat[:, 0], 1e-9)
    order = np.argsort(solved)
    between: Array = np.exp(np.interp(oil, solved[order], np.log(made[order])))
    return np.where(np.isfinite(oil), between, np.nan)
