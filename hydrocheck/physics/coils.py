"""Coils of proportional valves: resistance, current, ripple and drive frequency.

Arguments are floats or arrays and broadcast together. Values that mean nothing (a resistance that
is not positive, a duty above 1) raise DomainError.
Public names are also reached through `hydrocheck.physics.valves`.
"""

from __future__ import annotations

import numpy as np

from hydrocheck.errors import DomainError
from hydrocheck.physics._guard import (
    Real,
    require_fraction,
    require_not_negative,
    require_positive,
)

COPPER_COEFFICIENT = 0.00393
"""Rise of the resistance of copper per kelvin, on its value at 20 degC [1/K] (from memory)."""

REFERENCE_TEMPERATURE = 293.15
"""Temperature at which a coil's resistance is stated [K]."""


def coil_resistance(
    resistance_20: Real, temperature: Real, coefficient: Real = COPPER_COEFFICIENT
) -> Real:
    """Return the resistance of a coil at its winding temperature.

    R = R_20 (1 + a (T - 293.15 K))

    resistance_20: at 20 degC [ohm]
    temperature: of the winding [K]
    coefficient: rise per kelvin a [1/K]
    returns: resistance [ohm]; all arguments broadcast

    Linear; good from about -50 to 150 degC. Refused where the result would not be positive.
    Source: standard value of copper, from memory. A coil at 100 degC has 1.31 times its resistance:
    >>> round(coil_resistance(1.0, 373.15), 2)
    1.31
    """
    require_positive(coil_resistance=resistance_20, temperature=temperature)
    factor = 1.0 + coefficient * (temperature - REFERENCE_TEMPERATURE)
    if np.any(np.asarray(factor) <= 0.0):
        raise DomainError("coil temperature is too low for a linear resistance")
    return resistance_20 * factor


def coil_current(voltage: Real, resistance: Real, duty: Real = 1.0) -> Real:
    """Return the mean current of a coil.

    I = d U / R

    voltage: of the supply [V], zero or above
    resistance: at the present temperature [ohm]
    duty: fraction of the time under voltage [1], 0 to 1, refused outside
    returns: mean current [A]; all arguments broadcast

    Assumes an ideal switch and freewheel path, and current that does not reach zero in between.
    Source: Ohm's law. Hobby forum case: 12 V on 30 ohm.
    >>> coil_current(12.0, 30.0)
    0.4
    """
    require_not_negative(voltage=voltage)
    require_positive(resistance=resistance)
    require_fraction(duty=duty)
    return duty * voltage / resistance


def coil_ripple(
    voltage: Real, resistance: Real, inductance: Real, frequency: Real, duty: Real = 0.5
) -> Real:
    """Return the peak-to-peak current ripple of a switched coil.

    dI = (U / R) (1 - e^(-d x)) (1 - e^(-(1 - d) x)) / (1 - e^-x),  x = R / (L f)

    voltage: of the supply [V], zero or above
    resistance: at the present temperature [ohm]
    inductance: of the coil [H]
    frequency: of the drive [Hz]
    duty: fraction of the time under voltage [1], 0 to 1, refused outside
    returns: ripple, peak to peak [A]; all arguments broadcast

    Steady state of a resistance and a constant inductance with an ideal freewheel path. A real
    coil's inductance falls with saturation and stroke, so its ripple is larger.
    Source: closed form of the first-order circuit. 12 V, 5.3 ohm, 12 mH at 100 Hz, of 1.5 A:
    >>> round(100 * float(coil_ripple(12.0, 5.3, 0.012, 100.0)) / 1.5)
    121
    """
    require_not_negative(voltage=voltage)
    require_positive(resistance=resistance, inductance=inductance, frequency=frequency)
    require_fraction(duty=duty)
    span = resistance / (inductance * frequency)
    charge = np.expm1(-duty * span) * np.expm1(-(1.0 - duty) * span)
    ripple: Real = voltage / resistance * charge / -np.expm1(-span)
    return ripple


def drive_frequency(ripple: Real, voltage: Real, resistance: Real, inductance: Real) -> Real:
    """Return the drive frequency at which the ripple at half duty has a wanted size.

    f = R / (4 L artanh(dI R / U))

    ripple: wanted, peak to peak [A], above 0
    voltage: of the supply [V]
    resistance: at the present temperature [ohm]
    inductance: of the coil [H]
    returns: frequency [Hz]; 0 where even the slowest drive ripples less; all arguments broadcast

    Half duty is where the ripple is largest. Source: inverse of `coil_ripple` at a duty of 0.5.
    """
    require_positive(ripple=ripple, voltage=voltage, resistance=resistance, inductance=inductance)
    part = np.asarray(ripple * resistance / voltage)
    reachable = part < 1.0
    turns = np.arctanh(np.where(reachable, part, 0.5))
    frequency: Real = np.where(reachable, resistance / (4.0 * inductance * turns), 0.0)[()]
    return frequency


def drive_frequency_band(
    low_ripple: Real, high_ripple: Real, voltage: Real, resistance: Real, inductance: Real
) -> tuple[Real, Real]:
    """Return the drive frequencies between which the ripple at half duty stays in a range.

    low_ripple: smallest wanted ripple, peak to peak [A], above 0
    high_ripple: largest wanted ripple, peak to peak [A], above the smallest, refused otherwise
    voltage: of the supply [V]
    resistance: at the present temperature [ohm]
    inductance: of the coil [H]
    returns: lowest and highest frequency [Hz]; all arguments broadcast

    Too much ripple hammers the spool; too little lets it stick. A ripple of some tens of percent
    of the rated current at 100 to 200 Hz is usual (common practice).
    Source: `drive_frequency`.
    """
    if np.any(np.asarray(low_ripple) >= high_ripple):
        raise DomainError("low ripple must be smaller than high ripple")
    lowest = drive_frequency(high_ripple, voltage, resistance, inductance)
    highest = drive_frequency(low_ripple, voltage, resistance, inductance)
    return lowest, highest
