"""Sweeps: every combination equals the point solved alone, texts of inputs, columns."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.errors import DomainError, UnitError
from hydrocheck.model import Truck
from hydrocheck.model.truck import Task
from hydrocheck.studies.point import PointOrder, solve_point
from hydrocheck.studies.sweep import Sweep, SweepBlock, SweepOrder, axis_from_text, prepare
from hydrocheck.units import parse

TRUCK = demo.load("tandem")
RPM = np.pi / 30.0


def swept(
    *inputs: str, keep: tuple[str, ...] = (), truck: Truck = TRUCK, block: int = 50_000
) -> tuple[dict[str, np.ndarray], dict[str, list[object]]]:
    """Inputs and results of a whole sweep."""
    axes = tuple(axis_from_text(truck, text) for text in inputs)
    blocks = list(prepare(truck, SweepOrder(axes, None, keep, block)).blocks())
    assert blocks[-1].done == pytest.approx(1.0)
    given = {k: np.concatenate([b.inputs[k] for b in blocks]) for k in blocks[0].inputs}
    results = {k: [v for b in blocks for v in b.results[k]] for k in blocks[0].results}
    return given, results


def test_every_combination_is_the_point_solved_alone() -> None:
    given, results = swept(
        "pump.displacement=1..5 in3/rev:3",
        "engine=800..2000 rpm:3",
        "oil=40 degF; 110 degF",
        keep=("pump pressure", "auger.flow", "auger.speed", "heat"),
    )
    assert len(results["heat"]) == 18
    for n in range(18):
        truck = TRUCK.vary("pump.displacement", float(given["pump.displacement"][n]))
        order = PointOrder(float(given["engine"][n]), float(given["oil"][n]))
        alone = solve_point(truck, truck.scenario[0], order).result
        auger = alone.column("auger")
        assert results["pump pressure"][n] == pytest.approx(alone.pump_pressure[0])
        assert results["auger.flow"][n] == pytest.approx(alone.flow[0, auger])
        assert results["auger.speed"][n] == pytest.approx(alone.speed[0, auger])
        assert results["heat"][n] == pytest.approx(alone.total_heat[0])


@pytest.mark.parametrize(
    ("text", "way", "value"),
    [
        ("auger.command=30 %; 55 %", "command", 0.55),
        ("auger.setting=0 %; 40 %", "setting", 0.40),
        ("auger.speed=10 rpm; 30 rpm", "speed", 30 * RPM),
        ("auger.flow=1 gpm; 4 gpm", "flow", parse("4 gpm", "flow")),
    ],
)
def test_what_a_function_is_told(text: str, way: str, value: float) -> None:
    _, results = swept(text, "engine=1300 rpm", keep=("auger.speed", "auger.flow"))
    told = Task(name="auger", **{way: value})  # type: ignore[arg-type]  # one way by name
    order = PointOrder(1300 * RPM, tasks={"auger": told})
    # The scenario's other functions run on; the disc is thrown what the scenario orders.
    alone = solve_point(TRUCK, TRUCK.scenario[0], order).result
    assert results["auger.speed"][1] == pytest.approx(alone.speed[0, alone.column("auger")])


def closed_truck() -> Truck:
    functions = tuple(replace(f, loop="closed") if f.name == "auger" else f for f in TRUCK.function)
    return replace(TRUCK, function=functions)


def test_loops_are_closed_as_in_the_point_study() -> None:
    """At 720 rpm the pump is short, so that the auger's controller opens its section."""
    truck = closed_truck()
    given, results = swept(
        "engine=700..1000 rpm:4", truck=truck, keep=("auger.speed", "spinner.speed", "auger.limit")
    )
    for n, speed in enumerate(given["engine"]):
        alone = solve_point(truck, truck.scenario[0], PointOrder(float(speed))).result
        for name in ("auger", "spinner"):
            expected = alone.speed[0, alone.column(name)]
            assert results[f"{name}.speed"][n] == pytest.approx(expected, rel=1e-6, abs=1e-9)
    _, still = swept("engine=700..1000 rpm:4", keep=("auger.speed",))
    assert results["auger.speed"][0] > still["auger.speed"][0]  # type: ignore[operator]  # both are numbers


def test_a_speed_that_is_told_closes_its_loop() -> None:
    truck = closed_truck()
    _, results = swept(
        "auger.speed=20 rpm; 40 rpm", "engine=720 rpm", truck=truck, keep=("auger.speed",)
    )
    for n, rpm in enumerate((20, 40)):
        told = Task(name="auger", speed=rpm * RPM)
        order = PointOrder(720 * RPM, tasks={"auger": told})
        alone = solve_point(truck, truck.scenario[0], order).result
        expected = alone.speed[0, alone.column("auger")]
        assert results["auger.speed"][n] == pytest.approx(expected, rel=1e-4)


