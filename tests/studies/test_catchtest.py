"""Catch tests, calibration tables and weighed loads: published rows, statistics, the CSV form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.errors import TruckFileError
from hydrocheck.model import Truck
from hydrocheck.model.catches import catches_from_text, loads_from_text
from hydrocheck.physics.material import catch_statistics
from hydrocheck.studies.catchtest import calibration_table, catch_test, sizes, verify_loads
from hydrocheck.units import parse

TRUCK = demo.load("tandem")
LB_REV = parse("1 lb/rev", "mass_per_rev")
MPH = parse("1 mph", "road_speed")
RATE = parse("1 lb/lane-mile", "application_rate")


def ordering(accuracy: float | None, **more: object) -> Truck:
    spreading = replace(TRUCK.spreading, accuracy=accuracy, **more)  # type: ignore[arg-type]  # fields by name
    return replace(TRUCK, spreading=spreading)


def pails(masses: list[float]) -> str:
    """Catches of ten turns [lb]."""
    return "revolutions [rev], mass [lb]\n" + "".join(f"10, {m}\n" for m in masses)


def scattered(count: int, variation: float) -> list[float]:
    """Masses around 50 lb with exactly that sample variation."""
    raw = np.linspace(-1.0, 1.0, count)
    return list(50.0 * (1.0 + variation * raw / raw.std(ddof=1)))


# Student's t at 95 %, half-widths in multiples of the variation: any table; 2 % variation.
@pytest.mark.parametrize(
    ("count", "half_width"), [(3, 0.0497), (4, 0.0318), (5, 0.0248), (6, 0.0210), (8, 0.0167)]
)
def test_half_width_and_catches_to_go(count: int, half_width: float) -> None:
    test = catch_test(ordering(0.042), catches_from_text(pails(scattered(count, 0.02))))
    assert test.half_width == pytest.approx(half_width, abs=1e-4)
    assert test.proven == (count > 3)  # three catches at 2 % cannot prove 4.2 %, four can
    assert test.more == (1 if count == 3 else 0)
    assert test.catch.mean / LB_REV == pytest.approx(5.0)


def test_with_the_catches_that_it_asks_for_the_order_is_proven() -> None:
    truck = ordering(0.025)
    first = catch_test(truck, catches_from_text(pails(scattered(3, 0.03))))
    assert first.more is not None
    assert first.more > 0
    enough, short = (
        catch_test(truck, catches_from_text(pails(scattered(3 + first.more - k, 0.03))))
        for k in (0, 1)
    )
    assert enough.proven
    assert not short.proven


def test_single_catch_proves_nothing() -> None:
    test = catch_test(ordering(0.05), catches_from_text(pails([50.0])))
    assert not test.proven
    assert test.more is None
    assert not np.isfinite(test.half_width)


def test_scatter_is_pooled_within_settings() -> None:
    """Two settings whose discharge per turn differs: 3 x 3 catches, 2 %, t of 6 degrees 2.447.

    Per-setting half-width 2.8 % (own calculation from any t table), over nine catches 1.6 %.
    """
    text = "setting [%], revolutions [rev], mass [lb]\n"
    for setting, level in ((20, 1.0), (40, 1.1), (60, 1.3)):
        text += "".join(f"{setting}, 10, {m * level}\n" for m in scattered(3, 0.02))
    test = catch_test(ordering(0.04), catches_from_text(text))
    assert test.pooled == pytest.approx(0.02)
    assert test.half_width == pytest.approx(2.447 * 0.02 / 3.0, rel=1e-3)
    assert [round(s.setting, 2) for s in test.settings] == [0.2, 0.4, 0.6]
    assert not test.wide


def test_a_catch_that_lies_off_is_named_by_its_line() -> None:
    test = catch_test(TRUCK, catches_from_text(pails([50.0, 50.5, 49.8, 50.2, 61.0])))
    assert test.outlier_line == 6
    assert test.wide
    assert (
        catch_test(TRUCK, catches_from_text(pails([50.0, 50.5, 49.8, 50.2]))).outlier_line is None
    )


def test_size_beside_the_catches() -> None:
    """7/4/6 in sweeps 0.08999 ft3 (own calculation): 72 lb/ft3 at 80 % fill is 5.183 lb/rev."""
    low, stated, high, full = sizes(TRUCK.spreading)
    assert stated is not None
    assert low is not None
    assert high is not None
    assert full is not None
    assert stated / LB_REV == pytest.approx(0.08999 * 72 * 0.8, rel=1e-3)
    assert low < stated < high < full
    test = catch_test(TRUCK, catches_from_text(pails([51.0, 52.0, 53.0])))
    assert test.fill == pytest.approx(5.2 / (0.08999 * 72), rel=1e-3)
    assert sizes(replace(TRUCK.spreading, density=None)) == (None, None, None, None)
    chain = demo.load("conveyor").spreading
    assert sizes(chain)[1] == pytest.approx(14.0 * LB_REV, rel=1e-3)  # 14 x 2 x 12 in at 72 lb/ft3


def test_truck_file_off_the_mean() -> None:
    truck = ordering(0.05, mass_per_turn=5.5 * LB_REV)
    test = catch_test(truck, catches_from_text(pails([49.5, 50.0, 50.5])))
    assert test.file_error == pytest.approx(0.10)
    assert catch_test(TRUCK, catches_from_text(pails([50.0]))).file_error is None


def test_the_classic_table() -> None:
    """3 min a mile x 200 lb/min = 600 lb a mile at 20 mph; 480 at 25 and 400 at 30 mph.

    Minnesota Snow and Ice Control Field Handbook, 2012; 50 rev/min of 4 lb/rev: 12 s for 10 turns.
    """
    text = "setting [%], revolutions [rev], gross [lb], tare [lb], time [s]\n"
    text += "40, 10, 43.2, 3.2, 12\n40, 10, 43.2, 3.2, 12\n"
    test = catch_test(TRUCK, catches_from_text(text))
    table = calibration_table(test, tuple(v * MPH for v in (30, 20, 25)))
    assert table is not None
    assert table.pace * 1609.344 / 60 == pytest.approx([3.0, 2.4, 2.0])
    assert table.rate[0] / RATE == pytest.approx([600.0, 480.0, 400.0])
    two = calibration_table(test, (20 * MPH,), lanes=2)
    assert two is not None
    assert two.rate[0, 0] / RATE == pytest.approx(300.0)
    assert calibration_table(catch_test(TRUCK, catches_from_text(pails([50.0]))), (MPH,)) is None


def test_weighed_loads() -> None:
    """Arithmetic: 2 miles at 200 lb/lane-mile are 400 lb."""
    loads = loads_from_text(
        "rate [lb/lane-mile], distance [mile], mass [lb]\n200, 2, 416\n200, 2, 392\n"
    )
    found = verify_loads(ordering(0.04), loads)
    assert found.error == pytest.approx([0.04, -0.02])
    assert found.total == pytest.approx(0.01)
    assert found.good
    assert not verify_loads(ordering(0.03), loads).good


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("revolutions [rev], mass [lb]\n10, \n", "line 2: give mass, or gross with tare"),
        ("revolutions [rev], mass [lb], gross [lb]\n10, 5, 6\n", "line 2: give mass, or gross"),
        ("revolutions [rev], gross [lb], tare [lb]\n10, 3, 4\n", "line 2: gross: must lie above"),
        ("revolutions [rev], mass [lb]\n0, 5\n", "line 2: revolutions: read '0'"),
        ("mass [lb]\n5\n", "no column revolutions"),
        ("revolutions [rev], mass [gal]\n10, 5\n", "mass [gal]"),
    ],
)
def test_bad_catches_are_refused_by_line(text: str, words: str) -> None:
    with pytest.raises(TruckFileError) as caught:
        catches_from_text(text)
    assert any(words in line for line in caught.value.lines), caught.value.lines


@given(st.lists(st.floats(40.0, 60.0), min_size=2, max_size=12))
def test_mean_and_half_width_are_those_of_the_masses(masses: list[float]) -> None:
    test = catch_test(TRUCK, catches_from_text(pails([round(m, 3) for m in masses])))
    plain = catch_statistics([round(m, 3) for m in masses], 10.0)
    assert test.catch.mean / LB_REV == pytest.approx(plain.mean)
    assert test.half_width == pytest.approx(plain.half_width)
