"""`Circuit.vary`: which part a path leads to, and what is refused."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.errors import DomainError
from hydrocheck.model import Circuit, Truck, truck_from_text
from hydrocheck.model.fields import specs


@pytest.fixture(scope="module")
def tandem() -> Truck:
    return demo.load("tandem")


def at(part: Any, *keys: str | int) -> Any:
    """A part of a truck by attributes and positions."""
    for key in keys:
        part = part[key] if isinstance(key, int) else getattr(part, key)
    return part


@pytest.mark.parametrize(
    ("path", "keys"),
    [
        ("oil.density", ("oil", "density")),
        ("pump.displacement", ("pump", 0, "displacement")),
        ("pump[1].displacement", ("pump", 0, "displacement")),
        ("main bank.section_drop", ("bank", 0, "section_drop")),
        ("bank.section_drop", ("bank", 0, "section_drop")),
        ("main relief.setting", ("relief", 0, "setting")),
        ("auger.motor.displacement", ("function", 0, "motor", 0, "displacement")),
        ("auger.motor.load.constant", ("function", 0, "motor", 0, "load", "constant")),
        ("function.auger.trims.max", ("function", 0, "trims", "max")),
        ("function[2].trims.max", ("function", 1, "trims", "max")),
        ("dump.cylinder.bore", ("function", 4, "cylinder", "bore")),  # a scenario is so called, too
        ("suction.bore", ("lines", 0, "bore")),
        ("lines.suction.bore", ("lines", 0, "bore")),
        ("engine.gear.5.at", ("engine", "gear", 1, "at")),
        ("engine.drive.ratio", ("engine", "drive", "ratio")),
        ("reservoir.volume", ("reservoir", "volume")),
        ("spreading.density", ("spreading", "density")),  # and so is this one
        ("limits.relief_reserve", ("limits", "relief_reserve")),
    ],
)
def test_a_path_leads_to_one_value(tandem: Truck, path: str, keys: tuple[str | int, ...]) -> None:
    before = at(tandem, *keys)
    varied = tandem.vary(path, 0.25)
    assert at(varied, *keys) == 0.25
    assert at(tandem, *keys) == before
    assert varied.vary(path, before) == tandem  # nothing else has changed


def test_a_value_may_be_an_array_or_a_numpy_scalar(tandem: Truck) -> None:
    values = np.array([1e-6, 2e-6, 3e-6])
    assert tandem.vary("pump.displacement", values).pump[0].displacement is values
    assert tandem.vary("pump.displacement", np.float64(1e-6)).pump[0].displacement == 1e-6
    assert tandem.vary("pump.displacement", np.empty(0)).pump[0].displacement is not None


def test_each_number_that_a_demo_truck_gives_has_a_path(tandem: Truck) -> None:
    seen = 0
    for name in demo.names():
        truck = demo.load(name)
        for path, value in numbers(truck, ""):
            if path.startswith("scenario."):
                continue
            assert truck.vary(path, value) == truck, path
            seen += 1
    assert seen > 300


def numbers(part: Any, prefix: str) -> list[tuple[str, float]]:
    """Each quantity of a part with its longest path."""
    found = []
    for attribute, spec in specs(type(part)).items():
        value, path = getattr(part, attribute), f"{prefix}{attribute}"
        if spec.form == "quantity" and value is not None:
            found.append((path, value))
        elif spec.form == "table" and value is not None:
            found += numbers(value, f"{path}.")
        elif spec.form in ("tables", "named tables"):
            for position, item in enumerate(value):
                found += numbers(item, f"{path}[{position + 1}].")
    return found


def test_several_parts_of_an_array_are_told_apart() -> None:
    truck = truck_from_text("""
        schema = 1
        truck.name = "x"
        oil.point = [
          { temperature = "40 degC", viscosity = "32 cSt" },
          { temperature = "100 degC", viscosity = "6 cSt" },
        ]
        [[function]]
        name = "spinner"
        kind = "spinner"
        motor = [{ name = "left", max_speed = "1 rpm" }, { name = "right", max_speed = "2 rpm" }]
        [[pump]]
        name = "pump"
        type = "fixed"
        [[pump]]
        name = "spare"
        type = "fixed"
    """)
    assert truck.vary("oil.point[2].viscosity", 5e-6).oil.point[1].viscosity == 5e-6
    for path in ("spinner.right.max_speed", "spinner.motor.right.max_speed"):
        assert truck.vary(path, 9.0).function[0].motor[1].max_speed == 9.0
    assert truck.vary("spare.displacement", 1e-6).pump[1].displacement == 1e-6
    assert truck.vary("pump.displacement", 1e-6).pump[0].displacement == 1e-6
    assert truck.vary("pump.spare.displacement", 1e-6).pump[1].displacement == 1e-6
    for path in ("spinner.motor.max_speed", "oil.point.viscosity", "oil.point[3].viscosity"):
        with pytest.raises(DomainError):
            truck.vary(path, 1.0)


@pytest.mark.parametrize(
    ("path", "message"),
    [
        ("pump.displacment", "no 'displacment' in 'pump.displacment'; here fits: displacement"),
        ("augr.trims.max", "no 'augr' in 'augr.trims.max'; here fits: pump, main bank, auger"),
        ("", "no '' in ''; here fits: "),
        ("..", "no '' in '..'; here fits: "),
        ("pump", "'pump' is a part, not a value"),
        ("oil", "'oil' is a part, not a value"),
        ("auger.motor", "'auger.motor' is a part, not a value"),
        ("pump[0].displacement", "no 'pump[0]'"),
        ("pump[2].displacement", "no 'pump[2]'"),
        ("pump[x].displacement", "no 'pump[x]'"),
        ("pump.type", "'pump.type' is no single number of the circuit"),
        ("pump.feeds", "'pump.feeds' is no single number"),
        ("pump.build", "'pump.build' is no single number"),
        ("auger.fitted", "'auger.fitted' is no single number"),
        ("engine.working", "'engine.working' is no single number"),
        ("engine.torque_curve", "'engine.torque_curve' is no single number"),
        ("oil.density.x", "'oil.density.x' is no single number"),
        ("auger.cylinder.bore", "'cylinder' in 'auger.cylinder.bore' is not given"),
        ("defaults_used", "no 'defaults_used'"),
    ],
)
def test_a_path_that_leads_to_no_number(tandem: Truck, path: str, message: str) -> None:
    with pytest.raises(DomainError) as caught:
        tandem.vary(path, 1.0)
    assert str(caught.value).startswith(message)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        ("pump.displacement", float("nan"), "pump.displacement: not finite"),
        ("pump.displacement", np.array([1.0, np.inf]), "pump.displacement: not finite"),
        ("pump.displacement", -1.0, "pump.displacement: must be above zero"),
        ("pump.displacement", np.array([1.0, 0.0]), "pump.displacement: must be above zero"),
        ("auger.trims.max", 1.5, "auger.trims.max: must lie between 0 and 100 %"),
        ("pump.volumetric_efficiency", np.array([0.5, 1.1]), "pump.volumetric_efficiency: must be"),
        ("pump.displacement", "1 in3/rev", "pump.displacement: '1 in3/rev' is no number"),
        ("pump.displacement", None, "pump.displacement: not finite"),
        ("pump.displacement", [[1.0], [2.0, 3.0]], "pump.displacement: [[1.0], [2.0, 3.0]] is no"),
    ],
)
def test_a_value_that_the_truck_file_would_refuse(
    tandem: Truck, path: str, value: Any, message: str
) -> None:
    with pytest.raises(DomainError) as caught:
        tandem.vary(path, value)
    assert str(caught.value).startswith(message)


def test_a_circuit_without_its_truck_varies_too(tandem: Truck) -> None:
    parts = {f.name: getattr(tandem, f.name) for f in dataclasses.fields(Circuit)}
    circuit = Circuit(**parts).vary("oil.density", 900.0)
    assert type(circuit) is Circuit
    assert circuit.oil.density == 900.0
