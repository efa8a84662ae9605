"""The registry, the order of findings, rounding of shown numbers, and whole demo trucks."""

from __future__ import annotations

import re
from dataclasses import replace
from math import pi
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.checks import AREAS, REGISTRY, Amount, Finding, Judgement, Words, inspect
from hydrocheck.checks.finding import ORDER, at_least, at_most, lower, upper, words
from hydrocheck.checks.registry import check
from hydrocheck.model import Truck
from hydrocheck.model.fields import specs
from hydrocheck.units import parse, to_unit

RPM, PSI, INCH = pi / 30, 6894.757293168, 0.0254
TRUCKS = {name: demo.load(name) for name in demo.names()}
FINDINGS = {name: inspect(truck) for name, truck in TRUCKS.items()}
TANDEM, MISTAKES = TRUCKS["tandem"], TRUCKS["mistakes"]


# -- registry ------------------------------------------------------------------------------------


def test_there_are_eighty_checks_and_their_names_are_words() -> None:
    assert len(REGISTRY) >= 80
    for name, one in REGISTRY.items():
        assert name == one.id
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", name)


@pytest.mark.parametrize("name", REGISTRY)
def test_every_check_says_what_it_asks_and_where_its_limit_comes_from(name: str) -> None:
    one = REGISTRY[name]
    assert one.asks.endswith("?")
    for text in (one.formula, one.limit, one.source, one.area):
        assert len(text) > 2
        assert text.isascii()
        assert text == text.strip()
    assert one.judge.__doc__
    assert one.area in AREAS


def test_a_name_cannot_be_registered_twice() -> None:
    given_twice = REGISTRY["flow-demand"]
    with pytest.raises(ValueError, match="flow-demand is registered twice"):
        check(
            "flow-demand", area="x", asks="x?", formula="x", limit="x", source="x",
            subjects=given_twice.subjects,
        )(given_twice.judge)  # fmt: skip
    assert REGISTRY["flow-demand"] is given_twice


# -- findings ------------------------------------------------------------------------------------


def test_findings_stand_by_verdict_then_area_then_margin() -> None:
    def finding(verdict: Any, area: str, margin: float | None, name: str = "a") -> Finding:
        return Finding(name, "s", area, Judgement(verdict, words("x"), margin=margin), "source")

    first, second = AREAS[0], AREAS[1]
    ordered = [
        finding("fail", second, 0.9),
        finding("caution", first, -0.5),
        finding("not checked", first, None),
        finding("pass", first, 0.1, "z"),
        finding("pass", first, 0.2, "a"),
        finding("pass", first, None),
        finding("pass", second, 0.0),
    ]
    mixed = ordered[1::2] + ordered[::2]
    assert sorted(mixed, key=lambda f: f.rank) == ordered


@pytest.mark.parametrize("name", TRUCKS)
def test_inspect_returns_them_in_order_one_a_check_and_subject(name: str) -> None:
    found = FINDINGS[name]
    assert [f.rank for f in found] == sorted(f.rank for f in found)
    assert len({(f.id, f.subject) for f in found}) == len(found)
    assert {f.verdict for f in found} <= set(ORDER)


@given(
    st.floats(1e-3, 1e4),
    st.sampled_from(["pressure", "flow", "displacement", "length", "shaft_speed", "torque"]),
    st.sampled_from(["us", "metric"]),
)
def test_a_shown_bound_never_lies_on_the_wrong_side(value: float, kind: str, system: str) -> None:
    value *= {"flow": 1e-5, "displacement": 1e-7, "length": 1e-3, "pressure": 1e3}.get(kind, 1.0)
    more, less = at_least(value, kind), at_most(value, kind)
    nearest = parse(Amount(value, kind).shown(system), kind)
    up, down = parse(more.shown(system), kind), parse(less.shown(system), kind)
    assert down <= value * (1 + 2e-9)
    assert up >= value * (1 - 2e-9)
    assert nearest in (pytest.approx(up), pytest.approx(down))


