"""Findings, explanations and points as text and JSON."""

from __future__ import annotations

import re
from math import pi
from typing import Any

import pytest

from hydrocheck import demo
from hydrocheck.checks import REGISTRY, Amount, Finding, Inspection, Judgement, inspect
from hydrocheck.checks.finding import words
from hydrocheck.model import Truck
from hydrocheck.model.truck import Task
from hydrocheck.report.findings import (
    Example,
    explain_json,
    explain_list,
    explain_markdown,
    explain_text,
    finding_json,
    findings_json,
    findings_text,
)
from hydrocheck.report.point import point_json, point_text
from hydrocheck.report.shown import shown, shown_json
from hydrocheck.studies.point import PointOrder, solve_point

PSI = 6894.757293168
TANDEM, SINGLE, MISTAKES = (demo.load(n) for n in ("tandem", "single", "mistakes"))


def plain(text: str, verdict: str) -> str:
    return text


def coloured(text: str, verdict: str) -> str:
    return f"<{verdict}>{text}</>"


def finding(verdict: Any, **more: Any) -> Finding:
    judged = Judgement(verdict, words("it is {v}", v=Amount(1000 * PSI, "pressure")), **more)
    return Finding("some-check", "auger {x}", "flow and speed", judged, "a source")


def test_rounding_shows_as_zero_and_small_values_as_they_are() -> None:
    assert shown(5e-61, "flow", "us") == "0.0 gal/min"
    assert shown(-3e-10, "pressure", "us").startswith("0")
    assert shown(6.3e-8, "flow", "us") == "0.000999 gal/min"
    assert shown(5e-61, "length", "us") != shown(0.0, "length", "us")  # no gauge stands behind it
    assert shown_json(5e-61, "flow", "us") == {"si": 5e-61, "unit": "m3/s", "shown": "0.0 gal/min"}


def shown_for(*findings: Finding, truck: Truck = TANDEM, every: bool = False) -> str:
    return findings_text(truck, findings, "us", plain, every)


