"""What a kind of quantity is: its units with their spellings, and how it is shown."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from hydrocheck.units.spelling import canonical


@dataclass(frozen=True)
class Curve:
    """A unit that is no multiple of the SI unit: a pair of functions, each the other's inverse."""

    to_si: Callable[[float], float]
    from_si: Callable[[float], float]


@dataclass(frozen=True)
class Unit:
    """One unit: SI value = (number + shift) * factor, or by `curve`.

    `names` holds every spelling, the main one first. `fold` says that capitals may be mixed
    freely, which only holds where no other unit could be meant. `pint` is the name under which
    pint knows the unit, empty where it knows none. `fractions` allows 1-1/4.
    """

    names: tuple[str, ...]
    factor: float
    pint: str
    shift: float = 0.0
    fold: bool = True
    curve: Curve | None = None
    fractions: bool = False

    def to_si(self, number: float) -> float:
        """The SI value of a number in this unit."""
        if self.curve is not None:
            return self.curve.to_si(number)
        return (number + self.shift) * self.factor

    def from_si(self, value: float) -> float:
        """The number in this unit of an SI value."""
        if self.curve is not None:
            return self.curve.from_si(value)
        return value / self.factor - self.shift


@dataclass(frozen=True)
class Display:
    """The unit in which a kind is shown, and the decimals of a value of ordinary size."""

    unit: str
    digits: int


@dataclass(frozen=True)
class Kind:
    """A kind of quantity. A role, not a dimension: a torque is not an energy.

    `negative`: whether values below zero make sense. `plain`: whether a number without a unit is
    taken. `angle`: the powers of the radian that pint may show. `refused`: spellings that are
    known but wrong here, each with the reason.
    """

    name: str
    title: str
    si: str
    pint: str
    units: tuple[Unit, ...]
    us: Display
    metric: Display
    negative: bool = False
    plain: bool = False
    angle: tuple[int, ...] = (0,)
    refused: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def spellings(self) -> Mapping[str, Unit]:
        """Every spelling in normal form, case kept, with its unit."""
        return {canonical(name): unit for unit in self.units for name in unit.names}

    @cached_property
    def folded(self) -> Mapping[str, Unit]:
        """The spellings for which capitals do not matter, in lower case."""
        return {key.casefold(): unit for key, unit in self.spellings.items() if unit.fold}

    @cached_property
    def reasons(self) -> Mapping[str, str]:
        """The known but wrong spellings in normal form and lower case, with the reason."""
        return {canonical(name).casefold(): why for name, why in self.refused.items()}

    def find(self, unit_text: str) -> Unit | None:
        """The unit that a text (already in NFKC) names, or None."""
        key = canonical(unit_text)
        return self.spellings.get(key) or self.folded.get(key.casefold())


def us(factor: float, pint: str, *names: str) -> Unit:
    """A unit whose spellings may be written in capitals: no prefix to confuse."""
    return Unit(names, factor, pint)


def si(factor: float, pint: str, *names: str) -> Unit:
    """A unit whose capitals matter: mA is not MA, mm is not Mm."""
    return Unit(names, factor, pint, fold=False)


def each_over(units: tuple[Unit, ...], suffix: str, divisor: float, pint: str) -> tuple[Unit, ...]:
    """The same units, each spelling followed by `suffix`, divided by one factor."""
    return tuple(
        Unit(
            tuple(name + suffix for name in unit.names),
            unit.factor / divisor,
            f"{unit.pint}/{pint}",
            fold=unit.fold,
        )
        for unit in units
    )


def article(title: str) -> str:
    """The title with "a" or "an"."""
    return ("an " if title[0] in "aeiou" else "a ") + title
