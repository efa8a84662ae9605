"""`hydrocheck spread`: options, width, JSON, files, bad input."""

from __future__ import annotations

import json
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from hydrocheck import demo

Run = Callable[..., Result]

CATCHES = """setting [%], revolutions [rev], gross [lb], tare [lb], time [s]
40, 10, 55.2, 3.2, 20
40, 10, 54.2, 3.2, 20
40, 10, 56.2, 3.2, 20
"""
LOADS = "rate [lb/lane-mile], distance [mile], mass [lb]\n200, 2, 421\n"


def result_of(result: Result) -> Any:
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)["result"]


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", demo.names())
def test_every_demo_truck_in_80_columns(name: str, units: str, hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli("spread", "--demo", name, "--units", units)
    assert result.exit_code == 0, result.stderr
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert result.stdout.isascii()
    assert "rate held" in result.stdout


def test_options_reach_the_study(hydrocheck_cli: Run) -> None:
    told = ("--rate", "250 lb/lane-mile", "--speed", "20 mph", "--per-rev", "4 lb/rev")
    found = result_of(hydrocheck_cli("spread", "--demo", "tandem", *told, "--json"))["spread"]
    assert found["rates"]["si"] == pytest.approx([250 * 0.45359237 / 1609.344])
    assert found["road_speeds"]["si"] == pytest.approx([20 * 0.44704])
    # 250 x 20 / 60 lb/min at 4 lb/rev
    assert found["shaft_speed"]["si"][0][0] * 9.549297 == pytest.approx(250 * 20 / 60 / 4, rel=1e-5)


def test_an_area_rate_takes_the_width(hydrocheck_cli: Run) -> None:
    """1 g/m2 on 12 ft is 12.98 lb/lane-mile (arithmetic)."""
    base = ("spread", "--demo", "tandem", "--json", "--rate", "20 g/m2", "--speed", "20 mph")
    lane = result_of(hydrocheck_cli(*base))["spread"]["rates"]["si"][0]
    assert lane / 0.45359237 * 1609.344 == pytest.approx(20 * 12.98, rel=1e-3)
    wide = result_of(hydrocheck_cli(*base, "--width", "24 ft"))["spread"]["rates"]["si"][0]
    assert wide == pytest.approx(2 * lane)


def test_catch_and_loads(tmp_path: Path, hydrocheck_cli: Run) -> None:
    catch, loads = tmp_path / "c.csv", tmp_path / "l.csv"
    catch.write_text(CATCHES)
    loads.write_text(LOADS)
    told = ("spread", "--demo", "tandem", "--catch", str(catch), "--loads", str(loads))
    found = result_of(hydrocheck_cli(*told, "--json"))
    assert found["catch"]["mean"]["shown"] == "5.20 lb/rev"
    assert found["spread"]["mass_per_turn"]["shown"] == "5.20 lb/rev"
    assert found["loads"]["total_error"]["si"] == pytest.approx(0.0525)
    text = hydrocheck_cli(*told).stdout
    assert "Calibration in lb/lane-mile" in text
    assert "Not every load" in text
    assert max(map(len, text.splitlines())) <= 80
    alone = hydrocheck_cli("spread", "--demo", "tandem", "--loads", str(loads)).stdout
    assert "Spread rates" not in alone


PANS = "across [ft], depth [in]\n-12, 0\n-6, 2\n0, 4\n6, 2\n12, 0\n"


def test_pans_and_materials(tmp_path: Path, hydrocheck_cli: Run) -> None:
    """4 in in the middle, 2 in at 6 ft: an effective swath of 12 ft (Ohio State bulletin 817)."""
    pans = tmp_path / "p.csv"
    pans.write_text(PANS)
    told = ("spread", "--demo", "tandem", "--pans", str(pans), "--materials")
    found = result_of(hydrocheck_cli(*told, "--json"))
    assert found["pans"]["swath"]["shown"] == "12.0 ft"
    assert found["pans"]["reached"] == [True, True]
    assert found["pans"]["within_lanes"]["si"] == pytest.approx(0.75)  # of a triangle of 24 ft
    assert found["pans"]["left_share"]["si"] == pytest.approx(0.5)
    assert len(found["materials"]) == 7
    text = hydrocheck_cli(*told).stdout
    assert max(map(len, text.splitlines())) <= 80
    assert "Spread rates" not in text
    pans.write_text("across [ft], depth [in], mass [lb]\n0, 1,\n1, , 2\n2, 1,\n")
    result = hydrocheck_cli(*told)
    assert result.exit_code == 2
    assert "give mass or depth" in result.stderr


def test_an_unusual_density_is_said(tmp_path: Path, hydrocheck_cli: Run) -> None:
    truck = tmp_path / "t.toml"
    truck.write_text(demo.text("tandem").replace('"72 lb/ft3"', '"128 lb/ft3"'))
    text = " ".join(hydrocheck_cli("spread", str(truck)).stdout.split())
    assert "Caution: Bulk density 128.0 lb/ft3, outside what is usual for road salt" in text
    assert "Caution: Bulk" not in hydrocheck_cli("spread", "--demo", "tandem").stdout


class Tags(HTMLParser):
    """Collects cells and checks that tags close in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.cells = 0

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag not in ("meta", "br"):
            self.open.append(tag)
        self.cells += tag == "td"

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_card_and_figure_are_written_once(tmp_path: Path, hydrocheck_cli: Run) -> None:
    card, plot = tmp_path / "card.html", tmp_path / "s.svg"
    told = ("spread", "--demo", "tandem", "--card", str(card), "--plot", str(plot))
    assert hydrocheck_cli(*told).exit_code == 0
    tags = Tags()
    tags.feed(card.read_text())
    assert tags.open == []
    assert tags.cells == 12  # 4 rates at 3 road speeds
    assert "http" not in card.read_text()
    assert "204 % laid, minimum trim" in card.read_text()
    drawn = plot.read_text()
    assert "<svg" in drawn
    again = hydrocheck_cli(*told)
    assert again.exit_code == 2
    assert "--force" in again.stderr


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (("--rate", "200 lb/two-lane mile"), "per lane"),
        (("--rate", "20 gal/lane-mile"), "liquid rate"),
        (("--rate", "0 lb/lane-mile"), "--rate: must be above zero"),
        (("--speed", "0 mph"), "--speed: must be above zero"),
        (("--speed", "25"), "no unit"),
        (("--width", "0 ft"), "--width"),
        (("--per-rev", "5 lb"), "lb/rev"),
        (("--scenario", "dump"), "no hydraulic feeder runs"),
        (("--scenario", "none"), "no scenario"),
        (("--catch", "missing.csv"), "cannot be read"),
        (("--plot", "x.gif"), ".png"),
    ],
)
def test_bad_input_is_one_line(told: tuple[str, ...], words: str, hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli("spread", "--demo", "tandem", *told)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert words in result.stderr
    assert "Traceback" not in result.stderr
