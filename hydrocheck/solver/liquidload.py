"""The liquid pump of a function: what it asks of the shaft, and what it gives.

A displacement pump that feeds nozzles through a short line:

    flow        q = eta_v D n
    pressure    p = p_r SG (q / (nozzles q_r))^2,   q_r: water through one nozzle at p_r
    torque      D p / eta_hm = T2 n^2
"""

from __future__ import annotations

import numpy as np

from hydrocheck.model.circuit import LiquidPump
from hydrocheck.physics import liquids, loads
from hydrocheck.physics.arrays import Array
from hydrocheck.solver.needs import Needs

WATER = 1000.0
"""Density at which nozzles are rated [kg/m3]."""


def _nozzles(pump: LiquidPump, key: str, needs: Needs) -> tuple[Array, Array, Array]:
    """Flow of water through all nozzles [m3/s] at a pressure [Pa], and specific gravity [1]."""
    flow, pressure, density = (
        needs.column(pump, k, key) for k in ("nozzle_flow", "nozzle_pressure", "density")
    )
    return flow * pump.nozzles, pressure, density / WATER


def liquid_load(pump: LiquidPump, key: str, needs: Needs) -> Array:
    """Torque per speed squared at the liquid pump's shaft [N m s2], (1,) or (N,)."""
    flow, pressure, gravity = _nozzles(pump, key, needs)
    displacement, volumetric, mechanical = (
        needs.column(pump, k, key)
        for k in ("displacement", "volumetric_efficiency", "hydromechanical_efficiency")
    )
    return np.asarray(
        loads.nozzle_load(displacement, flow, gravity * pressure, volumetric, mechanical)
    )


def liquid_given(
    pump: LiquidPump, key: str, speed: Array, needs: Needs
) -> tuple[Array, Array, Array]:
    """Flow of liquid [m3/s], nozzle pressure [Pa] and shaft power [W] at a speed [rad/s], (N,).

    Raises MissingValue.
    """
    load = liquid_load(pump, key, needs)
    displacement, volumetric = (
        needs.column(pump, k, key) for k in ("displacement", "volumetric_efficiency")
    )
    rated, pressure, gravity = _nozzles(pump, key, needs)
    needs.settle()
    flow = volumetric * displacement * speed
    return (
        flow,
        np.asarray(liquids.nozzle_pressure(rated, pressure, flow, gravity)),
        np.asarray(loads.windage_power(load, speed)),
    )
