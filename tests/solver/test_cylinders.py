"""Cylinders at a stop and lowered by their load; pairs; what they do to the others."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from hydrocheck.demo import load
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Cylinder, Relief
from hydrocheck.model.truck import Scenario, Task
from hydrocheck.solver import FunctionLimit, Points, Result, SupplyLimit, solve
from hydrocheck.studies.work import plan_work, solve_work

PSI, GPM = 6894.757293168, 231 * 0.0254**3 / 60
TRUCK = load("tandem")
DUMP, PLOW = TRUCK.function_named("dump"), TRUCK.function_named("plow")
AUGER = 4.0 * GPM


def changed(name: str, **cylinder: Any) -> Truck:
    """The truck with a cylinder changed."""
    functions = tuple(
        dataclasses.replace(f, cylinder=dataclasses.replace(f.cylinder, **cylinder))
        if f.name == name and f.cylinder
        else f
        for f in TRUCK.function
    )
    return dataclasses.replace(TRUCK, function=functions)


def at(truck: Truck, engine: float = 130.0, **order: Any) -> Result:
    size = max((np.size(v) for by in order.values() for v in by.values()), default=1)
    result = solve(truck, Points.of(truck, np.full(size, engine), 316.0, **order))
    assert result.flow_residual.max() < 1e-10
    assert result.energy_residual.max() < 1e-10
    return result


def column(result: Result, name: str, key: str) -> Any:
    return getattr(result, key)[:, result.column(name)]


# --- at a stop


def test_a_lever_held_at_the_stop_sends_the_pump_to_its_compensator() -> None:
    """The section at stop sets the LS pressure: design of load sensing without an LS relief."""
    order = {"asked": {"plow": 3e-4, "auger": AUGER}}
    result = at(TRUCK, **order, stop={"plow": 1})
    pump = TRUCK.pump[0]
    assert result.pump_pressure[0] == pytest.approx(pump.compensator, rel=1e-9)
    assert result.supply_limit[0] == SupplyLimit.COMPENSATOR
    assert column(result, "plow", "flow")[0] == 0.0
    assert column(result, "plow", "speed")[0] == 0.0
    assert column(result, "plow", "work_pressure")[0] == result.inlet_pressure[0]
    assert column(result, "plow", "function_limit")[0] == FunctionLimit.STOP
    assert column(result, "auger", "flow")[0] == pytest.approx(AUGER)
    moving = at(TRUCK, **order)
    assert moving.pump_pressure[0] < result.pump_pressure[0]


def test_an_ls_relief_holds_the_pump_below_the_compensator() -> None:
    relief = Relief(name="LS cap", at="LS", of="pump", setting=1200 * PSI)
    truck = dataclasses.replace(TRUCK, relief=(*TRUCK.relief, relief))
    result = at(truck, asked={"plow": 3e-4}, stop={"plow": 1})
    assert result.pump_pressure[0] == pytest.approx(1200 * PSI + truck.pump[0].margin, rel=1e-9)


def test_a_port_relief_passes_the_flow_of_a_section_at_stop() -> None:
    """All that the section passes goes over it; the machine stands."""
    relief = Relief(name="plow port", at="port", of="plow", setting=1500 * PSI, rated_flow=6 * GPM)
    truck = dataclasses.replace(TRUCK, relief=(*TRUCK.relief, relief))
    result = at(truck, asked={"plow": 4 * GPM}, stop={"plow": 1})
    assert column(result, "plow", "flow")[0] == pytest.approx(4 * GPM)
    assert column(result, "plow", "motor_flow")[0] == 0.0
    crack = 0.95 * 1500
    expected = crack + (1500 - crack) * 4 / 6
    assert column(result, "plow", "work_pressure")[0] / PSI == pytest.approx(expected)
    assert result.heat["plow port relief"][0] == pytest.approx(expected * PSI * 4 * GPM)


def test_an_open_centre_at_stop_sends_all_over_the_relief() -> None:
    single = load("single")
    names = [f.name for f in single.function if f.cylinder]
    command = {names[0]: 1.0}
    moving, stopped = at(single, command=command), at(single, command=command, stop={names[0]: 1})
    assert stopped.supply_limit[0] == SupplyLimit.RELIEF
    assert stopped.flow.sum() == 0.0
    assert stopped.pump_pressure[0] > moving.pump_pressure[0]


def test_an_open_centre_at_stop_behind_a_narrow_return() -> None:
    """The relief's oil meets a return line that would block far more: the jump is found all the
    same."""
    single = load("single")
    name = next(f.name for f in single.function if f.cylinder)
    relief = dataclasses.replace(single.relief[0], outlet="return")
    truck = dataclasses.replace(single, relief=(relief, *single.relief[1:]))
    for restriction in np.geomspace(1.0, 3e3, 5):
        narrow = truck.vary("lines.return.restriction", float(restriction))
        result = at(narrow, command={name: 1.0}, stop={name: 1})
        over = result.relief_flow[relief.name][0]
        assert over == pytest.approx(result.pump_flow[0])
        assert result.pump_pressure[0] > result.return_pressure[0] + 0.9 * relief.setting


# --- lowered by the load


def test_a_body_comes_down_by_its_weight_through_its_section() -> None:
    """By hand: eta F / A less the section's drop; 5 in bore, no hose, no return line."""
    truck = dataclasses.replace(TRUCK, lines=())
    result = at(truck, asked={"dump": 10 * GPM}, retract={"dump": 1})
    piston = np.pi / 4 * 5.0**2  # in2
    pressure = 0.95 * 9000 / piston  # psi
    drop = truck.bank[0].section_drop / PSI
    flow = 10 * np.sqrt(pressure / drop)
    assert column(result, "dump", "lowered")[0] / GPM == pytest.approx(flow)
    speed = flow * 231 / 60 / piston * 0.0254
    assert column(result, "dump", "speed")[0] == pytest.approx(speed)
    assert column(result, "dump", "work_pressure")[0] / PSI == pytest.approx(pressure)
    assert column(result, "dump", "function_limit")[0] == FunctionLimit.LOWERING
    force = 9000 * 4.4482216152605
    assert result.mechanical_power[0] == pytest.approx(-force * speed)
    assert result.heat["dump machine"][0] == pytest.approx(0.05 * force * speed)
    assert result.pump_flow[0] == pytest.approx(0.0, abs=1e-12)  # nothing asked of the pump
    assert result.pump_pressure[0] == pytest.approx(truck.pump[0].standby)


