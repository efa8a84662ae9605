"""check, budget, solve and explain: exit codes, JSON, width, encodings, bad input."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from hydrocheck import demo
from hydrocheck.checks import REGISTRY

Run = Callable[..., Result]
TRUCKS = {name: demo.load(name) for name in demo.names()}
EVERY = [
    (command, name)
    for name in TRUCKS
    for command in ("check", "check --all", "budget", "solve")
]  # fmt: skip


def refused(result: Result, *words: str) -> str:
    """One line on standard error, exit code 2, nothing printed."""
    assert result.exit_code == 2
    assert result.stdout == ""
    (line,) = result.stderr.splitlines()
    assert line.startswith("error: ")
    for word in words:
        assert word in line
    return line


def document(result: Result) -> Any:
    assert result.stderr == ""
    return json.loads(result.stdout)


# -- exit codes ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", TRUCKS)
def test_check_ends_with_1_where_something_fails(name: str, hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli("check", "--demo", name)
    assert result.exit_code == (1 if name == "mistakes" else 0)
    assert ("FAIL" in result.stdout) == (name == "mistakes")
    assert hydrocheck_cli("check", "--demo", name, "--json").exit_code == result.exit_code


def test_check_of_some_findings_only(hydrocheck_cli: Run) -> None:
    args = ("check", "--demo", "mistakes", "--json", "--only")
    passing = hydrocheck_cli(*args, "pump-overspeed", "--only", "viscosity-hot")
    assert passing.exit_code == 0
    ids = [f["id"] for f in document(passing)["result"]["findings"]]
    assert sorted(ids) == ["pump-overspeed", "viscosity-hot"]
    assert hydrocheck_cli(*args, "suction-velocity").exit_code == 1
    line = refused(hydrocheck_cli(*args, "suction-speed"), "suction-speed")
    assert "explain" in line


def test_the_other_commands_end_with_0(hydrocheck_cli: Run) -> None:
    for args in (["budget"], ["solve"], ["explain"], ["explain", "flow-demand"]):
        assert hydrocheck_cli(*args).exit_code == 0


# -- JSON ------------------------------------------------------------------------------------------


def quantities(value: Any) -> Iterator[dict[str, Any]]:
    """Every scalar quantity in a document."""
    if isinstance(value, dict):
        if "shown" in value:
            yield value
        for item in value.values():
            yield from quantities(item)
    elif isinstance(value, list):
        for item in value:
            yield from quantities(item)


@pytest.mark.parametrize("name", TRUCKS)
@pytest.mark.parametrize("command", ["check", "budget", "solve"])
def test_the_envelope_and_its_quantities(command: str, name: str, hydrocheck_cli: Run) -> None:
    us, metric = (
        document(hydrocheck_cli(command, "--demo", name, "--json", "--units", units))
        for units in ("us", "metric")
    )
    assert list(us) == ["schema", "command", "truck", "defaults_used", "result"]
    assert (us["schema"], us["command"], us["truck"]) == (1, command, f"demo {name}")
    assert us["defaults_used"] == sorted(set(us["defaults_used"])) == metric["defaults_used"]
    pairs = list(zip(quantities(us), quantities(metric), strict=True))
    assert len(pairs) > 2 or command == "budget"
    differ = 0
    for one, other in pairs:
        assert list(one) == ["si", "unit", "shown"]
        assert isinstance(one["si"], int | float)
        assert (one["si"], one["unit"]) == (other["si"], other["unit"])
        differ += one["shown"] != other["shown"]
    assert differ > 0


def test_explain_as_json(hydrocheck_cli: Run) -> None:
    everything = document(hydrocheck_cli("explain", "--json"))
    assert [one["id"] for one in everything["result"]] == list(REGISTRY)
    assert everything["truck"] is None
    one = document(hydrocheck_cli("explain", "pump-inlet", "--json"))["result"]
    assert list(one) == ["id", "asks", "formula", "limit", "source", "area", "example"]


@pytest.mark.parametrize("name", REGISTRY)
def test_every_check_has_an_example_in_numbers(name: str, hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli("explain", name, "--json")
    example = document(result)["result"]["example"]
    assert example["verdict"] != "not checked"
    assert example["truck"].startswith("Alder Fork ")
    if name not in NO_NUMBER:
        assert example["value"] is not None
        assert example["limit"] is not None


NO_NUMBER = {"absent-liquid-zero", "cleanliness"}  # words are judged, not numbers


def test_the_table_of_findings_in_the_developers_page_is_the_registry(hydrocheck_cli: Run) -> None:
    page = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    block = page.partition("<!-- findings -->\n")[2].partition("<!-- end findings -->")[0]
    assert block == hydrocheck_cli("explain", "--markdown").stdout


def test_one_area_only(hydrocheck_cli: Run) -> None:
    args = ("check", "--demo", "mistakes", "--json", "--area", "pressure ladder")
    found = document(hydrocheck_cli(*args))["result"]["findings"]
    assert {f["area"] for f in found} == {"pressure ladder"}
    assert len(found) > 5
    line = refused(hydrocheck_cli(*args, "--area", "cab"), "no area 'cab'")
    assert "pressure ladder" in line


def test_explain_shows_a_check_and_offers_near_names(hydrocheck_cli: Run) -> None:
    text = hydrocheck_cli("explain", "compensator-relief").stdout
    assert "compensator + gap <= cracking pressure of the relief" in text
    refused(hydrocheck_cli("explain", "compensator-releif"), "did you mean compensator-relief")
    refused(hydrocheck_cli("explain", "zzz\x1b[31m"), "`hydrocheck explain` lists them")


# -- text ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize(("command", "name"), EVERY)
def test_no_line_is_wider_than_80(command: str, name: str, units: str, hydrocheck_cli: Run) -> None:
    for scenario in TRUCKS[name].scenario:
        args = [] if command.startswith("check") else ["--scenario", scenario.name]
        text = hydrocheck_cli(*command.split(), "--demo", name, "--units", units, *args).stdout
        assert max(map(len, text.splitlines())) <= 80
        assert text.isascii()
        if units == "metric" and args:  # the sources of checks speak of psi
            assert not any(unit in text for unit in (" psi", "gal/min", " in3/rev", "degF", " hp"))
        if args == []:
            break


def test_explain_fits_80_columns(hydrocheck_cli: Run) -> None:
    texts = [hydrocheck_cli("explain").stdout]
    texts += [hydrocheck_cli("explain", name).stdout for name in REGISTRY]
    assert all(len(line) <= 80 for text in texts for line in text.splitlines())


def process(*args: str, cwd: Path, **environ: str) -> subprocess.CompletedProcess[bytes]:
    clean = {k: v for k, v in os.environ.items() if k not in ("LC_ALL", "LC_CTYPE", "LANG")}
    path = os.pathsep.join(sys.path)
    return subprocess.run(
        [sys.executable, "-m", "hydrocheck", *args],
        capture_output=True, cwd=cwd, env={**clean, "PYTHONPATH": path, **environ}, check=False,
    )  # fmt: skip


ODD = "Truck {x} {0!r} %s $a^{b \\u00e9\\u2264"


@pytest.fixture(scope="module")
def odd_truck(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The truck with mistakes under names that try to break formatting."""
    text = demo.text("mistakes")
    text = text.replace("Alder Fork 9, single-axle truck with mistakes", ODD + " long" * 30)
    text = text.replace('name = "plow lift"', f'name = "plow {ODD}"')
    text = text.replace('name = "main relief"', 'name = "{main} relief {0}"')
    text = text.replace('"spinner"', '"spin {x}"', 2).replace(
        '"auger", "spinner"', '"auger", "spin {x}"'
    )
    text = text.replace("spinner = {", '"spin {x}" = {').replace(
        'kind = "spin {x}"', 'kind = "spinner"'
    )
    path = tmp_path_factory.mktemp("odd") / "odd {y}.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("as_json", [False, True], ids=["text", "json"])
