"""Newton's method on the whole network at once, for a parallel bank.

The unknowns of a point are the flow u of each work line, the bank inlet pressure b and the return
manifold pressure r. Each section obeys one of two laws, whichever leaves less in hand:

    commanded    c - q = 0,   q = u + flow of the port relief
    short        b - h = 0,   h = w + section_drop (q / c)^2,   w = W(u) + lift r

so that a step of u is linear in the steps of b and r (`Form`). The supply, at full stroke or at its
held pressure, again whichever leaves less in hand, and the return line, R(returned) - r = 0, make
two equations for these two steps: an arrowhead, solved in closed form for all points at once.

The first guess has every function at its command: the answer where nothing starves. Nothing guards
the steps beyond their bounds. Points that do not settle are left to the bracket of `balance`, which
always does.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.banks import BankState
from hydrocheck.solver.branches import TRICKLE, Branch
from hydrocheck.solver.compile import Network, ReliefArrays
from hydrocheck.solver.needs import Index
from hydrocheck.solver.state import State, surround
from hydrocheck.solver.supply import PRESSURE_SCALE, deliverable, held_pressure, stroke_limit

SETTLED = 1e-13
"""Share of its scale that an equation may be off."""
MOST_STEPS = 30
DAMPED = range(7, 14)
"""Steps that go half way: they break cycles between the two sides of a stall."""
GUESSES = 16
KNEE = 0.3
TINY = 1e-300


class Form(NamedTuple):
    """A quantity's step, linear in those of b and r: at + by_b db + by_r dr, (n,) each."""

    at: Array
    by_b: Array
    by_r: Array

    def plus(self, other: Form, factor: Array | float = 1.0) -> Form:
        """The sum with a multiple of another."""
        return Form(
            self.at + factor * other.at,
            self.by_b + factor * other.by_b,
            self.by_r + factor * other.by_r,
        )

    def times(self, factor: Array | float) -> Form:
        """A multiple."""
        return Form(factor * self.at, factor * self.by_b, factor * self.by_r)

    def value(self, b: Array, r: Array) -> Array:
        """The step for steps of b and r."""
        return self.at + self.by_b * b + self.by_r * r


def _where(condition: NDArray[np.bool_], yes: Form, no: Form) -> Form:
    """One form or the other, point by point."""
    return Form(*(np.where(condition, a, b) for a, b in zip(yes, no, strict=True)))


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


class Row(NamedTuple):
    """One function at the present unknowns: its state, what is off, and how it steps, (n,) each.

    returned: by its work return line; over: by its port relief, where that leads to the return
    """

    section: Array
    line: Array
    returned: Array
    over: Array
    work: Array
    off: Array
    line_step: Form
    section_step: Form
    returned_step: Form
    work_step: Form


def joint_newton(network: Network, size: int) -> tuple[State | None, NDArray[np.bool_]]:
    """The steady state of a parallel bank, and where it is settled, (N,)."""
    count = len(network.branches)
    # Functions that are shut at every point take no part; one stays, so that there is a bank.
    open_ = [m for m, branch in enumerate(network.branches) if branch.commanded.any()] or [0]
    if len(open_) == count:
        return _settle(network, size)
    lean = replace(network, branches=tuple(network.branches[m] for m in open_))
    state, settled = _settle(lean, size)
    return None if state is None else state.widened(open_, count), settled


def _settle(network: Network, size: int) -> tuple[State | None, NDArray[np.bool_]]:
    """As `joint_newton`, for all functions of a network."""
    settled = np.zeros(size, dtype=bool)
    whole: State | None = None
    active, part, x = np.arange(size), network, _at_command(network, size)
    for step in range(MOST_STEPS):
        x0 = x
        done, state, x = _step(part, x)
        if done.all() and whole is None:
            return state(np.arange(size)), np.ones(size, dtype=bool)
        if step == 0:
            x = _starved_guess(part, x0)
        if done.any():
            rows = np.flatnonzero(done)
            piece = state(rows)
            whole = piece.spread(size) if whole is None else whole
            whole = whole.put(active[rows], piece)
            settled[active[rows]] = True
            left = np.flatnonzero(~done)
            if left.size == 0:
                break
            active, part, x, x0 = active[left], part.take(left), x.rows(left), x0.rows(left)
        if step in DAMPED:
            x = x0.half_way(x)
    return whole, settled


