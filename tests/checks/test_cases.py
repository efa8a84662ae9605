"""Every check on trucks built to fail it, to pass it, and to lack what it needs.

Where a change names a number, that number, as it is shown, is put into the truck: the finding must
then be gone.
"""

from __future__ import annotations

from dataclasses import replace
from math import isnan

import pytest

from hydrocheck.checks import REGISTRY, Amount, Finding, Inspection, inspect
from hydrocheck.model import Truck
from hydrocheck.model.truck import Link, Scenario, Task
from hydrocheck.units import parse
from tests.checks import cases_circuit, cases_more, cases_throw, cases_work
from tests.checks.casekit import MISTAKES, PSI, SINGLE, TANDEM, Case, put
from tests.checks.cases_circuit import LIQUID_LEFT

BAD = [*cases_circuit.BAD, *cases_work.BAD, *cases_throw.BAD, *cases_more.BAD]
GOOD = cases_circuit.GOOD | cases_work.GOOD | cases_throw.GOOD | cases_more.GOOD
LACKING = cases_circuit.LACKING | cases_work.LACKING | cases_throw.LACKING | cases_more.LACKING
NEEDS_NOTHING = cases_circuit.NEEDS_NOTHING | cases_work.ORDERS | cases_more.NEEDS_NOTHING
ONLY_CAUTIONS = cases_work.ONLY_CAUTIONS | cases_throw.ONLY_CAUTIONS | cases_more.ONLY_CAUTIONS


def find(truck: Truck, check: str, subject: str) -> Finding:
    """The finding of one check about one subject."""
    key = id(truck), check
    if key not in _FOUND:
        found = {f.subject: f for f in REGISTRY[check].run(Inspection(truck))}
        _FOUND[key] = truck, found
    return _FOUND[key][1][subject]


_FOUND: dict[tuple[int, str], tuple[Truck, dict[str, Finding]]] = {}
"""Findings by truck and check; the truck is kept so that its identity is not used again."""


def named(case: Case) -> str:
    return f"{case.id}-{case.subject}-{case.verdict}"


def test_no_check_is_left_out() -> None:
    assert {case.id for case in BAD} == set(REGISTRY)
    assert set(GOOD) == set(REGISTRY)
    assert set(LACKING) | NEEDS_NOTHING == set(REGISTRY)
    # Those whose worst verdict is a caution, each for a reason that its check gives.
    never_fail = {"flow-at-idle", "absent-liquid-zero", "viscosity-cold"} | ONLY_CAUTIONS
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
    held = {"has"} if "needed" in case.cures and case.id == "flow-demand" else set()
    numbers = {k for k, v in change.amounts.items() if isinstance(v, Amount)}
    both = {c for other in BAD if other.id == case.id for c in other.cures}
    assert numbers - held <= both


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
    path, subject, key, *other = LACKING[check]
    truck = other[0] if other else TANDEM
    finding = find(put(truck, path, None), check, subject)
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


ODD: list[tuple[str, object]] = [
    ("spreading.rates", (0.0,)),
    ("spreading.road_speeds", (0.0,)),
    ("function.auger.trims.max", 0.0),
    ("function.auger.trims.min", 0.0),
    ("function.spinner.trims.max", 0.28),
    ("function.plow.cylinder.rod", 0.0),
    ("function.auger.section.curve", ((0.0, 0.0), (0.3, 0.0), (1.0, 5e-4))),
    ("lines.return.filter.rated_drop", 1e-300),
    ("oil.cold", 310.0),
    ("oil.hot", 275.0),
    ("pump.pump.displacement", 1e-12),
    ("function.spinner.disc.fan", 1e-6),
    ("function.spinner.disc.tilt", 0.7),
    ("function.spinner.disc.exit_elevation", -1.0),
    ("function.spinner.disc.vane_angle", 0.9),
    ("function.spinner.disc.feed_share", 1.0),
    ("function.spinner.disc.friction", 50.0),
    ("function.spinner.motor.0.disc_radius", 1e-9),
    ("spreading.grain.size", 1e-7),
    ("spreading.lane_width", 1e4),
    ("engine.torque_curve", ((500.0, 100.0), (600.0, 100.0))),
]


@pytest.mark.parametrize(("path", "value"), ODD, ids=[path for path, _ in ODD])
def test_odd_values_are_inspected_without_a_fault_of_ours(path: str, value: object) -> None:
    for finding in inspect(put(TANDEM, path, value)):
        judged = finding.judgement
        assert judged.reason.shown()
        if judged.margin is not None:
            assert not isnan(judged.margin)
        if judged.change is not None:
            assert "nan" not in judged.change.shown()


