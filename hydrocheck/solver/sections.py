"""One function of a parallel bank at the unknowns of Newton's method, and how it steps.

A section obeys one of two laws, whichever leaves less in hand:

    commanded    c - q = 0,   q = u + flow of the port relief
    short        b - h = 0,   h = w + section_drop (q / c)^2,   w = W(u) + lift r

with u the flow of its work line, b the bank inlet and r the return manifold pressure. Solved for
the step of u at steps db and dr:

    commanded    du = (c - q) / (1 + kappa W')
    short        section_drop ((dq / c)^2 + 2 q dq / c^2) + W' du = b - h + db - lift dr

(kappa: flow per pressure of an open port relief, which adds its own dr). The second is left a
quadratic in du while its root is above u, its slope taken there with db = dr = 0: a straight line
would miss the root of a square that begins at rest. A machine stands still
where b does not reach h at the first trickle; then only its port relief passes oil, by the law of
the section.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.branches import TRICKLE, Branch
from hydrocheck.solver.forms import NOTHING, STEP_B, STEP_R, Form, Part, add, where
from hydrocheck.solver.needs import Mask
from hydrocheck.solver.roots import EPS

CREEP = 1e-4
"""Share of the command below which a section's slope is taken as at that share: at rest it is 0."""


class Row(NamedTuple):
    """One function at the present unknowns: its state, what is off, and how it steps, (n,) each.

    returned: by its work return line; over: by its port relief, where that leads to the return
    off: of its law, as a share of the section's drop
    slack: how far b may fall before it is short [Pa]; inf where it is
    starts: least b at which it leaves standstill [Pa], or None where it moves everywhere
    """

    section: Array
    line: Array
    returned: Array
    over: Part
    work: Array
    off: Array
    line_step: Form
    section_step: Form
    returned_step: Form
    work_step: Form
    slack: Array
    starts: Array | None = None


class _Over(NamedTuple):
    """Flow of a port relief [m3/s], its steps with the work line's flow and return pressure."""

    flow: Part
    by_u: Part
    by_r: Part
    to_return: float


def _port(branch: Branch, slope: Array, work: Array, r: Array) -> _Over:
    """The port relief of a function that moves."""
    if branch.relief is None:
        return _Over(0.0, 0.0, 0.0, 0.0)
    to_return = float(branch.relief.to_return)
    over = np.where(branch.commanded > 0, branch.relief.flow(work, r), 0.0)
    if not over.any():
        return _Over(0.0, 0.0, 0.0, to_return)
    kappa = np.where(over > 0, branch.relief.slope, 0.0)
    return _Over(over, kappa * slope, kappa * (branch.lift - to_return), to_return)


def section_row(branch: Branch, u: Array, b: Array, r: Array) -> Row:
    """One function at the present unknowns."""
    commanded = branch.commanded
    on = commanded > 0
    rated = np.where(on, commanded, 1.0)
    climb = branch.climb(u)
    full = branch.lift.size == 1 and branch.lift[0] == 1.0
    lift: Part = 1.0 if full else branch.lift
    work = climb.pressure + lift * r
    port = _port(branch, climb.slope, work, r)
    section = np.asarray(add(u, port.flow))
    share = section / rated
    falls = branch.section_drop * share  # the section's drop, over its share
    short, spare = b - work - falls * share, branch.section_drop - falls
    growth = add(1.0, port.by_u)
    bend = 2.0 * falls / rated  # d (section's drop) / dq
    by_command = (commanded - section) / growth
    steep = add(climb.slope, bend, growth)
    curve = branch.section_drop * np.square(growth / rated)
    least = 2.0 * CREEP * branch.section_drop * growth / rated
    root = np.sqrt(np.maximum(steep * steep + 4.0 * curve * np.maximum(short, 0.0), least * least))
    by_pressure = 2.0 * short / (steep + root)
    # The law that rules has the lower root: far from both, the step to it tells more than its rest.
    starves = on & (by_pressure < by_command)
    gain = np.where(starves, 1.0 / root, 0.0)
    line_step = Form(
        np.where(starves, by_pressure, by_command),
        gain,
        add(0.0, gain if full else gain * lift, -1.0),
    )
    if isinstance(port.by_r, np.ndarray):
        by_relief = np.where(starves, -(lift + bend * port.by_r) / root, -port.by_r / growth)
        line_step = line_step._replace(by_r=by_relief)
    direct = Form(0.0, 0.0, port.by_r)
    row = Row(
        section=section,
        line=u,
        returned=climb.returned,
        over=port.to_return * port.flow,
        work=np.where(on, work, r),
        off=np.where(on, np.abs(np.minimum(spare, short)), 0.0) / branch.section_drop,
        line_step=line_step,
        section_step=line_step.times(growth).plus(direct),
        returned_step=line_step.times(add(climb.gain, port.by_u, port.to_return)).plus(
            direct, port.to_return
        ),
        work_step=line_step.times(climb.slope).plus(STEP_R, lift),
        slack=np.where(on & ~starves, np.maximum(short - spare, 0.0), np.inf),
    )
    held = on & (u <= 2.0 * TRICKLE * commanded) & (short < 0.0)
    if not held.any():
        return row
    starts = np.where(held, (b - short) * (1.0 + 4.0 * EPS), np.inf)
    return _held(branch, row._replace(starts=starts), held, b, r)


def _held(branch: Branch, row: Row, held: Mask, b: Array, r: Array) -> Row:
    """A function whose machine stands still at some points: only its port relief passes oil."""
    work, over = np.array(b), np.zeros_like(b)
    work_step, over_step = STEP_B, NOTHING
    to_return = 0.0
    if branch.relief is not None:
        rows, to_return = np.flatnonzero(held), float(branch.relief.to_return)
        part = branch.take(rows)
        work[rows], over[rows] = part.before(np.zeros(rows.size), b[rows], r[rows])
        kappa = np.where(over > 0.0, branch.relief.slope, 0.0)
        rated = np.where(branch.commanded > 0, branch.commanded, 1.0)
        follows = 1.0 / (1.0 + 2.0 * branch.section_drop * over / rated**2 * kappa)
        follows = np.where(over >= branch.commanded, 0.0, follows)  # held at the command
        lifted = (1.0 - follows) * to_return
        work_step = Form(0.0, follows, lifted)
        over_step = Form(0.0, kappa * follows, kappa * (lifted - to_return))
    return Row(
        section=np.where(held, over, row.section),
        line=np.where(held, 0.0, row.line),
        returned=np.where(held, 0.0, row.returned),
        over=np.where(held, to_return * over, row.over),
        work=np.where(held, work, row.work),
        off=np.where(held, 0.0, row.off),
        line_step=where(held, NOTHING, row.line_step),
        section_step=where(held, over_step, row.section_step),
        returned_step=where(held, over_step.times(to_return), row.returned_step),
        work_step=where(held, work_step, row.work_step),
        slack=np.where(held, np.inf, row.slack),
        starts=row.starts,
    )
