"""Trims by engine speed, oil and hopper as a table: commands, and coil currents beside them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from textwrap import indent

import numpy as np

from hydrocheck.report.envelope import column
from hydrocheck.report.text import paragraph, table
from hydrocheck.studies.trims import Grid, Trim
from hydrocheck.studies.valvedrive import ValveDrive
from hydrocheck.units import display_value, show

NONE = {
    "pump flow": ("none f", "the others take all the flow there is, even while it stands"),
    "pressure setting": (
        "none p",
        "the others need more pressure than the settings allow, even while it stands: "
        "warm the oil first where it is cold",
    ),
}
"""Where no maximum trim exists, by what bounds the supply: what its cell says, and why."""
STANDS = "!"


def conditions_text(trim: Trim, drive: ValveDrive | None, units: str) -> str:
    """Trims by oil and hopper (rows) and engine speed (columns), indented; currents where known."""
    text = _table(trim.grid, units, _percent, _maximum)
    notes = ["minimum, and maximum by engine speed, in % of full command"]
    if "*" in text:
        notes.append("* the supply gives no more there")
    notes += [f"{cell}: {why}" for cell, why in NONE.values() if cell in text]
    if STANDS in text:
        notes.append(f"{STANDS} the supply does not turn it at that command at all engine speeds")
    if not np.isfinite(trim.grid.minimum).all():
        notes.append("none: no command turns it at its lowest even speed there")
    parts = [indent(text, "  "), *(paragraph(note, indent=2, hang=2) for note in notes)]
    if drive is not None and drive.rated_current is not None:
        rated = drive.rated_current
        currents = _table(
            trim.grid,
            units,
            lambda grid, rows: _amperes(float(grid.minimum[rows[0]]), rated),
            lambda grid, n: _amperes(float(grid.maximum[n]), rated),
        )
        parts += [indent(currents, "  "), "  the same as coil current, in A"]
    return "\n".join(parts)


def current_text(trim: Trim, drive: ValveDrive | None, units: str) -> str:
    """Coil current at both trims by oil and hopper at the low end of the band; empty if unknown."""
    if drive is None or drive.rated_current is None:
        return ""
    grid, told = trim.grid, []
    engine = grid.engine_speed[trim.reference]
    for n in np.flatnonzero(grid.engine_speed == engine):
        ends = (float(grid.minimum[n]), float(grid.maximum[n]))
        if np.isfinite(ends).all():
            low, high = (_amperes(end, drive.rated_current) for end in ends)
            oil = show(float(grid.oil_temperature[n]), "temperature", units)
            told.append((oil, f"{'full' if grid.full[n] else 'empty'} {low} to {high} A"))
    oils = dict.fromkeys(oil for oil, _ in told)
    return "; ".join(f"{oil} " + ", ".join(t for o, t in told if o == oil) for oil in oils)


def current_columns(grid: Grid, drive: ValveDrive | None) -> dict[str, object]:
    """Coil currents at both trims by condition, for JSON; nothing where the coil is not known."""
    if drive is None or drive.rated_current is None:
        return {}
    return {
        "current_at_minimum": column(grid.minimum * drive.rated_current, "A"),
        "current_at_maximum": column(grid.maximum * drive.rated_current, "A"),
    }


def _rows(grid: Grid) -> Iterator[tuple[float, bool, list[int]]]:
    """Oil temperature, hopper full or not, and the places of the grid by engine speed."""
    for oil in np.unique(grid.oil_temperature):
        for full in (False, True):
            here = np.flatnonzero((grid.oil_temperature == oil) & (grid.full == full))
            order = np.argsort(grid.engine_speed[here])
            yield float(oil), full, [int(n) for n in here[order]]


def _table(
    grid: Grid,
    units: str,
    least: Callable[[Grid, list[int]], str],
    most: Callable[[Grid, int], str],
) -> str:
    rows = [
        [
            show(oil, "temperature", units),
            "full" if full else "empty",
            least(grid, places),
            *(most(grid, n) for n in places),
        ]
        for oil, full, places in _rows(grid)
    ]
    speeds = np.unique(grid.engine_speed)
    rpm = [f"{display_value(float(s), 'shaft_speed', units)[0]:.0f} rpm" for s in speeds]
    headers = ["oil", "hopper", "minimum", *rpm]
    return table(headers, rows, align="ll" + "r" * (len(headers) - 2))


def _percent(grid: Grid, places: list[int]) -> str:
    """The minimum, the same at every engine speed, marked where the supply does not turn it."""
    value = float(grid.minimum[places[0]])
    if not np.isfinite(value):
        return "none"
    return f"{100 * value:.1f}" + ("" if grid.turns[places].all() else STANDS)


def _maximum(grid: Grid, n: int) -> str:
    value = float(grid.maximum[n])
    if not np.isfinite(value):
        return NONE.get(grid.ruled_by[n], ("none", ""))[0]
    return f"{100 * value:.1f}" + ("*" if grid.ruled_by[n] in NONE else "")


def _amperes(command: float, rated: float) -> str:
    return f"{command * rated:.2f}" if np.isfinite(command) else "none"
