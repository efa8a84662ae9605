"""The flow budget as text, JSON and figure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import pi
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from hydrocheck import demo
from hydrocheck.errors import FileError
from hydrocheck.model import Truck
from hydrocheck.model.truck import Scenario, Task
from hydrocheck.report.budget import ROWS, budget_json, budget_text
from hydrocheck.report.budgetplot import budget_figure
from hydrocheck.report.figures import save_figure
from hydrocheck.studies.budget import Budget, flow_budget

RPM = pi / 30
TRUCKS = {name: demo.load(name) for name in demo.names()}
EVERY = [(name, s.name) for name, truck in TRUCKS.items() for s in truck.scenario]
TANDEM, MISTAKES, SINGLE = TRUCKS["tandem"], TRUCKS["mistakes"], TRUCKS["single"]


def budget_of(name: str, scenario: str) -> Budget:
    return flow_budget(TRUCKS[name], TRUCKS[name].scenario_named(scenario))


# -- text ----------------------------------------------------------------------------------------


def test_the_table_shows_the_columns_that_add_up() -> None:
    budget = budget_of("tandem", "spreading")
    lines = budget_text("T", budget, "us").splitlines()
    head = next(i for i, line in enumerate(lines) if line.startswith("engine rpm"))
    assert lines[head].split() == [
        "engine", "rpm", "available", "demand", "auger", "spinner", "liquid", "short",
    ]  # fmt: skip
    table = lines[head + 2 : head + 2 + ROWS]
    assert lines[head + 2 + ROWS] == ""
    rows = [line.replace(" *", "").split() for line in table]
    assert [rows[0][0], rows[-1][0]] == ["700", "2300"]
    for row in rows:
        available, demand, *each, short = map(float, row[1:])
        assert sum(each) + short == pytest.approx(demand, abs=0.25)  # rounded cells
        assert short == pytest.approx(max(demand - available, 0.0), abs=0.25)
    marked = [line.split()[0] for line in table if " * " in line]
    assert marked == ["1200", "1320"]


@pytest.mark.parametrize(
    ("name", "scenario", "words"),
    [
        ("tandem", "spreading", "just met at an engine speed of 814 rpm, below the working band"),
        ("mistakes", "spreading", "just met at an engine speed of 1287 rpm, in the working band"),
        ("single", "spreading", "Every demand is met from 700 rpm up."),
        ("mistakes", "plow lift", "No engine speed up to 2200 rpm meets the whole demand; short: "
         "plow. Where the pump could give enough, pressure falls short"),
    ],
)  # fmt: skip
def test_the_verdict_in_words(name: str, scenario: str, words: str) -> None:
    text = " ".join(budget_text("T", budget_of(name, scenario), "us").split())
    assert words in text


def test_a_speed_above_the_working_band_is_said() -> None:
    budget = replace(budget_of("mistakes", "spreading"), working=(800 * RPM, 900 * RPM))
    assert "above the working band" in " ".join(budget_text("T", budget, "us").split())
    none = replace(budget, working=None)
    assert "working band of" not in budget_text("T", none, "us")


def test_json_columns_are_si_and_of_one_length() -> None:
    budget = budget_of("tandem", "spreading")
    data: Any = budget_json(budget, "us")
    assert data["least_engine_speed"]["shown"] == "814 rpm"
    assert data["least_engine_speed"]["si"] == budget.least_speed
    assert data["engine_speed"]["unit"] == "rad/s"
    columns = [data[k] for k in ("engine_speed", "available", "shortfall", "pump_pressure")]
    columns += [c for f in data["functions"].values() for c in f.values()]
    assert {len(c["si"]) for c in columns} == {budget.engine_speed.size}
    never: Any = budget_json(budget_of("mistakes", "plow lift"), "us")
    assert never["least_engine_speed"] is None
    assert never["starved"] == ["plow"]


# -- figure --------------------------------------------------------------------------------------


def drawn(figure: Figure) -> Iterator[tuple[Text, Any]]:
    """Every text of a figure but the ticks' with the box that it takes, in pixels, no leader."""
    figure.canvas.draw()
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]  # the Agg canvas
    found = list(figure.texts)
    for axes in figure.axes:
        titles = [child for child in axes.get_children() if isinstance(child, Text)]
        found += [*titles, axes.xaxis.label, axes.yaxis.label]
    for text in found:
        if text.get_visible() and text.get_text().strip():
            yield text, Text.get_window_extent(text, renderer)


def overlapping(figure: Figure) -> list[tuple[str, str]]:
    boxes = list(drawn(figure))
    return [
        (a.get_text(), b.get_text())
        for i, (a, one) in enumerate(boxes)
        for b, two in boxes[i + 1 :]
        if one.overlaps(two)
    ]


def agg(figure: Figure) -> Figure:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    FigureCanvasAgg(figure)
    return figure


def texts(figure: Figure) -> list[str]:
    return [text.get_text() for text, _ in drawn(figure)]


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize(("name", "scenario"), EVERY)
def test_texts_neither_overlap_nor_leave_the_figure(name: str, scenario: str, units: str) -> None:
    budget = budget_of(name, scenario)
    figure = agg(budget_figure(TRUCKS[name].name, budget, units))
    assert overlapping(figure) == []
    whole = figure.bbox
    for text, box in drawn(figure):
        assert whole.x0 <= box.x0, text
        assert box.x1 <= whole.x1, text
        assert whole.y0 <= box.y0, text
        assert box.y1 <= whole.y1, text


