"""The pressure that work needs, whatever the valves allow: for comparison with their settings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.model.truck import Truck
from hydrocheck.solver.compile import compile_network
from hydrocheck.studies.work import Work

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Need:
    """Pressures that a scenario's work needs at N points, M functions.

    work: at each work port with its asked flow [Pa], (N, M); 0 where a function is off
    load_signal: highest of them [Pa], (N,); pump: at the pump, section and line losses included
    [Pa], (N,)
    """

    work: Array
    load_signal: Array
    pump: Array


def needed_pressure(truck: Truck, work: Work) -> Need:
    """What every function would need at once to get its asked flow. Raises as `solve` does.

    Return pressure is that of the sum of their flows; reliefs, compensator and starvation play no
    part.
    """
    network = compile_network(truck, work.points)
    asked = network.commanded
    nothing = np.zeros((work.points.size, 1))
    _, _, back = network.branches.work_pressure(asked, nothing)
    returns, _ = network.return_line.drop(back.sum(axis=1, keepdims=True))
    ports, _, _ = network.branches.work_pressure(asked, returns)
    on = asked > 0
    ports = np.where(on, ports, 0.0)
    signal = ports.max(axis=1, initial=0.0)
    line, _ = network.main_line.drop(asked.sum(axis=1, keepdims=True))
    sections = np.where(on, ports + network.section_drop, 0.0).max(axis=1, initial=0.0)
    pump = sections + line[:, 0]
    if network.supply == "load sensing":
        pump = np.maximum(pump, signal + network.pump.margin)
    return Need(ports, signal, pump)
