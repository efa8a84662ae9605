"""sheet: what it writes and says, its readings, bad input. The page itself: tests/report."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Run = Callable[..., Result]


def test_writes_a_page_and_says_so(tmp_path: Path, hydrocheck_cli: Run) -> None:
    page = tmp_path / "sheet.html"
    result = hydrocheck_cli("sheet", "--demo", "conveyor", "-o", str(page), "--json")
    assert result.exit_code == 0
    document = json.loads(result.stdout)["result"]
    assert document["file"] == str(page)
    assert document["not_predicted"] == []
    assert {b["step"] for b in document["blanks"]} == {
        "warm-up",
        "pressures",
        "flow and speed",
        "trims",
        "catch test",
    }
    assert page.read_text().startswith("<!DOCTYPE html>")
    first = page.read_bytes()
    again = hydrocheck_cli("sheet", "--demo", "conveyor", "-o", str(page))
    assert again.exit_code == 2
    assert "exists already" in again.stderr
    forced = hydrocheck_cli("sheet", "--demo", "conveyor", "-o", str(page), "--force")
    assert forced.exit_code == 0
    assert forced.stdout.startswith("Wrote ")
    assert page.read_bytes() == first  # equal inputs, equal files


def test_readings_without_a_blank_are_told(tmp_path: Path, hydrocheck_cli: Run) -> None:
    file, page = tmp_path / "found.toml", tmp_path / "sheet.html"
    file.write_text('schema = 1\nreading = ["spinner minimum trim = 55 %", "noise = erratic"]\n')
    args = ("sheet", "--demo", "conveyor", "--units", "metric", "-o", str(page))
    result = hydrocheck_cli(*args, "--readings", str(file))
    assert result.exit_code == 0
    assert "1 filled in, 1 out of range" in " ".join(result.stdout.split())
    assert "no blank for: noise = erratic" in result.stdout
    assert "above the range of" in page.read_text()
    assert max(len(line) for line in result.stdout.splitlines()) <= 80 + len(str(page))


@pytest.mark.parametrize(
    ("args", "word"),
    [
        ([], "--output"),
        (["-o", "no/such/folder/sheet.html"], "folder"),
        (["-o", "."], "folder"),
        (["-o", "sheet.html", "--readings", "missing.json"], "missing.json"),
    ],
)
def test_bad_input(
    args: list[str],
    word: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    hydrocheck_cli: Run,
) -> None:
    monkeypatch.chdir(tmp_path)
    result = hydrocheck_cli("sheet", "--demo", "conveyor", *args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert word in result.stderr
    assert "Traceback" not in result.stderr
    assert list(tmp_path.iterdir()) == []
