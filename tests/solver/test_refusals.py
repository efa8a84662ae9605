"""What is refused at the door: by a clear name, before anything iterates."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from hydrocheck.demo import load
from hydrocheck.errors import CircuitError, DomainError, HydrocheckError, MissingValue, NotSolvedYet
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Bank, Pump
from hydrocheck.solver import Points, solve

TRUCK = load("tandem")
POINTS = Points.of(TRUCK, 130.0, 316.0, command={"auger": 0.5})


def with_pump(**changed: Any) -> Truck:
    return dataclasses.replace(TRUCK, pump=(dataclasses.replace(TRUCK.pump[0], **changed),))


def with_bank(**changed: Any) -> Truck:
    return dataclasses.replace(TRUCK, bank=(dataclasses.replace(TRUCK.bank[0], **changed),))


def with_function(name: str, **changed: Any) -> Truck:
    functions = [dataclasses.replace(f, **changed) if f.name == name else f for f in TRUCK.function]
    return dataclasses.replace(TRUCK, function=tuple(functions))


def test_all_missing_values_are_named_at_once() -> None:
    truck = with_pump(margin=None, displacement=None)
    truck = dataclasses.replace(
        truck, bank=(dataclasses.replace(truck.bank[0], section_drop=None),)
    )
    with pytest.raises(MissingValue) as error:
        solve(truck, POINTS)
    assert {"pump.margin", "pump.displacement", "main bank.section_drop"} <= set(error.value.keys)


@pytest.mark.parametrize(
    "kind", ["flow sharing", "plain parallel", "priority valve", "gear divider"]
)
def test_bank_types_to_come(kind: str) -> None:
    with pytest.raises(NotSolvedYet, match=kind):
        solve(with_bank(type=kind), POINTS)


def test_circuits_to_come() -> None:
    two_pumps = dataclasses.replace(
        TRUCK, pump=(*TRUCK.pump, Pump(name="second", type="fixed", feeds=()))
    )
    two_banks = dataclasses.replace(TRUCK, bank=(*TRUCK.bank, Bank(name="second", type="parallel")))
    for truck, word in ((two_pumps, "pumps"), (two_banks, "banks")):
        with pytest.raises(NotSolvedYet, match=word):
            solve(truck, POINTS)


def test_a_pump_with_no_way_out() -> None:
    truck = with_pump(type="fixed", volumetric_efficiency=1.0)
    with pytest.raises(CircuitError, match="relief"):
        solve(dataclasses.replace(truck, relief=()), POINTS)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("pump.displacement", -1e-6),
        ("pump.volumetric_efficiency", 1.2),
        ("pump.margin", float("nan")),
        ("pump.compensator", 0.0),
        ("main bank.section_drop", float("inf")),
        ("auger.motor.displacement", 0.0),
        ("lines.pressure.bore", -0.02),
        ("oil.density", 0.0),
    ],
)
def test_values_out_of_bounds_are_named(path: str, value: float) -> None:
    owner, _, attribute = path.rpartition(".")

    def broken(part: Any, names: list[str]) -> Any:
        """The truck with one value replaced without the model's own guard."""
        if not names:
            return dataclasses.replace(part, **{attribute: value})
        for field in dataclasses.fields(part):
            found = getattr(part, field.name)
            if isinstance(found, tuple):
                for i, item in enumerate(found):
                    if getattr(item, "name", None) == names[0] or field.name == names[0]:
                        rest = names[1:]
                        if field.name == names[0] == "lines":
                            if item.name != names[1]:
                                continue
                            rest = names[2:]
                        new = (*found[:i], broken(item, rest), *found[i + 1 :])
                        return dataclasses.replace(part, **{field.name: new})
            elif field.name == names[0]:
                return dataclasses.replace(part, **{field.name: broken(found, names[1:])})
        raise AssertionError(names)

    with pytest.raises(DomainError, match=attribute):
        solve(broken(TRUCK, owner.split(".")), POINTS)


def test_arrays_that_do_not_fit() -> None:
    truck = TRUCK.vary("pump.displacement", np.full(3, 1e-5))
    with pytest.raises(DomainError, match="pump.displacement"):
        solve(truck, Points.of(TRUCK, np.full(4, 130.0), 316.0))


@pytest.mark.parametrize(
    "order",
    [
        {"engine_speed": -1.0},
        {"engine_speed": float("nan")},
        {"oil_temperature": 0.0},
        {"command": {"auger": 1.2}},
        {"command": {"augur": 0.5}},
        {"asked": {"auger": float("inf")}},
        {"asked": {"auger": -1e-4}},
        {"hopper": 2.0},
        {"command": {"auger": np.zeros(3)}, "engine_speed": np.zeros(2)},
        {"command": {"auger": 0.5}, "asked": {"auger": 1e-4}},
        {"retract": {"plow": 0.5}},
    ],
)
def test_orders_that_mean_nothing(order: dict[str, Any]) -> None:
    engine = order.pop("engine_speed", 130.0)
    oil = order.pop("oil_temperature", 316.0)
    with pytest.raises(HydrocheckError):
        Points.of(TRUCK, engine, oil, **order)
