"""Newton's method on the whole network at once, for a parallel bank.

The unknowns of a point are the flow u of each work line, the bank inlet pressure b and the return
manifold pressure r. `sections` gives the step of each function, linear in those of b and r
(`forms`). The supply, at full stroke or at its held pressure, whichever leaves less in hand, and
the return line, R(returned) - r = 0, make two equations for these two steps: an arrowhead, solved
in closed form for all points at once.

The points given are those that `plenty` leaves: something is short there, or a relief opens. The
first guess takes the functions' pressures as straight lines in their flows. The first steps are
guarded by their bounds alone. After `SOON` of them b is held in a bracket: it rests until the flows
fit it, and the sign of its step tells on which side the root is. The few points that do not settle
so are left to the bracket of `balance`, which always ends.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.banks import BankState
from hydrocheck.solver.branches import TRICKLE
from hydrocheck.solver.forms import NOTHING, STEP_B, STEP_R, Form, Part, add, where
from hydrocheck.solver.needs import BLOCK, Index, Mask, beside
from hydrocheck.solver.network import Network, ReliefArrays
from hydrocheck.solver.plenty import Unknowns, plenty
from hydrocheck.solver.roots import EPS, Bracket, kept_in, wide_open
from hydrocheck.solver.sections import Row, section_row
from hydrocheck.solver.state import State
from hydrocheck.solver.supply import (
    PRESSURE_SCALE,
    deliverable,
    held_pressure,
    relieved_pressure,
    stroke_limit,
)

SETTLED = 1e-13
"""Share of its scale that an equation may be off."""
NEAR = 1e-11
"""The same where no floats do better: a steep function magnifies their rounding."""
MOST_STEPS = 100
SOON = 6
"""Steps within a block of points; what needs more goes on with that of other blocks."""
GUESSES = 6
KNEE = 0.3
TINY = 1e-300
FLAT = 1e-30
"""A slope that counts as none."""
FITS = 1e-6
"""What the flows may be off for b to step on, where steps are guarded."""
LONG = 0.3
"""Share of b from which a step down is a long one."""
KEPT = 0.8
"""Share of points left from which settled ones are worked on along with them."""
FEW = 256
"""Points of which none is left out when it has settled: the work is that of one."""
COARSE = 0.01
"""Width of a flow's bracket from which it counts as wrong: the return pressure has moved on."""
FAR = 1e12
"""Further than any pressure [Pa]."""


class Step(NamedTuple):
    """The network at the present unknowns, (n,) each: what is off, its state, the next unknowns.

    off: of all equations, as a share of their scale; unfit: of those of the flows at the present b
    """

    off: Array
    unfit: Array
    rows: list[Row]
    at_bank: list[Array]
    at_pump: list[Array]
    through: Array
    pressure: Array
    returned: Array
    signal: Array
    x: Unknowns
    db: Array
    dr: tuple[Array, Array]

    def nearest(self, network: Network) -> Mask:
        """Where no floats of b and of the flows come nearer to where the equations hold."""
        nearest = (self.off <= NEAR) & (np.abs(self.db) <= 4.0 * EPS * self.x.b)
        for u, step in zip(self.x.lines, self.steps(network, self.db), strict=True):
            nearest &= np.abs(step) <= 4.0 * EPS * u
        return nearest

    def steps(self, network: Network, db: Array) -> list[Array]:
        """Steps of the flows when b steps by `db`."""
        dr = self.dr[0] + self.dr[1] * db
        return [
            np.clip(row.line_step.value(db, dr), TRICKLE * b.commanded - u, b.commanded - u)
            for row, u, b in zip(self.rows, self.x.lines, network.branches, strict=True)
        ]

    def after(self, network: Network, db: Array, steps: list[Array]) -> Unknowns:
        """The unknowns one step on, b stepping by `db` and the flows by `steps`."""
        x, dr = self.x, self.dr[0] + self.dr[1] * db
        lines = [
            np.clip(u + step, TRICKLE * b.commanded, b.commanded)
            for u, step, b in zip(x.lines, steps, network.branches, strict=True)
        ]
        return Unknowns(lines, np.maximum(x.b + db, 0.0), np.maximum(x.r + dr, 0.0))

    def state(self, index: Index) -> State:
        """The state of the points at `index`."""
        b, nothing = self.x.b[index], np.zeros(index.size)
        section, line, returned, work = (
            beside([getattr(row, key)[index] for row in self.rows], index.size)
            for key in ("section", "line", "returned", "work")
        )
        before = np.broadcast_to(b[:, None], section.shape)
        bank = BankState(section, line, returned, work, b, before, nothing)
        at_pump, at_bank = (
            beside([flow[index] for flow in flows], index.size)
            for flows in (self.at_pump, self.at_bank)
        )
        return State(
            bank=bank,
            at_pump=at_pump,
            at_bank=at_bank,
            pump=self.pressure[index],
            returns=self.x.r[index],
            through_line=self.through[index],
            returned=self.returned[index],
            load_signal=self.signal[index],
        )


