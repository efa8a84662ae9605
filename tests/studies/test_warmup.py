"""Warming of the oil: the closed form at constant heat, a general integrator, marks and edges."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.circuit import Reservoir
from hydrocheck.physics import heat
from hydrocheck.studies.thermal import (
    HIGHEST,
    Cooling,
    Part,
    duty_of,
    heat_at,
    settled_temperature,
)
from hydrocheck.studies.warmup import heat_capacity, warm_up
from tests.studies.heatkit import RPM, always, celsius, plain_truck

# The surface alone, so that a balance may be missing.
TANDEM, SINGLE = (demo.load(name).vary("reservoir.cooler", 0.0) for name in ("tandem", "single"))
SPREADING = duty_of(TANDEM, {"spreading": 0.75, "standby": 0.25})
TIMES = np.linspace(0.0, 6 * 3600.0, 13)


# -- constant heat: the closed form ------------------------------------------------------------


@settings(max_examples=15)
@given(
    st.floats(100.0, 4000.0),
    st.floats(celsius(-40.0), celsius(140.0)),
    st.floats(celsius(-40.0), celsius(30.0)),
    st.floats(0.0, 500.0),
)
def test_constant_heat_is_the_closed_form(
    power: float, start: float, air: float, metal: float
) -> None:
    truck = plain_truck(power / 100e5, 100e5)  # all of it over the relief, at any viscosity
    run = warm_up(truck, always(), start, air, metal_mass=metal)
    total = float(run.conductance[0])
    assert total == pytest.approx(2.0 * 11.0)
    end = float(heat.steady_temperature(power, air, total))
    tau = float(heat.time_constant(0.1 * 870.0, 1950.0, total, metal))
    assert float(run.capacity[0]) == pytest.approx(tau * total)
    expected = heat.warm_up(TIMES, start, end, tau)
    below = expected < HIGHEST - 0.01
    found = run.temperature_at(TIMES)[:, 0]
    assert found[below] == pytest.approx(expected[below], abs=2e-3)
    target = start + 0.8 * (min(end, HIGHEST) - start)
    if abs(end - start) > 0.1:
        time = float(heat.warm_up_time(target, start, end, tau))
        assert float(run.time_to(target)[0]) == pytest.approx(time, rel=1e-3, abs=0.1)


# -- heat that follows the oil: a general integrator -------------------------------------------


@pytest.mark.parametrize(("start", "factor"), [(None, 1.0), (celsius(90.0), 6.0)])
def test_agrees_with_a_general_integrator(start: float | None, factor: float) -> None:
    # Oracle: scipy's Runge-Kutta 5(4), the steady state solved anew at each of its steps.
    from scipy.integrate import solve_ivp

    run = warm_up(TANDEM, SPREADING, start, cooling=Cooling(factor))
    air, total, capacity = (float(v[0]) for v in (run.ambient, run.conductance, run.capacity))

    def slope(_: float, oil: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[float]:
        made = float(heat_at(TANDEM, SPREADING, oil[0]).total[0])
        return [(made - total * (oil[0] - air)) / capacity]

    times = TIMES[:5]
    known = solve_ivp(slope, (0.0, times[-1]), run.start, rtol=1e-6, atol=1e-4, t_eval=times)
    assert run.temperature_at(times)[:, 0] == pytest.approx(known.y[0], abs=0.02)


def test_the_end_is_the_settled_temperature() -> None:
    run = warm_up(TANDEM, SPREADING, cooling=Cooling(3.0))
    settled = settled_temperature(TANDEM, SPREADING, TANDEM.ambient.coldest, Cooling(3.0))
    assert run.found.all()
    assert run.end == pytest.approx(settled.temperature, abs=1e-6)
    late = run.temperature_at([1e6, 1e9])[:, 0]
    assert late == pytest.approx([run.end[0]] * 2, abs=1e-3)


# -- marks -------------------------------------------------------------------------------------


def test_times_and_temperatures_turn_round() -> None:
    cooling = Cooling(np.array([1.0, 2.0, 4.0]))
    run = warm_up(TANDEM, SPREADING, cooling=cooling)
    for mark in (celsius(-5.0), celsius(5.0)):
        times = run.time_to(mark)
        assert np.isfinite(times).all()
        assert np.diag(run.temperature_at(times)) == pytest.approx([mark] * 3, abs=1e-4)
        assert (np.diff(times) >= 0).all()  # more cooling never warms sooner
    assert run.time_to(run.start).tolist() == [0.0] * 3
    assert run.time_to(celsius(-40.0)).tolist() == [0.0] * 3
    assert np.isinf(run.time_to(run.end + 1.0)).all()


def test_it_never_turns_back_and_metal_slows_it() -> None:
    light, heavy = (
        warm_up(SINGLE, duty_of(SINGLE, {"spreading": 1.0}), metal_mass=m) for m in (0.0, 200.0)
    )
    for run in (light, heavy):
        path = run.temperature_at(TIMES)[:, 0]
        assert (np.diff(path[np.isfinite(path)]) > 0).all()
        assert (np.diff(run.time[:, 0]) >= 0).all()
    ratio = float(heavy.capacity[0] / light.capacity[0])
    mark = celsius(60.0)
    assert heavy.time_to(mark) == pytest.approx(ratio * light.time_to(mark), rel=1e-6)


def test_oil_above_its_balance_cools_to_it() -> None:
    run = warm_up(TANDEM, SPREADING, celsius(120.0), cooling=Cooling(4.0))
    assert run.end[0] < run.start[0]
    path = run.temperature_at(TIMES)[:, 0]
    assert (np.diff(path) < 0).all()
    assert run.time_to(celsius(130.0))[0] == 0.0
    assert 0.0 < run.time_to(celsius(100.0))[0] < run.time_to(celsius(80.0))[0] < np.inf


def test_without_a_balance_it_ends_at_the_edge_of_the_viscosity_law() -> None:
    run = warm_up(TANDEM.vary("reservoir.area", 0.1), SPREADING)
    assert not run.found.any()
    assert run.end[0] == HIGHEST
    time = float(run.time_to(HIGHEST - 1.0)[0])
    assert 0.0 < time < np.inf
    around = run.temperature_at([0.9 * time, 2.0 * time + 3600.0])[:, 0]
    assert around[0] < HIGHEST
    assert np.isnan(around[1])
    assert np.isinf(run.time_to(HIGHEST + 1.0)[0])


def test_oil_at_its_balance_stays() -> None:
    duty = (Part(duty_of(TANDEM, {"standby": 1.0})[0].scenario, 1.0, 0.0),)
    run = warm_up(TANDEM, duty, 270.0, 270.0)
    assert run.temperature_at(TIMES)[:, 0] == pytest.approx([270.0] * TIMES.size)
    assert np.isinf(run.time_to(271.0)[0])
    assert run.time_to(270.0)[0] == 0.0


# -- capacity and refusals ---------------------------------------------------------------------


def test_heat_capacity_of_oil_and_metal() -> None:
    # By hand: 100 L x 870 kg/m3 x 1950 J/(kg K) and 100 kg of steel x 480 J/(kg K), from memory.
    truck = plain_truck(1e-4, 1e7)
    assert heat_capacity(truck)[0] == pytest.approx(169650.0)
    assert heat_capacity(truck, 100.0)[0] == pytest.approx(169650.0 + 48000.0)


def test_what_is_missing_is_named_at_once() -> None:
    bare = replace(TANDEM, reservoir=Reservoir(), oil=replace(TANDEM.oil, cold=None))
    with pytest.raises(MissingValue) as error:
        warm_up(bare, SPREADING)
    assert error.value.keys == (
        "oil.cold", "reservoir.volume", "reservoir.area", "reservoir.heat_transfer",
    )  # fmt: skip


def test_refusals() -> None:
    with pytest.raises(DomainError, match="oil at the start"):
        warm_up(TANDEM, SPREADING, 150.0)
    with pytest.raises(DomainError, match="metal mass"):
        warm_up(TANDEM, SPREADING, metal_mass=-1.0)
    run = warm_up(plain_truck(1e-4, 1e7), (Part(SPREADING[1].scenario, 1.0, 1300 * RPM),), 280.0)
    for time in (-1.0, float("nan")):
        with pytest.raises(DomainError, match="time since the start"):
            run.temperature_at(time)