@pytest.mark.parametrize("command", ["check", "budget", "solve"])
def test_odd_names_neither_break_nor_steer_the_output(
    command: str, as_json: bool, odd_truck: Path, hydrocheck_cli: Run
) -> None:
    result = hydrocheck_cli(command, str(odd_truck), *(["--json"] if as_json else []))
    assert result.exit_code == (1 if command == "check" else 0), result.stderr
    assert "spin {x}" in result.stdout
    if as_json:
        assert document(result)["truck"].endswith("odd {y}.toml")
    else:
        assert max(map(len, result.stdout.splitlines())) <= 80
        assert "Truck {x} {0!r} %s $a^{b" in " ".join(result.stdout.split())


def test_names_that_steer_a_terminal_are_refused(tmp_path: Path, hydrocheck_cli: Run) -> None:
    path = tmp_path / "truck.toml"
    path.write_text(demo.text("single").replace('"spreading"', '"a\\u001b[31mb"'))
    for command in ("check", "budget", "solve"):
        line = refused(hydrocheck_cli(command, str(path)), "control character")
        assert line.isprintable()


def test_ascii_under_a_c_locale(odd_truck: Path, tmp_path: Path) -> None:
    done = process("check", str(odd_truck), cwd=tmp_path, LC_ALL="C")
    assert (done.returncode, done.stderr) == (1, b"")
    assert done.stdout.isascii()
    assert b"<=" in done.stdout.split(b"\n")[0]  # of a name, which holds the sign
    rich = process("check", str(odd_truck), cwd=tmp_path, LC_ALL="C.UTF-8", PYTHONUTF8="1")
    assert "\u2264" in rich.stdout.decode()


