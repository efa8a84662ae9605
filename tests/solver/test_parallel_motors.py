"""Two or more motors on one section: equal drop, flows that add up, a slow one that stalls."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from hydrocheck.demo import load
from hydrocheck.errors import CircuitError
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Load, Motor
from hydrocheck.model.truck import Scenario, Task
from hydrocheck.solver import FunctionLimit, Points, Result, solve
from hydrocheck.solver.branches import Stage
from hydrocheck.solver.parallel import SideBySide
from hydrocheck.studies.starting import start_from_rest
from hydrocheck.studies.work import plan_work, solve_work

TRUCK = load("tandem")
SPINNER = TRUCK.function_named("spinner")


def twin(*motors: Motor) -> Truck:
    """The truck with spinner motors side by side."""
    function = dataclasses.replace(SPINNER, motor=motors, motors_in="parallel")
    others = (f for f in TRUCK.function if f.name not in ("spinner", "auger"))
    return dataclasses.replace(TRUCK, function=(function, *others))


def heavier(torque: float, name: str = "second") -> Motor:
    motor = SPINNER.motor[0]
    assert motor.load is not None
    shaft = dataclasses.replace(motor.load, constant=motor.load.constant * torque)
    return dataclasses.replace(motor, name=name, load=shaft)


def run(truck: Truck, flow: Any) -> Result:
    size = np.size(flow)
    return solve(truck, Points.of(truck, np.full(size, 200.0), 316.0, asked={"spinner": flow}))


def test_equal_motors_share_equally() -> None:
    first = dataclasses.replace(SPINNER.motor[0], name="first")
    both, alone = run(twin(first, heavier(1.0)), 4e-4), run(twin(first), 2e-4)
    np.testing.assert_allclose(both.motor_speed[:, 0, 0], alone.speed[0, 0], rtol=1e-12)
    np.testing.assert_allclose(both.motor_drop[:, 0, 0], alone.motor_drop[0, 0, 0], rtol=1e-12)
    assert both.flow[0, 0] == pytest.approx(4e-4)


def test_the_heavier_one_turns_slower_and_stalls_first() -> None:
    """At one drop each has its own torque; their flows are all that enters."""
    first = dataclasses.replace(SPINNER.motor[0], name="first")
    flow = np.geomspace(2e-5, 8e-4, 12)
    result = run(twin(first, heavier(2.5)), flow)
    light, heavy = result.motor_speed[0, :, 0], result.motor_speed[1, :, 0]
    assert (light >= heavy).all()
    assert (heavy[:3] == 0.0).all()
    assert heavy[-1] > 0.0
    np.testing.assert_array_equal(result.motor_drop[0], result.motor_drop[1])
    still = np.minimum(light, heavy) <= 0.0
    np.testing.assert_array_equal(result.function_limit[:, 0] == FunctionLimit.STALL, still)
    assert result.flow_residual.max() < 1e-12
    assert result.energy_residual.max() < 1e-12


def test_speed_ordered_is_speed_got() -> None:
    """The demand for a speed counts what the other motor takes at the same drop."""
    first = dataclasses.replace(SPINNER.motor[0], name="first")
    truck = twin(first, heavier(0.7))
    scenario = Scenario(name="own", run=(Task(name="spinner", speed=13.0),))
    solved = solve_work(truck, plan_work(truck, scenario, 220.0, 316.0))
    assert solved.result.speed[0, 0] == pytest.approx(13.0)
    assert solved.result.motor_speed[1, 0, 0] > solved.result.motor_speed[0, 0, 0]


def test_flat_motors_with_one_start_are_refused() -> None:
    flat = dataclasses.replace(
        SPINNER.motor[0], viscous_torque_share=0.0, load=Load(constant=20.0), load_empty=None
    )
    with pytest.raises(CircuitError, match=r"spinner\.motor.*no unique share"):
        run(twin(dataclasses.replace(flat, name="first"), flat), 4e-4)
    light = dataclasses.replace(flat, name="light", load=Load(constant=15.0))
    result = run(twin(light, flat), 4e-4)  # the light one takes all
    assert result.motor_speed[0, 0, 0] > 0.0
    assert result.motor_speed[1, 0, 0] == 0.0


def test_each_of_them_must_start() -> None:
    """The other one turns meanwhile, and holds the pressure down."""
    first = dataclasses.replace(SPINNER.motor[0], name="first", starting_efficiency=0.8)
    second = dataclasses.replace(heavier(2.0), starting_efficiency=0.8)

    def ready(motor: Motor) -> Motor:
        assert motor.load is not None
        return dataclasses.replace(motor, load=dataclasses.replace(motor.load, breakaway=1.2))

    scenario = Scenario(name="own", run=(Task(name="spinner", flow=2e-4),))
    pair = start_from_rest(twin(ready(first), ready(second)), scenario, "spinner", 220.0, 316.0)
    alone = start_from_rest(twin(ready(second)), scenario, "spinner", 220.0, 316.0)
    assert alone.starts[0]
    assert not pair.starts[0]
    assert pair.needed[0] == pytest.approx(alone.needed[0])


def stages(rng: np.random.Generator, size: int, tight: float) -> tuple[Stage, ...]:
    """Three machines far outside what a truck has, some tight, some flat."""

    def log(low: float, high: float) -> Any:
        return np.exp(rng.uniform(np.log(low), np.log(high), size))

    def some(share: float, value: Any) -> Any:
        return np.where(rng.random(size) < share, 0.0, value)

    return tuple(
        Stage(
            capacity=log(1e-7, 1e-4),
            slip=some(tight, log(1e-16, 1e-9)),
            friction=rng.uniform(0.0, 0.4, size),
            drag=some(0.4, log(1e-8, 1.0)),
            load0=some(0.1, log(1e-2, 1e3)),
            load1=some(0.4, log(1e-8, 1e2)),
            load2=some(0.4, log(1e-10, 1.0)),
            outlet_share=np.ones(1),
            case_share=rng.uniform(0.0, 1.0, size),
            gear_ratio=np.ones(1),
            gear_efficiency=np.ones(1),
        )
        for _ in range(3)
    )


@pytest.mark.parametrize("tight", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("seed", range(4))
def test_shares_add_up_and_each_obeys_its_own_law(seed: int, tight: float) -> None:
    rng = np.random.default_rng(seed)
    group = SideBySide(stages(rng, 4000, tight))
    flow = np.exp(rng.uniform(np.log(1e-9), np.log(1e-2), 4000))
    speeds, drop, slope = group.split(flow)
    assert np.isfinite(speeds).all()
    assert (speeds >= 0.0).all()
    total = np.zeros(4000)
    for motor, speed in zip(group.motors, speeds, strict=True):
        total += motor.capacity * speed + motor.slip * drop
        own, turns = motor.drop_at(speed), speed > 0.0
        np.testing.assert_allclose(own[turns], drop[turns], rtol=1e-9, atol=1e-6)
        assert (drop[~turns] <= own[~turns] * (1.0 + 1e-9) + 1e-6).all()
    np.testing.assert_allclose(total, flow, rtol=1e-9)
    more = group.split(flow * 1.001)[1]
    assert (more >= drop * (1.0 - 1e-12)).all()
    assert (slope >= 0.0).all()
    # What leaves is what entered less the drains.
    drained = sum(m.case_share * m.slip * drop for m in group.motors)
    np.testing.assert_allclose(group.outflow(*group.state(flow)[:2]), flow - drained, rtol=1e-9)


def test_nothing_flows_at_rest() -> None:
    group = SideBySide(stages(np.random.default_rng(1), 50, 0.5))
    speeds, drop, _ = group.split(np.zeros(50))
    assert not speeds.any()
    assert not drop.any()
