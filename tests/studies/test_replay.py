"""Replay: rows by hand, sums against a plain loop, blocks, worst stretch, cures by brute force."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.demo.route import route_lines
from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model import Truck, logfile
from hydrocheck.model.logfile import open_log
from hydrocheck.studies.cures import cures
from hydrocheck.studies.history import MOST, History
from hydrocheck.studies.point import PointOrder, solve_point
from hydrocheck.studies.replay import Replay, ReplayOrder, RowBlock, replay_log
from hydrocheck.studies.spreadplan import plan_rows
from hydrocheck.studies.stretches import Stretches
from hydrocheck.units import parse

TRUCK = demo.load("tandem")
RPM, MPH = np.pi / 30.0, 0.44704
LB, MILE = 0.45359237, 1609.344
HEAD = "time [s],engine speed [rpm],road speed [mph],rate [lb/lane-mile],spreading\n"


def write(folder: Path, text: str) -> Path:
    path = folder / "log.csv"
    path.write_text(text)
    return path


def replayed(
    path: Path, truck: Truck = TRUCK, order: ReplayOrder | None = None
) -> tuple[Replay, list[RowBlock]]:
    blocks: list[RowBlock] = []
    return replay_log(truck, open_log(path), order, blocks.append), blocks


@pytest.fixture(scope="module")
def route(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A route of our own making."""
    lines = route_lines(TRUCK)
    return write(tmp_path_factory.mktemp("route"), "\n".join(lines) + "\n")


def test_a_row_is_a_point_solved(tmp_path: Path) -> None:
    """The scenario's own order at 1300 rpm, against the one-point study."""
    path = write(tmp_path, HEAD + "0,1300,30,400,on\n2,1300,30,400,on\n")
    found, (first, *_) = replayed(path)
    solved = solve_point(TRUCK, TRUCK.scenario_named("spreading"), PointOrder(1300 * RPM))
    auger = solved.result.column("auger")
    assert first.shaft_speed[0] == pytest.approx(solved.result.speed[0, auger], rel=1e-6)
    assert first.asked[0] == pytest.approx(solved.result.asked.sum(), rel=1e-6)
    assert first.heat[0] == pytest.approx(solved.result.total_heat[0], rel=1e-6)
    # 400 x 30 / 3600 lb/s for 2 s, and 9 gal/ton of it
    assert found.totals.ordered / LB == pytest.approx(400 * 30 / 3600 * 2)
    assert found.totals.distance / MILE == pytest.approx(30 / 3600 * 2)
    assert found.laid_share == pytest.approx(1.0)
    gallons = found.totals.liquid / 3.785411784e-3
    assert gallons == pytest.approx(9 * 400 * 30 / 3600 * 2 / 2000)


def test_off_and_at_rest_nothing_is_put_down(tmp_path: Path) -> None:
    path = write(tmp_path, HEAD + "0,1300,30,400,off\n5,1300,0,400,on\n10,1300,0,0,on\n")
    found, (rows, *_) = replayed(path)
    assert found.totals.delivered == 0.0
    assert found.totals.ordered == 0.0
    assert (rows.asked == 0).all()
    assert (rows.heat > 0).all()  # standby
    assert np.isnan(rows.laid[1])


def test_start_stop_keeps_the_discharge_of_the_scenario(tmp_path: Path) -> None:
    truck = replace(TRUCK, speed_following=replace(TRUCK.speed_following, mode="start-stop"))
    path = write(tmp_path, HEAD + "0,1300,15,400,on\n1,1300,0,400,on\n2,1300,15,400,on\n")
    _, (rows, *_) = replayed(path, truck)
    assert rows.delivered[0] / LB == pytest.approx(400 * 30 / 3600, rel=1e-6)
    assert rows.ordered[0] / LB == pytest.approx(400 * 15 / 3600)
    assert rows.ordered[1] == rows.delivered[1] == 0.0
    assert rows.laid[0] == pytest.approx(2 * 400 * LB / MILE, rel=1e-6)


def test_without_speed_following_a_fast_truck_is_short(tmp_path: Path) -> None:
    """Discharge of the scenario's 30 mph at 40 mph: three quarters of the rate."""
    truck = replace(TRUCK, speed_following=replace(TRUCK.speed_following, mode="off"))
    found, _ = replayed(write(tmp_path, HEAD + "0,1300,40,400,on\n1,1300,40,400,on\n"), truck)
    assert found.laid_share == pytest.approx(0.75, rel=1e-6)
    assert set(found.limits) == {"no speed following"}
    assert cures(truck, found) == []  # more flow cures nothing


def test_nothing_comes_out_while_the_drive_is_out(tmp_path: Path) -> None:
    """The single-axle demo truck's power take-off is out above 1800 rpm."""
    truck = demo.load("single")
    rows = "".join(f"{t},{n},25,300,on\n" for t, n in enumerate((1750, 1750, 1850, 1850)))
    found, (block, *_) = replayed(write(tmp_path, HEAD + rows), truck)
    assert (block.delivered[:2] > 0).all()
    assert block.delivered[2] == pytest.approx(0.0, abs=1e-9)
    assert block.available[2] == pytest.approx(0.0, abs=1e-9)
    assert set(found.limits) == {"drive out"}
    assert cures(truck, found) == []


