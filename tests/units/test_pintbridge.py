"""Quantities of pint in and out, and the imports that this must not cost others."""

from __future__ import annotations

import pickle
import subprocess
import sys

import pint
import pytest

from hydrocheck.errors import UnitError
from hydrocheck.units import KINDS, from_pint, parse, registry, to_pint


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_there_and_back(kind: str) -> None:
    assert from_pint(to_pint(0.5, kind), kind) == pytest.approx(0.5, rel=1e-12)


@pytest.mark.parametrize(
    ("number", "unit", "kind", "text"),
    [
        (4.0, "in**3/revolution", "displacement", "4 in3/rev"),
        (4.0, "in**3", "displacement", "4 in3/rev"),
        (4.0, "in**3/radian", "displacement", "4 in3/rad"),
        (1000.0, "rpm", "shaft_speed", "1000 rpm"),
        (10.0, "gpm", "flow", "10 gpm"),
        (2600.0, "psi", "pressure", "2600 psi"),
        (140.0, "degF", "temperature", "140 F"),
        (40.0, "delta_degF", "temperature_rise", "40 F"),
        (40.0, "kelvin", "temperature_rise", "40 K"),
        (90.0, "percent", "fraction", "90 %"),
        (30.0, "degree", "angle", "30 deg"),
        (100.0, "lbf*ft", "torque", "100 lb-ft"),
        (100.0, "foot_pound", "torque", "100 lb-ft"),
        (240.0, "lb/mile", "application_rate", "240 lb/mi"),
        (5.0, "lb/revolution", "mass_per_rev", "5 lb/rev"),
    ],
)
def test_agrees_with_text(number: float, unit: str, kind: str, text: str) -> None:
    for made in (registry(), pint.UnitRegistry()):
        if unit == "gpm" and made is not registry():
            continue
        assert from_pint(made.Quantity(number, unit), kind) == pytest.approx(parse(text, kind))


def test_products_keep_their_turns() -> None:
    made = registry()
    displacement, speed = made.Quantity(4.0, "in**3/revolution"), made.Quantity(1000.0, "rpm")
    pressure = made.Quantity(2000.0, "psi")
    # gpm = in3/rev rpm / 231 and lbf in = psi in3/rev / (2 pi).
    assert from_pint(displacement * speed, "flow") == pytest.approx(
        parse("17.316017316 gpm", "flow")
    )
    torque = from_pint(pressure * displacement, "torque")
    assert torque == pytest.approx(parse("1273.2395447 lb-in", "torque"))


@pytest.mark.parametrize(
    ("number", "unit", "kind", "says"),
    [
        (5.0, "hertz", "shaft_speed", "angle"),
        (5.0, "1/second", "shaft_speed", "angle"),
        (5.0, "rpm", "frequency", "angle"),
        (5.0, "joule", "torque", "energy"),
        (5.0, "Btu", "torque", "energy"),
        (5.0, "psi", "flow", "not a flow"),
        (5.0, "degree", "fraction", "angle"),
        (5.0, "percent", "angle", "angle"),
        (5.0, "delta_degF", "temperature", "not a temperature"),
        (5.0, "degF", "temperature_rise", "not a temperature"),
        (5.0, "lb", "force", "not a force"),
        (5.0, "in**3/revolution", "volume", "angle"),
        (-5.0, "in**3/revolution", "displacement", "negative"),
        (float("nan"), "psi", "pressure", "finite"),
    ],
)
def test_refused(number: float, unit: str, kind: str, says: str) -> None:
    # Volume, flow without turns: in pint 4 in3 * 1000 rpm is 108.8 gpm, a radian too many.
    with pytest.raises(UnitError, match=says):
        from_pint(registry().Quantity(number, unit), kind)


def test_forgotten_turn_is_found() -> None:
    made = registry()
    wrong = made.Quantity(4.0, "in**3") * made.Quantity(1000.0, "rpm")  # 108.8 gpm in pint's eyes
    with pytest.raises(UnitError, match="angle"):
        from_pint(wrong, "flow")


@pytest.mark.parametrize("thing", [5.0, "5 psi", None])
def test_not_a_quantity(thing: object) -> None:
    with pytest.raises(UnitError, match="no pint quantity"):
        from_pint(thing, "pressure")


def test_list_of_values_is_refused() -> None:
    with pytest.raises(UnitError, match="one plain number"):
        from_pint(registry().Quantity([1.0, 2.0], "psi"), "pressure")


def test_one_registry_survives_pickling() -> None:
    made = registry()
    assert registry() is made
    again = pickle.loads(pickle.dumps(made.Quantity(5.0, "psi")))
    assert (again + made.Quantity(1.0, "psi")).m_as("psi") == pytest.approx(6.0)


def test_import_is_light() -> None:
    code = (
        "import sys, hydrocheck.units as u; u.parse('5 psi', 'pressure');"
        "print([m for m in ('numpy', 'pint', 'scipy', 'fluids', 'difflib') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "[]"
