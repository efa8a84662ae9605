"""Heat: where the oil settles by season, what the cooler holds, and each component's window."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.checks import subjects
from hydrocheck.checks.cooling import surface_missing, tank_cooling, tank_surface
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
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Motor, Pump
from hydrocheck.model.truck import Scenario
from hydrocheck.physics import oil
from hydrocheck.solver.fluid import fluid_at, oil_line
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures, top_speed
from hydrocheck.studies.thermal import HIGHEST, SPREAD, STANDBY

Array = NDArray[np.float64]

AREA = "oil and heat"

NODES = 21
"""Oil temperatures at which the heat of a duty is solved, then those around its balance."""
NEAR = 9


def _oil(truck: Truck) -> list[tuple[str, None]]:
    return [("oil", None)]


@dataclass(frozen=True)
class _Season:
    """A duty: scenarios with their engine speed and share of the time; the air; what cools."""

    parts: tuple[tuple[Scenario, float, float], ...]
    air: float
    surface: float
    cooler: float
    hot: float

    def loss(self, temperature: Array, factor: float = 1.0) -> Array:
        """Heat given off [W], (K,); factor: on the surface coefficient."""
        return (self.surface * factor + self.cooler) * (temperature - self.air)


def _season(look: Inspection, season: str) -> _Season:
    truck, tank = look.truck, look.truck.reservoir
    air = truck.ambient.hottest if season == "winter" else truck.ambient.summer
    key = "ambient.hottest" if season == "winter" else "ambient.summer"
    missing = [key] if air is None else []
    missing += surface_missing(truck)
    shares = {s.name: getattr(s, season) for s in truck.scenario}
    if all(share is None for share in shares.values()):
        missing.append(f"scenario.{season}")
    if missing or air is None:
        raise MissingValue(missing)
    parts = []
    for scenario in truck.scenario:
        if share := shares[scenario.name]:
            speed = float(np.median(engine_speeds(truck, scenario.engine)))
            parts.append((scenario, float(share), speed))
    rest = 1.0 - sum(share for _, share, _ in parts)
    if rest < -1e-9:
        raise DomainError(f"shares of the {season}: add up to more than 100 %")
    out = season == "summer" and look.drive_of(look.pump).kind == "power take-off"
    if rest > 1e-9 and not out:
        speed = _road_speed(look) if season == "summer" else _working(look)
        parts.append((Scenario(name=STANDBY), rest, speed))
    hot = float(oil_temperatures(truck, "hot")[0])
    if hot <= float(air):
        raise DomainError("oil.hot is not above the air: the tank gives off no heat")
    return _Season(tuple(parts), float(air), tank_surface(truck), float(tank.cooler or 0.0), hot)


def _road_speed(look: Inspection) -> float:
    """Engine speed on the road [rad/s]: governed, or where the drive drops out."""
    governed = float(engine_speeds(look.truck, "governed")[0])
    return min(governed, top_speed(look.truck, look.truck.pump.index(look.pump)))


def _working(look: Inspection) -> float:
    return float(np.median(engine_speeds(look.truck, "working")))


def _made(look: Inspection, season: _Season, temperature: Array) -> Array:
    """Heat of a duty at oil temperatures [W], (K,)."""
    works = [look.plan(s, np.full(temperature.size, v), temperature) for s, _, v in season.parts]
    total = np.zeros(temperature.size)
    for (_, share, _), solved in zip(season.parts, look.solve_works(works), strict=True):
        total += share * solved.result.total_heat
    return total


def _settles(look: Inspection, season: _Season) -> tuple[float | None, float]:
    """Temperature at which heat first equals what is given off [K]; None up to `HIGHEST`.

    And the heat at the hottest oil [W].
    """
    grid = np.linspace(season.air, HIGHEST, NODES)
    heat = _made(look, season, np.append(grid, season.hot))
    excess, made = heat[:-1] - season.loss(grid), float(heat[-1])
    if excess.max() <= 0.0:
        return season.air, made
    below = np.flatnonzero(excess <= 0.0)
    below = below[below > 0]
    if not below.size:
        return None, made
    k = int(below[0])
    fine = np.linspace(grid[k - 1], grid[k], NEAR)
    closer = _made(look, season, fine) - season.loss(fine)
    j = max(int(np.argmax(closer <= 0.0)), 1)
    return float(np.interp(0.0, -closer[[j - 1, j]], fine[[j - 1, j]])), made


def _seasonal(look: Inspection, which: str) -> Judgement:
    season = _season(look, which)
    settled, made = _settles(look, season)
    thin = float(season.loss(np.array([season.hot]), 1.0 / SPREAD)[0])
    cooler = max(made / (season.hot - season.air) - season.surface / SPREAD, 0.0)
    change = words("a cooler of {cooler} or more", cooler=at_least(cooler, "heat_conductance"))
    given = {"heat at oil.hot": Amount(made, "power"), "air": Amount(season.air, "temperature")}
    limit = Amount(season.hot, "temperature")
    if settled is None:
        why = words("the oil finds no balance: heat exceeds what tank and cooler give off")
        return Judgement("fail", why, limit=limit, margin=-1.0, change=change, given=given)
    margin = (season.hot - settled) / (season.hot - season.air)
    text = f"the oil settles at {{value}} in {which} duty; at most {{limit}}"
    verdict = "pass" if margin >= 0 else "fail"
    if verdict == "pass" and made > thin:
        verdict, text = "caution", text + ", but not with the least of published surface factors"
    return Judgement(
        "fail" if verdict == "fail" else "caution" if verdict == "caution" else "pass",
        words(text, value=Amount(settled, "temperature"), limit=limit),
        Amount(settled, "temperature"),
        limit,
        float(margin),
        {"air": Amount(season.air, "temperature")},
        None if verdict == "pass" else change,
        given,
    )


@check(
    "oil-temperature-winter",
    area=AREA,
    asks="Does the oil stay below its hottest in a winter's duty?",
    formula=(
        "sum of share x heat of each scenario and of standby at T = (h A + cooler) "
        "(T - ambient.hottest)"
    ),
    limit="oil.hot; a caution where it takes more than the least published surface coefficient",
    source="heat balance; published surface coefficients differ by a factor of 2.5",
    subjects=_oil,
)
def oil_temperature_winter(look: Inspection, _: None) -> Judgement:
    """Settled temperature of the winter's mix of scenarios."""
    return _seasonal(look, "winter")