def test_rate_and_road_speed() -> None:
    """400 lb/lane-mile at 30 mph is 200 lb/min: 38.6 rpm of 5.183 lb (0.08999 ft3 x 72 x 0.8)."""
    given, results = swept(
        "rate=200 lb/lane-mile; 400 lb/lane-mile", "road speed=15..30 mph:2", keep=("auger.speed",)
    )
    rpm = np.array(results["auger.speed"], dtype=float) / RPM
    assert rpm == pytest.approx([9.84, 19.29, 19.29, 38.58], abs=0.02)  # the first at minimum trim
    assert given["rate"].size == 4


def test_inputs_that_are_planned_one_after_the_other_run_slowest() -> None:
    given, results = swept(
        "engine=1000..1400 rpm:3", "auger.trims.max=60 %; 40 %", keep=("auger.speed",)
    )
    assert given["auger.trims.max"] == pytest.approx([0.6] * 3 + [0.4] * 3)
    assert given["engine"] / RPM == pytest.approx([1000, 1200, 1400] * 2)
    speeds = np.array(results["auger.speed"], dtype=float)
    assert (speeds[:3] > speeds[3:]).all()
    _, heavy = swept("spreading.density=60..80 lb/ft3:2", keep=("auger.speed",))
    assert heavy["auger.speed"][0] == pytest.approx(heavy["auger.speed"][1] * 80 / 60, rel=1e-6)  # type: ignore[operator]  # both are numbers


def test_blocks_do_not_change_the_answer() -> None:
    inputs = ("engine=700..2000 rpm:7", "auger.motor.load.constant=500..3000 in-lb:5")
    whole, parts = swept(*inputs), swept(*inputs, block=4)
    for key, values in whole[0].items():
        assert parts[0][key] == pytest.approx(values)
    for key, found in whole[1].items():
        assert parts[1][key] == (found if "limit" in key else pytest.approx(found)), key


def test_usual_columns_are_those_of_what_runs() -> None:
    _, results = swept("engine=700 rpm; 1300 rpm")
    assert "liquid.speed" in results
    assert "plow.flow" not in results
    assert results["supply limit"] == ["full stroke", "load signal"]
    assert results["auger.limit"][0] == "short"
    assert float(results["auger.missing"][0]) > 0.0  # type: ignore[arg-type]  # is a number
    assert results["auger.missing"][1] == 0.0


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("engine=800..1200 rpm:3", [800, 1000, 1200]),
        ("engine = 800 rpm..20 rev/s : 2", [800, 1200]),
        ("engine=1000 rpm", [1000]),
        ("engine=1000 rpm; 20 rev/s", [1000, 1200]),
    ],
)
def test_texts_of_inputs(text: str, values: list[float]) -> None:
    assert axis_from_text(TRUCK, text).values / RPM == pytest.approx(values)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("engine", "INPUT=FROM..TO"),
        ("engine=1..2 rpm", "number of values"),
        ("engine=1..2 rpm:0", "number of values"),
        ("engine=1..2 rpm:99999999999", "at most"),
        ("pump.sze=1..2 rpm:2", "no 'sze'"),
        ("auger=1..2 rpm:2", "is a part"),
        ("pump.type=1..2 rpm:2", "no single number"),
        ("engine=1..2 psi:2", "shaft speed"),
        ("engine=1..2:2", "no unit"),
    ],
)
def test_bad_texts_are_refused(text: str, words: str) -> None:
    with pytest.raises((DomainError, UnitError), match=words.replace("(", r"\(")):
        axis_from_text(TRUCK, text)


def test_bad_sweeps_are_refused() -> None:
    engine = axis_from_text(TRUCK, "engine=700..1400 rpm:10000")
    rate = axis_from_text(TRUCK, "rate=100..200 lb/lane-mile:10000")
    for order, words in (
        (SweepOrder(()), "at least one"),
        (SweepOrder((engine, engine)), "varied twice"),
        (SweepOrder((engine, rate)), "100000000 points"),
        (SweepOrder((engine,), keep=("speed",)), "--keep 'speed'"),
        (SweepOrder((rate,), scenario="dump"), "no hydraulic feeder"),
    ):
        with pytest.raises(DomainError, match=words):
            prepare(TRUCK, order)


def test_the_spec_under_a_path() -> None:
    assert TRUCK.spec("auger.motor.load.constant").kind == "torque"
    assert TRUCK.spec("lines.pressure.bore").kind == "length"
    assert TRUCK.spec("pump.derived_displacement").kind == "displacement"  # not given


def test_memory_holds_one_block() -> None:
    """Blocks come one at a time, each of the asked size."""
    axes = (axis_from_text(TRUCK, "engine=700..2000 rpm:1000"),)
    sweep: Sweep = prepare(TRUCK, SweepOrder(axes, keep=("heat",), block=300))
    sizes = [
        len(block.results["heat"]) for block in sweep.blocks() if isinstance(block, SweepBlock)
    ]
    assert sizes == [300, 300, 300, 100]
