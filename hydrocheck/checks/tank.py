"""Filter and tank: what the return filter loses and lets past, and whether the tank is enough."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

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
from hydrocheck.model.circuit import Line, Pump
from hydrocheck.model.lines import Filter
from hydrocheck.physics import lines, loads, oil
from hydrocheck.solver.fluid import fluid_at, oil_line

AREA = "filter and tank"


def _filters(truck: Truck) -> list[tuple[str, Line]]:
    return [(f"{n.name} filter", n) for n in truck.lines if n.filter is not None]


def _return_filters(truck: Truck) -> list[tuple[str, Line]]:
    return [(label, line) for label, line in _filters(truck) if line.carries == "return"]


def _filter(line: Line) -> Filter:
    if line.filter is None:
        raise MissingValue([f"lines.{line.name}.filter"])
    return line.filter


def _element_drop(look: Inspection, part: Filter, flow: float, temperature: float) -> float:
    """Drop of a filter's element with its bypass held shut [Pa]."""
    viscosity = float(fluid_at(look.truck, np.array([temperature])).viscosity[0])
    rated = (float(part.rated_flow), float(part.rated_drop))
    return float(lines.filter_drop(flow, *rated, viscosity, float(part.rated_viscosity)))


@check(
    "filter-clean-drop",
    area=AREA,
    asks="Is the return filter large enough for the whole return flow?",
    formula=(
        "clean drop at {filter_warm} with the pump's theoretical flow (fixed pump) or the most "
        "that a scenario returns"
    ),
    limit="{filter_drop}; more is a caution",
    source="MIL-C-53057, p. 21: clean drop at full flow with warm oil",
    subjects=_return_filters,
)
def filter_clean_drop(look: Inspection, line: Line) -> Judgement:
    """Clean drop of the return filter with warm oil."""
    part, flow = _filter(line), look.return_flow(look.pump)
    warm, most = float(look.truck.limits.filter_warm), float(look.truck.limits.filter_drop)
    drop = _element_drop(look, part, flow, warm)
    size = float(part.rated_flow) * drop / most
    judged = upper(
        Amount(drop, "pressure_drop"),
        Amount(most, "pressure_drop"),
        about="clean drop of the return filter",
        at={"flow": Amount(flow, "flow"), "oil": Amount(warm, "temperature")},
        given={
            "rated flow": Amount(float(part.rated_flow), "flow"),
            "rated drop": Amount(float(part.rated_drop), "pressure_drop"),
        },
        change=words(
            "a filter that passes {flow} or more at its rated drop", flow=at_least(size, "flow")
        ),
    )
    return eased(judged)


@check(
    "filter-bypass",
    area=AREA,
    asks="Does the bypass of the return filter close before the oil is warm?",
    formula=(
        "rated drop x (Q / rated flow) x (viscosity / rated viscosity) at {filter_shut} <= "
        "bypass cracking"
    ),
    limit="bypass cracking, Q as in filter-clean-drop; an open bypass is a caution",
    source="MIL-C-53057, p. 22: the bypass may open in cold oil only",
    subjects=_return_filters,
)
def filter_bypass(look: Inspection, line: Line) -> Judgement:
    """Drop of the clean element at 70 degF against the cracking of its bypass."""
    part, flow = _filter(line), look.return_flow(look.pump)
    if part.bypass_cracking is None:
        raise MissingValue([f"lines.{line.name}.filter.bypass_cracking"])
    opens, shut = float(part.bypass_cracking), float(look.truck.limits.filter_shut)
    drop = _element_drop(look, part, flow, shut)
    limit = Amount(opens, "pressure_drop")
    change = words(
        "a filter that passes {flow} or more at its rated drop",
        flow=at_least(float(part.rated_flow) * drop / opens, "flow"),
    )
    at = {"flow": Amount(flow, "flow"), "oil": Amount(shut, "temperature")}
    judged = upper(Amount(drop, "pressure_drop"), limit, about="clean drop", at=at, change=change)
    if drop <= 0.0:
        return judged
    viscosity = float(fluid_at(look.truck, np.array([shut])).viscosity[0])
    closes = float(oil.temperature_at_viscosity(viscosity * opens / drop, *oil_line(look.truck)))
    why = words(
        "oil below {closes} goes past the element: bypass cracks at {limit}, the element takes "
        "{drop} at {warm}",
        closes=Amount(closes, "temperature"),
        limit=limit,
        drop=Amount(drop, "pressure_drop"),
        warm=Amount(shut, "temperature"),
    )
    return eased(replace(judged, reason=why))


