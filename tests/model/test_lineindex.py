"""The line index against texts written together with the line of each of their keys."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.model.lineindex import LineIndex, Path

NESTED = """\
# a comment = 1
schema = 1
[[function]] # [[not a header]]
name = "a # b"
[function.section]
"rated flow" = "x"
[function.section.coil]
drive = { kind = "duty", a.b = 2 }

[[function.motor]]
name = '''
[[function]]
name = "inside a text"
'''
[function.motor.load]
at = "1"
[[function.motor]]
curve = [
  # comment ]
  ["1", "2"], ["3", "4"],
  [ "5",
    "6" ],
]
[[function]]
name = \"\"\"\\
   \\\"\"\" ] = \"\"\"
motor.load.at = 3
"quoted.key"."with \\" sign" = 4
'literal "key"' = 1979-05-27 07:32:00
last = [{ a = 1 }, { a = 2, b = [
  3,
] }]
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("schema",), 2),
        (("function",), 3),
        (("function", 0), 3),
        (("function", 0, "name"), 4),
        (("function", 0, "section"), 5),
        (("function", 0, "section", "rated flow"), 6),
        (("function", 0, "section", "coil", "drive", "a", "b"), 8),
        (("function", 0, "motor"), 10),
        (("function", 0, "motor", 0, "name"), 11),
        (("function", 0, "motor", 0, "load", "at"), 16),
        (("function", 0, "motor", 1), 17),
        (("function", 0, "motor", 1, "curve"), 18),
        (("function", 0, "motor", 1, "curve", 0), 20),
        (("function", 0, "motor", 1, "curve", 1, 1), 20),
        (("function", 0, "motor", 1, "curve", 2), 21),
        (("function", 0, "motor", 1, "curve", 2, 1), 22),
        (("function", 1), 24),
        (("function", 1, "name"), 25),
        (("function", 1, "motor", "load", "at"), 27),
        # an index where a plain table stands in the array's place
        (("function", 1, "motor", 0, "load", "at"), 27),
        (("function", 1, "quoted.key", 'with " sign'), 28),
        (("function", 1, 'literal "key"'), 29),
        (("function", 1, "last", 1, "b", 0), 31),
        # what is not there has the line of the nearest parent
        (("function", 0, "section", "coil", "nothing"), 7),
        (("function", 9), 3),
        (("nothing",), 1),
        ((), 1),
    ],
)
def test_lines_of_a_nested_text(path: Path, line: int) -> None:
    tomllib.loads(NESTED)
    assert LineIndex(NESTED)(path) == line


def test_every_value_of_the_demo_trucks_stands_on_its_line() -> None:
    for name in demo.names():
        text = demo.text(name)
        lines, index = text.split("\n"), LineIndex(text)
        for path, value in leaves(tomllib.loads(text), ()):
            line = lines[index(path) - 1]
            key = next(part for part in reversed(path) if isinstance(part, str))
            on_own_line = isinstance(path[-1], int)  # items may stand below their key
            assert on_own_line or key in line, (path, line)
            if isinstance(value, str):
                assert value in line, (path, line)


