"""Flight of grains: the limit without air, integrators of fluids and scipy, a worked table."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from fluids.drag import drag_sphere, integrate_drag_sphere, v_terminal
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from hydrocheck.errors import DomainError
from hydrocheck.physics.flight import air_state, landing, no_drag_throw, sphere_drag
from hydrocheck.physics.grains import ROAD_SALT, terminal_velocity
from hydrocheck.physics.throw import vane_exit

SALT, SHAPE = 2160.0, 1.5
COLD_AIR = (1.316, 1.691e-5)  # -5 degC at sea level
SIZES = np.array([0.6, 1.2, 2.4, 4.75, 6.3, 9.5]) * 1e-3

# Computed flat throw, m, from the exit point: R 0.25 m, 0.45 m above the road, r0 0.06 m, friction
# 0.3, air of -5 degC, salt of 2160 kg/m3, shape factor 1.5; rev/min, without drag, by grain size.
TABLE = [
    (150, 1.46, 1.00, 1.25, 1.36, 1.41, 1.43, 1.44),
    (225, 2.21, 1.39, 1.80, 2.02, 2.12, 2.14, 2.16),
    (300, 2.95, 1.72, 2.30, 2.63, 2.79, 2.83, 2.87),
    (375, 3.69, 2.01, 2.77, 3.22, 3.45, 3.50, 3.56),
    (450, 4.43, 2.27, 3.20, 3.79, 4.09, 4.16, 4.24),
    (525, 5.17, 2.51, 3.61, 4.33, 4.71, 4.81, 4.92),
    (600, 5.91, 2.73, 3.98, 4.84, 5.31, 5.44, 5.58),
    (675, 6.66, 2.93, 4.34, 5.34, 5.91, 6.06, 6.24),
    (750, 7.39, 3.11, 4.66, 5.81, 6.47, 6.65, 6.86),
    (825, 8.14, 3.29, 4.98, 6.26, 7.02, 7.24, 7.50),
    (900, 8.89, 3.45, 5.28, 6.70, 7.57, 7.83, 8.13),
]
AT_450 = [  # sphere, shape factor 2.0, sand of 2650 kg/m3
    (SALT, 1.0, (2.74, 3.53, 3.98, 4.20, 4.25, 4.30)),
    (SALT, 2.0, (1.94, 2.92, 3.61, 3.99, 4.08, 4.19)),
    (2650.0, 1.5, (2.51, 3.38, 3.89, 4.15, 4.21, 4.28)),
]


def exit_speed(rpm: float) -> float:
    return float(np.hypot(*vane_exit(rpm * pi / 30, 0.25, 0.06, 0.3)))


@pytest.mark.parametrize("row", TABLE, ids=lambda row: str(row[0]))
def test_the_worked_table(row: tuple[float, ...]) -> None:
    rpm, bare, *thrown = row
    speed = exit_speed(rpm)
    assert no_drag_throw(speed, 0.0, 0.45) == pytest.approx(bare, abs=0.025)
    found = landing([0.0, speed, 0.0], 0.45, SIZES, SALT, SHAPE, *COLD_AIR)
    assert found.left == pytest.approx(np.array(thrown), abs=0.021)
    assert (found.error <= 1e-4).all()


@pytest.mark.parametrize(("density", "shape", "thrown"), AT_450)
def test_the_worked_table_of_other_grains(
    density: float, shape: float, thrown: tuple[float, ...]
) -> None:
    found = landing([0.0, exit_speed(450), 0.0], 0.45, SIZES, density, shape, *COLD_AIR)
    assert found.left == pytest.approx(np.array(thrown), abs=0.02)


# Computed change of the throw of 4.75 mm at 450 rev/min.
@pytest.mark.parametrize(
    ("height", "degrees", "share"),
    [(0.30, 0, -0.17), (0.60, 0, 0.14), (0.75, 0, 0.26), (0.45, 3, 0.23), (0.45, 6, 0.48),
     (0.45, 10, 0.82), (0.45, 15, 1.19)],
)  # fmt: skip
def test_height_and_elevation_matter_as_worked_out(
    height: float, degrees: float, share: float
) -> None:
    speed, up = exit_speed(450), np.radians(degrees)
    flat = landing([0.0, speed, 0.0], 0.45, 4.75e-3, SALT, SHAPE, *COLD_AIR).left
    launch = [0.0, speed * np.cos(up), speed * np.sin(up)]
    found = landing(launch, height, 4.75e-3, SALT, SHAPE, *COLD_AIR).left
    assert found / flat - 1.0 == pytest.approx(share, abs=0.02)


@pytest.mark.parametrize(
    ("mph", "sideways", "forward"),
    [(0, 4.09, 0.0), (15, 4.06, 5.2), (25, 4.01, 8.4), (35, 3.94, 11.2), (45, 3.87, 13.7)],
)
def test_road_speed_as_worked_out(mph: float, sideways: float, forward: float) -> None:
    found = landing([mph * 0.44704, exit_speed(450), 0.0], 0.45, 4.75e-3, SALT, SHAPE, *COLD_AIR)
    assert found.left == pytest.approx(sideways, abs=0.02)
    assert found.velocity[0] == pytest.approx(forward, abs=0.15)


@pytest.mark.parametrize("degrees", [-20.0, 0.0, 10.0, 45.0])
def test_without_air_the_closed_form_is_met(degrees: float) -> None:
    up = np.radians(degrees)
    launch = 12.0 * np.array([np.cos(up), 0.0, np.sin(up)])
    found = landing(launch, 0.5, 4.75e-3, SALT, SHAPE, 1e-9, 1e-12)
    assert found.forward == pytest.approx(no_drag_throw(12.0, up, 0.5), rel=1e-5)
    assert found.time == pytest.approx(found.forward / launch[0], rel=1e-5)


@pytest.mark.parametrize("size", [0.5e-3, 1e-3, 4.75e-3])
@pytest.mark.parametrize("down", [0.0, 2.0, 30.0])
@pytest.mark.parametrize("time", [0.1, 0.5])
def test_a_vertical_drop_is_that_of_fluids(size: float, down: float, time: float) -> None:
    speed, way = integrate_drag_sphere(
        D=size, rhop=SALT, rho=1.2, mu=1.78e-5, t=time, V=down, distance=True
    )
    found = landing([0.0, 0.0, -down], way, size, SALT, 1.0, 1.2, 1.78e-5, tolerance=1e-7)
    assert found.time == pytest.approx(time, rel=1e-5)  # its way is a sum over 1000 steps
    assert found.speed == pytest.approx(speed, rel=1e-5)


@settings(max_examples=25)
@given(
    st.floats(0.0, 15.0), st.floats(1.0, 35.0), st.floats(-0.2, 0.4), st.floats(0.1, 1.5),
    st.floats(3e-4, 1.2e-2), st.floats(1.0, 2.2),
)  # fmt: skip
def test_any_flight_is_what_scipy_integrates_within_its_error(
    forward: float, speed: float, up: float, height: float, size: float, shape: float
) -> None:
    launch = np.array([forward, speed * np.cos(up), speed * np.sin(up)])
    air, mu = COLD_AIR

    def slope(_: float, s: np.ndarray) -> np.ndarray:
        v = s[3:]
        fast = float(np.linalg.norm(v))
        drag = 0.75 * air * shape * drag_sphere(air * fast * size / mu) / (SALT * size) * fast
        return np.concatenate([v, -drag * v - [0.0, 0.0, 9.80665 * (1 - air / SALT)]])

    def down(_: float, s: np.ndarray) -> float:
        return float(s[2])

    down.terminal, down.direction = True, -1  # type: ignore[attr-defined]  # scipy reads them
    start = np.concatenate([[0.0, 0.0, height], launch])
    run = solve_ivp(slope, [0, 20], start, events=down, rtol=1e-9, atol=1e-10)
    found = landing(launch, height, size, SALT, shape, air, mu)
    off = np.hypot(found.forward - run.y[0, -1], found.left - run.y[1, -1])
    assert off <= 2.0 * found.error + 2e-5 * np.hypot(run.y[0, -1], run.y[1, -1])
    assert found.error <= 1e-4
    assert found.left <= no_drag_throw(speed, up, height) * (1 + 1e-9) + 1e-3


def test_a_long_fall_ends_at_the_terminal_velocity() -> None:
    # The terminal velocities of package fluids, and those worked out for salt (m/s).
    fast = landing([0.0, 0.0, 0.0], 60.0, SIZES, SALT, SHAPE, *COLD_AIR).speed
    assert fast == pytest.approx(terminal_velocity(SIZES, SALT, *COLD_AIR, SHAPE), rel=0.02)
    worked = np.array([3.1, 5.6, 9.0, 13.2, 15.0, 17.9])
    assert terminal_velocity(SIZES, SALT, *COLD_AIR, SHAPE) == pytest.approx(worked, abs=0.06)
    sphere = np.array([4.0, 7.1, 11.2, 16.1, 18.2, 21.8])
    assert terminal_velocity(SIZES, SALT, *COLD_AIR) == pytest.approx(sphere, abs=0.06)
    one = v_terminal(D=1.2e-3, rhop=SALT, rho=COLD_AIR[0], mu=COLD_AIR[1])
    assert terminal_velocity(1.2e-3, SALT, *COLD_AIR) == pytest.approx(one, rel=1e-12)


def test_the_shape_factor_brings_fertiliser_to_its_measured_terminal_velocity() -> None:
    # Journal of Agricultural Engineering 44(2s), 2013: 8.60 to 9.55 m/s; 3 mm and 1600 kg/m3 are
    # assumed, since the abstract does not give them.
    assert 8.6 < terminal_velocity(3e-3, 1600.0, 1.204, 1.82e-5, 1.5) < 9.55


def test_the_grain_of_the_worked_reynolds_number() -> None:
    # 4.75 mm at 16.1 m/s: Re 5950, drag coefficient 0.393.
    number = COLD_AIR[0] * 16.1 * 4.75e-3 / COLD_AIR[1]
    assert number == pytest.approx(5950, rel=5e-3)
    assert sphere_drag(number) == pytest.approx(0.393, abs=1e-3)


@given(st.floats(-6.0, 6.0))
def test_the_drag_is_that_of_fluids(power: float) -> None:
    number = min(10.0**power, 2e5)
    assert sphere_drag(number) == pytest.approx(drag_sphere(number), rel=1e-5)


@given(st.floats(-100.0, 4000.0), st.floats(230.0, 310.0))
def test_the_air_is_that_of_the_standard_atmosphere(altitude: float, temperature: float) -> None:
    density, viscosity = air_state(altitude, temperature)
    at = ATMOSPHERE_1976(Z=altitude)
    # Ideal gas with the molar mass of air, 28.9644 g/mol
    assert density == pytest.approx(at.P * 0.0289644 / (8.31446 * temperature), rel=1e-4)
    warmed = ATMOSPHERE_1976(Z=altitude, dT=temperature - at.T)
    assert density == pytest.approx(warmed.rho, rel=1e-6)
    assert viscosity == pytest.approx(ATMOSPHERE_1976.viscosity(temperature), rel=1e-6)


@given(st.floats(3e-4, 1e-2), st.floats(2.0, 35.0), st.floats(0.2, 1.5))
def test_coarser_faster_and_higher_flies_farther(size: float, speed: float, height: float) -> None:
    def way(d: float, v: float, h: float) -> float:
        return float(landing([0.0, v, 0.0], h, d, SALT, SHAPE, *COLD_AIR).left)

    base = way(size, speed, height)
    assert way(1.1 * size, speed, height) > base
    assert way(size, 1.1 * speed, height) > base
    assert way(size, speed, 1.1 * height) > base


def test_shapes_broadcast() -> None:
    launch = np.zeros((5, 1, 3))
    launch[:, 0, 1] = np.linspace(5.0, 25.0, 5)
    found = landing(launch, 0.45, SIZES, SALT, SHAPE, *COLD_AIR)
    assert found.left.shape == found.time.shape == found.error.shape == (5, 6)
    assert found.velocity.shape == (5, 6, 3)
    alone = landing(launch[2, 0], 0.45, SIZES[3], SALT, SHAPE, *COLD_AIR)
    assert alone.left == pytest.approx(found.left[2, 3], abs=2e-4)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"velocity": 5.0}, "forward, left and up"),
        ({"velocity": [0.0, float("nan"), 0.0]}, "velocity must be finite"),
        ({"height": 0.0}, "height must be a positive number"),
        ({"diameter": -1e-3}, "diameter must be a positive number"),
        ({"density": 1.0}, "denser than the air"),
        ({"diameter": 1e-6}, "float"),
        ({"velocity": [0.0, 1e7, 0.0]}, "law of drag"),
    ],
)
def test_what_means_nothing_is_refused(change: dict[str, object], words: str) -> None:
    good: dict[str, object] = {
        "velocity": [0.0, 10.0, 0.0], "height": 0.5, "diameter": 2e-3, "density": SALT,
        "shape": SHAPE, "air_density": 1.3, "air_viscosity": 1.7e-5,
    }  # fmt: skip
    with pytest.raises(DomainError, match=words):
        landing(**(good | change))  # type: ignore[arg-type]  # wrong on purpose


def test_road_salt_is_a_gradation() -> None:
    # ASTM D632, type I, grade 1: both limits fall with the sieve.
    sizes, least, most = (np.array(column) for column in zip(*ROAD_SALT, strict=True))
    assert (np.diff(sizes) < 0).all()
    assert (np.diff(least) <= 0).all()
    assert (np.diff(most) <= 0).all()
    assert (least <= most).all()
