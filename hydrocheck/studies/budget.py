"""Flow budget: what the pump can deliver and what a scenario demands, against engine speed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Pump
from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.solver import FunctionLimit, SupplyLimit
from hydrocheck.studies.closedloop import solve_loops
from hydrocheck.studies.conditions import oil_temperatures, top_speed
from hydrocheck.studies.pressure import Need, needed_pressure
from hydrocheck.studies.work import Solved, Work, plan_pairs, plan_work

Array = NDArray[np.float64]

STEPS = 81
ENOUGH = 1e-6
"""Share of a demand that may be missing before it counts as not met: rounding, not hydraulics."""


@dataclass(frozen=True)
class Budget:
    """The flow budget of one scenario at N engine speeds, M functions.

    engine_speed: [rad/s], (N,), rising; oil_temperature: [K]
    available: flow of the pump at full stroke and the pressure that the circuit asks [m3/s], (N,)
    demand, delivered: section flow wanted and given [m3/s], (N, M)
    pressure: at the pump [Pa], (N,); supply_limit: (N,); function_limit: (N, M)
    least_speed: lowest engine speed that meets every demand [rad/s]; None if none in the range does
    working: the working band [rad/s], None where not given
    """

    scenario: str
    functions: tuple[str, ...]
    oil_temperature: float
    engine_speed: Array
    available: Array
    demand: Array
    delivered: Array
    pressure: Array
    supply_limit: NDArray[np.int64]
    function_limit: NDArray[np.int64]
    least_speed: float | None
    working: tuple[float, float] | None

    @property
    def total_demand(self) -> Array:
        """Sum of the demands [m3/s], (N,)."""
        total: Array = self.demand.sum(axis=1)
        return total

    @property
    def shortfall(self) -> Array:
        """Sum of what the functions lack [m3/s], (N,)."""
        missing: Array = np.maximum(self.demand - self.delivered, 0.0).sum(axis=1)
        return missing


def flow_budget(
    truck: Truck,
    scenario: Scenario,
    engine_speed: ArrayLike | None = None,
    oil_temperature: float | None = None,
) -> Budget:
    """The flow budget of a scenario from idle to the highest engine speed with the pump engaged.

    engine_speed: [rad/s] in place of that range; oil_temperature: [K] in place of the scenario's
    (its
    hottest, where it names several: slip is then greatest)

    Raises MissingValue, NotSolvedYet, CircuitError, DomainError.
    """
    hot = (
        oil_temperatures(truck, scenario.oil).max() if oil_temperature is None else oil_temperature
    )
    if engine_speed is None:
        if truck.engine.idle is None:
            raise MissingValue(["engine.idle"])
        engine_speed = np.linspace(float(truck.engine.idle), top_speed(truck), STEPS)
    solved = solve_loops(truck, plan_work(truck, scenario, engine_speed, hot))
    result = solved.result
    return Budget(
        scenario=scenario.name,
        functions=result.functions,
        oil_temperature=float(hot),
        engine_speed=result.engine_speed,
        available=available_flow(truck, solved),
        demand=solved.wanted,
        delivered=result.flow,
        pressure=result.pump_pressure,
        supply_limit=result.supply_limit,
        function_limit=result.function_limit,
        least_speed=least_engine_speed(truck, scenario, float(hot)),
        working=truck.engine.working,
    )


def available_flow(truck: Truck, solved: Solved) -> Array:
    """What the pump delivers at full stroke, at the pressure of each solved point [m3/s], (N,);
    several pumps together, those that something is wanted from."""
    total = np.zeros(solved.result.size)
    for result in solved.result.supplies or (solved.result,):
        own = [solved.result.column(name) for name in result.functions]
        if solved.result.supplies and not solved.wanted[:, own].any():
            continue
        pump = next(p for p in truck.pump if p.name == result.pumps[0])
        total += flow_at_full_stroke(pump, {k: getattr(result, k) for k in FULL_STROKE})
    return total


FULL_STROKE = ("pump_speed", "pump_slip", "pump_flow", "supply_limit")
"""Columns of a result from which the flow at full stroke follows."""


def flow_at_full_stroke(pump: Pump, columns: Mapping[str, Array]) -> Array:
    """What a pump gives at full stroke and the pressure of each point [m3/s], (N,).

    columns: those of `FULL_STROKE`
    """
    full = pump.displacement if pump.derived_displacement is None else pump.derived_displacement
    limited = columns["supply_limit"] == SupplyLimit.TORQUE_LIMIT
    at_full = np.asarray(full) * columns["pump_speed"] - columns["pump_slip"]
    return np.maximum(np.where(limited, columns["pump_flow"], at_full), 0.0)


def is_met(solved: Solved) -> NDArray[np.bool_]:
    """Where every function gets what it wants, (N,)."""
    return np.asarray((solved.shortfall <= ENOUGH * solved.wanted).all(axis=1))


class Solver(Protocol):
    """What plans and solves a scenario's work: `Direct`, or something that remembers."""

    def plan(self, scenario: Scenario, engine: ArrayLike, oil: ArrayLike) -> Work:
        """The work at pairs of engine speed [rad/s] and oil temperature [K]."""

    def solve_work(self, work: Work) -> Solved:
        """The steady state of a work."""

    def pressures(self, work: Work) -> Need:
        """What a work needs, valves aside."""


