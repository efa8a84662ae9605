"""On which line of a TOML text each key stands, so that an error can point to it.

`tomllib` gives no positions. This scan reads only as much of the grammar as finding keys needs; the
text has already been parsed, so it is known to be well formed.
"""

from __future__ import annotations

import re

Path = tuple[str | int, ...]

_KEY_PART = re.compile(r"""\s*(?:"([^"]*)"|'([^']*)'|([A-Za-z0-9_-]+))\s*(\.)?""")
_OPENERS = {"[": 1, "{": 1, "]": -1, "}": -1}


def _key_parts(text: str) -> tuple[list[str], int]:
    """The parts of a dotted key at the start of `text`, and where it ends."""
    parts: list[str] = []
    at = 0
    while match := _KEY_PART.match(text, at):
        parts.append(next(group for group in match.groups()[:3] if group is not None))
        at = match.end()
        if not match.group(4):
            break
    return parts, at


class LineIndex:
    """Line numbers (from 1) by path; a key inside an inline table has the line of its table."""

    def __init__(self, text: str) -> None:
        self._lines: dict[Path, int] = {}
        self._counts: dict[Path, int] = {}
        self._base: Path = ()
        self._scan(text)

    def __call__(self, path: Path) -> int:
        """The line of a path, or of its nearest known parent; 1 where nothing is known."""
        for length in range(len(path), 0, -1):
            if line := self._lines.get(path[:length]):
                return line
        return 1

    def _resolve(self, parts: list[str]) -> Path:
        """A header's path, with the current index wherever an array of tables is passed."""
        path: Path = ()
        for part in parts:
            path = (*path, part)
            if path in self._counts:
                path = (*path, self._counts[path])
        return path

    def _header(self, line: str, number: int) -> None:
        double = line.startswith("[[")
        parts, _ = _key_parts(line.lstrip("["))
        if not parts:
            return
        if double:
            array = (*self._resolve(parts[:-1]), parts[-1])
            self._counts[array] = self._counts.get(array, -1) + 1
            self._base = (*array, self._counts[array])
            self._lines.setdefault(array, number)
        else:
            self._base = self._resolve(parts)
        self._lines.setdefault(self._base, number)

    def _scan(self, text: str) -> None:
        depth = 0
        quote = ""
        for number, line in enumerate(text.splitlines(), 1):
            rest = line.strip()
            if not quote and depth == 0:
                if rest.startswith("["):
                    self._header(rest, number)
                    continue
                parts, end = _key_parts(rest)
                if parts and rest[end:].lstrip().startswith("="):
                    for length in range(1, len(parts) + 1):
                        self._lines.setdefault((*self._base, *parts[:length]), number)
                    rest = rest[end:].lstrip()[1:]
            depth, quote = _after(rest, depth, quote)


def _after(text: str, depth: int, quote: str) -> tuple[int, str]:
    """Bracket depth and open multi-line quote after a line of a value."""
    at = 0
    while at < len(text):
        if quote:
            end = text.find(quote, at)
            if end < 0:
                return depth, quote if len(quote) == 3 else ""
            escaped = quote[0] == '"' and (end - len(text[:end].rstrip("\\"))) % 2 == 1
            at = end + (1 if escaped else len(quote))
            if not escaped:
                quote = ""
        elif text.startswith(('"""', "'''"), at):
            quote, at = text[at : at + 3], at + 3
        elif text[at] in "\"'":
            quote, at = text[at], at + 1
        elif text[at] == "#":
            break
        else:
            depth += _OPENERS.get(text[at], 0)
            at += 1
    return depth, quote if len(quote) == 3 else ""
