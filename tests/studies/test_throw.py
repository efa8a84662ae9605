"""The throw: worked values of published widths, symmetry, monotone facts, what is asked for."""

from __future__ import annotations

from dataclasses import replace
from math import pi, radians

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.circuit import Disc
from hydrocheck.studies.pattern import (
    DOUBT,
    FASTEST,
    Spin,
    pattern,
    speed_for_width,
    speeds_for_width,
    spin_of,
    spinner,
    width_band,
)
from hydrocheck.studies.throw import ThrowOrder, lanes_width, merged, ordered_speeds, study_throw
from tests.checks.casekit import put

RPM, FOOT, MPH = pi / 30, 0.3048, 0.44704
TANDEM = demo.load("tandem")

# The worked table's case: R 0.25 m, 0.45 m above the road, r0 0.06 m, friction 0.3, flat, -5 degC.
FLAT = Spin(
    radius=0.25, height=0.45, tilt=0.0, rises=0.0, elevation=0.0, vane_angle=0.0,
    feed_share=0.24, friction=0.3, fan=pi / 2, size=4.75e-3, density=2160.0, drag_factor=1.5,
    road_speed=0.0, air_density=1.316, air_viscosity=1.691e-5,
)  # fmt: skip


def half_width(spin: Spin, rpm: float) -> float:
    return float(pattern([spin], rpm * RPM).width[0, 0]) / 2.0


@pytest.mark.parametrize(("rpm", "thrown"), [(150, 1.41), (450, 4.09), (900, 7.57)])
def test_the_reach_is_the_worked_throw_from_the_disc_instead_of_the_rim(
    rpm: float, thrown: float
) -> None:
    # "Measured from the disc's centre add about 0.15 m."
    assert half_width(FLAT, rpm) == pytest.approx(thrown + 0.15, abs=0.03)


@pytest.mark.parametrize(("mph", "thrown"), [(15, 4.06), (25, 4.01), (35, 3.94), (45, 3.87)])
def test_road_speed_hardly_changes_the_width(mph: float, thrown: float) -> None:
    moving = replace(FLAT, road_speed=mph * MPH)
    assert half_width(moving, 450) == pytest.approx(thrown + 0.15, abs=0.03)


@pytest.mark.parametrize(
    ("radius", "feet", "least", "most"),
    [
        # 12 in spinner, 4 to 32 ft wide (ERDC/CRREL SR-02-1, May 2002); 24 ft and 40 ft of state
        # bids on a 24 in disc. The speeds are recomputed for grains of 9.5 to 2.4 mm and from
        # the exit points, 0.6 R aside; no source gives one.
        (0.1524, 32, 852, 992),
        (0.1524, 4, 107, 110),
        (0.3048, 24, 316, 354),
        (0.3048, 40, 540, 652),
    ],
)
def test_published_widths_at_their_recomputed_speeds(
    radius: float, feet: float, least: float, most: float
) -> None:
    for size, rpm in ((9.5e-3, least), (2.4e-3, most)):
        spin = replace(FLAT, radius=radius, size=size)
        found = speed_for_width(spin, feet * FOOT + 2 * 0.6 * radius)
        assert found is not None
        assert found / RPM == pytest.approx(rpm, rel=0.02)


def test_a_measuring_rig_reaches_as_far_as_its_trays() -> None:
    # Agriculture 10(10) 467, 2020: R 0.215 m, 0.67 m high, 6 deg concave; trays to about 10.5 m.
    # Recomputed for 3.5 mm, 1330 kg/m3, factor 1.2: 3.4 to 8.0 m at 300 to 700 rev/min.
    rig = replace(
        FLAT, radius=0.215, height=0.67, elevation=radians(6), size=3.5e-3, density=1330.0,
        drag_factor=1.2,
    )  # fmt: skip
    assert half_width(rig, 300) == pytest.approx(3.4, abs=0.25)
    assert half_width(rig, 700) == pytest.approx(8.0, abs=0.35)
    assert half_width(rig, 700) < 10.5


