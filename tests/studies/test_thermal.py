"""Oil temperature of a duty: published sums, balances, and what more heat or cooling must do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.errors import DomainError, HydrocheckError, MissingValue
from hydrocheck.model.circuit import Line, Reservoir
from hydrocheck.model.truck import Scenario
from hydrocheck.physics import heat, oil
from hydrocheck.studies.thermal import (
    HIGHEST,
    SPREAD,
    Cooling,
    Part,
    conductance,
    duty_of,
    heat_at,
    hose_surface,
    needed_conductance,
    settled_range,
    settled_temperature,
    varied_size,
)
from hydrocheck.studies.work import plan_pairs, plan_work, solve_work
from tests.studies.heatkit import (
    FOOT,
    GPM,
    HP,
    INCH,
    PSI,
    RPM,
    SPEED,
    always,
    celsius,
    fahrenheit,
    plain_truck,
    with_work,
)

# The surface alone, so that a balance may be missing.
TRUCKS = {name: demo.load(name).vary("reservoir.cooler", 0.0) for name in demo.names()}
TANDEM, SINGLE = TRUCKS["tandem"], TRUCKS["single"]
WARM = celsius(50.0)
SPREADING = duty_of(TANDEM, {"spreading": 0.7, "spreading, plow lifted": 0.05, "standby": 0.25})
COOLED = TANDEM.vary("reservoir.cooler", 100.0)


# -- published sums --------------------------------------------------------------------------------


def test_published_rise_over_a_relief() -> None:
    # Fluid Power with Applications, 6th ed., 2005, Example 11-3: 70 bar, 0.000632 m3/s, 895 kg/m3,
    # 1.8 kJ/(kg K): 50 degC becomes 54.3 degC. Example 11-2: 1000 psi, 10 gpm, 120 becomes 127.9
    # degF, with 7.42 lb/min for each gpm and 0.42 Btu/(lb F).
    metric = heat_at(plain_truck(0.000632, 70e5), always(), WARM)
    assert float(metric.heat["relief"][0]) == pytest.approx(70e5 * 0.000632, rel=1e-9)
    rise = float(heat.temperature_rise(metric.total[0], 895.0 * 0.000632, 1800.0))
    assert 50.0 + rise == pytest.approx(54.3, abs=0.06)
    us = heat_at(plain_truck(10 * GPM, 1000 * PSI), always(), WARM)
    pound, btu = 0.45359237, 1055.05585262
    stream, specific = 7.42 * 10 * pound / 60, 0.42 * btu / pound * 1.8
    rise = float(heat.temperature_rise(us.total[0], stream, specific))
    assert 120.0 + 1.8 * rise == pytest.approx(127.9, abs=0.1)


def test_published_rating_of_an_exchanger() -> None:
    # Example 11-5 there: 0.00126 m3/s at 70 bar, pump of 85 %, relief open half the time, lines a
    # tenth of the relief: 6.41 kW. The other half of the time all flow works at 70 bar.
    base = plain_truck(0.00126, 70e5, hydromechanical_efficiency=0.85, viscous_torque_share=0.0)
    truck, work = with_work(base, 0.00126 * (1 - 1e-9), 70e5 * 0.85)
    truck = replace(truck, bank=(replace(truck.bank[0], section_drop=70e5 * 0.05),))
    duty = (Part(work, 0.5, SPEED), Part(Scenario(name="standby"), 0.5, SPEED))
    found = heat_at(truck, duty, WARM)
    relief = float(found.heat["relief"][0])
    assert relief == pytest.approx(0.5 * 70e5 * 0.00126, rel=1e-6)
    pump = float(heat_at(truck, always(), WARM).heat["pump friction"][0])
    assert (pump + 1.1 * relief) / 1e3 == pytest.approx(6.41, abs=0.005)


def test_published_temperature_of_a_reservoir() -> None:
    # Fluid Power: Theory and Applications, 4th ed., Example 14.6: 15 ft2 of 0.001 hp/(ft2 F), 1.25
    # hp, air of 75 degF: 158.33 degF.
    coefficient = 0.001 * HP / FOOT**2 * 1.8
    truck = replace(
        plain_truck(1.25 * HP / (1000 * PSI), 1000 * PSI),
        reservoir=Reservoir(area=15 * FOOT**2, heat_transfer=coefficient),
    )
    settled = settled_temperature(truck, always(), fahrenheit(75.0))
    assert settled.temperature[0] * 1.8 - 459.67 == pytest.approx(158.33, abs=0.01)
    assert settled.found.all()


def test_good_cooler_but_the_umbilical_heats() -> None:
    # Trade column: 24 gpm through 710 ft; a cooler of 10 kW is too small though every part is good.
    # Hoses of 3/4 and 1 in from memory; own calculation there: 11.4 kW at 32 cSt, 9.1 kW at 15 cSt.
    lines = [
        Line(name=f"umbilical {n}", role=role, of="work", bore=bore * INCH, length=710 * FOOT)
        for n, (role, bore) in enumerate((("work supply", 0.75), ("work return", 1.0)))
    ]
    base = plain_truck(24.001 * GPM, 6000 * PSI)
    truck, work = with_work(base, 24 * GPM, 3000 * PSI, *lines)
    line = oil.viscosity_line(celsius(40.0), 32e-6, celsius(100.0), 6e-6)
    thin = float(oil.temperature_at_viscosity(15e-6, *line))
    made = heat_at(truck, always(work), np.array([celsius(40.0), thin])).heat["work lines"] / 1e3
    assert made[1] == pytest.approx(9.1, rel=0.02)
    # At 32 cSt the smaller hose lies between laminar and turbulent, which was assumed there.
    assert made[1] < made[0] < 11.4
    # The cooler gives off its 10 kW at 40 degC above the air: the oil goes beyond.
    tank = Reservoir(area=1e-6, heat_transfer=1.0, cooler=10e3 / 40.0)
    settled = settled_temperature(replace(truck, reservoir=tank), always(work), celsius(10.0))
    assert settled.temperature[0] > celsius(50.0)


def test_throttling_costs_three_quarters_and_load_sensing_a_fifth() -> None:
    # Trade article on open-centre circuits: 20 gpm pump, relief 2500 psi, 9 gpm at 1300 psi: 29.17
    # hp in, 6.83 hp useful, 22.35 hp lost. With load sensing and 300 psi margin (assumed) 8.40 hp.
    base = plain_truck(20 * GPM, 2500 * PSI)
    base = replace(base, relief=(replace(base.relief[0], rated_flow=11 * GPM),))
    truck, work = with_work(base, 9 * GPM, 1300 * PSI)
    fixed = heat_at(truck, always(work), WARM)
    assert fixed.input_power[0] / HP == pytest.approx(29.17, abs=0.01)
    assert fixed.total[0] / HP == pytest.approx(22.35, abs=0.01)
    assert fixed.share[0] == pytest.approx(1 - 0.234, abs=0.001)
    pump = replace(
        truck.pump[0], type="load sensing", margin=300 * PSI, standby=100 * PSI,
        compensator=2300 * PSI,
    )  # fmt: skip
    sensing = heat_at(replace(truck, pump=(pump,)), always(work), WARM)
    assert sensing.input_power[0] / HP == pytest.approx(8.40, abs=0.01)
    assert 1 - sensing.share[0] == pytest.approx(0.81, abs=0.005)


def test_a_relief_below_the_compensator_heats() -> None:
    # Trade column on troubleshooting: relief under the compensator, the pump never destrokes; 20
    # gpm (assumed) over 2500 psi are 29.2 hp. With the relief above, nothing but standby is left.
    low = plain_truck(20 * GPM, 2500 * PSI, type="constant pressure", compensator=2700 * PSI)
    assert heat_at(low, always(), WARM).total[0] / HP == pytest.approx(29.2, abs=0.05)
    high = replace(low, relief=(replace(low.relief[0], setting=3200 * PSI, cracking=3000 * PSI),))
    assert heat_at(high, always(), WARM).total[0] == pytest.approx(0.0, abs=1e-6)


def test_what_the_cooler_gives_off_is_what_efficiency_loses() -> None:
    # Maintenance column: 100 kW in and 30 kW given off mean an efficiency below 70 %.
    truck, work = with_work(
        plain_truck(1e-3, 200e5, hydromechanical_efficiency=0.7, viscous_torque_share=0.0),
        1e-3 * (1 - 1e-9), 140e5,
    )  # fmt: skip
    settled = settled_temperature(truck.vary("reservoir.cooler", 500.0), always(work))
    given_off = settled.loss[0] / settled.input.input_power[0]
    useful = settled.input.mechanical_power[0] / settled.input.input_power[0]
    assert given_off > 0.3
    assert useful < 0.7
    assert useful == pytest.approx(1 - given_off, abs=1e-9)


# -- balances --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", TRUCKS)
def test_heat_in_is_heat_out(name: str) -> None:
    truck = replace(
        TRUCKS[name], reservoir=Reservoir(area=3.0, heat_transfer=12.0, cooler=120.0, volume=0.1)
    )
    duty = duty_of(
        truck, {truck.scenario[0].name: 0.6, truck.scenario[1].name: 0.1, "standby": 0.3}
    )
    airs = np.array([celsius(-25.0), celsius(0.0), celsius(35.0)])
    for settled in vars(settled_range(truck, duty, airs)).values():
        assert settled.found.all()
        assert settled.loss == pytest.approx(settled.input.total, rel=1e-9)
        assert (settled.temperature == settled.input.oil_temperature).all()
        balance = settled.input.mechanical_power + settled.input.total
        assert settled.input.input_power == pytest.approx(balance, rel=1e-9)


def test_the_balance_is_stable() -> None:
    airs = np.linspace(celsius(-20.0), celsius(30.0), 4)
    settled = settled_temperature(COOLED, SPREADING, airs)
    for step, sign in ((-0.5, 1.0), (0.5, -1.0)):
        at = settled.temperature + step
        excess = heat_at(COOLED, SPREADING, at).total - settled.conductance * (at - airs)
        assert (sign * excess > 0).all()


def test_a_duty_is_the_mean_of_its_parts() -> None:
    temperature = np.array([celsius(10.0), celsius(60.0)])
    mean = heat_at(TANDEM, SPREADING, temperature)
    total = np.zeros(2)
    for part in SPREADING:
        speed = np.full(2, 1300 * RPM)
        result = solve_work(TANDEM, plan_pairs(TANDEM, part.scenario, speed, temperature)).result
        total += float(np.asarray(part.share)) * result.total_heat
    assert mean.total == pytest.approx(total, rel=1e-12)


def test_pairs_are_the_diagonal_of_the_grid() -> None:
    scenario = TANDEM.scenario[0]
    speed, temperature = np.array([90.0, 140.0]), np.array([280.0, 330.0])
    grid, pairs = plan_work(TANDEM, scenario, speed, temperature), None
    pairs = plan_pairs(TANDEM, scenario, speed, temperature)
    assert (grid.asked[[0, 3]] == pairs.asked).all()
    assert (pairs.points.engine_speed == speed).all()
    assert (pairs.points.oil_temperature == temperature).all()


def test_many_trucks_at_once_are_each_of_them() -> None:
    margins = np.array([20e5, 30e5, 45e5])
    areas = np.array([3.0, 5.0, 9.0])
    airs = np.array([260.0, 270.0, 280.0])
    many = COOLED.vary("pump.margin", margins).vary("reservoir.area", areas)
    assert varied_size(many) == 3
    together = settled_temperature(many, SPREADING, airs)
    for n in range(3):
        one = COOLED.vary("pump.margin", margins[n]).vary("reservoir.area", areas[n])
        alone = settled_temperature(one, SPREADING, airs[n])
        assert together.temperature[n] == pytest.approx(alone.temperature[0], abs=1e-6)


def test_a_pump_at_rest_leaves_the_oil_at_the_air() -> None:
    duty = (Part(Scenario(name="standby"), 1.0, 0.0),)
    settled = settled_temperature(TANDEM, duty, 280.0)
    assert settled.temperature[0] == 280.0
    assert settled.input.share[0] == 0.0


def test_no_balance_is_said() -> None:
    hot = TANDEM.vary("reservoir.area", np.array([0.1, 40.0]))
    settled = settled_temperature(hot, SPREADING, 275.0)
    assert settled.found.tolist() == [False, True]
    assert np.isnan(settled.temperature[0])
    assert settled.input.oil_temperature[0] == HIGHEST
    assert settled.input.total[0] > settled.loss[0]


# -- what must rise and fall -----------------------------------------------------------------------


@settings(max_examples=10)
@given(st.floats(20.0, 400.0), st.floats(0.0, 200.0), st.floats(230.0, 310.0), st.floats(0.0, 20.0))
def test_more_cooling_never_warmer_hotter_air_never_cooler(
    cooler: float, more: float, air: float, hotter: float
) -> None:
    truck = SINGLE.vary("reservoir.cooler", np.array([cooler, cooler + more, cooler]))
    duty = duty_of(SINGLE, {"spreading": 1.0})
    settled = settled_temperature(truck, duty, np.array([air, air, air + hotter]))
    base, cooled, heated = np.where(settled.found, settled.temperature, np.inf)
    assert cooled <= base + 1e-6
    assert heated >= base - 1e-6


def test_the_range_lies_around_the_stated_coefficient() -> None:
    found = settled_range(COOLED, SPREADING, celsius(5.0))
    cool, stated, warm = (float(s.temperature[0]) for s in (found.cool, found.stated, found.warm))
    assert cool < stated < warm
    assert 2.4 < SPREAD**2 < 2.6  # published coefficients: 6 to 14.5 W/(m2 K)
    surface = found.stated.conductance - 100.0
    assert found.cool.conductance - 100.0 == pytest.approx(SPREAD * surface)
    assert found.warm.conductance - 100.0 == pytest.approx(surface / SPREAD)


def test_the_needed_conductance_holds_the_limit() -> None:
    limit, air = celsius(60.0), celsius(5.0)
    needed = float(needed_conductance(TANDEM, SPREADING, limit, air)[0])
    more = needed - float(conductance(TANDEM)[0])
    settled = settled_temperature(TANDEM.vary("reservoir.cooler", more), SPREADING, air)
    assert settled.temperature[0] == pytest.approx(limit, abs=1e-6)
    with pytest.raises(DomainError):
        needed_conductance(TANDEM, SPREADING, limit, limit)


def test_hoses_add_surface() -> None:
    # By hand: 1 m of 10 mm and 2 m of 20 mm bore.
    lines = (
        Line(name="pressure", bore=0.01, length=1.0),
        Line(name="return", bore=0.02, length=2.0),
        Line(name="suction", bore=0.05),
    )
    surface = hose_surface(replace(TANDEM, lines=lines))
    assert surface == pytest.approx(np.pi * (0.01 + 0.04))
    more = conductance(TANDEM, Cooling(further_surface=surface))
    coefficient = float(TANDEM.reservoir.heat_transfer or 0.0)
    assert more - conductance(TANDEM) == pytest.approx(coefficient * surface)


# -- refusals --------------------------------------------------------------------------------------


def test_what_is_missing_is_named_at_once() -> None:
    bare = replace(TANDEM, reservoir=Reservoir(), ambient=replace(TANDEM.ambient, hottest=None))
    with pytest.raises(MissingValue) as error:
        settled_temperature(bare, SPREADING)
    assert error.value.keys == ("reservoir.area", "reservoir.heat_transfer", "ambient.hottest")


@pytest.mark.parametrize(
    ("shares", "words"),
    [
        ({"spreading": 0.7}, "add up to 70 %"),
        ({"spreading": 1.4, "standby": -0.4}, "zero or above"),
        ({"spreading": float("nan")}, "zero or above"),
        ({"plowing": 1.0}, "no scenario 'plowing'"),
        ({}, "a duty needs a scenario"),
    ],
)
def test_duties_that_are_none(shares: dict[str, float], words: str) -> None:
    with pytest.raises(DomainError, match=words):
        duty_of(TANDEM, shares)


@pytest.mark.parametrize("air", [100.0, 500.0, float("nan")])
def test_air_outside_the_range_is_refused(air: float) -> None:
    with pytest.raises(HydrocheckError, match="temperature of the air"):
        settled_temperature(TANDEM, SPREADING, air)
    with pytest.raises(HydrocheckError, match="temperature of the oil"):
        heat_at(TANDEM, SPREADING, air)


def test_shapes_that_do_not_fit_and_cooling_that_is_none() -> None:
    with pytest.raises(DomainError, match="not fit"):
        settled_temperature(
            TANDEM.vary("reservoir.area", np.array([1.0, 2.0])), SPREADING, np.array([260.0] * 3)
        )
    for cooling in (Cooling(factor=0.0), Cooling(further_surface=-1.0)):
        with pytest.raises(DomainError, match="surface"):
            settled_temperature(TANDEM, SPREADING, 270.0, cooling)
