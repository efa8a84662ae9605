"""`hydrocheck size`: options, files, exit codes, JSON, width, bad input."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from hydrocheck import demo
from hydrocheck.checks import inspect
from hydrocheck.model import read_truck

Run = Callable[..., Result]


def few_sizes(text: str) -> str:
    """The built-in needs with fewer choices, so that a run is short."""
    text = text.replace('type = "any"', 'type = "load sensing"\ndisplacements = ["80 cm3/rev"]')
    text = text.replace('["2500 psi", "3000 psi"]', '["3000 psi"]')
    for name, size in (("auger", 315), ("spinner", 40), ("liquid", 5)):
        line = f'name = "{name}"\n'
        text = text.replace(line, f'{line}displacements = ["{size} cm3/rev"]\n', 1)
    return text


@pytest.fixture
def needs(tmp_path: Path) -> str:
    path = tmp_path / "needs.toml"
    path.write_text(
        few_sizes(demo.needs_path("patrol").read_text(encoding="utf-8")), encoding="utf-8"
    )
    return str(path)


def refused(result: Result, *words: str) -> None:
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    for word in words:
        assert word in result.stderr


@pytest.mark.parametrize("units", ["us", "metric"])
def test_text_in_80_columns(needs: str, units: str, hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli("size", needs, "--explain", "--units", units)
    assert result.exit_code == 0, result.stderr
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert result.stdout.isascii()
    for words in ("solved in full", "Best circuits", "One step away", "Hand calculation",
                  "ruled out by formulas", "Assumed of a piston pump"):  # fmt: skip
        assert words in " ".join(result.stdout.split())
    if units == "metric":
        assert not any(unit in result.stdout for unit in ("in3/rev", " hp", "degF", "gal/min"))


def test_files_are_whole_and_kept(needs: str, tmp_path: Path, hydrocheck_cli: Run) -> None:
    names = {"-o": "t.toml", "--page": "p.html", "--bill": "b.csv", "--plot": "f.svg",
             "--budget": "q.png"}  # fmt: skip
    files = [word for option, name in names.items() for word in (option, str(tmp_path / name))]
    result = hydrocheck_cli("size", needs, *files)
    assert result.exit_code == 0, result.stderr
    assert [f for f in inspect(read_truck(tmp_path / "t.toml")) if f.verdict == "fail"] == []
    page = (tmp_path / "p.html").read_text(encoding="utf-8")
    for words in ("<h2>2. Sizes</h2>", "<svg", "Alder Fork 31", "load sensing", "ruled by"):
        assert words in page
    rows = list(csv.DictReader((tmp_path / "b.csv").read_text(encoding="utf-8").splitlines()))
    assert {"pump and drive", "auger", "hoses"} <= {row["group"] for row in rows}
    assert all(row["size"] and row["ruled by"] for row in rows)
    assert (tmp_path / "q.png").read_bytes().startswith(b"\x89PNG")
    assert b"<svg" in (tmp_path / "f.svg").read_bytes()
    before = (tmp_path / "b.csv").read_bytes()
    refused(hydrocheck_cli("size", needs, "--bill", str(tmp_path / "b.csv")), "exists already")
    assert (tmp_path / "b.csv").read_bytes() == before
    again = hydrocheck_cli("size", needs, "--bill", str(tmp_path / "b.csv"), "--force")
    assert again.exit_code == 0
    assert (tmp_path / "b.csv").read_bytes() == before


def test_json(needs: str, hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli("size", needs, "--json")
    assert result.exit_code == 0, result.stderr
    document: dict[str, Any] = json.loads(result.stdout)
    assert document["command"] == "size"
    assert "auger.line" in document["defaults_used"]
    found = document["result"]
    assert found["needs"].startswith("Alder Fork 31")
    assert found["count"]["combinations"] == 3
    assert found["ranked"][0]["place"] == 1
    assert found["ranked"][0]["pump"]["unit"] == "m3/rad"
    taken = found["taken"]
    assert {item["group"] for item in taken["bill"]} >= {"settings", "oil"}
    assert all(step["source"] for step in taken["hand_calculation"])
    assert taken["check"]["counts"]["fail"] == 0


def test_a_needs_file_to_start_from(tmp_path: Path, hydrocheck_cli: Run) -> None:
    path = tmp_path / "mine.toml"
    result = hydrocheck_cli("size", "--demo", "brine", "--start", str(path))
    assert result.exit_code == 0
    assert path.read_text(encoding="utf-8") == demo.needs_path("brine").read_text(encoding="utf-8")
    refused(hydrocheck_cli("size", "--demo", "brine", "--start", str(path)), "exists already")


def test_schema_and_defaults_of_the_needs_file(hydrocheck_cli: Run) -> None:
    schema = json.loads(hydrocheck_cli("schema", "--needs").stdout)
    assert {"engine", "function", "margins", "pump"} <= set(schema["properties"])
    refused(hydrocheck_cli("schema", "--needs", "--readings"), "not both")
    listed = json.loads(hydrocheck_cli("defaults", "--needs", "--json").stdout)["result"]
    keys = {one["key"] for one in listed}
    assert {"margins.flow", "function.line", "tank.dwell"} <= keys
    assert "pump.viscous_slip_share" not in keys


@pytest.mark.parametrize("name", demo.needs_names())
def test_built_in_needs_are_filled(name: str, tmp_path: Path, hydrocheck_cli: Run) -> None:
    out = tmp_path / "t.toml"
    result = hydrocheck_cli("size", "--demo", name, "-o", str(out))
    assert result.exit_code == 0, result.stderr
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert hydrocheck_cli("check", str(out)).exit_code == 0


def test_nothing_fits(needs: str, tmp_path: Path, hydrocheck_cli: Run) -> None:
    text = Path(needs).read_text(encoding="utf-8").replace('"150 hp"', '"100 hp"')
    Path(needs).write_text(text, encoding="utf-8")
    out = tmp_path / "t.toml"
    result = hydrocheck_cli("size", needs, "-o", str(out))
    assert result.exit_code == 1
    assert "Nothing fits" in result.stdout
    assert "power rating of the drive" in result.stdout
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert not out.exists()


def test_shelf(needs: str, tmp_path: Path, hydrocheck_cli: Run) -> None:
    shelf = tmp_path / "shelf.csv"
    shelf.write_text(
        "part, build, name, displacement [cm3/rev], max_pressure [psi], price\n"
        "pump, piston, P 80, 80, 3600, 1700\nmotor, orbit, M 315, 315, 3600, 410\n"
        "motor, orbit, M 40, 40, 3600, 260\nmotor, gear, G 5, 5, 3600, 150\n",
        encoding="utf-8",
    )
    result = hydrocheck_cli("size", needs, "--shelf", str(shelf))
    assert result.exit_code == 0, result.stderr
    assert "P 80" in result.stdout
    assert "price: sum of the parts' prices" in result.stdout
    shelf.write_text("part, build\npump, piston\n", encoding="utf-8")
    refused(hydrocheck_cli("size", needs, "--shelf", str(shelf)), "no column displacement")


def test_bad_input(needs: str, tmp_path: Path, hydrocheck_cli: Run) -> None:
    refused(hydrocheck_cli("size", "no such.toml"), "cannot be read")
    refused(hydrocheck_cli("size", needs, "--demo", "patrol"), "not both")
    refused(hydrocheck_cli("size", "--demo", "nothing"), "there are: patrol")
    refused(hydrocheck_cli("size", needs, "--place", "25"), "only")
    twice = str(tmp_path / "same.html")
    refused(hydrocheck_cli("size", needs, "--page", twice, "-o", twice), "named twice")
    wrong = ("-o", str(tmp_path / "t.toml"), "--plot", str(tmp_path / "f.xyz"))
    refused(hydrocheck_cli("size", needs, *wrong), "written as")
    assert not (tmp_path / "t.toml").exists()
    truck = str(demo.path("tandem"))
    refused(hydrocheck_cli("size", truck), "unknown key")
