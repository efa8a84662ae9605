"""The throw as a figure: width against spinner speed, with its band and the lanes' width."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hydrocheck.report.figures import open_corner, wrapped_title
from hydrocheck.studies.throw import Throw
from hydrocheck.units import display_value, show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_RPM = np.pi / 30.0
_ROOM = 1.12
_GAP = 0.055  # between names beside the axes, share of its height
_BOX = {"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": "none", "alpha": 0.92}


def throw_figure(truck: str, throw: Throw, units: str) -> Figure:
    """Width against spinner speed; readable without colour, each curve named beside it."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 4.6), layout="constrained")
    axes = figure.add_subplot()
    band = throw.band
    scale, unit = display_value(1.0, "spread_width", units)
    top_speed = max([band.speed[-1] / 1.3, *(o.speed for o in throw.ordered)])
    here = np.isfinite(band.width) & (band.speed <= top_speed * (1 + 1e-9))
    rpm = band.speed[here] / _RPM
    low, width, high = (edge[here] * scale for edge in (band.low, band.width, band.high))
    fine, coarse = (2.0 * throw.reach[k][here] * scale for k in (0, -1))
    top = _ROOM * max(float(high.max()), throw.wanted * scale)
    axes.set_xlim(float(rpm[0]), float(rpm[-1]))
    axes.set_ylim(0.0, top)
    axes.fill_between(rpm, low, high, facecolor="0.88", edgecolor="none")
    axes.plot(rpm, width, color="black", linewidth=2.0)
    axes.plot(rpm, fine, color="0.25", linewidth=1.2, linestyle=":")
    axes.plot(rpm, coarse, color="0.25", linewidth=1.2, linestyle=(0, (5, 2)))
    sizes = [show(float(d), "length", units) for d in throw.grains[[0, -1]]]
    names = [
        (float(fine[-1]), f"finest grains, {sizes[0]}"),
        (float(width[-1]), f"width, grains of {show(throw.spin.size, 'length', units)}"),
        (float(coarse[-1]), f"coarsest grains, {sizes[1]}"),
        (float(high[-1]), "band of the estimate"),
    ]
    _name_beside(axes, names, _GAP * top)
    _lanes(axes, throw, units, scale)
    _marks(axes, throw, units, scale)
    axes.set_xlabel("spinner speed, rpm")
    axes.set_ylabel(f"width thrown, {unit}")
    title = wrapped_title(f"{truck}: throw of the {throw.function}, estimate", 3)
    axes.set_title(title, fontsize=10, loc="left", pad=10, parse_math=False)
    open_corner(axes)
    return figure


def _name_beside(axes: Axes, names: list[tuple[float, str]], gap: float) -> None:
    """Names at the right of the axes, each at its curve's end, none over another."""
    from hydrocheck.report.budgetplot import LEADER, spread

    names = sorted(names)
    left, right = axes.get_xlim()
    for (end, name), height in zip(names, spread([e for e, _ in names], gap), strict=True):
        axes.annotate(
            name, (right, end), (right + 0.03 * (right - left), height), ha="left", va="center",
            fontsize=9, annotation_clip=False, parse_math=False,
            arrowprops={**LEADER, "relpos": (0.0, 0.5)},
        )  # fmt: skip


def _lanes(axes: Axes, throw: Throw, units: str, scale: float) -> None:
    """The width to cover, named at the left above its line."""
    height = throw.wanted * scale
    axes.axhline(height, color="black", linewidth=1.0, linestyle=(0, (1, 1)))
    lanes = throw.lanes
    what = "to cover" if lanes is None else f"{lanes} lane{'' if lanes == 1 else 's'}"
    axes.annotate(
        f"{show(throw.wanted, 'spread_width', units)}, {what}", (axes.get_xlim()[0], height),
        (6, 4), textcoords="offset points", fontsize=9, ha="left", va="bottom", bbox=_BOX,
    )  # fmt: skip


def _marks(axes: Axes, throw: Throw, units: str, scale: float) -> None:
    """The speed for the wanted width, and the ordered ones."""
    left, right = axes.get_xlim()
    marks: dict[float, list[str]] = {}
    for one in throw.ordered:
        marks.setdefault(one.speed, ["ordered"])
    if throw.needed is not None:
        marks.setdefault(throw.needed, []).append("fits")
    top = axes.get_ylim()[1]
    inside = [(s / _RPM, words) for s, words in sorted(marks.items()) if left < s / _RPM < right]
    for place, (rpm, words) in enumerate(inside):
        height = float(np.interp(rpm, throw.band.speed / _RPM, np.nan_to_num(throw.band.width)))
        filled = "fits" in words
        axes.plot([rpm, rpm], [0, height * scale], color="black", linewidth=1.0, linestyle=":")
        axes.plot(
            [rpm], [height * scale], marker="o", color="black", markersize=5,
            markerfacecolor="black" if filled else "white", zorder=4,
        )  # fmt: skip
        part = (rpm - left) / (right - left)
        # The first name left of its line, the others right, so that none lies on another's line.
        before = part > 0.78 or (len(inside) > 1 and place == 0 and part > 0.3)
        axes.annotate(
            f"{rpm:.0f} rpm {' and '.join(words)}", (rpm, (0.03 + 0.065 * place) * top),
            (-5 if before else 5, 0), textcoords="offset points", fontsize=9, zorder=4,
            ha="right" if before else "left", va="bottom", bbox=_BOX,
        )  # fmt: skip
