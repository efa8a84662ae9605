"""Where there is enough for all: the steady state of a parallel bank, one value after the other.

With every function at its command the flows are known, and the pressures follow in turn:

    return manifold    r = R(sum of what comes back)
    work ports         w = W(commanded) + lift r
    pump               p = what it holds at the highest w
    bank inlet         b = p - drop of the pressure line at the sum of the commands

It is the answer where the pump can give that flow at p, each section has at least its drop left,
and no relief opens. With the pump at rest nothing flows: one that does not leak would hold any
pressure, and none is the least. Elsewhere, and for a fixed pump, whose pressure follows from where
its spare oil goes, it is where `joint` begins.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple, Self

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.banks import BankState
from hydrocheck.solver.needs import BLOCK, Index, Mask, beside, run
from hydrocheck.solver.network import Network, ReliefArrays
from hydrocheck.solver.state import State
from hydrocheck.solver.supply import deliverable, held_pressure, relieved_pressure


class Unknowns(NamedTuple):
    """Flow of each work line [m3/s], bank inlet and return pressure [Pa], (n,) each."""

    lines: list[Array]
    b: Array
    r: Array

    def rows(self, index: Index) -> Unknowns:
        """The points at `index`."""
        return Unknowns([u[index] for u in self.lines], self.b[index], self.r[index])

    def half_way(self, other: Unknowns) -> Unknowns:
        """The middle between these unknowns and others."""
        lines = [0.5 * (u + v) for u, v in zip(self.lines, other.lines, strict=True)]
        return Unknowns(lines, 0.5 * (self.b + other.b), 0.5 * (self.r + other.r))

    @classmethod
    def joined(cls, parts: list[Self]) -> Unknowns:
        """One after the other."""
        lines = [np.concatenate(us) for us in zip(*(part.lines for part in parts), strict=True)]
        b, r = (np.concatenate([getattr(part, key) for part in parts]) for key in ("b", "r"))
        return Unknowns(lines, b, r)


def plenty(network: Network, size: int) -> tuple[State, Mask, Unknowns]:
    """The state with every function at its command, and where that is the steady state, (N,)."""
    state, good = State.room(network, size), np.zeros(size, dtype=bool)
    for start in range(0, size, BLOCK):
        index = run(start, min(start + BLOCK, size))
        part = network if size <= BLOCK else network.take(index)
        piece, good[index] = _at_command(part, min(BLOCK, size - start))
        state.fill(index, piece)
    still = np.flatnonzero(np.broadcast_to(network.pump.speed <= 0, (size,)))
    if still.size:
        state.fill(still, _at_rest(network.take(still), still.size))
        good[still] = True
    lines = [state.bank.line[:, m] for m in range(len(network.branches))]
    return state, good, Unknowns(lines, state.bank.inlet, state.returns)


def _at_rest(network: Network, size: int) -> State:
    """Nothing flows; the return manifold may be under pressure from elsewhere."""
    state = State.room(network, size)
    returns, _ = network.return_line.drop(np.zeros(size))
    work = beside([np.where(b.commanded > 0, 0.0, returns) for b in network.branches], size)
    return replace(state, returns=returns, bank=replace(state.bank, work=work))


def _at_command(network: Network, size: int) -> tuple[State, Mask]:
    """As `plenty`, for one block."""
    nothing = np.zeros(size)
    commanded = [np.broadcast_to(branch.commanded, (size,)) for branch in network.branches]
    climbs = [branch.at_command for branch in network.branches]
    total, returned = nothing, nothing
    for asked, climb in zip(commanded, climbs, strict=True):
        total, returned = total + asked, returned + climb.returned
    returns = network.return_line.drop(returned)[0]
    works, signal, highest = [], nothing, nothing
    good = np.ones(size, dtype=bool)
    for branch, climb in zip(network.branches, climbs, strict=True):
        on = branch.commanded > 0
        work = np.where(on, climb.pressure + branch.lift * returns, returns)
        works.append(work)
        signal = np.where(on, np.maximum(signal, work), signal)
        highest = np.maximum(highest, np.where(on, work + branch.section_drop, 0.0))
        if branch.relief is not None:
            good = good & (~on | (work <= branch.relief.opens_at(returns)))
    signal = np.minimum(signal, network.ls_relief)
    line = network.main_line.drop(total)[0]
    if network.supply == "fixed":
        inlet = relieved_pressure(network, total)
        pump, good = inlet + line, np.zeros(size, dtype=bool)
    else:
        pump = np.broadcast_to(held_pressure(network, signal), (size,))
        inlet = pump - line
        good = good & (highest <= inlet) & (deliverable(network, pump) >= total)
        good = _shut(network.at_pump, pump, returns, good)
        good = _shut(network.at_bank, inlet, returns, good)
    flows = beside(commanded, size)
    bank = BankState(
        section=flows,
        line=flows,
        returned=beside([climb.returned for climb in climbs], size),
        work=beside(works, size),
        inlet=inlet,
        stage_inlet=np.broadcast_to(inlet[:, None], flows.shape),
        passed=nothing,
    )
    state = State(
        bank=bank,
        at_pump=np.zeros((size, len(network.at_pump.names))),
        at_bank=np.zeros((size, len(network.at_bank.names))),
        pump=pump,
        returns=returns,
        through_line=total,
        returned=returned,
        load_signal=signal,
    )
    return state, good


def _shut(reliefs: ReliefArrays, inlet: Array, returns: Array, good: Mask) -> Mask:
    """Where no relief opens as well, (n,)."""
    for k in range(len(reliefs.names)):
        opens = reliefs.cracking[:, k] + reliefs.to_return[0, k] * returns
        good = good & (inlet <= opens)
    return good