def _at_command(network: Network, size: int) -> Unknowns:
    """Every function at its command: the answer where nothing starves and no relief opens."""
    nothing = np.zeros(size)
    commanded = [np.broadcast_to(branch.commanded, (size,)) for branch in network.branches]
    climbs = [branch.at_command for branch in network.branches]
    returns = network.return_line.drop(_total([c.returned for c in climbs], nothing))[0]
    total = _total(commanded, nothing)
    if network.supply == "fixed":
        return Unknowns(commanded, _relieved_pressure(network, total), returns)
    signal = nothing
    for branch, climb in zip(network.branches, climbs, strict=True):
        work = climb.pressure + branch.lift * returns
        signal = np.where(branch.commanded > 0, np.maximum(signal, work), signal)
    held = held_pressure(network, np.minimum(signal, network.ls_relief))
    return Unknowns(commanded, held - network.main_line.drop(total)[0], returns)


def _relieved_pressure(network: Network, total: Array) -> Array:
    """About where a fixed pump stands that gives more than the bank takes [Pa], (n,)."""
    pump = network.pump
    spare = np.maximum(pump.capacity * pump.speed - total, 0.0)
    pressure = spare / np.maximum(pump.slip, TINY)
    for reliefs in (network.at_pump, network.at_bank):
        for k in range(len(reliefs.names)):
            full = reliefs.cracking[:, k] + spare / reliefs.slope[:, k]
            pressure = np.minimum(pressure, full)
    return pressure


def _starved_guess(network: Network, x: Unknowns) -> Unknowns:
    """A first guess where the supply is short: straight loads, and b by halving.

    Between `KNEE` of its command and all of it a branch's pressure is taken as a straight line in
    its flow: the share of the command that it gets at an inlet pressure is a quadratic's root.
    """
    low, high = np.zeros_like(x.b), np.maximum(x.b, 0.0)
    chords = []
    for branch in network.branches:
        top = branch.at_command.pressure
        tilt = (top - branch.climb(KNEE * branch.commanded).pressure) / (1.0 - KNEE)
        chords.append((top - tilt + branch.lift * x.r, tilt))

    def shares(inlet: Array) -> list[Array]:
        found = []
        for branch, (foot, tilt) in zip(network.branches, chords, strict=True):
            half = tilt / (2.0 * branch.section_drop)
            room = np.maximum((inlet - foot) / branch.section_drop, 0.0)
            found.append(np.minimum(room / (half + np.sqrt(half**2 + room) + TINY), 1.0))
        return found

    def taken(inlet: Array) -> Array:
        total = np.zeros_like(inlet)
        for branch, share in zip(network.branches, shares(inlet), strict=True):
            total = total + branch.commanded * share
        return total

    for _ in range(GUESSES):
        middle = 0.5 * (low + high)
        enough = deliverable(network, middle) >= taken(middle)
        low, high = np.where(enough, middle, low), np.where(enough, high, middle)
    lines = [
        branch.commanded * np.maximum(share, TRICKLE)
        for branch, share in zip(network.branches, shares(high), strict=True)
    ]
    return Unknowns(lines, high, x.r)


