"""Text tables: aligned, within 80 columns, and without a cut number."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck.report.text import heading, pairs, paragraph, printable, table, to_ascii


def test_table_wraps_the_last_text_column() -> None:
    note = "the pump runs out of flow at low idle with every function on, so the auger slows"
    text = table(["part", "value", "reason"], [["auger", "7.0", note]], align="lrl", width=40)
    assert text.splitlines() == [
        "part   value  reason",
        "-----  -----  --------------------------",
        "auger    7.0  the pump runs out of flow",
        "              at low idle with every",
        "              function on, so the auger",
        "              slows",
    ]


def test_text_columns_are_squeezed_alike() -> None:
    row = ["key", "one two three four five six", "seven eight nine ten eleven twelve"]
    text = table(["key", "meaning", "source"], [row], align="lll", width=45)
    assert text.splitlines() == [
        "key  meaning              source",
        "---  -------------------  -------------------",
        "key  one two three four   seven eight nine",
        "     five six             ten eleven twelve",
    ]


def test_a_long_word_begins_a_line_and_breaks_after_a_point() -> None:
    text = table(["why"], [["needs auger.motor.starting_efficiency, x"]], align="l", width=25)
    assert text.splitlines()[2:] == ["needs", "auger.motor.starting_", "efficiency, x"]
    assert table(["why"], [["a" * 30]], width=20).splitlines()[2:] == ["a" * 20, "a" * 10]


def test_a_head_wraps_before_text_and_stands_on_the_rule() -> None:
    text = table(["a b", "flow gal/min"], [["name of it", "7.0"]], width=20)
    assert text.splitlines() == [
        "               flow",
        "a b         gal/min",
        "----------  -------",
        "name of it      7.0",
    ]


def test_too_many_number_columns_go_on_below_with_the_first_repeated() -> None:
    rows = [["900", *[f"{i}.5" for i in range(30)]]]
    text = table(["rpm", *[f"flow{i}" for i in range(30)]], rows, align="r" * 31)
    blocks = text.split("\n\n")
    assert len(blocks) > 1
    assert all(block.splitlines()[0].split()[0] == "rpm" for block in blocks)
    assert all(f" {i}.5" in text for i in range(30))


def test_table_refuses_what_does_not_fit_its_head() -> None:
    with pytest.raises(ValueError, match="cells"):
        table(["a", "b"], [["1"]])
    with pytest.raises(ValueError, match="align"):
        table(["a"], [["1"]], align="x")


def test_empty_tables() -> None:
    assert table(["a", "b"], []) == "a  b\n-  -"
    assert table([], []) == ""


words = st.text(alphabet="abc de-/.\n\u00e9", max_size=60)
numbers = st.floats(-1e6, 1e6).map(lambda x: f"{x:.2f}")


@given(st.lists(st.tuples(words, numbers, words, numbers, words), max_size=6))
def test_no_line_is_wider_than_the_page_and_no_number_is_cut(rows: list[tuple[str, ...]]) -> None:
    text = table(["part", "flow gal/min", "at", "limit", "reason"], rows, align="lrlrl")
    assert all(len(line) <= 80 for line in text.splitlines())
    shown = re.findall(r"-?\d+\.\d\d", text)
    assert sorted(shown) == sorted(row[i] for row in rows for i in (1, 3))


@given(st.lists(st.tuples(words, words), max_size=5))
def test_pairs_and_paragraphs_fit(items: list[tuple[str, str]]) -> None:
    assert all(len(line) <= 80 for line in pairs(items, indent=2).splitlines())
    for _, text in items:
        wrapped = paragraph(text, indent=4, hang=2)
        assert all(len(line) <= 80 for line in wrapped.splitlines())
        assert wrapped.split() == text.split() or any(len(word) > 70 for word in text.split())


def test_pairs_align() -> None:
    assert pairs([("a", "1"), ("long", "2")]) == "a     1\nlong  2"
    assert pairs([]) == ""


def test_heading_is_underlined() -> None:
    assert heading("Flow") == "Flow\n----"


def test_control_characters_do_not_reach_the_terminal() -> None:
    assert printable("a\x1b[31mb\n") == "a [31mb "
    assert "\x1b" not in table(["x"], [["\x1b[31m"]])


@given(st.text())
def test_to_ascii_is_ascii_and_leaves_ascii_alone(text: str) -> None:
    assert to_ascii(text).isascii()
    if text.isascii():
        assert to_ascii(text) == text
