"""TOML text -> plain tables, with the texts refused first that would cost the parser too much.

`tomllib` takes quadratic time for a key of very many parts and recurses for each nested bracket. A
scan over brackets and points, outside texts and comments, finds both before it runs.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

from hydrocheck.errors import TruckFileError

DEEPEST = 40

STRING = r"""
  \"{3}(?:[^"\\]|\\[\s\S]|"(?!""))*+\"{3,5}
| '{3}(?:[^']|'(?!''))*+'{3,5}
| "(?!"")(?:[^"\\\n]|\\.)*+"
| '(?!'')[^'\n]*+'
| \"\"(?!") | ''(?!')
"""
"""A text of any of TOML's four forms; an unclosed one does not match."""

_TOKEN = re.compile(
    rf"(?P<skip>\#[^\n]*+ | {STRING} | [=,\n](?:[=,\s]|\[\]|\{{\}})*+)"
    rf" | (?P<mark>[.\[\]{{}}]) | (?P<unclosed>[\"'])",
    re.VERBOSE,
)


def parse_toml(text: str, start: str = "`hydrocheck new` starts one") -> dict[str, Any]:
    """TOML -> plain tables. Raises TruckFileError for what is not TOML, or nests too deep.

    start: how to begin such a file, said where it is empty
    """
    if not text.strip():
        raise TruckFileError([f"line 1: the file is empty; {start}"])
    _refuse_costly(text)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message, _, place = str(error).partition(" (at ")
        line_text = place.removeprefix("line ").split(",")[0]
        line = int(line_text) if line_text.isdigit() else text.rstrip().count("\n") + 1
        raise TruckFileError([f"line {line}: not TOML: {message[:200]}"]) from None
    except ValueError as error:  # an integer of thousands of digits
        raise TruckFileError([f"line 1: not TOML: {str(error)[:120]}"]) from None


def _refuse_costly(text: str) -> None:
    """Raise for brackets within brackets, or keys of parts, beyond `DEEPEST`."""
    depth = points = 0
    for match in _TOKEN.finditer(text):
        kind, mark = match.lastgroup, match[0]
        if kind == "unclosed":
            return  # from here on it is no TOML: the parser stops here too
        if kind == "skip":
            if mark[0] in "=,\n":
                points = 0
            continue
        if mark == ".":
            points += 1
        else:
            points = 0
            depth += 1 if mark in "[{" else -1
        if depth > DEEPEST or points > DEEPEST:
            line = text.count("\n", 0, match.start()) + 1
            what = "a key of more parts" if points else "nested deeper"
            raise TruckFileError([f"line {line}: {what} than a truck file needs ({DEEPEST})"])
