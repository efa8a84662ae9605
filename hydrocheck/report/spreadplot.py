"""Spread rates as a figure: what each rate asks and the feeder gives, by road speed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hydrocheck.report.budgetplot import spread
from hydrocheck.report.figures import open_corner, wrapped_title
from hydrocheck.studies.spreading import Reach, SpreadTable
from hydrocheck.units import display_value, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]


def spread_figure(truck: str, found: SpreadTable, reach: Reach, units: str) -> Figure:
    """Discharge against road speed: a line a rate, the feeder's reach around them.

    Readable without colour: the lines are named at their right end.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 4.6), layout="constrained")
    axes = figure.add_subplot()
    unit = display_value(1.0, "mass_flow", units)[1]
    scale = display_value(1.0, "mass_flow", units)[0]
    x = np.array([display_value(float(v), "road_speed", units)[0] for v in reach.road_speed])
    low, high = reach.least * scale, reach.greatest * scale
    known = np.isfinite(high)
    axes.fill_between(x, low, high, where=list(known), facecolor="0.90", edgecolor="none")
    axes.plot(x, high, color="black", linewidth=2.2, label="greatest, maximum trim")
    axes.plot(
        x, low, color="black", linewidth=1.6, linestyle=(0, (1, 1.5)), label="least, minimum trim"
    )
    asked = scale * found.lanes * found.rates[:, None] * reach.road_speed
    top = 1.18 * max(float(np.nanmax(high, initial=0.0)), 1e-9)
    top = min(top, max(3.0 * float(asked.max()), 1e-9))
    axes.set_xlim(0.0, float(x.max()))
    axes.set_ylim(0.0, top)
    ends = []
    for row in asked:
        axes.plot(x, row, color="0.25", linewidth=1.2)
        ends.append(min(float(row[-1]), top))
    _name_lines(axes, found, ends, units, top)
    _mark_orders(axes, found, scale, units)
    axes.set_xlabel(f"road speed, {display_value(1.0, 'road_speed', units)[1]}")
    axes.set_ylabel(f"discharge, {unit}")
    title = wrapped_title(f"{truck}: what rates ask, what the {found.feeder} gives", None, 78)
    axes.set_title(title, fontsize=10, loc="left", pad=24, parse_math=False)
    open_corner(axes)
    return figure


def _name_lines(axes: Axes, found: SpreadTable, ends: list[float], units: str, top: float) -> None:
    right = axes.get_xlim()[1]
    for rate, end, height in zip(found.rates, ends, spread(ends, 0.055 * top), strict=True):
        axes.annotate(
            show(float(rate), "application_rate", units), (right, end), (right * 1.02, height),
            ha="left", va="center", fontsize=9, annotation_clip=False,
        )  # fmt: skip


def _mark_orders(axes: Axes, found: SpreadTable, scale: float, units: str) -> None:
    """A full dot where a rate is held at an ordered speed, a hollow one where it is not."""
    for r in range(found.rates.size):
        for v, speed in enumerate(found.road_speeds):
            held = bool(found.held[r, v])
            axes.plot(
                [display_value(float(speed), "road_speed", units)[0]],
                [scale * found.lanes * found.rates[r] * speed], marker="o", markersize=6,
                markerfacecolor="black" if held else "white", markeredgecolor="black",
                linestyle="none", clip_on=True,
            )  # fmt: skip
    axes.plot([], [], "o", color="black", label="held")
    axes.plot([], [], "o", markerfacecolor="white", color="black", label="not held")
    axes.legend(
        loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=4, fontsize=8, frameon=False,
        borderaxespad=0.2, columnspacing=1.4,
    )  # fmt: skip
