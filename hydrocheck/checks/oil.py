"""Oil: viscosity when cold, at work and hottest."""

from __future__ import annotations

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
from hydrocheck.model import Truck
from hydrocheck.model.truck import Scenario
from hydrocheck.physics import oil
from hydrocheck.solver.fluid import fluid_at, oil_line
from hydrocheck.studies.conditions import oil_temperatures

AREA = "oil and heat"


def _oil(truck: Truck) -> list[tuple[str, None]]:
    return [("oil", None)]


def _viscosity(look: Inspection, which: str) -> tuple[float, float]:
    temperature = float(oil_temperatures(look.truck, which)[0])
    return temperature, float(fluid_at(look.truck, np.array([temperature])).viscosity[0])


@check(
    "viscosity-cold",
    area=AREA,
    asks="Is the oil thin enough to start the pump cold?",
    formula="kinematic viscosity at oil.cold (ASTM D341)",
    limit="{start_viscosity} to start, {start_viscosity_gear} for a gear pump's suction; a caution",
    source="trade article 'Defining fluid temperature and viscosity limits'",
    subjects=_oil,
)
def viscosity_cold(look: Inspection, _: None) -> Judgement:
    """Viscosity of the coldest oil."""
    temperature, viscosity = _viscosity(look, "cold")
    gear = any(p.build == "gear" for p in look.truck.pump)
    limits = look.truck.limits
    limit = float(limits.start_viscosity_gear if gear else limits.start_viscosity)
    warm = float(oil.temperature_at_viscosity(limit, *oil_line(look.truck)))
    judged = upper(
        Amount(viscosity, "kinematic_viscosity"),
        Amount(limit, "kinematic_viscosity"),
        about="viscosity at a cold start",
        change=words(
            "warm the oil to {warm} before any load, or a thinner or higher-index oil",
            warm=at_least(warm, "temperature"),
        ),
        at={"oil": Amount(temperature, "temperature")},
    )
    if judged.verdict != "fail":
        return judged
    # Idling unloaded until the oil is warm is a way to start; it is not a defect of the truck.
    return replace(judged, verdict="caution")


@check(
    "viscosity-hot",
    area=AREA,
    asks="Is the oil still thick enough when it is hottest?",
    formula="kinematic viscosity at oil.hot (ASTM D341)",
    limit="{hot_viscosity}; a caution within {hot_viscosity_reserve} of it",
    source=("trade article 'Defining fluid temperature and viscosity limits'"),
    subjects=_oil,
)
def viscosity_hot(look: Inspection, _: None) -> Judgement:
    """Viscosity of the hottest oil."""
    temperature, viscosity = _viscosity(look, "hot")
    least = float(look.truck.limits.hot_viscosity)
    reserve = float(look.truck.limits.hot_viscosity_reserve)
    cool = float(oil.temperature_at_viscosity(least * (1.0 + reserve), *oil_line(look.truck)))
    return lower(
        Amount(viscosity, "kinematic_viscosity"),
        Amount(least, "kinematic_viscosity"),
        reserve=reserve,
        about="viscosity of the hottest oil",
        change=words(
            "keep the oil below {cool}, or a thicker grade", cool=at_most(cool, "temperature")
        ),
        at={"oil": Amount(temperature, "temperature")},
    )


@check(
    "viscosity-at-work",
    area=AREA,
    asks="Does the oil keep a good running viscosity in the scenario?",
    formula="kinematic viscosity at the scenario's oil temperatures (ASTM D341)",
    limit="{work_viscosity_low} to {work_viscosity_high}; outside is a caution",
    source="trade article 'Defining fluid temperature and viscosity limits'",
    subjects=subjects.scenarios,
)
def viscosity_at_work(look: Inspection, scenario: Scenario) -> Judgement:
    """Viscosity at the temperatures that a scenario is declared for."""
    temperatures = oil_temperatures(look.truck, scenario.oil)
    viscosities = fluid_at(look.truck, temperatures).viscosity
    thin, thick = int(np.argmin(viscosities)), int(np.argmax(viscosities))
    line, limits = oil_line(look.truck), look.truck.limits
    low, high = float(limits.work_viscosity_low), float(limits.work_viscosity_high)
    cool = at_most(float(oil.temperature_at_viscosity(low, *line)), "temperature")
    warm = at_least(float(oil.temperature_at_viscosity(high, *line)), "temperature")
    below = lower(
        Amount(float(viscosities[thin]), "kinematic_viscosity"),
        Amount(low, "kinematic_viscosity"),
        about="viscosity at work",
        at={"oil": Amount(float(temperatures[thin]), "temperature")},
        change=words("keep the oil at {cool} or below, or a thicker grade", cool=cool),
    )
    above = upper(
        Amount(float(viscosities[thick]), "kinematic_viscosity"),
        Amount(high, "kinematic_viscosity"),
        about="viscosity at work",
        at={"oil": Amount(float(temperatures[thick]), "temperature")},
        change=words("warm the oil to {warm} before this work, or a thinner grade", warm=warm),
    )
    judged = min(below, above, key=lambda one: one.margin or 0.0)
    return eased(judged)


@check(
    "warm-up",
    area=AREA,
    asks="Can the truck go to work straight from a cold start?",
    formula="kinematic viscosity at oil.cold (ASTM D341) <= limits.work_viscosity_high",
    limit="{work_viscosity_high}; more is a caution: circulate unloaded until it is warm enough",
    source=(
        "trade article 'Defining fluid temperature and viscosity limits'; TM 5-3805-254-14P-1: "
        "circulate in neutral first"
    ),
    subjects=_oil,
)
def warm_up(look: Inspection, _: None) -> Judgement:
    """Viscosity of the coldest oil against what pumps and motors work with."""
    temperature, viscosity = _viscosity(look, "cold")
    thick = float(look.truck.limits.work_viscosity_high)
    warm = float(oil.temperature_at_viscosity(thick, *oil_line(look.truck)))
    judged = upper(
        Amount(viscosity, "kinematic_viscosity"),
        Amount(thick, "kinematic_viscosity"),
        about="viscosity before warm-up",
        at={"oil": Amount(temperature, "temperature")},
        change=words(
            "circulate without load until the oil is at {warm} or more",
            warm=at_least(warm, "temperature"),
        ),
    )
    return eased(judged)
