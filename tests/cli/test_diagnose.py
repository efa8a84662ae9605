"""The command diagnose: readings from all sides, the interview, its JSON, its errors."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner, Result

from hydrocheck.cli import main


def run(*args: str, answers: str | None = None) -> Result:
    return CliRunner().invoke(main, ["diagnose", *args], input=answers)


def test_readings_of_file_and_line_give_causes_and_a_next_measurement(tmp_path: Path) -> None:
    file = tmp_path / "readings.json"
    reading = {"what": "pump pressure", "value": "350 psi", "at": {"engine": "1300 rpm"}}
    file.write_text(json.dumps({"schema": 1, "truck": "x", "reading": [reading]}))
    done = run("--demo", "tandem", "--readings", str(file), "--reading", "auger motion = stopped")
    assert done.exit_code == 0
    assert max(len(line) for line in done.stdout.splitlines()) <= 80
    for said in ("LS signal missing", "Measure next", "safely", "healthy gauges", "Two people"):
        assert said in done.stdout


def test_a_fixed_pump_has_no_ls_port() -> None:
    done = run("--demo", "single", "--symptom", "slow")
    (line,) = [one for one in done.stdout.splitlines() if one.startswith("at work")]
    assert line.split()[4] == "-"


def test_json_holds_it_all() -> None:
    done = run("--demo", "tandem", "--json", "--symptom", "slow", "--reading", "noise = steady")
    result = json.loads(done.stdout)["result"]
    assert result["function"] == "auger"
    assert abs(sum(one["probability"] for one in result["causes"]) - 1.0) < 1e-9
    assert abs(sum(result["repair"].values()) - 1.0) < 1e-9
    first = result["next"][0]
    assert first["bits"] > 0
    assert first["minutes"] > 0
    assert first["how"]
    assert first["expect"]["healthy"]
    assert result["aids"]["gauges"][0]["pump"]["unit"] == "Pa"
    assert {e["reading"] for e in result["causes"][0]["evidence"]} == {"noise", "auger motion"}


def test_the_interview_takes_answers_and_can_be_left() -> None:
    done = run("--demo", "tandem", "--ask", answers="\nnonsense\n\nq\n")
    assert done.exit_code == 0
    assert done.stdout.count("So far") == 3
    assert "Diagnosis of" in done.stdout
    left = run("--demo", "tandem", "--ask", answers="")
    assert left.exit_code == 0
    assert "Diagnosis of" in left.stdout


def test_a_few_known_numbers_in_place_of_a_truck() -> None:
    done = run("--known", "pump displacement = 3 in^3/rev", "--reading", "auger speed = 40 rpm")
    assert done.exit_code == 0
    assert "Assumed, since nobody said" in done.stdout
    assert done.stderr == ""


def test_what_a_user_gets_wrong_is_one_line_each() -> None:
    both = run("--demo", "tandem", "--known", "pump displacement = 3 in^3/rev")
    bad = run("--demo", "tandem", "--reading", "auger speed = 3 psi", "--reading", "x = 3")
    function = run("--demo", "tandem", "--reading", "augur speed = 3 rpm")
    missing = run("--demo", "tandem", "--readings", "nowhere.toml")
    json_and_ask = run("--demo", "tandem", "--json", "--ask")
    for done in (both, bad, function, missing, json_and_ask):
        assert done.exit_code == 2
        assert "Traceback" not in done.output
    assert len([line for line in bad.stderr.splitlines() if line.startswith("error: ")]) == 2
    assert "no function 'augur'" in function.stderr


def test_an_error_names_its_option(tmp_path: Path) -> None:
    empty = tmp_path / "empty.toml"
    empty.write_text("")
    said = {
        "--reading: auger speed: read '-5 rpm'": ("--reading", "auger speed = -5 rpm"),
        "--symptom: read 'foo'; here fits: normal, slow": ("--symptom", "foo"),
        "reading = [": ("--readings", str(empty)),
    }
    known = run("--known", "foo = 3", "--known", "standby = -3 psi")
    assert known.exit_code == 2
    assert [line[:15] for line in known.stderr.splitlines()] == ["error: --known:"] * 2
    for words, options in said.items():
        done = run("--demo", "tandem", *options)
        assert done.exit_code == 2
        assert words in done.stderr
        assert "hydrocheck new" not in done.stderr
    assert "stays open" in run("--help").stdout


def test_the_interview_refuses_what_cannot_be_read() -> None:
    done = run("--demo", "conveyor", "--ask", answers="-5 rpm\n-5 degF\n-5 psi\n-5 %\nq\n")
    assert done.exit_code == 0
    assert done.stdout.count("So far") == 1
    assert max(len(line) for line in done.stdout.splitlines()) <= 80
    assert "read '-5 rpm'" in done.stdout