def test_a_process_ends_with_the_code_and_without_a_traceback(tmp_path: Path) -> None:
    for args, code in (
        (["check", "--demo", "mistakes"], 1),
        (["budget", "--demo", "single"], 0),
        (["budget", "--demo", "single", "--scenario", "no such"], 2),
        (["check", "missing.toml"], 2),
    ):
        done = process(*args, cwd=tmp_path)
        assert done.returncode == code, args
        assert b"Traceback" not in done.stderr
        assert (done.stderr != b"") == (code == 2)


# -- bad input -------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["budget", "solve"])
@pytest.mark.parametrize("name", ["no such", "{x}", "", "Spreading"])
def test_an_unknown_scenario_says_which_there_are(
    command: str, name: str, hydrocheck_cli: Run
) -> None:
    result = hydrocheck_cli(command, "--demo", "tandem", "--scenario", name)
    refused(result, f"no scenario '{name}'", "the truck has: spreading")


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--speed", "blower=60 rpm"], ["no function 'blower'", "auger, spinner"]),
        (["--speed", "auger=60"], ["rpm"]),
        (["--speed", "auger=60 psi"], ["rpm"]),
        (["--speed", "auger"], ["NAME=VALUE"]),
        (["--speed", "=60 rpm"], ["NAME=VALUE"]),
        (["--speed", "plow=60 rpm"], ["plow: a speed fits a function with a motor"]),
        (["--speed", "auger=-60 rpm"], ["out of range"]),
        (["--command", "auger=140 %"], ["out of range"]),
        (["--command", "auger=50 %", "--flow", "auger=5 gpm"], ["auger is told twice"]),
        (["--engine", "fast"], ["fast"]),
        (["--engine", "-100 rpm"], ["engine"]),
        (["--engine", "0x10 rpm"], ["0x10 rpm"]),
        (["--oil", "110"], ["degF"]),
        (["--oil", "-600 degF"], []),
        (["--flow", "auger={x} gpm"], ["{x}"]),
        (["--flow", "\x1b[31m=5 gpm"], ["no function"]),
    ],
)  # fmt: skip
def test_what_solve_cannot_take_is_one_line(
    args: list[str], words: list[str], hydrocheck_cli: Run
) -> None:
    line = refused(hydrocheck_cli("solve", "--demo", "tandem", *args), *words)
    assert line.isprintable()


