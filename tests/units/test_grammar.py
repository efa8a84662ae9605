"""The grammar: what is read, what is refused, and how tolerances are taken."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from hydrocheck.errors import UnitError
from hydrocheck.units import KINDS, parse, parse_measured
from hydrocheck.units.spelling import canonical

PSI = 6894.757293168361
INCH3_PER_TURN = 1.6387064e-5 / 6.283185307179586


@pytest.mark.parametrize(
    ("text", "kind", "value", "half_width"),
    [
        ("5.5 in^3/rev +/- 3 %", "displacement", 5.5 * INCH3_PER_TURN, 0.165 * INCH3_PER_TURN),
        ("5.5 in^3/rev ± 3%", "displacement", 5.5 * INCH3_PER_TURN, 0.165 * INCH3_PER_TURN),
        ("0.90 +/- 0.03", "fraction", 0.90, 0.03),
        ("90 % +/- 3 %", "fraction", 0.90, 0.03),
        ("90 +/- 3 %", "fraction", 0.90, 0.03),
        ("1300 rpm +/- 20 rpm", "shaft_speed", 136.1356816555577, 2.0943951023931953),
        ("2,300 psi +- 0.5 bar", "pressure", 2300 * PSI, 5e4),
        ("240 +-10 lb per lane-mile", "application_rate", 0.06764381561680, 0.002818492317367),
        ("10±1 psi", "pressure", 10 * PSI, PSI),
        ("150 F +/- 9 F", "temperature", (150 + 459.67) / 1.8, 5.0),
        ("1-1/4 in +/- 1/16 in", "length", 0.03175, 0.0015875),
        ("1.2 +/- 5 %", "ratio", 1.2, 0.06),
        ("0 psi +/- 0 psi", "pressure", 0.0, 0.0),
        ("-10 psi +/- 10 %", "pressure", -10 * PSI, PSI),
    ],
)
def test_tolerance(text: str, kind: str, value: float, half_width: float) -> None:
    measured = parse_measured(text, kind)
    assert measured.value == pytest.approx(value, rel=1e-9)
    assert measured.half_width == pytest.approx(half_width, rel=1e-9)


def test_no_tolerance_is_none() -> None:
    assert parse_measured("10 psi", "pressure").half_width is None


def test_saybolt_tolerance_follows_the_curve() -> None:
    kind = "kinematic_viscosity"
    low, high = parse("220 SUS", kind), parse("240 SUS", kind)
    assert parse_measured("230 SUS +/- 10 SUS", kind).half_width == pytest.approx((high - low) / 2)


@pytest.mark.parametrize(
    ("text", "kind", "says"),
    [
        ("150 F +/- 5", "temperature", "needs its unit"),
        ("150 F +/- 5 %", "temperature", "degrees"),
        ("0.90 +/- 3 %", "fraction", "unclear"),
        ("1300 +/- 3 %", "shaft_speed", "'%'|no unit"),
        ("10 psi +/- -1 psi", "pressure", "sign"),
        ("10 psi +/- 1 psi +/- 2 psi", "pressure", "more than one"),
        ("+/- 1 psi", "pressure", "no number"),
        ("10 psi +/-", "pressure", "no number"),
        ("10 psi +/- 1 rpm", "pressure", "unit of shaft speed"),
        ("10 psi +/- nan psi", "pressure", "finite"),
        ("33 SUS +/- 10 SUS", "kinematic_viscosity", "32.0 SUS"),
        ("46 cSt +/- 10 SUS", "kinematic_viscosity", "same unit"),
    ],
)
def test_bad_tolerance(text: str, kind: str, says: str) -> None:
    with pytest.raises(UnitError, match=says):
        parse_measured(text, kind)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("25:1", "ratio", 25.0),
        ("1 : 2", "ratio", 0.5),
        ("67 %", "ratio", 0.67),
        ("110 %", "fraction", 1.1),
        ("0.9", "fraction", 0.9),
        ("1,200", "count", 1200.0),
        ("0.87", "specific_gravity", 0.87),
        ("5 lb/1000 ft2", "area_rate", 0.024412138),
        ("0.0007 1/degC", "expansion", 0.0007),
        ("0.0007/K", "expansion", 0.0007),
        ("1.5 Btu/(h ft2 F)", "heat_transfer", 8.51739),
        ("-1-1/4 in", "length", -0.03175),
        ("2 ft³/min", "flow", 2 * 0.3048**3 / 60),
        ("20 N·m", "torque", 20.0),
        ("4 ㎝", "length", 0.04),
        ("100 ㏄", "volume", 1e-4),
        ("70 ℉", "temperature", 294.2611111),
        ("3/4″", "length", 0.01905),
        ("3/4”", "length", 0.01905),
        ("6′", "length", 1.8288),
        ("¾ in", "length", 0.01905),
        ("2¾ in", "length", 0.06985),
        ("5 ｐｓｉ", "pressure", 5 * PSI),
    ],
)
def test_reads(text: str, kind: str, value: float) -> None:
    assert parse(text, kind) == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "kind", "says"),
    [
        ("25:1 psi", "pressure", "25:1 does not fit"),
        ("25:0", "ratio", "zero"),
        ("90", "fraction", "90 %"),
        ("5/7 in", "length", "inch fraction"),
        ("1 5/4 in", "length", "inch fraction"),
        ("1/0 in", "length", "inch fraction"),
        ("5₂ psi", "pressure", "digit"),
        ("① psi", "pressure", "digit"),
        ("5 psi\n6 psi", "pressure", "control"),
        ("5 psi\u202e", "pressure", "control"),
        ("5 \ud800", "pressure", "control"),
        ("5 lb--ft", "torque", "unknown unit"),
        ("5 ((psi))", "pressure", "unknown unit"),
        ("5 /", "pressure", "unknown unit"),
        ("5 psi/", "pressure", "unknown unit"),
        ("5 psi,", "pressure", "comma"),
        ("- 5 psi", "pressure", "no number"),
        ("--5 psi", "pressure", "no number"),
        ("about 5 psi", "pressure", "no number"),
        ("5 to 10 psi", "pressure", "range"),
        ("10 gall", "volume", "did you mean gal"),
        ("10 bars", "pressure", "did you mean bar"),
        ("10 cubits", "length", "unknown unit"),
        ("300 kg", "force", "mass is no force"),
        ("300 lb/two-lane mile", "application_rate", "halve"),
        ("5 gal", "flow", "gal/min"),
        ("-1 inHg", "vacuum", "negative"),
        ("1e308 mi", "length", "bounds"),
    ],
)
def test_refuses(text: str, kind: str, says: str) -> None:
    with pytest.raises(UnitError, match=says) as caught:
        parse(text, kind)
    assert "\n" not in str(caught.value)


def test_number_instead_of_text_is_told_apart() -> None:
    with pytest.raises(UnitError, match="needs its unit"):
        parse(2600, "pressure")  # type: ignore[arg-type]  # what a truck file may hold


@pytest.mark.parametrize(
    "text",
    [
        "in^3/rev",
        "in**3/rev",
        "in3 / rev",
        "cu. in./rev",
        "cu in per rev",
        "cubic inches/revolution",
    ],
)
def test_one_normal_form(text: str) -> None:
    assert canonical(text) == "in3/rev"


PIECES = st.sampled_from(
    [
        *"0123456789.,/ -+%#\"'*^:e_°²³½±µ",
        "psi",
        "in",
        "gal",
        "/min",
        "rpm",
        "+/-",
        " to ",
        "nan",
        "1e9",
    ]
)
TEXTS = st.one_of(
    st.text(max_size=70), st.lists(PIECES, max_size=14).map("".join), st.from_regex(r"[0-9]+.{0,9}")
)


@settings(max_examples=400, deadline=None)
@given(TEXTS, st.sampled_from(sorted(KINDS)))
@example("0" * 60, "pressure")
@example("1 " * 30, "length")
@example("\ufdfa" * 60, "flow")
@example("1/" * 30, "expansion")
def test_only_unit_errors_come_out(text: str, kind: str) -> None:
    message, measured = "", None
    try:
        measured = parse_measured(text, kind)
    except UnitError as error:
        message = str(error)
    assert message.isprintable()
    assert bool(message) == (measured is None)
    if measured is not None:
        assert math.isfinite(measured.value)
        assert measured.half_width is None or measured.half_width >= 0.0


@given(st.floats(0.0, 1e12), st.sampled_from(["psi", "bar", "kPa"]))
def test_written_number_is_read_back(number: float, unit: str) -> None:
    one = parse(f"1 {unit}", "pressure")
    if number and number * one < 1e-300:
        return
    assert parse(f"{number!r} {unit}", "pressure") == pytest.approx(number * one, rel=1e-15)
    grouped = parse(f"{number:,.3f} {unit}", "pressure")
    assert grouped == pytest.approx(round(number, 3) * one, rel=1e-12, abs=1e-9)
