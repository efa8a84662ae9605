"""Found trims against predicted ones: what agrees, and what a difference points to."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from hydrocheck import demo
from hydrocheck.model import Truck
from hydrocheck.model.readings import Readings, readings_from_lines
from hydrocheck.studies.trimcompare import Found, compare_trims
from hydrocheck.studies.trims import Prediction, predict_trims, trims_at

TANDEM = replace(demo.load("tandem"), tolerances={})
MISTAKES = demo.load("mistakes")


@cache
def prediction() -> Prediction:
    return predict_trims(TANDEM)


def compared(*lines: str) -> tuple[Found, ...]:
    return compare_trims(TANDEM, prediction(), readings_from_lines(lines))


def predicted(name: str, which: int) -> float:
    trim = prediction().of(name)
    assert trim is not None
    return (trim.minimum, trim.maximum)[which]


def line(name: str, which: str, value: float, at: str = "") -> str:
    return f"{name} {which} trim = {100 * value:.3f} %" + (f" @ {at}" if at else "")


def changed(truck: Truck, name: str, **section: float) -> Truck:
    function = truck.function_named(name)
    new = replace(function, section=replace(function.section, **section))
    return replace(truck, function=tuple(new if f.name == name else f for f in truck.function))


def test_what_was_predicted_agrees() -> None:
    found = compared(
        line("auger", "minimum", predicted("auger", 0) + 0.015),
        line("auger", "maximum", predicted("auger", 1) - 0.019),
        line("liquid", "minimum", predicted("liquid", 0)),
    )
    assert [one.agrees for one in found] == [True] * 3
    assert [one.points_to for one in found] == [()] * 3
    assert [one.half_width for one in found] == pytest.approx([0.02] * 3)  # display, usual reading


def test_the_condition_of_the_reading_counts() -> None:
    engine, oil = 700 * 0.10471975511965977, 344.261
    low = trims_at(TANDEM, "auger", engine, oil, "full")[1]
    assert low < predicted("auger", 1) - 0.1  # the pump starves at idle
    at = "engine 700 rpm, oil 160 degF, hopper full"
    (one,) = compared(line("auger", "maximum", low, at))
    assert one.agrees
    (other,) = compared(line("auger", "maximum", low))
    assert not other.agrees


def test_the_last_reading_of_a_trim_counts() -> None:
    (one,) = compared(
        line("auger", "minimum", 0.9), line("auger", "minimum", predicted("auger", 0))
    )
    assert one.agrees


def test_an_empty_hopper_is_recognised() -> None:
    trim = prediction().of("auger")
    assert trim is not None
    (one,) = compared(line("auger", "minimum", trim.minimum_empty))
    assert "empty hopper" in one.points_to[0]


def test_a_trim_that_does_not_start_the_shaft_asks_for_a_boost() -> None:
    trim = prediction().of("auger")
    assert trim is not None
    (one,) = compared(line("auger", "minimum", trim.run + 0.005))
    assert any("boost" in told for told in one.points_to)


def test_a_shifted_deadband_is_told_with_its_value() -> None:
    """The trims of the same truck with a deadband of 35 % in place of 28 %."""
    low, high = (
        trims_at(changed(TANDEM, "auger", deadband=0.35), "auger", 125.66, 316.48, "full")[k]
        for k in (0, 1)
    )
    found = compared(line("auger", "minimum", low), line("auger", "maximum", high))
    assert all(not one.agrees for one in found)
    assert all("deadband is nearer 3" in " ".join(one.points_to) for one in found)


def test_a_smaller_section_is_told_with_its_share() -> None:
    """The maximum of the same truck with a section of 8 gal/min in place of 12."""
    small = changed(TANDEM, "auger", rated_flow=8 * 6.30901964e-5)
    high = trims_at(small, "auger", 125.66, 316.48, "full")[1]
    (one,) = compared(line("auger", "maximum", high))
    assert one.points_to[0].startswith("33 % less speed")


def test_a_trim_beyond_the_pump_is_dead_travel() -> None:
    truck = replace(MISTAKES, tolerances={})
    lines = readings_from_lines(["spinner maximum trim = 100 %"])
    (one,) = compare_trims(truck, predict_trims(truck, ["spinner"]), lines)
    assert "dead travel" in one.points_to[0]
    assert "82 %" in one.points_to[0]


@pytest.mark.parametrize(
    ("shift", "word"), [(0.08, "worn motor"), (-0.06, "lowest even speed"), (-0.20, "lighter load")]
)
def test_other_differences_name_the_usual_suspects(shift: float, word: str) -> None:
    (one,) = compared(line("liquid", "minimum", predicted("liquid", 0) + shift))
    assert word in " ".join(one.points_to)


def test_nothing_found_nothing_said() -> None:
    assert compare_trims(TANDEM, prediction(), Readings()) == ()
    assert compared("auger speed = 62 rpm") == ()
