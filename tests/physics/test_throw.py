"""Salt on the vane and on the road: closed forms, an integrator of scipy, published speeds."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from hydrocheck.errors import DomainError
from hydrocheck.physics.feeders import spinner_exit_speed
from hydrocheck.physics.throw import bounce_run_out, scatter_share, vane_exit

RPM, MPH = pi / 30, 0.44704
RIM, FEED = 0.25, 0.06  # of the worked examples, m


def integrated(w: float, rim: float, feed: float, mu: float, angle: float) -> tuple[float, float]:
    """Radial and tangential speed: s'' = w2 s - mu |2 w s' - w2 c| - mu g by scipy."""
    c = rim * np.sin(angle)

    def slope(_: float, s: list[float]) -> list[float]:
        return [s[1], w * w * s[0] - mu * abs(2 * w * s[1] - w * w * c) - mu * 9.80665]

    def at_rim(_: float, s: list[float]) -> float:
        return float(s[0] - np.sqrt(rim**2 - c**2))

    at_rim.terminal = True  # type: ignore[attr-defined]  # scipy reads it from the function
    start = [float(np.sqrt(feed**2 - c**2)), 0.0]
    run = solve_ivp(
        slope, [0, 60 / w], start, events=at_rim, rtol=1e-9, atol=1e-11, max_step=0.05 / w
    )
    s, rate = run.y[:, -1]
    return s * rate / rim, w * rim - c * rate / rim


@pytest.mark.parametrize("angle", [-0.2, -0.1, 0.0, 0.1, 0.2])
@pytest.mark.parametrize("mu", [0.0, 0.3, 0.6])
def test_the_closed_form_is_what_an_integrator_finds(mu: float, angle: float) -> None:
    for speed, feed in ((150 * RPM, 0.10), (700 * RPM, FEED)):
        found = vane_exit(speed, RIM, feed, mu, angle)
        assert found == pytest.approx(integrated(speed, RIM, feed, mu, angle), rel=1e-6)


def test_without_friction_the_grain_keeps_its_energy_on_the_turning_vane() -> None:
    # By hand: s' = w sqrt(s2 - s0^2) on a radial vane, the hyperbolic cosine of theory.
    radial, tangential = vane_exit(40.0, RIM, FEED, 0.0)
    assert radial == pytest.approx(40.0 * np.sqrt(RIM**2 - FEED**2), rel=1e-12)
    assert tangential == pytest.approx(40.0 * RIM, rel=1e-12)


# Computed example: R 0.25 m, r0 0.06 m, friction 0.3, by a step-by-step integration (rev/min, m/s).
EXIT = [(150, 4.80), (300, 9.73), (450, 14.62), (600, 19.51), (750, 24.40), (900, 29.34)]


@pytest.mark.parametrize(("rpm", "exit_speed"), EXIT)
def test_exit_speeds_of_the_worked_table(rpm: float, exit_speed: float) -> None:
    assert np.hypot(*vane_exit(rpm * RPM, RIM, FEED, 0.3)) == pytest.approx(exit_speed, rel=3e-3)


def test_the_worked_radial_speed_at_500_rpm() -> None:
    assert vane_exit(500 * RPM, RIM, FEED, 0.3)[0] == pytest.approx(9.6204, abs=1e-3)


@pytest.mark.parametrize(("mu", "angle"), [(0.13, 40.8), (0.14, 40.5), (0.44, 33.0)])
def test_outlet_angles_behind_the_published_equivalent_friction(mu: float, angle: float) -> None:
    # Friction of three fertilisers from measured outlet angles, flat disc at 800 rev/min
    # (abstract of a paper on equivalent friction); the angles are recomputed for R 0.25 m.
    radial, tangential = vane_exit(800 * RPM, RIM, FEED, mu)
    assert np.degrees(np.arctan2(radial, tangential)) == pytest.approx(angle, abs=0.35)


def test_a_long_vane_gives_the_simple_formula() -> None:
    exit_speed = np.hypot(*vane_exit(600 * RPM, 1.0, 0.02, 0.4))
    assert exit_speed == pytest.approx(spinner_exit_speed(1.0, 600 * RPM, 0.4), rel=2e-3)