@pytest.mark.parametrize("engine", [700, 800, 900, 1000])
def test_a_closed_loop_opens_where_it_is_slow(tmp_path: Path, engine: int) -> None:
    """A row against the one-point study, which closes loops too."""
    functions = tuple(
        replace(f, loop="closed") if f.name in ("auger", "spinner") else f for f in TRUCK.function
    )
    truck = replace(TRUCK, function=functions)
    path = write(tmp_path, HEAD + f"0,{engine},30,400,on\n1,{engine},30,400,on\n")
    _, (rows, *_) = replayed(path, truck)
    order = PointOrder(engine * RPM)
    closed, still = (solve_point(t, t.scenario[0], order).result for t in (truck, TRUCK))
    auger = closed.column("auger")
    assert rows.shaft_speed[0] == pytest.approx(closed.speed[0, auger], rel=1e-6, abs=1e-9)
    assert rows.heat[0] == pytest.approx(closed.total_heat[0], rel=1e-6)
    if engine < 800:  # short of flow, so that the loops matter
        assert closed.speed[0] != pytest.approx(still.speed[0], rel=1e-3)


def test_sums_are_those_of_the_rows(route: Path) -> None:
    """A plain loop over the rows, and the same sums from blocks of another size."""
    found, blocks = replayed(route)
    sums = found.totals
    rows = [
        (b.lasts[n], b.road_speed[n], b.ordered[n], b.delivered[n], bool(b.short[n]), b.heat[n])
        for b in blocks
        for n in range(b.time.size)
    ]
    assert sums.time == pytest.approx(sum(r[0] for r in rows))
    assert sums.distance == pytest.approx(sum(r[0] * r[1] for r in rows))
    assert sums.ordered == pytest.approx(sum(r[0] * r[2] for r in rows))
    assert sums.delivered == pytest.approx(sum(r[0] * r[3] for r in rows))
    assert sums.heat == pytest.approx(sum(r[0] * r[5] for r in rows))
    assert sums.short_time == pytest.approx(sum(r[0] for r in rows if r[4]))
    assert sums.ordered + sums.beyond == pytest.approx(sums.delivered + sums.missing)
    assert found.engine_short.sum() == pytest.approx(sums.short_time)
    assert found.engine_spreading.sum() == pytest.approx(sums.spreading)
    assert sum(found.limits.values()) == pytest.approx(sums.short_time)
    assert sums.short_rows == sum(r[4] for r in rows) > 0


