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
from hydrocheck.solver import Points, solve, solved_functions

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


def test_banks_that_their_supply_does_not_fit() -> None:
    shares = (0.5, 0.5)
    for changed in (
        {"type": "open centre"},
        {"type": "gear divider", "shares": shares},
        {"type": "priority valve", "neutral_flow": 1e-3, "neutral_drop": 1e5},
    ):
        with pytest.raises(NotSolvedYet, match="load sensing pump"):
            solve(with_bank(**changed), POINTS)


def test_a_priority_valve_needs_a_margin_that_holds_its_section() -> None:
    names = tuple(f.name for f in solved_functions(TRUCK))
    truck = with_bank(type="priority valve", order=names)
    assert solve(truck, POINTS).flow_residual.max() < 1e-9
    drop = TRUCK.bank[0].section_drop
    weak = dataclasses.replace(truck, pump=with_pump(margin=0.9 * drop).pump)
    with pytest.raises(CircuitError, match="margin"):
        solve(weak, POINTS)


def test_who_feeds_whom_must_be_clear() -> None:
    second = Pump(name="second", type="fixed", feeds=())
    nothing_fed = dataclasses.replace(TRUCK, pump=(*TRUCK.pump, second))
    with pytest.raises(MissingValue, match="second.feeds"):
        solve(nothing_fed, POINTS)
    unfed = dataclasses.replace(TRUCK, bank=(*TRUCK.bank, Bank(name="new", type="parallel")))
    with pytest.raises(MissingValue, match="a pump for new"):
        solve(unfed, POINTS)
    joined = dataclasses.replace(second, feeds=TRUCK.pump[0].feeds)
    with pytest.raises(NotSolvedYet, match="join their flow"):
        solve(dataclasses.replace(TRUCK, pump=(*TRUCK.pump, joined)), POINTS)
    mixed = dataclasses.replace(
        unfed,
        bank=(*TRUCK.bank, Bank(name="new", type="flow sharing")),
        pump=(dataclasses.replace(TRUCK.pump[0], feeds=(*TRUCK.pump[0].feeds, "new")),),
    )
    with pytest.raises(NotSolvedYet, match="several banks on one pump"):
        solve(mixed, POINTS)


def test_a_divider_needs_a_share_for_each_outlet() -> None:
    fixed = dataclasses.replace(with_pump(type="fixed", torque_limit=None), relief=TRUCK.relief)
    names = tuple(f.name for f in solved_functions(TRUCK))
    divider = dataclasses.replace(
        TRUCK.bank[0], type="gear divider", order=names, shares=(0.5,) * (len(names) - 1)
    )
    with pytest.raises(MissingValue, match="shares"):
        solve(dataclasses.replace(fixed, bank=(divider,)), POINTS)


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
