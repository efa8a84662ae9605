"""Trims by condition: every cell says what it means, currents stand beside the commands."""

from __future__ import annotations

import re

import pytest

from hydrocheck import demo
from hydrocheck.report.trimgrid import NONE, conditions_text, current_columns, current_text
from hydrocheck.studies.trims import Trim, predict_trims
from hydrocheck.studies.valvedrive import valve_drive

TANDEM = demo.load("tandem")
AUGER = predict_trims(TANDEM, ["auger"]).of("auger")
DRIVE = valve_drive(TANDEM, TANDEM.function_named("auger"))


def auger() -> Trim:
    assert AUGER is not None
    return AUGER


@pytest.mark.parametrize("units", ["us", "metric"])
def test_no_cell_is_a_bare_dash_and_every_mark_is_explained(units: str) -> None:
    text = conditions_text(auger(), DRIVE, units)
    assert max(len(line) for line in text.splitlines()) <= 80
    cells = [c for line in text.splitlines() for c in re.split(r"\s{2,}", line.strip())]
    assert "-" not in cells
    for cell, why in NONE.values():
        assert (cell in cells) == (f"{cell}: {why[:20]}" in text)
    assert ("42.4*" in cells) == ("* the supply gives no more there" in text)


def test_currents_are_the_commands_of_the_rated_current() -> None:
    # Definition of a command: a share of the coil's rated current, 1.5 A here
    columns = current_columns(auger().grid, DRIVE)
    lowest = columns["current_at_minimum"]
    assert isinstance(lowest, dict)
    assert lowest["unit"] == "A"
    assert lowest["si"] == pytest.approx(list(auger().grid.minimum * 1.5))
    text = conditions_text(auger(), DRIVE, "us")
    assert f"{1.5 * auger().maximum:.2f}" in text
    assert "full 0.57 to 0.81 A" in current_text(auger(), DRIVE, "us")


def test_without_a_coil_no_current_stands_there() -> None:
    assert current_columns(auger().grid, None) == {}
    assert current_text(auger(), None, "us") == ""
    assert "in A" not in conditions_text(auger(), None, "us")
