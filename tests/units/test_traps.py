"""Every text that misled a general unit library gives the right number or a message that helps."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest

from hydrocheck.errors import UnitError
from hydrocheck.units import KINDS, parse, parse_measured, to_unit

TABLE = Path(__file__).parents[2] / "reference_cases" / "units_traps.toml"
CASES: list[dict[str, Any]] = tomllib.loads(TABLE.read_text(encoding="utf-8"))["case"]


def _named(case: dict[str, Any]) -> str:
    return f"{case['kind']}-{ascii(case['text'])[1:-1]}"


@pytest.mark.parametrize("case", [c for c in CASES if c["verdict"] == "accept"], ids=_named)
def test_accepted(case: dict[str, Any]) -> None:
    # The expected numbers are written in the table, from the legal definitions.
    assert parse(case["text"], case["kind"]) == pytest.approx(case["si"], rel=1e-7, abs=0.0)


@pytest.mark.parametrize("case", [c for c in CASES if c["verdict"] == "refuse"], ids=_named)
def test_refused(case: dict[str, Any]) -> None:
    with pytest.raises(UnitError) as caught:
        parse(case["text"], case["kind"])
    message = str(caught.value)
    assert case["says"]
    for words in case["says"]:
        assert words in message
    assert message.isprintable()  # one line


def test_table_is_complete() -> None:
    """Each row has one verdict and a known kind; both verdicts are there in number."""
    verdicts = [case["verdict"] for case in CASES]
    assert set(verdicts) == {"accept", "refuse"}
    assert min(verdicts.count("accept"), verdicts.count("refuse")) > 80
    assert {case["kind"] for case in CASES} <= set(KINDS)
    assert len({(case["text"], case["kind"]) for case in CASES}) == len(CASES)


# rpm hides 2 pi: five products that a general library gets wrong in silence.
# True values by hand: gpm = in3/rev rpm / 231; lbf in = psi in3/rev / (2 pi).


def test_displacement_times_speed_is_a_flow() -> None:
    flow = parse("4 in^3", "displacement") * parse("1000 rpm", "shaft_speed")
    assert to_unit(flow, "flow", "gpm") == pytest.approx(4000.0 / 231.0, rel=1e-12)  # not 108.8


def test_flow_over_displacement_is_a_speed() -> None:
    speed = parse("10 gal/min", "flow") / parse("4 in^3", "displacement")
    assert to_unit(speed, "shaft_speed", "rpm") == pytest.approx(577.5, rel=1e-12)  # not 91.9


def test_pressure_times_displacement_is_a_torque() -> None:
    torque = parse("2000 psi", "pressure") * parse("4 in^3", "displacement")
    expected = 8000.0 / (2.0 * math.pi)
    assert to_unit(torque, "torque", "in-lb") == pytest.approx(expected, rel=1e-12)  # not 8000


def test_torque_times_speed_is_a_power() -> None:
    power = parse("100 lbf*ft", "torque") * parse("540 rpm", "shaft_speed")
    assert to_unit(power, "power", "hp") == pytest.approx(10.28158, rel=1e-6)


@pytest.mark.parametrize("text", ["1000/min", "1/min", "1 count/min", "1 cps", "1 Hz"])
def test_rate_without_a_turn_is_no_shaft_speed(text: str) -> None:
    with pytest.raises(UnitError, match="2 pi"):
        parse(text, "shaft_speed")


def test_bare_volume_is_per_revolution() -> None:
    for text in ("4 in^3", "4 in^3/rev", "4 cir"):
        assert to_unit(parse(text, "displacement"), "displacement", "in3/rev") == pytest.approx(4.0)


def test_horsepower_constant_is_exact() -> None:
    # psi gpm per hp = 12000/7, printed as 1714 (trade constant of fluid-power textbooks).
    product = parse("1 psi", "pressure") * parse("1 gpm", "flow")
    assert parse("1 hp", "power") / product == pytest.approx(12000.0 / 7.0, rel=1e-12)


def test_tolerance_is_never_dropped() -> None:
    assert parse_measured("10±1 psi", "pressure").half_width == pytest.approx(6894.757293168361)
    with pytest.raises(UnitError, match="tolerance"):
        parse("10±1 psi", "pressure")
