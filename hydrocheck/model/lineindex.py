"""On which line of a TOML text each key stands, so that an error can point to it.

`tomllib` gives no positions. This scan reads only as much of the grammar as finding keys needs; the
text has already been parsed, so it is known to be well formed and not to nest deep.
"""

from __future__ import annotations

import re
import tomllib

from hydrocheck.model.tomltext import STRING

Path = tuple[str | int, ...]

_TOKEN = re.compile(
    rf"(?P<skip>[ \t\r]++ | \#[^\n]*+) | (?P<newline>\n) | (?P<mark>[.,=\[\]{{}}])"
    rf" | (?P<text>{STRING}) | (?P<word>[^\s.,=\[\]{{}}\#\"']++)",
    re.VERBOSE,
)


class LineIndex:
    """Line numbers (from 1) by path. The text is read on the first question."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._scan: _Scan | None = None

    def __call__(self, path: Path) -> int:
        """The line of a path, or of its nearest known parent; 1 where nothing is known.

        The index of an array's item may be given where a plain table stands in its place.
        """
        if self._scan is None:
            self._scan = _Scan(self._text)
        scan, line = self._scan, 1
        here: Path = ()
        for part in path:
            if isinstance(part, int) and here not in scan.arrays:
                continue
            here = (*here, part)
            line = scan.lines.get(here, line)
        return line


class _Scan:
    """One pass over the tokens. A path on the line of its parent is not noted: most are."""

    def __init__(self, text: str) -> None:
        self.lines: dict[Path, int] = {}
        self.arrays: set[Path] = set()
        self._counts: dict[Path, int] = {}
        self._tokens: list[tuple[str, int]] = []
        line = 1
        for match in _TOKEN.finditer(text):
            kind, token = match.lastgroup, match[0]
            if kind == "skip":
                continue
            self._tokens.append((token, line))
            if kind != "mark":
                line += token.count("\n")
        self._tokens.append(("\n", line))
        self._at = 0
        self._document()

    def _peek(self) -> str:
        return self._tokens[self._at][0]

    def _line(self) -> int:
        return self._tokens[self._at][1]

    def _note(self, path: Path, line: int) -> None:
        self.lines.setdefault(path, line)

    def _document(self) -> None:
        base: Path = ()
        while self._at < len(self._tokens):
            token = self._peek()
            if token == "\n":
                self._at += 1
            elif token == "[":
                base = self._header()
            else:
                self._pair(base)

    def _header(self) -> Path:
        """The path of `[a.b]` or `[[a.b]]`: inside arrays of tables, that of the last table."""
        line = self._line()
        double = self._tokens[self._at + 1][0] == "["
        self._at += 2 if double else 1
        parts = self._key()
        self._at += 2 if double else 1
        path: Path = ()
        for position, part in enumerate(parts):
            path = (*path, part)
            if double and position == len(parts) - 1:
                self.arrays.add(path)
                self._note(path, line)
                self._counts[path] = self._counts.get(path, -1) + 1
                path = (*path, self._counts[path])
            elif path in self._counts:
                path = (*path, self._counts[path])
            self._note(path, line)
        return path

    def _key(self) -> list[str]:
        """The parts of a dotted key, up to its `=` or `]`."""
        parts = []
        while (token := self._peek()) not in ("=", "]"):
            if token != ".":
                quoted = token[0] in "\"'"
                parts.append(str(tomllib.loads(f"_ = {token}")["_"]) if quoted else token)
            self._at += 1
        return parts

    def _pair(self, base: Path) -> None:
        line = self._line()
        path = base
        for part in self._key():
            path = (*path, part)
            self._note(path, line)
        self._at += 1
        self._value(path)

    def _value(self, path: Path) -> None:
        opening = self._peek()
        if opening == "[":
            self.arrays.add(path)
            self._at += 1
            self._items(path, "]")
        elif opening == "{":
            self._at += 1
            self._items(path, "}")
        else:  # a date or a number may be several words
            while self._peek() not in (",", "]", "}", "\n"):
                self._at += 1

    def _items(self, path: Path, closing: str) -> None:
        position = 0
        while (token := self._peek()) != closing:
            if token in (",", "\n"):
                self._at += 1
            elif closing == "}":
                self._pair(path)
            else:
                item = (*path, position)
                if self._line() != self.lines.get(path):
                    self._note(item, self._line())
                self._value(item)
                position += 1
        self._at += 1
