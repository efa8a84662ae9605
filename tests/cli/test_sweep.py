"""`hydrocheck sweep`: CSV with units, JSON, files, bad input."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Run = Callable[..., Result]
BASE = ("sweep", "--demo", "tandem")


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_csv_with_units(hydrocheck_cli: Run) -> None:
    told = ("--vary", "pump.displacement=1..5 in3/rev:5", "--vary", "engine=800..2400 rpm:3")
    result = hydrocheck_cli(*BASE, *told)
    assert result.exit_code == 0, result.stderr
    read = rows(result.stdout)
    assert [float(r["pump.displacement [in3/rev]"]) for r in read[::3]] == [1, 2, 3, 4, 5]
    assert [float(r["engine [rpm]"]) for r in read[:3]] == pytest.approx([800, 1600, 2400])
    assert read[-1]["supply limit"] == "load signal"
    # More pump never gives less: the auger's flow rises down each engine speed.
    flows = [float(r["auger.flow [gal/min]"]) for r in read]
    assert all(a <= b + 1e-9 for a, b in zip(flows, flows[3:], strict=False))


def test_metric_and_shifted_scales(hydrocheck_cli: Run) -> None:
    told = ("--vary", "oil=32..104 degF:3", "--units", "metric", "--keep", "pump pressure, heat")
    read = rows(hydrocheck_cli(*BASE, *told).stdout)
    assert [float(r["oil [degC]"]) for r in read] == [0.0, 20.0, 40.0]
    assert list(read[0]) == ["oil [degC]", "pump pressure [bar]", "heat [kW]"]


def test_json_is_si(hydrocheck_cli: Run) -> None:
    told = ("--vary", "engine=800..1200 rpm:2", "--keep", "auger.limit", "--keep", "heat")
    document = json.loads(hydrocheck_cli(*BASE, *told, "--json").stdout)["result"]
    assert document["points"] == 2
    assert document["inputs"]["engine"] == {
        "unit": "rad/s",
        "si": pytest.approx([83.7758, 125.6637]),
    }
    assert document["results"]["auger.limit"] == ["short", "command"]
    assert document["results"]["heat"]["unit"] == "W"


def test_file_is_written_whole_and_once(tmp_path: Path, hydrocheck_cli: Run) -> None:
    path = tmp_path / "s.csv"
    told = (*BASE, "--vary", "engine=800..1200 rpm:3", "--csv", str(path))
    assert "wrote 3 points" in hydrocheck_cli(*told).stdout
    assert len(rows(path.read_text())) == 3
    again = hydrocheck_cli(*told)
    assert again.exit_code == 2
    assert "--force" in again.stderr
    failing = tmp_path / "f.csv"
    result = hydrocheck_cli(*BASE, "--vary", "engine=-5..5 rpm:3", "--csv", str(failing))
    assert result.exit_code == 2
    assert not failing.exists()


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ((), "--vary"),
        (("--vary", "engine=1..2"), "number of values"),
        (("--vary", "engine=1..2 rpm:2", "--keep", "nothing"), "there are pump pressure"),
        (("--vary", "engine=1..2 rpm:2", "--scenario", "none"), "no scenario"),
        (("--vary", "engine=1..2 rpm:1000000"), "--csv"),
        (("--vary", "engine=1..2 rpm:2", "--csv", "no/such/folder.csv"), "no folder"),
    ],
)
def test_bad_input_is_one_line(told: tuple[str, ...], words: str, hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli(*BASE, *told)
    assert result.exit_code == 2
    assert words in result.stderr
    assert "Traceback" not in result.stderr
