"""What a sheet prints on four pages: the work whole, then of all else as much as there is room for.

On a screen everything is shown. Heights are estimated from the lengths of the texts, in pixels of
the printed page (96 a inch), for letter paper, which is shorter than A4; factors measured on the
sheets of the demo trucks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from hydrocheck.report.sheet.view import Field, Other

PAGES = 4 * 971.0
LOST = 300.0
"""Left empty at the feet of the pages, where something does not break."""
FIXED = 960.0
"""Head, cautions, steps to tick, sign-off lines, headings."""
PICTURES = 400.0
LINE, FINE = 12.5, 0.125
"""Height of a line, and of a character of a list in two columns."""
FIRST = 8
"""Findings that are printed before anything else takes room."""
NAME_WIDTH = 66
"""Characters of a line in the first column of a blank."""


@dataclass(frozen=True)
class Contents:
    """The texts of a sheet whose number the truck file decides."""

    fields: Sequence[Field]
    circuit: Sequence[Sequence[str]]
    notes: Sequence[tuple[str, list[str]]]
    control: Sequence[tuple[str, str]]
    spread: Sequence[Sequence[str]]
    findings: Sequence[Sequence[str]]
    others: Sequence[Other]
    remarks: Sequence[str]


@dataclass(frozen=True)
class Room:
    """How many are printed: functions' notes, rows of the spread table, findings, readings that fit
    no blank; and whether the pictures are."""

    notes: int
    spread: int
    findings: int
    others: int
    pictures: bool


def room_for(contents: Contents) -> Room:
    """What fits. The blanks of the work, the circuit and the control are always printed whole."""
    left = PAGES - LOST - FIXED - _essential(contents)
    told = [FINE * sum(map(len, parts)) + LINE for parts in contents.findings]
    must = sum(told[:FIRST])
    others, used = _fit([FINE * len(f"{o.what}{o.value}{o.remark}") for o in contents.others], 250)
    left -= must + used
    pictures = left >= PICTURES
    left -= PICTURES if pictures else 0.0
    spread, used = _fit([_row(row) for row in contents.spread], max(0.6 * left, 6 * LINE))
    left -= used
    notes, used = _fit([FINE * _length(part) + 2 * LINE for part in contents.notes], left)
    more, _ = _fit(told[FIRST:], left - used)
    return Room(notes, spread, min(FIRST, len(told)) + more, others, pictures)


def _essential(contents: Contents) -> float:
    blanks = sum(7 + LINE * ceil(len(f.label + f.how) / NAME_WIDTH) for f in contents.fields)
    rows = sum(map(_row, contents.circuit))
    control = sum(LINE * ceil(len(text) / 110) + 3 for _, text in contents.control)
    return blanks + rows + control + 0.11 * sum(map(len, contents.remarks))


def _row(cells: Sequence[str]) -> float:
    """Height of a table's row: its longest cell in an even share of the width."""
    width = max(125 / max(len(cells), 1), 6)
    return 3 + LINE * max((ceil(len(cell) / width) for cell in cells), default=1)


def _length(part: tuple[str, list[str]]) -> int:
    return sum(map(len, part[1]))


def _fit(heights: Sequence[float], left: float) -> tuple[int, float]:
    """How many of the first fit, and the height that they take."""
    used, count = 0.0, 0
    for height in heights:
        if used + height > left:
            break
        used, count = used + height, count + 1
    return count, used
