"""Faults in the truck file: taken, checked, and never mistaken for defaults."""

from __future__ import annotations

import pytest

from hydrocheck.errors import TruckFileError
from hydrocheck.model.defaults import defaults
from hydrocheck.model.fields import specs
from hydrocheck.model.lines import Coupling, Filter, Line
from hydrocheck.model.machines import Motor, Pump
from hydrocheck.model.reader import truck_from_text
from hydrocheck.model.schema import schema
from hydrocheck.model.template import starter
from hydrocheck.model.valves import Relief, Section

FAULTS = {
    Pump: {"wear", "air", "ls_signal"},
    Motor: {"wear"},
    Section: {"opening", "command_limit"},
    Relief: {"weakness"},
    Line: {"restriction"},
    Coupling: {"restriction"},
    Filter: {"restriction"},
}
FILE = """
schema = 1
truck.name = "worn"
[[pump]]
name = "pump"
type = "fixed"
wear = 2.5
air = "{air}"
[lines.return]
restriction = "3"
"""


def test_each_part_has_its_faults_and_is_sound_unless_told() -> None:
    for cls, names in FAULTS.items():
        found = {name: spec for name, spec in specs(cls).items() if spec.fault}
        assert set(found) == names
        assert all(spec.about.startswith("fault: ") for spec in found.values())


def test_faults_are_read() -> None:
    truck = truck_from_text(FILE.format(air="8 %"))
    assert (truck.pump[0].wear, truck.pump[0].air) == (2.5, 0.08)
    assert (truck.pump[0].ls_signal, truck.lines[0].restriction) == (1.0, 3.0)


def test_faults_are_checked() -> None:
    with pytest.raises(TruckFileError, match=r"pump\.air.*below 100 %"):
        truck_from_text(FILE.format(air="100 %"))


def test_a_sound_part_is_no_default() -> None:
    names = set().union(*FAULTS.values())
    used = truck_from_text(FILE.format(air="8 %")).defaults_used
    assert not names & {key.rpartition(".")[2] for key in used}
    assert not names & {one.key.rpartition(".")[2] for one in defaults()}
    assert "ls_signal" not in starter()
    assert "restriction" not in starter()


def test_faults_stand_in_the_schema() -> None:
    definitions = schema()["$defs"]
    for cls, names in FAULTS.items():
        for name in names:
            node = definitions[cls.__name__]["properties"][name]
            assert node["default"] == specs(cls)[name].default
            assert node["description"].startswith("fault: ")
