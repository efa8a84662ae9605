"""Bank side: how the sections of a bank share what reaches its inlet.

Either bank is a characteristic in one rising scalar s:

- parallel, pressure compensated, non-sharing: s is the pressure before the sections. Each section
  takes
  its commanded flow, or what the pressure left for it allows; the highest load starves first.
- open centre with priority: s is the flow into the bank. The first stage takes its commanded flow,
  the
  rest passes on; what no one takes returns to tank at K Q^2. The inlet stands at the highest of
  what the stages, each over its own section, ask for. Where the flow ends just before a stage, that
  stage stands still and the inlet may stand anywhere between what it asks for with and without it
  (`raised`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.branches import Taken
from hydrocheck.solver.compile import Network
from hydrocheck.solver.needs import Mask


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


def bank_state(network: Network, s: Array, return_pressure: Array, near: Array) -> BankState:
    """The bank at its scalar s, (N,), and a return manifold pressure [Pa], (N,).

    near: flows into the work lines near the answer [m3/s], (N, M)
    """
    if network.kind == "open centre":
        return _cascade(network, s, return_pressure)
    return _parallel(network, s, return_pressure, near)


def _parallel(network: Network, inlet: Array, returns: Array, near: Array) -> BankState:
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


def _cascade(network: Network, total: Array, returns: Array) -> BankState:
    taken: dict[int, Taken] = {}
    left = total
    for m in network.order:
        branch = network.branches[m]
        taken[m] = branch.at_flow(np.clip(left, 0.0, branch.commanded), returns)
        left = left - taken[m].section
    section, line, returned, work = _columns([taken[m] for m in sorted(taken)], total.size)
    inlet = returns + network.neutral * left * np.abs(left)
    stage_inlet = np.empty_like(section)
    for m in reversed(network.order):
        branch = network.branches[m]
        asks = work[:, m] + branch.section_drop * _share(section[:, m], branch.commanded) ** 2
        inlet = np.where(section[:, m] > 0, np.maximum(asks, inlet), inlet)
        stage_inlet[:, m] = inlet
        # Opened, but no flow reaches it: its work port has the pressure before it.
        still = (section[:, m] <= 0) & (branch.commanded > 0)
        work[:, m] = np.where(still, inlet, work[:, m])
    return BankState(section, line, returned, work, inlet, stage_inlet, left)


def _share(section: Array, commanded: Array) -> Array:
    return section / np.where(commanded > 0, commanded, 1.0)


def raised(network: Network, bank: BankState, inlet: Array, holds: Mask) -> BankState:
    """An open centre with the same flows and a higher inlet pressure [Pa], (N,).

    holds: the stages that stand still and hold the pressure, (N, M)
    """
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
