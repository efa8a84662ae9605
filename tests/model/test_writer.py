"""Truck files that are written: what is read back is what was written."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.errors import DomainError
from hydrocheck.model import truck_from_text
from hydrocheck.model.fields import specs
from hydrocheck.model.writer import EXACT, truck_text, value_text
from hydrocheck.units import parse

KINDS = ["pressure", "flow", "displacement", "length", "torque", "shaft_speed", "volume", "area"]


def same(one: Any, other: Any, at: str = "") -> None:
    """Every value of two parts, numbers within what the writer promises."""
    if hasattr(one, "__dataclass_fields__"):
        for key in specs(type(one)):
            same(getattr(one, key), getattr(other, key), f"{at}.{key}")
    elif isinstance(one, tuple):
        assert len(one) == len(other), at
        for a, b in zip(one, other, strict=True):
            same(a, b, at)
    elif isinstance(one, float):
        assert other == pytest.approx(one, rel=2 * EXACT, abs=0.0), at
    else:
        assert one == other, at


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", demo.names())
def test_a_demo_truck_comes_back(name: str, units: str) -> None:
    truck = demo.load(name)
    again = truck_from_text(truck_text(truck, units))
    same(truck, again)
    # What was a default is one again, what was said is said again.
    assert set(again.defaults_used) >= set(truck.defaults_used)


def test_values_are_said_briefly() -> None:
    text = truck_text(demo.load("tandem"))
    lines = [
        'displacement = "22.6 in3/rev"', 'bore = "2.5 in"', 'length = "12 ft"',
        'constant = "1900 in-lb"', "breakaway = 2.5", "viscosity_index = 150",
    ]  # fmt: skip
    assert [line for line in lines if line not in text] == []
    assert value_text(parse("50 cm3/rev", "displacement"), "displacement", "us") == "50 cm3/rev"


@given(
    number=st.floats(1e-6, 1e6, allow_nan=False),
    kind=st.sampled_from(KINDS),
    units=st.sampled_from(["us", "metric"]),
)
def test_any_value_comes_back(number: float, kind: str, units: str) -> None:
    value = number * parse({"length": "1 in"}.get(kind, "1 " + UNIT[kind]), kind)
    assert parse(value_text(value, kind, units), kind) == pytest.approx(value, rel=EXACT)


UNIT = {
    "pressure": "psi", "flow": "gal/min", "displacement": "in3/rev", "length": "in",
    "torque": "lb-ft", "shaft_speed": "rpm", "volume": "gal", "area": "ft2",
}  # fmt: skip


def test_notes_stand_beside_their_values() -> None:
    notes = {"pump.displacement": "ruled by flow", "main relief.setting": "of the level"}
    text = truck_text(demo.load("tandem"), head="two\nlines", notes=notes)
    assert text.startswith("# two\n# lines\n")
    rows = [line for line in text.splitlines() if line.endswith(("ruled by flow", "of the level"))]
    assert [row.split(" = ")[0] for row in rows] == ["displacement", "setting"]
    same(demo.load("tandem"), truck_from_text(text))


def test_arrays_are_refused() -> None:
    varied = demo.load("tandem").vary("pump.displacement", np.array([1e-5, 2e-5]))
    with pytest.raises(DomainError, match="one truck"):
        truck_text(varied)
