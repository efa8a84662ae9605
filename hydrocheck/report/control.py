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
    add("road speed", lambda: [r for f in follow_road_speed(known) for r in _follow_rows(f, units)])
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
            ("from rest", f"{', '.join(stuck)} does not start from rest there, hopper full")
        )
    elif found.starts:
        rows.append(("from rest", "feeder and spinner start there, hopper full"))
    return rows


def _follow_rows(found: Following, units: str) -> list[tuple[str, str]]:
    rows = []
    if found.mode == "proportional":
        told = []
        for rate, slow, fast in zip(found.rates, found.slowest, found.fastest, strict=True):
            low, high = (show(float(v), "road_speed", units) for v in (slow, fast))
            told.append(f"{show(float(rate), 'application_rate', units)} from {low} to {high}")
        rows.append((f"{found.feeder} follows", "; ".join(told)))
        rows += _off_rows(found, units)
    else:
        fixed = show(float(found.rates[-1]), "application_rate", units)
        fast, slow = (show(float(v), "road_speed", units) for v in found.road_speeds[[-1, 0]])
        more = show(float(found.put_down[-1, 0]), "application_rate", units)
        rule = "runs whenever the truck moves" if found.mode == "start-stop" else "runs at one rate"
        rows.append(
            (f"{found.feeder} {rule}", f"set for {fixed} at {fast} it puts down {more} at {slow}")
        )
    short = found.share < 1.0 - ABOUT
    if short.any():
        told = [
            f"{100 * s:.0f} % at {show(float(e), 'shaft_speed', units)}"
            for e, s in zip(found.engine_speed[short], found.share[short], strict=True)
        ]
        rows.append(("engine speed", f"of its greatest discharge {found.feeder} gives only "
                     + ", ".join(told)))  # fmt: skip
    if found.pulses is not None:
        low, high = (show(float(p), "frequency", units) for p in found.pulses[[0, -1]])
        rows.append(("speed sensor", f"{low} to {high} over the road speeds"))
    return rows


def _off_rows(found: Following, units: str) -> list[tuple[str, str]]:
    """Where the trims keep an order from being followed at the road speeds of the file."""
    rows = []
    for which, off in (
        ("too much", found.put_down > found.rates[:, None] * (1.0 + ABOUT)),
        ("too little", found.put_down < found.rates[:, None] * (1.0 - ABOUT)),
    ):
        if not off.any():
            continue
        share = found.put_down / found.rates[:, None] - 1.0
        r, v = np.unravel_index(int(np.argmax(np.where(off, np.abs(share), 0.0))), off.shape)
        rate = show(float(found.rates[r]), "application_rate", units)
        speed = show(float(found.road_speeds[v]), "road_speed", units)
        trim = "minimum" if which == "too much" else "maximum"
        rows.append(
            (which, f"{100 * share[r, v]:+.0f} % of {rate} at {speed}: the {trim} trim rules there")
        )
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
        "road_speed": either(lambda: [_follow_json(f) for f in follow_road_speed(known)]),
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
    return {
        "feeder": found.feeder,
        "mode": found.mode,
        "rates": column(found.rates, "kg/m"),
        "slowest": column(found.slowest, "m/s"),
        "fastest": column(found.fastest, "m/s"),
        "road_speeds": column(found.road_speeds, "m/s"),
        "put_down": column(found.put_down, "kg/m"),
        "engine_speed": column(found.engine_speed, "rad/s"),
        "share": column(found.share, "1"),
        "pulses": None if found.pulses is None else column(found.pulses, "Hz"),
    }
