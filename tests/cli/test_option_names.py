"""A value without its unit is refused with the name of its option, by every command alike."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from hydrocheck.cli import main

ASKED = [
    ("spread", "--rate"),
    ("spread", "--speed"),
    ("spread", "--width"),
    ("spread", "--oil"),
    ("spread", "--per-rev"),
    ("replay", "--rate"),
    ("replay", "--oil"),
    ("replay", "--tolerance"),
    ("throw", "--width"),
    ("throw", "--air"),
    ("throw", "--height"),
    ("heat", "--ambient"),
    ("heat", "--surface"),
    ("heat", "--metal"),
    ("solve", "--engine"),
    ("solve", "--oil"),
    ("budget", "--oil"),
]


@pytest.mark.parametrize(("command", "option"), ASKED)
def test_the_option_is_named(command: str, option: str, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text("time [s],engine speed [rpm],road speed [mph]\n0,1300,20\n1,1300,20\n")
    files = [str(log)] if command == "replay" else []
    done = CliRunner().invoke(main, [command, *files, "--demo", "tandem", option, "3 volt"])
    assert done.exit_code == 2
    assert done.stderr.startswith(f"error: {option} ")
    assert len(done.stderr.splitlines()) == 1


def test_shares_and_roles_are_named(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["heat", "--demo", "tandem", "--duty", "standby=3 psi"])
    assert done.stderr.startswith("error: --duty standby ")
    log = tmp_path / "log.csv"
    log.write_text("time [s],speed\n0,1300\n")
    done = CliRunner().invoke(main, ["replay", str(log), "--demo", "tandem", "--column", "x=speed"])
    assert done.stderr == (
        "error: --column: no role 'x'; the roles are time, engine, road, rate, on, oil\n"
    )
