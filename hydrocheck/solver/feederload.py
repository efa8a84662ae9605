"""Torque of a feeder from its model: a flooded auger or belt under a hopper, a control-fed screw.

Both are independent of speed, so that they stand in a load curve as its constant part. What a
hopper rests on its feeder when it has just been filled is more than when material flows; the ratio
of the two is the breakaway factor, where the truck file gives none.
"""

from __future__ import annotations

import numpy as np

from hydrocheck.model.circuit import Load
from hydrocheck.model.machines import HopperLoad, ScrewLoad
from hydrocheck.physics import feeders, material
from hydrocheck.physics.arrays import Array
from hydrocheck.solver.needs import Needs

LEAST_BREAKAWAY = 1.5
"""Breakaway over running torque at the least, a refill onto a hopper that has run: ours."""
SCREW_BREAKAWAY = 2.5
"""Breakaway over running torque of a control-fed screw: ours, 1.5 to 6."""


def feeder_torque(load: Load, key: str, needs: Needs) -> Array | None:
    """Running torque of a load given by a model [N m], (1,) or (N,); None where it is not."""
    if load.hopper is not None:
        return _hopper_torque(load.hopper, f"{key}.hopper", needs)
    if load.screw is not None:
        return _screw_torque(load.screw, f"{key}.screw", needs)
    return None


def breakaway(load: Load, key: str, needs: Needs) -> Array:
    """Breakaway over running torque [1], (1,) or (N,): as given, else by the feeder's model."""
    if load.breakaway is None and load.hopper is not None:
        first, flowing = _surcharge(load.hopper, f"{key}.hopper", needs)
        return np.maximum(first / flowing, LEAST_BREAKAWAY)
    if load.breakaway is None and load.screw is not None:
        return np.array([SCREW_BREAKAWAY])
    return needs.column(load, "breakaway", key)


def _surcharge(hopper: HopperLoad, key: str, needs: Needs) -> tuple[Array, Array]:
    """Surcharge factors [1] just filled and flowing."""
    top, slot, angle = (needs.column(hopper, k, key) for k in ("top", "slot", "half_angle"))
    wall, inside = (needs.column(hopper, k, key) for k in ("wall_friction", "internal_friction"))
    first = feeders.initial_load_factor(top, slot, angle)
    return first, feeders.flowing_load_factor(angle, wall, inside)


def _hopper_torque(hopper: HopperLoad, key: str, needs: Needs) -> Array:
    _, flowing = _surcharge(hopper, key, needs)
    length, slot, density = (needs.column(hopper, k, key) for k in ("length", "slot", "density"))
    weight = feeders.hopper_load(flowing, length, slot, density)
    pull = feeders.feeder_pull(weight, needs.column(hopper, "internal_friction", key))
    drag = needs.column(hopper, "drag", key)
    if hopper.radius is not None:
        return pull * needs.column(hopper, "radius", key) + drag
    diameter, pitch = (needs.column(hopper, k, key) for k in ("diameter", "pitch"))
    if hopper.diameter is None or hopper.pitch is None:
        return drag  # noted as missing
    shaft, friction = (needs.column(hopper, k, key) for k in ("shaft", "flight_friction"))
    return feeders.auger_torque(pull, diameter, shaft, pitch, friction) + drag


def _screw_torque(screw: ScrewLoad, key: str, needs: Needs) -> Array:
    """Power over speed: the mass of a turn, not the speed, sets it."""
    sizes = (needs.column(screw, k, key) for k in ("diameter", "shaft", "pitch", "fill", "density"))
    per_turn = material.auger_mass_per_revolution(*sizes)
    length, factor = (needs.column(screw, k, key) for k in ("length", "material_factor"))
    carried = feeders.screw_material_power(per_turn, length, factor)
    return carried * needs.column(screw, "overload", key) + needs.column(screw, "drag", key)
