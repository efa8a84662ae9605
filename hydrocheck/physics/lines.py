"""Lines: velocity, Reynolds number, friction and fittings.

Filters and rated parts live in `filters`, the pump inlet and tubes in `plumbing`; all their names
are reached here too. Every function broadcasts; a scalar in gives a 0-d result. Viscosity is
kinematic. Drops are odd in flow, zero at rest, and never warn: what means nothing (a bore of zero)
comes out as nan or inf.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.physics._guard import require_positive
from hydrocheck.physics.arrays import Array, as_array
from hydrocheck.physics.filters import (
    bypass_share,
    filter_drop,
    filter_drop_and_slope,
    rated_drop,
    rated_drop_slope,
)
from hydrocheck.physics.plumbing import (
    atmospheric_pressure,
    dash_bore,
    head_pressure,
    inlet_absolute_pressure,
    pressure_head,
    tube_working_pressure,
)

__all__ = [
    "REGIMES",
    "atmospheric_pressure",
    "bore_for_velocity",
    "bypass_share",
    "dash_bore",
    "drop_and_slope",
    "equivalent_length",
    "filter_drop",
    "filter_drop_and_slope",
    "flow_at_velocity",
    "friction_drop",
    "friction_factor",
    "head_pressure",
    "inlet_absolute_pressure",
    "minor_loss_drop",
    "pressure_drop",
    "pressure_drop_slope",
    "pressure_head",
    "rated_drop",
    "rated_drop_slope",
    "regime",
    "reynolds",
    "tube_working_pressure",
    "turbulent_excess",
    "velocity",
    "velocity_at_reynolds",
]

LAMINAR_END = 2000.0
"""Reynolds number up to which flow counts as laminar."""
TURBULENT_START = 4000.0
"""Reynolds number from which flow counts as turbulent."""
REGIMES = ("laminar", "transition", "turbulent")
"""Names of the codes that `regime` gives."""

LOW_REYNOLDS = 1000.0
"""Default of `low_reynolds`, K1 over K in the two-K method: 1000 for a swing check and for a tee
used as an elbow, 2000 for a threaded elbow, 375 for a globe valve (Hooper 1981, from memory)."""

# Roughest wall for which Colebrook's law was drawn up.
_ROUGHEST = 0.05


def velocity(flow: ArrayLike, bore: ArrayLike) -> Array:
    """Mean velocity in a round line.

    v = 4 Q / (pi d^2)

    flow: through the line [m3/s], broadcast
    bore: inside diameter [m], broadcast
    returns: velocity [m/s], with the sign of flow

    >>> round(float(velocity(0.001, 0.03)), 2)
    1.41

    Source: Fluid Power with Applications, 6th ed., 2005, Example 3-14 (60 L/min, 30 mm).
    """
    with np.errstate(all="ignore"):
        return as_array(flow) / (0.25 * np.pi * as_array(bore) ** 2)


def bore_for_velocity(flow: ArrayLike, velocity: ArrayLike) -> Array:
    """Bore at which a flow has a velocity.

    d = sqrt(4 Q / (pi v))

    flow: through the line [m3/s], broadcast; its sign is left out
    velocity: wanted [m/s], above 0, broadcast, refused outside with DomainError
    returns: inside diameter [m]

    >>> round(float(bore_for_velocity(0.001892705892, 6.096)) / 0.0254, 3)
    0.783

    Source: Fluid Power with Applications, 6th ed., 2005, Example 10-1 (30 gal/min, 20 ft/s).
    """
    speed = as_array(velocity)
    require_positive(velocity=speed)
    result: Array = np.sqrt(np.abs(as_array(flow)) / (0.25 * np.pi * speed))
    return result


def flow_at_velocity(velocity: ArrayLike, bore: ArrayLike) -> Array:
    """Flow of a round line at a mean velocity.

    Q = v pi d^2 / 4

    velocity: mean [m/s], broadcast
    bore: inside diameter [m], broadcast
    returns: flow [m3/s], with the sign of velocity

    >>> round(float(flow_at_velocity(3.048, 1.049 * 0.0254)) / 6.30901964e-5, 1)
    26.9

    Source: a distributor's line-sizing table for schedule 40 pipe (1 in, 10 ft/s); common practice.
    """
    return as_array(velocity) * (0.25 * np.pi) * as_array(bore) ** 2


def reynolds(velocity: ArrayLike, bore: ArrayLike, viscosity: ArrayLike) -> Array:
    """Reynolds number of a round line.

    Re = |v| d / nu

    velocity: mean [m/s], broadcast
    bore: inside diameter [m], broadcast
    viscosity: kinematic [m2/s], broadcast
    returns: Reynolds number [1], never negative

    >>> round(float(reynolds(3.048, 0.0254, 100e-6)))
    774

    Source: Fluid Power with Applications, 6th ed., 2005, Example 4-1 (10 ft/s, 1 in, 100 cSt).
    """
    with np.errstate(all="ignore"):
        return np.abs(as_array(velocity)) * as_array(bore) / as_array(viscosity)


def velocity_at_reynolds(reynolds: ArrayLike, bore: ArrayLike, viscosity: ArrayLike) -> Array:
    """Mean velocity at a Reynolds number, as for the end of laminar flow.

    v = Re nu / d

    reynolds: Reynolds number [1], broadcast
    bore: inside diameter [m], broadcast
    viscosity: kinematic [m2/s], broadcast
    returns: velocity [m/s]

    >>> round(float(velocity_at_reynolds(4000, 0.0254, 0.027 / 850.0)) * 100, 2)
    500.23

    Source: Fluid Power: Theory and Applications, 4th ed. (1998), Example 4.5.
    """
    with np.errstate(all="ignore"):
        return as_array(reynolds) * as_array(viscosity) / as_array(bore)


def regime(reynolds: ArrayLike) -> NDArray[np.int8]:
    """Flow regime as a small number, the index of its name in `REGIMES`.

    0 laminar up to Re 2000, 2 turbulent from Re 4000, 1 transition between

    reynolds: Reynolds number [1], any shape
    returns: codes of the same shape; nan counts as laminar

    >>> [REGIMES[i] for i in regime([774, 3000, 9799])]
    ['laminar', 'transition', 'turbulent']

    Source: common practice.
    """
    number = as_array(reynolds)
    return np.asarray((number > LAMINAR_END).astype(np.int8) + (number >= TURBULENT_START))


def friction_factor(reynolds: ArrayLike, relative_roughness: ArrayLike) -> Array:
    """Darcy friction factor of a round line.

    laminar, Re <= 2000: f = 64 / Re
    turbulent, Re >= 4000: 1/sqrt(f) = -2 log10(e/3.7 + 2.51/(Re sqrt(f))), Colebrook
    between: f Re^2 is a cubic in Re that meets both in value and slope, and rises throughout

    reynolds: Reynolds number [1], broadcast; inf at 0
    relative_roughness: wall roughness over bore [1], 0 to 0.05, broadcast; held to that range
    returns: Darcy friction factor [1], four times Fanning's

    Colebrook is met within 0.05 % by one Newton step. The blend is a convention: real flow between
    Re 2000 and 4000 may be anything from laminar to turbulent.

    >>> round(float(friction_factor(1e5, 1e-4)), 4)
    0.0185

    Source: 64/Re and Colebrook (1939), from memory. Example: package fluids, friction_factor.
    """
    number = as_array(reynolds)
    with np.errstate(all="ignore"):
        product, _ = _friction_product(number, as_array(relative_roughness))
        result: Array = product / np.square(np.broadcast_to(number, np.shape(product)))
        return np.where(number == 0.0, np.inf, result)


def _friction_product(number: Array, roughness: Array) -> tuple[Array, Array]:
    """f Re^2 and its derivative with respect to Re; turbulent terms only where Re > 2000."""
    product, slope = 64.0 * number, np.full(np.shape(number), 64.0)
    beyond = number > LAMINAR_END
    if not beyond.any():
        return product, slope
    shape = np.broadcast_shapes(number.shape, roughness.shape)
    product = np.array(np.broadcast_to(product, shape))
    slope = np.array(np.broadcast_to(slope, shape))
    beyond = np.broadcast_to(beyond, shape)
    fast = np.broadcast_to(number, shape)[beyond]
    wall = np.clip(np.broadcast_to(roughness, shape)[beyond], 0.0, _ROUGHEST) / 3.7
    product[beyond], slope[beyond] = _beyond_laminar(fast, wall)
    return product, slope


def _beyond_laminar(number: Array, wall: Array) -> tuple[Array, Array]:
    """f Re^2 and its derivative for Re > 2000; wall is the relative roughness over 3.7."""
    product, slope = _turbulent(np.maximum(number, TURBULENT_START), wall)
    blend = np.flatnonzero(number < TURBULENT_START)
    if blend.size:
        width = TURBULENT_START - LAMINAR_END
        t = (number[blend] - LAMINAR_END) / width
        low, low_slope = 64.0 * LAMINAR_END, 64.0 * width
        rise, high_slope = product[blend] - low, slope[blend] * width
        # Hermite cubic. Both end slopes are below three times the mean slope, so it rises
        # throughout (Fritsch and Carlson 1980).
        square = 3.0 * rise - 2.0 * low_slope - high_slope
        cube = low_slope + high_slope - 2.0 * rise
        product[blend] = low + t * (low_slope + t * (square + t * cube))
        slope[blend] = (low_slope + t * (2.0 * square + t * 3.0 * cube)) / width
    return product, slope


def _turbulent(number: Array, wall: Array) -> tuple[Array, Array]:
    """f Re^2 and its derivative by Colebrook's law, one Newton step from an explicit guess."""
    per_log = 2.0 / np.log(10.0)
    share = 2.51 / number
    guess = -per_log * np.log(wall + 12.0 / number)
    inner = wall + share * guess
    root = guess - (guess + per_log * np.log(inner)) / (1.0 + per_log * share / inner)
    # root is 1/sqrt(f); d root/d Re from Colebrook's law itself.
    pull = per_log * share / (wall + share * root)
    product = np.square(number / root)
    slope = 2.0 * number / np.square(root) * (1.0 - pull / (1.0 + pull))
    return product, slope


