"""Pan tests, spray bars and bulk densities."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck.errors import DomainError
from hydrocheck.physics import bulk, pattern
from hydrocheck.units import parse

LB_FT3 = parse("1 lb/ft3", "density")


def test_swath_of_the_extension_bulletin() -> None:
    """Ohio State University Extension bulletin 817, section 13: 4 in, 2 in at 6 ft: 12 ft."""
    left, right = pattern.effective_swath([6, -6, 0], [2, 2, 4])
    assert (left, right) == (-6.0, 6.0)


def test_swath_between_pans_and_beyond_them() -> None:
    """A triangle falls to half at half its base; a flat pattern never does."""
    places = np.linspace(-10.0, 10.0, 21)
    left, right = pattern.effective_swath(places, 10.0 - np.abs(places))
    assert (left, right) == pytest.approx((-5.0, 5.0))
    assert pattern.effective_swath(places, np.ones(21)) == (-10.0, 10.0)


@given(st.floats(1.0, 8.0), st.floats(-3.0, 3.0))
def test_swath_of_a_triangle_that_leans(half_base: float, top: float) -> None:
    places = np.linspace(-12.0, 12.0, 481)
    amount = np.maximum(0.0, half_base - np.abs(places - top)) + 1e-9
    if amount[240] < 0.2:
        return
    left, right = pattern.effective_swath(places, amount)
    half = 0.5 * amount[240]
    assert right - left == pytest.approx(2 * (half_base - half), abs=0.02)


def test_share_within_by_area() -> None:
    """A flat pattern over 20: half of it within 10; a triangle: 3/4 within half its base."""
    places = np.linspace(-10.0, 10.0, 201)
    assert pattern.share_within(places, np.ones(201), -5.0, 5.0) == pytest.approx(0.5)
    triangle = 10.0 - np.abs(places)
    assert pattern.share_within(places, triangle, -5.0, 5.0) == pytest.approx(0.75)
    assert pattern.share_within(places, triangle, -99.0, 99.0) == pytest.approx(1.0)
    assert pattern.share_within(places, triangle, 20.0, 30.0) == 0.0


@pytest.mark.parametrize(
    ("across", "amount", "words"),
    [
        ([0, 1], [1, 1], "three pans"),
        ([0, 1, 1], [1, 1, 1], "same place"),
        ([0, 1, 2], [0, 0, 0], "empty"),
        ([0, 1, 2], [1, -1, 1], "less than nothing"),
        ([0, 1, 2], [0, 1, 1], "in the middle is empty"),
    ],
)
def test_pans_that_tell_nothing(across: list[float], amount: list[float], words: str) -> None:
    with pytest.raises(DomainError, match=words):
        pattern.effective_swath(across, amount)


def test_rate_of_a_spray_bar_holds_while_the_gear_does() -> None:
    """TM 5-3895-371-10: 9 Q / (W V): 100 gal/min, 12 ft, 300 ft/min: 0.25 gal/yd2.

    The pump turns with the drivetrain: twice the speed is twice the flow, and the same rate.
    """
    flow, width = parse("100 gpm", "flow"), parse("12 ft", "length")
    speed = parse("300 ft/min", "velocity")
    once, twice = (pattern.liquid_layer(k * flow, width, k * speed) for k in (1, 2))
    assert once * 0.9144**2 / 3.785411784e-3 == pytest.approx(0.25, abs=5e-4)
    assert twice == pytest.approx(once)


@pytest.mark.parametrize(
    ("name", "usual"),
    [
        ("road salt", 72.0),
        ("Rock Salt", 72.0),
        ("damp salt", 80.0),
        ("stored salt", 80.0),
        ("wet sand", 115.0),
        ("sand", 100.0),
        ("magnesium chloride", 33.0),
    ],
)
def test_bulk_densities(name: str, usual: float) -> None:
    """72 loose and 80 in store: Salt Institute, Salt Storage Handbook; 33: screw standard."""
    assert bulk.bulk_density(name) / LB_FT3 == pytest.approx(usual)


def test_every_material_has_a_range_and_a_source() -> None:
    for one in bulk.MATERIALS:
        assert one.low < one.usual < one.high
        assert one.source
    with pytest.raises(DomainError, match="no bulk density is known for 'gold'"):
        bulk.bulk_density("gold")
