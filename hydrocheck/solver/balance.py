"""Supply against bank: the steady state as the root of one falling function.

With s the bank's scalar, everything that the pump sees rises with s: its pressure p(s), and the flow
Q(s) that line, reliefs and sections take. The pump gives

    full stroke       x D n - k p - Q(s) = 0,   x = min(1, torque limit / (D p))
    destroked         p_cmd(s) - p(s) = 0,      p_cmd = min(compensator, max(standby, p_LS + margin))

Both left sides fall with s; a controlled pump works at the smaller root, a fixed pump at the first. The
balance is therefore the root of the smaller of the two, scaled to a common size, and it is unique.

Return pressure p_r = R(returned flow) is explicit where all loads depend on pressure differences (motors):
then s is the difference to p_r. A cylinder feels p_r itself (its two areas differ); then s is the inlet
pressure and p_r one inner root.

The bracket is closed to neighbouring floats, and the state is the linear mixture of its two ends that
balances the flow exactly, so that a load held at a vertical characteristic carries just its share.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from hydrocheck.solver.banks import BankState, bank_state, work_port_pressure
from hydrocheck.solver.compile import Network
from hydrocheck.solver.roots import Index, close_in

Array = NDArray[np.float64]

PRESSURE_SCALE = 1e6


@dataclass(frozen=True)
class State:
    """Flows [m3/s] and pressures [Pa] of a network at N points.

    section, line, stage_inlet, work: (N, M); at_pump, at_bank: flow of each relief, (N, K)
    pump, inlet, returns: pressure at the pump, bank inlet and return manifold, (N,)
    passed, through_line, returned: open-centre remainder, flow in the main line, flow in the return, (N,)
    load_signal: highest work-port pressure of the opened functions, after the LS relief, (N,)
    """

    section: Array
    line: Array
    stage_inlet: Array
    work: Array
    at_pump: Array
    at_bank: Array
    pump: Array
    inlet: Array
    returns: Array
    passed: Array
    through_line: Array
    returned: Array
    load_signal: Array

    def mixed(self, other: State, weight: Array) -> State:
        """(1 - weight) of this state and weight of the other."""
        mixture = {}
        for f in fields(self):
            mine, theirs = getattr(self, f.name), getattr(other, f.name)
            share = weight.reshape((-1,) + (1,) * (mine.ndim - 1))
            mixture[f.name] = mine + share * (theirs - mine)
        return State(**mixture)


def find_balance(network: Network, size: int) -> State:
    """The steady state of a network at its N points."""
    low = np.zeros(size)
    high = np.broadcast_to(_ceiling(network), (size,)).copy()

    def falling(s: Array, index: Index) -> Array:
        part = network if index.size == size else network.take(index)
        return shortfall(part, state_at(part, s))

    bracket = close_in(falling, low, high)
    lower, upper = state_at(network, bracket.low), state_at(network, bracket.high)
    return lower.mixed(upper, bracket.weight)


def shortfall(network: Network, state: State) -> Array:
    """What the supply has in hand at a state, scaled: positive where it would push s up, (N,)."""
    pump = network.pump
    flow = deliverable(network, state.pump) - state.at_pump.sum(axis=1) - state.through_line
    in_hand = flow / np.maximum(pump.capacity * pump.speed, 1e-12)
    if network.supply == "fixed":
        return in_hand
    return np.minimum(in_hand, (commanded_pressure(network, state) - state.pump) / PRESSURE_SCALE)


def commanded_pressure(network: Network, state: State) -> Array:
    """Pressure that a controlled pump holds [Pa], (N,)."""
    pump = network.pump
    if network.supply == "constant pressure":
        return np.broadcast_to(pump.compensator, state.pump.shape)
    return np.minimum(pump.compensator, np.maximum(pump.standby, state.load_signal + pump.margin))


def stroke_limit(network: Network, pressure: Array) -> Array:
    """Largest fraction of full displacement at a pump pressure [1], (N,)."""
    torque = network.pump.capacity * np.maximum(pressure, 0.0)
    limit = np.broadcast_to(network.pump.torque_limit, torque.shape)
    return limit / np.maximum(torque, limit)


def deliverable(network: Network, pressure: Array) -> Array:
    """Flow that the pump gives at its largest stroke and a pressure [m3/s], (N,)."""
    pump = network.pump
    return stroke_limit(network, pressure) * pump.capacity * pump.speed - pump.slip * pressure


def state_at(network: Network, s: Array) -> State:
    """Everything that follows from the bank's scalar s, (N,)."""
    if coupled(network):
        returns = _return_pressure(network, s)
        return _surround(network, bank_state(network, s, returns), returns)
    nothing = np.zeros_like(s)
    bank = bank_state(network, s, nothing)
    returned = _surround(network, bank, nothing).returned
    returns = network.return_line.drop(returned[:, None])[0][:, 0]
    shifted = BankState(
        bank.section,
        bank.line,
        bank.inlet + returns,
        bank.stage_inlet + returns[:, None],
        bank.passed,
    )
    return _surround(network, shifted, returns)