def test_bounds_round_by_one_of_the_last_digit() -> None:
    assert at_least(1000.4 * PSI, "pressure").shown() == "1001 psi"
    assert at_most(1000.6 * PSI, "pressure").shown() == "1000 psi"
    assert at_least(1000.0 * PSI, "pressure").shown() == "1000 psi"
    assert Amount(1000.6 * PSI, "pressure").shown() == "1001 psi"


@pytest.mark.parametrize(
    ("value", "reserve", "verdict"),
    [(9.0, 0.0, "pass"), (9.0, 0.2, "caution"), (10.0, 0.0, "pass"), (10.5, 0.0, "fail")],
)
def test_an_upper_limit_and_its_mirror(value: float, reserve: float, verdict: str) -> None:
    change = words("less")
    over = upper(
        Amount(value * PSI, "pressure"), Amount(10 * PSI, "pressure"),
        reserve=reserve, about="it", change=change,
    )  # fmt: skip
    under = lower(
        Amount((20 - value) * PSI, "pressure"), Amount(10 * PSI, "pressure"),
        reserve=reserve, about="it", change=change,
    )  # fmt: skip
    for judged in (over, under):
        assert judged.verdict == verdict
        assert judged.margin == pytest.approx((10 - value) / 10)
        assert judged.change == (None if verdict == "pass" else change)
    assert over.reason.shown().startswith(f"it is {value:.3g}")
    assert "; at most 10.0 psi" in over.reason.shown()
    assert "; at least 10.0 psi" in under.reason.shown()
    assert ("8.00 psi with reserve" in over.reason.shown()) == (verdict == "caution")


def test_a_value_a_rounding_hair_beyond_its_limit_passes() -> None:
    limit = Amount(10.0, "pressure")
    assert upper(Amount(10.0 * (1 + 1e-12), "pressure"), limit, about="it").verdict == "pass"
    assert lower(Amount(10.0 * (1 - 1e-12), "pressure"), limit, about="it").verdict == "pass"


@given(st.text(max_size=20))
def test_a_name_with_braces_is_shown_as_it_is(name: str) -> None:
    assert words("at {name}", name=name).shown() == f"at {name}"


def test_names_with_braces_go_through_every_check() -> None:
    odd = "{0}{x!r:>9} %s {"
    truck = _rename(MISTAKES, "spinner", odd)
    scenarios = tuple(replace(s, name=f"{s.name} {odd}") for s in truck.scenario)
    relief = replace(truck.relief[0], name=odd)
    found = inspect(replace(truck, scenario=scenarios, relief=(relief,)))
    before, after = ([(f.id, f.verdict) for f in fs] for fs in (FINDINGS["mistakes"], found))
    assert sorted(before) == sorted(after)
    assert any(odd in f.judgement.reason.shown() for f in found)
    assert any(f.judgement.change and odd in f.judgement.change.shown() for f in found)


def _rename(truck: Truck, old: str, new: str) -> Truck:
    def name(text: str | None) -> str | None:
        return new if text == old else text

    return replace(
        truck,
        function=tuple(replace(f, name=name(f.name) or "") for f in truck.function),
        bank=tuple(replace(b, order=tuple(name(o) or "" for o in b.order)) for b in truck.bank),
        scenario=tuple(
            replace(s, run=tuple(replace(t, name=name(t.name) or "") for t in s.run))
            for s in truck.scenario
        ),
        lines=tuple(replace(one, of=name(one.of)) for one in truck.lines),
    )


# -- demo trucks ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [n for n in TRUCKS if n != "mistakes"])
def test_a_sound_demo_truck_has_no_failing_finding(name: str) -> None:
    assert [f.id for f in FINDINGS[name] if f.verdict == "fail"] == []


@pytest.mark.parametrize("name", TRUCKS)
def test_a_demo_truck_lacks_nothing(name: str) -> None:
    assert [f.id for f in FINDINGS[name] if f.verdict == "not checked"] == []


def _change(check_id: str, subject: str) -> Words:
    (one,) = [f for f in FINDINGS["mistakes"] if (f.id, f.subject) == (check_id, subject)]
    assert one.verdict == "fail"
    assert one.judgement.change is not None
    return one.judgement.change


