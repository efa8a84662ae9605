"""What of a solved point a sweep keeps: names, kinds, and where they stand in a result."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError
from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.solver import FunctionLimit, Result, SupplyLimit, solved_functions
from hydrocheck.studies.work import Work, tasks_of

Array = NDArray[np.float64]
Taker = Callable[[Truck, Result, Work], "Array | list[str]"]

SINGLE = {
    "pump pressure": ("pump_pressure", "pressure"),
    "pump flow": ("pump_flow", "flow"),
    "pump speed": ("pump_speed", "shaft_speed"),
    "pump torque": ("pump_torque", "torque"),
    "shaft power": ("shaft_power", "power"),
    "stroke": ("stroke", "fraction"),
    "return pressure": ("return_pressure", "pressure"),
    "load signal": ("load_signal", "pressure"),
    "mechanical power": ("mechanical_power", "power"),
    "heat": ("total_heat", "heat_flow"),
}
BY_FUNCTION = {
    "flow": ("flow", "flow"),
    "asked": ("asked", "flow"),
    "speed": ("speed", "shaft_speed"),
    "work pressure": ("work_pressure", "pressure"),
    "section drop": ("section_drop", "pressure_drop"),
}
USUAL = ("pump pressure", "pump flow", "heat", "supply limit")
USUAL_OF_FUNCTION = ("flow", "speed", "missing", "limit")


@dataclass(frozen=True)
class Kept:
    """A column: its name, kind (empty for words), and how it is taken."""

    name: str
    kind: str
    take: Taker


def kept_columns(truck: Truck, scenario: Scenario, keep: tuple[str, ...]) -> tuple[Kept, ...]:
    """The named columns, or the usual ones. Raises DomainError for a name that is not there."""
    known = _all_columns(truck)
    if not keep:
        running = [name for name in tasks_of(truck, scenario) if f"{name}.flow" in known]
        keep = (*USUAL, *(f"{n}.{k}" for n in running for k in USUAL_OF_FUNCTION))
    kept = []
    for name in dict.fromkeys(keep):
        if name not in known:
            single = ", ".join([*SINGLE, "supply limit"])
            function = ", ".join([*BY_FUNCTION, "missing", "limit"])
            raise DomainError(
                f"--keep '{name[:60]}': there are {single}; and FUNCTION.{{{function}}}"
            )
        kept.append(known[name])
    return tuple(kept)


def _all_columns(truck: Truck) -> dict[str, Kept]:
    columns = [Kept(name, kind, _single(key)) for name, (key, kind) in SINGLE.items()]
    columns.append(Kept("supply limit", "", _supply_limit))
    for m, function in enumerate(solved_functions(truck)):
        for name, (key, kind) in BY_FUNCTION.items():
            moves = "velocity" if key == "speed" and function.cylinder is not None else kind
            columns.append(Kept(f"{function.name}.{name}", moves, _of_function(key, m)))
        columns.append(Kept(f"{function.name}.missing", "flow", _missing(m)))
        columns.append(Kept(f"{function.name}.limit", "", _limit(m)))
    return {column.name: column for column in columns}


def _single(key: str) -> Taker:
    return lambda truck, result, work: np.asarray(getattr(result, key))


def _of_function(key: str, m: int) -> Taker:
    return lambda truck, result, work: np.asarray(getattr(result, key)[:, m])


def _missing(m: int) -> Taker:
    """Flow that lacks of the demand, or of what a bare command asks [m3/s]."""

    def take(truck: Truck, result: Result, work: Work) -> Array:
        wanted = np.where(np.isnan(work.demand[:, m]), work.asked[:, m], work.demand[:, m])
        lacking = wanted - result.flow[:, m]
        return np.where(lacking > 1e-9 * np.abs(wanted), lacking, 0.0)

    return take


_SUPPLY = np.array([limit.name.lower().replace("_", " ") for limit in SupplyLimit])
_FUNCTION = np.array([limit.name.lower().replace("_", " ") for limit in FunctionLimit])


def _supply_limit(truck: Truck, result: Result, work: Work) -> list[str]:
    return list(map(str, _SUPPLY[result.supply_limit]))


def _limit(m: int) -> Taker:
    return lambda truck, result, work: list(map(str, _FUNCTION[result.function_limit[:, m]]))
