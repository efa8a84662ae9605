"""Sizes that can be bought: preferred numbers, hose bores, and what is assumed of a machine.

A machine that is not on a shelf list has the values of `ASSUMED` for its build. They stand in every
result that rests on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError
from hydrocheck.model.shelf import ShelfPart
from hydrocheck.physics import lines
from hydrocheck.physics.displacement import preferred_displacements
from hydrocheck.units import parse, show

Array = NDArray[np.float64]

R10 = (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)
"""Preferred numbers of ISO 3, series R10, rounded as ISO 3662 does (from memory)."""

DASHES = (4, 5, 6, 8, 10, 12, 16, 20, 24, 32, 40, 48)
"""Hose sizes in sixteenths of an inch.

Source: marking practice under SAE J517; -5 and sizes beyond -32 (suction hose) from memory.
"""

ISO_4397 = MappingProxyType(
    {
        4: 6.3, 5: 8.0, 6: 10.0, 8: 12.5, 10: 16.0, 12: 19.0,
        16: 25.0, 20: 31.5, 24: 38.0, 32: 51.0, 40: 63.0, 48: 76.0,
    }
)  # fmt: skip
"""Nominal bore by dash size [mm]. Source: ISO 4397, from memory."""

BORES: Array = np.asarray(lines.dash_bore(np.array(DASHES, dtype=np.float64)))
"""Bores of `DASHES` [m], ascending, (12,)."""

CYLINDER_BORES: Array = (
    np.array([25, 32, 40, 50, 63, 80, 100, 125, 160, 200, 250, 320], dtype=np.float64) * 1e-3
)
"""Preferred cylinder bores [m]. Source: ISO 3320, from memory."""

_SLACK = 1.0 - 1e-9  # a preferred value that was converted stays itself


def next_bore(bore: Array) -> Array:
    """Smallest hose bore that is not below the one asked [m]; inf where none is.

    bore: [m], any shape
    """
    return _next(bore, BORES)


def next_cylinder_bore(bore: float) -> float:
    """Smallest preferred cylinder bore that is not below the one asked [m]; inf where none is."""
    return float(_next(np.array([bore]), CYLINDER_BORES)[0])


def _next(value: Array, sizes: Array) -> Array:
    place = np.searchsorted(sizes, np.asarray(value) * _SLACK)
    return np.append(sizes, np.inf)[place]


def next_number(value: Array, unit: float) -> Array:
    """Smallest R10 number times `unit` that is not below a value; any shape, values above zero.

    unit: what the numbers count, in SI, as 1/60000 for L/min
    """
    number = np.maximum(np.asarray(value, dtype=np.float64) / unit * _SLACK, 1e-300)
    decade = 10.0 ** np.floor(np.log10(number))
    steps = np.array([*R10, 10.0])
    return np.asarray(steps[np.searchsorted(steps, number / decade)] * decade * unit)


def step_up(value: Array, step: float) -> Array:
    """Smallest multiple of a step that is not below a value; any shape."""
    return np.asarray(np.ceil(np.asarray(value) / step * _SLACK) * step)


def step_down(value: float, step: float) -> float:
    """Largest multiple of a step that is not above a value."""
    return float(np.floor(value / step / _SLACK) * step)


def dash_of(bore: float) -> int:
    """Dash size of one of `BORES` [m]. Raises DomainError for any other bore."""
    place = int(np.argmin(np.abs(BORES - bore)))
    if abs(BORES[place] - bore) > 1e-6:
        raise DomainError(f"no hose has a bore of {show(bore, 'length')}")
    return DASHES[place]


def _si(kind: str, text: str) -> float:
    return parse(text, kind)


@dataclass(frozen=True)
class Machine:
    """What is known or assumed of a pump or motor, in SI.

    displacement: [m3/rad]; rated_speed, min_speed, max_speed: [rad/s]; rated_pressure: [Pa]
    max_pressure: [Pa], inf where it is bought for the pressure level
    volumetric, hydromechanical, starting: efficiencies [1]; price: nan where there is none
    """

    build: str
    displacement: float
    rated_speed: float
    rated_pressure: float
    volumetric: float
    hydromechanical: float
    starting: float
    min_speed: float
    max_speed: float
    max_pressure: float = np.inf
    price: float = np.nan
    name: str = ""
    assumed: tuple[str, ...] = field(default=())


@dataclass(frozen=True)
class Build:
    """What is assumed of a build, as texts, and the span of its preferred sizes.

    max_flow: displacement x highest speed; None where the highest speed is one for all sizes
    """

    smallest: str
    largest: str
    rated_speed: str
    rated_pressure: str
    volumetric: str
    hydromechanical: str
    starting: str
    min_speed: str
    max_speed: str
    max_flow: str | None
    source: str


ASSUMED = MappingProxyType(
    {
        "piston pump": Build(
            "25 cm3/rev", "160 cm3/rev", "1500 rpm", "2200 psi", "96 %", "92 %", "100 %",
            "500 rpm", "2600 rpm", None,
            "slip 2 % and compressibility 0.9 % at 150 bar (published sets), rounded down; "
            "600-2600 rpm from memory",
        ),
        "gear pump": Build(
            "16 cm3/rev", "125 cm3/rev", "1500 rpm", "2200 psi", "95 %", "90 %", "100 %",
            "500 rpm", "3000 rpm", None,
            "fit of an open hydraulic rig data set: 3-7 % slip at 150 bar; 500-3000 rpm "
            "common practice",
        ),
        "orbit motor": Build(
            "40 cm3/rev", "800 cm3/rev", "200 rpm", "1500 psi", "95 %", "88 %", "75 %",
            "10 rpm", "800 rpm", "75 L/min",
            "slip 5 % at 200 rpm and 100 bar, torque loss, 10-30 rpm even speed, 60-75 L/min: "
            "all from memory; starting 60-90 % (fluid power e-book)",
        ),
        "gear motor": Build(
            "4 cm3/rev", "63 cm3/rev", "1500 rpm", "2200 psi", "92 %", "88 %", "70 %",
            "400 rpm", "3000 rpm", None,
            "starting 70-80 % (supplier glossary), the rest common practice and from memory",
        ),
    }
)  # fmt: skip
"""What is assumed of machines whose maker is not known yet."""


def machine(build: str, displacement: float, part: ShelfPart | None = None) -> Machine:
    """A machine of a build and size [m3/rad], with what a shelf list says of it.

    build: a key of `ASSUMED`
    """
    about = ASSUMED[build]
    known = dict(part.values) if part is not None else {}
    fastest = _si("shaft_speed", about.max_speed)
    if about.max_flow is not None:
        fastest = min(fastest, _si("flow", about.max_flow) / displacement)
    assumed = []

    def value(key: str, otherwise: float) -> float:
        if key not in known:
            assumed.append(key)
        return known.get(key, otherwise)

    return Machine(
        build,
        displacement,
        rated_speed=value("rated_speed", _si("shaft_speed", about.rated_speed)),
        rated_pressure=value("rated_pressure", _si("pressure_drop", about.rated_pressure)),
        volumetric=value("volumetric_efficiency", _si("fraction", about.volumetric)),
        hydromechanical=value("hydromechanical_efficiency", _si("fraction", about.hydromechanical)),
        starting=value("starting_efficiency", _si("fraction", about.starting)),
        min_speed=value("min_speed", _si("shaft_speed", about.min_speed)),
        max_speed=value("max_speed", fastest),
        max_pressure=known.get("max_pressure", np.inf),
        price=known.get("price", np.nan),
        name="" if part is None else part.name,
        assumed=tuple(assumed),
    )


def machines(
    build: str, given: Sequence[float], shelf: Sequence[ShelfPart] | None
) -> tuple[Machine, ...]:
    """The machines of a build on offer, by rising displacement.

    given: sizes to consider [m3/rad]; preferred ones where there are none. A shelf list, where
    there is one, rules: only its parts (of the sizes given, if there are those) are on offer.
    """
    kind, what = build.split()
    if shelf is not None:
        parts = [p for p in shelf if (p.part, p.build) == (what, kind)]
        found = [machine(build, p.values["displacement"], p) for p in parts]
        if given:
            found = [m for m in found if any(abs(m.displacement / d - 1) < 0.01 for d in given)]
        return tuple(sorted(found, key=lambda m: m.displacement))
    sizes = [float(d) for d in given]
    if not sizes:
        about = ASSUMED[build]
        ends = (_si("displacement", about.smallest), _si("displacement", about.largest))
        sizes = [float(d) for d in preferred_displacements(*ends)]
    return tuple(machine(build, d) for d in sorted(sizes))
