"""The duration of a boost: parts by hand, too short, too long, never."""

from __future__ import annotations

from dataclasses import replace
from math import log, pi
from typing import Any

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function
from hydrocheck.report.boost import boost_json, boost_rows
from hydrocheck.solver import Points
from hydrocheck.studies.boosttime import MODULUS, SPOOL, boost_time
from hydrocheck.studies.commands import flow_of, starting_flow
from hydrocheck.studies.trims import predict_trims

TANDEM = demo.load("tandem")
AUGER = TANDEM.function_named("auger")


def boosted(boost: float | None, time: float | None) -> Truck:
    coil = AUGER.section.coil
    assert coil is not None
    section = replace(AUGER.section, coil=replace(coil, boost=boost, boost_time=time))
    return changed(replace(AUGER, section=section))


def changed(auger: Function) -> Truck:
    functions = tuple(auger if f.name == "auger" else f for f in TANDEM.function)
    return replace(TANDEM, function=functions)


def row(truck: Truck) -> str:
    trim = predict_trims(truck, ["auger"]).of("auger")
    assert trim is not None
    return dict(boost_rows(truck, trim))["boost time"]


def test_the_parts_by_hand() -> None:
    found = boost_time(TANDEM, AUGER, 0.50)
    coil = AUGER.section.coil
    assert coil is not None
    # three time constants give 95 % (first-order circuit); the coil of the truck file
    tau = float(coil.inductance or 0.0) / float(coil.resistance or 1.0)
    assert found.coil == pytest.approx(3 * tau, rel=2e-3)
    # 22 ft of 3/4 in bore, and half a turn of 22.6 in3/rev
    inch = 0.0254
    volume = pi / 4 * (0.75 * inch) ** 2 * 22 * 12 * inch + 11.3 * inch**3
    assert found.volume == pytest.approx(volume, rel=1e-3)
    points = Points.of(TANDEM, np.zeros(1), np.array([found.oil_temperature]))
    slips = float(starting_flow(TANDEM, AUGER, points)[0])
    flow = float(flow_of(AUGER, 0.50))
    conductance = slips / found.pressure
    by_hand = found.volume / (MODULUS * conductance) * log(flow / (flow - slips))
    assert found.filling == pytest.approx(by_hand, rel=1e-9)
    assert found.needed == pytest.approx(found.coil + SPOOL + found.filling)


def test_a_boost_that_only_slips_never_starts() -> None:
    assert boost_time(TANDEM, AUGER, 0.40).needed == np.inf


def test_more_boost_takes_less_time() -> None:
    times = [boost_time(TANDEM, AUGER, u).needed for u in (0.46, 0.5, 0.6, 0.9)]
    assert times == sorted(times, reverse=True)


@pytest.mark.parametrize(
    ("time", "word"), [(0.05, "too short"), (0.8, "fits"), (60.0, "longer than it helps")]
)
def test_the_truck_files_duration_is_judged(time: float, word: str) -> None:
    assert row(boosted(0.12, time)).endswith(f"s, {word}")


def test_without_a_boost_in_the_file_the_need_still_stands_there() -> None:
    text = row(TANDEM)
    assert "takes" in text
    assert "truck file" not in text


def test_what_lacks_is_named() -> None:
    bare = replace(TANDEM, lines=tuple(x for x in TANDEM.lines if x.of != "auger"))
    with pytest.raises(MissingValue, match="work supply"):
        boost_time(bare, AUGER, 0.5)
    assert "not known" in row(bare)


def test_json_holds_the_parts() -> None:
    truck = boosted(0.12, 0.8)
    trim = predict_trims(truck, ["auger"]).of("auger")
    assert trim is not None
    found = boost_json(truck, trim, "us")
    assert found is not None
    values: dict[str, Any] = {k: found[k] for k in ("coil", "spool", "filling", "needed")}
    total = sum(values[k]["si"] for k in ("coil", "spool", "filling"))
    assert total == pytest.approx(values["needed"]["si"])
