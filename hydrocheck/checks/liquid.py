"""Liquid: nozzles at the least order, the liquid pump at the greatest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import (
    Amount,
    Judgement,
    at_least,
    at_most,
    eased,
    lower,
    upper,
    words,
)
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function
from hydrocheck.studies.liquid import LiquidNeed, liquid_need, liquid_rig
from hydrocheck.studies.liquiddelivery import liquid_delivery

AREA = "spreading"


@dataclass(frozen=True)
class _Order:
    """A liquid order: its need, the kind of its rate, and what it is called."""

    need: LiquidNeed
    kind: str
    name: str


def _ordered(truck: Truck) -> list[tuple[str, None]]:
    spreading = truck.spreading
    direct = spreading.liquid is not None and bool(spreading.liquid.rates)
    return [("liquid", None)] if spreading.prewet is not None or direct else []


def _needs(look: Inspection) -> list[_Order]:
    rates, speeds = subjects.orders(look.truck)
    liquid = liquid_need(look.truck, np.array(rates), np.array(speeds))
    if liquid is None:
        return []
    found = []
    if liquid.prewet is not None:
        found.append(_Order(liquid.prewet, "application_rate", "material"))
    if liquid.direct is not None:
        found.append(_Order(liquid.direct, "liquid_rate", "liquid"))
    return found


@check(
    "nozzle-pressure",
    area=AREA,
    asks="Do the nozzles still spray at the least liquid order?",
    formula="p = rated pressure x (Q / rated flow)^2 x specific gravity, least rate and road speed",
    limit="spreading.liquid.least_pressure; less is a caution: they drip",
    source="square law of an orifice; the limit is the nozzle maker's",
    subjects=_ordered,
)
def nozzle_pressure(look: Inspection, _: None) -> Judgement:
    """Nozzle pressure at the least order."""
    rig = liquid_rig(look.truck)
    missing = [
        f"spreading.liquid.{k}"
        for k in ("nozzle_flow", "nozzle_pressure", "least_pressure")
        if getattr(rig, k) is None
    ]
    if missing or rig.least_pressure is None:
        raise MissingValue(missing)
    least, judged = float(rig.least_pressure), []
    for order in _needs(look):
        assert order.need.pressure is not None  # the nozzles are known
        pressure = float(order.need.pressure.min())
        rate = float(order.need.rates.min())
        wanted = rate * np.sqrt(least / pressure) if pressure > 0 else np.inf
        slow = float(order.need.road_speeds.min())
        judged.append(
            lower(
                Amount(pressure, "pressure"),
                Amount(least, "pressure"),
                about="nozzle pressure at the least order",
                at={"rate": Amount(rate, order.kind), "road speed": Amount(slow, "road_speed")},
                given={"flow": Amount(float(order.need.flow.min()), "flow")},
                change=words(
                    "order {rate} or more of {what}, or smaller nozzles",
                    rate=at_least(float(wanted), order.kind),
                    what=order.name,
                ),
            )
        )
    return eased(min(judged, key=lambda one: one.margin or 0.0))


@check(
    "liquid-pump-speed",
    area=AREA,
    asks="Does the liquid pump stay within its speed at the greatest liquid order?",
    formula="n = Q / spreading.liquid.per_turn, greatest rate at the greatest road speed",
    limit="limits.max_speed of the liquid function",
    source="flow of a displacement pump; the limit is the liquid pump maker's",
    subjects=lambda truck: [
        (f.name, f) for f in truck.function if f.kind == "liquid" and f.fitted and _ordered(truck)
    ],
)
def liquid_pump_speed(look: Inspection, function: Function) -> Judgement:
    """Speed of the liquid pump at the greatest order."""
    rig, limit = liquid_rig(look.truck), function.limits.max_speed
    missing = [] if rig.per_turn is not None else ["spreading.liquid.per_turn"]
    if limit is None:
        missing.append(f"{function.name}.limits.max_speed")
    if missing or rig.per_turn is None or limit is None:
        raise MissingValue(missing)
    judged = []
    for order in _needs(look):
        flow, fast = float(order.need.flow.max()), float(order.need.road_speeds.max())
        speed = flow / float(rig.per_turn)
        judged.append(
            upper(
                Amount(speed, "shaft_speed"),
                Amount(float(limit), "shaft_speed"),
                about="speed of the liquid pump at the greatest order",
                at={
                    "rate": Amount(float(order.need.rates.max()), order.kind),
                    "road speed": Amount(fast, "road_speed"),
                },
                given={"flow": Amount(flow, "flow")},
                change=words(
                    "{speed} or less at the greatest rate, or a pump of {turn} or more",
                    speed=at_most(fast * float(limit) / speed, "road_speed"),
                    turn=at_least(flow / float(limit), "displacement"),
                ),
            )
        )
    return min(judged, key=lambda one: one.margin or 0.0)


@check(
    "liquid-pump-pressure",
    area=AREA,
    asks="Do the nozzles ask no more pressure than the liquid pump is rated for?",
    formula="p = rated pressure x (Q / rated flow)^2 x density ratio, at the scenarios' own points",
    limit="liquid_pump.max_pressure",
    source="square law of an orifice; the limit is the liquid pump maker's",
    subjects=lambda truck: [
        (f.name, f)
        for f in truck.function
        if f.fitted
        and f.liquid_pump is not None
        and any(t.name == f.name for s in truck.scenario for t in s.run)
    ],
)
def liquid_pump_pressure(look: Inspection, function: Function) -> Judgement:
    """Greatest nozzle pressure of the scenarios against the pump's rating."""
    pump = function.liquid_pump
    if pump is None or pump.max_pressure is None:
        raise MissingValue([f"{function.name}.liquid_pump.max_pressure"])
    limit, worst = float(pump.max_pressure), (-1.0, "", 0.0)
    for scenario in look.truck.scenario:
        if not any(t.name == function.name for t in scenario.run):
            continue
        for one in liquid_delivery(look.truck, look.solved(scenario)):
            if one.function == function.name:
                n = int(np.argmax(one.pressure))
                worst = max(worst, (float(one.pressure[n]), scenario.name, float(one.flow[n])))
    pressure, name, flow = worst
    larger = float(pump.nozzle_flow or 0.0) * float(np.sqrt(max(pressure, 0.0) / limit))
    return upper(
        Amount(pressure, "pressure"),
        Amount(limit, "pressure"),
        about="pressure that the nozzles ask of the liquid pump",
        at={"scenario": name},
        given={"Q": Amount(flow, "flow")},
        change=words(
            "nozzles of {flow} or more each at their stated pressure, or more of them",
            flow=at_least(larger, "flow"),
        ),
    )
