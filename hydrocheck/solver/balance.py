"""Supply against bank: the steady state as the root of one falling function.

With s the bank's scalar, everything that the pump sees rises with s: its pressure p(s), and the
flow Q(s) that line, reliefs and sections take. The pump gives

    full stroke       x D n - k p - Q(s) = 0,   x = min(1, torque limit / (D p))
    destroked         p_cmd(s) - p(s) = 0,
                      p_cmd = min(compensator, max(standby, p_LS + margin))

Both left sides fall with s; a controlled pump works at the smaller root, a fixed pump at the first.
The balance is therefore the root of the smaller of the two, scaled to a common size, and it is
unique.

Return pressure p_r = R(returned flow) is explicit where all loads depend on pressure differences
(motors): then s counts from p_r. A cylinder feels p_r itself (its two areas differ). For a parallel
bank s is then the inlet pressure, and p_r an inner root: the flows fall as p_r rises. For a bank
that turns on its flow p_r is the outer root and s the inner one: with p_r given the pump's flow
leaves less for the return as p_r rises.

The bracket is closed to neighbouring floats, and the state is the linear mixture of its two ends
that balances the flow exactly: where a function just begins to move, its flow is steeper than
floats can tell. A bank whose flow just does not move a machine without slip has a jump of pressure
there; the inlet pressure within the jump is a root of its own.

A parallel bank is first given to `joint`, which is quicker; the bracket takes what that leaves.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.banks import BankState, Jump, by_flow, by_pressure, full_flow, raised, rise
from hydrocheck.solver.joint import joint_newton
from hydrocheck.solver.lowering import FedReturn
from hydrocheck.solver.needs import Index, Mask
from hydrocheck.solver.network import NEVER, Network
from hydrocheck.solver.pipes import Level
from hydrocheck.solver.roots import FINENESS, Bracket, close_in, secant, zero_between
from hydrocheck.solver.state import State, surround
from hydrocheck.solver.supply import PRESSURE_SCALE, ceiling, deliverable, held_pressure

WIDENINGS = 12
"""Most times that a bracket is made wider, eightfold each."""
LOOSE = 1e-9
"""What the return pressure may be off before the flow is sought on a level."""
ASIDE = 1e-14
"""Relative step to either side of a return pressure."""
JUMP = 1e-6
"""Relative step of the inlet pressure between neighbouring flows from which it counts as a jump."""


def find_balance(network: Network, size: int) -> State:
    """The steady state of a network at its N points."""
    if network.by_flow:
        return _apart(network, size, _by_flow)
    if not network.branches:
        return _apart(network, size, _parallel)
    state, settled = joint_newton(network, size)
    rest = np.flatnonzero(~settled)
    if rest.size == 0:
        return state
    return state.put(rest, _apart(network.take(rest), rest.size, _parallel))


def _apart(network: Network, size: int, find: Callable[[Network, int, bool], State]) -> State:
    """The steady state, apart where return pressure is felt and where it is not."""
    feels = np.broadcast_to(_feels_return(network), (size,))
    if feels.all() or not feels.any():
        return find(network, size, bool(feels.any()))
    apart, together = np.flatnonzero(~feels), np.flatnonzero(feels)
    part = find(network.take(apart), apart.size, False)
    rest = find(network.take(together), together.size, True)
    return part.spread(size).put(apart, part).put(together, rest)


def _parallel(network: Network, size: int, coupled: bool) -> State:
    """A parallel bank, its return pressure found with the flows (coupled), or after them."""
    low = np.zeros(size)
    high = np.broadcast_to(
        ceiling(network, most_returned(network) if coupled else None), (size,)
    ).copy()
    near = np.tile(np.inf, (size, len(network.branches)))
    near_return = np.zeros(size)

    def state(s: Array, index: Index) -> State:
        part = network.part(index, size)
        if coupled:
            returns = _return_pressure(part, s, near[index], near_return[index])
            near_return[index] = returns
            found = surround(part, by_pressure(part, s, returns, near[index]), returns)
        else:
            found = _shifted(part, by_pressure(part, s, np.zeros_like(s), near[index]))
        near[index] = found.bank.line
        return found

    def falling(s: Array, index: Index) -> Array:
        part = network.part(index, size)
        return shortfall(part, state(s, index))

    bracket = close_in(falling, low, high)
    lower, upper, _ = _ends(network, bracket, state)
    return _mixed(network, lower, upper)


def _ends(
    network: Network, bracket: Bracket, state: Callable[[Array, Index], State]
) -> tuple[State, State, Array]:
    """Two states on either side of the balance, and the lower s, (N,).

    The bracket is widened where the rounding of inner roots hides on which side its ends lie.
    """
    everything = np.arange(bracket.low.size)
    low, high = bracket.low.copy(), bracket.high.copy()
    more = FINENESS * np.maximum(np.abs(low), np.abs(high))
    lower, upper = state(low, everything), state(high, everything)
    for _ in range(WIDENINGS):
        wrong = (shortfall(network, lower) < 0.0) | (shortfall(network, upper) > 0.0)
        rows = np.flatnonzero(wrong & (low > 0.0))
        if rows.size == 0:
            break
        more[rows] *= 8.0
        low[rows] = np.maximum(low[rows] - more[rows], 0.0)
        high[rows] += more[rows]
        lower = lower.put(rows, state(low[rows], rows))
        upper = upper.put(rows, state(high[rows], rows))
    return lower, upper, low


def _mixed(network: Network, lower: State, upper: State) -> State:
    """The mixture of two neighbouring states that balances the supply."""
    weight = zero_between(shortfall(network, lower), shortfall(network, upper))
    return lower.mixed(upper, weight)


def _by_flow(network: Network, size: int, coupled: bool) -> State:
    """A bank that turns on its flow, its return pressure found around the flows (coupled), or after
    them."""
    if not coupled:
        return _at_return(network, size, None)
    nothing = np.zeros(size)
    most = network.return_line.drop(most_returned(network) + nothing)[0]
    if isinstance(network.return_line, Level):
        return _at_return(network, size, most)

    def falling(returns: Array, index: Index) -> Array:
        part = network.part(index, size)
        found = _at_return(part, index.size, returns)
        return part.return_line.drop(found.returned)[0] - returns

    returns = secant(falling, most, nothing, slope=-1.0)
    return _on_the_level(network, returns, _at_return(network, size, returns))


def _at_return(network: Network, size: int, returns: Array | None) -> State:
    """A bank that turns on its flow, at a return pressure [Pa], (N,); None where that follows from
    the flows."""

    def state(
        s: Array, index: Index, raise_: Callable[[BankState, Array], BankState] | None
    ) -> State:
        part = network.part(index, size)
        level = np.zeros_like(s) if returns is None else returns[index]
        bank = by_flow(part, s, level)
        bank = bank if raise_ is None else raise_(bank, level)
        return _shifted(part, bank) if returns is None else surround(part, bank, level)

    def falling(s: Array, index: Index) -> Array:
        part = network.part(index, size)
        return shortfall(part, state(s, index, None))

    least, most = _flow_range(network, size, returns)
    bracket = close_in(falling, least, most)
    lower, upper, flow = _ends(network, bracket, lambda s, index: state(s, index, None))
    mixed = _mixed(network, lower, upper)
    jump = _jump(network, lower, upper)
    rows = np.flatnonzero(jump.high - jump.low > 0.0)
    if rows.size == 0:
        return mixed
    jump = jump.rows(rows)

    # Within the jump the flow is known, and the inlet pressure above the return manifold is sought.
    def within(above: Array, at: Index) -> State:
        index = rows[at]
        part, s = network.take(index), flow[index]

        def raise_(bank: BankState, level: Array) -> BankState:
            return raised(part, s, bank, level, above, jump.rows(at))

        return state(s, index, raise_)

    inner = close_in(
        lambda above, at: shortfall(network.take(rows[at]), within(above, at)), jump.low, jump.high
    )
    ends = [within(above, np.arange(rows.size)) for above in (inner.low, inner.high)]
    return mixed.put(rows, _mixed(network.take(rows), *ends))


def _on_the_level(network: Network, returns: Array, found: State) -> State:
    """A state where the return pressure settles the flow.

    A priority valve's inlet stands at what one stage asks for while the flow behind it grows: on
    that level a pump that holds just this pressure leaves the flow open. The flow is then the one
    whose return pressure makes the stage ask for it.
    """
    gap = np.abs(network.return_line.drop(found.returned)[0] - returns)
    rows = np.flatnonzero(gap > LOOSE * returns)
    if rows.size == 0:
        return found
    part, level = network.take(rows), returns[rows]
    more, less = (_at_return(part, rows.size, level * (1.0 - d)) for d in (ASIDE, -ASIDE))

    def state(s: Array, index: Index) -> State:
        here = part.part(index, rows.size)
        return surround(here, by_flow(here, s, level[index]), level[index])

    def falling(s: Array, index: Index) -> Array:
        here = part.part(index, rows.size)
        return level[index] - here.return_line.drop(state(s, index).returned)[0]

    everything = np.arange(rows.size)
    low, high = (one.bank.section.sum(axis=1) + one.bank.passed for one in (less, more))
    bracket = close_in(falling, low, high)
    ends = [state(s, everything) for s in (bracket.low, bracket.high)]
    weight = zero_between(*(falling(s, everything) for s in (bracket.low, bracket.high)))
    return found.put(rows, ends[0].mixed(ends[1], weight))


def _flow_range(network: Network, size: int, returns: Array | None) -> tuple[Array, Array]:
    """Least and greatest value that the scalar of a bank can take, (N,) each."""
    least = np.zeros(size)
    if not network.to_tank:
        return least, least + 2.0 * full_flow(network)
    if returns is not None:
        # A high return pressure feeds reliefs and slip backwards, through the open centre.
        for reliefs in (network.at_pump, network.at_bank):
            least = least - reliefs.flow(returns, returns).sum(axis=1)
        least = least - network.pump.slip * returns
    if network.kind == "gear divider":
        least = np.where((network.commanded > 0).any(axis=1), 0.0, least)
    return least, network.pump.capacity * network.pump.speed + np.zeros(size)


def _jump(network: Network, lower: State, upper: State) -> Jump:
    """What stands still between two neighbouring flows; high equals low where nothing does."""
    if not network.branches:
        nothing = np.zeros_like(lower.bank.work)
        return Jump(nothing > 0, nothing, nothing, lower.bank.inlet, lower.bank.inlet)
    below, above = (rise(network, state.returns) for state in (lower, upper))
    # What gets no flow yet may stand at any pressure below its start.
    before = np.where(lower.bank.section > 0, lower.bank.work, 0.0) - below
    after = upper.bank.work - above
    low, high = (state.bank.inlet - state.returns for state in (lower, upper))
    least = JUMP * np.abs(high)
    holds = (after - before > least[:, None]) & (network.commanded > 0)
    if network.kind != "flow sharing":
        holds &= upper.bank.section > 0
    jumps = holds.any(axis=1) & (high - low > least)
    return Jump(holds & jumps[:, None], before, after, low, np.where(jumps, high, low))


def shortfall(network: Network, state: State) -> Array:
    """What the supply has in hand at a state, scaled: positive where it would push s up, (N,)."""
    pump = network.pump
    flow = deliverable(network, state.pump) - state.at_pump.sum(axis=1) - state.through_line
    in_hand = flow / np.maximum(pump.capacity * pump.speed, 1e-12)
    if network.supply == "fixed":
        return np.asarray(in_hand)
    held = held_pressure(network, state.load_signal)
    return np.asarray(np.minimum(in_hand, (held - state.pump) / PRESSURE_SCALE))


def _shifted(network: Network, bank: BankState) -> State:
    """The state of a bank that was found with the return manifold at zero pressure."""
    nothing = np.zeros_like(bank.inlet)
    returns = network.return_line.drop(surround(network, bank, nothing).returned)[0]
    across = returns[:, None]
    above = replace(
        bank,
        work=bank.work + across,
        inlet=bank.inlet + returns,
        stage_inlet=bank.stage_inlet + across,
    )
    return surround(network, above, returns)


def _feels_return(network: Network) -> Mask:
    """Where return pressure must be found together with the flows, (N,) or (1,)."""
    if not network.return_line.series:
        return np.zeros(1, dtype=bool)
    if isinstance(network.return_line, Level):
        return np.ones(1, dtype=bool)  # the inlet may stand below it
    # A relief to tank at the bank changes what the main line carries, and so one to the return.
    feels = np.array([bool(network.at_bank.names) and bool(network.at_pump.to_return.any())])
    for branch in network.branches:
        feels = feels | branch.feels_return
    if isinstance(network.return_line, FedReturn):
        feels = feels | network.return_line.active  # it is under pressure without any flow
    if network.kind == "flow sharing":
        feels = feels | (network.ls_relief < NEVER)  # it caps the signal, not a difference
    return feels


def _return_pressure(network: Network, s: Array, near: Array, start: Array) -> Array:
    """Root of R(returned flow at p_r) - p_r; the flow falls as p_r rises."""
    if isinstance(network.return_line, Level):
        return network.return_line.drop(s)[0]

    def falling(returns: Array, index: Index) -> Array:
        part = network.part(index, s.size)
        bank = by_pressure(part, s[index], returns, near[index])
        near[index] = bank.line
        flow = surround(part, bank, returns).returned
        return part.return_line.drop(flow)[0] - returns

    nothing = np.zeros_like(s)
    return secant(falling, falling(nothing, np.arange(s.size)), start, slope=-1.0)


def most_returned(network: Network) -> Array:
    """More than ever reaches the return manifold [m3/s], (N,) or (1,)."""
    most = network.pump.capacity * network.pump.speed
    for branch in network.branches:
        most = most + branch.commanded * np.maximum(branch.lift, 1.0)
    return most
