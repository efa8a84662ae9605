"""Practitioners' cases as trucks: the right finding speaks, with the source's number."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from hydrocheck.checks import Amount, Finding, inspect
from hydrocheck.model import read_truck
from hydrocheck.units import parse

FOLDER = Path(__file__).parents[2] / "reference_cases" / "practice"
EXPECTED: list[dict[str, Any]] = tomllib.loads(
    (FOLDER / "expected.toml").read_text(encoding="utf-8")
)["case"]


@cache
def findings(truck: str) -> dict[tuple[str, str], Finding]:
    return {(f.id, f.subject): f for f in inspect(read_truck(FOLDER / truck))}


def near(found: Amount | None, text: str, tolerance: str) -> None:
    """An amount within a tolerance, both texts with their unit."""
    assert found is not None
    wide = "pressure_drop" if "pressure" in found.kind else found.kind
    assert found.value == pytest.approx(parse(text, found.kind), abs=parse(tolerance, wide))


@pytest.mark.parametrize("case", EXPECTED, ids=lambda c: f"{c['truck']}-{c['finding']}")
def test_the_right_finding_speaks(case: dict[str, Any]) -> None:
    found = findings(case["truck"])[case["finding"], case["subject"]]
    assert found.verdict == case["verdict"]
    judged = found.judgement
    for key in ("value", "limit"):
        if key in case:
            near(getattr(judged, key), case[key], case["tolerance"])
    for name, text in case.get("change", {}).items():
        near(judged.numbers[name], text, case["tolerance"])


def test_every_truck_of_the_folder_is_held_to_something() -> None:
    trucks = {path.name for path in FOLDER.glob("*.toml")} - {"expected.toml"}
    assert trucks == {case["truck"] for case in EXPECTED}


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.toml")), ids=lambda p: p.stem)
def test_every_truck_names_its_source(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert path.name == "expected.toml" or "Source: " in text
    assert text.isascii()