def _shown(change: Words, name: str) -> float:
    amount = change.amounts[name]
    assert isinstance(amount, Amount)
    return parse(amount.shown(), amount.kind)


def test_every_planted_mistake_is_named_with_the_number_that_fixes_it() -> None:
    relief = _shown(_change("working-pressure-relief", "plow lift"), "setting")
    trim = _shown(_change("machinery-overspeed", "spinner"), "command")
    bore = _shown(_change("suction-velocity", "pump"), "bore")
    pump = _shown(_change("flow-demand", "spreading"), "larger")
    # By hand: the plow's 8800 lbf over 4.91 in2 at 95 %, 100 psi of section, 200 psi in reserve,
    # cracking at 95 % of the setting.
    by_hand = (8800 / (pi / 4 * 2.5**2 * 0.95) + 100 + 200) / 0.95
    assert to_unit(relief, "pressure", "psi") == pytest.approx(by_hand, abs=15)
    # 450 rpm of 4.5 in3/rev are 8.77 gal/min of the 10 that the section passes above 25 %
    assert trim == pytest.approx(0.25 + 0.75 * 450 * 4.5 / 231 / 10, abs=0.001)
    # 2.2 in3/rev at 2200 rpm with 4 ft/s
    area = 2.2 * 2200 / 60 / 48  # in2
    assert bore / INCH == pytest.approx((4 * area / pi) ** 0.5, abs=0.01)
    assert to_unit(pump, "displacement", "in^3/rev") > 2.2

    fixed = MISTAKES.vary("main relief.setting", relief).vary("spinner.trims.max", trim)
    fixed = fixed.vary("pump.displacement", pump)
    # The larger pump asks a larger hose: look again, as one would.
    second = [f for f in inspect(fixed) if f.id == "suction-velocity"][0].judgement.change
    assert second is not None
    assert _shown(second, "bore") > bore
    fixed = fixed.vary("suction.bore", _shown(second, "bore"))
    assert [f.id for f in inspect(fixed) if f.verdict == "fail"] == []


def test_the_mistakes_are_all_that_fails() -> None:
    failing = {f.id for f in FINDINGS["mistakes"] if f.verdict == "fail"}
    assert failing == {
        "working-pressure-relief", "machinery-overspeed", "suction-velocity", "flow-demand",
    }  # fmt: skip


# -- whatever is missing, no check breaks ----------------------------------------------------------


def _bare(part: Any, draw: st.DataObject, path: str = "") -> Any:
    """A part with some of its optional values taken away."""
    changes: dict[str, Any] = {}
    for key, spec in specs(type(part)).items():
        value = getattr(part, key)
        gone = value is not None and draw.draw(st.integers(0, 24), label=path + key) == 0
        if spec.form in ("tables", "named tables"):
            changes[key] = () if gone else tuple(_bare(v, draw, f"{path}{key}.") for v in value)
        elif spec.form == "table" and value is not None:
            changes[key] = _bare(value, draw, f"{path}{key}.")
        elif spec.form in ("quantity", "band") and not spec.required and spec.default is None:
            changes[key] = None if gone else value
    return replace(part, **changes)


@settings(max_examples=25)
@given(st.data(), st.sampled_from(["single", "conveyor"]))
def test_a_truck_that_lacks_anything_is_still_inspected(data: st.DataObject, name: str) -> None:
    for finding in inspect(_bare(TRUCKS[name], data)):
        assert finding.judgement.reason.shown()
        if finding.verdict == "not checked":
            assert finding.judgement.value is None


def test_an_empty_truck_is_inspected() -> None:
    empty = replace(
        TANDEM, function=(), pump=(), bank=(), relief=(), lines=(), scenario=TANDEM.scenario[:0]
    )
    assert {f.verdict for f in inspect(empty)} <= {"pass", "not checked", "caution"}
    alone = replace(empty, scenario=(replace(TANDEM.scenario[0], run=(), summer=0.0),))
    assert {f.verdict for f in inspect(alone)} <= {"pass", "not checked", "caution"}
    idle = replace(TANDEM, function=(), scenario=alone.scenario)
    assert {f.verdict for f in inspect(idle)} <= {"pass", "caution"}
