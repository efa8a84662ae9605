"""One attribute, one definition: the forms that a value of the truck file can take.

Each dataclass field of the model carries a `Spec`. The reader, the JSON Schema, the list of
defaults and `hydrocheck new` all derive from it, so that none of them can disagree with another.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Literal

Form = Literal[
    "quantity",  # one text with its unit
    "band",  # two of them, low and high
    "quantities",  # a list of them
    "pairs",  # a list of pairs, one kind each
    "text",
    "name",  # reference to another table by its name
    "names",
    "choice",
    "word or quantity",  # a word of a list, or a value with its unit
    "flag",
    "count",
    "table",
    "tables",
    "named tables",  # [outer.NAME] tables, the name being the key
]
Bounds = Literal["any", "positive", "not negative", "fraction", "efficiency", "loss"]

BOUND_WORDS: Mapping[str, str] = {
    "any": "",
    "positive": "must be above zero",
    "not negative": "must not be negative",
    "fraction": "must lie between 0 and 100 %",
    "efficiency": "must be above 0 and at most 100 %",
    "loss": "must be at least 0 and below 100 %",
}


def within(value: float, bounds: Bounds) -> bool:
    """Whether a value lies in its bounds."""
    return {
        "any": True,
        "positive": value > 0,
        "not negative": value >= 0,
        "fraction": 0 <= value <= 1,
        "efficiency": 0 < value <= 1,
        "loss": 0 <= value < 1,
    }[bounds]


@dataclass(frozen=True, slots=True)
class Spec:
    """How one attribute is written, what it means and what it may be."""

    form: Form
    about: str
    kind: str = ""
    kinds: tuple[str, ...] = ()
    bounds: Bounds = "any"
    default: str | None = None
    required: bool = False
    options: tuple[str, ...] = ()
    table: type | None = None
    refers_to: tuple[str, ...] = ()
    source: str = ""  # of the default
    fault: bool = False  # see `fault` below


def _field(spec: Spec, default: Any) -> Any:
    if spec.required:
        return field(metadata={"spec": spec}, kw_only=True)
    return field(default=default, metadata={"spec": spec}, kw_only=True)


def _si(kind: str, text: str | None) -> float | None:
    if text is None:
        return None
    from hydrocheck.units import parse

    return parse(text, kind)


def quantity(
    kind: str,
    about: str,
    *,
    default: str | None = None,
    bounds: Bounds = "not negative",
    required: bool = False,
    source: str = "",
) -> Any:
    """One physical value, text with its unit, of the given kind; None where it is not given.

    A default names its `source`.
    """
    spec = Spec(
        "quantity",
        about,
        kind,
        bounds=bounds,
        default=default,
        required=required,
        source=source,
    )
    return _field(spec, _si(kind, default))


def fault(kind: str, about: str, *, sound: str, bounds: Bounds) -> Any:
    """How far a part is from sound, a scale on one physical value; `sound` means: not at all.

    A truck is described as it should be, and diagnosis and what-if runs `Circuit.vary` these. The
    sound value is what the word means and no guess: reader and `Circuit.vary` take it and the
    schema shows it, but it stands neither in `defaults_used` nor in the list of defaults, and
    `hydrocheck new` does not ask for it.
    """
    spec = Spec("quantity", about, kind, bounds=bounds, default=sound, fault=True)
    return _field(spec, _si(kind, sound))


def band(kind: str, about: str) -> Any:
    """Two values of a kind, low and high, as a tuple of two floats."""
    return _field(Spec("band", about, kind, bounds="positive"), None)


def quantities(kind: str, about: str) -> Any:
    """A list of values of a kind, as a tuple of floats."""
    return _field(Spec("quantities", about, kind, bounds="not negative"), ())


def pairs(first: str, second: str, about: str) -> Any:
    """A list of pairs, each of two kinds, as a tuple of tuples."""
    return _field(Spec("pairs", about, kinds=(first, second)), ())


def text(about: str, *, required: bool = False, default: str = "") -> Any:
    """A free text."""
    return _field(Spec("text", about, required=required), default)


def reference(about: str, *refers_to: str, required: bool = False) -> Any:
    """The name of another table (of those listed), None where it is not given."""
    return _field(Spec("name", about, refers_to=refers_to, required=required), None)


def references(about: str, *refers_to: str) -> Any:
    """Names of other tables, as a tuple."""
    return _field(Spec("names", about, refers_to=refers_to), ())


def choice(about: str, *options: str, default: str | None = None, required: bool = False) -> Any:
    """One of a few words."""
    spec = Spec("choice", about, options=options, default=default, required=required)
    return _field(spec, default)


def word_or_quantity(about: str, kind: str, *options: str, default: str | None = None) -> Any:
    """One of a few words (kept as text) or a value of a kind (kept as a float)."""
    bounds: Bounds = "positive" if kind == "shaft_speed" else "any"
    spec = Spec("word or quantity", about, kind, bounds=bounds, options=options, default=default)
    return _field(spec, default)


def flag(about: str, *, default: bool | None = None) -> Any:
    """true or false; None where it is not given."""
    spec = Spec("flag", about, default=None if default is None else str(default).lower())
    return _field(spec, default)


def count(about: str, *, default: int = 1) -> Any:
    """A whole number, one or more."""
    return _field(Spec("count", about, default=str(default)), default)


def table(cls: type, about: str, *, always: bool = False, required: bool = False) -> Any:
    """A sub-table; `always` makes an empty one where it is not given."""
    spec = Spec("table", about, table=cls, required=required)
    if always:
        return field(default_factory=cls, metadata={"spec": spec}, kw_only=True)
    return _field(spec, None)


def tables(cls: type, about: str) -> Any:
    """An array of tables, as a tuple."""
    return _field(Spec("tables", about, table=cls), ())


def named_tables(cls: type, about: str) -> Any:
    """Tables under free keys; each gets its key as `name`. A tuple in file order."""
    return _field(Spec("named tables", about, table=cls), ())


def specs(cls: type) -> dict[str, Spec]:
    """The attributes of a model class that the truck file can hold, in order."""
    return dict(_specs(cls))


@cache
def _specs(cls: type) -> dict[str, Spec]:
    """Looked up once: `Circuit.vary` asks at every step of a path."""
    return {f.name: f.metadata["spec"] for f in dataclasses.fields(cls) if "spec" in f.metadata}
