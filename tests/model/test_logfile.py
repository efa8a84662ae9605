"""Logs: columns by header or option, bad rows by line, both readers the same rows."""

from __future__ import annotations

import calendar
import csv
import io
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrocheck.errors import DomainError, FileError, TruckFileError
from hydrocheck.model import logfile
from hydrocheck.model.logfile import BadRow, open_log
from hydrocheck.model.logheader import find_columns, parts_of, split_header
from hydrocheck.units import parse

READERS = [
    "numpy",
    pytest.param(
        "pyarrow",
        marks=pytest.mark.skipif(not logfile.has_pyarrow(), reason="the extra is not installed"),
    ),
]
HEAD = "time [s],engine speed [rpm],road speed [mph]\n"


def read(
    path: Path, text: str, reader: str = "numpy", **told: str
) -> tuple[list[int], dict[str, list[float]], list[BadRow]]:
    """Lines, values and bad rows of a whole log."""
    file = path / "log.csv"
    file.write_bytes(text.encode())
    lines: list[int] = []
    bad: list[BadRow] = []
    values: dict[str, list[float]] = {}
    for block in open_log(file, told, reader).blocks():
        lines += block.lines.tolist()
        bad += block.bad
        for role, column in block.values.items():
            values.setdefault(role, []).extend(column.tolist())
    return lines, values, bad


@pytest.mark.parametrize("reader", READERS)
def test_values_are_si(tmp_path: Path, reader: str) -> None:
    lines, values, bad = read(
        tmp_path,
        "time [min],engine speed [rpm],road speed [km/h],rate [kg/km],spreading,"
        'oil temperature [degC],note\n0.5,1200,36,30,on,40,a\n1,0,0,0,0,-10,"b, c"\n',
        reader,
    )
    assert lines == [2, 3]
    assert bad == []
    assert values["time"] == pytest.approx([30.0, 60.0])
    assert values["engine"] == pytest.approx([1200 * math.pi / 30, 0.0])
    assert values["road"] == pytest.approx([10.0, 0.0])
    assert values["rate"] == pytest.approx([0.03, 0.0])
    assert values["on"] == [1.0, 0.0]
    assert values["oil"] == pytest.approx([313.15, 263.15])


@pytest.mark.parametrize(
    ("header", "units"),
    [
        ("time_s,engine_rpm,road_speed_kmh", ("s", "rpm", "km/h")),
        ("Time (s),Engine_Speed (rpm),Vehicle Speed (mph)", ("s", "rpm", "mph")),
        ("t [s], engine [rpm], ground_speed [m/s], rate", ("s", "rpm", "m/s")),
    ],
)
def test_headers_that_are_understood(header: str, units: tuple[str, ...]) -> None:
    _, names = split_header(header)
    found = find_columns(names, {})
    assert [c.role for c in found] == ["time", "engine", "road"]
    assert [c.unit.names[0] for c in found if c.unit] == list(units)


def test_parts_of_a_header() -> None:
    assert parts_of("Road_Speed [km/h]") == ("road speed", "km/h")
    assert parts_of("engine.speed") == ("engine speed", "")


@pytest.mark.parametrize(
    ("header", "told", "words"),
    [
        ("time [s],road speed [mph],x", {}, "engine: no such column"),
        ("time [s],engine speed,road speed [mph]", {}, "has no unit"),
        ("time [s],engine [mph],road [mph]", {}, "engine: column 'engine [mph]'"),
        (HEAD.strip() + ",speed [mph]", {}, "road: several columns fit"),
        (HEAD.strip(), {"engine": "rpm [rpm]"}, "engine: no column 'rpm'"),
        ("time [s],EngSpd,road speed [mph]", {"engine": "EngSpd"}, "engine: no unit"),
        ("time [s],EngSpd,road speed [mph]", {"engine": "EngSpd [mph]"}, "'mph'"),
    ],
)
def test_headers_that_are_not(header: str, told: dict[str, str], words: str) -> None:
    with pytest.raises(TruckFileError) as caught:
        find_columns(split_header(header)[1], told)
    assert any(words in line for line in caught.value.lines), caught.value.lines


def test_columns_by_option() -> None:
    names = ("stamp", "EngSpd", "Wheel.Speed [km/h]", "Spreader")
    told = {"time": "stamp [s]", "engine": "engspd [rpm]", "road": "Wheel.Speed [km/h]"}
    found = find_columns(names, told | {"on": "Spreader"})
    assert {c.role: c.place for c in found} == {"time": 0, "engine": 1, "road": 2, "on": 3}
    with pytest.raises(DomainError, match="the roles are time, engine"):
        find_columns(names, {"wheels": "stamp"})


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("header", ["timestamp", "time [iso]", "Date_Time"])
def test_a_clock(tmp_path: Path, reader: str, header: str) -> None:
    """2026-01-05 03:30 UTC is 1767583800 s after 1970 (calendar.timegm of Python's library)."""
    start = calendar.timegm((2026, 1, 5, 3, 30, 0))
    rows = "2026-01-05T03:30:00,700,0\n2026-01-05 03:30:01.500,700,0\n"
    rows += "2026-01-05T03:30:03Z,700,0\n2026-01-05T04:30:04+01:00,700,0\n"
    rows += "2026-01-05,700,0\nnoon,700,0\n,700,0\n"
    text = f"{header},engine speed [rpm],road speed [mph]\n{rows}"
    lines, values, bad = read(tmp_path, text, reader)
    assert values["time"] == pytest.approx([start, start + 1.5, start + 3, start + 4])
    assert lines == [2, 3, 4, 5]
    assert [b.why for b in bad] == [
        "time: '2026-01-05' is no time",
        "time: 'noon' is no time",
        "time is blank",
    ]


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_other_delimiters_and_line_ends(tmp_path: Path, delimiter: str) -> None:
    text = (HEAD + "0,700,0\n1,800,5\n").replace(",", delimiter).replace("\n", "\r\n")
    lines, values, bad = read(tmp_path, "\ufeff# a truck\r\n\r\n" + text)
    assert lines == [4, 5]
    assert values["time"] == [0.0, 1.0]
    assert bad == []


