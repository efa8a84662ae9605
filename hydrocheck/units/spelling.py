"""The normal form of a unit text, so that in^3/rev, in**3 / rev and cu. in. per rev are one key.

Nothing is computed here: the result is only a key into the closed tables. All that follows the
first slash is read as divisor, which is how the trade writes Btu/lb.F or W/m2 K.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

# Words with one meaning in every table; capitals do not matter.
_WORDS: Final = {
    "inch": "in", "inches": "in", '"': "in", "foot": "ft", "feet": "ft", "'": "ft",
    "yard": "yd", "yards": "yd", "mile": "mi", "miles": "mi",
    "meter": "m", "meters": "m", "metre": "m", "metres": "m",
    "pound": "lb", "pounds": "lb", "lbs": "lb", "lbm": "lb", "#": "lb", "ounce": "oz",
    "ounces": "oz", "tons": "ton", "tonne": "t", "tonnes": "t",
    "gram": "g", "grams": "g", "kilogram": "kg", "kilograms": "kg",
    "gallon": "gal", "gallons": "gal", "gals": "gal", "quart": "qt", "quarts": "qt", "qts": "qt",
    "pint": "pt", "pints": "pt", "liter": "L", "liters": "L", "litre": "L", "litres": "L",
    "l": "L", "cuin": "in3", "cuft": "ft3", "cuyd": "yd3", "cc": "cm3", "ccm": "cm3",
    "sec": "s", "secs": "s", "second": "s", "seconds": "s", "minute": "min", "minutes": "min",
    "mins": "min", "hr": "h", "hrs": "h", "hour": "h", "hours": "h",
    "revs": "rev", "revolution": "rev", "revolutions": "rev", "turn": "rev", "turns": "rev",
    "degree": "deg", "degrees": "deg", "degf": "F", "fahrenheit": "F",
    "degc": "C", "celsius": "C", "centigrade": "C", "kelvin": "K", "kelvins": "K",
    "radian": "rad", "radians": "rad",
    "horsepower": "hp", "btu": "Btu", "watt": "W", "watts": "W", "newton": "N", "newtons": "N",
    "volt": "V", "volts": "V", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A",
    "ohms": "ohm", "percent": "%", "pct": "%", "lanes": "lane", "pulses": "pulse",
    "particles": "particle", "counts": "count", "microns": "micron",
}  # fmt: skip
_PHRASES: Final = {
    ("deg", "f"): "F", ("deg", "c"): "C", ("us", "gal"): "gal", ("us", "qt"): "qt",
    ("us", "pt"): "pt", ("short", "ton"): "ton", ("us", "ton"): "ton", ("metric", "ton"): "t",
    ("long", "ton"): "longton", ("imperial", "ton"): "longton", ("imp", "gal"): "impgal",
    ("imperial", "gal"): "impgal", ("uk", "gal"): "impgal", ("mechanical", "hp"): "hp",
    ("btu", "it"): "Btu", ("milli", "amps"): "mA",
}  # fmt: skip
_POWERS: Final = {"cu": "3", "cubic": "3", "sq": "2", "square": "2"}

_EXPONENT = re.compile(r"(?<=[A-Za-z])(?:\^|\*\*)(?=[0-9])")
_BRACKET = re.compile(r"/ ?\(([^()/]*)\)")
_PER = re.compile(r"\s+per\s+", re.IGNORECASE)
_ABBREVIATION = re.compile(r"(?<=[A-Za-z])\.(?=\s|/|$)")
_JOIN = re.compile(r"\s*(?:[-*_\u00b7\u22c5\u2022]|(?<![0-9])\.|\.(?![0-9]))\s*|\s+")
_LETTERS_DIGIT = re.compile(r"([A-Za-z]+)([0-9])")
_SYMBOLS: Final = {"\u00b0": "deg ", "\u03a9": "ohm", "\u03bc": "u"}


def _word(token: str) -> str:
    """One word in its normal form: inches -> in, feet3 -> ft3."""
    if token in ("r", "R"):
        return "rev"
    known = _WORDS.get(token.casefold())
    if known is not None:
        return known
    power = _LETTERS_DIGIT.fullmatch(token)
    if power is not None:
        return _WORDS.get(power[1].casefold(), power[1]) + power[2]
    return token


def _words(part: str) -> list[str] | None:
    """The words of one side of a slash in normal form, or None when the text makes no sense."""
    tokens = _JOIN.split(part)
    if "" in tokens:
        return None
    words: list[str] = []
    for token in map(_word, tokens):
        before = words[-1].casefold() if words else ""
        if before in _POWERS and token.isalpha():
            words[-1] = token + _POWERS[before]
        elif (before, token.casefold()) in _PHRASES:
            words[-1] = _PHRASES[before, token.casefold()]
        else:
            words.append(token)
    return words


@lru_cache(maxsize=4096)
def canonical(unit_text: str) -> str:
    """The normal form of a unit text in NFKC; a text that cannot be a unit comes back as it is."""
    text = unit_text.strip()
    for symbol, name in _SYMBOLS.items():
        text = text.replace(symbol, name)
    text = _EXPONENT.sub("", text)
    text = _BRACKET.sub(r"/\1", text)
    text = _PER.sub("/", text)
    text = _ABBREVIATION.sub("", text).strip()
    above, *below = re.split(r"\s*/\s*", text)
    numerator = ["1"] if below and not above else _words(above)
    denominators = [_words(part) for part in below]
    if numerator is None or None in denominators:
        return unit_text
    return "/".join([" ".join(numerator), *(w for part in denominators for w in part or ())])
