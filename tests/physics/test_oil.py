"""Oil against ASTM and ISO figures; the published rows themselves run in tests/reference."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck.errors import DomainError
from hydrocheck.physics import oil

KELVIN = 273.15

# Own table, ASTM D341 with D2270, index 100: cSt at -20, -10, 0, 20, 40, 60, 80, 100 degC.
TABLE = {
    15: (485, 207, 102, 33.8, 15, 8.1, 5.0, 3.41),
    22: (1078, 416, 188, 54.4, 22, 11.1, 6.6, 4.29),
    32: (2368, 824, 341, 86.8, 32, 15.1, 8.5, 5.36),
    46: (4641, 1503, 585, 134.5, 46, 20.6, 11.1, 6.76),
    68: (9201, 2790, 1025, 214, 68, 28.7, 14.8, 8.73),
}
CELSIUS = np.array([-20, -10, 0, 20, 40, 60, 80, 100])

grades = st.floats(10e-6, 500e-6)
indices = st.floats(0.0, 200.0)


@pytest.mark.parametrize("grade", TABLE)
def test_table_of_grades(grade: int) -> None:
    a, b = oil.grade_line(grade * 1e-6, 100.0)
    got = oil.kinematic_viscosity(CELSIUS + KELVIN, a, b) * 1e6
    printed = np.array(TABLE[grade])
    # Printed to one decimal below 100 cSt, to whole numbers above, where the last digit of the
    # printed 100 degC value moves the extrapolation by up to 0.1 %.
    assert np.all(np.abs(got - printed) <= np.where(printed < 100, 0.051, 0.51 + 1e-3 * printed))


def test_line_passes_through_its_points() -> None:
    a, b = oil.viscosity_line(273.15, 900e-6, 353.15, 12e-6)
    assert float(oil.kinematic_viscosity(273.15, a, b)) == pytest.approx(900e-6, rel=1e-12)
    assert float(oil.kinematic_viscosity(353.15, a, b)) == pytest.approx(12e-6, rel=1e-12)


def test_reference_oils_have_index_0_and_100() -> None:
    # ASTM D2270, definition: L belongs to index 0 and H to 100. L and H of 8.86 cSt are those of
    # its example 5.1.4.
    assert float(oil.viscosity_index(119.94e-6, 8.86e-6)) == pytest.approx(0.0, abs=0.1)
    assert float(oil.viscosity_index(69.48e-6, 8.86e-6)) == pytest.approx(100.0, abs=0.1)


def test_index_to_a_tenth() -> None:
    # ASTM D2270, 5.1.4 and 6.1.4 (1) before rounding: 92.43 and 156.37. The standard reads L and H
    # from its table, the fits move the second by 0.09.
    assert float(oil.viscosity_index(73.30e-6, 8.86e-6)) == pytest.approx(92.43, abs=0.05)
    assert float(oil.viscosity_index(22.83e-6, 5.05e-6)) == pytest.approx(156.37, abs=0.15)


@pytest.mark.parametrize("start", oil._INDEX_FIT_STARTS[1:])
def test_fits_of_the_index_join(start: float) -> None:
    below = oil._index_bases(np.array(start - 1e-9))
    above = oil._index_bases(np.array(start))
    # The standard's own fits: H steps by 0.17 % at 7.7 cSt, all others by less than 0.1 %.
    assert np.array(below) == pytest.approx(np.array(above), rel=2e-3)


@given(grades, indices)
def test_index_round_trip(nu40: float, index: float) -> None:
    try:
        nu100 = float(oil.viscosity_at_100(nu40, index))
    except DomainError:
        # Only thin oils of low index fall below 2 cSt at 100 degC.
        assert nu40 < 25e-6
        return
    # The steps where the fits join move the index by up to 2.
    assert float(oil.viscosity_index(nu40, nu100)) == pytest.approx(index, abs=2.0)
    assert 2e-6 <= nu100 < nu40


@given(grades, indices, indices)
def test_more_index_is_thicker_when_hot(nu40: float, one: float, two: float) -> None:
    if nu40 < 25e-6 or abs(one - two) < 5.0:
        return
    low, high = sorted((one, two))
    assert oil.viscosity_at_100(nu40, low) < oil.viscosity_at_100(nu40, high)


@given(grades, st.floats(60.0, 200.0), st.floats(230.0, 400.0), st.floats(230.0, 400.0))
def test_viscosity_falls_with_heat_and_turns_round(
    nu40: float, index: float, one: float, two: float
) -> None:
    a, b = oil.grade_line(nu40, index)
    first, second = (float(oil.kinematic_viscosity(t, a, b)) for t in (one, two))
    if one < two - 1e-6:
        assert first > second
    if first < 1.0:  # below the cap of solid oil
        assert float(oil.temperature_at_viscosity(first, a, b)) == pytest.approx(one, rel=1e-9)


def test_extreme_temperatures_never_warn() -> None:
    a, b = oil.grade_line(46e-6, 100.0)
    got = oil.kinematic_viscosity(np.array([0.0, 1.0, 200.0, 1e4, np.nan]), a, b)
    assert got[0] == got[1] == pytest.approx(1e6)
    assert 0.0 < got[3] < 1e-6
    assert np.isnan(got[4])


def test_arrays_broadcast() -> None:
    a, b = oil.grade_line(np.array([[32e-6], [46e-6]]), np.array([100.0, 150.0, 180.0]))
    assert np.shape(a) == (2, 3)
    assert oil.kinematic_viscosity(300.0, a, b).shape == (2, 3)


@given(st.floats(32.0, 1e5))
def test_saybolt_round_trip(seconds: float) -> None:
    nu = oil.kinematic_from_saybolt(seconds)
    assert float(oil._saybolt(nu * 1e6)) == pytest.approx(seconds, rel=1e-9)


def test_saybolt_against_the_old_rule() -> None:
    # nu = 0.220 t - 135 / t above 100 s: Fluid Power with Applications, 6th ed., 2005, Example
    # 2-12, good to about 1 %.
    seconds = np.array([120.0, 230.0, 500.0, 2000.0])
    assert oil.kinematic_from_saybolt(seconds) * 1e6 == pytest.approx(
        0.220 * seconds - 135.0 / seconds, rel=0.03
    )


def test_cleanliness_numbers() -> None:
    # ISO 4406:1999, scale: each number about doubles the count, exactly 2^(code - 6.64) rounded.
    codes = np.arange(1, 29)
    limits = oil.cleanliness_limit(codes) * 1e-6
    assert limits == pytest.approx(2.0**codes / 100.0, rel=0.08)
    assert np.all(oil.cleanliness_code(limits * 1e6) == codes)
    assert int(oil.cleanliness_code(0.0)) == 0


def test_density_and_compression() -> None:
    assert float(oil.density(288.15, 870.0, 7e-4)) == 870.0
    # Trapped oil: 11 bar for each degC, a training site (common practice).
    rise = float(oil.trapped_pressure_rise(1.0, 1.57e9, 7e-4))
    assert rise == pytest.approx(11e5, rel=0.01)
    # The volume it would have grown is what that pressure squeezes out again.
    assert float(oil.compression(1.0, rise, 1.57e9)) == pytest.approx(7e-4, rel=1e-12)


@pytest.mark.parametrize(
    "call",
    [
        lambda: oil.viscosity_line(300.0, 46e-6, 300.0, 10e-6),
        lambda: oil.viscosity_line(-1.0, 46e-6, 300.0, 10e-6),
        lambda: oil.viscosity_line(300.0, np.nan, 350.0, 10e-6),
        lambda: oil.viscosity_line(300.0, 46e-6, 350.0, 0.2e-6),
        lambda: oil.temperature_at_viscosity(0.0, 9.0, 3.5),
        lambda: oil.temperature_at_viscosity(46e-6, 9.0, 0.0),
        lambda: oil.viscosity_index(46e-6, 1.9e-6),
        lambda: oil.viscosity_index(5e-6, 6e-6),
        lambda: oil.viscosity_at_100(2e-6, 100.0),
        lambda: oil.viscosity_at_100(46e-6, 5000.0),
        lambda: oil.viscosity_at_100(46e-6, np.nan),
        lambda: oil.iso_grade_limits(0.0),
        lambda: oil.saybolt_from_kinematic(1e-6),
        lambda: oil.kinematic_from_saybolt(31.0),
        lambda: oil.compression(1.0, 1e5, 0.0),
        lambda: oil.cleanliness_limit(18.5),
        lambda: oil.cleanliness_limit(29),
        lambda: oil.cleanliness_limit(np.nan),
        lambda: oil.cleanliness_code(1e15),
        lambda: oil.cleanliness_code(-1.0),
    ],
)
def test_refusals(call: Callable[[], object]) -> None:
    with pytest.raises(DomainError, match=r"^[^\n]+$"):
        call()
