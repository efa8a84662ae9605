"""Requirement sets built around agencies' documents, against hand calculations.

The trucks stand in reference_cases/agency/set_*.toml, the printed results in expected.toml beside
them. Every calculation starts from the truck as read. Printed values are texts: their decimals
are the precision that is claimed.
"""

from __future__ import annotations

import dataclasses
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hydrocheck.checks import Finding, Judgement, inspect
from hydrocheck.model import Truck, read_truck
from hydrocheck.model.scalar import Scalar
from hydrocheck.physics import lines, liquids, loads, machines
from hydrocheck.solver import Result
from hydrocheck.studies.budget import least_engine_speed
from hydrocheck.studies.handbook import calculate
from hydrocheck.studies.work import plan_work, solve_work
from hydrocheck.units import parse, to_unit

FOLDER = Path(__file__).resolve().parents[2] / "reference_cases" / "agency"
HAND = 0.005
"""Agreement with a hand calculation: it rounds 12000/7 to 1714 and prints few figures."""

Row = dict[str, Any]
EXPECTED: dict[str, Row] = {
    row["id"]: row
    for row in tomllib.loads((FOLDER / "expected.toml").read_text(encoding="utf-8"))["set"]
}
SETS = pytest.mark.parametrize("name", sorted(EXPECTED))
SPEEDS = pytest.mark.parametrize(
    ("name", "row"),
    [
        pytest.param(name, row, id=f"{name}-{row['engine'].replace(' ', '')}")
        for name, expected in EXPECTED.items()
        for row in expected["speed"]
    ],
)


def truck_of(name: str) -> Truck:
    return read_truck(FOLDER / f"set_{name}.toml")


def text_of(name: str) -> str:
    return (FOLDER / f"set_{name}.toml").read_text(encoding="utf-8")


def number(value: Scalar | None) -> float:
    """A value that the file must give."""
    assert value is not None
    return float(value)


def amount(judged: Judgement) -> float:
    """The value of a finding."""
    assert judged.value is not None
    return judged.value.value


def displacement(truck: Truck) -> float:
    return number(truck.pump[0].displacement)


def relief_setting(truck: Truck) -> float:
    return number(truck.relief[0].setting)


def pump_speed(truck: Truck, engine: str) -> float:
    return parse(engine, "shaft_speed") * float(truck.engine.drive.ratio)


def ideal_flow(truck: Truck, engine: str) -> float:
    return float(machines.pump_flow(displacement(truck), pump_speed(truck, engine)))


def rated_flow(truck: Truck, engine: str) -> float:
    """Delivered at the rated volumetric efficiency, held at every speed."""
    efficiency = number(truck.pump[0].volumetric_efficiency)
    return float(machines.pump_flow(displacement(truck), pump_speed(truck, engine), efficiency))


def total_demand(truck: Truck) -> float:
    return sum(number(f.flow) for f in truck.function if f.flow is not None)


def worked_demand(truck: Truck) -> float:
    """The demand before it was rounded to the truck file's figure: set E works its own out."""
    if len(truck.function) > 1:
        return total_demand(truck)
    return oil_power_of_liquid(EXPECTED["e"]["liquid"]) / number(truck.function[0].pressure)


def oil_power_of_liquid(given: Row) -> float:
    """Power that the liquid pump's motor takes from the oil."""
    pump, motor = (parse(given[f"{part}_efficiency"], "fraction") for part in ("pump", "motor"))
    shaft = loads.liquid_pump_power(liquid_flow(given), parse(given["boom"], "pressure"), pump)
    assert shaft == hand(given["shaft_power"], "power")
    return float(shaft) / motor


def liquid_flow(given: Row) -> float:
    """Liquid for all lanes at the stated road speed."""
    rate, speed = parse(given["rate"], "liquid_rate"), parse(given["road_speed"], "road_speed")
    return float(liquids.liquid_flow(rate, given["lanes"], speed))


