"""The set-up sheet without a browser: its blanks, what it says, filling, hostile text."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser

import pytest

from hydrocheck import demo
from hydrocheck.advice.diagnosis import diagnose
from hydrocheck.model import Truck
from hydrocheck.model.readings import Readings, readings_from_lines, readings_from_text
from hydrocheck.report.sheet import Sheet, make_sheet, texts
from hydrocheck.report.sheet.view import check_value
from hydrocheck.report.trims import study_trims, trims_text

TANDEM = replace(demo.load("tandem"), tolerances={})
VOID = {"meta", "input", "img", "br", "link"}


class Page(HTMLParser):
    """A page as tags with attributes, text, and whether every tag is closed."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.text: list[str] = []
        self.open: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {k: v or "" for k, v in attrs}))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open[-1] in ("p", "option") and tag not in ("p", "option"):
            self.open.pop()
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] not in ("style", "script"):
            self.text.append(data)

    def of(self, tag: str) -> list[dict[str, str]]:
        return [attributes for name, attributes in self.tags if name == tag]

    @property
    def words(self) -> str:
        return " ".join(" ".join(self.text).split())


@cache
def sheet() -> Sheet:
    return make_sheet(TANDEM, "us")


@cache
def page() -> Page:
    return Page(sheet().html)


def saved(*skip: str) -> dict[str, object]:
    """What the page would save with every blank at its expected value."""
    reading = [
        {
            "what": f.what,
            "value": f"{f.expected.split(' ')[0]} {f.unit}",
            "at": json.loads(f.at),
            "note": f.label,
        }
        for f in sheet().fields
        if f.label not in skip
    ]
    return {"schema": 1, "truck": TANDEM.name, "reading": reading, "notes": []}


def filled(document: dict[str, object]) -> Sheet:
    return make_sheet(TANDEM, "us", readings_from_text(json.dumps(document)))


# -- what is on it ---------------------------------------------------------------------------------


def test_the_page_is_whole_and_takes_nothing_from_elsewhere() -> None:
    assert page().open == []
    assert not page().of("link")
    assert all(image["src"].startswith("data:image/svg+xml;base64,") for image in page().of("img"))
    assert len(page().of("img")) == 2
    assert all(len(image["alt"]) > 40 for image in page().of("img"))
    assert [script for script in page().of("script") if "src" in script] == []
    (policy,) = [m["content"] for m in page().of("meta") if "http-equiv" in m]
    assert policy.startswith("default-src 'none'")
    assert "http:" not in sheet().html.replace("http-equiv", "")
    assert "https:" not in sheet().html


def test_every_field_has_one_label_and_one_name() -> None:
    fields = [*page().of("input"), *page().of("select"), *page().of("textarea")]
    names = [one["id"] for one in fields]
    assert len(set(names)) == len(names)
    boxes = [one["id"] for one in fields if one.get("type") == "checkbox"]
    labels = [one["for"] for one in page().of("label") if "for" in one]
    assert sorted(labels + boxes) == sorted(names)
    ids = [attributes["id"] for _, attributes in page().tags if "id" in attributes]
    assert len(set(ids)) == len(ids)
    for one in fields:
        for described in one.get("aria-describedby", "").split():
            assert described in ids


def test_the_cautions_stand_there_before_the_work() -> None:
    words = page().words
    for word in (
        "Two people", "Protective equipment", "Lock out", "Rotating parts", "Oil injection",
        "Hot oil", "Raised body", "Traffic", "Makers' limits first", "local codes", "licence",
    ):  # fmt: skip
        assert word in words
    steps = [words.index(title) for title in (
        "Cautions", "Make safe", "Warm up and load", "Check the pressures",
        "Check flow and speed", "Set the trims", "Catch and weigh", "Record",
    )]  # fmt: skip
    assert steps == sorted(steps)
    assert "Signature" in words
    assert texts.LIMITS_OF_USE in words


def test_blanks_hold_predicted_value_and_range() -> None:
    by_label = {f.label: f for f in sheet().fields}
    # The truck file: standby 350 psi, compensator 2700 psi; gauges as usual: 25 psi or 3 %.
    assert by_label["standby pressure"].expected == "350 psi"
    assert by_label["standby pressure"].span == "325 to 375 psi"
    assert by_label["compensator pressure"].expected == "2700 psi"
    assert by_label["compensator pressure"].span == "2619 to 2781 psi"
    # 400 lb/lane-mile at 30 mph: 200 lb/min of 5.18 lb a turn.
    assert by_label["auger speed, low end of the band"].expected.startswith("38.5")
    assert {f.what for f in sheet().fields} >= {
        f"{name} {which} trim"
        for name in ("auger", "spinner", "liquid")
        for which in ("minimum", "maximum")
    }
    for one in sheet().fields:
        number = float(one.expected.split()[0])
        assert float(one.low) <= number <= float(one.high)
        assert check_value(one.expected.split()[0], one.low, one.high, one.unit) == ""


def test_the_same_in_metric_units() -> None:
    metric = make_sheet(TANDEM, "metric")
    assert [f.what for f in metric.fields] == [f.what for f in sheet().fields]
    assert metric.fields[2].expected == "24.1 bar"
    assert "psi" not in Page(metric.html).words.replace("psia", "")


def test_findings_that_pass_are_left_out() -> None:
    assert "CAUTION" in page().words
    assert "FAIL" not in page().words
    assert (
        "FAIL" in Page(make_sheet(replace(demo.load("mistakes"), tolerances={}), "us").html).words
    )


# -- filling ---------------------------------------------------------------------------------------


def test_what_the_page_saves_is_read_and_comes_back() -> None:
    full = filled(saved())
    assert [f.label for f in full.fields if not f.value] == []
    assert [f.flag for f in full.fields if f.flag] == []
    assert full.others == ()
    assert [f.value for f in full.fields] == [f.expected.split()[0] for f in sheet().fields]


