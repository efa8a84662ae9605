"""All that the equations of the steady state need of a circuit, as arrays over N points."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.branches import Branch
from hydrocheck.solver.lowering import FedReturn
from hydrocheck.solver.needs import Index, side_by_side, take_rows
from hydrocheck.solver.pipes import Level, Pipes

NEVER = 1e300
"""Stands for a limit that is not there."""
PRESSURE_BANKS = ("parallel", "plain parallel")
"""Banks whose sections each stand between one inlet pressure and their own load."""


@dataclass(frozen=True)
class PumpArrays:
    """The pump at N points; arrays of shape (1,) or (N,).

    capacity: full displacement [m3/rad]; slip: [m3/(s Pa)]; friction: Cf [1]; drag: [N m s]
    speed: [rad/s]; margin, compensator, standby: [Pa]; torque_limit: on x D dp [N m]
    ls_share: share of the LS pressure that reaches the control [1]

    Air in the suction takes the place of oil: capacity is less and the limiter, which sees the
    geometric stroke, lets through less. Friction stays as it is. What compresses the air is left
    out.
    """

    capacity: Array
    slip: Array
    friction: Array
    drag: Array
    speed: Array
    margin: Array
    compensator: Array
    standby: Array
    torque_limit: Array
    ls_share: Array

    def take(self, index: Index) -> PumpArrays:
        """The points at `index`."""
        return PumpArrays(*(take_rows(getattr(self, f.name), index) for f in fields(self)))


@dataclass(frozen=True)
class ReliefArrays:
    """Relief valves side by side, (1, K) or (N, K): cracking [Pa], flow per pressure beyond [m3/(s
    Pa)].

    to_return: 1 where the outlet is the return manifold, 0 where it is the tank
    """

    names: tuple[str, ...]
    cracking: Array
    slope: Array
    to_return: Array

    def take(self, index: Index) -> ReliefArrays:
        """The points at `index`."""
        return ReliefArrays(
            self.names,
            take_rows(self.cracking, index),
            take_rows(self.slope, index),
            self.to_return,
        )

    def flow(self, inlet: Array, return_pressure: Array) -> Array:
        """Flow of each [m3/s], (N, K), at an inlet pressure (N,) and return pressure (N,)."""
        if not self.names:
            return np.zeros((inlet.size, 0))
        outlet = self.to_return * return_pressure[:, None]
        return self.slope * np.maximum(inlet[:, None] - outlet - self.cracking, 0.0)


@dataclass(frozen=True)
class Network:
    """All that the equations of one pump, one bank and its M functions need at N points.

    order: columns of the functions from first to last, for an open centre or a priority valve
    shares: part of the flow that each outlet of a gear divider gets [1], (1, M) or (N, M)
    ls_relief: highest pressure in the LS line [Pa]
    to_tank: whether flow that no section takes goes on to tank; else the inlet pressure rises
    neutral: drop per flow squared of an open centre to tank, or of a gear divider [Pa s2/m6]
    """

    kind: str
    supply: str
    order: tuple[int, ...]
    shares: Array
    pump: PumpArrays
    at_pump: ReliefArrays
    at_bank: ReliefArrays
    ls_relief: Array
    branches: tuple[Branch, ...]
    to_tank: bool
    neutral: Array
    main_line: Pipes
    return_line: Pipes | FedReturn | Level
    viscosity: Array

    @property
    def asked(self) -> Array:
        """Section flow that each function asks for [m3/s], (N, M)."""
        size = self.viscosity.size
        if not self.branches:
            return np.zeros((size, 0))
        return np.stack([np.broadcast_to(b.asked, (size,)) for b in self.branches]).T

    @property
    def commanded(self) -> Array:
        """The most that each section lets through [m3/s], (N, M) or (1, M)."""
        return side_by_side([branch.commanded for branch in self.branches])

    @property
    def by_flow(self) -> bool:
        """Whether the bank turns on the flow into it; else on the pressure before its sections."""
        return self.kind not in PRESSURE_BANKS

    def part(self, index: Index, size: int) -> Network:
        """The points at `index` of `size`, in their order: all of them are the network itself."""
        return self if index.size == size else self.take(index)

    def take(self, index: Index) -> Network:
        """The points at `index`."""
        return Network(
            self.kind,
            self.supply,
            self.order,
            take_rows(self.shares, index),
            self.pump.take(index),
            self.at_pump.take(index),
            self.at_bank.take(index),
            take_rows(self.ls_relief, index),
            tuple(branch.take(index) for branch in self.branches),
            self.to_tank,
            take_rows(self.neutral, index),
            self.main_line.take(index),
            self.return_line.take(index),
            take_rows(self.viscosity, index),
        )


@dataclass(frozen=True)
class Plant:
    """Pumps with what they feed, over one return line.

    columns: of each network's functions among all of the circuit's
    return_line: which all share
    """

    names: tuple[str, ...]
    networks: tuple[Network, ...]
    columns: tuple[tuple[int, ...], ...]
    return_line: Pipes | FedReturn