def bore_of(truck: Truck, role: str) -> float:
    return next(number(line.bore) for line in truck.lines if line.carries == role)


def hand(printed: str, kind: str) -> Any:
    """A printed value in SI, to be met within half a percent."""
    return pytest.approx(parse(printed, kind), rel=HAND)


def as_printed(value: float, kind: str, printed: str) -> str:
    """A value with the unit and the decimals of a printed one."""
    figure, unit = printed.split(" ", 1)
    decimals = len(figure.partition(".")[2])
    return f"{to_unit(value, kind, unit):.{decimals}f} {unit}"


def gpm(flow: float) -> float:
    return to_unit(flow, "flow", "gpm")


def finding(truck: Truck, check: str, subject: str) -> Finding:
    return next(f for f in inspect(truck) if (f.id, f.subject) == (check, subject))


def bare(truck: Truck) -> Truck:
    """The truck without lines: the pump stands at its load and section drop alone."""
    return dataclasses.replace(truck, lines=())


def solved(truck: Truck, engine: str) -> Result:
    """The steady state of the first scenario at an engine speed."""
    return solve_work(
        truck, plan_work(truck, truck.scenario[0], parse(engine, "shaft_speed"))
    ).result


# --- the truck files ------------------------------------------------------------------------

MARK = re.compile(r"^(\w+) = (.*?\d[^#]*?) *# \[(doc(?: S\d+| F\d+)(?:, [SF]\d+)*|calc|assumed)\]")
VALUE = re.compile(r"^\w+ = [^#]*\d")

STATED = {
    "a": {"governed": '"2000 rpm"'},
    "c": {"suction_velocity": '"4 ft/s"', "pressure_velocity": '"25 ft/s"'},
    "e": {"lanes": "3", "road_speeds": '["3 mph", "45 mph", "50 mph"]'},
}
"""All numbers of the agencies' documents that a truck file holds: F1, S2, S7, S8."""


def marked(name: str) -> list[tuple[str, str, str]]:
    """(key, value, mark) of every line of a set that holds a number."""
    found = []
    for line in text_of(name).splitlines():
        if VALUE.match(line) and not line.startswith(("schema", "name", "about")):
            match = MARK.match(line)
            assert match, f"no mark: {line}"
            found.append((match[1], match[2].strip(), match[3]))
    return found


@SETS
def test_every_number_is_marked_and_only_the_documents_are_stated(name: str) -> None:
    rows = marked(name)
    assert {key: value for key, value, mark in rows if mark.startswith("doc")} == STATED[name]
    assert {mark for _, _, mark in rows if not mark.startswith("doc")} <= {"calc", "assumed"}
    assert sum(mark == "assumed" for _, _, mark in rows) > len(STATED[name])


@SETS
def test_in_a_table_what_is_stated_stands_before_what_is_assumed(name: str) -> None:
    order = ["doc", "calc", "assumed"]
    for table in re.split(r"^\[", text_of(name), flags=re.MULTILINE)[1:]:
        marks = [order.index(m[3][:3] if m[3][0] == "d" else m[3]) for m in
                 map(MARK.match, table.splitlines()) if m]  # fmt: skip
        assert marks == sorted(marks), table


@SETS
def test_a_function_is_its_flow_and_pressure(name: str) -> None:
    truck = truck_of(name)
    for function in truck.function:
        if function.fitted:
            assert not function.motor
            assert function.cylinder is None
            assert function.flow
            assert function.pressure
    demand = EXPECTED[name]["demand"]
    assert as_printed(total_demand(truck), "flow", demand) == demand
    assert as_printed(worked_demand(truck), "flow", demand) == demand


# --- hand calculations, fed from the truck ---------------------------------------------------


