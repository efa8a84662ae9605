"""The throw's text and figure: what they say, and that no name lies over another."""

from __future__ import annotations

from dataclasses import replace
from math import nan, pi

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from hydrocheck import demo
from hydrocheck.report.throw import needed_text, rows_shown, throw_json, throw_text
from hydrocheck.report.throwplot import throw_figure
from hydrocheck.studies.throw import Throw, ThrowOrder, study_throw
from tests.checks.casekit import put

RPM = pi / 30


def throws() -> dict[str, Throw]:
    trucks = {name: demo.load(name) for name in demo.names()}
    found = {name: study_throw(truck, ThrowOrder()) for name, truck in trucks.items()}
    tandem = trucks["tandem"]
    many = put(tandem, "function.spinner.limits.max_speed", 900 * RPM)
    found["wide"] = study_throw(many, ThrowOrder(width=10.0))
    near = put(tandem, "scenario.spreading.run.spinner.speed", 445 * RPM)
    found["three"] = study_throw(near, ThrowOrder())
    found["none"] = study_throw(put(tandem, "scenario", ()), ThrowOrder(width=0.5))
    return found


THROWS = throws()


@pytest.mark.parametrize("name", THROWS)
@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_figure_s_names_lie_apart(name: str, units: str) -> None:
    figure = throw_figure("Alder Fork 27, " + "a long name " * 4, THROWS[name], units)
    assert overlaps(figure) == []


def overlaps(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of texts in the axes whose boxes meet."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    texts = [t for t in figure.axes[0].texts if t.get_text()]
    # Of the text alone, without the leader of an annotation.
    boxes = [(t.get_text(), Text.get_window_extent(t, renderer)) for t in texts]
    for label, box in boxes:
        assert figure.bbox.x0 <= box.x0 < box.x1 <= figure.bbox.x1, label
    return [
        (a, b)
        for i, (a, one) in enumerate(boxes)
        for b, other in boxes[i + 1 :]
        if one.overlaps(other)
    ]


def test_the_table_holds_the_ordered_and_the_needed_speed() -> None:
    throw = THROWS["tandem"]
    assert throw.needed is not None
    shown = [float(throw.band.speed[k]) for k in rows_shown(throw)]
    for speed in (350 * RPM, throw.needed):
        assert any(one == pytest.approx(speed) for one in shown)
    assert len(shown) <= 16
    assert max(shown) == pytest.approx(450 * RPM)  # the machinery's limit


def test_no_speed_is_said_to_be_none() -> None:
    text = throw_text("x", THROWS["none"], "metric")
    assert "no usual spinner speed" in text
    assert "*" not in text.split("What moves")[0].split("leaves")[1]
    cut = replace(THROWS["tandem"], slowest=nan, fastest=nan)
    assert needed_text(cut, "us") == "320 rpm (the slowest to beyond the table by the band)"
    assert throw_json(THROWS["none"], "us")["needed_speed"] is None


def test_speeds_that_throw_nothing_are_dashes() -> None:
    slow = put(demo.load("tandem"), "function.spinner.disc.feed_share", 0.01)
    throw = study_throw(slow, ThrowOrder(width=39.0))  # wider than it can
    assert throw.needed is None
    text = throw_text("x", throw, "us")
    assert "nan" not in text
    assert "  350 *       -      -" in text
    assert "too slow to move the material off the disc" in text
    assert "at 900 rpm grains leave a disc of this size at about" in " ".join(text.split())
    stuck = replace(throw, spin=replace(throw.spin, friction=50.0))
    # by hand: 94.2 rad/s x 0.254 m x root 2 = 33.9 m/s
    assert "at up to 34 m/s" in " ".join(throw_text("x", stuck, "metric").split())


def test_backward_landing_is_explained() -> None:
    assert "Below 0 forward is backward" in throw_text("x", THROWS["conveyor"], "us")
    aside = put(demo.load("tandem"), "function.spinner.disc.fan", pi / 2)
    assert "Below 0" not in throw_text("x", study_throw(aside, ThrowOrder()), "us")
