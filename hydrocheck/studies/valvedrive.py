"""What the valve drive makes of a trim: coil current, duty, drive frequency, breakaway boost."""

from __future__ import annotations

from dataclasses import dataclass

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.circuit import Coil, Function
from hydrocheck.model.truck import Truck
from hydrocheck.physics import coils
from hydrocheck.physics.coils import REFERENCE_TEMPERATURE

FREQUENCY = "f = R / (4 L artanh(dI R / U)) at half duty, dI from {low} to {high} of rated current"
FREQUENCY_SOURCE = (
    "closed form of a switched coil; common practice: some tens of percent of ripple at 100-200 Hz"
)
BOOST = (
    "command of q = slip x breakaway torque / (D x starting efficiency), less the command that "
    "keeps the shaft turning; hottest oil, full hopper"
)
BOOST_SOURCE = "statics of the motor and its slip; breakaway factor of the truck file"


@dataclass(frozen=True)
class ValveDrive:
    """The drive of one function's section.

    holds: what the driver holds, current or duty, empty where the file does not say
    low, high: band of the drive frequency that the coil's ripple asks [Hz]; None where values lack
    frequency: in use [Hz]; boost, boost_time: given in the file [1], [s]
    coil: of the truck file; hot: winding temperature of a hot coil [K]
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
    coil: Coil
    hot: float
    gaps: tuple[str, ...]

    def current(self, command: float) -> float | None:
        """Coil current at a command [A]: a command is a share of the rated current."""
        return None if self.rated_current is None else command * self.rated_current

    def duties(self, command: float) -> tuple[float, float] | None:
        """Duty of a command with a coil at 20 degC and with a hot one [1]; None where values lack.

        Only where the driver holds the duty: one that holds current finds its own.
        """
        coil = self.coil
        lacks = None in (coil.resistance, coil.rated_current, coil.supply)
        if self.holds != "duty" or lacks:
            return None
        return duty(coil, command, REFERENCE_TEMPERATURE), duty(coil, command, self.hot)


def valve_drive(truck: Truck, function: Function) -> ValveDrive | None:
    """The drive of a function's section; None without a coil in the truck file."""
    coil = function.section.coil
    if coil is None:
        return None
    needed = ("resistance", "inductance", "rated_current", "supply")
    gaps = [f"{function.name}.section.coil.{k}" for k in needed if getattr(coil, k) is None]
    low, high = (None, None) if gaps else frequency_band(truck, function)
    return ValveDrive(
        function.name,
        coil.drive or "",
        _float(coil.rated_current),
        _float(coil.frequency),
        low,
        high,
        _float(coil.boost),
        _float(coil.boost_time),
        coil,
        float(truck.limits.coil_temperature),
        tuple(gaps),
    )


def frequency_band(truck: Truck, function: Function) -> tuple[float, float]:
    """Drive frequencies at which the coil's ripple lies between the limits of the truck [Hz].

    Raises MissingValue.
    """
    coil = function.section.coil
    needed = ("resistance", "inductance", "rated_current", "supply")
    missing = [f"{function.name}.section.coil.{k}" for k in needed if getattr(coil, k) is None]
    if missing or coil is None:
        raise MissingValue(missing)
    rated, limits = float(coil.rated_current or 0.0), truck.limits
    low, high = coils.drive_frequency_band(
        float(limits.ripple_low) * rated,
        float(limits.ripple_high) * rated,
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