@SPEEDS
def test_flow_by_the_handbook_is_exactly_as_printed(name: str, row: Row) -> None:
    truck = truck_of(name)
    pump = tomllib.loads(text_of(name))["pump"][0]
    assert pump_speed(truck, row["engine"]) == pytest.approx(parse(row["pump"], "shaft_speed"))
    flow = calculate(
        "pump-flow",
        displacement=pump["displacement"],
        speed=row["pump"],
        volumetric_efficiency=pump["volumetric_efficiency"],
    ).outputs["flow"]
    assert as_printed(float(flow), "flow", row["at_95"]) == row["at_95"]
    assert rated_flow(truck, row["engine"]) == pytest.approx(float(flow), rel=1e-12)
    assert as_printed(ideal_flow(truck, row["engine"]), "flow", row["ideal"]) == row["ideal"]
    surplus = float(flow) - worked_demand(truck)
    assert as_printed(surplus, "flow", row["surplus"]) == row["surplus"]


@SPEEDS
def test_velocity_and_powers(name: str, row: Row) -> None:
    truck = truck_of(name)
    flow, pressure = rated_flow(truck, row["engine"]), relief_setting(truck)
    velocity = lines.velocity(ideal_flow(truck, row["engine"]), bore_of(truck, "suction"))
    assert float(velocity) == hand(row["suction"], "velocity")
    assert machines.hydraulic_power(flow, pressure) == hand(row["oil_power"], "power")
    asked = machines.pump_shaft_power(flow, pressure, machines.RATING_EFFICIENCY)
    assert asked == hand(row["input_power"], "power")


@SETS
def test_input_power_by_torque_is_a_little_less(name: str) -> None:
    # 0.85 stands for 0.95 x 0.90 = 0.855 in the hand calculation: 0.6 % between its own figures.
    truck, engine = truck_of(name), "1200 rpm"
    torque = machines.pump_torque(
        displacement(truck), relief_setting(truck), number(truck.pump[0].hydromechanical_efficiency)
    )
    by_torque = machines.shaft_power(torque, pump_speed(truck, engine))
    by_flow = machines.pump_shaft_power(rated_flow(truck, engine), relief_setting(truck), 0.85)
    assert by_torque / by_flow == pytest.approx(0.85 / 0.855, rel=1e-9)


@SETS
def test_torque_at_relief(name: str) -> None:
    truck, expected = truck_of(name), EXPECTED[name]
    ideal = machines.pump_torque(displacement(truck), relief_setting(truck))
    assert ideal == hand(expected["torque_ideal"], "torque")
    judged = finding(truck, "drive-torque", "pump").judgement
    assert judged.verdict == "pass"
    assert amount(judged) == hand(expected["torque"], "torque")
    at_engine = amount(judged) * float(truck.engine.drive.ratio)
    assert at_engine == hand(expected["torque_at_engine"], "torque")


@SETS
def test_drive_rating(name: str) -> None:
    truck = truck_of(name)
    for row in EXPECTED[name]["rating"]:
        flow = ideal_flow(truck, row["engine"])
        assert machines.drive_power_rating(relief_setting(truck), flow) == hand(
            row["power"], "power"
        )
        # The same through the check, the drive dropping out above that speed.
        dropped = truck.vary("engine.drive.engaged_to", parse(row["engine"], "shaft_speed"))
        judged = finding(dropped, "drive-power", "pump").judgement
        assert amount(judged) == hand(row["power"], "power")


@SETS
@pytest.mark.parametrize(("share", "verdict"), [(1.002, "pass"), (0.998, "fail")])
def test_a_drive_must_be_rated_for_full_speed(name: str, share: float, verdict: str) -> None:
    power = share * parse(EXPECTED[name]["rating"][-1]["power"], "power")
    truck = truck_of(name).vary("engine.drive.power_rating", power)
    assert finding(truck, "drive-power", "pump").verdict == verdict


@SETS
def test_line_bores(name: str) -> None:
    truck = truck_of(name)
    limits = truck.limits
    for row in EXPECTED[name]["bores"]:
        flow = ideal_flow(truck, row["engine"])
        suction = lines.bore_for_velocity(flow, limits.suction_velocity)
        assert float(suction) == hand(row["suction"], "length")
        discharge = lines.bore_for_velocity(flow, limits.pressure_velocity)
        assert float(discharge) == hand(row["discharge"], "length")


