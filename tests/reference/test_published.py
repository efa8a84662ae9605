"""Every published row of reference_cases/ against the public functions of hydrocheck.

A row names a `function` of `hydrocheck.physics` (or of `hydrocheck.units`) with its `arguments`,
or `steps` that hand their results on ("@name"), or the `reason` why nothing answers it. Texts go
through the product's own units, of the kind that the function's docstring states; the answer is
compared in the row's unit. No formula is typed again here; the steps `total`, `difference` and
`share` only join what the product answers.
"""

from __future__ import annotations

import importlib
import re
import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from hydrocheck.errors import UnitError
from hydrocheck.units import KINDS, parse, to_unit

FOLDER = Path(__file__).resolve().parents[2] / "reference_cases"
NOT_ROWS = {"units_traps.toml"}  # texts, not figures: tests/units reads them

KEYS = {
    "id", "topic", "kind", "expect_value", "unit", "tolerance_abs", "source", "status", "note",
    "inputs", "function", "arguments", "steps", "take", "kinds", "reason",
}  # fmt: skip
STEP_KEYS = {"gives", "function", "arguments", "take", "kinds"}
STATUS = {"published", "from memory", "common practice", "own calculation", "library"}

ENTRY = re.compile(r"(?:^|; )(\w+(?:, \w+)*): ")
UNIT = re.compile(r"\[([^\]]+)\]")

Row = dict[str, Any]


def read_rows(folder: Path) -> list[tuple[str, Row]]:
    """(file, row) of every file of a folder."""
    found = []
    for path in sorted(folder.glob("*.toml")):  # agency/ holds trucks
        if path.name not in NOT_ROWS:
            content = tomllib.loads(path.read_text(encoding="utf-8"))
            found += [(path.name, row) for row in content["case"]]
    return found


def function_of(path: str) -> Callable[..., Any]:
    """`machines.pump_flow` of physics, `units.parse` of the units; nothing private."""
    module, _, name = path.rpartition(".")
    if name.startswith("_") or module.startswith("_"):
        raise AssertionError(f"{path} is private")
    package = "hydrocheck" if module == "units" else "hydrocheck.physics"
    return getattr(importlib.import_module(f"{package}.{module}"), name)


@cache
def units_of(function: Callable[..., Any]) -> Mapping[str, tuple[str, ...]]:
    """The units that a docstring states, by parameter; those of the answer under `returns`."""
    found: dict[str, str] = {}
    names: list[str] = []
    for line in (function.__doc__ or "").splitlines():
        before, *entries = ENTRY.split(line.strip())
        if before and names:  # goes on from the line above
            found |= {name: f"{found[name]} {before}" for name in names}
        elif not entries:
            names = []
        for several, text in zip(entries[::2], entries[1::2], strict=True):
            names = several.split(", ")
            found |= dict.fromkeys(names, text)
    return {name: tuple(UNIT.findall(text)) for name, text in found.items()}


def si_value(text: str, unit: str, kind: str | None) -> float:
    """A text in SI, as any kind of that SI unit reads it; the kinds must agree."""
    kinds = [kind] if kind else [k for k, v in KINDS.items() if v.si == unit]
    values = set()
    faults = []
    for name in kinds:
        try:
            values.add(parse(text, name))
        except UnitError as error:
            faults.append(str(error))
    if not values:
        raise AssertionError(faults or f"no kind of quantity has the unit {unit}")
    if max(values) - min(values) > 1e-12 * abs(max(values)):
        raise AssertionError(f"{text!r} may be several things; give its kind under `kinds`")
    return values.pop()


def argument(name: str, given: Any, step: Row, units: tuple[str, ...], known: Row) -> Any:
    """An argument as the function takes it: a number in SI, an array of them, or a plain text."""
    if isinstance(given, list):
        return np.array([argument(name, item, step, units, known) for item in given])
    if not isinstance(given, str):
        return given
    if given.startswith("@"):
        return known[given[1:]]
    return si_value(given, units[0], step.get("kinds", {}).get(name)) if units else given


JOINS: dict[str, Callable[[list[float]], float]] = {
    "total": sum,
    "difference": lambda values: values[0] - sum(values[1:]),
    "share": lambda values: values[0] / values[1],
}


def join(step: Row, known: Row) -> float:
    """A total, a difference or a share of earlier results and texts of a stated kind."""
    kind = step.get("kinds", {}).get("values")
    values = [
        float(np.asarray(known[text[1:]])) if text.startswith("@") else parse(text, kind)
        for text in step["arguments"]["values"]
    ]
    return JOINS[step["function"]](values)