@dataclass(frozen=True)
class Direct:
    """Plans and solves as it is asked."""

    truck: Truck

    def plan(self, scenario: Scenario, engine: ArrayLike, oil: ArrayLike) -> Work:
        """The work at pairs of engine speed [rad/s] and oil temperature [K]."""
        return plan_pairs(self.truck, scenario, engine, oil)

    def solve_work(self, work: Work) -> Solved:
        """The steady state of a work."""
        return solve_loops(self.truck, work)

    def pressures(self, work: Work) -> Need:
        """What a work needs, valves aside."""
        return needed_pressure(self.truck, work)


def least_engine_speed(
    truck: Truck, scenario: Scenario, oil_temperature: float, by: Solver | None = None
) -> float | None:
    """Lowest engine speed that meets every demand of a scenario [rad/s], None if none does.

    oil_temperature: [K]; by: what plans and solves, `Direct` where it is not given

    The speed at which the pump just gives the sum of the demands at the pressure that they need is
    closed form; a solve there confirms it. Where it does not (a torque limiter, say), the range is
    searched.
    """
    by, top = by or Direct(truck), top_speed(truck)
    ratio = float((truck.pump[0].drive or truck.engine.drive).ratio)
    need = by.pressures(by.plan(scenario, top, oil_temperature))
    least = float(need.pump_speed[0]) / ratio
    speeds = np.array([least * (1.0 + ENOUGH), top])
    met = is_met(by.solve_work(by.plan(scenario, speeds, oil_temperature)))
    if not met[1] or (met[0] and least > top):
        return None
    return least if met[0] else _search(scenario, oil_temperature, top, by)


def _search(
    scenario: Scenario,
    oil_temperature: float,
    top: float,
    by: Solver,
    steps: int = 33,
    rounds: int = 4,
) -> float:
    """As `least_engine_speed`, by search below a speed [rad/s] that meets the demand.

    More engine speed never lowers a section's flow, so that one bracket holds the answer; each
    round narrows it `steps` times.
    """
    low, high = 0.0, top
    for _ in range(rounds):
        speeds = np.linspace(low, high, steps)
        met = is_met(by.solve_work(by.plan(scenario, speeds, oil_temperature)))
        first = int(np.argmax(met))
        if first == 0:
            return float(speeds[0])
        low, high = float(speeds[first - 1]), float(speeds[first])
    return high


def starved(budget: Budget) -> list[str]:
    """Functions that fall short at some engine speed of the budget."""
    short = (budget.demand - budget.delivered) > ENOUGH * budget.demand
    stalled = budget.function_limit == FunctionLimit.STALL
    return [
        name
        for m, name in enumerate(budget.functions)
        if bool((short[:, m] | (stalled[:, m] & (budget.demand[:, m] > 0))).any())
    ]
