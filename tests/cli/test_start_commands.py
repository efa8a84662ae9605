"""The commands that start a truck file or describe it: new, demo, defaults, schema."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from hydrocheck import demo
from hydrocheck.model import read_truck
from hydrocheck.model.defaults import defaults
from hydrocheck.model.schema import schema

Run = Callable[..., Result]


def result_of(run: Result) -> Any:
    """What the JSON envelope holds."""
    assert (run.exit_code, run.stderr) == (0, "")
    document = json.loads(run.stdout)
    assert document["schema"] == 1
    assert document["truck"] is None
    return document["result"]


def fails(run: Result, message: str) -> None:
    assert (run.exit_code, run.stdout) == (2, "")
    assert message in run.stderr
    assert "Traceback" not in run.stderr


def test_new_writes_a_file_that_check_reads(hydrocheck_cli: Run, tmp_path: Path) -> None:
    file = tmp_path / "truck.toml"
    done = hydrocheck_cli("new", str(file), "--pump", "fixed", "--liquid", "none", "--name", "T 1")
    assert (done.exit_code, done.stderr) == (0, "")
    assert f"wrote {file}" in done.stdout
    truck = read_truck(file)
    assert (truck.name, truck.pump[0].type) == ("T 1", "fixed")
    checked = hydrocheck_cli("check", str(file))
    assert (checked.exit_code, checked.stderr) == (0, "")


def test_new_never_overwrites_without_force(hydrocheck_cli: Run, tmp_path: Path) -> None:
    file = tmp_path / "truck.toml"
    file.write_text("mine")
    fails(hydrocheck_cli("new", str(file)), "exists already; --force overwrites it")
    assert file.read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["truck.toml"]
    assert hydrocheck_cli("new", str(file), "--force").exit_code == 0
    assert read_truck(file).name == "my truck"


def test_new_refuses_what_no_truck_file_takes(hydrocheck_cli: Run, tmp_path: Path) -> None:
    file = tmp_path / "truck.toml"
    for name in ("", "  ", "a\nb", "x" * 201):
        fails(hydrocheck_cli("new", str(file), "--name", name), "the truck's name")
    fails(hydrocheck_cli("new", str(file), "--pump", "gear"), "'gear' is not one of")
    fails(hydrocheck_cli("new", str(tmp_path)), "it is a folder")
    fails(hydrocheck_cli("new", str(tmp_path / "no" / "t.toml")), "there is no folder")
    fails(hydrocheck_cli("new"), "Missing argument 'FILE'")
    assert list(tmp_path.iterdir()) == []


def test_new_as_json(hydrocheck_cli: Run, tmp_path: Path) -> None:
    file = str(tmp_path / "truck.toml")
    assert result_of(hydrocheck_cli("new", file, "--json")) == {
        "file": file,
        "pump": "load sensing",
        "feeder": "auger",
        "liquid": "hydraulic",
    }


def test_demo_lists_them_in_order(hydrocheck_cli: Run) -> None:
    lines = hydrocheck_cli("demo").stdout.splitlines()
    assert all(len(line) <= 80 for line in lines)
    assert [line.split()[0] for line in lines if not line.startswith(" ")] == list(demo.names())
    listed = result_of(hydrocheck_cli("demo", "--json"))
    assert [one["name"] for one in listed] == list(demo.names())
    assert all(one["about"] for one in listed)


def test_demo_prints_and_copies_one(hydrocheck_cli: Run, tmp_path: Path) -> None:
    text = demo.text("single")
    assert hydrocheck_cli("demo", "single").stdout == text
    assert result_of(hydrocheck_cli("demo", "single", "--json")) == {"name": "single", "text": text}
    file = tmp_path / "copy.toml"
    assert hydrocheck_cli("demo", "single", str(file)).stdout == f"wrote {file}\n"
    assert file.read_text(encoding="utf-8") == text
    fails(hydrocheck_cli("demo", "tandem", str(file)), "exists already")
    assert file.read_text(encoding="utf-8") == text
    copied = hydrocheck_cli("demo", "tandem", str(file), "--force", "--json")
    assert result_of(copied) == {"name": "tandem", "file": str(file)}
    assert file.read_text(encoding="utf-8") == demo.text("tandem")


def test_demo_of_an_unknown_name(hydrocheck_cli: Run, tmp_path: Path) -> None:
    fails(hydrocheck_cli("demo", "nope"), "no demo truck 'nope'; there are: tandem, single")
    fails(hydrocheck_cli("demo", "nope", str(tmp_path / "a")), "no demo truck")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("units", ["us", "metric"])
def test_defaults_fit_80_columns_and_none_is_missing(hydrocheck_cli: Run, units: str) -> None:
    text = hydrocheck_cli("defaults", "--units", units).stdout
    assert all(len(line) <= 80 for line in text.splitlines())
    for one in defaults():
        assert one.key.rpartition(".")[2] in text
    assert ("4 ft/s" in text) == (units == "us")
    assert ("1.22 m/s" in text) == (units == "metric")  # 4 x 0.3048


def test_defaults_as_json(hydrocheck_cli: Run) -> None:
    listed = result_of(hydrocheck_cli("defaults", "--json"))
    assert [one["key"] for one in listed] == [one.key for one in defaults()]
    by_key = {one["key"]: one for one in listed}
    assert by_key["oil.density"]["value"] == {"si": 870.0, "unit": "kg/m3", "shown": "870 kg/m3"}
    assert by_key["function.loop"]["value"] == "open"
    assert all(one["about"] and one["source"] for one in listed)


def test_schema_is_printed_written_and_wrapped(hydrocheck_cli: Run, tmp_path: Path) -> None:
    assert json.loads(hydrocheck_cli("schema").stdout) == schema()
    assert result_of(hydrocheck_cli("schema", "--json")) == schema()
    file = tmp_path / "schema.json"
    assert hydrocheck_cli("schema", str(file)).exit_code == 0
    assert json.loads(file.read_text()) == schema()
    fails(hydrocheck_cli("schema", str(file)), "exists already")
    assert hydrocheck_cli("schema", str(file), "--force").exit_code == 0


def test_new_then_check_in_a_process_of_its_own(tmp_path: Path) -> None:
    root = str(Path(demo.__file__).parents[2])
    path = os.pathsep.join(part for part in (root, os.environ.get("PYTHONPATH", "")) if part)

    def run(*args: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "hydrocheck", *args],
            capture_output=True,
            text=True,
            check=False,
            cwd=tmp_path,
            env=os.environ | {"LC_ALL": "C", "PYTHONPATH": path},
        )

    assert run("new", "my truck.toml").returncode == 0
    bad = (tmp_path / "my truck.toml").read_text().replace('# idle = "? rpm"', 'idle = "? rpm"  ')
    (tmp_path / "my truck.toml").write_text(bad)
    done = run("check", "my truck.toml")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("error: line ")
    assert "engine.idle: read '? rpm'" in done.stderr
    assert done.stderr.count("\n") == 1