@SETS
def test_engine_speed_that_meets_the_demand(name: str) -> None:
    truck, expected = truck_of(name), EXPECTED[name]
    pump = truck.pump[0]
    # At 95 % whatever the speed: the handbook.
    turned = displacement(truck) * number(pump.volumetric_efficiency)
    by_hand = total_demand(truck) / turned / float(truck.engine.drive.ratio)
    assert by_hand == hand(expected["needed_engine"], "shaft_speed")
    assert rated_flow(truck, expected["needed_engine"]) == pytest.approx(
        total_demand(truck), rel=HAND
    )
    # With slip that is constant in flow, lines aside: a little more, below the rated speed.
    least = number(least_engine_speed(bare(truck), truck.scenario[0], number(truck.oil.working)))
    assert least == pytest.approx(parse(expected["slip_engine"], "shaft_speed"), rel=1e-4)
    assert by_hand < least < number(pump.rated_speed) / float(truck.engine.drive.ratio)


@pytest.mark.parametrize("name", ["a", "e"])
def test_oil_power_at_duty(name: str) -> None:
    truck, expected = truck_of(name), EXPECTED[name]
    duty = parse(expected["duty_pressure"], "pressure")
    power = sum(number(f.flow) * number(f.pressure) for f in truck.function if f.flow is not None)
    assert power == hand(expected["duty_power"], "power")
    assert power == pytest.approx(machines.hydraulic_power(total_demand(truck), duty))
    # The solver gives the loads that power, once the pump meets the demand.
    given = solved(bare(truck), "1200 rpm").mechanical_power[0]
    assert float(given) == hand(expected["duty_power"], "power")


def test_set_a_pump_for_idle_and_plow_lift() -> None:
    truck, expected = truck_of("a"), EXPECTED["a"]
    idle = number(truck.engine.idle) * float(truck.engine.drive.ratio)
    wanted = machines.pump_displacement(
        total_demand(truck), idle, number(truck.pump[0].volumetric_efficiency)
    )
    assert wanted == hand(expected["idle_displacement"], "displacement")
    area, stroke = loads.piston_area(parse("4 in", "length")), parse("10 in", "length")
    assert area * stroke == hand(expected["lift_volume"], "volume")
    surplus = rated_flow(truck, "1200 rpm") - total_demand(truck)
    assert loads.stroke_time(surplus, area, stroke) == hand(expected["lift_time"], "time")


def test_set_e_from_the_liquid_to_the_oil() -> None:
    truck, given = truck_of("e"), EXPECTED["e"]["liquid"]
    rate, flow = parse(given["rate"], "liquid_rate"), liquid_flow(given)
    assert as_printed(flow, "flow", given["flow"]) == given["flow"]
    assert oil_power_of_liquid(given) == hand(given["oil_power"], "power")
    oil = worked_demand(truck)
    assert as_printed(oil, "flow", given["oil_flow"]) == given["oil_flow"]
    size = machines.motor_displacement_for_speed(
        oil,
        parse(given["motor_speed"], "shaft_speed"),
        parse(given["motor_volumetric_efficiency"], "fraction"),
    )
    assert size == hand(given["motor_displacement"], "displacement")
    low, _, high = truck.spreading.road_speeds
    most = float(liquids.liquid_flow(rate, truck.spreading.lanes, high))
    least = float(liquids.liquid_flow(rate, 1, low))
    assert as_printed(most, "flow", given["most"]) == given["most"]
    assert as_printed(least, "flow", given["least"]) == given["least"]
    assert most / least == pytest.approx(50.0)


# --- constant efficiency against constant slip ------------------------------------------------


