"""What holds for every command of the table, those still to come included."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click
import pytest
from click.testing import Result

from hydrocheck.cli import COMMANDS, main

Run = Callable[..., Result]

GROUPS = {"calc"}  # of commands, each with its own options

NAMES_ITS_OPTIONS = {"budget", "solve", "heat", "throw"}

# What a command cannot do without, beside its truck; a new one with such options goes here.
ALSO = {"sheet": ("--output", "sheet.html"), "sweep": ("--vary", "engine=1200..1300 rpm:2")}


def load(name: str) -> click.Command:
    command = main.get_command(click.Context(main), name)
    assert command is not None
    return command


def options(name: str) -> set[str]:
    return {text for parameter in load(name).params for text in parameter.opts}


def reads_a_truck(name: str) -> bool:
    return any(p.name == "truck" and isinstance(p, click.Argument) for p in load(name).params)


def required(name: str) -> set[str]:
    return {text for p in load(name).params if p.required for text in p.opts[:1]}


TRUCKS = [n for n in COMMANDS if reads_a_truck(n) and (n in ALSO or not required(n))]


@pytest.fixture(autouse=True)
def in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)


# What is not a truck file, and a word of what is said about it.
NOT_A_TRUCK = {
    "missing": (None, "No such file"),
    "folder": ("folder", "is a folder"),
    "huge": (b"# x\n" * 300_000, "at most 1 MB"),
    "binary": (bytes(range(256)), "not UTF-8"),
    "utf-16": ("schema = 1".encode("utf-16"), "not UTF-8"),
    "latin-1": ('schema = 1\n[truck]\nname = "J\u00f6rg"'.encode("latin-1"), "line 3: not UTF-8"),
    "empty": (b"", "the file is empty"),
    "nul": (b"schema = 1\n\0", "not TOML"),
    "json": (b'{"schema": 1}', "not TOML"),
    "wrong unit": (b'schema = 1\n[truck]\nname = "x"\n[engine]\nidle = "700 psi"', "rpm"),
    "bare number": (b'schema = 1\n[truck]\nname = "x"\n[engine]\nidle = 700', "rpm"),
    "unknown key": (b'schema = 1\n[truck]\nname = "x"\n[engine]\nidel = "700 rpm"', "idle"),
    "future": (b'schema = 99\n[truck]\nname = "x"', "schema"),
}


def quiet_error(result: Result, *words: str) -> None:
    """Exit code 2, nothing on standard output, one line on standard error."""
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith("error: ")
    assert result.stderr.count("\n") == 1
    for word in words:
        assert word in result.stderr


@pytest.mark.parametrize("name", TRUCKS)
@pytest.mark.parametrize("kind", NOT_A_TRUCK)
@pytest.mark.parametrize("form", [(), ("--json",)], ids=["text", "json"])
def test_what_is_no_truck_file_is_one_line(
    name: str, kind: str, form: tuple[str, ...], hydrocheck_cli: Run, tmp_path: Path
) -> None:
    path = tmp_path / "truck.toml"
    content, said = NOT_A_TRUCK[kind]
    if content == "folder":
        path.mkdir()
    elif isinstance(content, bytes):
        path.write_bytes(content)
    quiet_error(hydrocheck_cli(name, str(path), *ALSO.get(name, ()), *form), said)


@pytest.mark.parametrize("name", TRUCKS)
def test_an_unknown_demo_or_an_empty_name_is_one_line(name: str, hydrocheck_cli: Run) -> None:
    also = ALSO.get(name, ())
    quiet_error(hydrocheck_cli(name, *also, "--demo", "nope"), "there are: tandem")
    quiet_error(hydrocheck_cli(name, *also, ""), "is empty")


@pytest.mark.parametrize("name", TRUCKS)
def test_a_truck_of_a_name_only_is_looked_at_or_says_what_it_lacks(
    name: str, hydrocheck_cli: Run, tmp_path: Path
) -> None:
    path = tmp_path / "truck.toml"
    path.write_text('schema = 1\n[truck]\nname = "x"\n', encoding="utf-8")
    result = hydrocheck_cli(name, str(path), *ALSO.get(name, ()))
    if result.exit_code == 2:
        quiet_error(result)
    else:
        assert result.exit_code in (0, 1)


@pytest.mark.parametrize("name", [n for n in COMMANDS if n not in GROUPS])
def test_it_takes_the_shared_options(name: str) -> None:
    found = options(name)
    assert {"--json", "--units"} <= found
    assert not reads_a_truck(name) or "--demo" in found
    # What writes a file can be told to overwrite one.
    assert "--plot" not in found or "--force" in found


@pytest.mark.parametrize("name", COMMANDS)
def test_its_help_fits_the_page_in_plain_text(name: str, hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli(name, "--help")
    assert result.exit_code == 0
    assert result.stdout.isascii()
    assert max(map(len, result.stdout.splitlines())) <= 80


@pytest.mark.parametrize("name", COMMANDS)
def test_an_option_it_lacks_is_a_usage_error(name: str, hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli(name, "--no-such-option")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "No such option" in result.stderr
    assert "Traceback" not in result.stderr


# Options whose value is a quantity: their help shows one, with its unit, in quotes.
QUANTITIES = [
    (name, parameter.opts[0])
    for name in TRUCKS
    for parameter in load(name).params
    if isinstance(parameter, click.Option)
    and parameter.metavar in {"SPEED", "TEMPERATURE", "LENGTH", "ANGLE", "WIDTH", "AREA", "MASS"}
]


@pytest.mark.parametrize(("name", "option"), QUANTITIES, ids=[f"{n} {o}" for n, o in QUANTITIES])
@pytest.mark.parametrize("value", ["1", "1 furlong", "", "nan rpm", "1e999 ft", "12 12 ft"])
def test_a_value_without_its_unit_is_one_line(
    name: str, option: str, value: str, hydrocheck_cli: Run
) -> None:
    # Two speeds may be told: the line says which one is meant.
    said = (f"error: {option} ",) if name in NAMES_ITS_OPTIONS else ()
    quiet_error(hydrocheck_cli(name, "--demo", "tandem", *ALSO.get(name, ()), option, value), *said)


@pytest.mark.parametrize(
    ("name", "plot"),
    [(n, p) for n in TRUCKS if "--plot" in options(n) for p in ("x.bmp", "x", ".")],
)
def test_a_figure_that_cannot_be_written_is_refused_before_the_work(
    name: str, plot: str, hydrocheck_cli: Run
) -> None:
    also = ALSO.get(name, ())
    # No such truck either: the figure is looked at first.
    result = hydrocheck_cli(name, "no-such-truck.toml", *also, "--plot", plot)
    quiet_error(result, f"{plot}: a figure is written as")
    assert list(Path.cwd().iterdir()) == []
    Path("there.png").touch()
    result = hydrocheck_cli(name, "no-such-truck.toml", *also, "--plot", "there.png")
    quiet_error(result, "there.png exists already; --force overwrites it")