@pytest.mark.parametrize(
    ("change", "share"),
    [
        ({"friction": 0.15}, 0.05), ({"friction": 0.45}, -0.04), ({"friction": 0.6}, -0.07),
        ({"feed_share": 0.12}, 0.002), ({"feed_share": 0.48}, -0.015),
        ({"drag_factor": 1.0}, 0.03), ({"drag_factor": 2.5}, -0.05),
        ({"vane_angle": np.arcsin(0.04 / 0.25)}, -0.06),
        ({"vane_angle": -np.arcsin(0.04 / 0.25)}, 0.05),
    ],
)  # fmt: skip
def test_the_worked_sensitivities(change: dict[str, float], share: float) -> None:
    # Computed at 450 rev/min for 4.75 mm, from the exit point; whole percents.
    base = half_width(FLAT, 450) - 0.15
    assert (half_width(replace(FLAT, **change), 450) - 0.15) / base - 1 == pytest.approx(
        share, abs=0.015
    )


def test_a_tilted_disc_throws_a_quarter_farther_on_its_high_side() -> None:
    # Computed: 3 deg upward is 23 % farther; the other side loses about as much.
    level = half_width(FLAT, 450)
    found = pattern([replace(FLAT, tilt=radians(3), rises=pi / 2)], 450 * RPM)
    assert found.left[0, 0] / level - 1 == pytest.approx(0.24, abs=0.03)
    assert found.right[0, 0] < 0.85 * level
    mirrored = pattern([replace(FLAT, tilt=radians(3), rises=-pi / 2)], 450 * RPM)
    assert mirrored.left == pytest.approx(found.right)
    assert mirrored.right == pytest.approx(found.left)
    back = pattern([replace(FLAT, tilt=radians(3), rises=0.0)], 450 * RPM)
    assert back.left == pytest.approx(back.right)
    assert back.left[0, 0] == pytest.approx(level, rel=0.03)


def test_a_level_disc_is_the_limit_of_a_tilted_one() -> None:
    for fan in (radians(40), radians(90), radians(180)):
        level = replace(FLAT, fan=fan)
        tilted = replace(level, tilt=1e-9, rises=1.0)
        assert half_width(tilted, 400) == pytest.approx(half_width(level, 400), rel=1e-6)


@settings(max_examples=20)
@given(
    st.floats(0.15, 0.35), st.floats(0.2, 1.0), st.floats(-0.05, 0.15), st.floats(0.5, 1.57),
    st.floats(0.0, 0.1), st.sampled_from([0.0, pi / 2, pi]),
)  # fmt: skip
def test_faster_is_wider_and_the_speed_for_a_width_throws_it(
    radius: float, height: float, elevation: float, fan: float, tilt: float, rises: float
) -> None:
    spin = replace(
        FLAT, radius=radius, height=height, elevation=elevation, fan=fan, tilt=tilt, rises=rises
    )
    widths = pattern([spin], np.linspace(120, 900, 14) * RPM).width[0]
    assert (np.diff(widths) > 0).all()
    wanted = 0.5 * float(widths[0] + widths[-1])
    speed = speed_for_width(spin, wanted)
    assert speed is not None
    assert pattern([spin], speed).width[0, 0] == pytest.approx(wanted, rel=1e-4)


def test_the_band_holds_the_width_and_at_least_its_doubt() -> None:
    speeds = np.linspace(100, 900, 17) * RPM
    band = width_band(FLAT, speeds)
    assert (band.low <= (1 - DOUBT) * band.width * (1 + 1e-12)).all()
    assert (band.high >= (1 + DOUBT) * band.width * (1 - 1e-12)).all()
    for down, up in band.shares.values():
        assert (down <= 0).all()
        assert (up >= 0).all()
    # Height and exit elevation matter more than friction and drag for a known spinner: by 1 deg
    # and 1 in already as much.
    at = int(np.argmin(np.abs(speeds - 900 * RPM)))
    assert band.shares["elevation"][1][at] > band.shares["drag_factor"][1][at]
    assert (band.pattern.error <= 1e-4).all()
    slow, fast = speeds_for_width(band, 8.0)
    assert slow < (speed_for_width(FLAT, 8.0) or 0.0) < fast
    assert np.isnan(speeds_for_width(band, 99.0)).all()


def test_no_speed_for_what_is_too_narrow_or_too_wide() -> None:
    assert speed_for_width(FLAT, 0.4) is None
    assert speed_for_width(FLAT, 1.01 * float(pattern([FLAT], FASTEST).width[0, 0])) is None


def test_oblique_vanes_keep_the_feed_point_on_their_line() -> None:
    oblique = replace(FLAT, vane_angle=radians(12))  # sin is 0.208, beside the 0.10 of the range
    assert np.isfinite(width_band(oblique, 400 * RPM).width).all()
    with pytest.raises(DomainError, match="so oblique"):
        pattern([replace(FLAT, vane_angle=radians(20))], 400 * RPM)


