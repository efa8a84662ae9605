"""Which rows of a log are believed: impossible values, time, spikes and drop-outs of the speed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.model.logfile import LogBlock
from hydrocheck.studies.logrows import Tally, checked_blocks

TRUCK = demo.load("tandem")
Rows = list[tuple[float, float, float]]


def blocks_of(rows: Rows, size: int) -> list[LogBlock]:
    """Rows of time [s], engine speed [rad/s], road speed [m/s] in blocks; lines from 2 on."""
    blocks = []
    for start in range(0, len(rows), size):
        part = np.array(rows[start : start + size], dtype=float).reshape(-1, 3)
        lines = np.arange(start + 2, start + 2 + len(part), dtype=np.int64)
        values = {"time": part[:, 0], "engine": part[:, 1], "road": part[:, 2]}
        blocks.append(LogBlock(lines, values))
    return blocks


def checked(rows: Rows, size: int = 1000) -> tuple[list[int], list[float], list[float], Tally]:
    """Lines, road speeds and durations of what is believed, and the tally."""
    tally = Tally()
    lines: list[int] = []
    road: list[float] = []
    lasts: list[float] = []
    for block, duration in checked_blocks(blocks_of(rows, size), TRUCK, tally):
        lines += block.lines.tolist()
        road += block.values["road"].tolist()
        lasts += duration.tolist()
    return lines, road, lasts, tally


def steady(count: int, speed: float = 10.0, step: float = 0.5) -> Rows:
    return [(k * step, 130.0, speed) for k in range(count)]


def test_a_clean_log_is_believed() -> None:
    lines, road, lasts, tally = checked(steady(10))
    assert lines == list(range(2, 12))
    assert road == [10.0] * 10
    assert lasts == [0.5] * 9 + [0.0]
    assert (tally.rows, tally.used, tally.left_out, tally.held) == (10, 10, 0, 0)


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ((2.6, -1.0, 10.0), "engine speed is impossible"),
        ((2.6, 900.0, 10.0), "engine speed is impossible"),
        ((2.6, 130.0, -2.0), "road speed is impossible"),
        ((2.6, 130.0, 80.0), "road speed is impossible"),
        ((1.1, 130.0, 10.0), "time does not rise"),
        ((2.5, 130.0, 10.0), "time does not rise"),
        ((9e9, 130.0, 10.0), "time runs ahead"),
    ],
)
@pytest.mark.parametrize("size", [1000, 2, 3, 7])
def test_a_bad_row_is_left_out_by_its_line(
    row: tuple[float, float, float], why: str, size: int
) -> None:
    rows = steady(12)
    rows.insert(6, row)
    lines, road, _, tally = checked(rows, size)
    assert lines == [k for k in range(2, 15) if k != 8]
    assert dict(tally.reasons) == {why: 1}
    assert [(b.line, b.why) for b in tally.first] == [(8, why)]
    assert road == [10.0] * 12


@pytest.mark.parametrize("size", [1000, 4])
@pytest.mark.parametrize("value", [0.0, 40.0])
def test_a_short_drop_out_or_spike_is_held(value: float, size: int) -> None:
    rows = steady(20)
    for k in (7, 8, 9):
        rows[k] = (rows[k][0], 130.0, value)
    lines, road, lasts, tally = checked(rows, size)
    assert road == [10.0] * 20
    assert tally.held == 3
    assert tally.held_lines == [9, 10, 11]
    assert len(lines) == 20
    assert sum(lasts) == pytest.approx(9.5)


@pytest.mark.parametrize("size", [1000, 5])
def test_a_long_drop_out_is_left_out_until_the_signal_returns(size: int) -> None:
    rows = steady(60)
    for k in range(10, 40):
        rows[k] = (rows[k][0], 130.0, 0.0)
    lines, road, _, tally = checked(rows, size)
    # 3 s after the last believed row (line 11, 4.5 s) the hold ends: rows up to 7.5 s.
    assert tally.held == 6
    assert dict(tally.reasons) == {"speed signal lost": 24}
    assert road == [10.0] * 36
    assert lines == [k for k in range(2, 62) if not 18 <= k < 42]


def test_a_hard_but_real_stop_is_believed() -> None:
    """0.7 g at ten readings a second."""
    rows = [(0.1 * k, 130.0, max(0.0, 12.0 - 6.9 * 0.1 * max(0, k - 10))) for k in range(60)]
    _, road, _, tally = checked(rows)
    assert tally.held == 0
    assert tally.left_out == 0
    assert road[-1] == 0.0


def test_only_some_bad_rows_are_listed_but_all_are_counted() -> None:
    rows: Rows = []
    for k in range(100):
        rows += [(float(k), 130.0, 5.0), (float(k), 130.0, 5.0)]
    _, _, _, tally = checked(rows)
    assert tally.reasons["time does not rise"] == 100
    assert len(tally.first) == 20
    assert tally.rows == tally.used + tally.left_out


rows_strategy = st.lists(
    st.tuples(
        st.floats(-2.0, 3.0),
        st.sampled_from([130.0, -5.0, 1e9]),
        st.sampled_from([0.0, 5, 9, 30, 99]),
    ),
    max_size=60,
)


@settings(max_examples=60)
@given(rows_strategy, st.integers(1, 9))
def test_blocks_do_not_change_what_is_believed(steps: Rows, size: int) -> None:
    times = np.cumsum([step for step, _, _ in steps])
    rows = [(float(t), e, v) for t, (_, e, v) in zip(times, steps, strict=True)]
    whole, parts = checked(rows), checked(rows, size)
    assert whole[3].rows == len(rows) == whole[3].used + whole[3].left_out
    assert (np.diff([rows[line - 2][0] for line in whole[0]]) > 0).all()
    assert parts[3].rows == parts[3].used + parts[3].left_out
    if not any(reason == "time runs ahead" for reason in (*whole[3].reasons, *parts[3].reasons)):
        assert parts[0] == whole[0]
        assert parts[1] == pytest.approx(whole[1])
        assert parts[2] == pytest.approx(whole[2])