def turbulent_excess(reynolds: Array, relative_roughness: Array) -> tuple[Array, Array]:
    """How far f Re^2 lies above its laminar value, and how that rises, beyond laminar flow.

    excess = f Re^2 - 64 Re

    reynolds: Reynolds number [1], above 2000, not checked: it sits in the solver's inner loop
    relative_roughness: wall roughness over bore [1], held to 0 to 0.05, of a shape that fits
    returns: excess [1] and d excess / d Re [1]

    f as in `friction_factor`.

    >>> excess, _ = turbulent_excess(np.array([1e5]), np.array([1e-4]))
    >>> round(float((excess[0] + 64e5) / 1e10), 4)
    0.0185

    Source: Colebrook (1939), from memory. Example: package fluids, friction_factor.
    """
    wall = np.minimum(relative_roughness, _ROUGHEST) / 3.7
    product, slope = _beyond_laminar(reynolds, np.broadcast_to(wall, reynolds.shape))
    return product - 64.0 * reynolds, slope - 64.0


def friction_drop(
    friction_factor: ArrayLike,
    velocity: ArrayLike,
    bore: ArrayLike,
    length: ArrayLike,
    density: ArrayLike,
) -> Array:
    """Pressure drop of a line whose friction factor is known.

    dp = f (L / d) rho v |v| / 2, Darcy-Weisbach

    friction_factor: Darcy's, four times Fanning's [1], broadcast
    velocity: mean [m/s], broadcast
    bore: inside diameter [m], broadcast
    length: of the line [m], broadcast
    density: of the oil [kg/m3], broadcast
    returns: drop [Pa], with the sign of velocity

    >>> round(float(friction_drop(64 / 774.192, 3.048, 0.0254, 30.48, 900.0)) / 6894.757, 0)
    60.0

    Source: Fluid Power with Applications, 6th ed., 2005, Example 4-3.
    """
    factor = as_array(friction_factor) * as_array(length) / as_array(bore)
    return minor_loss_drop(factor, velocity, density)


