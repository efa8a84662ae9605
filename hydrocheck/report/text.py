"""Plain text for people: tables, lists and paragraphs, at most 80 columns wide.

Whatever is added to the given text (rules, gaps) is ASCII. Pure functions from values
to text; they know nothing of units or of a terminal.
"""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Sequence

WIDTH = 80
GAP = "  "
MIN_TEXT = 12  # a text column is not squeezed below this before the table is split

# Signs that have a plain form; accents are dropped, anything else becomes "?".
PLAIN = str.maketrans(
    {
        "\u00b0": "deg",
        "\u00b2": "^2",
        "\u00b3": "^3",
        "\u00b7": "*",
        "\u00d7": "x",
        "\u00b1": "+/-",
        "\u00b5": "u",
        "\u03bc": "u",
        "\u2013": "-",
        "\u2014": "-",
        "\u2018": "'",
        "\u2019": "'",
        "\u201c": '"',
        "\u201d": '"',
        "\u2026": "...",
        "\u2212": "-",
        "\u2264": "<=",
        "\u2265": ">=",
    }
)


def to_ascii(text: str) -> str:
    """`text` in ASCII, for a terminal that shows no more.

    >>> to_ascii("3 \u00b1 1 in\u00b3, J\u00f6rdis")
    '3 +/- 1 in^3, Jordis'
    """
    if text.isascii():
        return text
    parts = unicodedata.normalize("NFKD", text.translate(PLAIN))
    kept = "".join(c for c in parts if not unicodedata.combining(c))
    return kept.encode("ascii", "replace").decode("ascii")


def printable(text: str) -> str:
    """`text` on one line and without characters that could steer a terminal."""
    return "".join(c if c.isprintable() else " " for c in text)


def heading(title: str) -> str:
    """A title over a line of the same length; a long one wraps."""
    lines = _wrap(" ".join(title.split()), WIDTH)
    return "\n".join([*lines, "-" * max(len(line) for line in lines)])


def paragraph(text: str, *, indent: int = 0, hang: int = 0, width: int = WIDTH) -> str:
    """`text` wrapped to `width`, every line indented, all but the first by `hang` more."""
    return textwrap.fill(
        " ".join(printable(text).split()),
        width,
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + hang),
        break_on_hyphens=False,
    )


