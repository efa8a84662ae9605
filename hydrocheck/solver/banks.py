"""Bank side: how the sections of a bank share what reaches its inlet.

Every bank is a characteristic in one rising scalar s:

- parallel, not sharing: s is the pressure before the sections. Each section takes its commanded
  flow, or what the pressure left for it allows; the highest load starves first. (Plain parallel
  sections are the same without the limit: see `compile`.)
- open centre, priority valve: s is the flow into the bank. The first stage takes its commanded
  flow, the rest passes on; what no one takes returns to tank at K Q^2. The inlet stands at the
  highest of what the stages, each over its own section, ask for. Where the flow ends just before a
  stage, that stage stands still and the inlet may stand anywhere between what it asks for with and
  without it (`raised`).
- flow sharing: s is the flow into the bank. All sections take the same part phi of their commands;
  the highest load p_LS rules all compensators, so that

      q_i = phi c_i,   inlet = p_LS + dp_c phi^2

  A LS relief caps p_LS. A section whose load is above the cap has its own compensator wide open and
  takes c_i sqrt((inlet - load) / dp_c) instead.
- gear divider: s is the flow into it. Outlet i gets a_i s, and the shaft that its gears share makes
  the inlet the mean of the outlets, weighted by a_i; an outlet may stand above the inlet. The
  outlet of a function that is off is unloaded to the return.

Where a bank can take no more than its commands (nothing goes on to tank), s beyond their sum stands
for a rising inlet pressure at the same flows.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.branches import Taken
from hydrocheck.solver.needs import Index, Mask
from hydrocheck.solver.network import Network
from hydrocheck.solver.supply import relieved_pressure

TINY = 1e-300


@dataclass(frozen=True)
class BankState:
    """section, line: flow of each section and into its work line [m3/s], (N, M)

    returned: flow of each branch into the return manifold, without port reliefs [m3/s], (N, M)
    work: work-port pressure [Pa], (N, M); of a shut function the return pressure
    inlet: bank inlet pressure [Pa], (N,)
    stage_inlet: pressure before each section [Pa], (N, M)
    passed: flow that leaves an open centre unused [m3/s], (N,); negative where a high return
        pressure feeds reliefs backwards
    """

    section: Array
    line: Array
    returned: Array
    work: Array
    inlet: Array
    stage_inlet: Array
    passed: Array


@dataclass(frozen=True)
class Jump:
    """Machines that stand still between two neighbouring flows.

    holds: which, (N, M); before, after: their work ports on either side [Pa], (N, M), the return
        manifold at zero
    low, high: bank inlet on either side, above the return manifold [Pa], (N,)
    """

    holds: Mask
    before: Array
    after: Array
    low: Array
    high: Array

    def rows(self, index: Index) -> Jump:
        """The points at `index`."""
        return Jump(*(getattr(self, f.name)[index] for f in fields(self)))


def by_flow(network: Network, s: Array, returns: Array) -> BankState:
    """A bank that turns on its flow, at its scalar s, (N,), and a return pressure [Pa], (N,)."""
    if network.kind == "flow sharing":
        return _sharing(network, s, returns)
    if network.kind == "gear divider":
        return _divider(network, s, returns)
    return _cascade(network, s, returns)


def full_flow(network: Network) -> Array:
    """The flow from which s stands for a rising pressure [m3/s], (N,) or (1,)."""
    full = 1e-6 * network.pump.capacity * np.maximum(network.pump.speed, 1.0)
    for branch in network.branches:
        full = full + branch.commanded
    return full


def _split(network: Network, s: Array, returns: Array) -> tuple[Array, Array]:
    """Flow into the bank [m3/s] and pressure beyond what that needs [Pa], (N,) each."""
    if network.to_tank:
        return s, np.zeros_like(s)
    full = full_flow(network)
    return np.minimum(s, full), np.maximum(s / full - 1.0, 0.0) * (
        relieved_pressure(network, 0.0) + returns
    )


def by_pressure(network: Network, inlet: Array, returns: Array, near: Array) -> BankState:
    """A parallel bank at an inlet and a return pressure [Pa], (N,).

    near: flows into the work lines near the answer [m3/s], (N, M)
    """
    taken = [
        branch.at_pressure(inlet, returns, near[:, m]) for m, branch in enumerate(network.branches)
    ]
    section, line, returned, work = _columns(taken, inlet.size)
    before = np.broadcast_to(inlet[:, None], section.shape)
    return BankState(section, line, returned, work, inlet, before, np.zeros_like(inlet))


def _columns(taken: list[Taken], size: int) -> tuple[Array, ...]:
    if not taken:
        return tuple(np.zeros((size, 0)) for _ in Taken._fields)
    return tuple(np.stack(values).T for values in zip(*taken, strict=True))


def _cascade(network: Network, s: Array, returns: Array) -> BankState:
    total, beyond = _split(network, s, returns)
    taken: dict[int, Taken] = {}
    left = total
    for m in network.order:
        branch = network.branches[m]
        taken[m] = branch.at_flow(np.clip(left, 0.0, branch.commanded), returns)
        left = left - taken[m].section
    section, line, returned, work = _columns([taken[m] for m in sorted(taken)], total.size)
    if network.to_tank:
        inlet = returns + network.neutral * left * np.abs(left)
    else:
        left, inlet = np.zeros_like(left), beyond
    stage_inlet = np.empty_like(section)
    for m in reversed(network.order):
        branch = network.branches[m]
        asks = work[:, m] + branch.section_drop * _share(section[:, m], branch.commanded) ** 2
        inlet = np.where(section[:, m] > 0, np.maximum(asks + beyond, inlet), inlet)
        stage_inlet[:, m] = inlet
        # Opened, but no flow reaches it: its work port has the pressure before it.
        still = (section[:, m] <= 0) & (branch.commanded > 0)
        work[:, m] = np.where(still, np.maximum(inlet, returns), work[:, m])
    return BankState(section, line, returned, work, inlet, stage_inlet, left)


def _sharing(network: Network, s: Array, returns: Array) -> BankState:
    total, beyond = _split(network, s, returns)
    share = total / full_flow(network)
    taken = [branch.at_flow(share * branch.commanded, returns) for branch in network.branches]
    highest = np.zeros_like(s)
    for found in taken:
        highest = np.where(found.section > 0, np.maximum(found.work, highest), highest)
    drop = _least_drop(network)
    inlet = np.minimum(highest, network.ls_relief) + drop * share**2 + beyond
    taken = [
        branch.wide_open(found, network.ls_relief, inlet, returns)
        for branch, found in zip(network.branches, taken, strict=True)
    ]
    section, line, returned, work = _columns(taken, total.size)
    for m, branch in enumerate(network.branches):
        still = (section[:, m] <= 0) & (branch.commanded > 0)
        work[:, m] = np.where(still, inlet, work[:, m])
    before = np.broadcast_to(inlet[:, None], section.shape)
    return BankState(section, line, returned, work, inlet, before, np.zeros_like(inlet))


def _least_drop(network: Network) -> Array:
    """The drop over a section at its command, which all sections of the bank share [Pa]."""
    return network.branches[0].section_drop if network.branches else np.zeros(1)


def _divider(network: Network, s: Array, returns: Array) -> BankState:
    taken, passed = [], np.zeros_like(s)
    # Backwards it turns only where no outlet works: a function gives no oil back.
    still = (s <= 0) & (network.commanded > 0).any(axis=1)
    total = np.where(still, 0.0, s)
    inlet = network.neutral * total * np.abs(total)
    for m, branch in enumerate(network.branches):
        flow = network.shares[:, m] * total
        runs = branch.commanded > 0
        found = branch.at_flow(np.where(runs, flow, 0.0), returns)
        found = found._replace(work=np.where(still & runs, 0.0, found.work))
        taken.append(found)
        passed = passed + np.where(runs, 0.0, flow)
        inlet = inlet + network.shares[:, m] * found.work
    inlet = np.where(still, 0.0, inlet)
    section, line, returned, work = _columns(taken, s.size)
    return BankState(section, line, returned, work, inlet, work.copy(), passed)


def _share(section: Array, commanded: Array) -> Array:
    return section / np.where(commanded > 0, commanded, 1.0)


def raised(
    network: Network, s: Array, bank: BankState, level: Array, above: Array, jump: Jump
) -> BankState:
    """A bank that turns on its flow, with the same flows and a higher inlet pressure.

    level: return manifold pressure; above: inlet pressure above it [Pa], (N,) each
    """
    inlet = level + above
    if network.kind == "flow sharing":
        ruling = inlet - _least_drop(network) * (s / full_flow(network)) ** 2
        lift = rise(network, level)
        highest = np.maximum(jump.before, jump.after) + lift
        work = np.clip(ruling[:, None], jump.before + lift, highest)
        still = (bank.section <= 0) & (network.commanded > 0)
        work = np.where(jump.holds | still, work, bank.work)
        before = np.broadcast_to(inlet[:, None], work.shape)
        return replace(bank, work=work, inlet=inlet, stage_inlet=before)
    if network.kind == "gear divider":
        way = (above - jump.low) / np.maximum(jump.high - jump.low, TINY)
        work = jump.before + (jump.after - jump.before) * way[:, None] + rise(network, level)
        work = np.where(jump.holds, work, bank.work)
        return replace(bank, work=work, inlet=inlet, stage_inlet=work)
    return _raised_cascade(network, bank, inlet, jump.holds)


def rise(network: Network, level: Array) -> Array:
    """How far a return manifold pressure lifts each work port [Pa], (N, M)."""
    return np.stack([branch.lift * level for branch in network.branches], axis=1)


def _raised_cascade(network: Network, bank: BankState, inlet: Array, holds: Mask) -> BankState:
    stage_inlet, work = bank.stage_inlet.copy(), bank.work.copy()
    reached = np.ones(inlet.shape, dtype=bool)  # stages up to the first one that holds
    for m in network.order:
        branch, hold = network.branches[m], holds[:, m] & reached
        higher = np.maximum(stage_inlet[:, m], inlet)
        stage_inlet[:, m] = np.where(reached, higher, stage_inlet[:, m])
        drop = branch.section_drop * _share(bank.section[:, m], branch.commanded) ** 2
        work[:, m] = np.where(hold, stage_inlet[:, m] - drop, work[:, m])
        reached &= ~hold
    return replace(bank, work=work, inlet=np.maximum(bank.inlet, inlet), stage_inlet=stage_inlet)
