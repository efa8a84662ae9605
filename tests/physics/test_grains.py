"""Falling grains against Stokes's law, a balance of forces and a wind tunnel."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.drag import drag_sphere
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import g

from hydrocheck.errors import DomainError
from hydrocheck.physics.grains import stokes_velocity, terminal_velocity

COLD_AIR = (1.316, 1.67e-5)  # still air of -5 degC, density and viscosity


def test_fine_grains_obey_stokes_and_others_fall_slower() -> None:
    # Oracle: the drag law of package fluids; Stokes's law is its end for Re far below 1.
    size = np.array([2e-6, 5e-6, 1e-5])
    fine = stokes_velocity(size, 900.0, 1.2, 1.8e-5)
    assert terminal_velocity(size, 900.0, 1.2, 1.8e-5) == pytest.approx(fine, rel=5e-3)
    coarse = np.array([1e-4, 1e-3, 1e-2])
    assert np.all(
        terminal_velocity(coarse, 2160.0, *COLD_AIR) < stokes_velocity(coarse, 2160.0, *COLD_AIR)
    )


def test_air_bubbles_rise() -> None:
    # A bubble in oil is lighter: same size of speed, other sign.
    up, down = stokes_velocity(1e-4, np.array([1.0, 1739.0]), 870.0, 0.04)
    assert up == pytest.approx(-down)
    assert up < 0.0


@given(st.floats(3e-4, 1.2e-2), st.floats(900.0, 3000.0))
def test_weight_meets_drag(size: float, density: float) -> None:
    # Oracle: drag coefficient of package fluids at the found speed.
    air, mu = COLD_AIR
    speed = float(terminal_velocity(size, density, air, mu))
    drag = drag_sphere(air * speed * size / mu) * 0.5 * air * speed**2 * np.pi / 4 * size**2
    assert drag == pytest.approx((density - air) * g * np.pi / 6 * size**3, rel=1e-3)


def test_salt_grains() -> None:
    # Own table for spheres of salt, 0.6 to 9.5 mm in still air of -5 degC.
    size = np.array([0.6, 1.2, 2.4, 4.75, 6.3, 9.5]) * 1e-3
    assert terminal_velocity(size, 2160.0, *COLD_AIR) == pytest.approx(
        [4.0, 7.1, 11.2, 16.1, 18.2, 21.8], abs=0.1
    )


def test_granules_fall_slower_than_spheres() -> None:
    # Journal of Agricultural Engineering 44(2s), 2013: 8.60 to 9.55 m/s for organo-mineral
    # granules; size and density of the sphere assumed (3 mm, 1600 kg/m3).
    sphere = float(terminal_velocity(3e-3, 1600.0, 1.2, 1.8e-5))
    assert 1.15 < sphere / 9.55 < sphere / 8.60 < 1.35


def test_shapes_broadcast() -> None:
    got = terminal_velocity(
        np.array([[1e-3], [2e-3]]), np.array([1500.0, 2000.0, 2500.0]), 1.2, 1.8e-5
    )
    assert got.shape == (2, 3)
    assert (np.diff(got, axis=0) > 0.0).all()
    assert (np.diff(got, axis=1) > 0.0).all()


@pytest.mark.parametrize(
    "arguments",
    [(0.0, 2000.0, 1.2, 1.8e-5), (1e-3, 1.0, 1.2, 1.8e-5), (1e-3, 2000.0, 1.2, 0.0)],
)
def test_refusals(arguments: tuple[float, ...]) -> None:
    with pytest.raises(DomainError, match=r"^[^\n]+$"):
        terminal_velocity(*arguments)
    with pytest.raises(DomainError, match="viscosity"):
        stokes_velocity(1e-3, 2000.0, 1.2, -1.0)