def test_a_duty_driven_coil_loses_what_copper_and_battery_take() -> None:
    # Ohm's law by hand: 11 of 12.5 V, and 80 K x 0.393 %/K (copper, from memory)
    truck = put(TANDEM, "function.auger.section.coil.drive", "duty")
    value = find(truck, "coil-drift", "auger").judgement.value
    assert value is not None
    assert value.value == pytest.approx(1 - 11 / 12.5 / 1.3144)


def test_a_usual_coil_may_be_driven_at_120_to_180_hertz() -> None:
    # 12 V, 5.3 ohm, 30 mH, 1.5 A: common practice drives it at 100-200 Hz
    for frequency in (120.0, 150.0, 180.0):
        truck = put(TANDEM, "function.auger.section.coil.frequency", frequency)
        assert find(truck, "drive-frequency", "auger").verdict == "pass"


def test_the_rod_side_takes_the_area_ratio_of_the_piston_sides_pressure() -> None:
    value = find(TANDEM, "rod-side-intensification", "plow").judgement.value
    assert value is not None
    assert value.value == pytest.approx(2700 * PSI * 9 / (9 - 2.25))  # 3 in bore, 1.5 in rod


def test_the_first_motor_of_a_series_stands_at_the_next_ones_load() -> None:
    # Pressures add up in series (trade article on motors in series): with half the load torque
    # each, the outlet of the first stands at about half of the inlet.
    found = find(cases_work.SERIES, "series-seal-pressure", "auger first").judgement
    alone = find(TANDEM, "working-pressure-relief", "spreading").judgement
    assert found.value is not None
    assert alone.value is not None
    work = alone.value.value - 300 * PSI  # less the LS margin
    assert 0.4 * work < found.value.value < 0.7 * work


def test_a_filter_says_from_which_temperature_its_bypass_is_shut() -> None:
    judged = find(TANDEM, "filter-bypass", "return filter").judgement
    closes = judged.reason.amounts["closes"]
    assert isinstance(closes, Amount)
    at_that = put(TANDEM, "oil.working", closes.value)
    viscosity = find(at_that, "viscosity-at-work", "spreading").judgement.value
    flow = judged.at["flow"]
    assert viscosity is not None
    assert isinstance(flow, Amount)
    # Darcy's law by hand: 6 psi at 40 gal/min and 32 cSt
    drop = 6 * PSI * flow.value / (40 * 3.785411784e-3 / 60) * viscosity.value / 32e-6
    assert drop == pytest.approx(25 * PSI, rel=1e-6)


def test_a_hose_to_a_motor_counts_for_the_relief() -> None:
    weak = put(TANDEM, "lines.auger_supply.max_pressure", 2500 * PSI)
    found = find(weak, "relief-ratings", "main relief")
    assert found.verdict == "fail"
    assert found.judgement.at["part"] == "auger_supply line"


def test_no_suction_bore_helps_where_the_air_itself_is_too_thin() -> None:
    high = put(TANDEM, "ambient.altitude", 5000.0)  # 0.54 bar absolute at 5 km, ISO 2533
    change = find(high, "pump-inlet", "pump").judgement.change
    assert change is not None
    assert change.shown().startswith("none found")


def test_start_stop_lays_down_by_the_ratio_of_the_road_speeds() -> None:
    # By hand: one discharge, set for 25 mph, laid down at 15 mph: 25 / 15 - 1
    value = find(SINGLE, "start-stop-rate", "auger").judgement.value
    assert value is not None
    assert value.value == pytest.approx(25 / 15 - 1, rel=1e-6)


def test_a_constant_discharge_is_kept_from_the_speed_that_thins_it_enough() -> None:
    # Conservation of mass by hand: at the minimum trim, rate x road speed is the same everywhere
    judged = find(TANDEM, "proportional-range", "auger").judgement
    assert judged.change is not None
    slowest = judged.change.amounts["speed"]
    assert judged.value is not None
    assert isinstance(slowest, Amount)
    assert "minimum trim" in judged.reason.shown()
    kept = cases_more.LANE * 100 * (1 + float(TANDEM.spreading.accuracy or 0.0))
    by_hand = judged.value.value * 15 * 0.44704 / kept
    assert slowest.value == pytest.approx(by_hand, rel=1e-3)


def test_a_feeder_that_follows_runs_into_its_maximum_trim() -> None:
    found = find(cases_more.SMALL_TRIM, "proportional-range", "auger").judgement
    assert "maximum trim" in found.reason.shown()


def test_a_small_pump_starves_a_feeder_that_follows() -> None:
    small = put(TANDEM, "pump.pump.displacement", 0.4 * float(TANDEM.pump[0].displacement or 0.0))
    found = find(small, "proportional-range", "auger")
    assert found.verdict == "fail"
    assert "runs out" in found.judgement.reason.shown()
