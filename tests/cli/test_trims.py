"""trims: what it prints, its JSON, its readings, bad input."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from hydrocheck import demo

Run = Callable[..., Result]


@pytest.mark.parametrize("name", demo.names())
@pytest.mark.parametrize("units", ["us", "metric"])
def test_fits_a_terminal(name: str, units: str, hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli("trims", "--demo", name, "--units", units)
    assert result.exit_code == 0
    assert max(len(line) for line in result.stdout.splitlines()) <= 80
    assert "maximum ruled by" in result.stdout
    assert "Control and flow" in result.stdout
    assert ("degC" in result.stdout) == (units == "metric")


def test_json_holds_every_condition(hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli("trims", "--demo", "tandem", "--json")
    document: Any = json.loads(result.stdout)
    assert document["command"] == "trims"
    auger = document["result"]["functions"]["auger"]
    assert auger["ruled_by"] == "wanted rate"
    assert auger["minimum"]["unit"] == "1"
    conditions = auger["conditions"]
    assert len(conditions["hopper"]) == len(conditions["minimum"]["si"]) == 4 * 3 * 2
    assert None in conditions["maximum"]["si"]  # cold oil: nobody can be fed
    control = document["result"]["control"]
    assert control["full_discharge"]["duration"]["si"] == 10.0
    assert control["road_speed"]["mode"] == "proportional"


def test_readings_are_compared(tmp_path: Path, hydrocheck_cli: Run) -> None:
    file = tmp_path / "found.toml"
    file.write_text(
        'schema = 1\nreading = ["auger minimum trim = 38 %", "spinner maximum trim = 95 %"]\n'
    )
    result = hydrocheck_cli("trims", "--demo", "tandem", "--readings", str(file))
    assert result.exit_code == 0
    rows = [
        line for line in result.stdout.splitlines() if line.startswith(("auger m", "spinner m"))
    ]
    assert rows[0].endswith("agrees")
    assert "less speed" in rows[1]
    found = json.loads(
        hydrocheck_cli("trims", "--demo", "tandem", "--json", "--readings", str(file)).stdout
    )["result"]["found"]
    assert [one["agrees"] for one in found] == [True, False]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ('schema = 1\nreading = ["wing minimum trim = 38 %"]', ["wing"]),
        ('schema = 1\nreading = ["auger minimum trim = 38"]', ["reading.value", "'38'"]),
        ('reading = ["auger minimum trim = 38 %"]', ["schema"]),
        ("{", ["JSON"]),
    ],
)
def test_bad_readings(content: str, words: list[str], tmp_path: Path, hydrocheck_cli: Run) -> None:
    file = tmp_path / "found.toml"
    file.write_text(content)
    result = hydrocheck_cli("trims", "--demo", "tandem", "--readings", str(file))
    assert (result.exit_code, result.stdout) == (2, "")
    assert "Traceback" not in result.stderr
    for word in words:
        assert word in result.stderr


def test_bare_truck_says_what_it_needs(tmp_path: Path, hydrocheck_cli: Run) -> None:
    file = tmp_path / "truck.toml"
    file.write_text('schema = 1\n[truck]\nname = "bare"\n')
    result = hydrocheck_cli("trims", str(file))
    assert result.exit_code == 2
    assert result.stderr.startswith("error: needs engine.working")
