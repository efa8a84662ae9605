"""The command line frame: options, errors, exit codes, demo trucks, encodings, pipes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

import hydrocheck
from hydrocheck import cli, demo
from hydrocheck.cli import LazyGroup, _frame, error_lines
from hydrocheck.cli._frame import Frame, common_options, force_option, truck_options
from hydrocheck.errors import DomainError, FileError, HydrocheckError, TruckFileError

Run = Callable[..., Result]


@pytest.fixture
def demos(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two demo trucks in place of the real ones."""
    for name in ("beta-truck", "alpha-truck"):
        (tmp_path / f"{name}.toml").write_text("schema = 1\n")
    monkeypatch.setattr(demo, "FOLDER", tmp_path)
    return tmp_path


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a group of test commands; each keyword names a command and what it does."""

    def invoke(args: list[str], **commands: Any) -> Result:
        table = {}
        for name, command in commands.items():
            module = ModuleType(f"frame_test_{name}")
            module.command = command  # type: ignore[attr-defined]  # a module made for the test
            monkeypatch.setitem(sys.modules, module.__name__, module)
            table[name] = (module.__name__, f"Help of {name}.")
        group = LazyGroup(table, name="hydrocheck")
        return CliRunner().invoke(group, args, catch_exceptions=False)

    return invoke


def fails_with(error: BaseException) -> click.Command:
    @click.command()
    def command() -> None:
        raise error

    return command


@click.command()
@truck_options
@force_option
def show(frame: Frame, force: bool) -> None:
    """Show the frame."""
    frame.emit(
        text=lambda: f"{frame.units} {frame.truck.label} {frame.truck.path.name} {force}",
        result=lambda: {"value": float("nan"), "units": frame.units},
        defaults_used=["b", "a", "b"],
    )


@click.command()
@common_options
def bare(frame: Frame) -> None:
    frame.emit(text=lambda: frame.command, result=dict)


def test_help_lists_the_table_in_its_order_without_loading_a_command() -> None:
    table = {"zulu": ("no.such.module", "First."), "alpha": ("no.such.module", "Second.")}
    result = CliRunner().invoke(LazyGroup(table, name="hydrocheck"), ["--help"])
    assert result.exit_code == 0
    assert result.output.index("zulu   First.") < result.output.index("alpha  Second.")


def test_every_command_of_the_table_loads_and_has_help(hydrocheck_cli: Run) -> None:
    for name in cli.COMMANDS:
        result = hydrocheck_cli(name, "--help")
        assert result.exit_code == 0, name
        assert "Usage:" in result.output
        assert all(len(line) <= 80 for line in result.output.splitlines()), name


def test_main_help_and_version(hydrocheck_cli: Run) -> None:
    assert "Usage:" in hydrocheck_cli("--help").stdout
    assert hydrocheck_cli("--version").stdout.endswith(f"{hydrocheck.__version__}\n")


def test_unknown_command_suggests_the_near_miss(run: Run) -> None:
    result = run(["shwo"], show=show)
    assert result.exit_code == 2
    assert "Did you mean show?" in result.stderr
    assert result.stdout == ""


def test_unknown_option_is_a_usage_error(run: Run) -> None:
    for args in (["--nonsense"], ["show", "--nonsense"], ["show", "--units", "imperial"]):
        assert run(args, show=show).exit_code == 2, args


def test_truck_file_wins_and_is_named(run: Run) -> None:
    result = run(["show", "some/truck.toml", "--units", "metric"], show=show)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout == "metric some/truck.toml truck.toml False\n"


@pytest.mark.usefixtures("demos")
def test_without_a_truck_the_first_demo_is_used_and_said(run: Run) -> None:
    result = run(["show", "--force"], show=show)
    assert result.stdout == "us demo alpha-truck alpha-truck.toml True\n"
    assert result.stderr == "note: no truck file given; using the demo truck alpha-truck\n"


@pytest.mark.usefixtures("demos")
def test_named_demo_is_used_silently(run: Run) -> None:
    result = run(["show", "--demo", "beta-truck"], show=show)
    assert result.stdout == "us demo beta-truck beta-truck.toml False\n"
    assert result.stderr == ""


@pytest.mark.usefixtures("demos")
@pytest.mark.parametrize("name", ["gamma", "../alpha-truck", ""])
def test_unknown_demo_lists_the_known_ones(run: Run, name: str) -> None:
    result = run(["show", "--demo", name], show=show)
    assert result.exit_code == 2
    assert result.stderr == (f"error: no demo truck {name!r}; there are: alpha-truck, beta-truck\n")


@pytest.mark.usefixtures("demos")
def test_truck_and_demo_together_are_refused(run: Run) -> None:
    result = run(["show", "truck.toml", "--demo", "beta-truck"], show=show)
    assert result.exit_code == 2
    assert "not both" in result.stderr


def test_no_demo_installed_is_one_line(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(demo, "FOLDER", tmp_path / "none")
    result = run(["show"], show=show)
    assert result.exit_code == 2
    assert result.stderr == "error: give a truck file: no demo truck is installed\n"


def test_json_is_the_envelope(run: Run) -> None:
    result = run(["show", "t.toml", "--json"], show=show)
    assert json.loads(result.stdout) == {
        "schema": 1,
        "command": "show",
        "truck": "t.toml",
        "defaults_used": ["a", "b"],
        "result": {"value": None, "units": "us"},
    }


def test_a_command_without_a_truck(run: Run) -> None:
    assert run(["bare"], bare=bare).stdout == "bare\n"
    assert json.loads(run(["bare", "--json"], bare=bare).stdout)["truck"] is None
    assert run(["bare", "t.toml"], bare=bare).exit_code == 2


def test_a_nested_command_carries_its_group_in_its_name(run: Run) -> None:
    group = click.Group("calc", commands={"bare": bare})
    assert run(["calc", "bare"], calc=group).stdout == "calc bare\n"


def test_an_error_is_one_line_and_exit_2(run: Run) -> None:
    result = run(["x"], x=fails_with(DomainError("bore must be above 0 in")))
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == "error: bore must be above 0 in\n"


def test_a_truck_file_shows_twenty_lines_and_a_count(run: Run) -> None:
    result = run(["x"], x=fails_with(TruckFileError([f"line {i}" for i in range(33)])))
    lines = result.stderr.splitlines()
    assert result.exit_code == 2
    assert lines[0] == "error: line 0"
    assert lines[19:] == ["error: line 19", "error: ... and 13 more"]


def test_a_line_of_an_error_cannot_steer_the_terminal() -> None:
    assert error_lines(TruckFileError(["a\x1b[2Jb\nc"])) == ["a\\x1b[2Jb\\nc"]
    assert error_lines(HydrocheckError("")) == ["HydrocheckError"]


def test_an_operating_system_error_is_one_line(run: Run) -> None:
    result = run(["x"], x=fails_with(PermissionError(13, "Permission denied", "a.toml")))
    assert (result.exit_code, result.stderr) == (2, "error: Permission denied: a.toml\n")


def test_interrupt_is_quiet(run: Run) -> None:
    result = run(["x"], x=fails_with(KeyboardInterrupt()))
    assert (result.exit_code, result.output) == (130, "")


def test_a_defect_of_ours_keeps_its_traceback(run: Run) -> None:
    with pytest.raises(ZeroDivisionError):
        run(["x"], x=fails_with(ZeroDivisionError()))


def test_a_table_entry_without_a_command_is_a_defect(run: Run) -> None:
    with pytest.raises(TypeError, match="not a click command"):
        run(["x"], x="not a command")


def test_paint_is_colour_only(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    for verdict in _frame.COLOURS:
        painted = _frame.paint(verdict, verdict)
        assert painted != verdict
        assert click.unstyle(painted) == verdict
    monkeypatch.setenv("NO_COLOR", "1")
    assert _frame.paint("fail", "fail") == "fail"


@pytest.mark.parametrize(
    ("environ", "expected"),
    [
        ({}, True),
        ({"LC_ALL": "C"}, True),
        ({"LANG": "POSIX"}, True),
        ({"LC_CTYPE": "C.UTF-8"}, True),  # set by the interpreter itself (PEP 538)
        ({"LC_CTYPE": "C.UTF-8", "LANG": "en_US.UTF-8"}, False),
        ({"LANG": "C.UTF-8"}, False),
        ({"LC_ALL": "de_DE.UTF-8", "LANG": "C"}, False),
        ({"LC_ALL": "C", "LANG": "en_US.UTF-8"}, True),
    ],
)
def test_c_locale(environ: dict[str, str], expected: bool) -> None:
    assert cli._c_locale(environ, "linux") is expected
    assert cli._c_locale(environ, "win32") is False


CHILD = """
import sys, types
import click
from hydrocheck.cli import LazyGroup
from hydrocheck.cli._frame import common_options, paint
module = types.ModuleType("child")
@click.command()
@common_options
def command(frame):
    frame.emit(text=lambda: paint("fail", "fail") + " J\\u00f6rdis 3 \\u00b1 1\\n" * LINES,
               result=dict)