def leaves(value: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    """Each value that is no table or array, with its path."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, list):
        for position, inner in enumerate(value):
            yield from leaves(inner, (*path, position))
    else:
        yield path, value


# --- generated texts --------------------------------------------------------------------------


@dataclass
class Written:
    """A text, and where its keys stand."""

    lines: list[str] = field(default_factory=list)
    where: dict[Path, int] = field(default_factory=dict)

    def note(self, path: Path) -> None:
        """The path stands on the line that comes next."""
        self.where.setdefault(path, len(self.lines) + 1)

    def add(self, text: str) -> None:
        self.lines += text.split("\n")


KEYS = st.sampled_from(["a", "b-1", "c_d", "12", "x y", 'q"q', "p.p", "[h]", "k = #", "l'l", ""])
TEXTS = st.text(alphabet="ab=[]{}#.,'\"\\\n ", max_size=12)


def quoted(text: str) -> str:
    """A basic string on one line."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def key_text(key: str) -> str:
    bare = key and key.isascii() and key.replace("-", "").replace("_", "").isalnum()
    if bare:
        return key
    literal = "'" not in key and '"' in key
    return f"'{key}'" if literal else quoted(key)


@st.composite
def values(draw: st.DrawFn, depth: int = 2) -> str:
    """The text of a value; texts and arrays may take several lines."""
    form = draw(st.sampled_from(["number", "text", "long", "literal", "date", "array", "table"]))
    if form == "number":
        return draw(st.sampled_from(["1", "-2.5", "1e9", "0xff", "true", "nan"]))
    if form == "date":
        return draw(st.sampled_from(["1979-05-27", "1979-05-27 07:32:00.5", "07:32:00"]))
    if form == "text" or depth == 0:
        return quoted(draw(TEXTS))
    if form == "long":
        body = draw(TEXTS).replace("\\", "\\\\").replace('"""', '""\\"')
        return f'"""\n{body[:-1] if body.endswith(chr(34)) else body}"""'
    if form == "literal":
        body = draw(TEXTS).replace("'", "")
        return f"'''{body}'''"
    inner = draw(st.lists(values(depth=depth - 1), max_size=3))
    if form == "array":
        gap = draw(st.sampled_from(["", " ", "\n", " # ]\n"]))
        return f"[{gap}" + f",{gap}".join(inner) + (f"{gap}]" if "#" not in gap else "\n]")
    return "{ " + ", ".join(f"k{i} = {value}" for i, value in enumerate(inner)) + " }"


@st.composite
def documents(draw: st.DrawFn) -> Written:
    """Tables, arrays of tables in arrays of tables, dotted and quoted keys, comments."""
    out = Written()
    for n in range(draw(st.integers(0, 4))):
        pair(draw, out, (), f"top{n}")
    for n in range(draw(st.integers(1, 3))):
        outer = f"{draw(KEYS)}-{n}"  # its own, so that no table is defined twice
        items = draw(st.integers(0, 3))
        if items == 0:
            out.note((outer,))
            out.add(f"[{key_text(outer)}]")
            body(draw, out, (outer,))
        for i in range(items):
            out.note((outer,))
            out.note((outer, i))
            out.add(f"[[{key_text(outer)}]]{draw(st.sampled_from(['', ' # [[']))}")
            body(draw, out, (outer, i))
            inner = draw(KEYS) + "-in"
            for j in range(draw(st.integers(0, 2))):
                out.note((outer, i, inner))
                out.note((outer, i, inner, j))
                out.add(f"[[ {key_text(outer)} . {key_text(inner)} ]]")
                body(draw, out, (outer, i, inner, j))
                out.note((outer, i, inner, j, "sub"))
                out.add(f"[{key_text(outer)}.{key_text(inner)}.sub]")
                body(draw, out, (outer, i, inner, j, "sub"))
    return out


def body(draw: st.DrawFn, out: Written, path: Path) -> None:
    for n in range(draw(st.integers(0, 3))):
        pair(draw, out, path, f"k{n}")


def pair(draw: st.DrawFn, out: Written, path: Path, unique: str) -> None:
    """A key that no other pair of its table begins with, and a value."""
    out.add(draw(st.sampled_from(["", "# [a] b = 'c", "  ", "\t# '''"])))
    parts = [unique + draw(KEYS), *draw(st.lists(KEYS, max_size=2))]
    for length in range(1, len(parts) + 1):
        out.note((*path, *parts[:length]))
    point = draw(st.sampled_from([".", " . "]))
    equals = draw(st.sampled_from(["=", " = ", "  ="]))
    out.add(f"{point.join(map(key_text, parts))}{equals}{draw(values())}")


@given(documents())
def test_each_key_of_a_generated_text_stands_where_it_was_written(document: Written) -> None:
    text = "\n".join(document.lines)
    raw = tomllib.loads(text)
    index = LineIndex(text)
    for path, line in document.where.items():
        assert index(path) == line, (path, text)
        assert index((*path, "no such key")) == line
    for path, _ in leaves(raw, ()):
        known = max((p for p in document.where if path[: len(p)] == p), key=len)
        assert document.where[known] <= index(path) <= len(document.lines)


@given(documents())
def test_carriage_returns_change_nothing(document: Written) -> None:
    text = "\n".join(document.lines)
    index = LineIndex(text.replace("\n", "\r\n"))
    assert all(index(path) == line for path, line in document.where.items())
