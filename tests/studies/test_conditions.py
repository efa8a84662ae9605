"""What "idle", "working", "range", "cold", ... stand for."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures, top_speed

RPM = np.pi / 30
TANDEM, SINGLE = demo.load("tandem"), demo.load("single")


def fahrenheit(value: float) -> float:
    return (value - 32) / 1.8 + 273.15


@pytest.mark.parametrize(("word", "rpm"), [("idle", 700.0), ("governed", 2100.0)])
def test_a_word_for_one_speed(word: str, rpm: float) -> None:
    assert engine_speeds(TANDEM, word) == pytest.approx([rpm * RPM])


def test_working_is_the_whole_band_and_range_goes_to_the_overrun() -> None:
    band, all_speeds = engine_speeds(TANDEM, "working"), engine_speeds(TANDEM, "range")
    assert (band[0], band[-1]) == pytest.approx((1200 * RPM, 1400 * RPM))
    assert (all_speeds[0], all_speeds[-1]) == pytest.approx((700 * RPM, 2300 * RPM))
    for speeds in (band, all_speeds):
        assert len(speeds) > 2
        assert (np.diff(speeds) > 0).all()


def test_a_number_is_itself() -> None:
    assert engine_speeds(TANDEM, 123.5).tolist() == [123.5]
    assert oil_temperatures(TANDEM, 300.0).tolist() == [300.0]


def test_no_speed_beyond_the_drop_out_of_the_drive() -> None:
    # engaged_to 1800 rpm, overrun 2500 rpm
    assert top_speed(SINGLE) == pytest.approx(1800 * RPM)
    assert engine_speeds(SINGLE, "range")[-1] == pytest.approx(1800 * RPM)


def test_top_speed_is_the_governed_one_where_no_overrun_is_given() -> None:
    truck = replace(TANDEM, engine=replace(TANDEM.engine, overrun=None))
    assert top_speed(truck) == pytest.approx(2100 * RPM)


def test_a_pump_with_its_own_drive_drops_out_with_that() -> None:
    own = replace(TANDEM.engine.drive, engaged_to=1500 * RPM)
    truck = replace(TANDEM, pump=(replace(TANDEM.pump[0], drive=own),))
    assert top_speed(truck) == pytest.approx(1500 * RPM)


def test_oil_temperatures_of_each_word() -> None:
    for word, degrees in (("cold", -10.0), ("working", 110.0), ("hot", 160.0)):
        assert oil_temperatures(TANDEM, word) == pytest.approx([fahrenheit(degrees)])
    every = oil_temperatures(TANDEM, "range")
    assert (every[0], every[-1]) == pytest.approx((fahrenheit(-10), fahrenheit(160)))
    assert (np.diff(every) > 0).all()


@pytest.mark.parametrize("key", ["idle", "working", "governed"])
def test_a_speed_that_the_file_lacks_is_named(key: str) -> None:
    changes: dict[str, Any] = {key: None, "overrun": None}
    truck: Truck = replace(TANDEM, engine=replace(TANDEM.engine, **changes))
    with pytest.raises(MissingValue, match=rf"engine\.{key}"):
        engine_speeds(truck, key)


@pytest.mark.parametrize("key", ["cold", "working", "hot"])
def test_a_temperature_that_the_file_lacks_is_named(key: str) -> None:
    changes: dict[str, Any] = {key: None}
    truck = replace(TANDEM, oil=replace(TANDEM.oil, **changes))
    with pytest.raises(MissingValue, match=rf"oil\.{key}"):
        oil_temperatures(truck, key)
    if key != "working":
        with pytest.raises(MissingValue, match=rf"oil\.{key}"):
            oil_temperatures(truck, "range")
