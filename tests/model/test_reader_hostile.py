"""Files made to break the reader: only its own errors, and no time lost.

No test measures time; quadratic texts are a million characters long, so that one that is not
refused early stands out by minutes.
"""

from __future__ import annotations

import re
import tomllib

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.errors import TruckFileError
from hydrocheck.model import truck_from_text
from hydrocheck.model.files import LARGEST
from hydrocheck.model.tomltext import DEEPEST, parse_toml

HEAD = 'schema = 1\n[truck]\nname = "x"\n'
N = LARGEST

HOSTILE = {
    "brackets": "[" * N,
    "array": "a = " + "[" * N,
    "closed array": "a = " + "[" * (N // 2) + "]" * (N // 2),
    "array of empty arrays": "a = [" + "[]," * (N // 3) + "]",
    "inline tables": "a = " + "{a=" * (N // 3),
    "closed inline tables": "a = " + "{a=" * 30_000 + "1" + "}" * 30_000,
    "dotted key": "a." * (N // 2) + "b = 1",
    "dotted key with blanks": "a . " * (N // 4) + "b = 1",
    "dotted header": "[" + "a." * (N // 2) + "b]",
    "dotted header of an array": "[[" + "a." * (N // 2) + "b]]",
    "dotted key in an inline table": "a = {" + "a." * (N // 2) + "b = 1}",
    "dotted key after a quoted equals sign": '"=".' + "a." * (N // 2) + "b = 1",
    "dotted key of quoted equals signs": '"=".' * (N // 4) + "b = 1",
    "dotted key of quoted commas": "'[,]'." * (N // 6) + "b = 1",
    "dotted key after a text": 'a = ["#", "]]"]\n' + "a." * (N // 2) + "b = 1",
    "long headers": "".join(f"[{'a.' * (DEEPEST - 1)}a{i}]\n" for i in range(9_000)),
    "digits": "a = " + "9" * N,
    "many digits, but few enough to be read": "a = " + "9" * 4_000,
    "hexadecimal": "a = 0x" + "f" * 100_000,
    "decimals": "a = " + "9" * (N // 2) + ".5",
    "exponent": "a = 1e" + "9" * (N // 2),
    "quotes": '"' * N,
    "single quotes": "'" * N,
    "escaped quotes": 'a = """' + '\\"' * (N // 2),
    "closed escaped quotes": 'a = """' + '\\"' * (N // 2 - 10) + '"""',
    "backslashes": 'a = "' + "\\\\" * (N // 2) + '"',
    "unclosed texts that look closed": '"""\n' + '\\"""\n' * (N // 5),
    "unclosed texts, one a line": '"a\n' * (N // 3),
    "hashes": "#" * N,
    "equals signs": "=" * N,
    "points": "." * N,
    "newlines": "\n" * N + "x",
    "blanks": "a" + " " * N,
    "tabs": "a" + "\t" * N,
    "nul": "\0" * N,
    "many keys": "".join(f"k{i} = 1\n" for i in range(80_000)),
    "many long keys": "".join(f"{'k' * 1_000}{i} = 1\n" for i in range(950)),
    "one long key": "k" * N + " = 1",
    "many pumps": HEAD + "[[pump]]\n" * 100_000,
    "many functions": HEAD + '[[function]]\nname = "f"\nkind = "feeder"\n' * 20_000,
    "many lines": HEAD + "".join(f"[lines.a{i}]\n" for i in range(60_000)),
    "many tasks": f'{HEAD}[[scenario]]\nname = "s"\n'
    + "".join(f"run.a{i}.speed = '1 rpm'\n" for i in range(30_000)),
    "many rates": f"{HEAD}[spreading]\nrates = [" + '"1 lb/mile",' * 80_000 + "]",
    "a long text": f'{HEAD}about = "' + "x" * N + '"',
    "a long choice": f'{HEAD}[[pump]]\nname = "p"\ntype = "' + "fixed" * (N // 5) + '"',
    "a long quantity": f'{HEAD}[oil]\ngrade = "' + "9" * N + '"',
    "a long number": f"{HEAD}[oil]\ngrade = 0x" + "f" * 100_000,
    "a long ratio": f"{HEAD}[oil]\nviscosity_index = 0x" + "f" * 100_000,
    "a long count": f"{HEAD}[spreading]\nlanes = 0x" + "f" * 100_000,
    "a long word": f"{HEAD}[full_discharge]\nengine = 0x" + "f" * 100_000,
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
def test_a_hostile_text_is_refused(text: str) -> None:
    with pytest.raises(TruckFileError) as caught:
        truck_from_text(text)
    lines = caught.value.lines
    assert 1 <= len(lines) <= 1_000
    for line in lines:
        assert re.match(r"line [0-9]+: \S", line), line
        assert line.isprintable()
        assert len(line) < 700


@pytest.mark.parametrize(
    "text",
    [
        "a" + ".a" * DEEPEST + " = 1",
        "[" + "a." * DEEPEST + "a]",
        "a = { a" + ".a" * DEEPEST + " = 1 }",
        "a = " + "[" * DEEPEST + "]" * DEEPEST,
        # points and brackets in texts and comments count for nothing
        f'a = "{"." * 100}{"[" * 100}" # {"[." * 100}',
        f"a = '''\n{'[.' * 100}\n''' # {'[.' * 100}",
        f'a = """\\"""{"[." * 100}"""""',
        "\n".join(f"a{i} = [1.5, {{ b.c = 2.5 }}, '.']" for i in range(100)),
        f'"{"." * 100}"."{"[" * 100}" = 1',
    ],
)
def test_the_guard_lets_pass_what_is_not_deep(text: str) -> None:
    assert parse_toml(text) == tomllib.loads(text)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("\n\na" + ".a" * (DEEPEST + 1) + " = 1", 3),
        ("x = 1\na = " + "[" * (DEEPEST + 1) + "]" * (DEEPEST + 1), 2),
        ("x = '''\n\n'''\na = " + "{a=" * (DEEPEST + 1) + "1" + "}" * (DEEPEST + 1), 4),
    ],
)
def test_the_guard_names_the_line(text: str, line: int) -> None:
    with pytest.raises(TruckFileError) as caught:
        parse_toml(text)
    assert str(caught.value).startswith(f"line {line}: ")
    assert str(DEEPEST) in str(caught.value)


def test_a_syntax_error_has_its_line() -> None:
    for text, line in [("a = 1\nb = \n", 2), ('a = 1\n\nb = "x', 3), ("a = 1\na = 2", 2)]:
        with pytest.raises(TruckFileError, match=f"^line {line}: not TOML"):
            parse_toml(text)


# --- mutated demo trucks ----------------------------------------------------------------------

DEMOS = {name: demo.text(name) for name in demo.names()}
TOKEN = re.compile(r'"[^"\n]*"|[A-Za-z0-9_.]+|\n|[^\S\n]+|.')
SNIPPETS = st.sampled_from(
    [
        '"1 rpm"', '"-1 psi"', '"5 %"', '"1e400 psi"', '"nan psi"', '"\\u001b"', '""', '"?"',
        "0", "-1", "1.5", "nan", "inf", "true", "1979-05-27", "0xffffffffffffffffffff",
        "[]", "{}", '["a"]', "[[]]", "[", "]", "{", "}", ",", ".", "=", '"', "'", '"""', "#", "\n",
        "[[function]]\n", "[function.motor]\n", "[lines.x]\n", "[truck]\n", "name = ",
        '"auger"', '"pump"', "\\", "\0", "\ufeff", "\u2028",
    ]
)  # fmt: skip


def reads_or_refuses(text: str) -> None:
    """Reading either works or raises TruckFileError of plain lines."""
    lines: tuple[str, ...] = ()
    try:
        assert truck_from_text(text).name
    except TruckFileError as error:
        lines = error.lines or ("no line at all",)
    for line in lines:
        match = re.match(r"line ([0-9]+): \S", line)
        assert match, line
        assert 1 <= int(match[1]) <= text.count("\n") + 1
        assert line.isprintable()


@st.composite
def mutated(draw: st.DrawFn) -> str:
    """A demo truck with lines or tokens deleted, doubled, swapped or replaced."""
    text = DEMOS[draw(st.sampled_from(sorted(DEMOS)))]
    by_line = draw(st.booleans())
    parts = text.splitlines(keepends=True) if by_line else TOKEN.findall(text)
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(parts) - 1))
        other = draw(st.integers(0, len(parts) - 1))
        what = draw(st.sampled_from(["delete", "double", "swap", "replace", "insert", "cut"]))
        if what == "delete":
            del parts[at]
        elif what == "double":
            parts.insert(at, parts[at])
        elif what == "swap":
            parts[at], parts[other] = parts[other], parts[at]
        elif what == "replace":
            parts[at] = draw(SNIPPETS)
        elif what == "insert":
            parts.insert(at, draw(SNIPPETS))
        else:
            del parts[at : at + draw(st.integers(1, 30))]
        if not parts:
            return ""
    return "".join(parts)


@given(mutated())
def test_a_mutated_demo_truck_never_ends_in_a_traceback(text: str) -> None:
    reads_or_refuses(text)


@given(st.text(alphabet="ab1.[]{}=\"'\\#,\n ", max_size=60))
@example('a = """"""""')
@example("[[a]]\n[a.b]\n[[a]]")
def test_any_text_of_toml_signs(text: str) -> None:
    reads_or_refuses(text)


@given(
    st.sampled_from(["pump", "function", "lines", "scenario", "oil", "limits", "truck", "engine"]),
    st.recursive(
        st.sampled_from(["1", "nan", "true", '"x"', '"1 psi"', "1979-05-27", "[]", "{}"]),
        lambda inner: st.one_of(
            st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]"),
            st.dictionaries(st.sampled_from(["name", "type", "at", "motor", "run"]), inner).map(
                lambda items: "{" + ", ".join(f"{k} = {v}" for k, v in items.items()) + "}"
            ),
        ),
        max_leaves=8,
    ),
)
def test_any_value_in_place_of_any_table(key: str, value: str) -> None:
    reads_or_refuses(f"{key} = {value}\n{HEAD if key != 'truck' else 'schema = 1'}")