def coupled(network: Network) -> bool:
    """Whether return pressure must be found together with the flows."""
    relief_chain = network.at_bank.cracking.size > 0 and bool(network.at_pump.to_return.any())
    return network.branches.feels_return or relief_chain


def _return_pressure(network: Network, s: Array) -> Array:
    """Root of R(returned flow at p_r) - p_r; the flow falls as p_r rises."""
    nothing = np.zeros_like(s)
    most = _surround(network, bank_state(network, s, nothing), nothing).returned
    most = most + _gain(network) * network.commanded.sum(axis=1)
    high = network.return_line.drop(most[:, None])[0][:, 0]

    def falling(returns: Array, index: Index) -> Array:
        part = network if index.size == s.size else network.take(index)
        flow = _surround(part, bank_state(part, s[index], returns), returns).returned
        return part.return_line.drop(flow[:, None])[0][:, 0] - returns

    bracket = close_in(falling, nothing, np.maximum(high, 0.0))
    return bracket.low + bracket.weight * (bracket.high - bracket.low)


def _surround(network: Network, bank: BankState, returns: Array) -> State:
    """Reliefs, main line and return flow around a bank state."""
    at_bank = network.at_bank.flow(bank.inlet, returns)
    through = bank.section.sum(axis=1) + bank.passed + at_bank.sum(axis=1)
    pump = bank.inlet + network.main_line.drop(through[:, None])[0][:, 0]
    at_pump = network.at_pump.flow(pump, returns)
    work = work_port_pressure(network, bank, returns)
    _, _, back = network.branches.work_pressure(bank.line, returns[:, None])
    returned = (
        back.sum(axis=1)
        + (bank.section - bank.line).sum(axis=1)
        + bank.passed
        + (at_bank * network.at_bank.to_return).sum(axis=1)
        + (at_pump * network.at_pump.to_return).sum(axis=1)
    )
    opened = np.where(network.commanded > 0, work, 0.0)
    signal = opened.max(axis=1, initial=0.0)
    return State(
        section=bank.section,
        line=bank.line,
        stage_inlet=bank.stage_inlet,
        work=work,
        at_pump=at_pump,
        at_bank=at_bank,
        pump=pump,
        inlet=bank.inlet,
        returns=returns,
        passed=bank.passed,
        through_line=through,
        returned=returned,
        load_signal=np.minimum(signal, network.ls_relief),
    )


def _gain(network: Network) -> Array:
    """Largest ratio of returned to supplied flow of any function, (N,) or (1,)."""
    shares = [np.maximum(s.outlet_share, 1.0).max(axis=1) for s in network.branches.stages]
    gain: Array = np.maximum.reduce(shares) if shares else np.ones(1)
    return gain


def _ceiling(network: Network) -> Array:
    """A value of s at which the supply has nothing in hand, (N,) or (1,)."""
    pump = network.pump
    theoretical = pump.capacity * pump.speed
    if network.kind == "open centre":
        return theoretical
    if network.supply != "fixed":
        return pump.compensator
    ways = [theoretical / np.maximum(pump.slip, 1e-300)]
    for reliefs in (network.at_pump, network.at_bank):
        if reliefs.slope.shape[1]:
            ways.append((reliefs.cracking + theoretical[:, None] / reliefs.slope).min(axis=1))
    ceiling: Array = np.minimum.reduce(np.broadcast_arrays(*ways))
    if coupled(network):
        most = theoretical + _gain(network) * network.commanded.sum(axis=1)
        ceiling = ceiling + network.return_line.drop(most[:, None])[0][:, 0]
    return ceiling