@check(
    "oil-temperature-summer",
    area=AREA,
    asks="Does the oil stay below its hottest in a summer's duty, the pump turning on the road?",
    formula=(
        "as oil-temperature-winter, with the summer's shares; the rest of the time the pump "
        "circulates at governed speed, unless a power take-off is out"
    ),
    limit="oil.hot; a caution where it takes more than the least published surface coefficient",
    source="heat balance; published surface coefficients differ by a factor of 2.5",
    subjects=_oil,
)
def oil_temperature_summer(look: Inspection, _: None) -> Judgement:
    """Settled temperature of the summer's mix of scenarios."""
    return _seasonal(look, "summer")


def _turning(truck: Truck) -> Iterable[tuple[str, Scenario]]:
    """Scenarios that go on as long as one likes: no cylinder moves in them."""
    return [(s.name, s) for s in truck.scenario if s.run and not any(t.motion for t in s.run)]


@check(
    "heat-without-pause",
    area=AREA,
    asks="Do tank and cooler hold the oil when the scenario goes on without a pause?",
    formula=(
        "heat of the steady state at oil.hot <= (h A + cooler) (oil.hot - ambient.hottest), middle "
        "of the engine speeds"
    ),
    limit="what tank and cooler give off at oil.hot; more is a caution",
    source="heat balance; all that is not mechanical work at the loads heats the oil",
    subjects=_turning,
)
def heat_without_pause(look: Inspection, scenario: Scenario) -> Judgement:
    """Heat of a scenario against the cooling at the hottest oil."""
    truck, cooling = look.truck, tank_cooling(look.truck)
    hot = cooling.hot
    speed = float(np.median(engine_speeds(truck, scenario.engine)))
    result = look.solve_work(look.plan(scenario, speed, hot)).result
    made = float(result.total_heat[0])
    cooler = max(made / cooling.warmer - cooling.surface, 0.0)
    judged = upper(
        Amount(made, "power"),
        Amount(cooling.gives, "power"),
        about="heat of the scenario at the hottest oil",
        at={"engine": Amount(speed, "shaft_speed"), "oil": Amount(hot, "temperature")},
        given={"input": Amount(float(result.shaft_power[0]), "power")},
        change=words("a cooler of {cooler} or more", cooler=at_least(cooler, "heat_conductance")),
    )
    return eased(judged)


