"""`hydrocheck heat`: options, exit codes, JSON, width, bad input."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from hydrocheck import demo

Run = Callable[..., Result]
NAMES = demo.names()


def document(result: Result) -> Any:
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)["result"]


def refused(result: Result, *words: str) -> None:
    """One line on standard error, exit code 2, nothing printed."""
    assert result.exit_code == 2
    assert result.stdout == ""
    line = result.stderr.splitlines()[-1]
    assert "Traceback" not in result.stderr
    for word in words:
        assert word in line


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", NAMES)
def test_every_demo_truck_in_80_columns(name: str, units: str, hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli("heat", "--demo", name, "--warm-up", "--units", units)
    assert result.exit_code == 0, result.stderr
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert result.stdout.isascii()
    assert "Warming from a cold start" in result.stdout
    if units == "metric":
        assert not any(unit in result.stdout for unit in ("degF", " hp", "Btu"))


def test_options_reach_the_study(hydrocheck_cli: Run) -> None:
    base = ("heat", "--demo", "tandem", "--json")
    plain = document(hydrocheck_cli(*base))
    assert plain["warm_up"] is None
    assert list(plain["duty"]) == ["spreading"]
    told = document(
        hydrocheck_cli(
            *base, "--duty", "spreading=70 %", "--duty", "spreading, plow lifted = 5 %",
            "--duty", "standby=25 %", "--ambient", "20 degF", "--engine", "1400 rpm",
            "--surface", "20 ft2", "--hoses", "--warm-up", "--start", "0 degF",
            "--metal", "300 lb",
        )
    )  # fmt: skip
    shares = [part["share"]["si"] for part in told["duty"].values()]
    assert shares == pytest.approx([0.7, 0.05, 0.25])
    assert {part["engine_speed"]["shown"] for part in told["duty"].values()} == {"1400 rpm"}
    assert told["ambient"]["si"] == [pytest.approx(266.4833, abs=1e-3)]
    surface = 30.0 * 0.3048**2 * 11.357  # the tank's: 30 ft2 at 2 Btu/(h ft2 F)
    assert told["conductance"]["si"] > plain["conductance"]["si"] + 0.6 * surface
    assert told["warm_up"]["start"]["shown"] == "0 degF"
    lighter = document(
        hydrocheck_cli(*base, "--scenario", "dump", "--warm-up", "--start", "0 degF")
    )
    assert list(lighter["duty"]) == ["dump"]


def test_a_truck_without_tank_says_what_it_needs(hydrocheck_cli: Run, tmp_path: Path) -> None:
    text = demo.path("tandem").read_text(encoding="utf-8")
    head, _, rest = text.partition("[reservoir]")
    bare = tmp_path / "bare.toml"
    bare.write_text(head + rest[rest.index("[spreading]") :], encoding="utf-8")
    refused(
        hydrocheck_cli("heat", str(bare)),
        "error: needs reservoir.area, reservoir.heat_transfer",
    )
    head, _, rest = text.partition("[ambient]")
    bare.write_text(head + rest[rest.index("[[pump]]") :], encoding="utf-8")
    refused(hydrocheck_cli("heat", str(bare)), "error: needs ambient.hottest")
    assert hydrocheck_cli("heat", str(bare), "--ambient", "10 degF").exit_code == 0
    head, _, rest = text.partition("[[scenario]]")
    bare.write_text(head, encoding="utf-8")
    refused(hydrocheck_cli("heat", str(bare)), "error: needs a [[scenario]]")


def test_the_figure_is_written_once(hydrocheck_cli: Run, tmp_path: Path) -> None:
    picture = tmp_path / "warm.png"
    args = ("heat", "--demo", "tandem", "--plot", str(picture))
    assert "Warming from a cold start" in hydrocheck_cli(*args).stdout
    assert picture.read_bytes().startswith(b"\x89PNG")
    refused(hydrocheck_cli(*args), "warm.png")
    assert hydrocheck_cli(*args, "--force").exit_code == 0
    refused(hydrocheck_cli(*args[:-1], str(tmp_path / "warm.bmp")), ".png")


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--scenario", "dump", "--duty", "dump=1"], "not both"),
        (["--scenario", "plowing"], "no scenario 'plowing'"),
        (["--duty", "spreading"], "write NAME=SHARE"),
        (["--duty", "=70 %"], "write NAME=SHARE"),
        (["--duty", "spreading=70"], "fraction"),
        (["--duty", "spreading=70 %"], "add up to 70 %"),
        (["--duty", "spreading=50 %", "--duty", "spreading=50 %"], "told twice"),
        (["--ambient", "20"], "degF"),
        (["--ambient", "900 degF"], "-50 to 150 degC"),
        (["--surface", "-1 ft2"], "an area cannot be negative"),
        (["--warm-up", "--metal", "-1 lb"], "a mass cannot be negative"),
        (["--warm-up", "--start", "-200 degF"], "oil at the start"),
    ],
)
def test_bad_input_is_one_line(args: list[str], words: str, hydrocheck_cli: Run) -> None:
    refused(hydrocheck_cli("heat", "--demo", "tandem", *args), words)