@SPEEDS
def test_slip_explains_the_solver_where_lines_are_left_out(name: str, row: Row) -> None:
    # At the rated pressure: difference = 0.05 D (n - nr), as printed, zero at the rated speed.
    truck = bare(truck_of(name))
    result = solved(truck, row["engine"])
    pressure = float(result.pump_pressure[0])
    assert pressure == pytest.approx(number(truck.pump[0].rated_pressure), rel=1e-9)
    difference = gpm(float(result.pump_flow[0]) - rated_flow(truck, row["engine"]))
    assert f"{difference + 0.0:.3f}".replace("-0.000", "0.000") == row["slip_difference"].split()[0]
    faster = pump_speed(truck, row["engine"]) - number(truck.pump[0].rated_speed)
    assert (difference > 1e-9) == (faster > 1e-9)
    assert (difference < -1e-9) == (faster < -1e-9)


@SPEEDS
def test_slip_explains_the_solver(
    name: str, row: Row, record_property: Callable[[str, object], None]
) -> None:
    # The whole truck: difference = loss D (n - nr p / pr), p at the pump by the solver.
    truck = truck_of(name)
    pump = truck.pump[0]
    loss = 1.0 - number(pump.volumetric_efficiency)
    result = solved(truck, row["engine"])
    assert max(result.flow_residual[0], result.energy_residual[0]) < 1e-9
    by_efficiency = rated_flow(truck, row["engine"])
    difference = float(result.pump_flow[0]) - by_efficiency
    turned, rated = pump_speed(truck, row["engine"]), number(pump.rated_speed)
    part = float(result.pump_pressure[0]) / number(pump.rated_pressure)
    explained = loss * displacement(truck) * (turned - rated * part)
    record_property(
        "said",
        f"set {name.upper()} {row['engine']:>8}: 95 % {gpm(by_efficiency):6.3f} gpm, "
        f"solver {gpm(by_efficiency + difference):6.3f}, {gpm(difference):+.3f} "
        f"({100 * difference / by_efficiency:+.1f} %); slip explains {gpm(explained):+.3f}",
    )
    assert gpm(difference) == pytest.approx(gpm(explained), abs=1e-6)
    # Lines lift the pump's pressure a little above the rated one, and slip with it.
    assert 1.0 <= part < 1.03
    from_lines = gpm(difference) - parse(row["slip_difference"], "flow") / parse("1 gpm", "flow")
    assert -0.03 * 0.05 * gpm(displacement(truck) * rated) < from_lines < 0.001
    # Below the rated speed the solver delivers less than 95 %, well above it more.
    if turned < 0.99 * rated:
        assert difference < 0.0
    elif turned > 1.03 * rated:
        assert difference > 0.0


@SETS
def test_the_pump_that_is_not_asked_passes_on_what_is_left(name: str) -> None:
    # A fixed pump delivers all its flow: with the demand met the rest crosses the open centre.
    truck = truck_of(name)
    top = EXPECTED[name]["speed"][-1]
    result = solved(truck, top["engine"])
    left = float(result.passed[0])
    assert left == pytest.approx(float(result.pump_flow[0]) - total_demand(truck), rel=1e-9)
    slip = gpm(float(result.pump_flow[0]) - rated_flow(truck, top["engine"]))
    assert gpm(left) - slip == pytest.approx(float(top["surplus"].split()[0]), abs=0.005)


# --- verdicts -------------------------------------------------------------------------------


@SETS
def test_suction_verdict_at_full_speed(name: str) -> None:
    truck, expected = truck_of(name), EXPECTED[name]
    judged = finding(truck, "suction-velocity", "pump").judgement
    top = expected["speed"][-1]
    assert judged.verdict == "fail"
    assert amount(judged) == hand(top["suction"], "velocity")
    # With the bore that the hand calculation asks for, rounded up, it passes.
    bore = 1.0005 * parse(expected["bores"][-1]["suction"], "length")
    assert finding(truck.vary("suction.bore", bore), "suction-velocity", "pump").verdict == "pass"


