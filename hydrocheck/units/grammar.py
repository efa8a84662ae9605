"""Text to number, unit text and tolerance. Nothing is computed but the one number.

The grammar: a number (decimal, exponent, thousands commas or an inch fraction), then a unit, then
optionally a tolerance. All else is an error that says what is wrong.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from math import isfinite
from typing import Final

from hydrocheck.errors import UnitError

LONGEST: Final = 60

_NUMBER = re.compile(
    r"""(?P<sign>[+-]?)(?:
      (?P<whole>[0-9]+)(?:\ +|-)(?P<top>[0-9]+)/(?P<bottom>[0-9]+)
    | (?P<over>[0-9]+)/(?P<under>[0-9]+)
    | (?P<first>[0-9]+(?:\.[0-9]+)?)\ ?:\ ?(?P<second>[0-9]+(?:\.[0-9]+)?)
    | (?P<grouped>[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?)
    | (?P<decimal>(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)
    )""",
    re.VERBOSE,
)
_GROUPED = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_TOLERANCE = re.compile(r"\+/-|\+-|\u00b1")
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf(?:inity)?)(?![a-z])", re.IGNORECASE)
_RANGE = re.compile(r"\s*(?:-|to\b|\.\.)\s*[0-9]")
_RULER: Final = (2, 4, 8, 16, 32, 64, 128)

_DASHES: Final = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2212\ufe63\uff0d"), "-")
_MARKS: Final = {
    ord("\u2033"): '"', ord("\u201c"): '"', ord("\u201d"): '"',
    ord("\u2032"): "'", ord("\u2018"): "'", ord("\u2019"): "'",
    ord("\u00ba"): "\u00b0", ord("\u02da"): "\u00b0",
}  # fmt: skip


@dataclass(frozen=True)
class Number:
    """One number as it was written; `form` is decimal, fraction or ratio."""

    value: float
    form: str


@dataclass(frozen=True)
class Part:
    """A number and the text after it, which may be a unit."""

    number: Number
    rest: str


@dataclass(frozen=True)
class Text:
    """A text taken apart: the value, and the tolerance where there is one."""

    shown: str
    value: Part
    tolerance: Part | None


def quote(text: str) -> str:
    """The text in quotation marks, control characters spelled out, cut where it is long."""
    short = text if len(text) <= LONGEST else text[: LONGEST - 3] + "..."
    return repr(short)


def _check_digit(shown: str, before: str, char: str) -> None:
    """Refuse a digit that NFKC would glue to its neighbours: 10 to a raised 2 is not 102."""
    if unicodedata.digit(char, None) is None:
        return
    form = unicodedata.decomposition(char).partition(" ")[0]
    raised_power = form == "<super>" and before.isalpha()
    if not raised_power and form != "<wide>":
        raise UnitError(f"{shown}: the digit {char!r} is not read; write plain digits 0-9")


def normalise(text: str) -> str:
    """NFKC with the traps taken out: fractions get a space before them, dashes become minus."""
    shown = quote(text)
    stripped = text.strip(" \t\r\n")
    if len(stripped) > LONGEST:
        raise UnitError(f"{shown}: longer than {LONGEST} characters; give one number and one unit")
    before = ""
    pieces: list[str] = []
    for char in stripped:
        if char.isascii():
            if not char.isprintable():
                raise UnitError(f"{shown}: holds a control character")
            pieces.append(char)
        else:
            category = unicodedata.category(char)
            if category[0] == "C" or category in ("Zl", "Zp"):
                raise UnitError(f"{shown}: holds a control character")
            _check_digit(shown, before, char)
            vulgar = unicodedata.decomposition(char).startswith("<fraction>")
            if vulgar and "\u2044" in (plain := unicodedata.normalize("NFKC", char)):
                pieces.append(" " * before.isdigit() + plain)
            else:
                pieces.append(char.translate(_MARKS))
        before = char
    folded = unicodedata.normalize("NFKC", "".join(pieces)).translate(_DASHES)
    folded = folded.replace("\u2044", "/").strip()
    if len(folded) > 2 * LONGEST:
        raise UnitError(f"{shown}: too long; give one number and one unit")
    return folded


def _check_commas(shown: str, text: str) -> None:
    """Refuse each comma that does not group thousands."""
    if "," not in text:
        return
    run = re.match(r"[+-]?([0-9.,]*)", text)
    digits = run[1] if run else ""
    if not _GROUPED.fullmatch(digits):
        if re.fullmatch(r"[0-9]*,[0-9]*", digits):
            raise UnitError(f"{shown}: use a point for decimals; a comma only groups thousands")
        raise UnitError(
            f"{shown}: a comma only groups thousands, as in 1,000; decimals take a point"
        )
    if "," in text[len(run[0]) if run else 0 :]:
        raise UnitError(f"{shown}: a comma has no place after the number")


def _value(shown: str, match: re.Match[str]) -> Number:
    """The number that was matched, finite."""
    sign = -1.0 if match["sign"] == "-" else 1.0
    if match["whole"] or match["over"]:
        whole, top = float(match["whole"] or 0), float(match["top"] or match["over"])
        bottom = int(match["bottom"] or match["under"])
        if bottom not in _RULER or (match["whole"] and top >= bottom):
            raise UnitError(f"{shown}: an inch fraction looks like 3/8, 1-1/4 or 1 1/4")
        number = Number(sign * (whole + top / bottom), "fraction")
    elif match["first"]:
        second = float(match["second"])
        if second == 0.0:
            raise UnitError(f"{shown}: a ratio to zero has no value")
        number = Number(sign * float(match["first"]) / second, "ratio")
    else:
        plain = (match["grouped"] or match["decimal"]).replace(",", "")
        number = Number(sign * float(plain), "decimal")
        if number.value == 0.0 and re.search(r"[1-9]", plain.lower().partition("e")[0]):
            raise UnitError(f"{shown}: the number is too small to be read")
    if not isfinite(number.value):
        raise UnitError(f"{shown}: the number is too large to be read")
    return number


def read_part(shown: str, text: str) -> Part:
    """One number at the start of a text, and what follows it."""
    if _NOT_FINITE.match(text):
        raise UnitError(f"{shown}: nan and inf are no values; give a finite number")
    _check_commas(shown, text)
    match = _NUMBER.match(text)
    if match is None:
        raise UnitError(f"{shown}: starts with no number; write a number, then a unit")
    rest = text[match.end() :]
    if rest.startswith("_"):
        raise UnitError(f"{shown}: an underscore inside the number; write 1000 or 1,000")
    if re.match(r"[0-9.:]", rest):
        raise UnitError(f"{shown}: the number is not readable; write 12, 12.5 or 1,200")
    return Part(_value(shown, match), rest.strip())


def read(text: str) -> Text:
    """Take a text apart into value and tolerance."""
    if not isinstance(text, str):
        raise UnitError(f"{text!r}: a number needs its unit; write it as a text with a unit")
    shown = quote(text)
    plain = normalise(text)
    if not plain:
        raise UnitError(f"{shown}: empty; write a number, then a unit")
    value, *tolerances = _TOLERANCE.split(plain)
    if len(tolerances) > 1:
        raise UnitError(f"{shown}: more than one tolerance")
    if not tolerances:
        return Text(shown, read_part(shown, plain), None)
    if not value.strip():
        raise UnitError(f"{shown}: starts with no number before the tolerance")
    tolerance = read_part(shown, tolerances[0].strip())
    if re.match(r"\s*[+-]", tolerances[0]):
        raise UnitError(f"{shown}: a tolerance is written without a sign of its own")
    return Text(shown, read_part(shown, value.strip()), tolerance)


def not_one_value(rest: str) -> str:
    """Why a text after a number is no unit by its shape alone, or an empty text."""
    if re.match(r"[*/+^]{1,2}\s*[0-9(]", rest) or re.search(r"[*+^]\s*-?[0-9.]+\s+[A-Za-z]", rest):
        return "arithmetic is not evaluated; give one number and one unit"
    if _RANGE.match(rest):
        return "a range is no value; give one number"
    if re.match(r"[0-9]", rest):
        return "two numbers side by side; write 1000 or 1,000 for thousands, and one number only"
    if re.match(r"[^0-9/]*[A-Za-z\"'%]\.?\s+[+-]?[0-9]", rest) and not re.search(r"/", rest):
        return "one number and one unit only; something follows the unit"
    if re.search(r"[A-Za-z\"]\s+#", rest):
        return "one number and one unit only; something follows the unit"
    if re.match(r"[*+^-]", rest):
        return "a sign stands between number and unit"
    return ""
