"""How long current and pressure take to rise: what a short boost of the command must outlast."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.errors import DomainError
from hydrocheck.physics.arrays import Array, as_array

__all__ = ["current_rise_time", "pressure_rise_time"]


def current_rise_time(
    resistance: ArrayLike, inductance: ArrayLike, share: ArrayLike = 0.95
) -> Array:
    """Return the time in which a coil takes a share of a step of its voltage as current.

    t = -(L / R) ln(1 - share)

    resistance: at the present temperature [ohm], above 0, broadcast
    inductance: of the coil [H], above 0, broadcast
    share: of the step [1], from 0 to below 1, refused outside, broadcast
    returns: time [s]

    Constant inductance; a driver that holds current takes less, since it applies the whole supply.
    Source: first-order circuit; three time constants give 95 %:

    >>> round(float(current_rise_time(5.0, 0.05)), 4)
    0.03
    """
    r, henry, part = as_array(resistance), as_array(inductance), as_array(share)
    if np.any(r <= 0.0) or np.any(henry <= 0.0):
        raise DomainError("a coil's resistance and inductance must be above zero")
    if np.any(part < 0.0) or np.any(part >= 1.0):
        raise DomainError("the share of a step must be from 0 to below 1")
    return np.asarray(-(henry / r) * np.log1p(-part))


def pressure_rise_time(
    volume: ArrayLike,
    modulus: ArrayLike,
    flow: ArrayLike,
    slip: ArrayLike,
    pressure: ArrayLike,
) -> Array:
    """Return the time in which a flow raises the pressure in a closed volume with a leak.

    (V / B) dp/dt = q - k p,  t = V / (B k) ln(q / (q - k p)); without slip t = V p / (B q)

    volume: of oil between section and motor [m3], not negative, broadcast
    modulus: effective, of the oil with its air and of the hose [Pa], above 0, broadcast
    flow: into the volume [m3/s], not negative, broadcast
    slip: of the standing motor [m3/(s Pa)], not negative, broadcast
    pressure: rise that is wanted [Pa], not negative, broadcast
    returns: time [s]; inf where the slip takes all the flow before

    Constant flow and modulus. Source: compressibility of a volume with a laminar leak (first-order
    filling). One litre at 1 GPa takes 10 ml for 100 bar:

    >>> round(float(pressure_rise_time(1e-3, 1e9, 1e-4, 0.0, 1e7)), 6)
    0.1
    """
    v, b, q, k, p = (as_array(x) for x in (volume, modulus, flow, slip, pressure))
    if np.any(b <= 0.0) or any(np.any(x < 0.0) for x in (v, q, k, p)):
        raise DomainError(
            "volume, flow, slip and pressure must not be negative, modulus above zero"
        )
    with np.errstate(all="ignore"):
        lost = k * p / q
        # -ln(1 - x) / x, which is 1 where nothing leaks.
        grows = np.where(lost > 0.0, -np.log1p(-np.minimum(lost, 1.0)) / lost, 1.0)
        time = v * p / (b * q) * grows
    reached = np.where(p > 0.0, (q > 0.0) & (lost < 1.0), True)
    return np.where(p == 0.0, 0.0, np.where(reached, time, np.inf))