@pytest.mark.parametrize(("rpm", "verdict"), [("1271 rpm", "pass"), ("1274 rpm", "fail")])
def test_set_a_suction_fails_from_about_1272_rpm(rpm: str, verdict: str) -> None:
    truck = truck_of("a")
    at_limit = lines.flow_at_velocity(truck.limits.suction_velocity, bore_of(truck, "suction"))
    speed = float(at_limit) / displacement(truck) / float(truck.engine.drive.ratio)
    assert speed == pytest.approx(parse(EXPECTED["a"]["suction_engine"], "shaft_speed"), rel=5e-4)
    kept_below = truck.vary("engine.drive.engaged_to", parse(rpm, "shaft_speed"))
    assert finding(kept_below, "suction-velocity", "pump").verdict == verdict


@pytest.mark.parametrize(("name", "verdict"), [("a", "fail"), ("c", "pass"), ("e", "pass")])
def test_discharge_verdict_at_full_speed(name: str, verdict: str) -> None:
    # Set A fails by a hair: 0.752 in asked, 3/4 in fitted.
    truck, row = truck_of(name), EXPECTED[name]["bores"][-1]
    judged = finding(truck, "pressure-velocity", "pump").judgement
    share = parse(row["discharge"], "length") / bore_of(truck, "pressure")
    assert judged.verdict == verdict
    assert number(judged.margin) == pytest.approx(1.0 - share**2, abs=0.002)


def test_set_c_suction_fails_by_a_third_of_a_percent() -> None:
    judged = finding(truck_of("c"), "suction-velocity", "pump").judgement
    assert number(judged.margin) == pytest.approx(-0.003, abs=0.0005)


def test_set_c_relief_and_its_weakest_part() -> None:
    truck = truck_of("c")
    assert finding(truck, "relief-ratings", "main relief").verdict == "pass"
    higher = truck.vary("main relief.setting", parse("3500 psi", "pressure"))
    assert finding(higher, "relief-ratings", "main relief").verdict == "fail"


@pytest.mark.parametrize("name", ["a", "c"])
def test_fine_at_work_and_starved_at_idle(name: str) -> None:
    truck = truck_of(name)
    work, idle, governed = (s.name for s in truck.scenario)
    for scenario in (work, governed):
        assert finding(truck, "flow-demand", scenario).verdict == "pass"
    starved = finding(truck, "flow-demand", idle).judgement
    assert starved.verdict == "fail"
    assert finding(truck, "flow-at-idle", work).verdict == "caution"
    # All that is missing, functions together: the hand calculation's and the larger slip's share.
    row = EXPECTED[name]["speed"][0]
    lacking = solve_work(truck, plan_work(truck, truck.scenario_named(idle))).shortfall.sum()
    by_hand = -sum(float(row[k].split()[0]) for k in ("surplus", "slip_difference"))
    assert gpm(float(lacking)) == pytest.approx(by_hand, rel=HAND)


def test_set_e_has_flow_in_hand_even_at_idle() -> None:
    truck = truck_of("e")
    for scenario in truck.scenario:
        assert finding(truck, "flow-demand", scenario.name).verdict == "pass"
    assert finding(truck, "flow-at-idle", truck.scenario[0].name).verdict == "pass"
    judged = finding(truck, "flow-demand", truck.scenario[1].name).judgement
    row = EXPECTED["e"]["speed"][0]
    in_hand = amount(judged) - total_demand(truck)
    by_hand = sum(float(row[k].split()[0]) for k in ("surplus", "slip_difference"))
    assert gpm(in_hand) == pytest.approx(by_hand, abs=0.01)


def test_a_starved_set_takes_all_that_the_pump_gives() -> None:
    result = solved(truck_of("a"), "700 rpm")
    assert float(result.flow.sum()) == pytest.approx(float(result.pump_flow[0]), rel=1e-9)
    assert abs(float(result.passed[0])) < 1e-6 * float(result.pump_flow[0])