def test_more_comes_back_than_the_pump_gives_and_all_feel_it() -> None:
    """Return flow above pump flow lifts the return pressure, and with it the auger's pressures."""
    quiet = at(TRUCK, asked={"auger": AUGER})
    result = at(TRUCK, asked={"auger": AUGER, "dump": 18 * GPM}, lower={"dump": 1})
    lowered = column(result, "dump", "lowered")[0]
    assert lowered > result.pump_flow[0]
    assert result.return_flow[0] == pytest.approx(lowered + quiet.return_flow[0])
    back = result.return_pressure[0] - quiet.return_pressure[0]
    assert back > 0.0
    outlet = result.motor_outlet[0, 0, 0]
    assert outlet - quiet.motor_outlet[0, 0, 0] == pytest.approx(back)
    assert result.pump_pressure[0] - quiet.pump_pressure[0] == pytest.approx(back)
    assert column(result, "auger", "flow")[0] == pytest.approx(AUGER)


def test_the_engine_may_stand() -> None:
    result = at(TRUCK, engine=0.0, asked={"dump": 18 * GPM}, retract={"dump": 1})
    assert column(result, "dump", "lowered")[0] > 0.0
    assert result.shaft_power[0] == 0.0


def test_heavier_is_faster_and_a_throttled_return_slower() -> None:
    size = 15
    order: dict[str, Any] = {"asked": {"dump": np.full(size, 18 * GPM)}, "lower": {"dump": 1}}
    heavy = at(TRUCK.vary("dump.cylinder.lower_load", np.geomspace(1e3, 1e6, size)), **order)
    assert (np.diff(column(heavy, "dump", "lowered")) > 0).all()
    choked = at(TRUCK.vary("lines.return.restriction", np.geomspace(1.0, 1e9, size)), **order)
    assert (np.diff(column(choked, "dump", "lowered")) < 0).all()
    assert (np.diff(choked.return_pressure) > 0).all()


