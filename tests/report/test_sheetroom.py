"""Room on paper: the work first, and a part that grows never prints more of another."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from hydrocheck.report.sheet.room import FIRST, Contents, room_for
from hydrocheck.report.sheet.view import Field, Other

BLANK = Field("b", "trims", "auger trim", "h" * 90, "auger trim", "%", "30 %", "28", "32", "{}")


def contents(blanks: int, notes: int, rows: int, findings: int, others: int = 0) -> Contents:
    return Contents(
        fields=[BLANK] * blanks,
        circuit=[("Engine", "idle 700 rpm")] * 12,
        notes=[("auger", ["x" * 700])] * notes,
        control=[("links", "y" * 100)] * 4,
        spread=[("100 lb/lane-mile", *["9.65 rpm, maximum trim"] * 6)] * rows,
        findings=[("FAIL", "name (subject)", "w" * 90, "c" * 60)] * findings,
        others=[Other("pump pressure", "1200 psi", "")] * others,
        remarks=[],
    )


COUNTS = st.integers(0, 60)


@given(COUNTS, COUNTS, COUNTS, COUNTS, COUNTS)
def test_no_more_is_printed_than_there_is_and_the_worst_findings_always(
    blanks: int, notes: int, rows: int, findings: int, others: int
) -> None:
    room = room_for(contents(blanks, notes, rows, findings, others))
    assert min(FIRST, findings) <= room.findings <= findings
    assert 0 <= room.notes <= notes
    assert 0 <= room.spread <= rows
    assert 0 <= room.others <= others


@given(COUNTS, COUNTS, COUNTS)
def test_more_blanks_never_leave_more_room_for_findings(few: int, more: int, findings: int) -> None:
    less = room_for(contents(few, 0, 0, findings))
    fuller = room_for(contents(few + more, 0, 0, findings))
    if less.pictures == fuller.pictures:
        assert fuller.findings <= less.findings


def test_a_usual_truck_is_printed_whole() -> None:
    room = room_for(contents(28, 3, 4, 17))
    assert (room.notes, room.spread, room.findings, room.pictures) == (3, 4, 17, True)
