"""The closed tables: factors against pint, spellings without clash, usable display units."""

from __future__ import annotations

import pytest

from hydrocheck.errors import UnitError
from hydrocheck.units import KINDS, accepted, parse, registry, show, to_unit
from hydrocheck.units.kind import Kind, Unit

UNITS = [
    pytest.param(kind, unit, id=f"{kind.name}-{unit.names[0]}")
    for kind in KINDS.values()
    for unit in kind.units
]
SPELLINGS = [
    pytest.param(kind, unit, name, id=f"{kind.name}-{name}")
    for kind in KINDS.values()
    for unit in kind.units
    for name in unit.names
    if name != "1"
]
EACH_KIND = [pytest.param(kind, id=kind.name) for kind in KINDS.values()]


@pytest.mark.parametrize(("kind", "unit", "name"), SPELLINGS)
def test_spelling_agrees_with_pint(kind: Kind, unit: Unit, name: str) -> None:
    value = parse(f"40 {name}", kind.name)
    if not unit.pint:
        assert unit.curve is not None
        assert to_unit(value, kind.name, name) == pytest.approx(40.0, rel=1e-12)
        return
    made = registry()
    expected = made.Quantity(40.0, unit.pint).to(kind.pint).magnitude
    assert value == pytest.approx(expected, rel=1e-12, abs=0.0)


@pytest.mark.parametrize(("kind", "unit", "name"), SPELLINGS)
def test_capitals_never_change_the_value(kind: Kind, unit: Unit, name: str) -> None:
    """Written in other capitals a unit is the same unit or an error, never another one."""
    value = parse(f"40 {name}", kind.name)
    for other in (name.upper(), name.lower(), name.swapcase()):
        try:
            again = parse(f"40 {other}", kind.name)
        except UnitError:
            assert not unit.fold
        else:
            assert again == value


@pytest.mark.parametrize("kind", EACH_KIND)
def test_spelling_has_one_meaning(kind: Kind) -> None:
    for unit in kind.units:
        for name in unit.names:
            found = kind.find(name)
            assert found is not None
            assert (found.factor, found.shift) == (unit.factor, unit.shift)
    assert not set(kind.reasons) & set(kind.folded)


@pytest.mark.parametrize("kind", EACH_KIND)
def test_display_and_si_units_are_in_the_table(kind: Kind) -> None:
    for display in (kind.us, kind.metric):
        assert display.unit.isascii()
        assert kind.find(display.unit) is not None
        assert display.unit in {name for unit in kind.units for name in unit.names}
    assert to_unit(1.25, kind.name, kind.si) == 1.25
    # The SI unit is coherent: 1 of it is 1 in the base units.
    assert registry().Quantity(1.0, kind.pint).to_base_units().magnitude == pytest.approx(1.0)


@pytest.mark.parametrize("kind", EACH_KIND)
def test_accepted_spellings_are_accepted(kind: Kind) -> None:
    names = accepted(kind.name)
    assert names or kind.plain
    assert len(names) == len(set(names))
    for name in names:
        assert parse(f"40 {name}", kind.name) > 0.0


@pytest.mark.parametrize("kind", EACH_KIND)
def test_missing_unit_lists_what_fits(kind: Kind) -> None:
    if kind.plain:
        assert parse("1", kind.name) == 1.0
        return
    with pytest.raises(UnitError) as caught:
        parse("10", kind.name)
    assert "no unit" in str(caught.value)
    assert accepted(kind.name)[0] in str(caught.value)


def test_unknown_kind_is_a_programming_error() -> None:
    with pytest.raises(KeyError, match="presure"):
        parse("10 psi", "presure")
    with pytest.raises(ValueError, match="metric"):
        show(1.0, "pressure", "imperial")


# Every unit text that the collected worked examples, agency documents and cases use.
USED = {
    "fraction": ["%", "% by weight"],
    "energy": ["J", "Btu_IT"],
    "flow": ["L/min", "L/s", "gpm", "m3/s"],
    "displacement": ["L/rev", "cm3/rev", "in3/rev", "ft3/rev"],
    "pressure": ["MPa", "Pa", "bar", "kPa", "psi", "inHg conventional"],
    "absolute_pressure": ["psia"],
    "force": ["N", "lbf", "kN"],
    "torque": ["N.m", "in.lbf", "lbf.ft", "lb-in", "lb-ft", "N-m", "Nm"],
    "dynamic_viscosity": ["P", "Pa.s", "cP"],
    "kinematic_viscosity": ["SUS", "SSU", "cSt", "in2/s", "m2/s"],
    "power": ["W", "hp", "kW"],
    "heat_flow": ["Btu/h", "kW"],
    "length": ["cm", "ft", "in", "m", "mile", "mm", "um", "micron"],
    "velocity": ["cm/s", "ft/min", "ft/s", "in/s", "m/s"],
    "angle": ["deg", "degrees"],
    "temperature": ["C", "F", "degC", "degF"],
    "temperature_rise": ["C", "F", "K"],
    "brine_saturation": ["degS"],
    "area": ["ft2", "in2"],
    "volume": ["ft3", "gal", "in3", "m3", "yd3", "L"],
    "specific_volume": ["ft3/ton"],
    "density": ["g/cm3", "kg/m3", "lb/ft3", "lb/yd3", "lb/min per gpm"],
    "liquid_rate": ["gal/mile", "gal per lane-mile", "gal/lane-mile"],
    "liquid_per_mass": ["gal/ton"],
    "flow_coefficient": ["gpm/psi^0.5"],
    "heat_transfer": ["hp/ft2.F"],
    "specific_heat": ["Btu/lb.F", "kJ/kg.K"],
    "mass": ["kg", "lb", "short ton", "ton"],
    "application_rate": ["lb/lane.mile", "lb/mile", "lb per lane-mile", "lb/mi"],
    "mass_flow": ["lb/min", "kg/min", "ton/h", "kg/s", "t/h"],
    "mass_per_rev": ["lb/rev"],
    "stiffness": ["lbf/in"],
    "pace": ["min/mile"],
    "road_speed": ["mph", "km/h", "m/s"],
    "particle_count": ["particles/mL"],
    "shaft_speed": ["rpm"],
    "resistance": ["ohm"],
    "current": ["A", "mA"],
    "voltage": ["V"],
    "time": ["s", "min"],
}


@pytest.mark.parametrize(
    ("kind", "name"), [(k, name) for k, names in USED.items() for name in names]
)
def test_units_of_the_sources_are_known(kind: str, name: str) -> None:
    assert parse(f"40 {name}", kind) > 0.0
