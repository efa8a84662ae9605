"""What the control does to the flow: full discharge, following the road speed, links."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from hydrocheck.errors import HydrocheckError
from hydrocheck.model.truck import Truck
from hydrocheck.report.envelope import column
from hydrocheck.report.shown import shown_json
from hydrocheck.report.text import pairs
from hydrocheck.studies.following import Following, Linked, follow_road_speed, linked_flows
from hydrocheck.studies.fulldischarge import Discharge, full_discharge
from hydrocheck.studies.trims import Prediction, with_predicted
from hydrocheck.units import show

ABOUT = 0.005
"""Share of a rate that counts as kept."""


def control_rows(truck: Truck, prediction: Prediction, units: str) -> list[tuple[str, str]]:
    """Each kind of control as a label and a text; predicted trims where the file has none."""
    known = with_predicted(truck, prediction)
    rows: list[tuple[str, str]] = []

    def add(label: str, work: Callable[[], list[tuple[str, str]]]) -> None:
        try:
            rows.extend(work())
        except HydrocheckError as error:
            rows.append((label, f"not computed: {error}"))

    add("full discharge", lambda: _discharge_rows(full_discharge(known), units))
    add("road speed", lambda: _follow_rows(follow_road_speed(known), units))
    add("links", lambda: [_link_row(one, units) for one in linked_flows(known)])
    return rows


def control_text(truck: Truck, prediction: Prediction, units: str) -> str:
    """What the control does to the flow, as text."""
    rows = control_rows(truck, prediction, units)
    return "Control and flow\n" + pairs(rows, indent=2) if rows else ""


def _discharge_rows(found: Discharge | None, units: str) -> list[tuple[str, str]]:
    if found is None:
        return []
    low, high = (show(float(s), "shaft_speed", units) for s in found.engine_speed[[0, -1]])
    where = low if low == high else f"{low} to {high}"
    rate = show(float(found.rate.min()), "mass_flow", units)
    text = f"at {where}: {rate} of material"
    if found.mass is None:
        text += ", until released"
    else:
        mass = show(float(found.mass.min()), "mass", units)
        text += f", {mass} in {show(float(found.duration or 0.0), 'time', units)}"
    asked = float(found.asked.sum(axis=1).max())
    given = float(np.minimum(found.given, found.asked).sum(axis=1).min())
    text += f"; it asks {show(asked, 'flow', units)} of oil"
    if found.starved:
        text += f", gets {show(given, 'flow', units)}: {', '.join(found.starved)} short"
        least = found.least_engine_speed
        if least is not None:
            text += f"; fed from {show(least, 'shaft_speed', units)}"
        else:
            text += "; no engine speed in range feeds it"
    else:
        text += " and gets it"
    rows = [("full discharge", text)]
    stuck = [name for name, starts in found.starts.items() if not starts]
    if stuck:
        rows.append(
            ("from rest", f"not from rest there, hopper full: {', '.join(stuck)} stays put")
        )
    elif found.starts:
        rows.append(("from rest", "feeder and spinner start there, hopper full"))
    return rows


def _follow_rows(found: Following, units: str) -> list[tuple[str, str]]:
    rows, table = [], found.table
    accuracy = f"{100 * table.accuracy:.0f} %"
    held = []
    for rate, low, high in zip(table.rates, table.held_from, table.held_to, strict=True):
        ends = (show(float(v), "road_speed", units) for v in (low, high))
        where = "nowhere" if not np.isfinite(low) else " to ".join(ends)
        held.append(f"{show(float(rate), 'application_rate', units)} {where}")
    how = {
        "proportional": "follows in proportion",
        "start-stop": "runs at one rate whenever the truck moves",
        "off": "runs at one rate, also at a standstill",
    }[found.mode]
    kept = f"{table.feeder} {how}; rates kept within {accuracy}: " + "; ".join(held)
    rows.append(("road speed", kept))
    rows += _off_rows(found, units)
    short = found.share < 1.0 - ABOUT
    if short.any():
        told = [
            f"{100 * s:.0f} % at {show(float(e), 'shaft_speed', units)}"
            for e, s in zip(found.engine_speed[short], found.share[short], strict=True)
        ]
        text = f"of its greatest discharge {table.feeder} gives only " + ", ".join(told)
        rows.append(("engine speed", text))
    if found.pulses is not None:
        low, high = (show(float(p), "frequency", units) for p in found.pulses[[0, -1]])
        rows.append(("speed sensor", f"{low} to {high} over the road speeds"))
    return rows


def _off_rows(found: Following, units: str) -> list[tuple[str, str]]:
    """The order that is missed most at the road speeds of the file, to either side."""
    rows, table = [], found.table
    share = np.nan_to_num(table.share, nan=1.0) - 1.0
    for label, miss in (("most too much", share), ("most too little", -share)):
        r, v = (int(k) for k in np.unravel_index(int(np.argmax(miss)), miss.shape))
        if miss[r, v] <= table.accuracy:
            continue
        rate = show(float(table.rates[r]), "application_rate", units)
        speed = show(float(table.road_speeds[v]), "road_speed", units)
        why = table.limit[r][v] or "its discharge does not follow the road speed"
        rows.append((label, f"{100 * share[r, v]:+.0f} % of {rate} at {speed}: {why}"))
    return rows


def _link_row(one: Linked, units: str) -> tuple[str, str]:
    return (
        f"{one.function} with {one.follows}",
        f"runs at its minimum trim, {100 * one.command:.1f} %, which adds "
        f"{show(one.flow, 'flow', units)}",
    )


def control_json(truck: Truck, prediction: Prediction, units: str) -> dict[str, object]:
    """The control for the JSON envelope; a text where something cannot be computed."""
    known = with_predicted(truck, prediction)

    def either(work: Callable[[], object]) -> object:
        try:
            return work()
        except HydrocheckError as error:
            return {"not_computed": str(error)}

    return {
        "full_discharge": either(lambda: _discharge_json(full_discharge(known), units)),
        "road_speed": either(lambda: _follow_json(follow_road_speed(known))),
        "links": either(
            lambda: [
                {
                    "function": one.function,
                    "follows": one.follows,
                    "command": shown_json(one.command, "fraction", units),
                    "flow": shown_json(one.flow, "flow", units),
                }
                for one in linked_flows(known)
            ]
        ),
    }


def _discharge_json(found: Discharge | None, units: str) -> dict[str, object] | None:
    if found is None:
        return None
    least = found.least_engine_speed
    return {
        "engine_speed": column(found.engine_speed, "rad/s"),
        "oil_temperature": shown_json(found.oil_temperature, "temperature", units),
        "discharge": column(found.rate, "kg/s"),
        "duration": None if found.duration is None else shown_json(found.duration, "time", units),
        "mass": None if found.mass is None else column(found.mass, "kg"),
        "asked": {n: column(found.asked[:, m], "m3/s") for m, n in enumerate(found.functions)},
        "given": {n: column(found.given[:, m], "m3/s") for m, n in enumerate(found.functions)},
        "starved": list(found.starved),
        "least_engine_speed": None if least is None else shown_json(least, "shaft_speed", units),
        "starts_from_rest": dict(found.starts),
    }


def _follow_json(found: Following) -> dict[str, object]:
    table = found.table
    return {
        "feeder": table.feeder,
        "mode": found.mode,
        "rates": column(table.rates, "kg/m"),
        "kept_from": column(table.held_from, "m/s"),
        "kept_to": column(table.held_to, "m/s"),
        "accuracy": table.accuracy,
        "road_speeds": column(table.road_speeds, "m/s"),
        "laid_down": column(table.share * table.rates[:, None], "kg/m"),
        "engine_speed": column(found.engine_speed, "rad/s"),
        "share": column(found.share, "1"),
        "pulses": None if found.pulses is None else column(found.pulses, "Hz"),
    }