def minor_loss_drop(loss_factor: ArrayLike, velocity: ArrayLike, density: ArrayLike) -> Array:
    """Pressure drop of fittings at full turbulence.

    dp = K rho v |v| / 2

    loss_factor: sum of the K values [1], broadcast
    velocity: mean, in the bore that K belongs to [m/s], broadcast
    density: of the oil [kg/m3], broadcast
    returns: drop [Pa], with the sign of velocity

    Too low below about Re 10000: `pressure_drop` adds the laminar term.

    >>> speed = velocity(0.02, 0.05)
    >>> round(float(pressure_head(minor_loss_drop(0.19, speed, 900.0), 900.0)), 2)
    1.01

    Source: Fluid Power with Applications, 6th ed., 2005, Example 4-7.
    """
    speed = as_array(velocity)
    return as_array(loss_factor) * as_array(density) * 0.5 * speed * np.abs(speed)


def equivalent_length(loss_factor: ArrayLike, friction_factor: ArrayLike, bore: ArrayLike) -> Array:
    """Length of straight line that loses as much as a fitting.

    L = K d / f

    loss_factor: K of the fitting [1], broadcast
    friction_factor: Darcy's [1], broadcast
    bore: inside diameter [m], broadcast
    returns: length [m]

    >>> round(float(equivalent_length(2.5, 0.045, 1.0 / 12.0)), 2)
    4.63

    Source: Fluid Power: Theory and Applications, 4th ed. (1998), Example 5.6, in feet.
    """
    return as_array(loss_factor) * as_array(bore) / as_array(friction_factor)