def pairs(items: Sequence[tuple[str, str]], *, indent: int = 0, width: int = WIDTH) -> str:
    """Labels and values in two columns; long values wrap under themselves."""
    if not items:
        return ""
    labels = [printable(label) for label, _ in items]
    hang = min(max(len(label) for label in labels), width // 2) + len(GAP)
    lines = []
    for label, (_, value) in zip(labels, items, strict=True):
        first, *rest = _wrap(value, width - indent - hang)
        beside = len(label) + len(GAP) <= hang
        if not beside:
            lines.append(paragraph(label, indent=indent, width=width))
        lines.append((" " * indent + (label if beside else "").ljust(hang) + first).rstrip())
        lines += [" " * (indent + hang) + line for line in rest]
    return "\n".join(lines)


def table(
    headers: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    align: str | None = None,
    width: int = WIDTH,
) -> str:
    """A table with a rule under its head, no line longer than `width`.

    `align` has one letter a column, "l" or "r" (default: "l", then "r"). Right-aligned cells
    hold numbers and never break. When the columns are too wide together, the left-aligned ones
    wrap, the widest of them first; when that is not enough, the columns that are left over follow
    in a second table with the first column repeated.

    >>> print(table(["part", "flow gal/min"], [["auger", "7.0"], ["spinner", "12.5"]]))
    part     flow gal/min
    -------  ------------
    auger             7.0
    spinner          12.5
    """
    align = align or ("l" + "r" * len(headers))[: len(headers)]
    if len(align) != len(headers) or set(align) - {"l", "r"}:
        raise ValueError(f"align {align!r} does not fit {len(headers)} columns")
    if any(len(row) != len(headers) for row in rows):
        raise ValueError(f"every row needs {len(headers)} cells")
    if not headers:
        return ""
    columns = list(zip(headers, *rows, strict=True))
    least = [_least(cells, side) for cells, side in zip(columns, align, strict=True)]
    blocks = []
    for chosen in _blocks(least, width):
        widths = _widths(
            [columns[i] for i in chosen],
            [least[i] for i in chosen],
            [align[i] for i in chosen],
            width,
        )
        blocks.append(_block([columns[i] for i in chosen], widths, [align[i] for i in chosen]))
    return "\n\n".join(blocks)


def _least(cells: Sequence[str], side: str) -> int:
    """The smallest width of a column: numbers whole, text down to `MIN_TEXT`, head by words."""
    word = max((len(word) for word in cells[0].split()), default=1)
    body = max((_length(cell) for cell in cells[1:]), default=1)
    return max(1, word, body if side == "r" else min(body, MIN_TEXT))


def _blocks(least: Sequence[int], width: int) -> list[list[int]]:
    """Column numbers of each table that fits, the first column in every one."""
    blocks, current = [], [0]
    for index in range(1, len(least)):
        needed = sum(least[i] + len(GAP) for i in current) + least[index]
        if needed > width and len(current) > 1:
            blocks.append(current)
            current = [0]
        current.append(index)
    return [*blocks, current]


def _widths(
    columns: Sequence[Sequence[str]], least: Sequence[int], align: Sequence[str], width: int
) -> list[int]:
    """Widths that fit: natural ones; else the widest text columns squeezed, the first last."""
    natural = [max(_length(cell) for cell in cells) for cells in columns]
    # A number column's head wraps before any text does.
    widths = [
        low if side == "r" and sum(natural) + len(GAP) * (len(natural) - 1) > width else wide
        for wide, low, side in zip(natural, least, align, strict=True)
    ]
    excess = sum(widths) + len(GAP) * (len(widths) - 1) - width
    while excess > 0:
        spare = [
            (index > 0, wide, index) for index, wide in enumerate(widths) if wide > least[index]
        ]
        if not spare:
            break
        widths[max(spare)[2]] -= 1  # the first column, which names the rows, last of all
        excess -= 1
    return [max(1, value) for value in widths]


def _block(columns: Sequence[Sequence[str]], widths: Sequence[int], align: Sequence[str]) -> str:
    """The lines of one table: the head stands on its rule, the cells below hang from the top."""
    head, *body = zip(*columns, strict=True)
    lines = [_line(parts, widths, align) for parts in _cells(head, widths, bottom=True)]
    lines.append(GAP.join("-" * wide for wide in widths))
    for row in body:
        lines += [_line(parts, widths, align) for parts in _cells(row, widths)]
    return "\n".join(lines)


def _cells(row: Sequence[str], widths: Sequence[int], bottom: bool = False) -> list[list[str]]:
    """The wrapped cells of a row, line by line."""
    wrapped = [_wrap(cell, wide) for cell, wide in zip(row, widths, strict=True)]
    height = max(len(part) for part in wrapped)
    padded = [
        [""] * (height - len(part)) + part if bottom else part + [""] * (height - len(part))
        for part in wrapped
    ]
    return [list(parts) for parts in zip(*padded, strict=True)]


def _line(parts: Sequence[str], widths: Sequence[int], align: Sequence[str]) -> str:
    padded = [
        part.rjust(wide) if side == "r" else part.ljust(wide)
        for part, wide, side in zip(parts, widths, align, strict=True)
    ]
    return GAP.join(padded).rstrip()


def _length(cell: str) -> int:
    return max((len(line) for line in cell.splitlines()), default=0)


def _wrap(text: str, width: int) -> list[str]:
    """`text` in lines of at most `width`; its own line breaks stay, an empty text is one line."""
    lines: list[str] = []
    for part in text.splitlines() or [""]:
        plain = printable(part)
        if max(map(len, plain.split()), default=0) > width:
            lines += _filled(plain, max(1, width))
        else:
            lines += textwrap.wrap(plain, max(1, width), break_on_hyphens=False) or [""]
    return lines


def _filled(text: str, width: int) -> list[str]:
    """Lines of a text with a word longer than a line: it begins one, and breaks after a point."""
    lines = [""]
    for word in text.split():
        first, *rest = pieces = _broken(word, width)
        if lines[-1] and (rest or len(lines[-1]) + 1 + len(word) > width):
            lines += pieces
        else:
            lines[-1] = f"{lines[-1]} {first}".lstrip()
            lines += rest
    return lines


def _broken(word: str, width: int) -> list[str]:
    """A word in pieces of at most `width`: after a point or the like where there is one."""
    pieces = []
    while len(word) > width:
        at = max(word.rfind(sign, 0, width) for sign in "._/,") + 1 or width
        pieces.append(word[:at])
        word = word[at:]
    return [*pieces, word]
