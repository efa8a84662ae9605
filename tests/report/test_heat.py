"""Oil temperature as text, JSON and figure."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.axes import Axes

from hydrocheck import demo
from hydrocheck.errors import DomainError
from hydrocheck.report.figures import save_figure
from hydrocheck.report.heat import MINUTES, duration, heat_json, heat_text
from hydrocheck.report.heatplot import NAMES, heat_figure
from hydrocheck.studies.heatstudy import HeatOrder, HeatStudy, study_heat
from hydrocheck.studies.thermal import duty_of
from hydrocheck.units import parse

# The surface alone, so that a balance may be missing.
TRUCKS = {name: demo.load(name).vary("reservoir.cooler", 0.0) for name in demo.names()}


@cache
def study_of(name: str, cooler: float = 0.0, warming: bool = True) -> HeatStudy:
    truck = TRUCKS[name]
    truck = truck.vary("reservoir.cooler", cooler) if cooler else truck
    duty = duty_of(truck, {truck.scenario[0].name: 0.75, "standby": 0.25})
    return study_heat(truck, HeatOrder(duty, warming=warming))


def words_of(study: HeatStudy, units: str = "us") -> str:
    return " ".join(heat_text("T", study, units).split())


def test_duration() -> None:
    assert [duration(t) for t in (0.0, 89.0, 3600.0, 5100.0, np.inf)] == [
        "0 min", "1 min", "1 h 00 min", "1 h 25 min", "never",
    ]  # fmt: skip


def test_the_settled_table_shows_what_was_solved() -> None:
    study = study_of("tandem", 60.0, False)
    rows = [
        line.split()
        for line in heat_text("T", study, "us").splitlines()
        if line.strip().startswith(("-10 ", "40 "))
    ]
    assert len(rows) == 2
    for n, row in enumerate(rows):
        for cell, one in zip(
            row[1:4], (study.settled.stated, study.settled.cool, study.settled.warm), strict=True
        ):
            kelvin = float(one.temperature[n])
            assert float(cell) == pytest.approx(kelvin * 1.8 - 459.67, abs=0.51)
        power = float(study.settled.stated.input.total[n])
        assert parse(f"{row[4]} hp", "power") == pytest.approx(power, rel=0.01)


def test_the_elements_add_up_and_fall() -> None:
    text = heat_text("T", study_of("tandem", 60.0, False), "us")
    block = text[text.index("Heat by element") :].split("\n\n")[0].splitlines()[3:]
    values = [float(line.split()[-1]) for line in block]
    assert block[-1].startswith("total")
    assert sum(values[:-1]) == pytest.approx(values[-1], abs=0.06)
    named = [
        v for line, v in zip(block, values, strict=True) if not line.startswith(("others", "total"))
    ]
    assert named == sorted(named, reverse=True)


def test_too_hot_is_said_with_what_would_hold_it() -> None:
    study = study_of("single", 0.0, False)
    words = words_of(study)
    assert "> : no temperature up to 302 degF balances the heat" in words
    assert "goes above 150 degF" in words
    needed = float(study.needed[-1]) if study.needed is not None else 0.0
    said = words.split("the truck must give off ")[1].split(" in all")[0]
    assert parse(said, "heat_conductance") == pytest.approx(needed, rel=0.005)


def test_cool_enough_is_said() -> None:
    words = words_of(study_of("tandem", 400.0, False))
    assert "stays at or below 160 degF" in words
    assert "> :" not in words
    bare = replace(study_of("tandem", 400.0, False), hot=None, needed=None)
    assert "hot by the truck file" not in words_of(bare)


def test_only_a_poor_coefficient_is_too_hot() -> None:
    for cooler in np.linspace(5.0, 120.0, 24):
        study = study_of("tandem", float(cooler), False)
        assert study.hot is not None
        stated, warm = (
            float(s.temperature[-1]) for s in (study.settled.stated, study.settled.warm)
        )
        if stated <= study.hot and not warm <= study.hot:
            assert "with a poor coefficient goes above" in words_of(study)
            return
    pytest.fail("no cooler lies between")


def test_the_warming_table_and_its_marks() -> None:
    study = study_of("tandem")
    assert study.warming is not None
    text = heat_text("T", study, "metric")
    table = text[text.index("      time") :].split("\n\n")[0].splitlines()[2:]
    assert len(table) == len(MINUTES)
    known = study.warming.stated.temperature_at(60.0 * np.array(MINUTES))[:, 0] - 273.15
    for line, value in zip(table, known, strict=True):
        assert float(line.split()[-3]) == pytest.approx(value, abs=0.51)
    assert "to 5.0 degC" in text
    assert "cSt: drag is extrapolated" in " ".join(text.split())
    warm = replace(study, warming=replace(study.warming, viscosity=5e-4))
    assert "drag is extrapolated" not in words_of(warm)


@pytest.mark.parametrize("name", TRUCKS)
@pytest.mark.parametrize("units", ["us", "metric"])
def test_text_fits_80_columns(name: str, units: str) -> None:
    text = heat_text(TRUCKS[name].name, study_of(name), units)
    assert max(map(len, text.splitlines())) <= 80
    assert text.isascii()


def test_json_is_si_and_whole() -> None:
    study = study_of("tandem")
    found: Any = heat_json(study, "us")
    size = study.ambient.size
    for name in ("cool", "stated", "warm"):
        one = found["settled"][name]
        assert len(one["oil_temperature"]["si"]) == size
        total = np.sum([value["si"] for value in one["heat"].values()], axis=0)
        assert total == pytest.approx(one["total_heat"]["si"])
    assert found["warm_up"]["oil_temperature"]["stated"]["si"][0] == pytest.approx(
        found["warm_up"]["start"]["si"], abs=1e-6
    )
    assert found["duty"]["standby"]["share"]["si"] == 0.25
    assert heat_json(replace(study, warming=None), "us")["warm_up"] is None


# -- figure ----------------------------------------------------------------------------------------


def lines_of(axes: Axes) -> list[np.ndarray[Any, Any]]:
    return [np.asarray(line.get_ydata(), dtype=float) for line in axes.get_lines()]


@pytest.mark.parametrize(("name", "cooler"), [(n, 0.0) for n in TRUCKS] + [("tandem", 60.0)])
def test_the_figure_names_its_curves_and_needs_no_colour(name: str, cooler: float) -> None:
    study = study_of(name, cooler)
    figure = heat_figure("T", study, "us")
    upper, lower = figure.axes
    said = [text.get_text() for axes in (upper, lower) for text in axes.texts]
    assert {*NAMES.values(), "heat made", "given off"} <= set(said)
    for line in (*upper.get_lines(), *lower.get_lines()):
        colour = str(line.get_color())
        assert colour in {"black", "0.35"}
    assert "h" in lower.get_xlabel() or "min" in lower.get_xlabel()


def test_the_curves_are_the_run() -> None:
    study = study_of("tandem", 60.0)
    assert study.warming is not None
    figure = heat_figure("T", study, "metric")
    cool, warm, stated = lines_of(figure.axes[0])[:3]
    assert stated[0] == pytest.approx(study.warming.stated.start[0] - 273.15)
    assert (cool <= stated + 1e-6).all()
    assert (stated <= warm + 1e-6).all()
    made, off = lines_of(figure.axes[1])
    assert made[-1] >= off[-1] > 0.0


def test_hostile_names_and_no_warming() -> None:
    figure = heat_figure("$\\frac{ " + "x" * 300 + "\n\x1b[31m", study_of("tandem", 60.0), "us")
    title = figure.axes[0].get_title(loc="left")
    assert "\x1b" not in title
    assert max(map(len, title.splitlines())) <= 84
    with pytest.raises(DomainError, match="was not asked for"):
        heat_figure("T", study_of("tandem", 60.0, False), "us")


def test_equal_figures_are_equal_files(tmp_path: Path) -> None:
    files = []
    for n in range(2):
        path = tmp_path / f"{n}.svg"
        save_figure(heat_figure("T", study_of("tandem", 60.0), "us"), path)
        files.append(path.read_bytes())
    assert files[0] == files[1]
