"""What a handbook formula is, and how one is worked out from texts with units."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import import_module
from math import floor, isfinite, log10
from typing import Final, Literal

from hydrocheck.errors import DomainError, UnitError
from hydrocheck.units import KINDS, display_value, parse

System = Literal["us", "metric"]
Values = Mapping[str, float]
Result = Mapping[str, float | str]
Compute = Callable[[Values], Result]

_FIGURES: Final = 5
_LONGEST_ECHO: Final = 24
_LEAST_PLAIN: Final = 1e-6
_MOST_PLAIN: Final = 1e9

CAUTION: Final = (
    "Caution: oil under pressure cuts through skin. Stop the engine, lower every load and "
    "release the pressure before a line is opened; wear eye protection and keep clear of jets."
)


@dataclass(frozen=True)
class Input:
    """A quantity that a formula takes, as the option `--name` and as `name` in Python.

    `negative`: whether values below zero make sense here; `default`: a text with its unit;
    `grade`: an ISO grade such as VG 46 is meant, cSt at 40 degC.
    """

    name: str
    kind: str
    help: str
    default: str | None = None
    negative: bool = False
    grade: bool = False

    @property
    def option(self) -> str:
        """The name on the command line."""
        return "--" + self.name.replace("_", "-")


@dataclass(frozen=True)
class Output:
    """A quantity that a formula gives; the kind is empty for a word such as a flow regime."""

    name: str
    kind: str

    @property
    def label(self) -> str:
        """The name in words."""
        return self.name.replace("_", " ")


@dataclass(frozen=True)
class Way:
    """One way to work a formula out: what it takes, what it gives, and how.

    `law` is the formula in letters; `numbers` the same with {names} of inputs and outputs.
    """

    takes: tuple[str, ...]
    gives: tuple[Output, ...]
    law: str
    numbers: str
    compute: Compute
    source: str


@dataclass(frozen=True)
class Formula:
    """A handbook formula with its ways, the first one that fits the given inputs being taken."""

    name: str
    help: str
    inputs: tuple[Input, ...]
    ways: tuple[Way, ...]
    caution: bool = False

    def input(self, name: str) -> Input:
        """The input of that name; KeyError where there is none."""
        for item in self.inputs:
            if item.name == name:
                return item
        raise KeyError(name)

    def needs(self, way: Way) -> list[Input]:
        """The inputs that a way cannot do without."""
        return [i for i in map(self.input, way.takes) if i.default is None]


@dataclass(frozen=True)
class Given:
    """A value as the user wrote it, and in SI."""

    text: str
    value: float


@dataclass(frozen=True)
class Answer:
    """A formula worked out; `defaults` names the inputs that nobody gave."""

    formula: Formula
    way: Way
    inputs: Mapping[str, Given]
    outputs: Result
    defaults: tuple[str, ...]

    def shown(self, output: Output, system: System = "us") -> str:
        """An output as text with its unit."""
        value = self.outputs[output.name]
        return value if isinstance(value, str) else figures(value, output.kind, system)

    def worked(self, system: System = "us") -> str:
        """The formula in letters, with the numbers in it, and its first output."""
        known = {k: v if isinstance(v, str) else f"{v:.7g}" for k, v in self.outputs.items()}
        known |= {o.name: self.shown(o, system) for o in self.way.gives}
        known |= {name: _echo(self.formula.input(name), g) for name, g in self.inputs.items()}
        known = {name: _in_brackets(text) for name, text in known.items()}
        numbers = self.way.numbers.format_map(known)
        return f"{self.way.law} = {numbers} = {self.shown(self.way.gives[0], system)}"


def physics(function: str, gives: str, **parameters: str) -> Compute:
    """A computation that is one call of a physics function.

    `parameters` says under which name the function takes an input that is called otherwise.
    """

    def compute(values: Values) -> Result:
        module, name = function.rsplit(".", 1)
        call = getattr(import_module(f"hydrocheck.physics.{module}"), name)
        return {gives: float(call(**{parameters.get(k, k): v for k, v in values.items()}))}

    return compute


def read_input(item: Input, text: str) -> Given:
    """A text as an input; UnitError or DomainError in one line that begins with its name."""
    label = item.option
    try:
        value = _grade(text) if item.grade else parse(text, item.kind)
    except UnitError as error:
        raise UnitError(f"{label}: {error}") from None
    if value < 0.0 and not item.negative:
        raise DomainError(f"{label}: {text.strip()!r} must not be negative")
    return Given(" ".join(text.split()), value)


def work_out(formula: Formula, given: Mapping[str, Given]) -> Answer:
    """The answer of a formula to the given inputs; DomainError says what is missing or too much."""
    import numpy as np

    way = _way(formula, given)
    defaults = tuple(name for name in way.takes if name not in given)
    inputs = {
        name: given[name] if name in given else _default(formula.input(name)) for name in way.takes
    }
    try:
        with np.errstate(all="ignore"):
            outputs = dict(way.compute({name: g.value for name, g in inputs.items()}))
    except (OverflowError, ZeroDivisionError):
        outputs = {}
    numbers = [v for v in outputs.values() if not isinstance(v, str)]
    if not outputs or not all(isfinite(v) for v in numbers):
        raise DomainError(f"{formula.name}: these values give no finite answer")
    return Answer(formula, way, inputs, outputs, defaults)


def figures(value: float, kind: str, system: System = "us") -> str:
    """A value with its unit and up to five figures: an answer of a formula, not of a gauge.

    >>> figures(0.00109247, "flow")
    '17.316 gal/min'
    """
    number, unit = display_value(value, kind, system)
    size = abs(number)
    if kind == "temperature":
        text = f"{number:.1f}"
    elif size == 0.0:
        text = "0"
    elif not _LEAST_PLAIN <= size < _MOST_PLAIN:
        text = f"{number:.{_FIGURES - 1}e}"
    else:
        decimals = max(0, _FIGURES - 1 - floor(log10(size)))
        text = f"{number:.{decimals}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text} {unit}".rstrip()


def _grade(text: str) -> float:
    """The viscosity at 40 degC of an ISO grade: VG 46, ISO VG 46 or 46."""
    match = re.fullmatch(r"(?:iso[ -]*)?(?:vg[ -]*)?(\d{1,4})", text.strip(), re.IGNORECASE)
    if match is None:
        raise UnitError(f"{text.strip()!r} is no grade; write VG 32, VG 46 or the like")
    return parse(f"{match[1]} cSt", "kinematic_viscosity")


def _way(formula: Formula, given: Mapping[str, Given]) -> Way:
    for way in formula.ways:
        enough = all(item.name in given for item in formula.needs(way))
        if enough and set(given) <= set(way.takes):
            return way
    wanted = [[item.option for item in formula.needs(way)] for way in formula.ways]
    if len(formula.ways) == 1:
        missing = [i.option for i in formula.needs(formula.ways[0]) if i.name not in given]
        raise DomainError(f"{formula.name} needs {_listed(missing)}")
    choices = "; or ".join(dict.fromkeys(_listed(names) for names in wanted))
    raise DomainError(f"{formula.name} takes {choices}")


def _default(item: Input) -> Given:
    if item.default is None:
        raise KeyError(item.name)
    return Given(item.default, parse(item.default, item.kind))


def _listed(names: list[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _echo(item: Input, given: Given) -> str:
    """The user's own words where they are short and plain, else the value in our units."""
    plain = given.text.isascii() and given.text.isprintable()
    if plain and len(given.text) <= _LONGEST_ECHO:
        return given.text
    return figures(given.value, item.kind)


def si_unit(kind: str) -> str:
    """The SI unit of a kind."""
    return KINDS[kind].si


def _in_brackets(text: str) -> str:
    """A negative value or an inch fraction in brackets, so that its sign stands alone."""
    return f"({text})" if text.startswith("-") or "/" in text.partition(" ")[0] else text