def test_a_function_that_the_truck_lacks_is_not_passed_over(hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli("solve", "--demo", "single", "--speed", "liquid=900 rpm")
    refused(result, "'liquid' is not fitted")


@pytest.mark.parametrize("oil", ["hot", "110 psi", "-600 degF", "1e999 degF", ""])
def test_an_oil_temperature_that_is_none(oil: str, hydrocheck_cli: Run) -> None:
    refused(hydrocheck_cli("budget", "--demo", "tandem", "--oil", oil))


def test_a_truck_without_scenarios(tmp_path: Path, hydrocheck_cli: Run) -> None:
    text = demo.text("tandem")
    bare = tmp_path / "bare.toml"
    bare.write_text(text[: text.index("[[scenario]]")])
    refused(hydrocheck_cli("budget", str(bare)), "[[scenario]]")
    refused(hydrocheck_cli("budget", str(bare), "--scenario", "x"), "[[scenario]]")
    assert hydrocheck_cli("check", str(bare)).exit_code == 0
    solved = hydrocheck_cli("solve", str(bare), "--speed", "auger=40 rpm")
    assert solved.exit_code == 0
    assert "40.0 rpm" in solved.stdout


def test_a_truck_without_most_values_is_checked_as_far_as_it_goes(
    tmp_path: Path, hydrocheck_cli: Run
) -> None:
    path = tmp_path / "little.toml"
    path.write_text('schema = 1\n[truck]\nname = "little"\n[[pump]]\nname = "p"\ntype = "fixed"\n')
    result = hydrocheck_cli("check", str(path))
    assert result.exit_code == 0
    assert "Not checked" in result.stdout
    assert "needs p.max_speed" in result.stdout


# -- solve and budget do what they are told --------------------------------------------------------


def test_solve_takes_orders_over_the_scenario(hydrocheck_cli: Run) -> None:
    result = document(
        hydrocheck_cli(
            "solve", "--demo", "tandem", "--engine", "1250 rpm", "--oil", "120 degF", "--json",
            "--hopper", "empty", "--speed", "auger=30 rpm", "--setting", "liquid=50 %",
        )
    )["result"]  # fmt: skip
    assert result["engine_speed"]["shown"] == "1250 rpm"
    assert result["oil_temperature"]["shown"] == "120 degF"
    assert result["functions"]["auger"]["speed"]["shown"] == "30.0 rpm"
    assert result["functions"]["spinner"]["speed"]["shown"] == "350 rpm"
    # 5 gal/min above 28 %; half way between trims of 34 % and 80 % is 57 %
    assert result["functions"]["liquid"]["asked"]["si"] == pytest.approx(
        5 * (0.57 - 0.28) / 0.72 * 231 * 0.0254**3 / 60
    )


def test_solve_only_leaves_the_scenario_out(hydrocheck_cli: Run) -> None:
    args = ("solve", "--demo", "tandem", "--only", "--flow", "spinner=5 gpm", "--json")
    result = document(hydrocheck_cli(*args))["result"]
    assert [n for n, f in result["functions"].items() if f["limit"] != "off"] == ["spinner"]


def test_budget_at_an_oil_temperature(hydrocheck_cli: Run) -> None:
    warm, cold = (
        document(hydrocheck_cli("budget", "--demo", "tandem", "--json", "--oil", oil))["result"]
        for oil in ("150 degF", "40 degF")
    )
    assert cold["oil_temperature"]["shown"] == "40 degF"
    # Thicker oil: less slip of the pump, more given.
    assert cold["available"]["si"][-1] > warm["available"]["si"][-1]


# -- figures ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("ending", ["png", "svg", "pdf", "PNG"])
def test_budget_draws(ending: str, tmp_path: Path, hydrocheck_cli: Run) -> None:
    path = tmp_path / f"budget.{ending}"
    result = hydrocheck_cli("budget", "--demo", "tandem", "--plot", str(path))
    assert result.exit_code == 0
    assert "Flow budget of" in result.stdout
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
    assert path.stat().st_size > 5000


def test_a_figure_is_never_written_over_or_in_part(tmp_path: Path, hydrocheck_cli: Run) -> None:
    path = tmp_path / "budget.png"
    path.write_text("old")
    args = ("budget", "--demo", "tandem", "--plot", str(path))
    refused(hydrocheck_cli(*args), "exists already", "--force")
    assert path.read_text() == "old"
    assert hydrocheck_cli(*args, "--force").exit_code == 0
    assert path.read_bytes().startswith(b"\x89PNG")
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize("name", ["budget.jpg", "budget", "no-folder/budget.png", "."])
def test_a_figure_that_cannot_be_written(name: str, tmp_path: Path, hydrocheck_cli: Run) -> None:
    refused(hydrocheck_cli("budget", "--demo", "tandem", "--plot", str(tmp_path / name)))
    assert list(tmp_path.iterdir()) == []


def test_the_figure_of_odd_names(odd_truck: Path, tmp_path: Path, hydrocheck_cli: Run) -> None:
    path = tmp_path / "odd.svg"
    result = hydrocheck_cli("budget", str(odd_truck), "--plot", str(path))
    assert (result.exit_code, result.stderr) == (0, "")
    assert path.read_text(encoding="utf-8").rstrip().endswith("</svg>")
