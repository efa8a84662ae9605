"""Liquid pumps: the load on their motor, the flow and pressure that they give, electric ones."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import numpy as np
import pytest

from hydrocheck.demo import load
from hydrocheck.errors import MissingValue, TruckFileError
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function, LiquidPump
from hydrocheck.model.reader import truck_from_text
from hydrocheck.model.truck import LiquidRig, Scenario, Task
from hydrocheck.solver import Points, solve
from hydrocheck.studies.liquid import liquid_rig
from hydrocheck.studies.liquiddelivery import liquid_delivery
from hydrocheck.studies.point import PointOrder, solve_point
from hydrocheck.studies.work import plan_work, solve_work

PSI, GPM, RPM = 6894.757293168, 231 * 0.0254**3 / 60, 2 * np.pi / 60
TRUCK = load("tandem")
PUMP = LiquidPump(
    displacement=3.0 * 0.0254**3 / (2 * np.pi),
    volumetric_efficiency=0.9,
    hydromechanical_efficiency=0.8,
    nozzle_flow=2.0 * GPM,
    nozzle_pressure=40 * PSI,
    nozzles=4,
    density=1177.0,
    max_pressure=150 * PSI,
)


def fitted(pump: LiquidPump = PUMP, **changed: Any) -> Truck:
    """The tandem truck with that liquid pump on its motor."""
    functions = []
    for f in TRUCK.function:
        if f.name == "liquid":
            motor = dataclasses.replace(f.motor[0], load=None)
            functions.append(dataclasses.replace(f, motor=(motor,), liquid_pump=pump, **changed))
        else:
            functions.append(f)
    return dataclasses.replace(TRUCK, function=tuple(functions))


def run(truck: Truck, **task: Any) -> Any:
    scenario = Scenario(name="own", run=(Task(name="liquid", **task),))
    return solve_work(truck, plan_work(truck, scenario, 200.0, 316.0))


def test_the_nozzles_load_the_motor() -> None:
    """By hand at 900 rpm: 0.9 x 3 in3 x 900 = 10.52 gpm, (10.52 / 8)^2 x 1.177 x 40 psi."""
    solved = run(fitted(), speed=900 * RPM)
    (liquid,) = liquid_delivery(fitted(), solved)
    flow = 0.9 * 3.0 * 900 / 231
    pressure = 40 * 1.177 * (flow / 8.0) ** 2
    assert liquid.speed[0] / RPM == pytest.approx(900)
    assert liquid.flow[0] / GPM == pytest.approx(flow)
    assert liquid.pressure[0] / PSI == pytest.approx(pressure)
    torque = PUMP.displacement * pressure * PSI / 0.8
    result, m = solved.result, solved.result.column("liquid")
    assert result.torque[0, 0, m] == pytest.approx(torque)
    assert liquid.power[0] == pytest.approx(torque * 900 * RPM)
    assert not liquid.beyond_rating[0]
    assert result.energy_residual[0] < 1e-12


def test_power_out_is_power_in_less_both_losses() -> None:
    (liquid,) = liquid_delivery(fitted(), run(fitted(), command=0.6))
    expected = liquid.power * 0.9 * 0.8
    np.testing.assert_allclose(liquid.flow * liquid.pressure, expected, rtol=1e-12)


def test_more_nozzles_ease_the_pressure() -> None:
    few, many = (
        liquid_delivery(t, run(t, speed=900 * RPM))[0]
        for t in (fitted(), fitted(dataclasses.replace(PUMP, nozzles=8)))
    )
    assert many.flow[0] == pytest.approx(few.flow[0])
    assert many.pressure[0] == pytest.approx(few.pressure[0] / 4)


def test_what_exceeds_the_pump_is_said() -> None:
    truck = fitted(dataclasses.replace(PUMP, nozzles=2))
    assert liquid_delivery(truck, run(truck, speed=900 * RPM))[0].beyond_rating[0]


def test_parts_vary_point_by_point() -> None:
    sizes = np.array([1.0, 1.5]) * PUMP.displacement
    truck = fitted().vary("liquid.liquid_pump.displacement", sizes)
    result = solve(truck, Points.of(truck, np.full(2, 200.0), 316.0, asked={"liquid": 1e-4}))
    assert result.motor_drop[0, 1, 2] > result.motor_drop[0, 0, 2]


def electric(**changed: Any) -> Truck:
    pump = dataclasses.replace(PUMP, electric_speed=1200 * RPM)
    function = Function(name="liquid", kind="liquid", drive="electric", liquid_pump=pump, **changed)
    functions = tuple(function if f.name == "liquid" else f for f in TRUCK.function)
    return dataclasses.replace(TRUCK, function=functions)


def test_an_electric_pump_asks_no_oil_and_gives_its_liquid() -> None:
    truck = electric()
    order = PointOrder(tasks={"liquid": Task(name="liquid", command=0.75)})
    solved = solve_point(truck, None, order)
    assert solved.result.flow.sum() == 0.0
    assert "liquid" not in solved.result.functions
    (liquid,) = liquid_delivery(truck, solved)
    assert liquid.electric
    assert liquid.speed[0] / RPM == pytest.approx(900)
    assert liquid.flow[0] / GPM == pytest.approx(0.9 * 3.0 * 900 / 231)


def test_an_electric_pump_without_its_speed_says_so() -> None:
    truck = electric()
    none = dataclasses.replace(PUMP, electric_speed=None)
    functions = tuple(
        dataclasses.replace(f, liquid_pump=none) if f.name == "liquid" else f
        for f in truck.function
    )
    truck = dataclasses.replace(truck, function=functions)
    with pytest.raises(MissingValue, match=r"liquid\.liquid_pump\.electric_speed"):
        liquid_delivery(truck, run(truck, command=0.5))


def test_missing_values_are_named() -> None:
    truck = fitted(dataclasses.replace(PUMP, nozzle_flow=None))
    with pytest.raises(MissingValue, match=r"liquid\.liquid_pump\.nozzle_flow"):
        run(truck, command=0.5)


def test_orders_take_the_nozzles_of_the_pump() -> None:
    """One place for the numbers: `spreading.liquid` has what the pump does not say."""
    rig = liquid_rig(
        dataclasses.replace(
            fitted(),
            spreading=dataclasses.replace(
                TRUCK.spreading,
                liquid=LiquidRig(nozzle_flow=None, nozzle_pressure=None, per_turn=None),
            ),
        )
    )
    assert rig.nozzle_flow == pytest.approx(8 * GPM)
    assert rig.nozzle_pressure == 40 * PSI
    assert rig.per_turn == pytest.approx(0.9 * PUMP.displacement)


FILE = """
schema = 1
truck.name = "wet"
[[function]]
name = "{name}"
kind = "{kind}"
[function.motor]
displacement = "0.5 in^3/rev"
{load}
[function.liquid_pump]
displacement = "3 in^3/rev"
nozzles = 4
"""


def test_a_pump_is_read_and_checked() -> None:
    read = truck_from_text(FILE.format(name="liquid", kind="liquid", load=""))
    pump = read.function[0].liquid_pump
    assert pump is not None
    assert pump.nozzles == 4
    assert "liquid.liquid_pump.density" in read.defaults_used
    for name, kind, torque, says in (
        ("auger", "feeder", "", "fits a liquid function"),
        ("liquid", "liquid", 'load = { constant = "5 in-lb" }', "beside the load"),
    ):
        with pytest.raises(TruckFileError, match=says):
            truck_from_text(FILE.format(name=name, kind=kind, load=torque))


def test_the_command_shows_the_liquid(hydrocheck_cli: Any, tmp_path: Any) -> None:
    from hydrocheck.demo import text

    own = text("tandem").replace(
        'load = { constant = "12 in-lb", linear = "35 in-lb", at = "1000 rpm", breakaway = 1.5 }',
        "",
    )
    place = own.index('[function.limits]\nmax_speed = "1800 rpm"')
    table = (
        '[function.liquid_pump]\ndisplacement = "3 in^3/rev"\nvolumetric_efficiency = "90 %"\n'
        'hydromechanical_efficiency = "80 %"\nnozzle_flow = "2 gpm"\nnozzle_pressure = "40 psi"\n'
        'nozzles = 3\nmax_pressure = "120 psi"\n\n'
    )
    path = tmp_path / "wet.toml"
    path.write_text(own[:place] + table + own[place:])
    order = ("solve", str(path), "--only", "--speed", "liquid=900 rpm")
    shown = hydrocheck_cli(*order)
    assert "10.5 gal/min" in shown.stdout
    assert "ask more than the 120 psi" in shown.stdout
    assert max(map(len, shown.stdout.splitlines())) <= 80
    data = json.loads(hydrocheck_cli(*order, "--json").stdout)["result"]["liquid"]["liquid"]
    assert data["flow"]["si"] == pytest.approx(0.9 * 3.0 * 900 / 231 * GPM)
    assert data["beyond_rating"] is True