def joint_newton(network: Network, size: int) -> tuple[State, Mask]:
    """The steady state of a parallel bank, and where it is settled, (N,)."""
    count = len(network.branches)
    # Functions that are shut at every point take no part; one stays, so that there is a bank.
    open_ = [m for m, branch in enumerate(network.branches) if branch.commanded.any()] or [0]
    if len(open_) == count:
        return _settle(network, size)
    lean = replace(network, branches=tuple(network.branches[m] for m in open_))
    state, settled = _settle(lean, size)
    return state.widened(open_, count), settled


def _settle(network: Network, size: int) -> tuple[State, Mask]:
    """As `joint_newton`, for all functions of a network."""
    state, settled, x = plenty(network, size)
    rest = np.flatnonzero(~settled)
    pool: list[tuple[Index, Unknowns]] = []
    for start in range(0, rest.size, BLOCK):
        rows = rest[start : start + BLOCK]
        part = network if rows.size == size else network.take(rows)
        guess = _starved_guess(part, x.rows(rows))
        pool.append(_newton(part, guess, rows, range(SOON), (state, settled)))
    rest = np.concatenate([rows for rows, _ in pool]) if pool else rest
    if rest.size:
        part = network if rest.size == size else network.take(rest)
        left = Unknowns.joined([unknowns for _, unknowns in pool])
        _newton(part, left, rest, range(SOON, MOST_STEPS), (state, settled))
    return state, settled


def _newton(
    network: Network,
    x: Unknowns,
    rows: Index,
    steps: range,
    found: tuple[State, Mask],
) -> tuple[Index, Unknowns]:
    """Newton's steps from x; what settles is written into `found` at its rows, the rest returned.

    rows: of the network's points in `found`
    """
    state, settled = found
    guard = Guard.of(x) if steps.start > 0 else None
    alive = np.ones(rows.size, dtype=bool)
    for _ in steps:
        now = _step(network, x)
        done = now.off <= SETTLED
        if guard is not None:
            done |= now.nearest(network)
        done &= alive
        if guard is None:
            x = now.after(network, now.db, now.steps(network, now.db))
        else:
            guard, x = guard.step(network, now)
        if not done.any():
            continue
        index = np.flatnonzero(done)
        state.fill(rows[index], now.state(index))
        settled[rows[index]] = True
        alive &= ~done
        left = np.flatnonzero(alive)
        if left.size == 0 or (rows.size > FEW and left.size < KEPT * rows.size):
            rows, x, alive = rows[left], x.rows(left), alive[left]
            guard = None if guard is None else guard.rows(left)
            if left.size == 0:
                break
            network = network.take(left)
    left = np.flatnonzero(alive)
    return rows[left], x.rows(left)


class Guard(NamedTuple):
    """Brackets: of b, and of each flow at the present b.

    From either side of where a machine stalls Newton's step may lead to the other. b rests until
    the flows fit it; then the sign of its step tells on which side the root is.
    """

    b: Bracket
    lines: list[Bracket]

    @classmethod
    def of(cls, x: Unknowns) -> Guard:
        """Nothing known."""
        return cls(wide_open(x.b), [wide_open(u) for u in x.lines])

    def rows(self, index: Index) -> Guard:
        """The points at `index`."""
        return Guard(self.b.rows(index), [line.rows(index) for line in self.lines])

    def step(self, network: Network, now: Step) -> tuple[Guard, Unknowns]:
        """The brackets after a step, and the unknowns after it."""
        rests = now.unfit > FITS
        b, db = kept_in(self.b, now.x.b, np.where(rests, 0.0, now.db))
        lines, steps = [], []
        for line, u, step in zip(self.lines, now.x.lines, now.steps(network, db), strict=True):
            bracket, kept = kept_in(line, u, step, COARSE)
            lines.append(bracket.opened(~rests))
            steps.append(kept)
        return Guard(b, lines), now.after(network, db, steps)


