"""What the pump can give, and what it holds: fixed, load sensing or constant pressure."""

from __future__ import annotations

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.compile import Network

PRESSURE_SCALE = 1e6
"""Pressure by which a lack of held pressure is compared with a lack of flow [Pa]."""


def stroke_limit(network: Network, pressure: Array) -> Array:
    """Largest fraction of full displacement at a pump pressure [1], (N,)."""
    torque = network.pump.capacity * np.maximum(pressure, 0.0)
    limit = network.pump.torque_limit
    return limit / np.maximum(torque, limit)


def deliverable(network: Network, pressure: Array) -> Array:
    """Flow that the pump gives at its largest stroke and a pressure [m3/s], (N,)."""
    pump = network.pump
    full = stroke_limit(network, pressure) * pump.capacity * pump.speed
    return np.asarray(full - pump.slip * pressure)


def held_pressure(network: Network, load_signal: Array) -> Array:
    """Pressure that a controlled pump holds at a load signal [Pa], (N,)."""
    pump = network.pump
    if network.supply == "constant pressure":
        return np.broadcast_to(pump.compensator, load_signal.shape)
    signal = np.maximum(pump.standby, pump.ls_share * load_signal + pump.margin)
    return np.minimum(pump.compensator, signal)