module.command = command
sys.modules["child"] = module
LazyGroup({"x": ("child", "")}, name="hydrocheck")(["x"])
"""


def child(lines: int, stdout: int, **environ: str) -> subprocess.Popen[bytes]:
    base = {k: v for k, v in os.environ.items() if not k.startswith(("LC_", "LANG", "PYTHON"))}
    return subprocess.Popen(
        [sys.executable, "-c", CHILD.replace("LINES", str(lines))],
        stdout=stdout,
        stderr=subprocess.PIPE,
        env=base | environ,
    )


@pytest.mark.skipif(sys.platform == "win32", reason="a POSIX locale")
def test_output_is_ascii_under_a_c_locale_and_has_no_colour_in_a_pipe() -> None:
    out, err = child(1, subprocess.PIPE, LC_ALL="C").communicate()
    assert (out, err) == (b"fail Jordis 3 +/- 1\n\n", b"")
    out, _ = child(1, subprocess.PIPE, LC_ALL="C.UTF-8").communicate()
    assert out == "fail J\u00f6rdis 3 \u00b1 1\n\n".encode()


@pytest.mark.skipif(sys.platform == "win32", reason="a POSIX pipe")
def test_a_closed_pipe_is_quiet() -> None:
    reader, writer = os.pipe()
    os.close(reader)  # as when `| head` has gone
    process = child(1000, writer)
    os.close(writer)
    assert process.communicate()[1] == b""


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs /dev/full")
def test_a_full_disk_is_one_line() -> None:
    with open("/dev/full", "wb") as full:
        process = child(1, full.fileno())
        err = process.communicate()[1].decode()
    assert err.startswith("error: ")
    assert err.count("\n") == 1


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs /dev/full")
@pytest.mark.parametrize("args", [["--help"], ["--version"], ["check", "--help"], ["demo"]])
def test_a_full_disk_is_one_line_before_a_command_runs_too(args: list[str]) -> None:
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "hydrocheck", *args],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith("error: ")
    assert done.stderr.count("\n") == 1


def test_an_interrupt_wrapped_by_python_is_quiet(run: Run) -> None:
    # Python 3.11: "RuntimeError: Error calling __set_name__ on ..." from KeyboardInterrupt
    wrapped = RuntimeError("Error calling __set_name__")
    wrapped.__cause__ = KeyboardInterrupt()
    result = run(["x"], x=fails_with(wrapped))
    assert (result.exit_code, result.output) == (130, "")
    with pytest.raises(RuntimeError, match="a defect"):
        run(["x"], x=fails_with(RuntimeError("a defect")))


def test_an_interrupt_while_loading_is_quiet() -> None:
    code = (
        "import sys, hydrocheck.__main__ as m\n"
        "class Stop:\n"
        "    def find_spec(self, name, *_):\n"
        "        if name == 'click': raise KeyboardInterrupt\n"
        "sys.meta_path.insert(0, Stop())\n"
        "m.run()\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")


@pytest.mark.parametrize("command", [["check", ""], ["fit", "", "--machine", "pump"]])
def test_an_empty_file_name_is_named_as_such(command: list[str], hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli(*command)
    assert result.exit_code == 2
    assert "is empty" in result.stderr
    assert result.stderr.count("\n") == 1


def test_an_endless_file_name_does_not_fill_the_screen(hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli("check", "x" * 5000)
    assert result.exit_code == 2
    assert len(result.stderr) < 900
    assert result.stderr.endswith("\n")
    assert "name too long" in result.stderr


def test_python_dash_m_is_the_command() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "hydrocheck", "--version"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout == f"hydrocheck {hydrocheck.__version__}\n"


def test_file_errors_are_hydrocheck_errors() -> None:
    assert issubclass(FileError, HydrocheckError)