def test_blocks_do_not_change_the_answer(route: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole, _ = replayed(route)
    monkeypatch.setattr(logfile, "CHUNK", 3000)
    parts, blocks = replayed(route)
    assert len(blocks) > 5
    for key, value in whole.totals.__dict__.items():
        assert getattr(parts.totals, key) == pytest.approx(value), key
    assert whole.worst is not None
    assert parts.worst is not None
    assert parts.worst.__dict__ == pytest.approx(whole.worst.__dict__)
    assert parts.stretches == whole.stretches
    assert parts.history.mean("delivered") == pytest.approx(whole.history.mean("delivered"))


def test_the_shortfall_lies_where_the_engine_idles(route: Path) -> None:
    """The route rolls downhill at idle twice: two stretches below 750 rpm, short of pump flow."""
    found, _ = replayed(route)
    assert found.stretches == 2
    assert found.worst is not None
    assert found.worst.lasts == pytest.approx(39.5, abs=1.0)
    below = found.engine_short[:15].sum()  # classes of 50 rpm up to 750
    assert below > 0.95 * found.engine_short.sum()
    assert set(found.limits) == {"pump"}
    assert found.functions[int(np.argmax(found.starved))] == "auger"


@pytest.mark.parametrize("what", ["pump displacement", "drive ratio", "least engine speed"])
def test_a_cure_is_the_least_that_cures(route: Path, what: str) -> None:
    """The whole log again with the value needed, and with one per cent less of the change."""
    found, _ = replayed(route)
    (cure,) = [c for c in cures(TRUCK, found) if c.what == what]
    assert cure.needed is not None
    assert cure.needed > cure.now

    def short_rows(value: float) -> int:
        truck, path = TRUCK, route
        if what == "pump displacement":
            truck = TRUCK.vary("pump.displacement", value)
        elif what == "drive ratio":
            truck = TRUCK.vary("engine.drive.ratio", value)
        else:
            assert found.short is not None
            rows = replace(found.short, engine_speed=np.maximum(found.short.engine_speed, value))
            plan = plan_rows(TRUCK, found.scenario, rows)
            given = plan.delivered(plan.solve(TRUCK).speed)
            return int((given < plan.ordered * (1.0 - found.tolerance)).sum())
        return replayed(path, truck)[0].totals.short_rows

    assert short_rows(cure.needed) == 0
    assert short_rows(cure.now + 0.99 * (cure.needed - cure.now)) > 0


def test_what_no_pump_cures_is_said(tmp_path: Path) -> None:
    """An order beyond the maximum trim."""
    path = write(tmp_path, HEAD + "0,1300,30,2000,on\n1,1300,30,2000,on\n")
    found, _ = replayed(path)
    assert set(found.limits) == {"trim or section"}
    for cure in cures(TRUCK, found):
        assert cure.needed is None
        assert cure.leaves == 1.0


def test_nothing_short_needs_no_cure(tmp_path: Path) -> None:
    found, _ = replayed(write(tmp_path, HEAD + "0,1300,30,400,on\n1,1300,30,400,on\n"))
    assert cures(TRUCK, found) == []
    assert found.worst is None


def test_gaps_are_not_counted_over(tmp_path: Path) -> None:
    rows = "".join(f"{t},1300,30,400,on\n" for t in (0, 1, 2, 3, 500, 501, 502))
    found, _ = replayed(write(tmp_path, HEAD + rows))
    assert found.totals.gaps == 1
    assert found.totals.gap_time == pytest.approx(497.0)
    assert found.totals.time == pytest.approx(5.0)


def test_rate_and_oil_of_the_order(tmp_path: Path) -> None:
    text = "time [s],engine speed [rpm],road speed [mph]\n0,1300,30\n1,1300,30\n"
    path = write(tmp_path, text)
    rate = parse("250 lb/lane-mile", "application_rate")
    found, (rows, *_) = replayed(path, order=ReplayOrder(rate=rate, oil_temperature=300.0))
    assert rows.rate[0] == rate
    assert rows.oil_temperature[0] == 300.0
    assert found.totals.ordered == pytest.approx(rate * 30 * MPH)


def test_without_a_rate_it_is_asked_for(tmp_path: Path) -> None:
    text = "time [s],engine speed [rpm],road speed [mph]\n0,1300,30\n1,1300,30\n"
    spreading = TRUCK.scenario_named("spreading")
    told = tuple(
        replace(t, rate=None, road_speed=None, speed=3.0) if t.name == "auger" else t
        for t in spreading.run
    )
    truck = replace(TRUCK, scenario=(replace(spreading, run=told),))
    with pytest.raises(MissingValue, match="--rate"):
        replayed(write(tmp_path, text), truck)


def test_a_log_of_bad_rows_only_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DomainError, match="line 2: engine is blank"):
        replayed(write(tmp_path, HEAD + "0,,30,400,on\n"))


@pytest.mark.parametrize("size", [1, 3, 50])
def test_stretches_by_a_plain_loop(size: int) -> None:
    rng = np.random.default_rng(3)
    time = np.cumsum(rng.uniform(0.5, 1.5, 50))
    lasts = np.append(np.diff(time), 0.0)
    short, ordered = rng.random(50) < 0.4, rng.uniform(1.0, 2.0, 50)
    runs = Stretches()
    for start in range(0, 50, size):
        part = slice(start, start + size)
        columns = (time, lasts, lasts, short, ordered, 0.5 * ordered)
        runs.add(*(column[part] for column in columns))
    worst, count = runs.finish()
    groups: list[list[int]] = []
    for n in np.flatnonzero(short):
        if groups and time[n] - (time[groups[-1][-1]] + lasts[groups[-1][-1]]) <= 2.0:
            groups[-1].append(int(n))
        else:
            groups.append([int(n)])
    sums = [float((0.5 * ordered * lasts)[group].sum()) for group in groups]
    assert count == len(groups)
    assert worst is not None
    assert worst.missing == pytest.approx(max(sums))


def test_history_keeps_its_size_and_its_sums() -> None:
    history, rng = History(), np.random.default_rng(5)
    time = np.cumsum(rng.uniform(0.1, 3.0, 20_000))
    value, lasts = rng.uniform(0.0, 1.0, time.size), np.ones(time.size)
    for start in range(0, time.size, 777):
        part = slice(start, start + 777)
        history.add(time[part], lasts[part], {"value": value[part]})
    assert history.weight.size == MOST
    assert history.weight.sum() == pytest.approx(time.size)
    assert history.sums["value"].sum() == pytest.approx(value.sum())
    assert (np.diff(history.time) > 0).all()
    assert (history.mean("value") <= 1.0).all()


SHARED = Path(__file__).parents[2] / ".." / "shared" / "reference" / "truck_log.csv"


@pytest.mark.skipif(not SHARED.exists(), reason="the road log is not there")
@pytest.mark.parametrize("name", demo.names())
def test_a_real_road_log_runs_through_every_demo_truck(name: str) -> None:
    """530 s at 5 Hz (open data, Apache-2.0, 2020); engine 650 rpm at its first rows."""
    found, blocks = replayed(SHARED, demo.load(name))
    assert found.tally.rows == found.tally.used == 2650
    assert found.totals.time == pytest.approx(529.8)
    assert blocks[0].engine_speed[0] / RPM == pytest.approx(650.5)
    assert found.totals.delivered > 0
