"""What a result offers beside its arrays: rows for CSV and a short text."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest

from hydrocheck.demo import load
from hydrocheck.errors import DomainError
from hydrocheck.solver import Points, solve

TRUCK = load("single")
RESULT = solve(TRUCK, Points.of(TRUCK, [60.0, 150.0], 316.0, command={"auger": 0.6}))


def test_rows_hold_every_point_and_survive_csv() -> None:
    rows = RESULT.to_rows()
    stream = io.StringIO()
    writer = csv.DictWriter(stream, rows[0].keys())
    writer.writeheader()
    writer.writerows(rows)
    stream.seek(0)
    read = list(csv.DictReader(stream))
    column = RESULT.column("auger")
    assert [float(row["auger.flow"]) for row in read] == RESULT.flow[:, column].tolist()
    assert [float(row["pump_pressure"]) for row in read] == RESULT.pump_pressure.tolist()
    assert {row["spinner.limit"] for row in read} == {"off"}
    relief = TRUCK.relief[0].name
    assert [float(row[f"{relief}.flow"]) for row in read] == RESULT.relief_flow[relief].tolist()
    heat = [sum(float(v) for k, v in row.items() if k.startswith("heat.")) for row in read]
    np.testing.assert_allclose(heat, RESULT.total_heat, rtol=1e-12)


def test_an_unknown_function_is_refused() -> None:
    with pytest.raises(DomainError, match="blower.*auger"):
        RESULT.column("blower")


def test_the_text_is_short_and_says_what_it_is() -> None:
    text = repr(RESULT)
    assert len(text) < 200
    assert "2 points" in text
    assert "auger" in text