@check(
    "filter-fineness",
    area=AREA,
    asks="Is the filter fine enough?",
    formula="fineness <= limits.filter_fineness",
    limit="{filter_fineness}; coarser is a caution",
    source="MIL-T-62497, p. 17, asks for a finer full-flow filter; the limit is ours",
    subjects=lambda truck: [(label, n) for label, n in _filters(truck) if n.carries != "suction"],
)
def filter_fineness(look: Inspection, line: Line) -> Judgement:
    """Fineness of a filter; a suction strainer is coarse on purpose and not judged."""
    part = _filter(line)
    if part.fineness is None:
        raise MissingValue([f"lines.{line.name}.filter.fineness"])
    coarsest = float(look.truck.limits.filter_fineness)
    judged = upper(
        Amount(float(part.fineness), "particle_size"),
        Amount(coarsest, "particle_size"),
        about="fineness of the filter",
        change=words("an element of {fine} or finer", fine=at_most(coarsest, "particle_size")),
    )
    return eased(judged)


@check(
    "tank-dwell",
    area=AREA,
    asks="Does the oil rest in the tank long enough at work?",
    formula="oil volume / sum of the pumps' theoretical flows at the high end of the working band",
    limit="{tank_dwell}; less is a caution: air and heat stay in the oil",
    source="common practice: one to three minutes of pump flow",
    subjects=lambda truck: [("tank", None)] if truck.pump else [],
)
def tank_dwell(look: Inspection, _: None) -> Judgement:
    """Time that the pumps take to turn the tank over."""
    truck = look.truck
    if truck.reservoir.volume is None:
        raise MissingValue(["reservoir.volume"])
    if truck.engine.working is None:
        raise MissingValue(["engine.working"])
    high = float(truck.engine.working[1])
    flow = sum(_flow_at(look, pump, high) for pump in truck.pump)
    if flow <= 0.0:
        return Judgement("pass", words("the pumps stand still"))
    volume, least = float(truck.reservoir.volume), float(truck.limits.tank_dwell)
    judged = lower(
        Amount(volume / flow, "time"),
        Amount(least, "time"),
        about="time in the tank",
        at={"engine": Amount(high, "shaft_speed"), "flow": Amount(flow, "flow")},
        given={"volume": Amount(volume, "volume"), "flow": Amount(flow, "flow")},
        change=words("{volume} of oil or more", volume=at_least(flow * least, "volume")),
    )
    return eased(judged)


def _flow_at(look: Inspection, pump: Pump, engine_speed: float) -> float:
    """Theoretical flow of a pump at full displacement [m3/s]."""
    if pump.displacement is None:
        raise MissingValue([f"{pump.name}.displacement"])
    return float(pump.displacement) * engine_speed * float(look.drive_of(pump).ratio)


def swing(truck: Truck) -> Iterable[tuple[str, float]]:
    """Oil that leaves the tank with every cylinder out [m3], by function."""
    for name, function in subjects.functions(truck):
        cylinder = function.cylinder
        if cylinder is None:
            continue
        key = f"{name}.cylinder"
        missing = [f"{key}.{k}" for k in ("bore", "stroke") if getattr(cylinder, k) is None]
        if missing or cylinder.bore is None or cylinder.stroke is None:
            raise MissingValue(missing)
        bore, count = float(cylinder.bore), float(cylinder.count)
        area = float(np.asarray(loads.piston_area(bore, count)))
        if cylinder.acting == "double":
            rod = float(cylinder.rod or 0.0)
            area -= float(np.asarray(loads.annulus_area(bore, rod, count)))
        yield name, area * float(cylinder.stroke)


@check(
    "tank-swing",
    area=AREA,
    asks="Does the tank hold what all cylinders take when they are out, and a tenth more?",
    formula="volume >= 1.10 x sum of stroke volumes (a double-acting one takes its rod's)",
    limit="1.10 x the cylinders' volume; it does not cover the suction port",
    source="MIL-T-62491C, p. 37: needed volume and at least 10 % for expansion",
    subjects=lambda truck: (
        [("tank", None)] if any(f.cylinder for _, f in subjects.functions(truck)) else []
    ),
)
def tankswing(look: Inspection, _: None) -> Judgement:
    """Oil volume against what the cylinders take out of it."""
    if look.truck.reservoir.volume is None:
        raise MissingValue(["reservoir.volume"])
    needed = (1.0 + float(look.truck.limits.tank_spare)) * sum(
        volume for _, volume in swing(look.truck)
    )
    return lower(
        Amount(float(look.truck.reservoir.volume), "volume"),
        Amount(needed, "volume"),
        about="oil in the tank",
        change=words("{volume} of oil or more", volume=at_least(needed, "volume")),
    )
