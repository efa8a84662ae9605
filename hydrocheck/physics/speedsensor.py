"""The truck's speed sensor: pulses for a distance, and what tyres and axles do to it.

Every function broadcasts; a scalar in gives a 0-d result.
"""

from __future__ import annotations

from numpy.typing import ArrayLike

from hydrocheck.physics._guard import require_positive
from hydrocheck.physics.arrays import Array, as_array

__all__ = ["indicated_share", "pulses_from_pass", "refitted_pulses"]


def pulses_from_pass(pulses: ArrayLike, distance: ArrayLike) -> Array:
    """Pulses for a distance, from a pass over a known one.

    k = pulses / distance

    pulses: counted [1], above 0, broadcast, refused outside with DomainError
    distance: driven [m], above 0, broadcast, refused outside
    returns: pulses for each length [1/m]

    >>> mile = 1609.344
    >>> round(float(pulses_from_pass(7500.0, mile / 4)) * mile, 6)
    30000.0

    Source: definition.
    """
    count, way = as_array(pulses), as_array(distance)
    require_positive(pulses=count, distance=way)
    return count / way


def refitted_pulses(
    pulses_per_distance: ArrayLike,
    rolling_before: ArrayLike,
    rolling_after: ArrayLike,
    axle_before: ArrayLike = 1.0,
    axle_after: ArrayLike = 1.0,
) -> Array:
    """Pulses for a distance after a change of tyres or of the axle ratio.

    k' = k (rolling before / rolling after) (axle after / axle before)

    pulses_per_distance: k, before [1/m], above 0, broadcast, refused outside with DomainError
    rolling_before, rolling_after: rolling circumference (or radius) of the tyres [m], broadcast
    axle_before, axle_after: propeller shaft speed / wheel speed [1], broadcast
    returns: pulses for each length [1/m]

    For a sensor on the gearbox outlet. A sensor on the wheel knows no axle: leave both at 1. Worn
    or soft tyres roll some 1 to 3 % shorter.

    >>> round(float(refitted_pulses(20.0, 3.2, 3.36, 4.10, 4.56)), 3)
    21.185

    Source: kinematics of the drive; common practice for tyre wear.
    """
    k = as_array(pulses_per_distance)
    old, new = as_array(rolling_before), as_array(rolling_after)
    before, after = as_array(axle_before), as_array(axle_after)
    require_positive(pulses_per_distance=k, rolling_before=old, rolling_after=new)
    require_positive(axle_before=before, axle_after=after)
    return k * (old / new) * (after / before)


def indicated_share(set_pulses: ArrayLike, true_pulses: ArrayLike) -> Array:
    """Indicated over true road speed, and over the ordered rate what is really put down.

    share = k true / k set

    set_pulses: pulses for a distance that are set [1/m], above 0, broadcast, refused outside
    true_pulses: that the sensor really gives [1/m], above 0, broadcast, refused outside
    returns: share [1]; above 1 the truck believes to be faster and spreads too much

    >>> round(float(indicated_share(30000.0, 31500.0)), 3)
    1.05

    Source: definition; discharge follows the indicated speed.
    """
    told, real = as_array(set_pulses), as_array(true_pulses)
    require_positive(set_pulses=told, true_pulses=real)
    return real / told
