"""Pressure ladder, beside the main relief: standby, port reliefs, the rod side of cylinders."""

from __future__ import annotations

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
from hydrocheck.checks.inspection import Inspection, cracking
from hydrocheck.checks.registry import check
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function, Pump, Relief
from hydrocheck.physics import loads

AREA = "pressure ladder"


@check(
    "standby-pressure",
    area=AREA,
    asks="Is standby high enough for a steady pump?",
    formula="standby >= limits.standby_pressure",
    limit="{standby_pressure}; less is a caution",
    source="trade column: too low a standby risks instability",
    subjects=subjects.load_sensing_pumps,
)
def standby_pressure(look: Inspection, pump: Pump) -> Judgement:
    """Standby against the least that keeps a pump steady."""
    if pump.standby is None:
        raise MissingValue([f"{pump.name}.standby"])
    least = float(look.truck.limits.standby_pressure)
    judged = lower(
        Amount(float(pump.standby), "pressure"),
        Amount(least, "pressure"),
        about="standby pressure",
        change=words("a standby of {p} or more", p=at_least(least, "pressure")),
    )
    return eased(judged)


@check(
    "standby-margin",
    area=AREA,
    asks="Is standby above the LS margin, so that the two can be told apart at a gauge?",
    formula="standby >= LS margin",
    limit="the LS margin; less is a caution",
    source=(
        "Hydraulic Systems for Mobile Equipment, 2017, p. 421: standby is usually set above the "
        "margin"
    ),
    subjects=subjects.load_sensing_pumps,
)
def standby_margin(look: Inspection, pump: Pump) -> Judgement:
    """Standby against LS margin."""
    missing = [f"{pump.name}.{k}" for k in ("standby", "margin") if getattr(pump, k) is None]
    if missing or pump.standby is None or pump.margin is None:
        raise MissingValue(missing)
    standby, margin = float(pump.standby), float(pump.margin)
    judged = lower(
        Amount(standby, "pressure"),
        Amount(margin, "pressure"),
        about="standby pressure",
        change=words(
            "a standby of {high} or more, or an LS margin of {low} or less",
            high=at_least(margin, "pressure"),
            low=at_most(standby, "pressure"),
        ),
    )
    return eased(judged)


@check(
    "highest-pressure",
    area=AREA,
    asks="Does the system stay within the pressure that a truck standard allows?",
    formula="compensator (main relief of a fixed pump) <= limits.highest_pressure",
    limit="{highest_pressure}; more is a caution",
    source="FED-STD-794, p. 10: highest working pressure",
    subjects=subjects.pumps,
)
def highest_pressure(look: Inspection, pump: Pump) -> Judgement:
    """Highest pressure at the pump against the standard's."""
    most = float(look.truck.limits.highest_pressure)
    judged = upper(
        Amount(look.highest_pressure(pump), "pressure"),
        Amount(most, "pressure"),
        about="highest pressure at the pump",
        change=words(
            "{what} of {p} or less, with larger motors and cylinders for the same work",
            what="a main relief" if pump.type == "fixed" else "a compensator",
            p=at_most(most, "pressure"),
        ),
    )
    return eased(judged)


def _port_reliefs(truck: Truck) -> list[tuple[str, Relief]]:
    return [(r.name, r) for r in truck.relief if r.at == "port"]


@check(
    "port-relief-work",
    area=AREA,
    asks="Does the port relief stay shut while its function works?",
    formula="pressure at the work port in the worst scenario <= cracking of the port relief",
    limit="cracking of the port relief",
    source="steady-state balance; pilot reliefs crack at 95 %, direct ones at 85 % of setting",
    subjects=_port_reliefs,
)
def port_relief_work(look: Inspection, relief: Relief) -> Judgement:
    """Highest pressure that the work needs at the port against the relief's cracking."""
    opens = cracking(relief)
    setting = float(relief.setting) if relief.setting is not None else opens
    work, where = 0.0, ""
    for scenario in look.truck.scenario:
        names = look.solved(scenario).result.functions
        if relief.of in names:
            needed = float(look.need(scenario).work[:, names.index(relief.of)].max())
            if needed > work:
                work, where = needed, scenario.name
    if work <= 0.0:
        return Judgement("pass", words("no scenario runs {name}", name=relief.of or "its function"))
    return upper(
        Amount(work, "pressure"),
        Amount(opens, "pressure"),
        about="pressure that the work needs at the port",
        change=words(
            "set {name} to {setting} or more, if the parts behind it allow it",
            name=relief.name,
            setting=at_least(work * setting / opens, "pressure"),
        ),
        at={"scenario": where},
    )