def _starved_guess(network: Network, x: Unknowns) -> Unknowns:
    """A first guess where the supply is short: straight loads, and b by guarded Newton steps.

    Between `KNEE` of its command and all of it a branch's pressure is taken as a straight line in
    its flow: the share of the command that it gets at an inlet pressure is a quadratic's root.
    """
    chords = []
    for branch in network.branches:
        top = branch.at_command.pressure
        tilt = (top - branch.climb(KNEE * branch.commanded).pressure) / (1.0 - KNEE)
        foot = (top - tilt + branch.lift * x.r) / branch.section_drop
        chords.append((foot, tilt / (2.0 * branch.section_drop)))
    low, high = np.zeros_like(x.b), np.maximum(x.b, 0.0)
    inlet, slip = high, -np.maximum(network.pump.slip, TINY)
    for _ in range(GUESSES):
        gap, fall, shares = deliverable(network, inlet), slip, []
        for branch, (foot, half) in zip(network.branches, chords, strict=True):
            room = np.maximum(inlet / branch.section_drop - foot, 0.0)
            root = half + np.sqrt(half * half + room)
            share = room / np.maximum(root, TINY)
            shares.append(np.minimum(share, 1.0))
            gap = gap - branch.commanded * shares[-1]
            rises = (share > 0.0) & (share < 1.0)
            rate = np.where(rises, branch.commanded / (share + half + TINY), 0.0)
            fall = fall - rate / (2.0 * branch.section_drop)
        low, high = np.where(gap >= 0.0, inlet, low), np.where(gap >= 0.0, high, inlet)
        aim = inlet - gap / fall
        inlet = np.where((aim > low) & (aim < high), aim, 0.5 * (low + high))
    lines = [
        branch.commanded * np.maximum(share, TRICKLE)
        for branch, share in zip(network.branches, shares, strict=True)
    ]
    return Unknowns(lines, inlet, x.r)


def _step(network: Network, x: Unknowns) -> Step:
    """The network at its unknowns, and the unknowns one step on."""
    rows = [
        section_row(branch, u, x.b, x.r)
        for branch, u in zip(network.branches, x.lines, strict=True)
    ]
    at_bank, bank_steps = _reliefs(network.at_bank, x.b, x.r, STEP_B)
    through, through_step = np.zeros_like(x.b), NOTHING
    returned, returned_step = np.zeros_like(x.b), NOTHING
    for row in rows:
        through, through_step = through + row.section, through_step.plus(row.section_step)
        returned = np.asarray(add(returned + row.returned, row.over))
        returned_step = returned_step.plus(row.returned_step)
    for flow, step in zip(at_bank, bank_steps, strict=True):
        through, through_step = through + flow, through_step.plus(step)
    line, line_slope = network.main_line.drop(through)
    pressure, pressure_step = x.b + line, STEP_B.plus(through_step, line_slope)
    at_pump, pump_steps = _reliefs(network.at_pump, pressure, x.r, pressure_step)
    for reliefs, given, steps in (
        (network.at_bank, at_bank, bank_steps),
        (network.at_pump, at_pump, pump_steps),
    ):
        for k, (flow, step) in enumerate(zip(given, steps, strict=True)):
            if reliefs.to_return[0, k]:
                returned, returned_step = returned + flow, returned_step.plus(step)
    back, back_slope = network.return_line.drop(returned)
    gap, gap_step = back - x.r, returned_step.times(back_slope).plus(STEP_R, -1.0)
    signal, signal_step = _load_signal(network, rows)
    need = through_step.plus(_sum(pump_steps))
    supply, supply_step = _supply(
        network, (pressure, pressure_step), (_total(at_pump, through), need), (signal, signal_step)
    )
    unfit = np.abs(gap) / np.maximum(PRESSURE_SCALE, x.r)
    for row in rows:
        unfit = np.maximum(unfit, row.off)
    off = np.maximum(unfit, np.abs(supply))
    db, dr = _solve_two(supply, supply_step, gap, gap_step)
    highest = relieved_pressure(network, 0.0) + x.r + np.maximum(dr[0] + dr[1] * db, 0.0)
    db = np.clip(db, -x.b, np.maximum(highest - x.b, 0.0))
    # Where the straight lines end, b stops for the other law of a function to have a say: where a
    # machine leaves standstill, and, on a long way down, where the next function will be short.
    slack = np.full_like(x.b, np.inf)
    for row in rows:
        slack = np.minimum(slack, row.slack)
        if row.starts is not None:
            db = np.minimum(db, np.maximum(row.starts - x.b, 0.0))
    db = np.where(db < -LONG * x.b, np.maximum(db, -(slack + 1e-12 * x.b)), db)
    return Step(off, unfit, rows, at_bank, at_pump, through, pressure, returned, signal, x, db, dr)