def test_a_finding_shows_margin_reason_place_and_change() -> None:
    one = finding(
        "fail", margin=-0.25, at={"engine": Amount(1300 * pi / 30, "shaft_speed"), "part": "hose"},
        change=words("set it to {p} or less", p=Amount(800 * PSI, "pressure")),
    )  # fmt: skip
    text = shown_for(one)
    block = [
        "FAIL some-check (auger {x}) -25 %: it is 1000 psi; engine 1300 rpm, part hose",
        "  > set it to 800 psi or less",
    ]
    assert "\n".join(block) in text
    assert "68.9 bar" in findings_text(TANDEM, [one], "metric", plain)


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("truck", [TANDEM, SINGLE, MISTAKES], ids=lambda t: t.name)
def test_findings_take_two_or_three_lines_seldom_four(truck: Truck, units: Any) -> None:
    text = findings_text(truck, inspect(truck), units, plain)
    blocks = [b.splitlines() for b in text.split("\n\n") if b.startswith(("FAIL", "CAUTION"))]
    lengths = sorted(len(block) for block in blocks)
    assert lengths[-1] <= 4
    assert lengths[len(lengths) // 2] <= 3


def test_the_summary_names_all_four_verdicts() -> None:
    assert "1 finding: 0 pass, 0 not checked, 0 caution, 1 fail" in shown_for(finding("fail"))
    assert "0 findings: 0 pass, 0 not checked, 0 caution, 0 fail" in shown_for()


def test_limits_of_the_truck_file_are_echoed() -> None:
    assert "Limits of the truck file" not in shown_for()
    truck = TANDEM.vary("limits.standby_pressure", 300 * PSI)
    (row,) = [x for x in shown_for(truck=truck).splitlines() if x.startswith("standby_pressure")]
    assert row.split() == ["standby_pressure", "300", "psi", "218", "psi"]
    data: Any = findings_json(truck, [], "us")
    assert data["limits"]["standby_pressure"]["set"]["shown"] == "300 psi"
    assert data["limits"]["standby_pressure"]["default"]["si"] == 15e5
    assert findings_json(TANDEM, [], "us")["limits"] == {}


def test_colour_marks_the_verdict_word_only() -> None:
    text = findings_text(TANDEM, [finding("fail"), finding("caution")], "us", coloured)
    assert "<fail>FAIL</> some-check" in text
    assert "<caution>CAUTION</> some-check" in text


def test_passes_are_counted_and_shown_as_a_table_where_all_are_asked() -> None:
    one = finding("pass", value=Amount(1000 * PSI, "pressure"), margin=0.5)
    short, full = (shown_for(one, every=every) for every in (False, True))
    assert "some-check" not in short
    assert "`--all` shows" in short
    (row,) = [line for line in full.splitlines() if line.startswith("some-check")]
    assert row.split() == ["some-check", "auger", "{x}", "1000", "psi", "-", "50", "%"]


def test_what_was_not_checked_says_why() -> None:
    one = Finding("a", "b", "c", Judgement("not checked", words("needs {k}", k="x.y")), "s")
    assert "needs x.y" in shown_for(one)


def test_the_cautions_for_work_on_the_truck_come_with_every_check() -> None:
    text = " ".join(shown_for().split())
    for words_of_caution in ("locked out", "Never search for leaks by hand", "Steady state only"):
        assert words_of_caution in text


def test_findings_as_json() -> None:
    found = inspect(MISTAKES)
    data: Any = findings_json(MISTAKES, found, "metric")
    assert list(data) == ["counts", "limits", "findings"]
    assert list(data["counts"]) == ["pass", "not checked", "caution", "fail"]
    assert sum(data["counts"].values()) == len(found)
    assert [d["id"] for d in data["findings"]] == [f.id for f in found]
    for d, f in zip(data["findings"], found, strict=True):
        assert list(d) == [
            "id", "subject", "area", "verdict", "value", "limit", "margin", "at", "reason",
            "change", "change_numbers", "source",
        ]  # fmt: skip
        for key in ("value", "limit"):
            assert d[key] is None or list(d[key]) == ["si", "unit", "shown"]
        assert (d["change"] is None) == (f.verdict in ("pass", "not checked"))
        for number in d["change_numbers"].values():
            assert number["shown"].split()[0] in d["change"]
    (one,) = [d for d in data["findings"] if d["id"] == "suction-velocity"]
    assert one["change_numbers"]["bore"]["unit"] == "m"
    assert finding_json(finding("fail"), "us")["change"] == "none found"


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", REGISTRY)
def test_an_explanation_says_all_that_the_registry_knows(name: str, units: str) -> None:
    one = REGISTRY[name]
    text = " ".join(explain_text(one, None, units).split())
    data = explain_json(one, None, units)
    assert data["id"] == name
    for key in ("area", "asks", "formula", "limit", "source"):
        said = one.said(key, units)
        assert data[key] == said
        assert " ".join(said.split()) in text
        assert "{" not in said
    assert all(len(line) <= 80 for line in explain_text(one, None, units).splitlines())


def test_thresholds_speak_the_units_asked_for() -> None:
    one = REGISTRY["standby-pressure"]
    assert one.said("limit", "us").startswith("218 psi;")
    assert one.said("limit", "metric").startswith("15.0 bar;")
    for check in REGISTRY.values():  # no text holds a number in units of one system only
        for key in ("asks", "formula", "limit", "source"):
            assert not re.search(r"\d ?(psi|bar|gpm|gal|mph|km/h|degF|ft|cSt|lb|kg)\b",
                                 getattr(check, key)), check.id  # fmt: skip


def test_an_example_is_worked_in_numbers() -> None:
    (one,) = REGISTRY["suction-velocity"].run(Inspection(MISTAKES))
    text = explain_text(REGISTRY["suction-velocity"], Example("T", one), "us")
    for part in ("Example: T", "8.56 ft/s", "fail", "a bore of 1.47 in or more", "-114 %"):
        assert part in text
    data: Any = explain_json(REGISTRY["suction-velocity"], Example("T", one), "metric")
    assert data["example"]["verdict"] == "fail"
    assert data["example"]["value"]["unit"] == "m/s"
    assert all(len(line) <= 80 for line in text.splitlines())


def test_the_list_of_checks_holds_each() -> None:
    text, page = explain_list(REGISTRY), explain_markdown(REGISTRY)
    assert all(name in text for name in REGISTRY)
    assert all(len(line) <= 80 for line in text.splitlines())
    assert all(f"`{name}`" in page for name in REGISTRY)
    rows = page.splitlines()
    assert all(row.count("|") - row.count("\\|") == 4 for row in rows)


# -- a point -------------------------------------------------------------------------------------


def test_a_point_shows_what_fits_the_pump() -> None:
    sensing = point_text("T", TANDEM, solve_point(TANDEM, TANDEM.scenario[0], PointOrder()), "us")
    fixed = point_text("T", SINGLE, solve_point(SINGLE, SINGLE.scenario[0], PointOrder()), "us")
    for label in ("load-sensing pressure", "stroke"):
        assert label in sensing
        assert label not in fixed
    for text in (sensing, fixed):
        assert "e-" not in text.split("Balance check")[0]
    assert "plow" in sensing


def test_what_is_off_shows_no_number() -> None:
    order = PointOrder(tasks={"auger": Task(name="auger", command=0.5)})
    text = point_text("T", TANDEM, solve_point(TANDEM, None, order), "us")
    (spinner,) = [line for line in text.splitlines() if line.startswith("spinner ")]
    assert spinner.split() == ["spinner", "-", "-", "-", "-", "-", "off"]


def test_heat_adds_up_and_the_point_is_complete_in_json() -> None:
    solved = solve_point(TANDEM, TANDEM.scenario[0], PointOrder())
    data: Any = point_json(TANDEM, solved, "us")
    assert sum(h["si"] for h in data["heat"].values()) == pytest.approx(data["total_heat"]["si"])
    assert data["engine_speed"]["shown"] == "1300 rpm"
    assert set(data["functions"]) == {"auger", "spinner", "liquid", "plow", "dump"}
    assert data["functions"]["auger"]["limit"] == "command"
    assert data["functions"]["plow"]["limit"] == "off"
    assert data["supply_limit"] == "load_signal"
    assert data["flow_residual"] < 1e-9 > data["energy_residual"]


def test_a_stalled_function_is_named_and_the_relief_shown() -> None:
    solved = solve_point(MISTAKES, MISTAKES.scenario_named("plow lift"), PointOrder())
    text = point_text("T", MISTAKES, solved, "us")
    assert "flow over main relief" in text
    assert "stalled" in text
    assert "a relief valve passes flow" in text
