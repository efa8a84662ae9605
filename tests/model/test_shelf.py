"""Shelf lists: parts in SI, every error at once."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck.errors import TruckFileError
from hydrocheck.model.shelf import shelf_from_text
from hydrocheck.units import parse

GOOD = """\
# what we stock
part, build, name, displacement [in^3/rev], max_speed [rpm], max_pressure [psi], price
pump, piston, "P, 45", 2.75, 2600, 3600, 1450

motor, orbit, , 9.8, 400, 3000,
"""


def faults(text: str) -> tuple[str, ...]:
    with pytest.raises(TruckFileError) as caught:
        shelf_from_text(text)
    return tuple(caught.value.lines)


def test_parts_are_read() -> None:
    pump, motor = shelf_from_text(GOOD)
    assert (pump.part, pump.build, pump.name) == ("pump", "piston", "P, 45")
    assert pump.values["displacement"] == pytest.approx(parse("2.75 in^3/rev", "displacement"))
    assert pump.values["price"] == 1450.0
    assert motor.name == "line 5"
    assert "price" not in motor.values
    assert motor.values["max_speed"] == pytest.approx(parse("400 rpm", "shaft_speed"))


def test_all_faults_come_at_once() -> None:
    text = (
        GOOD + "motor, piston, m, 9.8, 400, 3000, 1\npump, gear, g, -1, 400, x, 1\nmotor, orbit\n"
    )
    lines = faults(text)
    said = [
        "line 6: build: read 'piston'; here fits: orbit, gear",
        "line 7: displacement",
        "line 7: max_pressure",
        "line 8: 2 cells",
    ]
    assert len(lines) == len(said)
    for word, line in zip(said, lines, strict=True):
        assert word in line


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no header"),
        ("part, build\n", "no column displacement"),
        ("part, build, displacement\npump, gear, 3\n", "no unit"),
        ("part, build, displacement [psi]\npump, gear, 3\n", "displacement [psi]"),
        ("part, build, displacement [in^3/rev]\n", "no parts"),
        ("part, build, displacement [in^3/rev], colour\npump, gear, 3, red\n", "no such column"),
        ("part, part, build, displacement [in^3/rev]\npump, pump, gear, 3\n", "twice"),
        ("part, build, displacement [in^3/rev]\npump, gear,\n", "blank"),
        ("part, build, displacement [in^3/rev]\nvalve, gear, 3\n", "fits: pump, motor"),
    ],
)
def test_what_is_no_shelf_list(text: str, said: str) -> None:
    assert any(said in line for line in faults(text))


@given(st.text(max_size=200))
def test_any_row_is_read_or_refused_in_lines(text: str) -> None:
    lines: tuple[str, ...] = ()
    try:
        parts = len(shelf_from_text(GOOD + text))
    except TruckFileError as error:
        parts, lines = 0, tuple(error.lines)
    assert parts >= 2 or lines
    assert all(line.startswith("line ") for line in lines)