BAD = {
    "x,700,0": "time: 'x' is no number",
    "1,,0": "engine is blank",
    "1,700": "2 cells, but the header has 3",
    "1,700,0,0": "4 cells, but the header has 3",
    "1,nan,0": "engine: 'nan' is no number",
    "1,inf,0": "engine: 'inf' is no number",
    "1_0,700,0": "time: '1_0' is no number",
    '1,"7,00",0': "engine: '7,00' is no number",
    "1,7\u0660,0": "engine: '7\u0660' is no number",
}


@pytest.mark.parametrize("reader", READERS)
def test_bad_rows_are_told_by_line(tmp_path: Path, reader: str) -> None:
    good = [f"{k},700,{k % 30}" for k in range(200)]
    rows = list(good)
    for place, row in enumerate(BAD):
        rows.insert(7 + 19 * place, row)
    lines, values, bad = read(tmp_path, HEAD + "\n".join(rows), reader)
    assert len(lines) == 200
    assert values["time"] == [float(k) for k in range(200)]
    assert [b.why for b in bad] == list(BAD.values())
    assert [b.line for b in bad] == [9 + 19 * place for place in range(len(BAD))]
    assert sorted([*lines, *(b.line for b in bad)]) == list(range(2, 2 + len(rows)))


@pytest.mark.skipif(not logfile.has_pyarrow(), reason="the extra is not installed")
@settings(max_examples=60)
@given(
    st.lists(
        st.lists(
            st.one_of(
                st.floats(-1e6, 1e6).map(str),
                st.integers(-99999, 99999).map(str),
                st.sampled_from(
                    ["", " 5", "+5", "1e3", "1E3", ".5", "5.", "x", "on", '"7"', "0x1f"]
                ),
                st.text("0123456789+-.eE_ ", max_size=5),
            ),
            min_size=2,
            max_size=4,
        ),
        max_size=60,
    )
)
def test_both_readers_give_the_same(
    tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]]
) -> None:
    text = HEAD + "".join(",".join(row) + "\n" for row in rows)
    folder = tmp_path_factory.mktemp("log")
    first, second = (read(folder, text, reader) for reader in ("numpy", "pyarrow"))
    assert first == second


@pytest.mark.parametrize("reader", READERS)
def test_blocks_do_not_change_the_rows(
    tmp_path: Path, reader: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = HEAD + "".join(f"{k},{700 + k},{k % 7}\n" for k in range(500)) + "bad,1,2\n501,9,9"
    whole = read(tmp_path, text, reader)
    monkeypatch.setattr(logfile, "CHUNK", 97)
    assert read(tmp_path, text, reader) == whole
    assert whole[2] == [BadRow(502, "time: 'bad' is no number")]
    assert whole[0][-1] == 503


@pytest.mark.parametrize("text", ["", "# only a remark\n", "one column\n1\n"])
def test_no_header(tmp_path: Path, text: str) -> None:
    with pytest.raises(TruckFileError):
        read(tmp_path, text)


def test_unreadable_files(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="is a folder"):
        open_log(tmp_path)
    with pytest.raises(FileError, match="cannot be read"):
        open_log(tmp_path / "none.csv")
    (tmp_path / "l.csv").write_bytes(b"time [s],\xff\xff\n")
    with pytest.raises(FileError, match="not UTF-8"):
        open_log(tmp_path / "l.csv")


def test_parquet_without_the_extra(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logfile, "has_pyarrow", lambda: False)
    (tmp_path / "l.parquet").write_bytes(b"PAR1")
    with pytest.raises(FileError, match=r"hydrocheck\[logs\]"):
        open_log(tmp_path / "l.parquet")


@pytest.mark.skipif(not logfile.has_pyarrow(), reason="the extra is not installed")
def test_parquet_as_csv(tmp_path: Path) -> None:
    import pyarrow as pa
    from pyarrow import parquet

    table = pa.table(
        {
            "time_s": [0.0, 1.0, None, 3.0],
            "engine_rpm": [700, 800, 900, 1000],
            "road_speed_mph": [0.0, 5.0, 6.0, 7.0],
            "spreading": [True, False, True, True],
        }
    )
    parquet.write_table(table, tmp_path / "l.parquet")
    (block,) = open_log(tmp_path / "l.parquet").blocks()
    assert block.lines.tolist() == [1, 2, 4]
    assert block.bad == (BadRow(3, "time is blank"),)
    assert block.values["on"].tolist() == [1.0, 0.0, 1.0]
    assert block.values["road"][1] == pytest.approx(parse("5 mph", "road_speed"))
    (tmp_path / "bad.parquet").write_bytes(b"nothing")
    with pytest.raises(FileError, match="as Parquet"):
        open_log(tmp_path / "bad.parquet")


def test_the_general_csv_reader_agrees(tmp_path: Path) -> None:
    """Python's csv module on rows with quotes."""
    text = HEAD + '0,"700",1\n"1",800,"2.5"\n'
    _, values, _ = read(tmp_path, text)
    rows = list(csv.reader(io.StringIO(text)))[1:]
    assert values["time"] == [float(row[0]) for row in rows]
    assert np.array(values["engine"]) * 30 / math.pi == pytest.approx([float(r[1]) for r in rows])