# -- from a truck file -----------------------------------------------------------------------------


def test_the_demo_truck_throws_its_lane() -> None:
    throw = study_throw(TANDEM, ThrowOrder())
    assert throw.function == "spinner"
    assert throw.wanted == pytest.approx(12 * FOOT)
    assert throw.needed is not None
    assert throw.slowest < throw.needed < throw.fastest
    assert {o.scenario for o in throw.ordered} == {"spreading", "spreading, plow lifted"}
    assert throw.band.speed[throw.at] == pytest.approx(throw.needed)
    (first, *_) = throw.ordered
    assert first.low < throw.wanted < first.high
    # Finer grains fall short, coarser fly farther.
    assert (np.diff(throw.reach, axis=0)[:, np.isfinite(throw.band.width)] > 0).all()
    # 30 mph is the greatest road speed of the file; bounces do not shrink with the doubt
    assert throw.spin.road_speed == pytest.approx(30 * MPH)
    assert (np.diff(throw.bounce.along, axis=0) >= 0).all()
    assert (np.diff(throw.bounce.lost, axis=0) > 0).all()


def test_dry_salt_scatters_more_at_speed_than_prewet() -> None:
    dry = study_throw(put(TANDEM, "spreading.prewet", None), ThrowOrder())
    wet = study_throw(TANDEM, ThrowOrder())
    assert (dry.prewet, wet.prewet) == (False, True)
    assert dry.bounce.lost[1, -1] > 2 * wet.bounce.lost[1, -1]


@pytest.mark.parametrize(
    ("path", "key"),
    [
        ("function.spinner.motor.0.disc_radius", "spinner.motor.disc_radius"),
        ("function.spinner.disc.height", "spinner.disc.height"),
        ("function.spinner.disc.tilt", "spinner.disc.tilt"),
        ("function.spinner.disc.exit_elevation", "spinner.disc.exit_elevation"),
    ],
)
def test_what_matters_most_is_asked_for(path: str, key: str) -> None:
    with pytest.raises(MissingValue, match=f"^needs {key}$"):
        study_throw(put(TANDEM, path, None), ThrowOrder())


def test_a_spinner_without_a_disc_names_all_that_it_needs() -> None:
    bare = put(TANDEM, "function.spinner.disc", None)
    with pytest.raises(MissingValue) as caught:
        study_throw(bare, ThrowOrder())
    assert caught.value.keys == (
        "spinner.disc.height", "spinner.disc.tilt", "spinner.disc.exit_elevation",
    )  # fmt: skip
    told = Disc(height=0.4, tilt=0.0, exit_elevation=0.0)
    assert study_throw(bare, ThrowOrder(disc=told)).spin.height == 0.4


def test_a_tilted_disc_must_say_to_which_side_it_rises() -> None:
    tilted = put(TANDEM, "function.spinner.disc.tilt", 0.05)
    with pytest.raises(MissingValue, match="needs spinner.disc.high_side"):
        spin_of(tilted, spinner(tilted))
    told = merged(tilted.function_named("spinner").disc, Disc(high_side="left"))
    assert (told.tilt, told.high_side) == (0.05, "left")


def test_the_higher_the_road_the_thinner_the_air() -> None:
    low, high = (
        study_throw(put(TANDEM, "ambient.altitude", z), ThrowOrder()).band.width[-1]
        for z in (0.0, 3000.0)
    )
    assert high > low


def test_orders_that_mean_nothing_are_refused() -> None:
    for width in (0.0, -1.0, 41.0):
        with pytest.raises(DomainError, match="width to cover"):
            study_throw(TANDEM, ThrowOrder(width=width))
    with pytest.raises(DomainError, match="'auger' is a feeder"):
        study_throw(TANDEM, ThrowOrder(spinner="auger"))
    without = replace(TANDEM, function=TANDEM.function[:1])
    with pytest.raises(MissingValue, match="kind spinner"):
        study_throw(without, ThrowOrder())
    sticky = put(TANDEM, "function.spinner.disc.friction", 500.0)
    with pytest.raises(DomainError, match="moves no material"):
        study_throw(sticky, ThrowOrder())


def test_lanes_and_orders_of_a_truck() -> None:
    assert lanes_width(put(TANDEM, "spreading.lanes", 3)) == pytest.approx(36 * FOOT)
    assert ordered_speeds(TANDEM, spinner(TANDEM))[0] == ("spreading", pytest.approx(350 * RPM))
