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
    choice,
    flag,
    named_tables,
    quantity,
    reference,
    table,
    tables,
    text,
)
from hydrocheck.model.lines import Coupling, Filter, Line
from hydrocheck.model.machines import Cylinder, Load, Motor, Pump
from hydrocheck.model.scalar import Scalar
from hydrocheck.model.valves import Bank, Coil, Relief, Section

__all__ = [
    "Ambient",
    "Bank",
    "Circuit",
    "Coil",
    "Coupling",
    "Cylinder",
    "Drive",
    "Engine",
    "Filter",
    "Function",
    "FunctionLimits",
    "Gear",
    "Line",
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
        in an array of tables is found by its name, or by the array's key where it is the only one.
        Raises DomainError for a path that is not there or is no number, and for a value that is
        not finite.
        """
        return _vary(self, tuple(path.split(".")), path, value)  # type: ignore[no-any-return]  # generic over parts

    def functions_of(self, bank: str) -> tuple[Function, ...]:
        """The fitted hydraulic functions of a bank, in its order where it has one."""
        mine = [f for f in self.function if f.bank == bank and f.fitted and f.drive == "hydraulic"]
        order = next(b.order for b in self.bank if b.name == bank)
        return tuple(
            sorted(mine, key=lambda f: order.index(f.name) if f.name in order else len(order))
        )


def _vary(part: Any, keys: tuple[str, ...], path: str, value: Scalar) -> Any:
    key, rest = keys[0], keys[1:]
    by_name = {
        item.name: (f.name, i)
        for f in dataclasses.fields(part)
        if isinstance(items := getattr(part, f.name), tuple)
        for i, item in enumerate(items)
        if getattr(item, "name", "")
    }
    attributes = {f.name: getattr(part, f.name) for f in dataclasses.fields(part)}
    if key in by_name:
        attribute, index = by_name[key]
    elif isinstance(attributes.get(key), tuple) and len(attributes[key]) == 1:
        attribute, index = key, 0
    elif key in attributes and not rest and not isinstance(attributes[key], str | tuple):
        if dataclasses.is_dataclass(attributes[key]):
            raise DomainError(f"'{path}' is a part, not a value")
        return dataclasses.replace(part, **{key: value})
    elif key in attributes and rest and dataclasses.is_dataclass(attributes[key]):
        return dataclasses.replace(part, **{key: _vary(attributes[key], rest, path, value)})
    else:
        fits = ", ".join(sorted([*by_name, *(k for k in attributes if k != "name")]))
        raise DomainError(f"no '{key}' in '{path}'; here fits: {fits}")
    if not rest:
        raise DomainError(f"'{path}' is a part, not a value")
    items = list(attributes[attribute])
    items[index] = _vary(items[index], rest, path, value)
    return dataclasses.replace(part, **{attribute: tuple(items)})
