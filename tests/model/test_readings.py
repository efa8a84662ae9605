"""The readings file: what it holds, in its three forms; every error at once; hostile texts."""

from __future__ import annotations

import json
import re
from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.errors import TruckFileError
from hydrocheck.model import read_truck
from hydrocheck.model.files import LARGEST
from hydrocheck.model.readable import READABLES, what_named
from hydrocheck.model.readings import (
    Readings,
    item_of_line,
    readings_from_lines,
    readings_from_text,
    refuse_unknown_functions,
)
from hydrocheck.model.schema import readings_schema
from tests.model.test_schema import faults

RPM = 2 * pi / 60

BY_HAND = """
schema = 1
truck = "Alder Fork 27"
at = { engine = "1300 rpm", oil = "110 degF", hopper = "full" }

[[reading]]
what = "auger speed"
value = "62 rpm +/- 1 rpm"
at = { run = { auger = { command = "60 %" } } }

[[reading]]
what = "pump pressure"
value = "1450 psi"
instrument = "gauge"
uncertainty = "50 psi"
at = { engine = "700 rpm" }
"""


def test_toml_by_hand() -> None:
    """Values in SI, uncertainty as given, general conditions under each reading's own."""
    speed, pressure = readings_from_text(BY_HAND).readings
    assert speed.number == pytest.approx(62 * RPM)
    assert speed.uncertainty == pytest.approx(RPM)
    assert speed.at.engine == pytest.approx(1300 * RPM)
    assert speed.at.hopper == pressure.at.hopper == "full"
    task = speed.at.task("auger")
    assert task is not None
    assert task.command == pytest.approx(0.60)
    assert pressure.at.engine == pytest.approx(700 * RPM)
    assert pressure.uncertainty == pytest.approx(50 * 6894.757, rel=1e-6)  # psi: units.toml
    assert pressure.place == "line 13: reading[2]"


def test_json_toml_and_lines_agree() -> None:
    lines = [
        "auger speed = 62 rpm @ engine 1,300 rpm, oil 110 degF, auger command 60 %, plow at stop",
        "noise = steady @ test uncoupled, with ear",
    ]
    by_line = readings_from_lines(lines)
    as_json = json.dumps({"schema": 1, "reading": [item_of_line(line) for line in lines]})
    as_toml = "schema = 1\nreading = " + json.dumps(lines)

    def parts(readings: Readings) -> list[tuple[object, ...]]:
        return [(r.what, r.value, r.uncertainty, r.at, r.instrument) for r in readings.readings]

    assert parts(by_line) == parts(readings_from_text(as_json))
    assert parts(by_line) == parts(readings_from_text(as_toml))
    assert by_line.readings[0].at.engine == pytest.approx(1300 * RPM)
    assert by_line.readings[0].at.stop == ("plow",)


def test_bucket_and_watch() -> None:
    """10 gal in 15 s are 40 gal/min (a practitioners' bucket test)."""
    (one,) = readings_from_lines(["relief flow = 10 gal in 15 s"]).readings
    assert one.number == pytest.approx(40 * 6.30901964e-5)
    assert one.instrument == "bucket"


@pytest.mark.parametrize("key", READABLES)
def test_each_readable_is_found_by_its_name(key: str) -> None:
    what = what_named(key.replace("NAME", "left wing"))
    assert what.key == key
    assert bool(what.readable.kind) != bool(what.readable.words)
    assert str(what) == key.replace("NAME", "left wing")