def test_eject_speeds_lie_where_field_spreaders_have_them() -> None:
    # Agriculture 10(10) 467, 2020, quoting a handbook: 15-50 m/s, up to 70.
    slow = np.hypot(*vane_exit(540 * RPM, 0.25, 0.06, 0.3))
    fast = np.hypot(*vane_exit(1000 * RPM, 0.45, 0.1, 0.3))
    assert 15.0 < slow < fast < 70.0


def test_a_published_pair_of_speeds_fits_no_disc() -> None:
    # A paper on manure (2023) states 138.2 m/s at 12.57 rad/s: no vane of less than 7 m does it.
    best = np.hypot(*vane_exit(12.57, 7.0, 0.7, 0.0))
    assert best < 138.2


@given(
    st.floats(10.0, 100.0), st.floats(0.15, 0.5), st.floats(0.2, 0.5), st.floats(0.0, 0.6),
    st.floats(-0.15, 0.15),
)  # fmt: skip
def test_more_speed_throws_faster_and_more_friction_slower(
    w: float, rim: float, share: float, mu: float, angle: float
) -> None:
    radial, tangential = vane_exit(np.array([w, 1.1 * w]), rim, share * rim, mu, angle)
    assume(np.isfinite(radial).all())
    assert radial[1] > radial[0] > 0
    assert tangential[1] > tangential[0]
    rough = np.hypot(*vane_exit(w, rim, share * rim, mu + 0.05, angle))
    assert not rough > np.hypot(radial[0], tangential[0])
    assert np.hypot(radial[0], tangential[0]) < 1.5 * w * rim * (1 + abs(np.sin(angle)))


def test_what_the_disc_does_not_move_has_no_speed() -> None:
    radial, tangential = vane_exit(np.array([1.0, 60.0]), RIM, FEED, 0.6)
    assert np.isnan([radial[0], tangential[0]]).all()
    assert np.isfinite([radial[1], tangential[1]]).all()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((0.0, RIM, FEED, 0.3), "speed must be a positive number"),
        ((40.0, RIM, RIM, 0.3), "inside its rim"),
        ((40.0, RIM, FEED, -0.1), "friction must be zero or a positive number"),
        ((40.0, RIM, FEED, 0.3, 0.4), "so oblique"),
        ((40.0, RIM, FEED, 0.3, 1.6), "between -90 and 90"),
    ],
)
def test_what_means_nothing_is_refused(arguments: tuple[float, ...], words: str) -> None:
    with pytest.raises(DomainError, match=words):
        vane_exit(*arguments)


def test_bounces_of_the_worked_example() -> None:
    # 4.75 mm at 25 mph from 450 rev/min, 0.45 m: 1.7 to 5.1 m by restitution; its landing speeds
    # are 2.9 m/s down and 14 m/s along (8.4 m/s forward, 11 m/s sideways).
    down, along = 2.9, float(np.hypot(8.4, 11.0))
    near, far = bounce_run_out(down, along, [0.3, 0.5], [0.6, 0.8])
    assert near == pytest.approx(1.7, abs=0.25)
    assert far == pytest.approx(5.1, abs=0.7)


def test_hops_add_up() -> None:
    # By hand, hop by hop: up for 2 v/g, then both speeds shrink.
    down, along, total = 3.0, 8.0, 0.0
    for _ in range(60):
        down, along = 0.4 * down, 0.7 * along
        total += along * 2 * down / 9.80665
    assert bounce_run_out(3.0, 8.0, 0.4, 0.7) == pytest.approx(total, rel=1e-12)
    with pytest.raises(DomainError, match="never comes to rest"):
        bounce_run_out(3.0, 8.0, 1.0, 1.0)


def test_scatter_grows_with_road_speed_and_shrinks_with_brine() -> None:
    # A state study of dry salt in the early 1970s: 30 %; prewetting cuts bounce by up to half.
    dry = scatter_share(np.linspace(0, 60, 61) * MPH)
    assert (np.diff(dry) >= 0).all()
    assert scatter_share(30 * MPH) == pytest.approx(0.30)
    assert scatter_share(30 * MPH, prewet=True) <= 0.5 * scatter_share(30 * MPH)
    with pytest.raises(DomainError, match="road speed"):
        scatter_share(-1.0)
