"""Sizing from needs to truck: what comes out, and that a changed need moves it the right way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.advice.sizing import Sizing, size_truck
from hydrocheck.advice.sizing_bill import bill
from hydrocheck.advice.sizing_explain import explain
from hydrocheck.advice.sizing_file import sized_truck_text
from hydrocheck.advice.sizing_frame import frames, swing, torques
from hydrocheck.advice.sizing_parts import BORES
from hydrocheck.advice.sizing_relax import fits
from hydrocheck.advice.sizing_search import Search
from hydrocheck.advice.sizing_sizes import combos_at
from hydrocheck.checks import REGISTRY, Amount, inspect
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model import truck_from_text
from hydrocheck.model.needs import Needs, read_needs
from hydrocheck.model.shelf import shelf_from_text
from hydrocheck.units import parse
from tests.advice.sizingkit import sizes, smaller_grid

FEW = settings(max_examples=3)
FACTORS = st.floats(1.0, 1.6)


@pytest.fixture(scope="module")
def sized() -> Sizing:
    return size_truck(smaller_grid())


def kept(needs: Needs) -> set[tuple[str, float, tuple[int, ...]]]:
    """Every circuit that fits."""
    found = set()
    for frame in frames(needs):
        combos = combos_at(frame, np.arange(frame.size))
        judged = Search(frame).judge(combos)
        for k in np.flatnonzero(judged.fits):
            found.add((frame.supply, frame.level, combos.key(int(k))))
    return found


# What comes out.


def test_the_chosen_truck_passes_check_and_is_the_best_that_does(sized: Sizing) -> None:
    assert sized.chosen is not None
    assert sized.candidate is not None
    assert sized.chosen.unfit == ()
    assert {f.verdict for f in inspect(sized.chosen.truck)} <= {"pass", "caution", "not checked"}
    assert [c.place for c, _ in sized.passed_over] == list(range(1, sized.candidate.place))
    assert all(f.verdict == "fail" for _, f in sized.passed_over)


def test_the_truck_file_reads_back_and_passes_check(sized: Sizing) -> None:
    text = sized_truck_text(sized)
    truck = truck_from_text(text)
    assert [f.id for f in inspect(truck) if f.verdict == "fail"] == []
    assert sized.chosen is not None
    assert truck.pump[0].displacement == pytest.approx(sized.chosen.truck.pump[0].displacement)
    assert "# " in text.partition("[[pump]]")[2]


def test_the_ten_best_are_in_order_and_the_first_is_beaten_by_none(sized: Sizing) -> None:
    assert [c.place for c in sized.ranked] == list(range(1, len(sized.ranked) + 1))
    assert len(sized.ranked) <= 10
    assert sized.ranked[0].front
    on_front = [c for c in sized.ranked if c.front]
    assert [c.score for c in on_front] == sorted(c.score for c in on_front)


def test_the_count_adds_up(sized: Sizing) -> None:
    count = sized.count
    assert count.combinations == sum(f.size for f in sized.frames)
    parts = count.by_formula + count.by_bound + count.at_worst + count.in_full
    assert parts == count.combinations
    assert count.fit == sized.fitting == sized.cloud["heat"].size
    # 100,000 combinations in the time of 5 million points: 50 points each.
    assert count.points <= 50 * count.combinations


def test_every_neighbour_fits_or_is_rejected_by_one_check(sized: Sizing) -> None:
    assert sized.candidate is not None
    assert {"pump", "drive ratio", "pressure level", "circuit"} <= {
        n.axis for n in sized.neighbours
    }
    for near in sized.neighbours:
        assert (near.place is None) == bool(near.rejected)
        if near.rejected:
            assert near.rejected in REGISTRY
            amounts = [a for a in near.reason.amounts.values() if isinstance(a, Amount)]
            assert amounts
        else:
            assert near.place != sized.candidate.place


def test_bill_has_only_preferred_sizes(sized: Sizing) -> None:
    assert sized.chosen is not None
    truck = sized.chosen.truck
    for line in truck.lines:
        assert np.abs(BORES - float(line.bore or 0.0)).min() < 1e-9
    step = parse("25 psi", "pressure")
    pump = truck.pump[0]
    for setting in (truck.relief[0].setting, pump.margin, pump.compensator, pump.standby):
        if setting is not None:
            assert float(setting) / step == pytest.approx(round(float(setting) / step))
    items = bill(sized)
    assert {i.group for i in items} >= {"pump and drive", "auger", "settings", "hoses", "oil"}
    for item in items:
        assert item.size.shown("us")
        assert item.rule.shown("metric")
        assert item.check == "" or item.check in REGISTRY or item.check == "work-line-velocity"


def test_hand_calculation_leads_to_the_sizes_taken(sized: Sizing) -> None:
    # On paper a size is never larger than the one the whole range asks for.
    steps = explain(sized)
    assert len(steps) > 20
    for step in steps:
        assert step.formula
        assert step.source
        assert step.numbers.shown("us")
        if (
            step.taken is not None
            and step.taken.kind == step.result.kind
            and "heat" not in step.what
        ):
            assert step.taken.value >= step.result.value * (1.0 - 1e-6), step.what


@pytest.mark.parametrize("pump", ["fixed", "constant pressure"])
def test_other_circuits_pass_check_too(pump: str) -> None:
    needs = smaller_grid(pump)
    levels = needs.pump.pressures[-1:]
    sizing = size_truck(replace(needs, pump=replace(needs.pump, pressures=levels)), relax=False)
    chosen = sizing.chosen
    assert chosen is not None
    assert chosen.unfit == ()
    assert chosen.truck.pump[0].type == pump
    assert chosen.truck.pump[0].margin is None
    assert chosen.truck.pump[0].standby is None
    again = truck_from_text(sized_truck_text(sizing))
    assert again.bank[0].type == ("open centre" if pump == "fixed" else "parallel")


def test_a_cooler_is_not_judged_without_the_hottest_air() -> None:
    few = replace(LS, pump=replace(LS.pump, displacements=sizes(80)))
    unknown = replace(few, ambient=replace(few.ambient, hottest=None))
    cooler = {i.item: i for i in bill(size_truck(unknown))}["cooler"]
    assert cooler.count == 0
    assert "needs ambient.hottest" in cooler.rule.shown("us")
    # A hotter day asks a larger cooler.
    warm = replace(few, ambient=replace(few.ambient, hottest=parse("70 degF", "temperature")))
    found = []
    for needs in (few, warm):
        chosen = size_truck(needs).chosen
        assert chosen is not None
        found.append(float(chosen.truck.reservoir.cooler or 0.0))
    assert found[1] > found[0]


def test_a_cylinder_is_wider_than_its_rod() -> None:
    light = []
    for f in LS.function:
        part = f.cylinder
        if f.name == "plow" and part is not None:
            part = replace(part, extend_load=0.0)
        light.append(replace(f, cylinder=part))
    truck = frames(replace(LS, function=tuple(light)))[0].truck
    made = truck.function_named("plow").cylinder
    assert made is not None
    assert float(made.bore or 0.0) ** 2 >= 2.0 * float(made.rod or 0.0) ** 2


def test_a_place_further_down_can_be_taken() -> None:
    third = size_truck(LS, place=3)
    assert third.candidate is not None
    assert third.candidate.place >= 3
    few = replace(LS, pump=replace(LS.pump, displacements=sizes(63)))
    with pytest.raises(DomainError, match="only"):
        size_truck(few, place=25)


# A changed need moves the result the right way.


def smallest(needs: Needs, axis: int, supply: str = "load sensing") -> float:
    """Smallest number along an axis of all that fits, in the frames of one supply."""
    found = BEFORE if needs is LS else kept(needs)
    return min((key[axis] for s, _, key in found if s == supply), default=np.inf)


LS = smaller_grid("load sensing")
LS = replace(LS, pump=replace(LS.pump, pressures=LS.pump.pressures[-1:]))
BEFORE = kept(LS)


@FEW
@given(FACTORS)
def test_more_engine_speed_at_work_keeps_all_that_fitted(factor: float) -> None:
    low, high = LS.engine.working or (0.0, 0.0)
    faster = replace(LS, engine=replace(LS.engine, working=(low * factor, high * factor)))
    assert kept(faster) >= BEFORE


@FEW
@given(st.floats(0.0, 0.6))
def test_more_flow_in_hand_leaves_fewer(reserve: float) -> None:
    more = replace(LS, margins=replace(LS.margins, flow=LS.margins.flow + reserve))
    assert kept(more) <= BEFORE


@FEW
@given(st.floats(0.4, 1.0))
def test_a_weaker_drive_leaves_fewer(factor: float) -> None:
    drive = LS.engine.drive
    assert drive.power_rating is not None
    assert drive.torque_rating is not None
    weaker = replace(
        drive,
        power_rating=drive.power_rating * factor,
        torque_rating=drive.torque_rating * factor,
    )
    assert kept(replace(LS, engine=replace(LS.engine, drive=weaker))) <= BEFORE


@FEW
@given(FACTORS)
def test_a_heavier_auger_never_takes_a_smaller_motor(factor: float) -> None:
    auger = LS.function[0]
    assert auger.load is not None
    load = replace(auger.load, constant=float(auger.load.constant or 0.0) * factor)
    heavier = replace(LS, function=(replace(auger, load=load), *LS.function[1:]))
    assert smallest(heavier, 2) >= smallest(LS, 2)


@FEW
@given(st.floats(0.0, 1.5))
def test_more_wear_never_takes_a_smaller_pump(wear: float) -> None:
    margins = replace(LS.margins, pump_wear=1.0 + wear, motor_wear=1.0 + wear)
    assert smallest(replace(LS, margins=margins), 1) >= smallest(LS, 1)


@FEW
@given(FACTORS)
def test_a_slower_dump_never_takes_a_larger_pump(factor: float) -> None:
    def slower(needs: Needs) -> Needs:
        made = []
        for f in needs.function:
            part = f.cylinder
            if f.name == "dump" and part is not None:
                part = replace(part, extend_time=float(part.extend_time or 0.0) * factor)
            made.append(replace(f, cylinder=part))
        return replace(needs, function=tuple(made))

    assert smallest(slower(LS), 1) <= smallest(LS, 1)


@pytest.mark.parametrize("factor", [0.6, 0.85])
def test_a_lower_velocity_never_takes_a_narrower_hose(factor: float) -> None:
    def bores(needs: Needs) -> dict[str, float]:
        chosen = size_truck(needs, relax=False).chosen
        assert chosen is not None
        return {ln.name: float(ln.bore or 0.0) for ln in chosen.truck.lines}

    # Of one pump and ratio: its flow is the same.
    drive = replace(LS.engine.drive, ratios=(0.9,))
    one = replace(
        LS,
        pump=replace(LS.pump, displacements=sizes(80)),
        engine=replace(LS.engine, drive=drive),
    )
    limits = one.limits
    slower = replace(
        one,
        limits=replace(
            limits,
            suction_velocity=float(limits.suction_velocity) * factor,
            return_velocity=float(limits.return_velocity) * factor,
        ),
    )
    before, after = bores(one), bores(slower)
    assert after["suction"] >= before["suction"]
    assert after["return"] >= before["return"]


def test_a_liquid_pump_turns_as_fast_as_its_flow_asks() -> None:
    # By hand: T = D p eta_v / eta, n = Q / (D eta_v); 60 % and 95 %.
    needs = read_needs(demo.needs_path("brine"))
    frame = frames(needs)[0]
    displacement, pressure = parse("4 in3/rev", "displacement"), parse("45 psi", "pressure")
    load0, load1, load2 = torques(frame, "brine pump", 0.0)
    assert load0 == pytest.approx(displacement * pressure * 0.95 / 0.60)
    assert load1 == load2 == 0.0
    task = frame.truck.scenario[0].run[0]
    wanted = parse("23.3 gpm", "flow") / (displacement * 0.95)
    assert task.flow is None
    assert task.speed == pytest.approx(wanted)
    # Shaft power: what 23.3 gpm at 45 psi take of a pump of 60 %.
    power = parse("23.3 gpm", "flow") * pressure / 0.60
    assert load0 * float(task.speed or 0.0) == pytest.approx(power)


def test_a_tank_too_small_for_its_cylinders_is_told() -> None:
    space = parse("5 gal", "volume")
    small = replace(LS, tank=replace(LS.tank, max_volume=space))
    sizing = size_truck(small)
    assert sizing.fitting == 0
    assert sizing.count.by_formula == sizing.count.combinations
    (relaxed,) = sizing.relaxations
    assert relaxed.what == "space for the tank"
    # The dump's stroke volume of 90 in, a plow's rod, and a tenth more.
    taken = 1.1 * swing(frames(LS)[0].truck)
    assert taken <= relaxed.relaxed <= taken * 1.01


# Where nothing fits.


def test_what_to_relax_is_enough_and_no_more_than_that() -> None:
    drive = replace(LS.engine.drive, power_rating=parse("90 hp", "power"))
    pump = replace(LS.pump, displacements=sizes(63, 80))
    tight = replace(LS, engine=replace(LS.engine, drive=drive), pump=pump)
    sizing = size_truck(tight)
    assert sizing.chosen is None
    assert sizing.fitting == 0
    assert kept(tight) == set()
    found = {r.what: r for r in sizing.relaxations}
    power = found["power rating of the drive"]
    assert power.relaxed > power.value

    def rated(watts: float) -> Needs:
        return replace(
            tight, engine=replace(tight.engine, drive=replace(drive, power_rating=watts))
        )

    assert fits(rated(power.relaxed), None)
    assert not fits(rated(power.relaxed * 0.985), None)
    changes = [abs(r.change) for r in sizing.relaxations]
    assert changes == sorted(changes)
    for function in (bill, explain, sized_truck_text):
        with pytest.raises(MissingValue):
            function(sizing)


# A shelf list.

SHELF = """\
part, build, name, displacement [cm3/rev], max_speed [rpm], max_pressure [psi], price
pump, piston, P 60, 60, 2600, 3600, 1400
pump, piston, P 85, 85, 2500, 3600, 1700
motor, orbit, M 300, 300, 250, 3600, 410
motor, orbit, M 46, 46, 800, 3600, 260
motor, gear, G 5, 5.2, 3200, 3600, 150
"""


def test_a_shelf_list_rules_and_prices_rank() -> None:
    needs = replace(LS, function=tuple(replace(f, displacements=()) for f in LS.function))
    needs = replace(needs, pump=replace(needs.pump, displacements=()))
    sizing = size_truck(needs, shelf_from_text(SHELF))
    assert sizing.chosen is not None
    assert sizing.candidate is not None
    on_shelf = {parse(f"{n} cm3/rev", "displacement") for n in (60, 85)}
    assert any(sizing.chosen.truck.pump[0].displacement == pytest.approx(d) for d in on_shelf)
    prices = {1400.0 + 410 + 260 + 150, 1700.0 + 410 + 260 + 150}
    prices |= {p + 410 - 260 for p in prices} | {p - 410 + 260 for p in prices}
    assert sizing.candidate.aims["size"] in prices
    assert any("M " in i.size.shown("us") for i in bill(sizing))


def test_prices_count_only_where_every_part_has_one() -> None:
    needs = replace(LS, function=tuple(replace(f, displacements=()) for f in LS.function),
                    pump=replace(LS.pump, displacements=()))  # fmt: skip
    some = size_truck(needs, shelf_from_text(SHELF.replace("3600, 1700", "3600,")), relax=False)
    assert not some.priced
    assert some.candidate is not None
    assert some.candidate.aims["size"] < 3000.0
    assert size_truck(needs, shelf_from_text(SHELF), relax=False).priced


def test_a_shelf_without_a_part_says_so() -> None:
    with pytest.raises(DomainError, match="a motor for liquid"):
        size_truck(
            replace(LS, function=tuple(replace(f, displacements=()) for f in LS.function),
                    pump=replace(LS.pump, displacements=())),
            shelf_from_text(SHELF.replace("motor, gear", "pump, gear")),
        )  # fmt: skip


def test_a_pressure_rating_on_the_shelf_is_kept() -> None:
    needs = replace(LS, function=tuple(replace(f, displacements=()) for f in LS.function),
                    pump=replace(LS.pump, displacements=()))  # fmt: skip
    weak = SHELF.replace("2600, 3600", "2600, 2000").replace("2500, 3600", "2500, 2000")
    assert size_truck(needs, shelf_from_text(weak), relax=False).chosen is None