def test_all_errors_at_once_with_their_items() -> None:
    bad = [
        "auger sped = 3 rpm",
        "noise = loud",
        "auger speed = 3 psi",
        "auger speed = 3 rpm @ engine fast, oil 3",
        "auger speed 3 rpm",
        "auger speed = 3 rpm @ on Tuesday",
        "auger command = 160 %",
        "pump flow = 3 gal in 0 s",
    ]
    with pytest.raises(TruckFileError) as caught:
        readings_from_lines(bad)
    items = [re.findall(r"\d+", line)[0] for line in sorted(caught.value.lines)]
    assert items == ["1", "2", "3", "4", "4", "5", "6", "7", "8"]
    text = "schema = 1\nreading = [\n" + ",\n".join(json.dumps(line) for line in bad) + "]"
    with pytest.raises(TruckFileError) as caught:
        readings_from_text(text)
    assert [int(re.findall(r"\d+", line)[0]) for line in caught.value.lines] == [
        3, 4, 5, 6, 6, 7, 8, 9, 10,
    ]  # fmt: skip


def test_a_task_asks_one_thing() -> None:
    text = """{"schema": 1, "reading": [{"what": "auger speed", "value": "1 rpm",
        "at": {"run": {"auger": {"command": "5 %", "setting": "5 %"}}}}]}"""
    with pytest.raises(TruckFileError, match=r"reading.at.run.auger: one of command"):
        readings_from_text(text)


def test_functions_and_scenarios_of_the_truck() -> None:
    truck = read_truck(demo.path("tandem"))
    good = readings_from_lines(["auger speed = 60 rpm @ scenario spreading, plow at stop"])
    refuse_unknown_functions(good, truck)
    bad = readings_from_lines(["augur speed = 60 rpm @ scenario sprading, plough off"])
    with pytest.raises(TruckFileError) as caught:
        refuse_unknown_functions(bad, truck)
    assert [line.split(";")[0] for line in caught.value.lines] == [
        "reading: no function 'augur'",
        "reading: no function 'plough'",
        "reading: no scenario 'sprading'",
    ]


HOSTILE = {
    "brackets": '{"a":' + "[" * (LARGEST - 10),
    "tables": '{"a":' * (LARGEST // 5),
    "escaped quotes": '{"a":"' + '\\"' * (LARGEST // 2 - 10),
    "quotes": "{" + '"' * (LARGEST - 10),
    "digits": '{"schema":' + "9" * (LARGEST - 20) + "}",
    "many keys": "{" + ",".join(f'"k{i}":1' for i in range(70_000)) + "}",
    "a key twice": "{" + ",".join(f'"k{i}":1' for i in range(70_000)) + ',"k69999":1}',
    "many readings": '{"schema":1,"reading":[' + ",".join(["1"] * 300_000) + "]}",
    "not a number": '{"schema":1,"reading":[NaN, Infinity]}',
    "surrogate": '{"schema":1,"truck":"\\ud800"}',
    "control characters": '{"schema":1,"truck":"\\u001b[2J"}',
    "null": '{"schema":1,"reading":null,"at":null,"truck":null}',
    "a long line": 'schema = 1\nreading = ["' + "a @ " * 200_000 + '"]',
    "lists": '{"schema":1,"reading":[[],[[]],{}]}',
    "empty": "",
    "blank object": "{",
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_texts_raise_lines_only(text: str) -> None:
    with pytest.raises(TruckFileError) as caught:
        readings_from_text(text)
    for line in caught.value.lines:
        line.encode("utf-8")
        assert line.isprintable()


@given(st.text(max_size=80))
def test_any_line_is_read_or_refused(line: str) -> None:
    try:
        made = readings_from_lines([line])
    except TruckFileError:
        return
    assert len(made.readings) == 1


def test_schema_takes_what_the_reader_takes() -> None:
    document = {
        "schema": 1,
        "reading": [
            {"what": "auger speed", "value": "62 rpm", "at": {"run": {"auger": {"flow": "3 gpm"}}}},
            "pump pressure = 1450 psi",
        ],
    }
    readings_from_text(json.dumps(document))
    schema = readings_schema()
    assert faults(schema, document) == []
    assert faults(schema, {"schema": 1, "reading": [{"what": "auger speed"}]})
    assert faults(schema, {"schema": 2})