def test_predicted_trims_agree_with_themselves() -> None:
    readings = readings_from_text(json.dumps(saved()))
    text = trims_text(study_trims(TANDEM, readings), "us")
    assert text.count("  agrees") == 6


def test_a_value_out_of_its_range_is_flagged_without_script() -> None:
    document = saved()
    reading = document["reading"]
    assert isinstance(reading, list)
    reading[2]["value"] = "250 psi"
    full = filled(document)
    assert full.fields[2].flag == "below the range of 325 to 375 psi"
    inputs = [one for one in Page(full.html).of("input") if one.get("aria-invalid") == "true"]
    assert [one["value"] for one in inputs] == ["250"]
    assert "below the range of 325 to 375 psi" in Page(full.html).words


def test_other_units_are_converted_and_other_readings_kept() -> None:
    readings = readings_from_text(
        'schema = 1\nby = "A. Miller"\nnotes = ["unit: 27", "done: Guards on", "hoses chafed"]\n'
        'reading = ["auger minimum trim = 0.38", "oil temperature = 43 degC", '
        '"pump pressure = 25 bar", "noise = steady", "auger speed = 38 rpm @ engine 1390 rpm"]\n'
    )
    full = make_sheet(TANDEM, "us", readings)
    values = {f.label: f.value for f in full.fields if f.value}
    assert values == {
        "auger minimum trim": "38",
        "oil temperature": "109.4",
        "auger speed, high end of the band": "38",
    }
    # Three blanks take a pump pressure: without its label it is listed, not guessed.
    assert [o.what for o in full.others] == ["pump pressure", "noise"]
    words = Page(full.html).words
    assert "pump pressure: 25 bar" in words
    assert "hoses chafed" in words
    values_of = {one.get("id"): one.get("value") for one in Page(full.html).of("input")}
    assert (values_of["t-by"], values_of["t-unit"]) == ("A. Miller", "27")


@pytest.mark.parametrize(
    ("text", "remark"),
    [
        ("", ""),
        (" 62 ", ""),
        ("62.", ""),
        (".5", "below the range of 55 to 70 rpm"),
        ("-3", "below the range of 55 to 70 rpm"),
        ("70.1", "above the range of 55 to 70 rpm"),
        ("1,5", "not a plain number"),
        ("62 rpm", "not a plain number"),
        ("1e3", "not a plain number"),
    ],
)
def test_remarks_on_values(text: str, remark: str) -> None:
    assert check_value(text, "55", "70", "rpm") == remark


# -- hostile text and poor trucks ------------------------------------------------------------------

EVIL = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>{{ 7*7 }}&amp;"


def hostile() -> Truck:
    truck = demo.load("mistakes")
    return replace(
        truck,
        truck=replace(truck.truck, name=EVIL, about=EVIL),
        function=tuple(replace(f, name=EVIL) if f.name == "auger" else f for f in truck.function),
        relief=tuple(replace(r, name=EVIL) for r in truck.relief),
        bank=tuple(
            replace(b, order=tuple(EVIL if n == "auger" else n for n in b.order))
            for b in truck.bank
        ),
        lines=tuple(replace(x, of=EVIL) if x.of == "auger" else x for x in truck.lines),
        scenario=tuple(
            replace(
                s,
                name=EVIL + s.name,
                run=tuple(replace(t, name=EVIL) if t.name == "auger" else t for t in s.run),
            )
            for s in truck.scenario
        ),
    )


def test_markup_in_the_truck_file_stays_text() -> None:
    made = make_sheet(hostile(), "us", Readings(notes=(EVIL,), by=EVIL, date=EVIL, truck=EVIL))
    found = Page(made.html)
    assert len(found.of("script")) == 1
    assert len(found.of("img")) == 2
    assert "<script>alert" not in made.html
    assert EVIL in "".join(found.text)
    assert not any("onerror" in attributes for _, attributes in found.tags)
    for one in found.of("input"):
        if "data-at" in one:
            json.loads(one["data-at"])
    assert {one["value"] for one in found.of("input") if one["id"] in ("t-by", "t-date")} == {EVIL}
    (form,) = found.of("form")
    assert form["data-truck"] == EVIL
    assert (
        form["data-file"] == "script-alert-1-script-img-src-x-onerror-alert-1-7-7-amp-readings.json"
    )


def test_a_truck_without_much_gives_a_sheet_that_says_what_it_lacks() -> None:
    poor = replace(TANDEM, scenario=(), pump=(replace(TANDEM.pump[0], standby=None),))
    made = make_sheet(poor, "us")
    assert any("standby" in gap for gap in made.gaps)
    words = Page(made.html).words
    assert "Not predicted" in words
    assert "not checked:" in words
    assert "needs pump.standby" in words
    assert Page(made.html).open == []


def test_a_saved_sheet_of_a_healthy_truck_is_found_healthy() -> None:
    readings = readings_from_text(json.dumps(saved())).readings
    found = diagnose(TANDEM, readings, suggest=False)
    assert not found.complained
    assert found.leading.name == "nothing wrong"
    assert found.leading.probability > 0.7
    complaint = readings_from_lines(["auger motion = slow"]).readings
    asked = diagnose(TANDEM, (*readings, *complaint), suggest=False)
    assert asked.groups["nothing"] < 0.5


def test_a_wide_range_shows_no_more_digits_than_its_high_end() -> None:
    """0.490 psi that may be 34.5: a gauge that reads 34.498 does not exist."""
    page = make_sheet(demo.load("mistakes"), "us").html
    assert "34.5 psi" in page
    assert "34.498" not in page
