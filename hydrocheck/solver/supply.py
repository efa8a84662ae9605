"""What the pump can give, and what it holds: fixed, load sensing or constant pressure."""

from __future__ import annotations

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.network import Network

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


def relieved_pressure(network: Network, taken: Array | float) -> Array:
    """A pressure at which the supply has nothing in hand, where the bank takes so much [Pa], (N,).

    Near it for a fixed pump. A return pressure that reliefs feel comes on top.
    """
    pump = network.pump
    spare = np.maximum(pump.capacity * pump.speed - taken, 0.0)
    pressure = spare / np.maximum(pump.slip, 1e-300)
    for reliefs in (network.at_pump, network.at_bank):
        for k in range(len(reliefs.names)):
            full = reliefs.cracking[:, k] + spare / reliefs.slope[:, k]
            pressure = np.minimum(pressure, full)
    return pressure if network.supply == "fixed" else np.minimum(pressure, pump.compensator)


def ceiling(network: Network, most_returned: Array | None) -> Array:
    """An inlet pressure at which the supply has nothing in hand [Pa], (N,) or (1,).

    most_returned: more than ever reaches the return manifold [m3/s]; None where no relief feels it
    """
    if network.supply != "fixed":
        return network.pump.compensator
    highest = relieved_pressure(network, 0.0)
    if most_returned is None:
        return highest
    return np.asarray(highest + network.return_line.drop(most_returned + 0.0 * highest)[0])