def test_a_floating_plow_draws_on_its_rod_side() -> None:
    """A double-acting cylinder returns the rod's share alone."""
    truck = changed("plow", lower_load=9000.0)
    result = at(truck, asked={"plow": 4 * GPM}, lower={"plow": 1})
    flow = column(result, "plow", "lowered")[0]
    assert result.return_flow[0] == pytest.approx(flow * (1.5 / 3.0) ** 2)


def test_a_pair_shares_load_and_flow() -> None:
    """Two cylinders of half the area each do what one does."""
    half = DUMP.cylinder.bore / np.sqrt(2.0)
    for order in ({"asked": {"dump": 8 * GPM}}, {"asked": {"dump": 8 * GPM}, "lower": {"dump": 1}}):
        one, two = at(TRUCK, **order), at(changed("dump", bore=half, count=2), **order)
        for key in ("speed", "lowered", "work_pressure"):
            np.testing.assert_allclose(
                column(one, "dump", key), column(two, "dump", key), rtol=1e-12
            )


def test_retracting_returns_more_than_it_takes() -> None:
    """Area ratio of 3 in and 1.5 in: 4/3; published form, Fluid Power with Applications (2005)."""
    truck = changed("plow", retract_load=2000.0)
    result = at(truck, asked={"plow": 3 * GPM}, retract={"plow": 1})
    assert result.return_flow[0] == pytest.approx(4.0 / 3.0 * 3 * GPM)


def test_one_point_lowers_while_the_next_lifts() -> None:
    both = at(TRUCK, asked={"dump": np.full(2, 8 * GPM)}, retract={"dump": np.array([0.0, 1.0])})
    lift = at(TRUCK, asked={"dump": 8 * GPM})
    lower = at(TRUCK, asked={"dump": 8 * GPM}, retract={"dump": 1})
    for key in ("speed", "lowered", "flow", "work_pressure", "asked"):
        expected = [column(lift, "dump", key)[0], column(lower, "dump", key)[0]]
        np.testing.assert_allclose(column(both, "dump", key), expected, rtol=1e-10)


# --- studies and refusals


def test_a_scenario_lowers_and_holds() -> None:
    run = (Task(name="dump", motion="lower"), Task(name="plow", motion="stop"))
    solved = solve_work(TRUCK, plan_work(TRUCK, Scenario(name="own", run=run), 130.0, 316.0))
    result = solved.result
    assert column(result, "dump", "function_limit")[0] == FunctionLimit.LOWERING
    assert column(result, "plow", "function_limit")[0] == FunctionLimit.STOP
    assert not solved.work.asked.any()
    assert not solved.shortfall.any()


@pytest.mark.parametrize("key", ["retract", "lower", "stop"])
def test_only_cylinders_move_so(key: str) -> None:
    with pytest.raises(DomainError, match=f"{key}.*auger"):
        at(TRUCK, command={"auger": 0.5}, **{key: {"auger": 1}})


def test_what_has_no_unique_answer_or_lacks_a_value_is_refused() -> None:
    with pytest.raises(DomainError, match="plow"):
        at(TRUCK, asked={"plow": 1e-4}, retract={"plow": 1}, lower={"plow": 1})
    with pytest.raises(MissingValue, match=r"plow\.cylinder\.lower_load"):
        at(TRUCK, asked={"plow": 1e-4}, lower={"plow": 1})
    with pytest.raises(DomainError, match="retract_load"):
        TRUCK.vary("plow.cylinder.retract_load", -100.0)
    assert isinstance(PLOW.cylinder, Cylinder)
