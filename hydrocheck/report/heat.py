"""Oil temperature as text and as JSON."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hydrocheck.report.envelope import Json, column
from hydrocheck.report.shown import shown, shown_json
from hydrocheck.report.text import heading, pairs, paragraph, table
from hydrocheck.studies.heatstudy import HeatStudy, Warming
from hydrocheck.studies.thermal import HIGHEST, SPREAD, Settled, SettledRange
from hydrocheck.studies.warmup import WarmUp
from hydrocheck.units import display_value, show

MINUTES = (0, 5, 10, 20, 30, 45, 60, 90, 120, 180, 240, 360, 480)
COLD = 278.15
"""A temperature by which oil is no longer cold: 5 degC, 41 degF [K]."""
THICK = 1e-3
"""Viscosity beyond which machines are only to be started, not worked [m2/s]."""
_SMALL = 0.005  # share of the heat below which elements are put together


def duration(time: float) -> str:
    """A time since the start in words.

    >>> duration(5100.0)
    '1 h 25 min'
    """
    if not np.isfinite(time):
        return "never"
    hours, minutes = divmod(round(time / 60.0), 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min"


def heat_text(truck: str, study: HeatStudy, units: str) -> str:
    """Where the oil settles, what heats it, what would hold it, and how it warms."""
    parts = [
        heading(f"Oil temperature of {truck}"),
        pairs(_given(study, units)),
        _settled_table(study.settled, units),
        *_above(study.settled, units),
        *([_verdict(study, units)] if study.hot is not None else []),
        "Heat by element\n" + _elements(study, units),
        *(_warming_text(study, study.warming, units) if study.warming is not None else []),
        paragraph(
            "One body of oil at one temperature; every loss goes into it. Hoses give off heat "
            "only where they are counted (--hoses, --surface); engine warmth, sun and wind are "
            "not in it."
        ),
    ]
    return "\n\n".join(parts)


def _given(study: HeatStudy, units: str) -> list[tuple[str, str]]:
    duty = "; ".join(
        (f"{100.0 * share:.4g} % " if len(study.shares) > 1 else "")
        + f"{name}, engine {show(study.engine_speed[name], 'shaft_speed', units)}"
        for name, share in study.shares.items()
    )
    total = show(study.conductance, "heat_conductance", units)
    cooler = f", cooler {show(study.cooler, 'heat_conductance', units)} of it"
    return [
        ("duty", duty),
        ("heat given off", total + (cooler if study.cooler else " by the surface, no cooler")),
        (
            "its range",
            f"surface coefficient x {SPREAD} (cool end) to / {SPREAD} (warm end): published "
            "values differ by a factor of 2.5",
        ),
    ]


def _degrees(value: float, units: str) -> str:
    if not np.isfinite(value):
        return f"> {display_value(HIGHEST, 'temperature', units)[0]:.0f}"
    return f"{display_value(value, 'temperature', units)[0]:.0f}"


def _unit(kind: str, units: str) -> str:
    return display_value(1.0, kind, units)[1]


def _settled_table(settled: SettledRange, units: str) -> str:
    degree, power = _unit("temperature", units), _unit("power", units)
    headers = [
        f"air {degree}", f"oil settles at {degree}", "cool end", "warm end",
        f"heat {power}", f"input {power}", "turned to heat",
    ]  # fmt: skip
    middle = settled.stated
    rows = [
        [
            _degrees(float(middle.ambient[n]), units),
            *(
                _degrees(float(one.temperature[n]), units)
                for one in (middle, settled.cool, settled.warm)
            ),
            *(
                f"{display_value(float(value[n]), 'power', units)[0]:.2f}"
                for value in (middle.input.total, middle.input.input_power)
            ),
            show(float(middle.input.share[n]), "fraction", units),
        ]
        for n in range(middle.ambient.size)
    ]
    return table(headers, rows, align="r" * len(headers))


def _above(settled: SettledRange, units: str) -> list[str]:
    if all(one.found.all() for one in (settled.cool, settled.stated, settled.warm)):
        return []
    top = show(HIGHEST, "temperature", units)
    text = f"> : no temperature up to {top} balances the heat; beyond, the viscosity is not known."
    if not settled.stated.found.all():
        text += f" Heat and input are those at {top} there."
    return [paragraph(text)]


def _verdict(study: HeatStudy, units: str) -> str:
    """In the hottest air: the oil against what the file calls hot, and what would hold it there."""
    assert study.hot is not None
    assert study.needed is not None
    n = int(np.argmax(study.ambient))
    hot = show(study.hot, "temperature", units)
    air = show(float(study.ambient[n]), "temperature", units)
    stated = float(study.settled.stated.temperature[n])
    warm = float(study.settled.warm.temperature[n])
    need = float(study.needed[n])
    if stated <= study.hot and warm <= study.hot:
        return paragraph(f"In air of {air} the oil stays at or below {hot}, hot by the truck file.")
    some = "with a poor coefficient " if stated <= study.hot else ""
    text = f"In air of {air} the oil {some}goes above {hot}, hot by the truck file."
    if np.isfinite(need):
        total = show(need, "heat_conductance", units)
        text += f" To hold it there the truck must give off {total} in all"
        more = need - study.conductance
        if more > 0:
            extra = show(more, "heat_conductance", units)
            text += (
                f", {extra} more than here: a cooler of that, or less heat made. Hoses (--hoses) "
                "and wind may give part of it"
            )
        text += "."
    return paragraph(text)


def _elements(study: HeatStudy, units: str) -> str:
    """Heat by element, largest first, the smallest together."""
    given = study.settled.stated.input
    degree, power = _unit("temperature", units), _unit("power", units)
    airs = [f"{power} in air of {_degrees(float(t), units)} {degree}" for t in study.ambient]
    last = {name: float(value[-1]) for name, value in given.heat.items()}
    least = _SMALL * np.maximum(given.total, 1e-9)
    large = [n for n in sorted(last, key=lambda k: -last[k]) if (given.heat[n] >= least).any()]
    rows = [[name, *_powers(given.heat[name], units)] for name in large]
    rest = given.total - sum((given.heat[n] for n in large), np.zeros_like(given.total))
    if len(large) < len(last):
        rows.append(["others", *_powers(np.maximum(rest, 0.0), units)])
    rows.append(["total", *_powers(given.total, units)])
    return table(["element", *airs], rows)


def _powers(values: NDArray[np.float64], units: str) -> list[str]:
    return [f"{display_value(float(v), 'power', units)[0]:.2f}" for v in values]


def _warming_text(study: HeatStudy, warming: Warming, units: str) -> list[str]:
    """Temperatures by time since the start, and when marks are passed."""
    runs = (warming.stated, warming.cool, warming.warm)
    start, air = float(warming.stated.start[0]), float(warming.stated.ambient[0])
    times = 60.0 * np.array(MINUTES)
    values = [run.temperature_at(times)[:, 0] for run in runs]
    degree = _unit("temperature", units)
    rows = [
        [duration(t), *(_degrees(float(v[k]), units) for v in values)] for k, t in enumerate(times)
    ]
    parts = [
        "Warming from a cold start\n"
        + paragraph(
            f"Oil of {show(start, 'temperature', units)} in air of "
            f"{show(air, 'temperature', units)}, the duty from the first minute."
        ),
        table(["time", f"oil {degree}", "cool end", "warm end"], rows, align="rrrr"),
    ]
    marks = [
        (f"to {shown(mark, 'temperature', units)}", _times_to(runs, mark))
        for mark in sorted({COLD, study.working or COLD})
        if mark > start
    ]
    if marks:
        parts.append(pairs(marks))
    if warming.viscosity > THICK:
        thick = shown(warming.viscosity, "kinematic_viscosity", units)
        parts.append(
            paragraph(
                f"At the start the oil has {thick}: drag is extrapolated far beyond what was "
                "measured, and the first minutes take longer than shown."
            )
        )
    return parts


def _times_to(runs: tuple[WarmUp, ...], mark: float) -> str:
    stated, cool, warm = (duration(float(run.time_to(mark)[0])) for run in runs)
    return f"{stated} (cool end {cool}, warm end {warm})"


def heat_json(study: HeatStudy, units: str) -> dict[str, object]:
    """The study for the JSON envelope; columns in SI, one value an air temperature."""
    needed = study.needed
    return {
        "duty": {
            name: {
                "share": shown_json(share, "fraction", units),
                "engine_speed": shown_json(study.engine_speed[name], "shaft_speed", units),
            }
            for name, share in study.shares.items()
        },
        "conductance": shown_json(study.conductance, "heat_conductance", units),
        "cooler": shown_json(study.cooler, "heat_conductance", units),
        "ambient": column(study.ambient, "K"),
        "settled": {
            name: _settled_json(getattr(study.settled, name)) for name in ("cool", "stated", "warm")
        },
        "hot": None if study.hot is None else shown_json(study.hot, "temperature", units),
        "needed_conductance": None if needed is None else column(needed, "W/K"),
        "warm_up": None if study.warming is None else _warming_json(study.warming, units),
    }


def _settled_json(settled: Settled) -> dict[str, object]:
    given = settled.input
    return {
        "oil_temperature": column(settled.temperature, "K"),
        "conductance": column(settled.conductance, "W/K"),
        "input_power": column(given.input_power, "W"),
        "mechanical_power": column(given.mechanical_power, "W"),
        "total_heat": column(given.total, "W"),
        "heat": {name: column(value, "W") for name, value in given.heat.items()},
    }


def _warming_json(warming: Warming, units: str) -> dict[str, object]:
    times = 60.0 * np.array(MINUTES)
    runs: dict[str, Json] = {
        name: column(getattr(warming, name).temperature_at(times)[:, 0], "K")
        for name in ("cool", "stated", "warm")
    }
    return {
        "start": shown_json(float(warming.stated.start[0]), "temperature", units),
        "ambient": shown_json(float(warming.stated.ambient[0]), "temperature", units),
        "viscosity": shown_json(warming.viscosity, "kinematic_viscosity", units),
        "time": column(times, "s"),
        "oil_temperature": runs,
    }