@pytest.mark.parametrize(("name", "scenario"), EVERY)
def test_everything_is_named_where_it_lies(name: str, scenario: str) -> None:
    budget = budget_of(name, scenario)
    figure = agg(budget_figure("T", budget, "us"))
    shown = texts(figure)
    active = [f for m, f in enumerate(budget.functions) if budget.demand[:, m].max() > 0]
    for label in ("pump can give", "demanded", "working band", "engine speed, rpm", *active):
        assert label in shown
    assert "flow, gal/min" in shown
    idle = [f for f in budget.functions if f not in active]
    assert not set(idle) & set(shown)
    short = any(text.startswith("short by up to") for text in shown)
    assert short == bool((budget.shortfall > 1e-6 * budget.total_demand).any())
    least = budget.least_speed
    inside = least is not None and budget.engine_speed[0] < least < budget.engine_speed[-1]
    assert any(text.startswith("met from") for text in shown) == inside


def test_the_overlap_rule_sees_an_overlap() -> None:
    figure = agg(Figure())
    figure.text(0.5, 0.5, "one")
    figure.text(0.5, 0.5, "two")
    assert overlapping(figure) == [("one", "two")]


def many_functions(count: int) -> tuple[Truck, Scenario]:
    """A truck of so many small functions that their layers are thinner than their names."""
    liquid = next(f for f in TANDEM.function if f.name == "liquid")
    functions = tuple(replace(liquid, name=f"chute {i}") for i in range(count))
    truck = replace(TANDEM, function=functions, lines=TANDEM.lines[:3])
    run = tuple(Task(name=f.name, speed=100 * RPM) for f in functions)
    return truck, Scenario(name="many", run=run)


def test_names_of_thin_layers_are_spread() -> None:
    truck, scenario = many_functions(9)
    figure = agg(budget_figure(truck.name, flow_budget(truck, scenario), "us"))
    assert overlapping(figure) == []
    assert sum(text.startswith("chute") for text in texts(figure)) == 9


@pytest.mark.parametrize(
    "name", ["$x^{2", "{0} %s", "a\x1b[31m\x00b\nc", "long " * 60, "x" * 300, "\u96ea\u5834"]
)
def test_odd_and_long_names_are_drawn(name: str, tmp_path: Path) -> None:
    budget = budget_of("tandem", "spreading")
    functions = (name, *budget.functions[1:])
    figure = budget_figure(name, replace(budget, functions=functions, scenario=name), "us")
    save_figure(figure, tmp_path / "odd.png")
    assert (tmp_path / "odd.png").read_bytes().startswith(b"\x89PNG")
    axes = figure.axes[0]
    assert all(len(line) <= 84 for line in axes.get_title(loc="left").splitlines())
    assert axes.get_xlim()[1] == pytest.approx(2300)


def test_one_speed_alone_is_drawn() -> None:
    budget = flow_budget(TANDEM, TANDEM.scenario[0], [1300 * RPM])
    assert "pump can give" in texts(agg(budget_figure("T", budget, "us")))


def test_a_scenario_without_demand_is_drawn() -> None:
    nothing = Scenario(name="nothing", run=(Task(name="auger", setting=0.0),))
    figure = agg(budget_figure("T", flow_budget(TANDEM, nothing), "us"))
    assert "demanded" in texts(figure)


def test_layers_differ_in_grey_and_in_hatch() -> None:
    figure = budget_figure("T", budget_of("tandem", "spreading, plow lifted"), "us")
    layers = figure.axes[0].collections
    looks = {
        (layer.get_hatch(), tuple(np.atleast_2d(layer.get_facecolor())[0][:3]))
        for layer in layers[:4]
    }
    assert len({hatch for hatch, _ in looks}) == len({grey for _, grey in looks}) == 4
    greys = [grey for _, grey in looks]
    assert all(np.ptp(grey) == 0 for grey in greys)  # no colour to lose in print


# -- files ---------------------------------------------------------------------------------------


STARTS = {"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}


@pytest.mark.parametrize(("ending", "start"), sorted(STARTS.items()))
def test_a_figure_is_the_same_file_every_time(ending: str, start: bytes, tmp_path: Path) -> None:
    budget = budget_of("tandem", "spreading")
    for name in ("a", "b"):
        save_figure(budget_figure("T", budget, "us"), tmp_path / f"{name}.{ending}")
    first, second = ((tmp_path / f"{name}.{ending}").read_bytes() for name in ("a", "b"))
    assert first.startswith(start)
    assert first == second


@pytest.mark.parametrize("name", ["figure.jpg", "figure", "figure.txt", ".png"])
def test_other_endings_are_refused(name: str, tmp_path: Path) -> None:
    figure = budget_figure("T", budget_of("tandem", "spreading"), "us")
    with pytest.raises(FileError, match=r"a figure is written as \.png, \.svg, \.pdf"):
        save_figure(figure, tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_an_existing_figure_stays_unless_forced(tmp_path: Path) -> None:
    path = tmp_path / "figure.png"
    path.write_text("old")
    figure = budget_figure("T", budget_of("tandem", "spreading"), "us")
    with pytest.raises(FileError, match="exists already"):
        save_figure(figure, path)
    assert path.read_text() == "old"
    save_figure(figure, path, force=True)
    assert path.read_bytes().startswith(b"\x89PNG")
    assert [p.name for p in tmp_path.iterdir()] == ["figure.png"]