def call(step: Row, known: Row) -> tuple[Any, str]:
    """What a step gives, and its SI unit."""
    if step["function"] in JOINS:
        return join(step, known), ""
    function = function_of(step["function"])
    units = units_of(function)
    values = {
        name: argument(name, given, step, units.get(name, ()), known)
        for name, given in step.get("arguments", step.get("inputs", {})).items()
    }
    if step["function"] == "units.parse":
        return function(**values), KINDS[values["kind"]].si
    result, stated = function(**values), units.get("returns", ())
    take = step.get("take")
    if isinstance(take, str):
        return getattr(result, take), ""
    place = take or 0
    if take is not None or isinstance(result, tuple):
        result = np.asarray(result[place]) if isinstance(result, tuple) else result.flat[place]
    return result, stated[min(place, len(stated) - 1)] if stated else ""


def answer(row: Row) -> tuple[float, str]:
    """What the product answers to a row, in SI, and the SI unit."""
    known: Row = {}
    steps = row.get("steps", [row | {"gives": "result"}])
    unit = ""
    for step in steps:
        known[step["gives"]], unit = call(step, known)
    return float(np.asarray(known["result"])), unit


def in_unit(value: float, si: str, row: Row) -> float:
    """A value in the row's unit."""
    unit = row["unit"]
    if unit in ("", "1"):
        return value
    wanted = row.get("kinds", {}).get("result")
    kinds = [wanted] if wanted else [k for k, v in KINDS.items() if not si or v.si == si]
    numbers = set()
    for kind in kinds:
        if unit == KINDS[kind].si or KINDS[kind].find(unit):
            numbers.add(to_unit(value, kind, unit))
    if not numbers:
        raise AssertionError(f"[{si}] is not shown in {unit}")
    if max(numbers) - min(numbers) > 1e-12 * abs(max(numbers)):
        raise AssertionError(f"{unit} may be several things; give `kinds.result`")
    return numbers.pop()


def check(row: Row) -> None:
    """Fail unless the product's answer lies within the row's tolerance."""
    got = in_unit(*answer(row), row)
    slack = 1e-9 * abs(row["expect_value"])
    assert got == pytest.approx(row["expect_value"], abs=row["tolerance_abs"] + slack, rel=0.0)


ROWS = read_rows(FOLDER)
ANSWERED = [pytest.param(row, id=row["id"]) for _, row in ROWS if "reason" not in row]
LISTED = [pytest.param(row, id=row["id"]) for _, row in ROWS if "reason" in row]


@pytest.mark.parametrize("row", ANSWERED)
def test_row(row: Row) -> None:
    check(row)


@pytest.mark.parametrize("row", LISTED)
def test_listed_row(row: Row) -> None:
    assert len(row["reason"].split()) > 1
    assert not {"function", "steps"} & set(row)


@pytest.mark.parametrize(("file", "row"), [pytest.param(f, r, id=r["id"]) for f, r in ROWS])
def test_row_is_complete(file: str, row: Row) -> None:
    assert set(row) <= KEYS, file
    assert row["source"]
    assert row["topic"]
    assert row["status"] in STATUS
    assert row["tolerance_abs"] >= 0.0
    assert ("function" in row) + ("steps" in row) + ("reason" in row) == 1
    assert all(set(step) <= STEP_KEYS for step in row.get("steps", []))


def test_ids_are_unique() -> None:
    ids = [row["id"] for _, row in ROWS]
    assert sorted(ids) == sorted(set(ids))


def test_most_rows_are_answered() -> None:
    assert len(ANSWERED) > 5 * len(LISTED)


@pytest.mark.parametrize("row", [param for param in ANSWERED if param.id])
def test_a_wrong_expectation_fails(row: Row) -> None:
    # Beyond ten tolerances and a tenth of the value, so that no printed rounding hides it.
    off = 10.0 * row["tolerance_abs"] + 0.1 * abs(row["expect_value"]) + 1e-30
    for wrong in (row["expect_value"] + off, row["expect_value"] - off):
        with pytest.raises(AssertionError):
            check(row | {"expect_value": wrong})


def test_a_row_cannot_use_what_is_private_or_unclear() -> None:
    with pytest.raises(AssertionError, match="private"):
        function_of("_guard.require_positive")
    with pytest.raises(AssertionError, match="several things"):
        si_value("120 F", "K", None)
    with pytest.raises(AssertionError, match="not shown"):
        in_unit(1.0, "Pa", {"unit": "gpm"})
