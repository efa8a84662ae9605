"""What can be read on a truck: a subject and a quantity, from a closed table.

`auger speed`, `pump pressure`, `LS pressure`, `auger coil current`, `noise`. Each entry says what
its value looks like (a kind of quantity, or one of a few words) and how well it is usually known.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from hydrocheck.errors import DomainError

FUNCTION: Final = "NAME"
"""Stands in the table for the name of a function of the truck."""


@dataclass(frozen=True, slots=True)
class Readable:
    """One thing that can be read.

    kind: kind of quantity, empty where `words` are read
    relative, least: usual uncertainty as a share of the value, and the least of it in SI; half
    widths that about 95 % of readings keep (common practice)
    instrument: with what it is usually read
    """

    about: str
    kind: str = ""
    words: tuple[str, ...] = ()
    relative: float = 0.0
    least: float = 0.0
    instrument: str = ""


_RPM: Final = 0.10471975511965977
_PSI: Final = 6894.757293168361
_GPM: Final = 6.30901964e-5

# The most usual ones first: messages list them in this order.
READABLES: Final[Mapping[str, Readable]] = MappingProxyType(
    {
        "NAME speed": Readable(
            "speed of the function's load shaft", "shaft_speed", (), 0.02, 0.5 * _RPM, "tachometer"
        ),
        "NAME holding command": Readable(
            "command at which a closed loop holds the ordered speed",
            "fraction",
            (),
            0.0,
            0.01,
            "display",
        ),
        "NAME motion": Readable(
            "how the function moves",
            words=("normal", "slow", "stopped", "jerky", "stays open"),
            instrument="eye",
        ),
        "engine speed": Readable("engine speed", "shaft_speed", (), 0.01, 10 * _RPM, "tachometer"),
        "pump speed": Readable(
            "pump shaft speed", "shaft_speed", (), 0.01, 10 * _RPM, "tachometer"
        ),
        "pump pressure": Readable(
            "pressure at the pump outlet", "pressure", (), 0.03, 25 * _PSI, "gauge"
        ),
        "LS pressure": Readable(
            "pressure at the pump's load-sensing port", "pressure", (), 0.03, 25 * _PSI, "gauge"
        ),
        "LS margin": Readable(
            "pump pressure less LS pressure, read together",
            "pressure",
            (),
            0.03,
            25 * _PSI,
            "gauge",
        ),
        "NAME pressure": Readable(
            "pressure at the function's work port", "pressure", (), 0.03, 25 * _PSI, "gauge"
        ),
        "return pressure": Readable(
            "pressure in the return line at the valve bank", "pressure", (), 0.05, 5 * _PSI, "gauge"
        ),
        "case pressure": Readable(
            "pressure in the pump case", "pressure", (), 0.05, 2 * _PSI, "gauge"
        ),
        "inlet vacuum": Readable("vacuum at the pump inlet", "vacuum", (), 0.05, 1700.0, "gauge"),
        "pump flow": Readable(
            "flow that the pump delivers", "flow", (), 0.04, 0.3 * _GPM, "flow meter"
        ),
        "NAME flow": Readable(
            "flow into the function", "flow", (), 0.04, 0.15 * _GPM, "flow meter"
        ),
        "relief flow": Readable(
            "flow over the main relief", "flow", (), 0.05, 0.1 * _GPM, "bucket"
        ),
        "case flow": Readable(
            "drain flow of the pump case", "flow", (), 0.07, 0.03 * _GPM, "bucket"
        ),
        "NAME case flow": Readable(
            "drain flow of the function's motor", "flow", (), 0.07, 0.03 * _GPM, "bucket"
        ),
        "oil temperature": Readable(
            "oil in the tank or at the pump", "temperature", (), 0.0, 3.0, "thermometer"
        ),
        "NAME command": Readable(
            "command that the function's valve gets", "fraction", (), 0.0, 0.01, "display"
        ),
        "NAME coil current": Readable(
            "current through the section's coil", "current", (), 0.02, 0.02, "multimeter"
        ),
        "NAME coil voltage": Readable(
            "supply voltage at the section's coil", "voltage", (), 0.01, 0.1, "multimeter"
        ),
        "NAME minimum trim": Readable(
            "least command at which it turns evenly", "fraction", (), 0.0, 0.02, "display"
        ),
        "NAME maximum trim": Readable(
            "command that gives its highest wanted speed", "fraction", (), 0.0, 0.02, "display"
        ),
        "NAME time": Readable("time of a cylinder's stroke", "time", (), 0.03, 0.3, "watch"),
        "NAME discharge": Readable(
            "mass per shaft turn, from a catch test", "mass_per_rev", (), 0.03, 0.0, "scale"
        ),
        "cooler heat": Readable("heat that the cooler rejects", "heat_flow", (), 0.15, 0.0),
        "noise": Readable(
            "noise of the pump", words=("none", "steady", "erratic"), instrument="ear"
        ),
        "oil look": Readable(
            "oil in the tank", words=("clear", "foam", "milky", "dark"), instrument="eye"
        ),
        "oil level": Readable(
            "level in the tank", words=("normal", "low", "rises"), instrument="eye"
        ),
        "other functions": Readable(
            "how the other functions move", words=("normal", "slow"), instrument="eye"
        ),
        "worse with oil": Readable(
            "at which oil temperature it is worse",
            words=("hot", "cold", "no difference"),
            instrument="eye",
        ),
        "worse with engine speed": Readable(
            "at which engine speed it is worse",
            words=("high", "low", "no difference"),
            instrument="eye",
        ),
        "worse with other functions": Readable(
            "whether it is slow only while another function runs",
            words=("yes", "no"),
            instrument="eye",
        ),
        "relief turned up": Readable(
            "flow over the relief while its screw is turned in",
            words=("flow falls away", "flow stays"),
            instrument="eye",
        ),
    }
)

POSSIBLE: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "shaft_speed": (0.0, 1e4 * _RPM),
        "fraction": (0.0, 1.0),
        "pressure": (0.0, 15e3 * _PSI),
        "vacuum": (0.0, 101325.0),
        "flow": (0.0, 500.0 * _GPM),
        "temperature": (213.15, 473.15),
        "current": (0.0, 20.0),
        "voltage": (0.0, 60.0),
        "time": (0.01, 3600.0),
        "mass_per_rev": (0.0, 500.0),
        "heat_flow": (0.0, 1e6),
    }
)
"""What can be read of each kind in SI; beyond lies a slip of the pen (ours; vacuum: 1 atm).
Speeds, flows and pressures are read without a sign, so that zero is the least."""

INSTRUMENTS: Final = (
    "tachometer", "gauge", "flow meter", "bucket", "thermometer", "multimeter", "display", "watch",
    "scale", "sensor", "eye", "ear",
)  # fmt: skip

TESTS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "coils swapped": "its coil swapped with that of a healthy section",
        "hoses swapped": "its hoses moved to a healthy section",
        "manual override": "its spool moved by the manual override on the valve",
        "uncoupled": "its shaft taken off the load",
        "port blocked": "its work port blocked, at a low command",
        "shaft held": "its shaft blocked so that it cannot turn",
    }
)
"""Field tests: what was done to the function while the reading was taken."""


@dataclass(frozen=True, slots=True)
class What:
    """What was read: an entry of `READABLES`, and the function where it has one."""

    key: str
    function: str = ""

    @property
    def readable(self) -> Readable:
        """The entry of the table."""
        return READABLES[self.key]

    def __str__(self) -> str:
        return self.key.replace(FUNCTION, self.function, 1)


def what_named(text: str) -> What:
    """The entry that a text names, `auger coil current` say. Raises DomainError for none.

    >>> what_named("auger coil current").function
    'auger'
    """
    words = " ".join(text.split())
    if words in READABLES and not words.startswith(FUNCTION):
        return What(words)
    own = sorted((k for k in READABLES if k.startswith(FUNCTION)), key=len, reverse=True)
    for key in own:
        end = key.removeprefix(FUNCTION)
        if words.endswith(end) and len(words) > len(end):
            return What(key, words.removesuffix(end))
    shown = words if len(words) <= 40 else words[:37] + "..."
    near = difflib.get_close_matches(words[:40], READABLES, 1, 0.6)
    if near and not near[0].startswith(FUNCTION):
        hint = f"did you mean '{near[0]}'?"
    else:
        hint = "here fits: " + ", ".join(READABLES)
    raise DomainError(f"'{shown}' is nothing that can be read; {hint}")
