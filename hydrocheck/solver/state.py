"""The state of a network at N points, and what surrounds a bank: reliefs and main lines."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.banks import BankState
from hydrocheck.solver.needs import Index
from hydrocheck.solver.network import Network


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

        return combine(mix, self, other)

    def put(self, index: Index, part: State) -> State:
        """This state, with the points at `index` taken from `part`."""

        def put(mine: Array, theirs: Array) -> Array:
            out = np.array(mine)
            out[index] = theirs
            return out

        return combine(put, self, part)

    @classmethod
    def room(cls, network: Network, size: int) -> State:
        """Room for the state of `size` points, zeros."""

        def wide(count: int) -> Array:
            return np.zeros((count, size)).T

        functions = len(network.branches)
        by_function = {
            k: wide(functions) for k in ("section", "line", "returned", "work", "stage_inlet")
        }
        bank = BankState(**by_function, inlet=np.zeros(size), passed=np.zeros(size))
        single = ("pump", "returns", "through_line", "returned", "load_signal")
        return cls(
            bank=bank,
            at_pump=wide(len(network.at_pump.names)),
            at_bank=wide(len(network.at_bank.names)),
            **{key: np.zeros(size) for key in single},
        )

    def fill(self, index: Index, part: State) -> None:
        """Write another state into this one, at the points at `index`."""
        for f in fields(self.bank):
            getattr(self.bank, f.name)[index] = getattr(part.bank, f.name)
        for f in fields(self):
            if f.name != "bank":
                getattr(self, f.name)[index] = getattr(part, f.name)

    def widened(self, columns: list[int], count: int) -> State:
        """This state with shut functions added: its own stand at `columns` of `count`."""

        def wide(values: Array, shut: Array) -> Array:
            out = np.empty((count, shut.size))
            for m in range(count):
                out[m] = values[:, columns.index(m)] if m in columns else shut
            return out.T

        bank, nothing = self.bank, np.zeros_like(self.returns)
        rows = {k: wide(getattr(bank, k), nothing) for k in ("section", "line", "returned")}
        work = wide(bank.work, self.returns)
        stage_inlet = wide(bank.stage_inlet, bank.inlet)
        return replace(self, bank=replace(bank, **rows, work=work, stage_inlet=stage_inlet))

    def spread(self, size: int) -> State:
        """Room for `size` points, zeros."""
        return combine(lambda mine, _: np.zeros((*mine.shape[1:], size)).T, self, self)

    def rows(self, index: Index) -> State:
        """The points at `index`."""
        return combine(lambda mine, _: mine[index], self, self)


def combine(law: Callable[[Array, Array], Array], a: State, b: State) -> State:
    """A state from two, array by array."""
    bank = {f.name: law(getattr(a.bank, f.name), getattr(b.bank, f.name)) for f in fields(a.bank)}
    rest = {
        f.name: law(getattr(a, f.name), getattr(b, f.name)) for f in fields(a) if f.name != "bank"
    }
    return State(bank=BankState(**bank), **rest)


def surround(network: Network, bank: BankState, returns: Array) -> State:
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
