"""Bank side: how the sections of a bank share what reaches its inlet.

Either bank is a characteristic in one rising scalar s:

- parallel, pressure compensated, non-sharing: s is the pressure before the sections. Each section takes
  its commanded flow, or what the pressure left for it allows; the highest load starves first.
- open centre with priority: s is the flow into the bank. The first stage takes its commanded flow, the
  rest passes on; what no one takes returns to tank at K Q^2. The inlet stands at the highest of what the
  stages, each over its own section, ask for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.solver.compile import Network

Array = NDArray[np.float64]


@dataclass(frozen=True)
class BankState:
    """section, line: flow of each section and into its work line [m3/s], (N, M)

    inlet: bank inlet pressure [Pa], (N,)
    stage_inlet: pressure before each section [Pa], (N, M)
    passed: flow that leaves an open centre unused [m3/s], (N,)
    """

    section: Array
    line: Array
    inlet: Array
    stage_inlet: Array
    passed: Array


def bank_state(network: Network, s: Array, return_pressure: Array) -> BankState:
    """The bank at its scalar s, (N,), and a return manifold pressure [Pa], (N,)."""
    law = _cascade if network.kind == "open centre" else _parallel
    return law(network, s, return_pressure)


def _parallel(network: Network, inlet: Array, return_pressure: Array) -> BankState:
    section, line = network.branches.flow_at(
        inlet[:, None], return_pressure[:, None], network.commanded, network.section_drop
    )
    before = np.broadcast_to(inlet[:, None], section.shape)
    return BankState(section, line, inlet, before, np.zeros_like(inlet))


def _cascade(network: Network, total: Array, return_pressure: Array) -> BankState:
    commanded = np.broadcast_to(network.commanded, (total.size, network.commanded.shape[1]))
    section = np.zeros(commanded.shape)
    left = total.copy()
    for i in network.order:
        section[:, i] = np.minimum(commanded[:, i], left)
        left = left - section[:, i]
    work, _, _ = network.branches.work_pressure(section, return_pressure[:, None])
    share = section / np.maximum(commanded, 1e-300)
    asks = np.where(section > 0, work + network.section_drop * share**2, -np.inf)
    stage_inlet = np.empty(commanded.shape)
    downstream = return_pressure + network.neutral * left**2
    for i in reversed(network.order):
        downstream = np.maximum(asks[:, i], downstream)
        stage_inlet[:, i] = downstream
    return BankState(section, section, downstream, stage_inlet, left)


def work_port_pressure(network: Network, state: BankState, return_pressure: Array) -> Array:
    """Pressure at each work port [Pa], (N, M).

    A function that is opened but stands still has its inlet pressure at the work port; one that is shut
    has the return pressure.
    """
    work, _, _ = network.branches.work_pressure(state.line, return_pressure[:, None])
    opened = network.commanded > 0
    held = opened & (state.section <= 0)
    work = np.where(held, state.stage_inlet, np.minimum(work, state.stage_inlet))
    return np.where(opened, work, return_pressure[:, None])
