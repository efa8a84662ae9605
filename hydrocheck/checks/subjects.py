"""What checks can be about: pumps, motors, scenarios, ... each with the label it is called by."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function, Motor, Pump, Relief
from hydrocheck.model.truck import Scenario
from hydrocheck.solver import solved_functions


@dataclass(frozen=True)
class FittedMotor:
    """A motor, its function, and the key that messages call it by."""

    function: Function
    motor: Motor
    stage: int
    key: str


def scenarios(truck: Truck) -> Iterable[tuple[str, Scenario]]:
    """Every scenario."""
    return [(s.name, s) for s in truck.scenario]


def pumps(truck: Truck) -> Iterable[tuple[str, Pump]]:
    """Every pump."""
    return [(p.name, p) for p in truck.pump]


def controlled_pumps(truck: Truck) -> Iterable[tuple[str, Pump]]:
    """Every pump with a compensator."""
    return [(p.name, p) for p in truck.pump if p.type != "fixed"]


def load_sensing_pumps(truck: Truck) -> Iterable[tuple[str, Pump]]:
    """Every load-sensing pump."""
    return [(p.name, p) for p in truck.pump if p.type == "load sensing"]


def functions(truck: Truck) -> Iterable[tuple[str, Function]]:
    """Every fitted hydraulic function."""
    return [(f.name, f) for f in solved_functions(truck)]


def trimmed(truck: Truck) -> Iterable[tuple[str, Function]]:
    """Every fitted hydraulic function with a motor: it is set by trims."""
    return [(f.name, f) for f in solved_functions(truck) if f.motor]


def feeders(truck: Truck) -> Iterable[tuple[str, Function]]:
    """Every feeder that is set by trims."""
    return [(name, f) for name, f in trimmed(truck) if f.kind == "feeder"]


def orders(truck: Truck) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Ordered rates and road speeds above zero. Raises MissingValue."""
    rates, speeds = (
        tuple(value for value in values if value > 0)
        for values in (truck.spreading.rates, truck.spreading.road_speeds)
    )
    missing = [k for k, values in (("rates", rates), ("road_speeds", speeds)) if not values]
    if missing:
        raise MissingValue([f"spreading.{k}" for k in missing])
    return rates, speeds


def motors(truck: Truck) -> Iterable[tuple[str, FittedMotor]]:
    """Every motor of the fitted hydraulic functions."""
    found = []
    for function in solved_functions(truck):
        for stage, motor in enumerate(function.motor):
            several = len(function.motor) > 1
            label = f"{function.name} {motor.name or stage + 1}" if several else function.name
            key = (
                f"{function.name}.{motor.name or stage + 1}"
                if several
                else f"{function.name}.motor"
            )
            found.append((label, FittedMotor(function, motor, stage, key)))
    return found


def reliefs(truck: Truck) -> Iterable[tuple[str, Relief]]:
    """Every relief valve that limits pressure at a pump, a bank or a port."""
    return [(r.name, r) for r in truck.relief if r.at != "LS"]


def liquids(truck: Truck) -> Iterable[tuple[str, Function]]:
    """Every liquid function, fitted or not."""
    return [(f.name, f) for f in truck.function if f.kind == "liquid"]
