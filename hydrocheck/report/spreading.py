"""Spread rates as text and as JSON."""

from __future__ import annotations

import numpy as np

from hydrocheck.report.envelope import column
from hydrocheck.report.pantest import density_said
from hydrocheck.report.shown import shown_json
from hydrocheck.report.text import heading, paragraph, table
from hydrocheck.studies.feederload import TorqueBand
from hydrocheck.studies.liquid import Liquid, LiquidNeed
from hydrocheck.studies.materials import Density
from hydrocheck.studies.spreading import SpreadTable
from hydrocheck.units import display_value, show


def _number(value: float, kind: str, units: str, digits: int) -> str:
    if not np.isfinite(value):
        return "-"
    return f"{display_value(float(value), kind, units)[0]:.{digits}f}"


def unit_of(kind: str, units: str) -> str:
    """The unit in which a kind is shown."""
    return display_value(1.0, kind, units)[1]


def spread_text(
    truck: str,
    found: SpreadTable,
    liquid: Liquid | None,
    bands: list[TorqueBand],
    density: Density | None,
    units: str,
) -> str:
    """Every rate at every road speed, with the limits of each rate."""
    per_turn = show(found.per_turn, "mass_per_rev", units)
    oil = show(found.oil_temperature, "temperature", units)
    within = "the ordered accuracy" if found.accuracy_ordered else "a usual accuracy, ours"
    parts = [
        heading(f"Spread rates of {truck}"),
        paragraph(
            f"Scenario {found.scenario}, oil {oil}; {found.feeder} discharges {per_turn}; "
            f"{found.lanes} lane{'s' if found.lanes > 1 else ''} at once. Rates in "
            f"{unit_of('application_rate', units)}. Oil flow, command and "
            "setting are what the rate asks; laid is the rate that comes to lie over the ordered "
            f"one, good within {show(found.accuracy, 'fraction', units)} ({within})."
        ),
        _rate_table(found, units),
        _limits_text(found, units),
    ]
    if density is not None:
        parts.append(paragraph(density_said(density, units)))
    if liquid is not None:
        parts.append(_liquid_text(liquid, units))
    parts += [_band_text(band, units) for band in bands]
    return "\n\n".join(parts)


def _rate_table(found: SpreadTable, units: str) -> str:
    road, flow, mass = (unit_of(k, units) for k in ("road_speed", "flow", "mass_flow"))
    headers = [
        "rate", road, "gear", "engine rpm", mass, f"{found.feeder} rpm", f"oil {flow}", "cmd %",
        "set %", "laid %", "limit",
    ]  # fmt: skip
    rows = []
    for r, ordered in enumerate(found.rates):
        for v, speed in enumerate(found.road_speeds):
            setting = found.setting[r, v]
            rows.append(
                [
                    _number(ordered, "application_rate", units, 0),
                    _number(speed, "road_speed", units, 0),
                    found.gear[v] or "-",
                    _number(found.engine_speed[v], "shaft_speed", units, 0),
                    _number(found.discharge[r, v], "mass_flow", units, 0),
                    _number(found.shaft_speed[r, v], "shaft_speed", units, 1),
                    _number(found.flow[r, v], "flow", units, 1),
                    _number(100.0 * found.command[r, v], "ratio", units, 0),
                    "min" if setting < 0 else _number(100.0 * setting, "ratio", units, 0),
                    _number(100.0 * found.share[r, v], "ratio", units, 0),
                    found.limit[r][v],
                ]
            )
    return table(headers, rows, align="rrrrrrrrrrl")


def _limits_text(found: SpreadTable, units: str) -> str:
    """Between which speeds each rate is held, and the least rate."""
    rows = []
    for r, ordered in enumerate(found.rates):
        low, high = (
            "-" if not np.isfinite(v) else show(float(v), "road_speed", units)
            for v in (found.held_from[r], found.held_to[r])
        )
        rows.append(
            [show(float(ordered), "application_rate", units), low, high, found.ends_by[r] or "-"]
        )
    slowest = show(float(found.road_speeds.min()), "road_speed", units)
    least = show(found.least_rate, "application_rate", units)
    turndown = f"{found.turndown:.1f} to 1" if np.isfinite(found.turndown) else "without bound"
    return "\n\n".join(
        [
            table(["rate held", "from", "to", "then limited by"], rows, align="rrrl"),
            paragraph(
                f"Least rate at {slowest}, at the minimum trim: {least}. Turndown of the "
                f"discharge there: {turndown}."
            ),
        ]
    )


