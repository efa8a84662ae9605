"""The pressure that work needs, whatever the valves allow: for comparison with their settings."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.model.truck import Truck
from hydrocheck.solver.branches import Climb
from hydrocheck.solver.compile import compile_plant
from hydrocheck.solver.network import Network
from hydrocheck.studies.work import Work

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Need:
    """Pressures that a scenario's work needs at N points, M functions.

    work: at each work port with its asked flow [Pa], (N, M); 0 where a function is off
    load_signal: highest of them [Pa], (N,); line: drop of the pressure line [Pa], (N,)
    pump: at the pump, section and line losses included [Pa], (N,)
    pump_speed: at which the pump at full stroke just feeds them all, slip and reliefs included
    [rad/s], (N,); the LS margin beyond the section drop may then be used up
    """

    work: Array
    load_signal: Array
    line: Array
    pump: Array
    pump_speed: Array

    def rows(self, start: int, stop: int) -> Need:
        """The points from `start` up to `stop`."""
        return Need(*(getattr(self, key)[start:stop] for key in self.__dataclass_fields__))


def needed_pressure(truck: Truck, work: Work) -> Need:
    """What every function would need at once to get its asked flow. Raises as `solve` does.

    Return pressure is that of the sum of their flows; reliefs, compensator and starvation play no
    part. With several pumps pressures are the highest of any, and the speed is that of the first
    pump at which each of them gives enough.
    """
    points = work.points
    if points.stop.any():  # a cylinder at its stop takes what pressure there is, and needs none
        points = replace(points, asked=np.where(points.stop > 0, 0.0, points.asked))
    plant = compile_plant(truck, points)
    size, count = work.points.size, sum(len(columns) for columns in plant.columns)
    climbs = [[b.climb(b.asked) for b in network.branches] for network in plant.networks]
    back = np.zeros(size)
    for branches in climbs:
        for climb in branches:
            back = back + climb.returned
    returns, _ = plant.networks[0].return_line.drop(back)
    ports, signal, pump = np.zeros((size, count)), np.zeros(size), np.zeros(size)
    line, part_of_speed = np.zeros(size), np.zeros(size)
    for network, branches, columns in zip(plant.networks, climbs, plant.columns, strict=True):
        need = _one(network, branches, returns)
        ports[:, columns] = need.work
        signal, line = np.maximum(signal, need.load_signal), np.maximum(line, need.line)
        pump = np.maximum(pump, need.pump)
        own = np.where(network.pump.speed > 0, network.pump.speed, 1.0)
        part_of_speed = np.maximum(part_of_speed, need.pump_speed / own)
    first = plant.networks[0].pump.speed
    return Need(ports, signal, line, pump, part_of_speed * np.where(first > 0, first, 1.0))


def _one(network: Network, climbs: list[Climb], returns: Array) -> Need:
    """What one pump's functions need."""
    asked = network.asked
    ports, before = np.zeros_like(asked), np.zeros_like(asked)
    for m, (branch, climb) in enumerate(zip(network.branches, climbs, strict=True)):
        port = climb.pressure + branch.lift * returns
        over = branch.section_drop * (branch.asked / np.maximum(branch.commanded, 1e-300)) ** 2
        ports[:, m] = np.where(asked[:, m] > 0, port, 0.0)
        before[:, m] = np.where(asked[:, m] > 0, port + over, 0.0)
    signal = ports.max(axis=1, initial=0.0)
    line, _ = network.main_line.drop(asked.sum(axis=1))
    pump = before.max(axis=1, initial=0.0) + line
    reliefs = network.at_pump.flow(pump, returns).sum(axis=1)
    reliefs += network.at_bank.flow(pump - line, returns).sum(axis=1)
    flow = asked.sum(axis=1) + network.pump.slip * pump + reliefs
    if network.supply == "load sensing":
        pump = np.maximum(np.maximum(pump, signal + network.pump.margin), network.pump.standby)
    return Need(ports, signal, line, pump, flow / network.pump.capacity)
