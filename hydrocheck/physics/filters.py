"""Parts known by one flow and drop, and filters with a bypass. Also reached through `lines`.

Every function broadcasts; drops are zero at rest, take the sign of flow, and never warn.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics.arrays import Array, as_array

__all__ = [
    "bypass_share",
    "filter_drop",
    "filter_drop_and_slope",
    "rated_drop",
    "rated_drop_slope",
]


def rated_drop(
    flow: ArrayLike, rated_flow: ArrayLike, rated_drop: ArrayLike, exponent: ArrayLike = 2.0
) -> Array:
    """Pressure drop of a part that is known by one flow and its drop.

    dp = dp_r (|Q| / Q_r)^exponent, with the sign of flow

    flow: through the part [m3/s], broadcast
    rated_flow: at which the drop was stated [m3/s], above 0, broadcast
    rated_drop: stated drop [Pa], broadcast
    exponent: 2 for sharp edges, 1 for laminar parts, 1.75 for smooth turbulent ones [1], broadcast
    returns: drop [Pa], odd in flow

    Good near the rated flow and viscosity; at low flow in thick oil the true drop is greater.

    >>> float(rated_drop(-0.5, 1.0, 4e5))
    -100000.0

    Source: common practice.
    """
    q = as_array(flow)
    with np.errstate(all="ignore"):
        size = as_array(rated_drop) * (np.abs(q) / as_array(rated_flow)) ** as_array(exponent)
        return np.where(q == 0.0, 0.0, np.copysign(size, q))


def rated_drop_slope(
    flow: ArrayLike, rated_flow: ArrayLike, rated_drop: ArrayLike, exponent: ArrayLike = 2.0
) -> Array:
    """Rise with flow of the pressure drop of a part that is known by one flow and its drop.

    d dp / d Q = exponent dp_r / Q_r (|Q| / Q_r)^(exponent - 1)

    flow: through the part [m3/s], broadcast
    rated_flow: at which the drop was stated [m3/s], above 0, broadcast
    rated_drop: stated drop [Pa], broadcast
    exponent: at least 1 [1], broadcast; at rest the slope of a lower one is inf
    returns: slope [Pa s/m3]; 0 at rest for an exponent above 1

    Source: `rated_drop` differentiated; common practice.
    """
    part = as_array(rated_flow)
    power = as_array(exponent)
    with np.errstate(all="ignore"):
        share = np.abs(as_array(flow)) / part
        result: Array = power * as_array(rated_drop) / part * share ** (power - 1.0)
    return result


def filter_drop_and_slope(
    flow: ArrayLike,
    rated_flow: ArrayLike,
    rated_drop: ArrayLike,
    viscosity: ArrayLike,
    rated_viscosity: ArrayLike,
    bypass_cracking: ArrayLike | None = None,
    bypass_full: ArrayLike | None = None,
) -> tuple[Array, Array]:
    """Pressure drop of a filter with a bypass, and how steeply it rises with flow.

    element: dp = R Q, R = (dp_r / Q_r) (nu / nu_r)
    bypass: closed below p_c, then Q_b = Q_r (dp - p_c) / (p_f - p_c)
    both, beyond R Q = p_c: dp = R (Q w + Q_r p_c) / (w + Q_r R), w = p_f - p_c

    flow: through the filter [m3/s], broadcast
    rated_flow: of the stated drop; the bypass passes as much at its full pressure [m3/s], broadcast
    rated_drop: of the element at rated flow and viscosity [Pa], broadcast
    viscosity: kinematic, now [m2/s], broadcast
    rated_viscosity: kinematic, of the stated drop [m2/s], broadcast
    bypass_cracking: drop at which the bypass opens [Pa], None or inf without one, broadcast
    bypass_full: drop at which the bypass alone passes the rated flow [Pa], broadcast; held to
        bypass_cracking at least, None means equal to it
    returns: drop [Pa] and its slope [Pa s/m3], both continuous but for the slope's step at cracking

    A laminar element, as filter media are; a fouled one is a greater rated drop. Reverse flow goes
    through the element alone. The slope is 0 beyond cracking where bypass_full equals it.

    >>> drop, _ = filter_drop_and_slope(2e-3, 1e-3, 0.5e5, 320e-6, 32e-6, 2e5, 3e5)
    >>> round(float(drop) / 1e5, 2)
    3.33

    Source: Darcy's law of the element and a linear spring; common practice.
    """
    q, rated = as_array(flow), as_array(rated_flow)
    cracking = as_array(np.inf if bypass_cracking is None else bypass_cracking)
    full = cracking if bypass_full is None else as_array(bypass_full)
    with np.errstate(all="ignore"):
        resistance = (
            as_array(rated_drop) / rated * (as_array(viscosity) / as_array(rated_viscosity))
        )
        element = resistance * q
        width = np.where(np.isfinite(cracking), np.maximum(full - cracking, 0.0), 0.0)
        # A full pressure of inf is a bypass that never passes anything.
        opened = (element > cracking) & np.isfinite(width)
        both = width + rated * resistance
        drop = np.where(opened, resistance * (q * width + rated * cracking) / both, element)
        slope = np.where(opened, resistance * width / both, resistance)
    return drop, slope


def filter_drop(
    flow: ArrayLike,
    rated_flow: ArrayLike,
    rated_drop: ArrayLike,
    viscosity: ArrayLike,
    rated_viscosity: ArrayLike,
    bypass_cracking: ArrayLike | None = None,
    bypass_full: ArrayLike | None = None,
) -> Array:
    """Pressure drop of a filter with a bypass.

    A laminar element beside a spring-loaded bypass, as in `filter_drop_and_slope`.

    flow: through the filter [m3/s], broadcast
    rated_flow: of the stated drop; the bypass passes as much at its full pressure [m3/s], broadcast
    rated_drop: of the element at rated flow and viscosity [Pa], broadcast
    viscosity, rated_viscosity: kinematic, now and of the stated drop [m2/s], broadcast
    bypass_cracking: drop at which the bypass opens [Pa], None or inf without one, broadcast
    bypass_full: drop at which the bypass alone passes the rated flow [Pa], broadcast
    returns: drop [Pa]

    >>> round(float(filter_drop(1e-3, 1e-3, 0.5e5, 64e-6, 32e-6)))
    100000

    Source: Darcy's law of the element and a linear spring; common practice.
    """
    return filter_drop_and_slope(
        flow, rated_flow, rated_drop, viscosity, rated_viscosity, bypass_cracking, bypass_full
    )[0]


def bypass_share(
    flow: ArrayLike,
    rated_flow: ArrayLike,
    rated_drop: ArrayLike,
    viscosity: ArrayLike,
    rated_viscosity: ArrayLike,
    bypass_cracking: ArrayLike | None = None,
    bypass_full: ArrayLike | None = None,
) -> Array:
    """Share of a filter's flow that goes round the element, unfiltered.

    1 - dp / (R Q), dp as in `filter_drop_and_slope`

    flow: through the filter [m3/s], broadcast
    rated_flow: of the stated drop; the bypass passes as much at its full pressure [m3/s], broadcast
    rated_drop: of the element at rated flow and viscosity [Pa], broadcast
    viscosity, rated_viscosity: kinematic, now and of the stated drop [m2/s], broadcast
    bypass_cracking: drop at which the bypass opens [Pa], None or inf without one, broadcast
    bypass_full: drop at which the bypass alone passes the rated flow [Pa], broadcast
    returns: share [1], 0 while the bypass is closed

    >>> round(float(bypass_share(2e-3, 1e-3, 0.5e5, 320e-6, 32e-6, 2e5, 3e5)), 3)
    0.667

    Source: Darcy's law of the element and a linear spring; common practice.
    """
    q = as_array(flow)
    drop = filter_drop(
        q, rated_flow, rated_drop, viscosity, rated_viscosity, bypass_cracking, bypass_full
    )
    with np.errstate(all="ignore"):
        ratio = as_array(viscosity) / as_array(rated_viscosity)
        element = as_array(rated_drop) / as_array(rated_flow) * ratio * q
        return np.where(element > drop, 1.0 - drop / element, 0.0)