def _liquid_text(liquid: Liquid, units: str) -> str:
    said = [
        f"Brine of {show(liquid.concentration, 'fraction', units)}: specific gravity "
        f"{liquid.gravity:.3f}"
    ]
    if liquid.freezes is not None:
        said[0] += f", freezes from {show(liquid.freezes, 'temperature', units)}"
    if liquid.may_freeze and liquid.coldest is not None:
        cold = show(liquid.coldest, "temperature", units)
        said.append(f"Caution: the coldest air is {cold}; it freezes in lines that stand")
    if liquid.per_mass is not None and liquid.salt is not None:
        ratio = show(liquid.per_mass, "liquid_per_mass", units)
        said.append(f"Pre-wet {ratio} adds {100.0 * liquid.salt:.1f} % of dissolved salt")
    parts = [heading("Liquid"), paragraph(". ".join(said) + ".")]
    for need, kind in ((liquid.prewet, "application_rate"), (liquid.direct, "liquid_rate")):
        if need is not None:
            parts.append(_need_table(need, kind, units))
            if need.weak and need.least_pressure is not None:
                least = show(need.least_pressure, "pressure", units)
                parts.append(
                    paragraph(
                        f"Caution: {need.weak} of these orders leave the nozzles below {least}, "
                        "where they do not spray."
                    )
                )
            span = need.pressure_span
            if span is not None and span > 25.0:
                parts.append(
                    paragraph(
                        f"Nozzle pressure spans {span:.0f} to 1: nozzles for such a range of "
                        "flow are banked."
                    )
                )
    return "\n\n".join(parts)


def _need_table(need: LiquidNeed, kind: str, units: str) -> str:
    title = "pre-wet at " if kind == "application_rate" else "direct "
    headers = [title + unit_of(kind, units), unit_of("road_speed", units), unit_of("flow", units)]
    columns = [(need.flow, "flow", 2)]
    if need.pressure is not None:
        headers.append(f"nozzle {unit_of('pressure', units)}")
        columns.append((need.pressure, "pressure", 1))
    if need.pump_speed is not None:
        headers.append("liquid pump rpm")
        columns.append((need.pump_speed, "shaft_speed", 0))
    rows = []
    for r, rate in enumerate(need.rates):
        for v, speed in enumerate(need.road_speeds):
            cells = [_number(values[r, v], k, units, d) for values, k, d in columns]
            first = [_number(rate, kind, units, 0), _number(speed, "road_speed", units, 0)]
            rows.append([*first, *cells])
    return table(headers, rows, align="r" * len(headers))


def _band_text(band: TorqueBand, units: str) -> str:
    def torque(value: float) -> str:
        return show(value, "torque", units)

    share = ", ".join(
        f"{key.replace('_', ' ')} {100.0 * value:.0f} %"
        for key, value in sorted(band.shares.items(), key=lambda item: -item[1])
        if value >= 0.005
    )
    what = "flooded under the hopper" if band.model == "hopper" else "control-fed"
    return "\n\n".join(
        [
            heading(f"Torque of the {band.function}, by its load model"),
            paragraph(
                f"{band.function}, {what}, hopper full: {torque(band.running)} running "
                f"({torque(band.low)} to {torque(band.high)}); to break away "
                f"{torque(band.start)}, {band.breakaway:.1f} times that "
                f"({torque(band.start_low)} to {torque(band.start_high)}; frozen material has no "
                f"bound). Largest causes of doubt: {share}. An order of magnitude: measure the "
                "pressure on the truck."
            ),
        ]
    )


def spread_json(
    found: SpreadTable, liquid: Liquid | None, bands: list[TorqueBand], units: str
) -> dict[str, object]:
    """The rates for the JSON envelope; columns in SI, a row a rate."""
    least = found.least_rate
    return {
        "scenario": found.scenario,
        "feeder": found.feeder,
        "oil_temperature": shown_json(found.oil_temperature, "temperature", units),
        "mass_per_turn": shown_json(found.per_turn, "mass_per_rev", units),
        "accuracy": shown_json(found.accuracy, "fraction", units),
        "accuracy_ordered": found.accuracy_ordered,
        "rates": column(found.rates, "kg/m"),
        "road_speeds": column(found.road_speeds, "m/s"),
        "engine_speed": column(found.engine_speed, "rad/s"),
        "gear": list(found.gear),
        "discharge": column(found.discharge, "kg/s"),
        "shaft_speed": column(found.shaft_speed, "rad/s"),
        "flow": column(found.flow, "m3/s"),
        "command": column(found.command, "1"),
        "setting": column(found.setting, "1"),
        "laid": column(found.share, "1"),
        "held": found.held,
        "limit": [list(row) for row in found.limit],
        "held_from": column(found.held_from, "m/s"),
        "held_to": column(found.held_to, "m/s"),
        "ends_by": list(found.ends_by),
        "least_rate": shown_json(least, "application_rate", units),
        "turndown": found.turndown,
        "liquid": None if liquid is None else _liquid_json(liquid, units),
        "load_models": bands,
    }


def _liquid_json(liquid: Liquid, units: str) -> dict[str, object]:
    def need(one: LiquidNeed | None, unit: str) -> dict[str, object] | None:
        if one is None:
            return None
        return {
            "rates": column(one.rates, unit),
            "flow": column(one.flow, "m3/s"),
            "nozzle_pressure": None if one.pressure is None else column(one.pressure, "Pa"),
            "below_least_pressure": one.weak,
            "pump_speed": None if one.pump_speed is None else column(one.pump_speed, "rad/s"),
        }

    freezes = liquid.freezes
    return {
        "concentration": shown_json(liquid.concentration, "fraction", units),
        "specific_gravity": liquid.gravity,
        "freezes": None if freezes is None else shown_json(freezes, "temperature", units),
        "may_freeze": liquid.may_freeze,
        "prewet": need(liquid.prewet, "kg/m"),
        "direct": need(liquid.direct, "m3/m"),
    }
