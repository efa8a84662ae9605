"""`hydrocheck throw`: options, exit codes, JSON, width, bad input, the figure."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from math import pi
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from hydrocheck import demo

Run = Callable[..., Result]


def document(result: Result) -> Any:
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)["result"]


def refused(result: Result, *words: str) -> None:
    """One line on standard error, exit code 2, nothing printed."""
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    for word in words:
        assert word in result.stderr.splitlines()[-1]


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", demo.names())
def test_every_demo_truck_in_80_columns(name: str, units: str, hydrocheck_cli: Run) -> None:
    tilted = ("--tilt", "3 deg", "--high-side", "left") if name == "single" else ()
    result = hydrocheck_cli("throw", "--demo", name, "--units", units, *tilted)
    assert result.exit_code == 0, result.stderr
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert result.stdout.isascii()
    assert "nan" not in result.stdout
    words = " ".join(result.stdout.split())
    assert "An estimate, to be confirmed on the ground" in words
    assert "Stay clear: at 150 to 900 rpm grains leave a disc of this size" in words
    if units == "metric":
        assert not re.search(r"[0-9] (ft|in|mph)\b|degF|\b(ft|mph)\b", result.stdout)


def test_the_speed_of_leaving_is_computed_for_the_disc(hydrocheck_cli: Run) -> None:
    # Computed for discs of this size: about 5 to 35 m/s at 150 to 900 rev/min.
    said = document(hydrocheck_cli("throw", "--demo", "tandem", "--units", "metric", "--json"))
    assert "at about 5 to 29 m/s (computed)" in said["stay_clear"]
    assert said["exit_speed"]["unit"] == "m/s"


def test_options_reach_the_study(hydrocheck_cli: Run) -> None:
    base = ("throw", "--demo", "tandem", "--json")
    plain = document(hydrocheck_cli(*base))
    assert plain["lanes"] == 1
    assert plain["needed_speed"]["shown"] == "320 rpm"
    assert plain["ordered"][0]["speed"]["si"] == pytest.approx(350 * pi / 30)
    told = document(
        hydrocheck_cli(
            *base, "--spinner", "spinner", "--width", "24 ft", "--road-speed", "20 mph", "--air",
            "10 degF", "--height", "20 in", "--tilt", "2 deg", "--high-side", "right",
            "--exit-elevation", "4 deg",
        )
    )  # fmt: skip
    assert told["lanes"] is None
    assert told["wanted_width"]["shown"] == "24.0 ft"
    assert told["disc"]["height"]["shown"] == "20.00 in"
    assert told["disc"]["tilt"]["shown"] == "2.00 deg"
    assert told["disc"]["elevation"]["shown"] == "4.00 deg"
    assert told["road_speed"]["shown"] == "20.0 mph"
    assert told["air"]["shown"] == "10 degF"
    assert told["right"]["si"][-1] > told["left"]["si"][-1]
    size = len(told["speed"]["si"])
    for key in ("width", "low", "high", "left", "right", "exit_speed", "numerical_error"):
        assert len(told[key]["si"]) == size
    assert max(told["numerical_error"]["si"][3:]) <= 1e-4


def test_a_truck_without_a_disc_says_what_it_needs(hydrocheck_cli: Run, tmp_path: Path) -> None:
    text = demo.text("tandem")
    head, _, rest = text.partition("[function.disc]")
    bare = tmp_path / "bare.toml"
    bare.write_text(head + rest[rest.index("[function.trims]") :], encoding="utf-8")
    refused(
        hydrocheck_cli("throw", str(bare)),
        "error: needs spinner.disc.height, spinner.disc.tilt, spinner.disc.exit_elevation",
    )
    told = ("--height", "18 in", "--tilt", "0 deg", "--exit-elevation", "0 deg")
    assert hydrocheck_cli("throw", str(bare), *told).exit_code == 0
    refused(hydrocheck_cli("throw", str(bare), *told[:3], "1 deg", *told[4:]), "disc.high_side")


def test_the_figure_is_written_once(hydrocheck_cli: Run, tmp_path: Path) -> None:
    picture = tmp_path / "throw.png"
    args = ("throw", "--demo", "tandem", "--plot", str(picture))
    assert "Throw of Alder Fork 27" in hydrocheck_cli(*args).stdout
    assert picture.read_bytes().startswith(b"\x89PNG")
    refused(hydrocheck_cli(*args), "throw.png")
    assert hydrocheck_cli(*args, "--force").exit_code == 0
    refused(hydrocheck_cli(*args[:-1], str(tmp_path / "throw.bmp")), ".png")


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--spinner", "auger"], "'auger' is a feeder, no spinner"),
        (["--spinner", "disc"], "no function 'disc'"),
        (["--width", "24"], "ft"),
        (["--width", "0 ft"], "width to cover must be above 0"),
        (["--width", "-3 ft"], "width on the road cannot be negative"),
        (["--width", "500 ft"], "at most 40 m"),
        (["--road-speed", "25"], "mph"),
        (["--road-speed", "-1 mph"], "negative"),
        (["--road-speed", "900 mph"], "road speed"),
        (["--air", "20"], "degF"),
        (["--air", "900 degF"], "air temperature"),
        (["--height", "0 in"], "height"),
        (["--height", "-5 in"], "height"),
        (["--height", "9 mi"], "height"),
        (["--tilt", "50 deg"], "--tilt '50 deg': from 0 to 45 degrees fits"),
        (["--tilt", "-1 deg"], "from 0 to 45"),
        (["--tilt", "3"], "deg"),
        (["--exit-elevation", "70 deg"], "from -60 to 60"),
        (["--tilt", "3 deg"], "needs spinner.disc.high_side"),
    ],
)
def test_bad_input_is_one_line(args: list[str], words: str, hydrocheck_cli: Run) -> None:
    refused(hydrocheck_cli("throw", "--demo", "tandem", *args), words)
