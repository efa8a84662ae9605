"""Needs files: read whole, every error at once, each with what would fit."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.errors import FileError, TruckFileError
from hydrocheck.model.needs import needs_from_text, read_needs
from hydrocheck.units import parse

TEXT = demo.needs_path("patrol").read_text(encoding="utf-8")


def faults(text: str) -> tuple[str, ...]:
    with pytest.raises(TruckFileError) as caught:
        needs_from_text(text)
    return tuple(caught.value.lines)


def changed(old: str, new: str) -> str:
    assert old in TEXT
    return TEXT.replace(old, new, 1)


@pytest.mark.parametrize("name", demo.needs_names())
def test_built_in_needs_are_read(name: str) -> None:
    needs = read_needs(demo.needs_path(name))
    assert needs.function
    assert needs.scenario
    assert "Alder Fork" in needs.name


def test_values_are_si_and_defaults_are_noted() -> None:
    needs = needs_from_text(TEXT)
    assert needs.engine.idle == pytest.approx(parse("700 rpm", "shaft_speed"))
    assert needs.pump.pressures == pytest.approx(
        [parse("2500 psi", "pressure"), parse("3000 psi", "pressure")]
    )
    auger, spinner, liquid = needs.function[:3]
    assert (auger.motor_build, spinner.motor_build, liquid.motor_build) == (
        "orbit",
        "orbit",
        "gear",
    )
    assert needs.warmed_up == pytest.approx(parse("70 degF", "temperature"))
    assert "auger.line" in needs.defaults_used
    assert "margins.flow" not in needs.defaults_used


def test_all_errors_come_at_once() -> None:
    text = changed('idle = "700 rpm"', 'idle = "700"')
    text = text.replace('kind = "spinner"', 'kind = "spiner"')
    text = text.replace('max_volume = "45 gal"', 'volume = "45 gal"')
    lines = faults(text)
    assert len(lines) == 3
    for word, line in zip(
        ("engine.idle", "did you mean 'spinner'", "tank.volume"), lines, strict=False
    ):
        assert any(word in one for one in lines), line
    assert all(line.startswith("line ") for line in lines)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('working = ["1200 rpm", "1400 rpm"]', "", "engine.working: missing"),
        ('["1200 rpm", "1400 rpm"]', '["600 rpm", "1400 rpm"]', "between idle and governed"),
        ('hot = "160 degF"', "", "oil.hot: missing"),
        ('grade = "32 cSt"\nviscosity_index = 150', "", "oil.grade: missing"),
        ('pressures = ["2500 psi", "3000 psi"]', "", "pump.pressures: missing"),
        ('["0.9", "1.0", "1.1"]', "[0]", "above zero"),
        ('["0.9", "1.0", "1.1"]', "[1, 1]", "a value twice"),
        ('warmed_up = "70 degF"', 'warmed_up = "170 degF"', "between oil.cold and oil.hot"),
        ('name = "auger"', 'name = "pump"', "choose another name"),
        ('name = "auger"', 'name = "au.ger"', "choose another name"),
        ('name = "plow"', 'name = "spinner"', "used twice"),
        ('stroke = "10 in"', "", "plow.cylinder.stroke: missing"),
        ('max_speed = "120 rpm"', 'flow = "5 gpm"', "exactly one fits"),
        ('constant = "1900 in-lb", linear = "150 in-lb", at = "60 rpm", ', 'pressure = "900 psi", ',
         "needs torques"),
        ('spinner = { speed = "350 rpm" }', "spinner = { command = 0.5 }", "not how"),
        ('liquid = { speed', 'brine = { speed', "no function 'brine'"),
        ('plow = { motion = "extend" }', 'plow = { speed = "3 rpm" }', "does not fit a cylinder"),
        ('plow = { motion = "extend" }', 'plow = { motion = "retract" }', "retract_time"),
        ('auger = { diameter = "7 in", shaft = "4 in", pitch = "6 in", fill = "80 %" }', "",
         "a rate needs"),
    ],
)  # fmt: skip
def test_what_does_not_fit_together(old: str, new: str, said: str) -> None:
    lines = faults(changed(old, new))
    assert any(said in line for line in lines), lines


def test_orders_must_be_asked_by_a_scenario() -> None:
    text = TEXT.replace('"400 lb/lane-mile"]', '"900 lb/lane-mile"]')
    assert any("no scenario asks" in line for line in faults(text))


def test_a_liquid_pump_is_asked_for_its_flow() -> None:
    text = demo.needs_path("brine").read_text(encoding="utf-8")
    pump = needs_from_text(text).function[0]
    assert pump.liquid is not None
    assert pump.turns
    both = text.replace('line = "8 ft"', 'load = { constant = "9 in-lb" }')
    assert any("exactly one fits" in line for line in faults(both))
    lines = faults(changed('spinner = { speed = "350 rpm" }', 'spinner = { flow = "3 gpm" }'))
    assert any("fits a function with a load" in line for line in lines)


def test_a_truck_file_is_no_needs_file() -> None:
    lines = faults(demo.text("tandem"))
    assert any("unknown key" in line for line in lines)


def test_missing_file() -> None:
    with pytest.raises(FileError, match="cannot be read"):
        read_needs("no such file.toml")
    with pytest.raises(FileError, match="there are: patrol"):
        demo.needs_path("nothing")


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_in_lines(text: str) -> None:
    # No text of 200 characters says all that a needs file must.
    assert all(line.startswith("line ") for line in faults(text))