def _step(network: Network, x: Unknowns) -> tuple[NDArray[np.bool_], _Build, Unknowns]:
    """Where the unknowns solve the equations, the state there, and the unknowns one step on."""
    nothing = np.zeros_like(x.b)
    zero, one = Form(nothing, nothing, nothing), np.ones_like(x.b)
    step_b, step_r = Form(nothing, one, nothing), Form(nothing, nothing, one)
    rows = [_row(branch, u, x.b, x.r) for branch, u in zip(network.branches, x.lines, strict=True)]
    at_bank, at_bank_step = _reliefs(network.at_bank, x.b, x.r, step_b, step_r)
    through = _total([row.section for row in rows] + at_bank, nothing)
    through_step = _chain([row.section_step for row in rows] + at_bank_step, zero)
    line, line_slope = network.main_line.drop(through)
    pressure, pressure_step = x.b + line, step_b.plus(through_step, line_slope)
    at_pump, at_pump_step = _reliefs(network.at_pump, pressure, x.r, pressure_step, step_r)
    returned = _total([row.returned + row.over for row in rows], nothing)
    returned_step = _chain([row.returned_step for row in rows], zero)
    for reliefs, given, steps in (
        (network.at_bank, at_bank, at_bank_step),
        (network.at_pump, at_pump, at_pump_step),
    ):
        for k, to_return in enumerate(reliefs.to_return[0, : len(given)]):
            returned = returned + to_return * given[k]
            returned_step = returned_step.plus(steps[k], float(to_return))
    back, back_slope = network.return_line.drop(returned)
    gap = back - x.r
    gap_step = Form(nothing, nothing, -one).plus(returned_step, back_slope)
    supply, supply_step = _supply(
        network, rows, (pressure, pressure_step), (through, through_step), (at_pump, at_pump_step)
    )
    off = np.maximum(np.abs(supply), np.abs(gap) / PRESSURE_SCALE)
    for row in rows:
        off = np.maximum(off, row.off)
    done = off <= SETTLED
    db, dr = _solve_two(supply, supply_step, gap, gap_step)
    lines = [
        np.clip(u + row.line_step.value(db, dr), TRICKLE * b.commanded, b.commanded)
        for u, row, b in zip(x.lines, rows, network.branches, strict=True)
    ]
    after = Unknowns(lines, np.maximum(x.b + db, 0.0), np.maximum(x.r + dr, 0.0))
    return done, _Build(network, rows, x), after


def _total(parts: list[Array], start: Array) -> Array:
    for part in parts:
        start = start + part
    return start


def _chain(parts: list[Form], start: Form) -> Form:
    for part in parts:
        start = start.plus(part)
    return start


def _solve_two(
    first: Array, first_step: Form, second: Array, second_step: Form
) -> tuple[Array, Array]:
    """Steps of b and r for which both linear equations come to zero."""
    c1, c2 = -(first + first_step.at), -(second + second_step.at)
    determinant = first_step.by_b * second_step.by_r - first_step.by_r * second_step.by_b
    safe = np.where(determinant == 0.0, 1.0, determinant)
    db = (c1 * second_step.by_r - c2 * first_step.by_r) / safe
    dr = (first_step.by_b * c2 - second_step.by_b * c1) / safe
    return db, dr


def _supply(
    network: Network,
    rows: list[Row],
    pump: tuple[Array, Form],
    through: tuple[Array, Form],
    reliefs: tuple[list[Array], list[Form]],
) -> tuple[Array, Form]:
    """What the supply has in hand, scaled, and how that steps: by flow or by held pressure."""
    pressure, pressure_step = pump
    theoretical = np.maximum(network.pump.capacity * network.pump.speed, 1e-12)
    in_hand = deliverable(network, pressure) - _total(reliefs[0], through[0])
    stroke = stroke_limit(network, pressure)
    limited = np.where(stroke < 1.0, stroke * theoretical / np.maximum(pressure, TINY), 0.0)
    step = _chain(reliefs[1], through[1].plus(pressure_step, network.pump.slip + limited))
    flow, flow_step = in_hand / theoretical, step.times(-1.0 / theoretical)
    if network.supply == "fixed":
        return flow, flow_step
    signal, signal_step = np.zeros_like(pressure), Form(*(np.zeros_like(pressure),) * 3)
    for row, branch in zip(rows, network.branches, strict=True):
        higher = (branch.commanded > 0) & (row.work > signal)
        signal = np.where(higher, row.work, signal)
        signal_step = _where(higher, row.work_step, signal_step)
    signal = np.minimum(signal, network.ls_relief)
    held = held_pressure(network, signal)
    follows = (held > network.pump.standby) & (held < network.pump.compensator)
    follows &= (signal < network.ls_relief) & (network.supply == "load sensing")
    zero = Form(*(np.zeros_like(pressure),) * 3)
    reaches = signal_step.times(network.pump.ls_share)
    held_step = _where(follows, reaches, zero).plus(pressure_step, -1.0)
    lack = (held - pressure) / PRESSURE_SCALE
    by_flow = flow <= lack
    return np.where(by_flow, flow, lack), _where(
        by_flow, flow_step, held_step.times(1.0 / PRESSURE_SCALE)
    )


