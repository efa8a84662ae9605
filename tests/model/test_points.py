"""Measured points as text: what is read, and that everything wrong is named with its line."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import bar, foot, gallon, lbf, liter, minute, psi

from hydrocheck.errors import FileError, TruckFileError
from hydrocheck.model.files import LARGEST
from hydrocheck.model.points import MOST_POINTS, points_from_text, read_points

RPM = 2 * np.pi / minute

GOOD = """# a gear pump
Speed [rpm], Pressure [psi], flow [gpm], torque [lb-ft], viscosity [cSt], temperature [degF], note

1200, 500, 21.6, 60, 40, 104, "first, warm"
  # a remark
1800, 2500, "1,029.6", , , ,
,,,,,,
"""


def faults(text: str) -> list[str]:
    with pytest.raises(TruckFileError) as caught:
        points_from_text(text)
    return list(caught.value.lines)


def test_points_come_in_si() -> None:
    # Factors by scipy.constants.
    table = points_from_text(GOOD)
    assert table.lines == (4, 6)
    assert table.speed == pytest.approx([1200 * RPM, 1800 * RPM])
    assert table.pressure == pytest.approx([500 * psi, 2500 * psi])
    assert table.flow == pytest.approx([21.6 * gallon / minute, 1029.6 * gallon / minute])
    assert table.torque[0] == pytest.approx(60 * lbf * foot)
    assert table.viscosity[0] == pytest.approx(40e-6)
    assert table.temperature[0] == pytest.approx(313.15)
    assert np.isnan([table.torque[1], table.viscosity[1], table.temperature[1]]).all()


@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_line_numbers_hold_for_every_newline(newline: str) -> None:
    assert points_from_text(GOOD.replace("\n", newline)).lines == (4, 6)


def test_columns_may_be_missing_and_in_any_order() -> None:
    table = points_from_text("flow [L/min],pressure [bar],speed [rev/s]\n60,100,20\n")
    assert table.flow == pytest.approx([60 * liter / minute])
    assert table.pressure == pytest.approx([100 * bar])
    assert table.speed == pytest.approx([1200 * RPM])
    assert np.isnan(table.torque).all()


def test_every_bad_row_is_listed_at_once() -> None:
    text = (
        "speed [rpm], pressure [psi], flow [gpm], viscosity [cSt]\n"
        "1200, 500, 21.6, 40\n"
        "x12, -5, 3 gpm, 0\n"
        "\n"
        "1,2,3\n"
        "1200, , 21.6, 40\n"
        "1200, 500, 21,6, 40\n"
        "1200, 500, nan, inf\n"
    )
    found = faults(text)
    places = [": ".join(line.split(": ")[:2]) for line in found]
    assert places[:4] == [
        "line 3: speed", "line 3: pressure", "line 3: flow", "line 3: viscosity",
    ]  # fmt: skip
    assert found[1].endswith("must not be negative")
    assert found[2].endswith("a plain number in gpm fits")
    assert found[3].endswith("must be above zero")
    assert found[4].startswith("line 5: 3 cells, but the header has 4")
    assert found[5] == "line 6: pressure: blank; every row needs it"
    assert found[6].startswith("line 7: 5 cells")
    assert places[7:] == ["line 8: flow", "line 8: viscosity"]


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("speed [rpm], pressure [psi]", ["no column flow"]),
        ("speed, pressure [psi], flow [gpm]", ["no unit; write speed [unit]"]),
        ("speed [], pressure [psi], flow [gpm]", ["no unit; write speed [unit]"]),
        ("speed [rpm], pressure [kg], flow [gpm]", ["'kg' is a unit of mass"]),
        ("speed [rpm], pressure [psi, flow [gpm]", ["write a column as name [unit]"]),
        ("speed [rpm], pressure [psi], flow [gpm], torque [J]", ["an energy is no torque"]),
        ("speed [rpm], pressure [psi], flow [gpm], load [N]", ["no such column; there are speed"]),
        ("speed [rpm], speed [rpm], pressure [psi], flow [gpm]", ["stands there twice"]),
        ("speed [rpm], pressure [psi], flow [gpm], note [x]", ["write a column as note"]),
        ("speed [rpm], pressure [psi], flow [gpm],", ["a column without a name"]),
        ("speed [rpm];pressure [psi];flow [gpm]", ["parted by commas"]),
        ("speed [Hz], pressure [bara], flow [gpm]", ["a factor of 2 pi", "gauge nor absolute"]),
    ],
)
def test_bad_headers(header: str, words: list[str]) -> None:
    found = faults(header + "\n1,2,3\n")
    assert all(line.startswith("line 1: ") for line in found)
    for word in words:
        assert any(word in line for line in found), found


def test_broken_quotes_are_a_fault_of_their_line() -> None:
    found = faults('speed [rpm], pressure [psi], flow [gpm]\n1,2,3\n1,"2,3\n')
    assert len(found) == 1
    assert found[0].startswith("line 3: not CSV")


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing\n", ",,,\n"])
def test_no_header(text: str) -> None:
    assert faults(text)[0].startswith("line 1: no header")


def test_a_header_alone_and_too_many_points() -> None:
    head = "speed [rpm],pressure [psi],flow [gpm]\n"
    assert faults(head) == ["line 1: no points below the header"]
    assert "at most 20000" in faults(head + "1,2,3\n" * (MOST_POINTS + 1))[0]


def test_messages_hold_no_control_characters() -> None:
    found = faults("speed [\x1b[31m], pressure [psi], flow [gpm], a\x1bb\n1,2,3,4\n")
    assert found
    assert all(line.isprintable() for line in found)


def test_files(tmp_path: Path) -> None:
    file = tmp_path / "points.csv"
    file.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())  # a spreadsheet's byte order mark
    assert len(read_points(file)) == 2
    with pytest.raises(FileError, match="is a folder"):
        read_points(tmp_path)
    with pytest.raises(FileError, match="cannot be read"):
        read_points(tmp_path / "none.csv")
    file.write_bytes(b"a\nb\xff\n")
    with pytest.raises(FileError, match="line 2: not UTF-8"):
        read_points(file)
    file.write_bytes(b"#" * (LARGEST + 1))
    with pytest.raises(FileError, match="at most 1 MB"):
        read_points(file)


number = st.floats(0.001, 5000.0).map(lambda value: f"{value:.6g}")


@given(st.lists(st.tuples(number, number, number), min_size=1, max_size=20))
def test_no_row_is_dropped(rows: list[tuple[str, str, str]]) -> None:
    body = "\n".join(",".join(row) for row in rows)
    table = points_from_text(f"speed [rad/s],pressure [Pa],flow [m3/s]\n{body}\n")
    assert len(table) == len(rows)
    assert table.lines == tuple(range(2, len(rows) + 2))
    for i, values in enumerate(rows):
        got = (table.speed[i], table.pressure[i], table.flow[i])
        assert got == pytest.approx([float(value) for value in values], rel=1e-12)


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(body: str) -> None:
    lines: tuple[str, ...] = ()
    table = None
    try:
        table = points_from_text(f"speed [rpm],pressure [psi],flow [gpm]\n{body}")
    except TruckFileError as error:
        lines = error.lines
    assert bool(lines) != (table is not None)
    assert all(line.isprintable() for line in lines)
    assert table is None or np.isfinite(table.flow).all()
