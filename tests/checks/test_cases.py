"""Every check on trucks built to fail it, to pass it, and to lack what it needs.

Where a change names a number, that number, as it is shown, is put into the truck: the finding must
then be gone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from math import pi
from typing import Any

import pytest

from hydrocheck import demo
from hydrocheck.checks import REGISTRY, Amount, Finding, Inspection
from hydrocheck.model import Truck
from hydrocheck.model.truck import Link, Scenario, Task
from hydrocheck.units import parse

RPM, PSI, INCH, FOOT_POUND, HP = pi / 30, 6894.757293168, 0.0254, 1.3558179483, 745.6998716
TANDEM, SINGLE, MISTAKES = (demo.load(n) for n in ("tandem", "single", "mistakes"))

Cure = Callable[[Truck, float], Truck]


def fahrenheit(value: float) -> float:
    return (value - 32) / 1.8 + 273.15


def put(part: Any, path: str, value: object) -> Any:
    """A copy of a part with one attribute replaced; items of an array by name or number."""
    key, _, rest = path.partition(".")
    if isinstance(part, tuple):
        names = [getattr(item, "name", "") for item in part]
        place = int(key) if key.isdecimal() else names.index(key)
        return (*part[:place], put(part[place], rest, value), *part[place + 1 :])
    return replace(part, **{key: put(getattr(part, key), rest, value) if rest else value})


def sets(*paths: str, factor: float = 1.0) -> Cure:
    """Put the number of a change at these paths."""

    def cure(truck: Truck, number: float) -> Truck:
        for path in paths:
            truck = put(truck, path, factor * number)
        return truck

    return cure


def wide_open(function: str) -> Cure:
    """A section of so much flow with its maximum trim at full command."""

    def cure(truck: Truck, flow: float) -> Truck:
        truck = put(truck, f"function.{function}.section.rated_flow", flow)
        return put(truck, f"function.{function}.trims.max", 1.0)  # type: ignore[no-any-return]  # a truck as before

    return cure


def work_from(truck: Truck, speed: float) -> Truck:
    """A working band that begins at a speed."""
    return replace(truck, engine=replace(truck.engine, working=(speed, speed + 100 * RPM)))


def nudged(path: str, by: float) -> Cure:
    """A change that says "above" or "below" a number."""
    return lambda truck, number: put(truck, path, number + by)


@dataclass(frozen=True)
class Case:
    """A truck that a check finds fault with, its subject, and what cures it by name of a number."""

    id: str
    subject: str
    truck: Truck
    verdict: str = "fail"
    cures: Mapping[str, Cure] = field(default_factory=dict)
    after: Mapping[str, str] = field(default_factory=dict)  # verdict after a cure, if not pass


SMALL_PUMP = put(TANDEM, "pump.pump.displacement", 2.8 * INCH**3 / (2 * pi))
SPINNER_HELD = put(TANDEM, "function.spinner.trims.max", 0.50)
LIMITER = put(
    put(TANDEM, "pump.pump.torque_limit", 130 * FOOT_POUND), "engine.drive.torque_rating",
    120 * FOOT_POUND,
)  # fmt: skip
LIQUID_LEFT = put(SINGLE, "function.liquid.trims.max", 0.6)

BAD = [
    Case("flow-demand", "spreading", MISTAKES, "fail",
         {"least": work_from, "larger": sets("pump.pump.displacement")}, {"least": "caution"}),
    Case("flow-demand", "spreading", SPINNER_HELD, "fail", {"q": wide_open("spinner")}),
    Case("flow-demand", "plow lift", MISTAKES, "fail",
         {"needed": sets("relief.main relief.setting", factor=1 / 0.94)}),
    Case("flow-demand", "spreading", SMALL_PUMP, "caution",
         {"larger": sets("pump.pump.displacement")}),
    Case("flow-at-idle", "spreading", TANDEM, "caution",
         {"least": sets("engine.idle"), "larger": sets("pump.pump.displacement")}),
    Case("speed-in-reach", "spinner: spreading", SPINNER_HELD, "fail", {"q": wide_open("spinner")}),
    Case("motor-overspeed", "auger", put(TANDEM, "function.auger.motor.0.max_speed", 60 * RPM),
         "fail", {"command": sets("function.auger.trims.max")}),
    Case("machinery-overspeed", "spinner", MISTAKES, "fail",
         {"command": sets("function.spinner.trims.max")}),
    Case("trim-order", "auger", put(TANDEM, "function.auger.trims.min", 0.80), "fail",
         {"high": nudged("function.auger.trims.min", -0.01)}),
    Case("trim-order", "auger", put(TANDEM, "function.auger.trims.min", 0.72), "fail",
         {"high": nudged("function.auger.trims.min", -0.01)}),
    Case("trim-deadband", "auger", put(TANDEM, "function.auger.trims.min", 0.20), "fail",
         {"limit": nudged("function.auger.trims.min", 0.01)}),
    Case("trim-deadband", "auger", put(TANDEM, "function.auger.trims.min", 0.28), "fail",
         {"limit": nudged("function.auger.trims.min", 0.01)}),
    Case("minimum-speed", "auger", put(TANDEM, "function.auger.trims.min", 0.29), "fail",
         {"command": sets("function.auger.trims.min")}),
    Case("minimum-speed", "auger", MISTAKES, "caution",
         {"command": sets("function.auger.trims.min")}),
    Case("absent-liquid-zero", "liquid", LIQUID_LEFT, "caution"),
    Case("working-pressure-relief", "plow lift", MISTAKES, "fail",
         {"setting": sets("relief.main relief.setting")}),
    Case("working-pressure-relief", "dump", put(TANDEM, "relief.main relief.setting", 2550 * PSI),
         "caution", {"setting": sets("relief.main relief.setting")}),
    Case("working-pressure-compensator", "dump", put(TANDEM, "pump.pump.compensator", 2000 * PSI),
         "fail", {"p": sets("pump.pump.compensator")}),
    Case("compensator-relief", "pump", put(TANDEM, "pump.pump.compensator", 2900 * PSI), "fail",
         {"low": sets("pump.pump.compensator"), "high": sets("relief.main relief.setting")}),
    Case("compensator-relief", "pump", put(TANDEM, "pump.pump.compensator", 2800 * PSI), "caution",
         {"low": sets("pump.pump.compensator"), "high": sets("relief.main relief.setting")}),
    Case("margin-section-drop", "pump", put(TANDEM, "pump.pump.margin", 100 * PSI), "fail",
         {"m": sets("pump.pump.margin")}),
    Case("relief-ratings", "main relief", put(TANDEM, "relief.main relief.setting", 3300 * PSI),
         "fail", {"p": sets("relief.main relief.setting")}),
    Case("breakaway-pressure", "auger", put(TANDEM, "function.auger.motor.0.load.breakaway", 4.0),
         "fail", {"d": sets("function.auger.motor.0.displacement")}),
    Case("breakaway-pressure", "auger", put(SINGLE, "function.auger.motor.0.load.breakaway", 4.0),
         "fail", {"d": sets("function.auger.motor.0.displacement")}),
    Case("pump-overspeed", "pump", put(TANDEM, "pump.pump.max_speed", 2000 * RPM), "fail",
         {"engine": sets("engine.drive.engaged_to"), "ratio": sets("engine.drive.ratio")}),
    Case("pump-underspeed", "pump", put(TANDEM, "pump.pump.min_speed", 803.3 * RPM), "fail",
         {"engine": sets("engine.idle")}),
    Case("drive-torque", "pump", put(TANDEM, "engine.drive.torque_rating", 100 * FOOT_POUND),
         "fail",
         {"torque": sets("engine.drive.torque_rating"), "pressure": sets("pump.pump.compensator")}),
    Case("drive-torque", "pump", LIMITER, "fail",
         {"torque": sets("engine.drive.torque_rating"), "pressure": sets("pump.pump.compensator")}),
    Case("drive-torque", "pump", put(SINGLE, "engine.drive.torque_rating", 80 * FOOT_POUND), "fail",
         {"pressure": sets("relief.main relief.setting")}),
    Case("drive-power", "pump", put(TANDEM, "engine.drive.power_rating", 100 * HP), "fail",
         {"power": sets("engine.drive.power_rating"), "engine": sets("engine.drive.engaged_to")}),
    Case("drive-power", "pump", put(TANDEM, "engine.drive.duty", "intermittent"), "fail",
         {"power": sets("engine.drive.power_rating"), "engine": sets("engine.drive.engaged_to")}),
    Case("suction-velocity", "pump", MISTAKES, "fail", {"bore": sets("lines.suction.bore")}),
    Case("pressure-velocity", "pump", put(TANDEM, "lines.pressure.bore", 0.75 * INCH), "fail",
         {"bore": sets("lines.pressure.bore")}),
    Case("return-velocity", "pump", put(TANDEM, "lines.return.bore", 1.0 * INCH), "fail",
         {"bore": sets("lines.return.bore")}),
    Case("pump-inlet", "pump", put(TANDEM, "lines.suction.bore", 1.0 * INCH), "fail",
         {"needed": sets("lines.suction.bore")}),
    Case("pump-inlet-cold", "pump", put(TANDEM, "lines.suction.bore", 1.0 * INCH), "fail",
         {"needed": sets("lines.suction.bore")}),
    Case("viscosity-cold", "oil", TANDEM, "caution", {"warm": sets("oil.cold")}),
    Case("viscosity-cold", "oil", MISTAKES, "caution", {"warm": sets("oil.cold")}),
    Case("viscosity-hot", "oil", put(TANDEM, "oil.hot", fahrenheit(190)), "fail",
         {"cool": sets("oil.hot")}),
    Case("viscosity-hot", "oil", TANDEM, "caution", {"cool": sets("oil.hot")}),
]  # fmt: skip

# A truck and subject that each check passes.
GOOD = {
    "flow-demand": (TANDEM, "spreading"),
    "flow-at-idle": (SINGLE, "spreading"),
    "speed-in-reach": (TANDEM, "spinner: spreading"),
    "motor-overspeed": (TANDEM, "auger"),
    "machinery-overspeed": (TANDEM, "spinner"),
    "trim-order": (TANDEM, "auger"),
    "trim-deadband": (TANDEM, "auger"),
    "minimum-speed": (TANDEM, "auger"),
    "absent-liquid-zero": (SINGLE, "liquid"),
    "working-pressure-relief": (TANDEM, "dump"),
    "working-pressure-compensator": (TANDEM, "dump"),
    "compensator-relief": (TANDEM, "pump"),
    "margin-section-drop": (TANDEM, "pump"),
    "relief-ratings": (TANDEM, "main relief"),
    "breakaway-pressure": (TANDEM, "auger"),
    "pump-overspeed": (TANDEM, "pump"),
    "pump-underspeed": (TANDEM, "pump"),
    "drive-torque": (TANDEM, "pump"),
    "drive-power": (TANDEM, "pump"),
    "suction-velocity": (TANDEM, "pump"),
    "pressure-velocity": (TANDEM, "pump"),
    "return-velocity": (TANDEM, "pump"),
    "pump-inlet": (TANDEM, "pump"),
    "pump-inlet-cold": (TANDEM, "pump"),
    "viscosity-cold": (SINGLE, "oil"),
    "viscosity-hot": (SINGLE, "oil"),
}

# What each check needs: path to take away, subject, the key that the finding must name.
LACKING = {
    "flow-demand": ("pump.pump.displacement", "spreading", "pump.displacement"),
    "flow-at-idle": ("engine.idle", "spreading", "engine.idle"),
    "speed-in-reach": ("spreading.density", "auger: spreading", "spreading.density"),
    "motor-overspeed": ("function.auger.motor.0.max_speed", "auger", "auger.motor.max_speed"),
    "machinery-overspeed": ("function.auger.limits.max_speed", "auger", "auger.limits.max_speed"),
    "trim-order": ("function.auger.trims.max", "auger", "auger.trims.max"),
    "trim-deadband": ("function.auger.section.deadband", "auger", "auger.section.deadband"),
    "minimum-speed": ("function.auger.motor.0.min_speed", "auger", "auger.motor.min_speed"),
    "working-pressure-relief": ("relief.main relief.setting", "dump", "main relief.setting"),
    "working-pressure-compensator": ("pump.pump.compensator", "dump", "pump.compensator"),
    "compensator-relief": ("pump.pump.compensator", "pump", "pump.compensator"),
    "margin-section-drop": ("pump.pump.margin", "pump", "pump.margin"),
    "relief-ratings": ("relief.main relief.setting", "main relief", "main relief.setting"),
    "breakaway-pressure": (
        "function.auger.motor.0.starting_efficiency", "auger", "auger.motor.starting_efficiency",
    ),
    "pump-overspeed": ("pump.pump.max_speed", "pump", "pump.max_speed"),
    "pump-underspeed": ("pump.pump.min_speed", "pump", "pump.min_speed"),
    "drive-torque": ("engine.drive.torque_rating", "pump", "engine.drive.torque_rating"),
    "drive-power": ("engine.drive.power_rating", "pump", "engine.drive.power_rating"),
    "suction-velocity": ("lines.suction.bore", "pump", "lines.suction.bore"),
    "pressure-velocity": ("lines.pressure.bore", "pump", "lines.pressure.bore"),
    "return-velocity": ("lines.return.bore", "pump", "lines.return.bore"),
    "pump-inlet": ("pump.pump.min_inlet", "pump", "pump.min_inlet"),
    "pump-inlet-cold": ("oil.cold", "pump", "oil.cold"),
    "viscosity-cold": ("oil.cold", "oil", "oil.cold"),
    "viscosity-hot": ("oil.hot", "oil", "oil.hot"),
}  # fmt: skip
NEEDS_NOTHING = {"absent-liquid-zero"}


def find(truck: Truck, check: str, subject: str) -> Finding:
    """The finding of one check about one subject."""
    found = {f.subject: f for f in REGISTRY[check].run(Inspection(truck))}
    return found[subject]


def named(case: Case) -> str:
    return f"{case.id}-{case.subject}-{case.verdict}"


def test_no_check_is_left_out() -> None:
    assert {case.id for case in BAD} == set(REGISTRY)
    assert set(GOOD) == set(REGISTRY)
    assert set(LACKING) | NEEDS_NOTHING == set(REGISTRY)
    # Those whose worst verdict is a caution, each for a reason that its check gives.
    never_fail = {"flow-at-idle", "absent-liquid-zero", "viscosity-cold"}
    assert {c.id for c in BAD if c.verdict == "fail"} == set(REGISTRY) - never_fail


@pytest.mark.parametrize("case", BAD, ids=named)
def test_a_bad_truck_is_found(case: Case) -> None:
    finding = find(case.truck, case.id, case.subject)
    judged = finding.judgement
    assert finding.verdict == case.verdict
    assert judged.change is not None
    if judged.margin is not None and case.verdict == "fail":
        assert judged.margin <= 0
    for system in ("us", "metric"):
        assert judged.reason.shown(system)
        assert "none found" not in judged.change.shown(system)


CURES = [(case, name) for case in BAD for name in case.cures]


@pytest.mark.parametrize("system", ["us", "metric"])
@pytest.mark.parametrize(("case", "name"), CURES, ids=[f"{named(c)}-{n}" for c, n in CURES])
def test_the_shown_number_of_a_change_cures(case: Case, name: str, system: str) -> None:
    change = find(case.truck, case.id, case.subject).judgement.change
    assert change is not None
    amount = change.amounts[name]
    assert isinstance(amount, Amount)
    cured = case.cures[name](case.truck, parse(amount.shown(system), amount.kind))
    assert find(cured, case.id, case.subject).verdict == case.after.get(name, "pass")


@pytest.mark.parametrize("case", BAD, ids=named)
def test_every_number_of_a_change_has_its_cure(case: Case) -> None:
    change = find(case.truck, case.id, case.subject).judgement.change
    assert change is not None
    now = {"bore"} if "inlet" in case.id else set()  # "now 1 in"
    held = {"has"} if "needed" in case.cures and case.id == "flow-demand" else set()
    numbers = {k for k, v in change.amounts.items() if isinstance(v, Amount)}
    both = {c for other in BAD if other.id == case.id for c in other.cures}
    assert numbers - now - held <= both


@pytest.mark.parametrize("check", GOOD)
def test_a_good_truck_passes(check: str) -> None:
    truck, subject = GOOD[check]
    finding = find(truck, check, subject)
    assert finding.verdict == "pass"
    assert finding.judgement.change is None
    margin = finding.judgement.margin
    assert margin is None or margin >= -1e-9


@pytest.mark.parametrize("check", LACKING)
def test_what_is_missing_is_named(check: str) -> None:
    path, subject, key = LACKING[check]
    finding = find(put(TANDEM, path, None), check, subject)
    assert finding.verdict == "not checked"
    reason = finding.judgement.reason.shown()
    assert reason.startswith("needs ")
    assert key in reason.removeprefix("needs ").split(", ")


# -- single points of the checks -----------------------------------------------------------------


def test_a_pump_with_a_drive_of_its_own_is_asked_for_that_drives_rating() -> None:
    truck = put(TANDEM, "pump.pump.drive", replace(TANDEM.engine.drive, torque_rating=None))
    assert (
        "pump.drive.torque_rating" in find(truck, "drive-torque", "pump").judgement.reason.shown()
    )


def test_a_missing_relief_is_named() -> None:
    truck = replace(TANDEM, relief=())
    finding = find(truck, "compensator-relief", "pump")
    assert finding.judgement.reason.shown() == "needs a [[relief]] at pump 'pump'"


def test_a_function_that_stalls_is_said_to_get_none() -> None:
    reason = find(MISTAKES, "flow-demand", "plow lift").judgement.reason.shown()
    assert "plow gets none of its 4.25 gal/min" in reason


def test_parts_behind_a_port_relief_count_for_that_one() -> None:
    relief = replace(TANDEM.relief[0], name="auger port", at="port", of="auger", setting=2000 * PSI)
    weak = put(TANDEM, "function.auger.motor.0.max_pressure", 2100 * PSI)
    assert find(weak, "relief-ratings", "main relief").verdict == "fail"
    guarded = replace(weak, relief=(*weak.relief, relief))
    assert find(guarded, "relief-ratings", "main relief").verdict == "pass"
    port = find(guarded, "relief-ratings", "auger port")
    assert port.judgement.limit == Amount(2100 * PSI, "pressure")


def test_a_gear_pump_must_have_thinner_oil_to_start() -> None:
    # 500 cSt for a gear pump's suction (from memory), 1000 cSt for others (trade article)
    piston, gear = (put(SINGLE, "pump.pump.build", build) for build in ("piston", "gear"))
    for truck, limit in ((piston, 1000e-6), (gear, 500e-6)):
        found = find(truck, "viscosity-cold", "oil").judgement.limit
        assert found is not None
        assert found.value == pytest.approx(limit)


def test_an_absent_liquid_is_looked_for_in_trims_scenarios_and_links() -> None:
    scenario = Scenario(name="wet {x}", run=(Task(name="liquid", command=0.5),))
    link = Link(function="liquid", follows="auger")
    truck = replace(LIQUID_LEFT, scenario=(*SINGLE.scenario, scenario), link=(link,))
    reason = find(truck, "absent-liquid-zero", "liquid").judgement.reason.shown()
    for place in ("trims.max", "scenario 'wet {x}'", "link to auger"):
        assert place in reason
    zero = replace(scenario, run=(Task(name="liquid", command=0.0),))
    assert find(replace(SINGLE, scenario=(zero,)), "absent-liquid-zero", "liquid").verdict == "pass"


def test_no_suction_bore_helps_where_the_air_itself_is_too_thin() -> None:
    high = put(TANDEM, "ambient.altitude", 5000.0)  # 0.54 bar absolute at 5 km, ISO 2533
    change = find(high, "pump-inlet", "pump").judgement.change
    assert change is not None
    assert change.shown().startswith("none found")