@check(
    "port-relief-main",
    area=AREA,
    asks="Is the port relief set clear of the main relief?",
    formula="|port relief setting - main relief setting| >= {compensator_gap}",
    limit="{compensator_gap}; a smaller gap is a caution: the two open together and hunt",
    source=(
        "from memory: shock reliefs stand above the main relief, reliefs that limit one function "
        "clearly below"
    ),
    subjects=_port_reliefs,
)
def port_relief_main(look: Inspection, relief: Relief) -> Judgement:
    """Distance between a port relief and the main relief."""
    main = look.main_relief(look.pump)
    missing = [f"{r.name}.setting" for r in (relief, main) if r.setting is None]
    if missing or relief.setting is None or main.setting is None:
        raise MissingValue(missing)
    gap = float(look.truck.limits.compensator_gap)
    port, highest = float(relief.setting), float(main.setting)
    judged = lower(
        Amount(abs(port - highest), "pressure_drop"),
        Amount(gap, "pressure_drop"),
        about="distance of the port relief from the main relief",
        change=words(
            "set {name} to {high} or more, or to {low} or less",
            name=relief.name,
            high=at_least(highest + gap, "pressure"),
            low=at_most(highest - gap, "pressure"),
        ),
    )
    return eased(judged)


def _rods(truck: Truck) -> list[tuple[str, Function]]:
    """Double-acting cylinders with a rod."""
    found = []
    for name, function in subjects.functions(truck):
        cylinder = function.cylinder
        if cylinder is not None and cylinder.acting == "double" and cylinder.rod:
            found.append((name, function))
    return found


@check(
    "rod-side-intensification",
    area=AREA,
    asks="Does the rod side hold if its port is blocked while the piston side is fed?",
    formula="p = highest pressure x bore^2 / (bore^2 - rod^2), or the port relief if that is lower",
    limit=(
        "lowest rating of cylinder and hoses; more is a caution: it takes a blocked port, as a "
        "quick coupling that is not made up"
    ),
    source="force balance of the piston",
    subjects=_rods,
)
def rod_side_intensification(look: Inspection, function: Function) -> Judgement:
    """Pressure on the blocked rod side against the ratings there."""
    cylinder = function.cylinder
    if cylinder is None or cylinder.bore is None or cylinder.rod is None:
        raise MissingValue([f"{function.name}.cylinder.bore"])
    ratings = [float(r) for r in (cylinder.max_pressure, function.max_pressure) if r is not None]
    if not ratings:
        raise MissingValue([f"{function.name}.cylinder.max_pressure"])
    ports = [r for r in look.truck.relief if r.at == "port" and r.of == function.name]
    settings = [float(r.setting) for r in ports if r.setting is not None]
    supplied = min([look.highest_pressure(look.pump), *settings])
    ratio = float(np.asarray(loads.area_ratio(float(cylinder.bore), float(cylinder.rod))))
    blocked = min([supplied * ratio, *settings])
    judged = upper(
        Amount(blocked, "pressure"),
        Amount(min(ratings), "pressure"),
        about="pressure on the rod side with its port blocked",
        change=words(
            "a port relief of {p} or less on the rod side",
            p=at_most(min(ratings), "pressure"),
        ),
        at={"piston side": Amount(supplied, "pressure")},
        given={
            "bore": Amount(float(cylinder.bore), "length"),
            "rod": Amount(float(cylinder.rod), "length"),
        },
    )
    return eased(judged)
