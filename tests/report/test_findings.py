"""Findings, explanations and points as text and JSON."""

from __future__ import annotations

from math import pi
from typing import Any

import pytest

from hydrocheck import demo
from hydrocheck.checks import REGISTRY, Amount, Finding, Judgement, inspect
from hydrocheck.checks.finding import words
from hydrocheck.model.truck import Task
from hydrocheck.report.findings import (
    explain_json,
    explain_list,
    explain_text,
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
    return Finding("some-check", "auger {x}", "area", judged, "a source")


def test_rounding_shows_as_zero_and_small_values_as_they_are() -> None:
    assert shown(5e-61, "flow", "us") == "0.0 gal/min"
    assert shown(-3e-10, "pressure", "us").startswith("0")
    assert shown(6.3e-8, "flow", "us") == "0.000999 gal/min"
    assert shown(5e-61, "length", "us") != shown(0.0, "length", "us")  # no gauge stands behind it
    assert shown_json(5e-61, "flow", "us") == {"si": 5e-61, "unit": "m3/s", "shown": "0.0 gal/min"}


def test_a_finding_shows_why_at_margin_change_and_source() -> None:
    one = finding(
        "fail", margin=-0.25, at={"engine": Amount(1300 * pi / 30, "shaft_speed"), "part": "hose"},
        change=words("set it to {p} or less", p=Amount(800 * PSI, "pressure")),
    )  # fmt: skip
    text = findings_text("T", [one], "us", plain)
    assert "1 finding: 1 fail" in text
    for line in (
        "FAIL some-check (auger {x})",
        "  why     it is 1000 psi",
        "  at      engine 1300 rpm, part hose",
        "  margin  -25 % of the limit",
        "  change  set it to 800 psi or less",
        "  source  a source",
    ):
        assert line in text.splitlines()
    assert "68.9 bar" in findings_text("T", [one], "metric", plain)


def test_colour_marks_the_verdict_word_only() -> None:
    text = findings_text("T", [finding("fail"), finding("caution")], "us", coloured)
    assert "<fail>FAIL</> some-check" in text
    assert "<caution>CAUTION</> some-check" in text


def test_passes_are_a_table_unless_every_reason_is_asked() -> None:
    one = finding("pass", value=Amount(1000 * PSI, "pressure"), margin=0.5)
    short, full = (findings_text("T", [one], "us", plain, every) for every in (False, True))
    assert "PASS some-check" in full
    assert "PASS some-check" not in short
    (row,) = [line for line in short.splitlines() if line.startswith("some-check")]
    assert row.split() == ["some-check", "auger", "{x}", "1000", "psi", "-", "50", "%"]


def test_what_was_not_checked_says_why() -> None:
    one = Finding("a", "b", "c", Judgement("not checked", words("needs {k}", k="x.y")), "s")
    assert "needs x.y" in findings_text("T", [one], "us", plain)


def test_the_cautions_for_work_on_the_truck_come_with_every_check() -> None:
    text = " ".join(findings_text("T", [], "us", plain).split())
    for words_of_caution in ("locked out", "Never search for leaks by hand", "Steady state only"):
        assert words_of_caution in text


def test_findings_as_json() -> None:
    found = inspect(MISTAKES)
    data: Any = findings_json(found, "metric")
    assert [d["id"] for d in data] == [f.id for f in found]
    for d, f in zip(data, found, strict=True):
        assert list(d) == [
            "id", "subject", "area", "verdict", "value", "limit", "margin", "at", "reason",
            "change", "source",
        ]  # fmt: skip
        for key in ("value", "limit"):
            assert d[key] is None or list(d[key]) == ["si", "unit", "shown"]
        assert (d["change"] is None) == (f.verdict in ("pass", "not checked"))
    assert findings_json([finding("fail")], "us")[0]["change"] == "none found"


@pytest.mark.parametrize("name", REGISTRY)
def test_an_explanation_says_all_that_the_registry_knows(name: str) -> None:
    one = REGISTRY[name]
    text = " ".join(explain_text(one).split())
    data = explain_json(one)
    for key in ("id", "area", "asks", "formula", "limit", "source"):
        assert data[key] == getattr(one, key)
        assert " ".join(data[key].split()) in text
    assert all(len(line) <= 80 for line in explain_text(one).splitlines())


def test_the_list_of_checks_holds_each() -> None:
    text = explain_list(REGISTRY)
    assert all(name in text for name in REGISTRY)
    assert all(len(line) <= 80 for line in text.splitlines())


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
