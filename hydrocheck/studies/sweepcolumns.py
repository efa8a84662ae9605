"""What of a solved point a sweep keeps: names, kinds, and where they stand in a result."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError
from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.solver import FunctionLimit, SupplyLimit, solved_functions
from hydrocheck.studies.work import Work, tasks_of

Array = NDArray[np.float64]
Taker = Callable[[Mapping[str, Array], Work], "Array | list[str]"]
"""From the kept columns of a solved block, and its work."""

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
class SweepColumn:
    """A column: its name, kind (empty for words), the column of a result behind it, and the way."""

    name: str
    kind: str
    behind: str
    take: Taker


def kept_columns(
    truck: Truck, scenario: Scenario, keep: tuple[str, ...]
) -> tuple[SweepColumn, ...]:
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


def _all_columns(truck: Truck) -> dict[str, SweepColumn]:
    columns = [SweepColumn(name, kind, key, _as_it_is(key)) for name, (key, kind) in SINGLE.items()]
    columns.append(SweepColumn("supply limit", "", "supply_limit", _words("supply_limit", _SUPPLY)))
    for m, function in enumerate(solved_functions(truck)):
        own = function.name
        for name, (key, kind) in BY_FUNCTION.items():
            moves = "velocity" if key == "speed" and function.cylinder is not None else kind
            behind = f"{own}.{key}"
            columns.append(SweepColumn(f"{own}.{name}", moves, behind, _as_it_is(behind)))
        columns.append(SweepColumn(f"{own}.missing", "flow", f"{own}.flow", _missing(own, m)))
        limit = f"{own}.function_limit"
        columns.append(SweepColumn(f"{own}.limit", "", limit, _words(limit, _FUNCTION)))
    return {column.name: column for column in columns}


def _as_it_is(key: str) -> Taker:
    return lambda columns, work: columns[key]


def _words(key: str, words: NDArray[np.str_]) -> Taker:
    return lambda columns, work: list(map(str, words[columns[key].astype(np.int64)]))


def _missing(own: str, m: int) -> Taker:
    """Flow that lacks of the demand, or of what a bare command asks [m3/s]."""

    def take(columns: Mapping[str, Array], work: Work) -> Array:
        wanted = np.where(np.isnan(work.demand[:, m]), work.asked[:, m], work.demand[:, m])
        lacking = wanted - columns[f"{own}.flow"]
        return np.where(lacking > 1e-9 * np.abs(wanted), lacking, 0.0)

    return take


_SUPPLY = np.array([limit.name.lower().replace("_", " ") for limit in SupplyLimit])
_FUNCTION = np.array([limit.name.lower().replace("_", " ") for limit in FunctionLimit])
