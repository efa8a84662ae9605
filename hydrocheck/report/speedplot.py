"""Shaft speeds of a scenario against engine speed, as shares of what is wanted."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hydrocheck.report.budgetplot import BOX, LEADER, NAME_WIDTH, shade_band, spread
from hydrocheck.report.figures import open_corner, wrapped_title
from hydrocheck.report.text import printable
from hydrocheck.studies.setup import SpeedCurves
from hydrocheck.units import display_value, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

DASHES = ("solid", (0, (6, 2)), (0, (2, 2)), (0, (8, 2, 2, 2)))
TOP = 120.0
GAP = 9.0  # between names, in percent
HIGHEST = 88.0  # of a name: below the curves that get all they want
ANCHOR = 1  # point of a curve to which its name leads


def speed_figure(
    truck: str, curves: SpeedCurves, working: tuple[float, float] | None, units: str
) -> Figure:
    """Speed of every function of a scenario against engine speed, in percent of the wanted one.

    working: the working band [rad/s]
    Readable without colour: curves differ in dash and are named beside themselves.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 3.4), layout="constrained")
    axes = figure.add_subplot()
    rpm = np.array([display_value(float(v), "shaft_speed", units)[0] for v in curves.engine_speed])
    axes.set_xlim(float(rpm.min()), float(rpm.max()))
    axes.set_ylim(0.0, TOP)
    shade_band(axes, working, units)
    starts = []
    for place, name in enumerate(curves.functions):
        share = 100.0 * curves.share[:, place]
        axes.plot(
            rpm, share, color="black", linewidth=3.4 - 0.7 * (place % 4),
            linestyle=DASHES[place % len(DASHES)],
        )  # fmt: skip
        starts.append((float(share[ANCHOR]), printable(name)))
    _names(axes, rpm, starts)
    axes.set_xlabel("engine speed, rpm")
    axes.set_ylabel("speed, % of the wanted one")
    oil = show(curves.oil_temperature, "temperature", units)
    title = wrapped_title(f"{truck}: {curves.scenario}, oil {oil}", 2)
    axes.set_title(title, fontsize=10, loc="left", pad=18, parse_math=False)
    open_corner(axes)
    return figure


def _names(axes: Axes, rpm: Array, starts: list[tuple[float, str]]) -> None:
    """Each curve's name below it, from where they differ most: near idle."""
    ordered = sorted(starts)
    if not ordered:
        return
    left, right = float(rpm.min()), float(rpm.max())
    heights = spread([height for height, _ in ordered], GAP)
    lower = max(heights[-1] - HIGHEST, 0.0)
    beside = left + 0.12 * (right - left)
    for (height, name), place in zip(ordered, heights, strict=True):
        short = textwrap.shorten(name, NAME_WIDTH, placeholder=" ...")[:NAME_WIDTH]
        axes.annotate(
            short, (float(rpm[ANCHOR]), height), (beside, max(place - lower, 0.0)), ha="left",
            va="center", fontsize=9, parse_math=False, bbox=BOX,
            arrowprops={**LEADER, "relpos": (0.0, 0.5)},
        )  # fmt: skip
