"""A replayed route as a figure in time: rate, flow, engine and road speed, with the short spans."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hydrocheck.report.figures import open_corner
from hydrocheck.report.text import printable
from hydrocheck.studies.replay import Replay
from hydrocheck.units import display_value

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

BREAK = 3.0
"""Bins without rows after which a curve is broken."""
LEGEND = {"fontsize": 8, "frameon": False, "borderaxespad": 0.1, "handlelength": 2.4}


def replay_figure(truck: str, found: Replay, units: str) -> Figure:
    """Three panels over one axis of time; readable without colour."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.4, 6.0), layout="constrained")
    rate, flow, speed = figure.subplots(3, 1, sharex=True)
    history = found.history
    scale, unit = _time_scale(float(history.time[-1]) if history.time.size else 0.0)
    time = history.time / scale

    def curve(name: str, kind: str) -> Array:
        factor = display_value(1.0, kind, units)[0]
        return _broken(time, history.mean(name) * factor, history.width / scale)

    gaps = _broken(time, time, history.width / scale)
    rate.fill_between(
        gaps, curve("ordered", "mass_flow"), color="0.85", linewidth=0, label="ordered"
    )
    rate.plot(gaps, curve("delivered", "mass_flow"), color="black", linewidth=1.1, label="put down")
    _finish(rate, f"discharge, {display_value(1.0, 'mass_flow', units)[1]}")
    flow.plot(gaps, curve("available", "flow"), color="black", linewidth=1.4, label="pump can give")
    flow.plot(
        gaps, curve("asked", "flow"), color="0.35", linewidth=1.0, linestyle="--", label="asked"
    )
    _finish(flow, f"oil flow, {display_value(1.0, 'flow', units)[1]}")
    speed.plot(
        gaps, curve("engine_speed", "shaft_speed"), color="black", linewidth=1.1, label="engine"
    )
    _finish(speed, "engine speed, rpm")
    road = speed.twinx()
    road.plot(
        gaps, curve("road_speed", "road_speed"), color="0.45", linewidth=1.0, linestyle=":",
        label="road speed (right)",
    )  # fmt: skip
    road.set_ylabel(display_value(1.0, "road_speed", units)[1])
    road.set_ylim(
        bottom=0.0, top=1.3 * max(1e-9, float(np.nanmax(curve("road_speed", "road_speed"))))
    )
    road.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), **LEGEND)
    road.spines["top"].set_visible(False)
    short = history.mean("short") > 0
    for axes in (rate, flow, speed):
        _shade(axes, time, short, history.width / scale)
    speed.set_xlabel(f"time, {unit}")
    told = "; hatched: short of the order" if short.any() else ""
    title = "\n".join(textwrap.wrap(printable(f"{truck}: {_name(found.log)}{told}"), 84))
    figure.suptitle(title, fontsize=10, x=0.01, ha="left", parse_math=False)
    return figure


def _name(path: str) -> str:
    return path.replace("\\", "/").rsplit("/", 1)[-1]


def _time_scale(last: float) -> tuple[float, str]:
    if last <= 600.0:
        return 1.0, "s"
    return (60.0, "min") if last <= 7200.0 else (3600.0, "h")


def _broken(time: Array, values: Array, width: float) -> Array:
    """Values with a nan before each bin that follows a gap."""
    places = np.flatnonzero(np.diff(time) > BREAK * width) + 1
    return np.insert(values, places, np.nan)


def _finish(axes: Axes, label: str) -> None:
    axes.set_ylabel(label)
    axes.set_ylim(bottom=0.0)
    axes.margins(x=0.0)
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3, **LEGEND)
    open_corner(axes)


def _shade(axes: Axes, time: Array, short: NDArray[np.bool_], width: float) -> None:
    """Spans in which something is short, hatched."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], short.astype(np.int8), [0]))))
    for start, end in zip(edges[::2], edges[1::2] - 1, strict=True):
        axes.axvspan(
            float(time[start]) - 0.5 * width, float(time[end]) + 0.5 * width, facecolor="none",
            edgecolor="0.55", hatch="////", linewidth=0.0, zorder=0,
        )  # fmt: skip
