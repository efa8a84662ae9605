"""Shown values: one unit and one set of decimals a kind, readable at any size, ASCII."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck.units import KINDS, display_value, parse, show, to_unit

NOT_COUNTED = ("temperature", "count")


@pytest.mark.parametrize(
    ("text", "kind", "us", "metric"),
    [
        ("28.34 gpm", "flow", "28.3 gal/min", "107.3 L/min"),
        ("2600 psi", "pressure", "2600 psi", "179.3 bar"),
        ("5.5 cir", "displacement", "5.500 in3/rev", "90.13 cm3/rev"),
        ("8 rpm", "shaft_speed", "8.00 rpm", "8.00 rpm"),
        ("1300 rpm", "shaft_speed", "1300 rpm", "1300 rpm"),
        ("140 F", "temperature", "140 degF", "60.0 degC"),
        ("-0.2 F", "temperature", "0 degF", "-17.9 degC"),
        ("36 F", "temperature_rise", "36.0 degF", "20.0 K"),
        ("240 lb/lane-mile", "application_rate", "240 lb/lane-mile", "67.6 kg/lane-km"),
        ("0.9", "fraction", "90.0 %", "90.0 %"),
        ("25:1", "ratio", "25.000", "25.000"),
        ("9", "count", "9", "9"),
        ("0.0002 gpm", "flow", "0.000200 gal/min", "0.000757 L/min"),
        ("0 gpm", "flow", "0.0 gal/min", "0.0 L/min"),
        ("-20 psi", "pressure", "-20.0 psi", "-1.38 bar"),
        ("99.97 psi", "pressure", "100 psi", "6.89 bar"),
        ("1e12 psi", "pressure", "1.000e+12 psi", "6.895e+10 bar"),
        ("1e-9 psi", "pressure", "1.000e-09 psi", "6.895e-11 bar"),
    ],
)
def test_shown(text: str, kind: str, us: str, metric: str) -> None:
    value = parse(text, kind)
    assert (show(value, kind), show(value, kind, "metric")) == (us, metric)


def test_number_and_unit_apart() -> None:
    number, unit = display_value(parse("12 gpm", "flow"), "flow", "us")
    assert (number, unit) == (pytest.approx(12.0), "gal/min")
    assert display_value(1.2, "ratio", "metric") == (1.2, "")


def test_not_a_number_is_shown_as_such() -> None:
    assert show(float("nan"), "flow") == "nan gal/min"
    assert show(float("inf"), "flow") == "inf gal/min"


KIND_NAMES = st.sampled_from([name for name in KINDS if name not in NOT_COUNTED])
SYSTEMS = st.sampled_from(["us", "metric"])


@settings(max_examples=300)
@given(KIND_NAMES, SYSTEMS, st.floats(1.0, 9.99), st.integers(-12, 12))
def test_shown_value_is_read_back(kind: str, system: str, mantissa: float, power: int) -> None:
    value = mantissa * 10.0**power
    text = show(value, kind, system)
    assert text.isascii()
    assert parse(text, kind) == pytest.approx(value, rel=5.01e-3, abs=0.0)  # three figures


@given(SYSTEMS, st.floats(100.0, 700.0))
def test_shown_temperature_is_read_back(system: str, value: float) -> None:
    text = show(value, "temperature", system)
    assert parse(text, "temperature") == pytest.approx(value, rel=0.0, abs=0.51 / 1.8)


@given(KIND_NAMES, st.floats(1e-9, 1e9), st.data())
def test_to_unit_is_the_inverse_of_parse(kind: str, value: float, data: st.DataObject) -> None:
    units = [unit.names[0] for unit in KINDS[kind].units if not unit.curve and unit.names[0] != "1"]
    if not units:
        assert to_unit(value, kind, "1") == value
        return
    unit = data.draw(st.sampled_from(units))
    number = to_unit(value, kind, unit)
    assert parse(f"{number!r} {unit}", kind) == pytest.approx(value, rel=1e-12)
