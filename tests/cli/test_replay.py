"""`hydrocheck replay` and the demo route: options, width, CSV, fleet, bad input."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from hydrocheck import demo

Run = Callable[..., Result]


@pytest.fixture
def route(tmp_path: Path, hydrocheck_cli: Run) -> str:
    path = str(tmp_path / "route.csv")
    result = hydrocheck_cli("demo", "tandem", "--route", path)
    assert result.exit_code == 0, result.stderr
    return path


def result_of(result: Result) -> Any:
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)["result"]


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", demo.names())
def test_every_demo_truck_in_80_columns(
    name: str, units: str, tmp_path: Path, hydrocheck_cli: Run
) -> None:
    path = str(tmp_path / "route.csv")
    assert hydrocheck_cli("demo", name, "--route", path).exit_code == 0
    result = hydrocheck_cli("replay", "--demo", name, path, "--units", units)
    assert result.exit_code == 0, result.stderr
    lines = result.stdout.splitlines()
    assert max(len(line) for line in lines if "route.csv" not in line) <= 80
    assert result.stdout.isascii()
    assert "put down" in result.stdout


def test_rows_and_figure(route: str, tmp_path: Path, hydrocheck_cli: Run) -> None:
    rows, plot = tmp_path / "rows.csv", tmp_path / "r.svg"
    told = ("replay", "--demo", "tandem", route, "--rows", str(rows), "--plot", str(plot))
    found = result_of(hydrocheck_cli(*told, "--json"))["logs"][0]
    with rows.open() as file:
        read = list(csv.DictReader(file))
    assert len(read) == found["rows_used"] == 1200
    assert [int(r["line"]) for r in read] == list(range(2, 1202))
    short = [r for r in read if r["short"] == "1"]
    assert len(short) == found["short_rows"]
    assert {r["starved"] for r in short} == {"auger"}
    # Half a second a row: the rows' discharge makes the sum.
    mass = sum(float(r["discharge [lb/min]"]) for r in read[:-1]) / 120.0
    assert mass == pytest.approx(found["put_down"]["si"] / 0.45359237, rel=1e-4)
    assert "<svg" in plot.read_text()
    assert hydrocheck_cli(*told).exit_code == 2  # both exist


def test_metric_rows(route: str, tmp_path: Path, hydrocheck_cli: Run) -> None:
    rows = tmp_path / "rows.csv"
    told = ("replay", "--demo", "tandem", route, "--rows", str(rows), "--units", "metric")
    assert hydrocheck_cli(*told).exit_code == 0
    with rows.open() as file:
        first = next(csv.DictReader(file))
    assert first["oil temperature [degC]"] == "43.3"
    assert first["laid rate [kg/lane-km]"] == ""  # at rest


def test_fleet(route: str, tmp_path: Path, hydrocheck_cli: Run) -> None:
    other = tmp_path / "other.csv"
    other.write_text("time_s,engine_rpm,road_speed_kmh\n0,1300,40\n1,1300,40\nx,1,1\n")
    result = hydrocheck_cli("replay", "--demo", "tandem", route, str(other))
    assert result.exit_code == 0, result.stderr
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert "All together" in result.stdout
    logs = result_of(hydrocheck_cli("replay", "--demo", "tandem", route, str(other), "--json"))
    assert [log["rows_left_out"] for log in logs["logs"]] == [0, 1]


def test_a_log_that_cannot_be_used_does_not_hide_the_others(
    route: str, tmp_path: Path, hydrocheck_cli: Run
) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text("a,b\n1,2\n")
    result = hydrocheck_cli("replay", "--demo", "tandem", str(bad), route, "none.csv")
    assert result.exit_code == 2
    assert "All together" in result.stdout
    assert "bad.csv: time: no such column" in result.stderr
    assert "none.csv" in result.stderr
    assert "Traceback" not in result.stderr


def test_a_clock_is_shown_as_one(tmp_path: Path, hydrocheck_cli: Run) -> None:
    log = tmp_path / "l.csv"
    head = "timestamp,engine speed [rpm],road speed [mph]\n"
    log.write_text(f"{head}2026-01-05T03:30:00,700,30\n2026-01-05T03:30:01,700,30\n")
    text = hydrocheck_cli("replay", "--demo", "tandem", str(log)).stdout
    assert "from 2026-01-05 03:30:00 on" in text


def test_bad_rows_are_shown(tmp_path: Path, hydrocheck_cli: Run) -> None:
    log = tmp_path / "l.csv"
    good = "".join(f"{t},1300,30\n" for t in range(5))
    log.write_text(f"time [s],engine speed [rpm],road speed [mph]\n{good}4,1300,30\nfive,1,1\n")
    text = hydrocheck_cli("replay", "--demo", "tandem", str(log)).stdout
    assert "Left out: 2 of 7 rows" in text
    assert "line 7: time does not rise" in " ".join(text.split())
    assert "line 8: time: 'five' is no number" in " ".join(text.split())


def test_columns_by_option_and_a_truck_file(tmp_path: Path, hydrocheck_cli: Run) -> None:
    log, truck = tmp_path / "l.csv", tmp_path / "t.toml"
    truck.write_text(demo.text("tandem"))
    log.write_text("stamp;EngSpd;wheels\n0;1300;48\n1;1300;48\n")
    told = ["--column", "time=stamp [s]", "--column", "engine=EngSpd [rpm]"]
    told += ["--column", "road=wheels [km/h]", "--rate", "100 kg/lane-km", "--tolerance", "10 %"]
    found = result_of(hydrocheck_cli("replay", str(truck), str(log), *told, "--json"))["logs"][0]
    assert found["ordered"]["si"] == pytest.approx(48 / 3.6 * 0.1)
    assert found["tolerance"]["si"] == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ((), "give a log"),
        (("none.csv",), "cannot be read"),
        (("{log}", "--column", "engine"), "ROLE=HEADER"),
        (("{log}", "--column", "wheels=x [mph]"), "the roles are time, engine"),
        (("{log}", "--column", "engine=x [rpm]"), "no column 'x'"),
        (("{log}", "--rate", "100"), "no unit"),
        (("{log}", "--tolerance", "100 %"), "--tolerance"),
        (("{log}", "--scenario", "dump"), "no hydraulic feeder"),
        (("{log}", "{log}", "--plot", "x.png"), "take one log"),
        (("{log}", "--plot", "x.gif"), ".png"),
    ],
)
def test_bad_input_is_one_line(
    told: tuple[str, ...], words: str, route: str, hydrocheck_cli: Run
) -> None:
    given = [part.format(log=route) for part in told]
    result = hydrocheck_cli("replay", "--demo", "tandem", *given)
    assert result.exit_code == 2
    assert words in result.stderr
    assert "Traceback" not in result.stderr


def test_the_same_route_every_time(tmp_path: Path, hydrocheck_cli: Run) -> None:
    paths = [tmp_path / name for name in ("a.csv", "b.csv")]
    for path in paths:
        assert hydrocheck_cli("demo", "single", "--route", str(path)).exit_code == 0
    assert paths[0].read_text() == paths[1].read_text()
    assert hydrocheck_cli("demo", "single", "--route", str(paths[0])).exit_code == 2
    assert hydrocheck_cli("demo", "--route", str(tmp_path / "c.csv")).exit_code == 2
