"""The physical parts of a truck's hydraulic circuit, frozen dataclasses in SI.

Any scalar may itself be an (N,) array (`Circuit.vary`): sizing, tolerances and diagnosis vary parts
as well as operating points. Topology (names, types, who feeds whom) is fixed.

A value that the truck file does not give is None. Nothing is guessed in its place: what needs it
says so.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any, Self

from hydrocheck.errors import DomainError
from hydrocheck.model.engine import Ambient, Drive, Engine, Gear, Oil, Reservoir, ViscosityPoint
from hydrocheck.model.fields import (
    BOUND_WORDS,
    Spec,
    choice,
    flag,
    named_tables,
    quantity,
    reference,
    specs,
    table,
    tables,
    text,
    within,
)
from hydrocheck.model.lines import Coupling, Filter, Line
from hydrocheck.model.machines import Cylinder, Disc, LiquidPump, Load, Motor, Pump
from hydrocheck.model.scalar import Scalar
from hydrocheck.model.valves import Bank, Coil, Relief, Section

__all__ = [
    "Ambient",
    "Bank",
    "Circuit",
    "Coil",
    "Coupling",
    "Cylinder",
    "Disc",
    "Drive",
    "Engine",
    "Filter",
    "Function",
    "FunctionLimits",
    "Gear",
    "Line",
    "LiquidPump",
    "Load",
    "Motor",
    "Oil",
    "Pump",
    "Relief",
    "Reservoir",
    "Scalar",
    "Section",
    "Trims",
    "ViscosityPoint",
]


@dataclass(frozen=True)
class Trims:
    """Commands that bound a function: setting 0+ % gives `min`, setting 100 % gives `max`."""

    min: Scalar | None = quantity("fraction", "minimum trim (a command)", bounds="fraction")
    max: Scalar | None = quantity("fraction", "maximum trim (a command)", bounds="fraction")


@dataclass(frozen=True)
class FunctionLimits:
    """What the driven machinery allows at its own shaft."""

    max_speed: Scalar | None = quantity(
        "shaft_speed", "highest speed of the auger, spinner or liquid pump", bounds="positive"
    )
    min_speed: Scalar | None = quantity("shaft_speed", "lowest useful even speed")


@dataclass(frozen=True)
class Function:
    """One hydraulic function: its section and what the section drives."""

    name: str = text("name", required=True)
    kind: str = choice(
        "what it does", "feeder", "spinner", "liquid", "cylinder", "other", required=True
    )
    fitted: bool = flag("whether the truck has it", default=True)
    drive: str = choice(
        "what moves it; an electric function asks no oil",
        "hydraulic",
        "electric",
        default="hydraulic",
    )
    bank: str | None = reference("the bank that its section sits in", "bank")
    section: Section = table(Section, "its valve section", always=True)
    motor: tuple[Motor, ...] = tables(Motor, "its motor or motors")
    motors_in: str = choice(
        "how several motors share the flow", "series", "parallel", default="series"
    )
    cylinder: Cylinder | None = table(Cylinder, "its cylinder")
    disc: Disc | None = table(Disc, "a spinner's disc, for the throw")
    liquid_pump: LiquidPump | None = table(
        LiquidPump, "its liquid pump and nozzles, in place of a motor's load"
    )
    flow: Scalar | None = quantity(
        "flow", "flow that it asks for, where no motor is known", bounds="positive"
    )
    pressure: Scalar | None = quantity(
        "pressure", "pressure that it works at, where no motor is known"
    )
    trims: Trims = table(Trims, "minimum and maximum trim", always=True)
    limits: FunctionLimits = table(FunctionLimits, "limits of the driven machinery", always=True)
    loop: str = choice(
        "open, or closed with a shaft-speed sensor", "open", "closed", default="open"
    )
    max_pressure: Scalar | None = quantity(
        "pressure", "lowest pressure rating among its hoses and parts", bounds="positive"
    )


@dataclass(frozen=True)
class Circuit:
    """All that the steady state depends on."""

    engine: Engine = table(Engine, "the engine", always=True)
    oil: Oil = table(Oil, "the oil", always=True)
    ambient: Ambient = table(Ambient, "where it works", always=True)
    pump: tuple[Pump, ...] = tables(Pump, "the pumps")
    bank: tuple[Bank, ...] = tables(Bank, "the valve banks")
    function: tuple[Function, ...] = tables(Function, "the functions")
    relief: tuple[Relief, ...] = tables(Relief, "the relief valves")
    lines: tuple[Line, ...] = named_tables(Line, "hoses and tubes")
    reservoir: Reservoir = table(Reservoir, "the oil tank", always=True)

    def vary(self, path: str, value: Scalar) -> Self:
        """The same circuit with one scalar replaced, by a float or an (N,) array in SI.

        A path is dotted: `"pump.displacement"`, `"auger.motor.displacement"`, `"oil.grade"`. A part
        in an array of tables is found by its name, with the array's key before it or without
        (`"lines.return.bore"`), by its number (`"oil.point[2].viscosity"`), or by the array's key
        where it is the only one. Raises DomainError for a path that is not there or is no number,
        and for a value that is not finite or that the truck file would refuse.
        """
        return _vary(self, tuple(path.split(".")), path, value)  # type: ignore[no-any-return]  # generic over parts

    def spec(self, path: str) -> Spec:
        """What the value under a path of `vary` is: its kind, bounds, meaning.

        Raises DomainError as `vary` does for a path.
        """
        return _spec(self, tuple(path.split(".")), path)

    def value(self, path: str) -> Scalar | None:
        """The scalar under a path as `vary` takes it; None where it, or its part, is not given."""
        part: Any = self
        keys = tuple(path.split("."))
        while keys and part is not None:
            key, rest = keys[0], keys[1:]
            if found := _item(part, key, rest):
                attribute, index, keys = found
                part = getattr(part, attribute)[index]
            elif key in specs(type(part)):
                part, keys = getattr(part, key), rest
            else:
                return None
            if isinstance(part, tuple | str):
                return None
        return part  # type: ignore[no-any-return]  # generic over parts


def _spec(part: Any, keys: tuple[str, ...], path: str) -> Spec:
    """The spec of the value under `keys`; a table that is not given still tells its own."""
    found = _vary_step(part, keys, path)
    if isinstance(found, Spec):
        return found
    return _spec(*found, path)


def _vary_step(part: Any, keys: tuple[str, ...], path: str) -> Spec | tuple[Any, tuple[str, ...]]:
    """One step along a path: the spec at its end, else the next part and what is left."""
    key, rest = keys[0], keys[1:]
    known = specs(type(part))
    if found := _item(part, key, rest):
        attribute, index, rest = found
        if not rest:
            raise DomainError(f"'{path}' is a part, not a value")
        return getattr(part, attribute)[index], rest
    if key not in known:
        raise DomainError(f"no '{key}' in '{path}'; here fits: {_fitting(part, known)}")
    inner = getattr(part, key)
    if known[key].form in ("tables", "named tables"):
        what = f"stands for {len(inner)} parts; name one" if inner else "is not given"
        raise DomainError(f"'{key}' in '{path}' {what}")
    if known[key].form == "table":
        if inner is None:
            raise DomainError(f"'{key}' in '{path}' is not given in the truck file")
        if not rest:
            raise DomainError(f"'{path}' is a part, not a value")
        return inner, rest
    if known[key].form not in ("quantity", "word or quantity", "count") or rest:
        raise DomainError(f"'{path}' is no single number of the circuit")
    return known[key]


def _fitting(part: Any, known: dict[str, Spec]) -> str:
    """What can stand next in a path."""
    names = [getattr(item, "name", "") for a in known for item in _items(part, a)]
    return ", ".join(k for k in dict.fromkeys([*names, *known]) if k not in ("", "name"))


def _vary(part: Any, keys: tuple[str, ...], path: str, value: Scalar) -> Any:
    """A copy of a part with the value under `keys` replaced; `path` is for messages."""
    step = _vary_step(part, keys, path)
    if isinstance(step, Spec):
        _refuse_value(step, path, value)
        return dataclasses.replace(part, **{keys[0]: value})
    inner = _vary(*step, path, value)
    if not (found := _item(part, keys[0], keys[1:])):
        return dataclasses.replace(part, **{keys[0]: inner})
    attribute, index, _ = found
    items = list(getattr(part, attribute))
    items[index] = inner
    return dataclasses.replace(part, **{attribute: tuple(items)})


def _items(part: Any, attribute: str) -> tuple[Any, ...]:
    """The parts in an array of tables; nothing for any other attribute."""
    spec = specs(type(part))[attribute]
    if spec.form not in ("tables", "named tables"):
        return ()
    return tuple(getattr(part, attribute))


def _item(part: Any, key: str, rest: tuple[str, ...]) -> tuple[str, int, tuple[str, ...]] | None:
    """Which item of which array a path leads to, and the path from there."""
    known = specs(type(part))
    array, _, number = key.removesuffix("]").partition("[")
    if key.endswith("]") and array in known and number.isdecimal():
        count = len(_items(part, array))
        return (array, int(number) - 1, rest) if 1 <= int(number) <= count else None
    if key in known and rest:  # lines.pressure.bore
        for index, item in enumerate(_items(part, key)):
            if getattr(item, "name", "") == rest[0]:
                return key, index, rest[1:]
    # A scenario may be called like a table of the file.
    for attribute in () if key in known and known[key].form == "table" else known:
        for index, item in enumerate(_items(part, attribute)):
            if getattr(item, "name", "") == key:
                return attribute, index, rest
    if key in known and len(_items(part, key)) == 1:
        return key, 0, rest
    return None


def _refuse_value(spec: Spec, path: str, value: Scalar) -> None:
    """Raise for what the truck file would not take either."""
    import numpy as np

    try:
        array = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError):
        raise DomainError(f"{path}: {value!r:.40} is no number") from None
    if not np.isfinite(array).all():
        raise DomainError(f"{path}: not finite")
    lowest, highest = array.min(initial=np.inf), array.max(initial=-np.inf)
    if not all(
        within(float(edge), spec.bounds) for edge in (lowest, highest) if abs(edge) < np.inf
    ):
        raise DomainError(f"{path}: {BOUND_WORDS[spec.bounds]}")