def _total(parts: list[Array], start: Array) -> Array:
    for part in parts:
        start = start + part
    return start


def _sum(parts: list[Form]) -> Form:
    total = NOTHING
    for part in parts:
        total = total.plus(part)
    return total


def _solve_two(
    first: Array, one: Form, second: Array, two: Form
) -> tuple[Array, tuple[Array, Array]]:
    """The step db for which both linear equations come to zero, and dr = dr[0] + dr[1] db.

    The second falls with r. Where the first does not change with b, its sign says where to go.
    """
    falls = np.minimum(two.by_r, -FLAT)
    at, by_b = -(second + two.at) / falls, -two.by_b / falls
    value = first + one.at + one.by_r * at
    slope = one.by_b + one.by_r * by_b
    flat = slope >= -FLAT
    db = np.where(flat, np.sign(value) * FAR, -value / np.where(flat, -1.0, slope))
    return db, (at, by_b)


def _load_signal(network: Network, rows: list[Row]) -> tuple[Array, Form]:
    """Highest work-port pressure of the opened functions, after the LS relief, and its step."""
    signal, step = np.zeros_like(rows[0].work), NOTHING
    for row, branch in zip(rows, network.branches, strict=True):
        higher = (branch.commanded > 0) & (row.work > signal)
        signal = np.where(higher, row.work, signal)
        step = where(higher, row.work_step, step)
    relieved = signal >= network.ls_relief
    if relieved.any():
        step = where(relieved, NOTHING, step)
    return np.minimum(signal, network.ls_relief), step


def _supply(
    network: Network,
    pump: tuple[Array, Form],
    taken: tuple[Array, Form],
    load: tuple[Array, Form],
) -> tuple[Array, Form]:
    """What the supply has in hand, scaled, and how that steps: by flow or by held pressure.

    pump: pressure at the pump; taken: flow that leaves it; load: LS signal; each with its step
    """
    pressure, pressure_step = pump
    theoretical = np.maximum(network.pump.capacity * network.pump.speed, 1e-12)
    flow = (deliverable(network, pressure) - taken[0]) / theoretical
    loses: Part = network.pump.slip
    stroke = stroke_limit(network, pressure)
    if (stroke < 1.0).any():
        drawn = stroke * theoretical / np.maximum(pressure, 1.0)
        loses = loses + np.where(stroke < 1.0, drawn, 0.0)
    flow_step = taken[1].plus(pressure_step, loses).times(-1.0 / theoretical)
    if network.supply == "fixed":
        return flow, flow_step
    held = held_pressure(network, load[0])
    held_step = NOTHING
    if network.supply == "load sensing":
        follows = (held > network.pump.standby) & (held < network.pump.compensator)
        held_step = where(follows, load[1].times(network.pump.ls_share), NOTHING)
    lack = (held - pressure) / PRESSURE_SCALE
    lack_step = held_step.plus(pressure_step, -1.0).times(1.0 / PRESSURE_SCALE)
    by_flow = flow <= lack
    return np.where(by_flow, flow, lack), where(by_flow, flow_step, lack_step)


def _reliefs(
    reliefs: ReliefArrays, inlet: Array, r: Array, inlet_step: Form
) -> tuple[list[Array], list[Form]]:
    """Flow of each relief [m3/s] and its step."""
    flows, steps = [], []
    for k in range(len(reliefs.names)):
        to_return = float(reliefs.to_return[0, k])
        beyond = np.maximum(inlet - to_return * r - reliefs.cracking[:, k], 0.0)
        flows.append(reliefs.slope[:, k] * beyond)
        if beyond.any():
            slope = np.where(beyond > 0.0, reliefs.slope[:, k], 0.0)
            steps.append(inlet_step.plus(STEP_R, -to_return).times(slope))
        else:
            steps.append(NOTHING)
    return flows, steps
