"""What can be read at all: every readable, from the command line, TOML and JSON."""

from __future__ import annotations

import json

import pytest

from hydrocheck.errors import TruckFileError
from hydrocheck.model.readable import POSSIBLE, READABLES
from hydrocheck.model.readings import readings_from_lines, readings_from_text
from hydrocheck.units import KINDS, show

NUMBERS = [key for key, one in READABLES.items() if not one.words]
BASE = {  # an impossible value of each kind, below and above
    "shaft_speed": ("-5 rpm", "90000 rpm"),
    "fraction": ("-1 %", "101 %"),
    "pressure": ("-3 psi", "90000 psi"),
    "vacuum": ("-1 inHg", "31 inHg"),  # one atmosphere is 29.92 inHg
    "flow": ("-1 gpm", "9000 gpm"),
    "temperature": ("-300 degF", "900 degF"),
    "current": ("-1 A", "99 A"),
    "voltage": ("-12 V", "400 V"),
    "time": ("-3 s", "0 s"),
    "mass_per_rev": ("-2 lb/rev", "9000 lb/rev"),
    "heat_flow": ("-5 kW", "9000 kW"),
}


def errors(made: str | list[str]) -> str:
    with pytest.raises(TruckFileError) as caught:
        _ = (
            readings_from_text(made)
            if isinstance(made, str)
            else readings_from_lines(made, "--reading")
        )
    return str(caught.value)


@pytest.mark.parametrize("key", NUMBERS)
def test_impossible_values_are_refused_by_name(key: str) -> None:
    what = key.replace("NAME", "auger")
    for value in BASE[READABLES[key].kind]:
        line = errors([f"{what} = {value}"])
        assert line.startswith(f"--reading: {what}: read '{value}'")
        toml = errors(f'schema = 1\n[[reading]]\nwhat = "{what}"\nvalue = "{value}"\n')
        assert toml.startswith(f"line 4: reading.value: {what}: read '{value}'")
        both = {"schema": 1, "reading": [{"what": what, "value": v} for v in (value, value)]}
        assert f"reading[2].value: {what}: read '{value}'" in errors(json.dumps(both))


@pytest.mark.parametrize("key", NUMBERS)
def test_ends_of_the_range_are_taken(key: str) -> None:
    kind = READABLES[key].kind
    low, high = POSSIBLE[kind]
    assert kind in KINDS
    for value in (low, 0.5 * (low + high)):
        (one,) = readings_from_lines(
            [f"{key.replace('NAME', 'auger')} = {show(value, kind)}"]
        ).readings
        assert one.number == pytest.approx(value, rel=0.02, abs=1e-9)


@pytest.mark.parametrize("condition", ["oil 3000 degF", "engine 99000 rpm"])
def test_conditions_are_possible_too(condition: str) -> None:
    name, value = condition.split(" ", 1)
    assert f"--reading.at.{name}" in errors([f"noise = none @ {condition}"])
    file = f'schema = 1\nat = {{ {name} = "{value}" }}\nreading = ["noise = none"]\n'
    assert f"at.{name}: from " in errors(file)
