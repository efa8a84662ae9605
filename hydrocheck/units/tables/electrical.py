"""Electrical kinds: coils and sensors."""

from __future__ import annotations

from typing import Final

from hydrocheck.units.factors import MILE
from hydrocheck.units.kind import Display, Kind, si, us

KINDS: Final = (
    Kind(
        "current", "current", "A", "ampere",
        (si(1.0, "ampere", "A"), si(1e-3, "milliampere", "mA")),
        us=Display("A", 3), metric=Display("A", 3),
    ),
    Kind(
        "voltage", "voltage", "V", "volt",
        (us(1.0, "volt", "V", "VDC", "V DC"), si(1e-3, "millivolt", "mV")),
        us=Display("V", 2), metric=Display("V", 2),
        refused={"VAC": "a coil supply is direct current: V"},
    ),
    Kind(
        "resistance", "resistance", "ohm", "ohm",
        (us(1.0, "ohm", "ohm"), si(1e-3, "milliohm", "mohm"), us(1e3, "kiloohm", "kohm")),
        us=Display("ohm", 2), metric=Display("ohm", 2),
    ),
    Kind(
        "inductance", "inductance", "H", "henry",
        (si(1e-3, "millihenry", "mH"), si(1.0, "henry", "H"), si(1e-6, "microhenry", "uH")),
        us=Display("mH", 1), metric=Display("mH", 1),
    ),
    Kind(
        "frequency", "frequency", "Hz", "hertz",
        (us(1.0, "hertz", "Hz"), us(1e3, "kilohertz", "kHz")),
        us=Display("Hz", 0), metric=Display("Hz", 0),
        refused={"rpm": "rpm is a shaft speed; a frequency is written Hz"},
    ),
    Kind(
        "pulses_per_distance", "pulses per distance", "1/m", "1/meter",
        (
            us(1.0 / MILE, "1/mile", "pulses/mile", "1/mile", "counts/mile"),
            us(1e-3, "1/kilometer", "pulses/km", "1/km", "counts/km"),
            si(1.0, "1/meter", "1/m", "pulses/m"),
        ),
        us=Display("pulses/mile", 0), metric=Display("pulses/km", 0),
    ),
    Kind(
        "pulses_per_turn", "pulses per revolution", "1/rad", "1/radian",
        (
            us(0.15915494309189535, "1/revolution", "pulses/rev", "ppr", "counts/rev", "1/rev"),
            us(1.0, "1/radian", "1/rad"),
        ),
        us=Display("pulses/rev", 0), metric=Display("pulses/rev", 0), angle=(-1,),
    ),
)  # fmt: skip
