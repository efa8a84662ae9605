"""The trade-off of a sizing as a figure: every circuit that fits, two aims a panel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hydrocheck.advice.sizing import Sizing
from hydrocheck.report.figures import open_corner, wrapped_title
from hydrocheck.units import display_value

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

KIND = {"heat": "power", "power": "power", "size": "torque"}
NAMES = {
    "low_speed": "flow in hand at lowest engine speed, %",
    "heat": "heat of the main scenario",
    "power": "greatest drive power",
    "size": "size, displacement x pressure",
}


def sizing_figure(sizing: Sizing, units: str) -> Figure:
    """Flow in hand against heat, and drive power against size, of every circuit that fits.

    Readable without colour: what is beaten in every aim is a small grey dot, what is not an open
    circle, what is taken a filled one with its name.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.4, 4.4), layout="constrained")
    left, right = figure.subplots(1, 2)
    _panel(left, sizing, units, ("low_speed", "heat"))
    _panel(right, sizing, units, ("power", "size"))
    handles, labels = left.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=3, frameon=False, fontsize=9)
    title = wrapped_title(f"{sizing.needs.name}: {sizing.fitting} circuits that fit", 2)
    figure.suptitle(title, fontsize=10, x=0.02, ha="left", parse_math=False)
    return figure


def _panel(axes: Axes, sizing: Sizing, units: str, aims: tuple[str, str]) -> None:
    (across, x_label), (up, y_label) = (_column(sizing, aim, units) for aim in aims)
    front = sizing.front
    axes.scatter(
        across[~front], up[~front], s=8, color="0.72", linewidths=0, label="beaten in every aim"
    )
    axes.scatter(
        across[front], up[front], s=34, facecolors="none", edgecolors="black", linewidths=1.0,
        label="beaten by none", zorder=2,
    )  # fmt: skip
    taken = sizing.candidate
    if taken is not None:
        x, y = (_value(sizing, taken.aims[aim], aim, units) for aim in aims)
        axes.scatter([x], [y], s=60, color="black", label="taken", zorder=3)
    axes.set_xlabel(x_label)
    axes.set_ylabel(y_label)
    axes.margins(0.08)
    open_corner(axes)


def _column(sizing: Sizing, aim: str, units: str) -> tuple[np.ndarray, str]:
    values = np.array([_value(sizing, float(v), aim, units) for v in sizing.cloud[aim]])
    if aim == "low_speed":
        return values, NAMES[aim]
    if aim == "size" and sizing.priced:
        return values, "price"
    return values, f"{NAMES[aim]}, {display_value(1.0, KIND[aim], units)[1]}"


def _value(sizing: Sizing, value: float, aim: str, units: str) -> float:
    if aim == "low_speed":
        return 100.0 * value
    if aim == "size" and sizing.priced:
        return value
    return display_value(value, KIND[aim], units)[0]
