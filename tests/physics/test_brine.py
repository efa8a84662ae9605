"""Brine against handbook tables and general libraries; single rows run in tests/reference."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import gallon, lb

from hydrocheck.errors import DomainError
from hydrocheck.physics import brine, material

ZERO = 273.15

concentrations = st.floats(0.0, 0.26)
temperatures = st.floats(ZERO - 20.0, ZERO + 40.0)


@pytest.mark.parametrize(
    ("percent", "at_0", "at_25"),
    # Chemical engineers' handbook, densities of sodium chloride in water, g/mL, from memory.
    [
        (1, 1.00747, 1.00409),
        (4, 1.03038, 1.02530),
        (8, 1.06121, 1.05412),
        (12, 1.09244, 1.08365),
        (16, 1.12419, 1.11401),
        (20, 1.15663, 1.14533),
        (24, 1.18999, 1.17776),
        (26, 1.20709, 1.19443),
    ],
)
def test_density_against_a_handbook(percent: float, at_0: float, at_25: float) -> None:
    got = brine.brine_density(percent / 100, [ZERO, ZERO + 25.0])
    assert got / 1000 == pytest.approx([at_0, at_25], rel=1e-3)


def test_density_of_water() -> None:
    # IAPWS-95 by way of package chemicals at 15 degC; 998.2 and 997.05 kg/m3 at 20 and 25 degC are
    # in any table.
    water = brine.brine_density(0.0, np.array([15.0, 20.0, 25.0]) + ZERO)
    assert water == pytest.approx([999.1026, 998.2067, 997.047], abs=0.01)


@pytest.mark.parametrize(
    ("percent", "viscosity"),
    # Standard Handbook of Petroleum and Natural Gas Engineering, vol. 2, Table 5-2, 68 degF, cP.
    [(0.1, 1.004), (1, 1.020), (5, 1.085), (10, 1.193), (15, 1.351), (20, 1.557), (25, 1.902)],
)
def test_viscosity_against_a_handbook(percent: float, viscosity: float) -> None:
    got = float(brine.brine_viscosity(percent / 100, ZERO + 20.0))
    assert got * 1e3 == pytest.approx(viscosity, rel=0.011)


def test_cold_viscosity_against_a_library() -> None:
    # package thermo, Laliberte_viscosity, 23.3 % at 0 and -10 degC.
    got = brine.brine_viscosity(0.233, [ZERO, ZERO - 10.0])
    assert got == pytest.approx([0.003084271935, 0.004437648633], rel=1e-4)


@given(concentrations, temperatures, st.floats(1e-4, 0.01), st.floats(0.1, 5.0))
def test_salt_and_cold_thicken(c: float, t: float, salt: float, warmer: float) -> None:
    assert float(brine.brine_density(c + salt, t)) > float(brine.brine_density(c, t))
    assert float(brine.brine_viscosity(c, t + warmer)) < float(brine.brine_viscosity(c, t))


def test_freezing_points() -> None:
    # Oregon State University, S.G. 22, 1973: eutectic -6 degF at 23.3 %.
    got = float(brine.brine_freezing_point(brine.EUTECTIC))
    assert (got - ZERO) * 9 / 5 + 32 == pytest.approx(-6.0, abs=0.1)
    assert float(brine.brine_freezing_point(0.0)) == ZERO
    # Freezing point depression of a dilute solution, 2 ions: 1.86 K kg/mol x 2 x 0.93, 58.44 g/mol.
    dilute = ZERO - float(brine.brine_freezing_point(0.01))
    assert dilute == pytest.approx(1.86 * 2 * 0.93 * 0.01 / 0.99 / 58.44e-3, rel=0.02)
    points = brine.brine_freezing_point(np.linspace(0.0, 0.233, 200))
    assert (np.diff(points) < 0.0).all()


def test_salt_in_a_gallon() -> None:
    # Practice: saturated brine holds 2.6 lb of salt a gallon. Iowa DOT, 2008: 50 gal of 23.3 %
    # about 110 lb (rounded; 114 by its specific gravity of 1.176).
    full = brine.salt_in_brine(gallon, brine.brine_density(0.264), 0.264)
    assert float(full) / lb == pytest.approx(2.6, abs=0.06)
    fifty = brine.salt_in_brine(50 * gallon, brine.brine_density(0.233), 0.233)
    assert float(fifty) / lb == pytest.approx(114.3, abs=0.3)


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.26), st.floats(0.1, 100.0))
def test_saving_and_slurry_agree(share: float, c: float, mass: float) -> None:
    laid = float(brine.slurry_salt(mass, share, c))
    assert laid == pytest.approx(mass * (1.0 - float(brine.salt_saving(share, c))), rel=1e-12)


def test_same_names_in_material() -> None:
    assert all(getattr(material, n) is getattr(brine, n) for n in brine.__all__ if n.islower())


@pytest.mark.parametrize(
    "call",
    [
        lambda: brine.brine_density(-0.01),
        lambda: brine.brine_density(0.3),
        lambda: brine.brine_density(np.nan),
        lambda: brine.brine_density(0.2, 20.0),
        lambda: brine.brine_viscosity([0.1, 0.28], 280.0),
        lambda: brine.brine_viscosity(0.1, 400.0),
        lambda: brine.brine_freezing_point(0.25),
        lambda: brine.salt_saving(1.1, 0.2),
    ],
)
def test_refusals(call: Callable[[], object]) -> None:
    with pytest.raises(DomainError, match=r"^[^\n]+$"):
        call()
