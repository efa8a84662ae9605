"""Saybolt Universal seconds and kinematic viscosity at 100 degF."""

from __future__ import annotations

from typing import Final

from hydrocheck.errors import UnitError

_CST: Final = 1e-6
# The conversion tables begin here; below it the efflux time says nothing about viscosity.
LEAST_CST: Final = 1.81
_FAR: Final = 1e6


def _seconds(nu: float) -> float:
    """Saybolt seconds of a viscosity in cSt, without a range check."""
    if nu > _FAR:
        return 4.6324 * nu
    tail = 3930.2 + nu * (262.7 + nu * (23.97 + nu * 1.646))
    return 4.6324 * nu + 1e5 * (1.0 + 0.03264 * nu) / tail


LEAST_SECONDS: Final = _seconds(LEAST_CST)


def seconds_from_viscosity(viscosity: float) -> float:
    """Saybolt Universal seconds at 100 degF of a kinematic viscosity.

    U = 4.6324 nu + (1 + 0.03264 nu) / ((3930.2 + 262.7 nu + 23.97 nu^2 + 1.646 nu^3) 1e-5),
    nu in cSt.

    viscosity [m2/s], scalar; at least 1.81 cSt, else UnitError.

    Source: ASTM D2161 (conversion of kinematic viscosity to Saybolt viscosity), equation for
    100 degF, from memory; checked against a published example.
    """
    nu = viscosity / _CST
    if not nu >= LEAST_CST * (1.0 - 1e-12):
        raise UnitError(f"below {LEAST_CST} cSt there is no Saybolt viscosity; use cSt")
    return _seconds(nu)


def viscosity_from_seconds(seconds: float) -> float:
    """Kinematic viscosity of Saybolt Universal seconds at 100 degF: the inverse, by bisection.

    seconds [s], scalar; at least 32.0, else UnitError. Returns [m2/s].

    >>> round(viscosity_from_seconds(230.0) * 1e6, 2)
    49.44

    Source: as `seconds_from_viscosity`; it rises steadily, so that the root is the only one.
    """
    if not seconds >= LEAST_SECONDS * (1.0 - 1e-12):
        raise UnitError(
            f"Saybolt seconds begin at {LEAST_SECONDS:.1f} SUS; give thinner oil in cSt"
        )
    low, high = LEAST_CST, max(seconds / 4.6324, LEAST_CST)
    while True:
        middle = 0.5 * (low + high)
        if not low < middle < high:
            return middle * _CST
        if _seconds(middle) < seconds:
            low = middle
        else:
            high = middle