@check(
    "heat-share",
    area=AREA,
    asks="Does most of the pump's power reach the loads?",
    formula="sum of the heat of all elements / shaft power of the pump, by the steady state",
    limit="{heat_share}; more is a caution",
    source="energy balance, element by element; a fixed pump at part load wastes most",
    subjects=_turning,
)
def heat_share(look: Inspection, scenario: Scenario) -> Judgement:
    """Share of the input that turns to heat."""
    result = look.solved(scenario).result
    given = result.shaft_power > 0
    if not given.any():
        return Judgement("pass", words("the pump takes no power"))
    share = np.where(given, result.total_heat / np.where(given, result.shaft_power, 1.0), 0.0)
    n = int(np.argmax(share))
    element = max(result.heat, key=lambda name: float(result.heat[name][n]))
    judged = upper(
        Amount(float(share[n]), "fraction"),
        Amount(float(look.truck.limits.heat_share), "fraction"),
        about="share of the pump's power that turns to heat",
        at={
            "engine": Amount(float(result.engine_speed[n]), "shaft_speed"),
            "oil": Amount(float(result.oil_temperature[n]), "temperature"),
        },
        given={
            "heat": Amount(float(result.total_heat[n]), "power"),
            element: Amount(float(result.heat[element][n]), "power"),
            "input": Amount(float(result.shaft_power[n]), "power"),
        },
        change=words("less loss where most of it is: {element}", element=element),
    )
    return eased(judged)


Machine = Pump | Motor


def _windows(truck: Truck) -> Iterable[tuple[str, tuple[str, Machine]]]:
    """Pumps, and motors whose maker states a window."""
    yield from ((p.name, (p.name, p)) for p in truck.pump)
    for label, one in subjects.motors(truck):
        if one.motor.min_viscosity is not None or one.motor.max_viscosity is not None:
            yield f"{label} motor", (one.key, one.motor)


@check(
    "viscosity-window",
    area=AREA,
    asks="Does the oil stay within the maker's viscosities from working to hottest?",
    formula="kinematic viscosity at oil.working and oil.hot (ASTM D341)",
    limit="the component's min_viscosity and max_viscosity",
    source="ASTM D341; the limits are the component maker's",
    subjects=_windows,
)
def viscosity_window(look: Inspection, subject: tuple[str, Machine]) -> Judgement:
    """Viscosities at work against a component's window."""
    key, machine = subject
    if machine.min_viscosity is None and machine.max_viscosity is None:
        raise MissingValue([f"{key}.min_viscosity", f"{key}.max_viscosity"])
    temperatures = np.array(
        [float(oil_temperatures(look.truck, word)[0]) for word in ("working", "hot")]
    )
    viscosities = fluid_at(look.truck, temperatures).viscosity
    line, judged = oil_line(look.truck), []
    if machine.min_viscosity is not None:
        limit = float(machine.min_viscosity)
        cool = at_most(float(oil.temperature_at_viscosity(limit, *line)), "temperature")
        judged.append(_thin(float(viscosities[1]), limit, float(temperatures[1]), cool))
    if machine.max_viscosity is not None:
        limit = float(machine.max_viscosity)
        warm = at_least(float(oil.temperature_at_viscosity(limit, *line)), "temperature")
        judged.append(
            upper(
                Amount(float(viscosities[0]), "kinematic_viscosity"),
                Amount(limit, "kinematic_viscosity"),
                about="viscosity at work",
                at={"oil": Amount(float(temperatures[0]), "temperature")},
                change=words("warm the oil to {warm} or more, or a thinner grade", warm=warm),
            )
        )
    return min(judged, key=lambda one: one.margin or 0.0)


def _thin(viscosity: float, limit: float, temperature: float, cool: Amount) -> Judgement:
    return lower(
        Amount(viscosity, "kinematic_viscosity"),
        Amount(limit, "kinematic_viscosity"),
        about="viscosity of the hottest oil",
        at={"oil": Amount(temperature, "temperature")},
        change=words("keep the oil at {cool} or below, or a thicker grade", cool=cool),
    )
