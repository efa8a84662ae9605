"""Oil: viscosity when cold, at work and hottest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hydrocheck.checks.finding import Amount, Judgement, at_least, at_most, lower, upper, words
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.model import Truck
from hydrocheck.physics import oil
from hydrocheck.solver.fluid import fluid_at, oil_line
from hydrocheck.studies.conditions import oil_temperatures

AREA = "oil and heat"

_START_GEAR, _START = 500e-6, 1000e-6
_RUN_LOW, _RUN_WARN = 10e-6, 13e-6


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
    limit="1000 cSt to start, 500 cSt for a gear pump's suction",
    source="trade article 'Defining fluid temperature and viscosity limits'; 500 cSt from memory",
    subjects=_oil,
)
def viscosity_cold(look: Inspection, _: None) -> Judgement:
    """Viscosity of the coldest oil."""
    temperature, viscosity = _viscosity(look, "cold")
    gear = any(p.build == "gear" for p in look.truck.pump)
    limit = _START_GEAR if gear else _START
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
    limit="10 cSt; a caution below 13 cSt",
    source=(
        "trade article 'Defining fluid temperature and viscosity limits': never below 10 cSt hot"
    ),
    subjects=_oil,
)
def viscosity_hot(look: Inspection, _: None) -> Judgement:
    """Viscosity of the hottest oil."""
    temperature, viscosity = _viscosity(look, "hot")
    cool = float(oil.temperature_at_viscosity(_RUN_WARN, *oil_line(look.truck)))
    return lower(
        Amount(viscosity, "kinematic_viscosity"),
        Amount(_RUN_LOW, "kinematic_viscosity"),
        reserve=_RUN_WARN / _RUN_LOW - 1.0,
        about="viscosity of the hottest oil",
        change=words(
            "keep the oil below {cool}, or a thicker grade", cool=at_most(cool, "temperature")
        ),
        at={"oil": Amount(temperature, "temperature")},
    )
