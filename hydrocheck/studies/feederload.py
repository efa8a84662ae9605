"""How much torque a feeder's load model asks, and how far that can be wrong.

Each uncertain input is moved over its range, the others held; the shifts of the torque's logarithm
are added as squares. The model's own error is of the same size and not in it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from hydrocheck.errors import DomainError
from hydrocheck.model.circuit import Function, Load
from hydrocheck.model.truck import Truck
from hydrocheck.solver import solved_functions
from hydrocheck.solver.feederload import breakaway, feeder_torque
from hydrocheck.solver.needs import Needs

DEGREE = math.pi / 180.0

RANGES: dict[str, dict[str, tuple[float, float]]] = {
    "hopper": {
        "internal_friction": (-5.0 * DEGREE, 10.0 * DEGREE),
        "wall_friction": (-10.0 * DEGREE, 10.0 * DEGREE),
        "flight_friction": (-0.1, 0.1),
        "density": (-0.10, 0.10),
        "top": (-0.20, 0.20),
    },
    "screw": {"material_factor": (-0.20, 0.70), "fill": (-0.50, 0.50), "density": (-0.10, 0.10)},
}
"""Steps down and up of each input: angles in rad and coefficients as they are, the rest as shares.

A tolerance in the truck file rules instead. Ranges: those of the defaults in the model, rounded.
"""
_ABSOLUTE = ("internal_friction", "wall_friction", "flight_friction")
BREAKAWAY_RANGE = (1.5, 6.0)
"""Breakaway factor over which a start may lie: refill onto a hopper that has run, to damp salt
left overnight. Ours; frozen material has no bound."""


@dataclass(frozen=True)
class TorqueBand:
    """Torque at the load shaft that a model asks [N m].

    model: hopper or screw; running, low, high: material flowing; start, start_low, start_high:
    from rest; breakaway: start / running; shares: by input, half the width of its shift [1]
    """

    function: str
    model: str
    running: float
    low: float
    high: float
    breakaway: float
    start: float
    start_low: float
    start_high: float
    shares: dict[str, float]


def torque_bands(truck: Truck) -> list[TorqueBand]:
    """Every feeder load of a truck that is given by a model, hopper full."""
    bands = []
    for function in solved_functions(truck):
        for motor in function.motor:
            load = motor.load
            if load is not None and (load.hopper is not None or load.screw is not None):
                bands.append(torque_band(truck, function, load))
    return bands


def torque_band(truck: Truck, function: Function, load: Load) -> TorqueBand:
    """Torque that a load's model asks, with its uncertainty. Raises DomainError, MissingValue."""
    name = "hopper" if load.hopper is not None else "screw"
    running, factor = _torque(load), _breakaway(load)
    down, up, shares = 0.0, 0.0, {}
    for key, low, high in _steps(truck, function, load, name):
        part = getattr(load, name)
        below, above = (
            math.log(_torque(replace(load, **{name: replace(part, **{key: v})})) / running)
            for v in (low, high)
        )
        least, most = min(below, above, 0.0), max(below, above, 0.0)
        down, up = down + least**2, up + most**2
        shares[key] = 0.5 * (most - least)
    lowest, highest = (sorted((factor, edge)) for edge in BREAKAWAY_RANGE)
    start = running * factor
    return TorqueBand(
        function.name,
        name,
        running,
        running * math.exp(-math.sqrt(down)),
        running * math.exp(math.sqrt(up)),
        factor,
        start,
        running * lowest[0] * math.exp(-math.sqrt(down)),
        running * highest[1] * math.exp(math.sqrt(up)),
        shares,
    )


def _steps(
    truck: Truck, function: Function, load: Load, name: str
) -> Iterator[tuple[str, float, float]]:
    """Input, its low and its high value, where the model has it."""
    part: Any = getattr(load, name)
    for key, (below, above) in RANGES[name].items():
        value = float(getattr(part, key))
        tolerance = truck.tolerances.get(f"{function.name}.motor.load.{name}.{key}")
        if tolerance is not None:
            low, high = value - tolerance, value + tolerance
        elif key in _ABSOLUTE:
            low, high = value + below, value + above
        else:
            low, high = value * (1.0 + below), value * (1.0 + above)
        yield (key, *_within_sense(part, key, low, high))


def _within_sense(part: Any, key: str, low: float, high: float) -> tuple[float, float]:
    """The step, cut where the model would mean nothing."""
    if key == "internal_friction":
        least = float(part.wall_friction) + DEGREE
        return max(low, least), min(high, 80.0 * DEGREE)
    if key == "wall_friction":
        most = float(part.internal_friction) - DEGREE
        return max(low, DEGREE), min(high, most)
    if key == "fill":
        return max(low, 0.01), min(high, 1.0)
    if key == "top":
        return max(low, float(part.slot) * 1.01), high
    return max(low, 0.0), high


def _torque(load: Load) -> float:
    needs = Needs()
    torque = feeder_torque(load, "load", needs)
    needs.settle()
    if torque is None or not np.all(torque > 0):
        raise DomainError("load: no model gives this feeder's torque")
    return float(torque[0])


def _breakaway(load: Load) -> float:
    needs = Needs()
    factor = breakaway(load, "load", needs)
    needs.settle()
    return float(factor[0])