def drop_and_slope(
    flow: ArrayLike,
    bore: ArrayLike,
    length: ArrayLike,
    roughness: ArrayLike,
    loss_factor: ArrayLike,
    density: ArrayLike,
    viscosity: ArrayLike,
    low_reynolds: ArrayLike = LOW_REYNOLDS,
) -> tuple[Array, Array]:
    """Pressure drop of a line with its fittings, and how steeply it rises with flow.

    dp = (f L / d + K (1 + low_reynolds / Re)) rho v^2 / 2, with the sign of flow

    flow: through the line [m3/s], broadcast
    bore: inside diameter [m], broadcast
    length: of the line [m], broadcast
    roughness: height of the wall's roughness [m], broadcast
    loss_factor: sum of the K values of the fittings [1], broadcast
    density: of the oil [kg/m3], broadcast
    viscosity: kinematic [m2/s], broadcast
    low_reynolds: K1 over K of the two-K method [1], 0 for textbook fittings, broadcast
    returns: drop [Pa], odd in flow and strictly rising; slope d drop / d flow [Pa s/m3], above 0
        (from the laws themselves: exact when laminar, within 0.1 % elsewhere)

    f as in `friction_factor`. Developed flow in a straight line: entrance length, coiling and the
    swelling of hoses are left out. A line with no length and no fittings loses nothing.

    >>> drop, slope = drop_and_slope(0.0005, 0.0127, 3.0, 1e-5, 0.0, 870.0, 46e-6)
    >>> round(float(drop) / 1e5, 2), round(float(slope) / 1e5)
    (0.94, 1880)

    Source: Darcy-Weisbach; two-K method for fittings, W. B. Hooper, Chemical Engineering, 1981,
    from memory.
    """
    q, d = as_array(flow), as_array(bore)
    nu, k = as_array(viscosity), as_array(loss_factor)
    with np.errstate(all="ignore"):
        per_flow = 4.0 / (np.pi * d * nu)
        number = np.abs(q) * per_flow
        product, rise = _friction_product(number, as_array(roughness) / d)
        linear = k * as_array(low_reynolds)
        slender = as_array(length) / d
        scale = 0.5 * as_array(density) * np.square(nu / d)
        drop = np.copysign(scale * (slender * product + number * (linear + k * number)), q)
        slope = scale * per_flow * (slender * rise + linear + 2.0 * k * number)
    return drop, slope


def pressure_drop(
    flow: ArrayLike,
    bore: ArrayLike,
    length: ArrayLike,
    roughness: ArrayLike,
    loss_factor: ArrayLike,
    density: ArrayLike,
    viscosity: ArrayLike,
    low_reynolds: ArrayLike = LOW_REYNOLDS,
) -> Array:
    """Pressure drop of a line with its fittings.

    dp = (f L / d + K (1 + low_reynolds / Re)) rho v^2 / 2, with the sign of flow

    flow: through the line [m3/s], broadcast
    bore, length: inside diameter and length [m], broadcast
    roughness: height of the wall's roughness [m], broadcast
    loss_factor: sum of the K values of the fittings [1], broadcast
    density: of the oil [kg/m3], broadcast
    viscosity: kinematic [m2/s], broadcast
    low_reynolds: K1 over K of the two-K method [1], 0 for textbook fittings, broadcast
    returns: drop [Pa], odd in flow and strictly rising

    Assumptions as in `drop_and_slope`.

    >>> flow = flow_at_velocity(3.048, 0.0254)
    >>> round(float(pressure_drop(flow, 0.0254, 30.48, 0.0, 0.0, 899.2, 1e-4)) / 1e3, 1)
    414.4

    Source: Darcy-Weisbach. Example: package fluids, one_phase_dP.
    """
    return drop_and_slope(
        flow, bore, length, roughness, loss_factor, density, viscosity, low_reynolds
    )[0]


def pressure_drop_slope(
    flow: ArrayLike,
    bore: ArrayLike,
    length: ArrayLike,
    roughness: ArrayLike,
    loss_factor: ArrayLike,
    density: ArrayLike,
    viscosity: ArrayLike,
    low_reynolds: ArrayLike = LOW_REYNOLDS,
) -> Array:
    """Rise of the pressure drop of a line with flow.

    d dp / d Q of `pressure_drop`

    flow: through the line [m3/s], broadcast
    bore, length: inside diameter and length [m], broadcast
    roughness: height of the wall's roughness [m], broadcast
    loss_factor: sum of the K values of the fittings [1], broadcast
    density: of the oil [kg/m3], broadcast
    viscosity: kinematic [m2/s], broadcast
    low_reynolds: K1 over K of the two-K method [1], 0 for textbook fittings, broadcast
    returns: slope [Pa s/m3], above 0, even in flow

    >>> slope = pressure_drop_slope(0.0, 0.0127, 3.0, 0.0, 0.0, 870.0, 46e-6)
    >>> round(float(slope) * 0.0127**4 * 3.14159265 / (128 * 3.0 * 870.0 * 46e-6), 6)
    1.0

    Source: Darcy-Weisbach, differentiated; at rest it is Hagen-Poiseuille's, from memory.
    """
    return drop_and_slope(
        flow, bore, length, roughness, loss_factor, density, viscosity, low_reynolds
    )[1]
