"""Supply against bank: the steady state as the root of one falling function.

With s the bank's scalar, everything that the pump sees rises with s: its pressure p(s), and the
flow Q(s) that line, reliefs and sections take. The pump gives

    full stroke       x D n - k p - Q(s) = 0,   x = min(1, torque limit / (D p))
    destroked         p_cmd(s) - p(s) = 0,      p_cmd = min(compensator, max(standby, p_LS +
    margin))

Both left sides fall with s; a controlled pump works at the smaller root, a fixed pump at the first.
The balance is therefore the root of the smaller of the two, scaled to a common size, and it is
unique.

Return pressure p_r = R(returned flow) is explicit where all loads depend on pressure differences
(motors): then s is the difference to p_r. A cylinder feels p_r itself (its two areas differ); then
s is the inlet pressure and p_r one inner root.

The bracket is closed to neighbouring floats, and the state is the linear mixture of its two ends
that
balances the flow exactly: where a function just begins to move, its flow is steeper than floats can
    tell. An open centre whose flow ends just before a stage has a jump of pressure there; the inlet
    pressure within the jump is a root of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.banks import BankState, bank_state, raised
from hydrocheck.solver.compile import Network
from hydrocheck.solver.needs import Index, Mask
from hydrocheck.solver.roots import close_in, secant

PRESSURE_SCALE = 1e6
JUMP = 1e-6
"""Relative step of the inlet pressure between neighbouring flows from which it counts as a jump."""


@dataclass(frozen=True)
class State:
    """Flows [m3/s] and pressures [Pa] of a network at N points.

    bank: the sections; at_pump, at_bank: flow of each relief, (N, K)
    pump, returns: pressure at the pump and the return manifold, (N,)
    through_line, returned: flow in the main line and the return line, (N,)
    load_signal: highest work-port pressure of the opened functions, after the LS relief, (N,)
    """

    bank: BankState
    at_pump: Array
    at_bank: Array
    pump: Array
    returns: Array
    through_line: Array
    returned: Array
    load_signal: Array

    def mixed(self, other: State, weight: Array) -> State:
        """(1 - weight) of this state and weight of the other."""

        def mix(mine: Array, theirs: Array) -> Array:
            share = weight if mine.ndim == 1 else weight[:, None]
            return mine + share * (theirs - mine)

        return _combine(mix, self, other)

    def put(self, index: Index, part: State) -> State:
        """This state, with the points at `index` taken from `part`."""

        def put(mine: Array, theirs: Array) -> Array:
            out = np.array(mine)
            out[index] = theirs
            return out

        return _combine(put, self, part)

    def rows(self, index: Index) -> State:
        """The points at `index`."""
        return _combine(lambda mine, _: mine[index], self, self)


def _combine(law: Callable[[Array, Array], Array], a: State, b: State) -> State:
    """A state from two, array by array."""
    bank = {f.name: law(getattr(a.bank, f.name), getattr(b.bank, f.name)) for f in fields(a.bank)}
    rest = {
        f.name: law(getattr(a, f.name), getattr(b, f.name)) for f in fields(a) if f.name != "bank"
    }
    return State(bank=BankState(**bank), **rest)


def find_balance(network: Network, size: int) -> State:
    """The steady state of a network at its N points."""
    feels = np.broadcast_to(_feels_return(network), (size,))
    if feels.all() or not feels.any():
        return _balance(network, size, bool(feels.any()))
    apart, together = np.flatnonzero(~feels), np.flatnonzero(feels)
    part = _balance(network.take(apart), apart.size, False)
    everywhere = _combine(lambda mine, _: np.zeros((size, *mine.shape[1:])), part, part)
    rest = _balance(network.take(together), together.size, True)
    return everywhere.put(apart, part).put(together, rest)


def _balance(network: Network, size: int, coupled: bool) -> State:
    """The steady state where return pressure is found with the flows (coupled), or after them."""
    low = np.zeros(size)
    high = np.broadcast_to(_ceiling(network, coupled), (size,)).copy()
    near = np.tile(np.inf, (size, len(network.branches)))
    near_return = np.zeros(size)

    def state(s: Array, index: Index) -> State:
        part = network if index.size == size else network.take(index)
        if coupled:
            returns = _return_pressure(part, s, near[index], near_return[index])
            near_return[index] = returns
            found = _surround(part, bank_state(part, s, returns, near[index]), returns)
        else:
            found = _shifted(part, s, near[index])
        near[index] = found.bank.line
        return found

    def falling(s: Array, index: Index) -> Array:
        part = network if index.size == size else network.take(index)
        return shortfall(part, state(s, index))

    everything = np.arange(size)
    bracket = close_in(falling, low, high)
    lower, upper = state(bracket.low, everything), state(bracket.high, everything)
    mixed = lower.mixed(upper, bracket.weight)
    if network.kind != "open centre":
        return mixed
    starts = ((lower.bank.section <= 0) & (upper.bank.section > 0)).any(axis=1)
    jumps = starts & (upper.bank.inlet - lower.bank.inlet > JUMP * upper.bank.inlet)
    rows = np.flatnonzero(jumps)
    if rows.size == 0:
        return mixed
    ends = lower.rows(rows), upper.rows(rows)
    return mixed.put(rows, _within_jump(network.take(rows), bracket.low[rows], *ends))


def shortfall(network: Network, state: State) -> Array:
    """What the supply has in hand at a state, scaled: positive where it would push s up, (N,)."""
    pump = network.pump
    flow = deliverable(network, state.pump) - state.at_pump.sum(axis=1) - state.through_line
    in_hand = flow / np.maximum(pump.capacity * pump.speed, 1e-12)
    if network.supply != "fixed":
        lack = commanded_pressure(network, state) - state.pump
        in_hand = np.minimum(in_hand, lack / PRESSURE_SCALE)
    return np.asarray(in_hand)


def commanded_pressure(network: Network, state: State) -> Array:
    """Pressure that a controlled pump holds [Pa], (N,)."""
    pump = network.pump
    if network.supply == "constant pressure":
        return np.broadcast_to(pump.compensator, state.pump.shape)
    signal = np.maximum(pump.standby, state.load_signal + pump.margin)
    return np.minimum(pump.compensator, signal)


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


def _shifted(network: Network, difference: Array, near: Array) -> State:
    """The state at a pressure of the bank inlet above the return manifold (open centre: a flow)."""
    nothing = np.zeros_like(difference)
    bank = bank_state(network, difference, nothing, near)
    returned = _surround(network, bank, nothing).returned
    returns = network.return_line.drop(returned)[0]
    across = returns[:, None]
    shifted = BankState(
        bank.section,
        bank.line,
        bank.returned,
        bank.work + across,
        bank.inlet + returns,
        bank.stage_inlet + across,
        bank.passed,
    )
    return _surround(network, shifted, returns)


def _feels_return(network: Network) -> Mask:
    """Where return pressure must be found together with the flows, (N,) or (1,)."""
    if not network.return_line.series:
        return np.zeros(1, dtype=bool)
    # A relief to tank at the bank changes what the main line carries, and so one to the return.
    feels = np.array([bool(network.at_bank.names) and bool(network.at_pump.to_return.any())])
    for branch in network.branches:
        feels = feels | branch.feels_return
    return feels


def _return_pressure(network: Network, s: Array, near: Array, start: Array) -> Array:
    """Root of R(returned flow at p_r) - p_r; the flow falls as p_r rises."""

    def falling(returns: Array, index: Index) -> Array:
        part = network if index.size == s.size else network.take(index)
        bank = bank_state(part, s[index], returns, near[index])
        near[index] = bank.line
        flow = _surround(part, bank, returns).returned
        return part.return_line.drop(flow)[0] - returns

    nothing = np.zeros_like(s)
    return secant(falling, falling(nothing, np.arange(s.size)), start, slope=-1.0)


def _surround(network: Network, bank: BankState, returns: Array) -> State:
    """Reliefs, main line and return flow around a bank state."""
    at_bank = network.at_bank.flow(bank.inlet, returns)
    through = bank.section.sum(axis=1) + bank.passed + at_bank.sum(axis=1)
    pump = bank.inlet + network.main_line.drop(through)[0]
    at_pump = network.at_pump.flow(pump, returns)
    returned = bank.returned.sum(axis=1) + bank.passed
    for flow, reliefs in ((at_bank, network.at_bank), (at_pump, network.at_pump)):
        returned = returned + (flow * reliefs.to_return).sum(axis=1)
    signal = np.zeros_like(pump)
    for m, branch in enumerate(network.branches):
        if branch.relief is not None and branch.relief.to_return:
            returned = returned + (bank.section - bank.line)[:, m]
        signal = np.where(branch.commanded > 0, np.maximum(signal, bank.work[:, m]), signal)
    return State(
        bank=bank,
        at_pump=at_pump,
        at_bank=at_bank,
        pump=pump,
        returns=returns,
        through_line=through,
        returned=returned,
        load_signal=np.minimum(signal, network.ls_relief),
    )


def _within_jump(network: Network, s: Array, lower: State, upper: State) -> State:
    """The state of an open centre whose flow s, (N,), ends just before a stage that stands still.

    The inlet pressure lies between those of the neighbouring states with and without that stage.
    """
    size = s.size
    no_start = np.zeros((size, len(network.branches)))

    def at(part: Network, index: Index, inlet: Array, returns: Array) -> State:
        bank = bank_state(part, s[index], returns, no_start[index])
        return _surround(part, raised(part, bank, inlet), returns)

    def state(inlet: Array, index: Index) -> State:
        part = network if index.size == size else network.take(index)

        def falling(returns: Array, inner: Index) -> Array:
            within = part if inner.size == index.size else part.take(inner)
            flow = at(within, index[inner], inlet[inner], returns).returned
            return within.return_line.drop(flow)[0] - returns

        highest = falling(np.zeros_like(inlet), np.arange(inlet.size))
        returns = secant(falling, highest, lower.returns[index], slope=-1.0)
        return at(part, index, inlet, returns)

    def falling(inlet: Array, index: Index) -> Array:
        part = network if index.size == size else network.take(index)
        return shortfall(part, state(inlet, index))

    bracket = close_in(falling, lower.bank.inlet, upper.bank.inlet)
    everything = np.arange(size)
    low, high = state(bracket.low, everything), state(bracket.high, everything)
    return low.mixed(high, bracket.weight)


def _ceiling(network: Network, coupled: bool) -> Array:
    """A value of s at which the supply has nothing in hand, (N,) or (1,)."""
    pump = network.pump
    theoretical = pump.capacity * pump.speed
    if network.kind == "open centre":
        return theoretical
    if network.supply != "fixed":
        return pump.compensator
    ceiling = theoretical / np.maximum(pump.slip, 1e-300)
    for reliefs in (network.at_pump, network.at_bank):
        for k in range(len(reliefs.names)):
            full = reliefs.cracking[:, k] + theoretical / reliefs.slope[:, k]
            ceiling = np.minimum(ceiling, full)
    if coupled:
        most = theoretical
        for branch in network.branches:
            most = most + branch.commanded * np.maximum(branch.lift, 1.0)
        ceiling = ceiling + network.return_line.drop(most)[0]
    return ceiling