def _reliefs(
    reliefs: ReliefArrays, inlet: Array, r: Array, inlet_step: Form, step_r: Form
) -> tuple[list[Array], list[Form]]:
    """Flow of each relief [m3/s] and its step."""
    flows, steps = [], []
    for k in range(len(reliefs.names)):
        to_return = float(reliefs.to_return[0, k])
        over = inlet - to_return * r - reliefs.cracking[:, k]
        slope = np.where(over > 0, reliefs.slope[:, k], 0.0)
        flows.append(slope * over)
        step = inlet_step.plus(step_r, -to_return)
        steps.append(step.times(slope))
    return flows, steps


def _row(branch: Branch, u: Array, b: Array, r: Array) -> Row:
    """One function at the present unknowns."""
    zero = np.zeros_like(u)
    commanded = np.broadcast_to(branch.commanded, u.shape)
    rated = np.where(commanded > 0, commanded, 1.0)
    climb = branch.climb(u)
    work = climb.pressure + branch.lift * r
    over, over_step = _port(branch, climb.slope, work, r)
    share = (u + over) / rated
    bend = 2.0 * branch.section_drop * share / rated  # d (section's drop) / dq
    short = b - work - branch.section_drop * share**2
    lacking, spare = 1.0 - share, short / branch.section_drop
    held = (commanded > 0) & (u <= TRICKLE * commanded) & (short < 0)
    moves = (commanded > 0) & ~held
    by_command = lacking <= spare
    growth = 1.0 + over_step.by_u
    steep = np.where(commanded > 0, np.maximum(climb.slope + bend * growth, TINY), 1.0)
    line_step = _where(
        moves,
        _where(
            by_command,
            Form((rated - u - over) / growth, zero, -over_step.by_r / growth),
            Form(short / steep, 1.0 / steep, -(branch.lift + bend * over_step.by_r) / steep),
        ),
        Form(zero, zero, zero),
    )
    direct = Form(zero, zero, np.where(moves, over_step.by_r, 0.0))
    to_return = float(branch.relief is not None and branch.relief.to_return)
    off = np.where(moves, np.abs(np.minimum(lacking, spare)), 0.0)
    if branch.relief is not None:
        off = np.where(held, np.inf, off)  # its port relief still passes oil: for the bracket
    at_rest = Form(zero, np.ones_like(u), zero)
    return Row(
        section=np.where(moves, u + over, 0.0),
        line=np.where(moves, u, 0.0),
        returned=np.where(moves, climb.returned, 0.0),
        over=to_return * np.where(moves, over, 0.0),
        work=np.where(moves, work, np.where(held, b, r)),
        off=off,
        line_step=line_step,
        section_step=line_step.times(growth).plus(direct),
        returned_step=line_step.times(climb.gain + to_return * over_step.by_u).plus(
            direct, to_return
        ),
        work_step=_where(
            held, at_rest, line_step.times(climb.slope).plus(Form(zero, zero, branch.lift + zero))
        ),
    )


class _PortStep(NamedTuple):
    """How the flow of a port relief follows the work line's flow and the return pressure."""

    by_u: Array
    by_r: Array


def _port(branch: Branch, slope: Array, work: Array, r: Array) -> tuple[Array, _PortStep]:
    """Flow of a function's port relief [m3/s], (n,), and its step."""
    zero = np.zeros_like(work)
    if branch.relief is None:
        return zero, _PortStep(zero, zero)
    over = branch.relief.flow(work, r)
    kappa = np.where(over > 0, branch.relief.slope, 0.0)
    return over, _PortStep(kappa * slope, kappa * (branch.lift - float(branch.relief.to_return)))


class _Build:
    """The state of a step's points, made for those that are settled."""

    def __init__(self, network: Network, rows: list[Row], x: Unknowns) -> None:
        self.network, self.rows, self.x = network, rows, x

    def __call__(self, index: Index) -> State:
        """The state of the points at `index`."""
        whole = index.size == self.x.b.size
        network = self.network if whole else self.network.take(index)
        b, r = self.x.b[index], self.x.r[index]
        section, line, returned, work = (
            np.stack([getattr(row, key)[index] for row in self.rows], axis=1)
            for key in ("section", "line", "returned", "work")
        )
        before = np.broadcast_to(b[:, None], section.shape)
        bank = BankState(section, line, returned, work, b, before, np.zeros_like(b))
        return surround(network, bank, r)
