"""Every row of the machine, cylinder and valve reference files, converted by pint.

pint, not the product's own units, so that the formulas meet an outside conversion.
"""

from __future__ import annotations

import importlib
import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pint
import pytest

FOLDER = Path(__file__).resolve().parents[2] / "reference_cases"
FILES = ("pumps", "power", "motors", "cylinders", "valves")

# Spellings of the rows in pint's own words. pint's turn is 2 pi rad.
WORDS = {
    "": "1",
    "%": "0.01",
    "in3/rev": "inch**3/turn",
    "cm3/rev": "cm**3/turn",
    "L/rev": "liter/turn",
    "rpm": "turn/minute",
    "gpm": "gallon/minute",
    "gpm/psi^0.5": "gallon/minute/psi**0.5",
    "L/min": "liter/minute",
    "L/s": "liter/second",
    "m3/s": "m**3/s",
    "in2": "inch**2",
    "in/s": "inch/second",
    "ft/s": "foot/second",
    "ft/min": "foot/minute",
    "lbf/in": "force_pound/inch",
    "lbf": "force_pound",
    "lbf.ft": "force_pound*foot",
    "in.lbf": "force_pound*inch",
    "N.m": "newton*meter",
    "deg": "degree",
    "kg/m3": "kg/m**3",
    "in": "inch",
}


@cache
def registry() -> pint.UnitRegistry[Any]:
    return pint.UnitRegistry()


def factor(unit: str) -> float:
    word = WORDS.get(unit, unit)
    if re.fullmatch(r"[\d.]+", word):
        return float(word)
    return float(registry().Quantity(1.0, word).to_base_units().magnitude)


def si(text: str) -> float:
    number, _, unit = text.partition(" ")
    if number.endswith("%"):
        number, unit = number[:-1], "%"
    return float(number) * factor(unit)


def call(path: str, arguments: dict[str, str], known: dict[str, Any]) -> Any:
    module, name = path.split(".")
    function = getattr(importlib.import_module(f"hydrocheck.physics.{module}"), name)
    values = {
        key: known[text[1:]] if text.startswith("@") else si(text)
        for key, text in arguments.items()
    }
    return function(**values)


def rows() -> list[Any]:
    found = []
    for name in FILES:
        content = tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
        found += [pytest.param(row, id=row["id"]) for row in content["case"]]
    return found


ALL = rows()
SOLVED = [p for p in ALL if "reason" not in p.values[0]]


@pytest.mark.parametrize("row", SOLVED)
def test_row(row: dict[str, Any]) -> None:
    known: dict[str, Any] = {}
    if "steps" in row:
        for step in row["steps"]:
            known[step["gives"]] = call(step["function"], step["arguments"], known)
        result = known["result"]
    else:
        result = call(row["function"], row.get("arguments", row["inputs"]), known)
    first = result[0] if isinstance(result, tuple) else result
    expected = row["expect_value"]
    assert float(first) / factor(row["unit"]) == pytest.approx(
        expected, abs=row["tolerance_abs"] + 1e-9 * expected
    )


def test_most_rows_are_answered() -> None:
    assert len(SOLVED) >= 110
    assert len(ALL) - len(SOLVED) <= 5


@pytest.mark.parametrize("row", ALL)
def test_row_says_where_it_comes_from(row: dict[str, Any]) -> None:
    assert row["source"]
    assert row["status"] in {"published", "from memory", "common practice"}
    assert ("function" in row) + ("steps" in row) + ("reason" in row) == 1
