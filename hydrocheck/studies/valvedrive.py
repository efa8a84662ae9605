"""What the valve drive makes of a trim: coil current, duty, drive frequency, breakaway boost."""

from __future__ import annotations

from dataclasses import dataclass

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.circuit import Coil, Function
from hydrocheck.physics import coils

RIPPLE = (0.20, 0.80)
"""Ripple that stirs the spool and does not hammer it, peak to peak, share of rated current."""

HOT_COIL = 373.15
"""Winding temperature of a hot coil [K]: 100 degC."""

FORMULA = "f = R / (4 L artanh(dI R / U)), half duty, dI from 20 to 80 % of rated current"
SOURCE = (
    "closed form of a switched coil; common practice: some tens of percent of ripple at 100-200 Hz"
)


@dataclass(frozen=True)
class ValveDrive:
    """The drive of one function's section.

    holds: what the driver holds, current or duty, empty where the file does not say
    low, high: band of the drive frequency that the coil's ripple asks [Hz]; None where values lack
    frequency: in use [Hz]; boost, boost_time: given in the file [1], [s]
    rated_current: [A], None without it; gaps: keys that lack
    """

    function: str
    holds: str
    rated_current: float | None
    frequency: float | None
    low: float | None
    high: float | None
    boost: float | None
    boost_time: float | None
    gaps: tuple[str, ...]

    def current(self, command: float) -> float | None:
        """Coil current at a command [A]: a command is a share of the rated current."""
        return None if self.rated_current is None else command * self.rated_current


def valve_drive(function: Function) -> ValveDrive | None:
    """The drive of a function's section; None without a coil in the truck file."""
    coil = function.section.coil
    if coil is None:
        return None
    needed = ("resistance", "inductance", "rated_current", "supply")
    gaps = [f"{function.name}.section.coil.{k}" for k in needed if getattr(coil, k) is None]
    low, high = (None, None) if gaps else frequency_band(function)
    return ValveDrive(
        function.name,
        coil.drive or "",
        _float(coil.rated_current),
        _float(coil.frequency),
        low,
        high,
        _float(coil.boost),
        _float(coil.boost_time),
        tuple(gaps),
    )


def frequency_band(function: Function) -> tuple[float, float]:
    """Drive frequencies at which the coil's ripple lies in `RIPPLE` [Hz]. Raises MissingValue."""
    coil = function.section.coil
    needed = ("resistance", "inductance", "rated_current", "supply")
    missing = [f"{function.name}.section.coil.{k}" for k in needed if getattr(coil, k) is None]
    if missing or coil is None:
        raise MissingValue(missing)
    rated = float(coil.rated_current or 0.0)
    low, high = coils.drive_frequency_band(
        RIPPLE[0] * rated,
        RIPPLE[1] * rated,
        float(coil.supply or 0.0),
        float(coil.resistance or 0.0),
        float(coil.inductance or 0.0),
    )
    return float(low), float(high)


def duty(coil: Coil, command: float, temperature: float) -> float:
    """Share of the supply voltage that drives a command through a coil [1]; above 1: out of reach.

    d = u I_rated R(T) / U

    temperature: of the winding [K]. Raises DomainError where the coil lacks values.
    """
    if coil.resistance is None or coil.rated_current is None or not coil.supply:
        raise DomainError("a duty needs the coil's resistance, rated current and supply")
    hot = coils.coil_resistance(float(coil.resistance), temperature)
    return float(command * float(coil.rated_current) * hot / float(coil.supply))


def _float(value: object) -> float | None:
    return None if value is None else float(value)  # type: ignore[arg-type]  # a number of the file
