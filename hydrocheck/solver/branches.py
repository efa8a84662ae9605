"""Function side: what a section's flow does between its work port and the return manifold.

A branch is a work supply line, one or more stages in series (motors, or one cylinder) and a work
return line. A stage of capacity D (volume per radian, or piston area) and outlet share r obeys

    flow        q = D v + k dp                      v: speed, k: slip conductance
    force       D dp (1 - Cf) = T0 + (T1 + drag) v + T2 v^2,    dp = p_in - r p_out
    outlet      q_out = r (q - case slip)

with r = 1 for a motor and the annulus ratio for a cylinder. The state at a flow is the closed form
of `physics.losses.motor_law`. No drop depends on the level of pressure, so that the work port
stands at

    w = W(q) + lift p_r,     lift: the product of the outlet shares, p_r: return manifold pressure

W rises strictly with q: the flow at a given bank pressure is one root. A port relief passes
kappa (w - outlet - cracking) of the section's flow beside the branch.

Motors in parallel are one stage to the branch (`parallel`). A load known only as a pressure is a
stage of capacity 1 and force T0 = pressure.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.physics.losses import MotorLaw, motor_law
from hydrocheck.solver.needs import Index, Mask, take_rows
from hydrocheck.solver.pipes import Pipes
from hydrocheck.solver.roots import EPS, newton

if TYPE_CHECKING:
    from hydrocheck.solver.parallel import SideBySide

TRICKLE = 1e-13
"""Share of the commanded flow below which a function counts as standing still."""


@dataclass(frozen=True)
class Stage:
    """One motor or cylinder; arrays of shape (1,) or (N,).

    capacity: D [m3/rad] or [m2]; slip: k [m3/(s Pa)]; friction: Cf [1]
    drag: viscous drag per speed [N m s]; load0, load1, load2: load at the stage's own shaft
    outlet_share: r [1]; case_share: share of slip that leaves by the case drain [1]
    gear_ratio, gear_efficiency: between the stage's shaft and the load [1]
    """

    capacity: Array
    slip: Array
    friction: Array
    drag: Array
    load0: Array
    load1: Array
    load2: Array
    outlet_share: Array
    case_share: Array
    gear_ratio: Array
    gear_efficiency: Array

    def take(self, index: Index) -> Stage:
        """The points at `index`."""
        return Stage(*(take_rows(getattr(self, f.name), index) for f in fields(self)))

    @cached_property
    def _law(self) -> MotorLaw:
        return motor_law(
            self.capacity,
            self.slip,
            self.friction,
            self.drag,
            self.load0,
            self.load1,
            self.load2,
        )

    @cached_property
    def _steady(self) -> bool:
        """Whether the drop does not depend on the flow: a tight cylinder with a constant load."""
        return not (self.slip.any() or self.drag.any() or self.load1.any() or self.load2.any())

    def state(self, flow: Array) -> tuple[Array, Array, Array]:
        """Speed, own drop dp, and its slope with the flow [Pa s/m3] at an inlet flow, (N,) each."""
        if self._steady:
            drop = np.where(flow > 0.0, self._law.start, 0.0)
            return flow / self.capacity, drop, np.zeros_like(flow)
        speed, drop, slope = self._law.run(flow)
        return speed, drop, slope

    def drop_at(self, speed: Array) -> Array:
        """Own drop dp at a speed of its shaft [Pa], (N,)."""
        force = self.load0 + (self.load1 + self.drag + self.load2 * speed) * speed
        return np.asarray(force / (self.capacity * (1.0 - self.friction)))

    def flow_for(self, speed: Array) -> Array:
        """Inlet flow at which it turns at a speed of its own shaft [m3/s], (N,)."""
        return np.asarray(self.capacity * speed + self.slip * self.drop_at(speed))

    def load_speed(self, flow: Array) -> Array:
        """Speed of its load's shaft at an inlet flow [rad/s], (N,)."""
        return np.asarray(self.state(flow)[0] / self.gear_ratio)

    @cached_property
    def _outlet(self) -> tuple[Array, Array]:
        past = (1.0 - self.case_share) * self.slip
        return self.outlet_share * self.capacity, self.outlet_share * past

    def outflow(self, speed: Array, drop: Array) -> Array:
        """Flow that leaves the stage towards the return line [m3/s], (N,); exactly 0 in a stall
        whose slip all goes to the drain."""
        moved, past = self._outlet
        return moved * speed + past * drop


@dataclass(frozen=True)
class PortRelief:
    """Relief at a work port; arrays of shape (1,) or (N,).

    cracking: [Pa]; slope: flow per pressure beyond [m3/(s Pa)]; to_return: whether its outlet is
        the return manifold, else the tank
    """

    cracking: Array
    slope: Array
    to_return: bool

    def take(self, index: Index) -> PortRelief:
        """The points at `index`."""
        return PortRelief(
            take_rows(self.cracking, index), take_rows(self.slope, index), self.to_return
        )

    def opens_at(self, returns: Array) -> Array:
        """Work-port pressure at which it opens, the return manifold being at `returns` [Pa]."""
        return self.cracking + (returns if self.to_return else 0.0)

    def flow(self, work: Array, returns: Array) -> Array:
        """Flow at a work-port pressure [m3/s], (N,)."""
        return self.slope * np.maximum(work - self.opens_at(returns), 0.0)


class Climb(NamedTuple):
    """Up the branch from a return manifold at zero pressure, at a flow into the work line, (N,)
    each.

    pressure: W [Pa]; slope: dW/dq [Pa s/m3]; returned: flow into the return manifold [m3/s]
    gain: d returned / dq [1]
    """

    pressure: Array
    slope: Array
    returned: Array
    gain: Array


class Taken(NamedTuple):
    """What a function takes, (N,) each: flow of its section, into its work line and back to the
    return manifold [m3/s] (without its port relief), and work-port pressure [Pa]."""

    section: Array
    line: Array
    returned: Array
    work: Array


@dataclass(frozen=True)
class Branch:
    """One function at N points.

    asked: section flow that it asks for [m3/s]; commanded: the most that its section lets through
        [m3/s], the same unless the section has no compensator; section_drop: drop at that flow
        [Pa]; (1,) or (N,) each
    """

    name: str
    stages: tuple[Stage | SideBySide, ...]
    supply: Pipes
    back: Pipes
    relief: PortRelief | None
    asked: Array
    commanded: Array
    section_drop: Array

    def take(self, index: Index) -> Branch:
        """The points at `index`."""
        return Branch(
            self.name,
            tuple(stage.take(index) for stage in self.stages),
            self.supply.take(index),
            self.back.take(index),
            None if self.relief is None else self.relief.take(index),
            take_rows(self.asked, index),
            take_rows(self.commanded, index),
            take_rows(self.section_drop, index),
        )

    @cached_property
    def lift(self) -> Array:
        """How far the work port rises with the return pressure [1], (1,) or (N,)."""
        lift = np.ones(1)
        for stage in self.stages:
            lift = lift * stage.outlet_share
        return lift

    @property
    def feels_return(self) -> Mask:
        """Where the flow depends on the return pressure itself, not only on differences to it."""
        by_relief = self.relief is not None and not self.relief.to_return
        feels: Mask = ((self.lift != 1.0) | by_relief) & (self.commanded > 0)
        return feels

    @cached_property
    def at_command(self) -> Climb:
        return self.climb(self.commanded)

    @cached_property
    def _at_rest(self) -> Array:
        """W with the first trickle of flow: the branch stands still up to it [Pa], (1,) or (N,)."""
        return self.climb(TRICKLE * self.commanded).pressure

    def climb(self, flow: Array) -> Climb:
        """From a flow into the work line [m3/s], (N,), up to the work port."""
        ahead, gain = flow, np.ones_like(flow)
        rungs = []
        for stage in self.stages:
            speed, drop, slope = stage.state(ahead)
            rungs.append((stage, drop, slope * gain))
            gain = gain * stage.outlet_share * (1.0 - stage.case_share * stage.slip * slope)
            ahead = stage.outflow(speed, drop)
        pressure, rise = self.back.drop(ahead)
        rise = rise * gain
        for stage, drop, slope in reversed(rungs):
            pressure = stage.outlet_share * pressure + drop
            rise = stage.outlet_share * rise + slope
        line, line_slope = self.supply.drop(flow)
        return Climb(pressure + line, rise + line_slope, ahead, gain)

    def at_flow(self, section: Array, returns: Array) -> Taken:
        """What it takes of a section flow [m3/s], (N,): all, less what its port relief passes."""
        climb = self.climb(section)
        work = np.where(section > 0, climb.pressure + self.lift * returns, returns)
        taken = Taken(section, section, climb.returned, work)
        if self.relief is None:
            return taken
        rows = np.flatnonzero((section > 0) & (self.relief.flow(work, returns) > 0))
        return _insert(taken, rows, self._part(rows, section)._divided, section, returns)

    def at_pressure(self, inlet: Array, returns: Array, start: Array) -> Taken:
        """What it takes at a bank inlet pressure [Pa], (N,): the law of a compensated section.

        start: flow into the work line near the answer [m3/s]

        The commanded flow while the drop left for the section is at least `section_drop`; below,
        commanded * sqrt(drop / section_drop).
        """
        shape = inlet.shape
        commanded = np.broadcast_to(self.commanded, shape)
        full = self.at_command
        work = full.pressure + self.lift * returns
        limited = work + self.section_drop > inlet
        if self.relief is not None:
            limited |= self.relief.flow(work, returns) > 0
        taken = Taken(
            commanded,
            commanded,
            np.broadcast_to(full.returned, shape),
            np.where(commanded > 0, work, returns),
        )
        rows = np.flatnonzero(limited & (commanded > 0))
        return _insert(taken, rows, self._part(rows, inlet)._limited, inlet, returns, start)

    def wide_open(self, taken: Taken, cap: Array, inlet: Array, returns: Array) -> Taken:
        """What it takes of a bank that shares flow, where its load is above a cap of the LS signal
        [Pa]: then its own compensator is wide open."""
        rows = np.flatnonzero((taken.section > 0) & (taken.work > cap))
        law = self._part(rows, inlet).at_pressure
        return _insert(taken, rows, law, inlet, returns, np.zeros_like(inlet))

    def _part(self, rows: Index, like: Array) -> Branch:
        return self if rows.size in (0, like.size) else self.take(rows)

    def _limited(self, inlet: Array, returns: Array, start: Array) -> Taken:
        """The section law where the command is not reached, or a port relief is open."""
        commanded = np.broadcast_to(self.commanded, inlet.shape)
        drop = np.broadcast_to(self.section_drop, inlet.shape)
        lifted = self.lift * returns
        returned, over = np.empty_like(inlet), np.zeros_like(inlet)

        def excess(line: Array, index: Index) -> tuple[Array, Array]:
            part = self if index.size == inlet.size else self.take(index)
            climb = part.climb(line)
            work, growth = climb.pressure + lifted[index], np.ones(1)
            returned[index] = climb.returned
            if part.relief is not None:
                over[index] = part.relief.flow(work, returns[index])
                growth = 1.0 + np.where(over[index] > 0, part.relief.slope, 0.0) * climb.slope
            share = (line + over[index]) / commanded[index]
            head = work + drop[index] * share**2 - inlet[index]
            rise = climb.slope + 2.0 * drop[index] * share / commanded[index] * growth
            beyond = drop[index] * (share - 1.0)  # the compensator holds the command
            return (
                np.maximum(head, beyond),
                np.where(head >= beyond, rise, drop[index] / commanded[index] * growth),
            )

        everything = np.arange(inlet.size)
        held = excess(TRICKLE * commanded, everything)[0] >= 0.0
        moving = np.flatnonzero(~held)
        line = np.zeros_like(inlet)
        noise = 2.0 * EPS * (np.abs(inlet) + drop)
        line[moving] = newton(
            lambda x, i: excess(x, moving[i]), commanded[moving], start[moving], noise[moving]
        )
        work, over = self.before(line, inlet, returns)
        return Taken(line + over, line, np.where(held, 0.0, returned), work)

    def before(self, line: Array, inlet: Array, returns: Array) -> tuple[Array, Array]:
        """Work-port pressure [Pa] and port relief flow [m3/s], from the section's side.

        This holds also where the branch cannot tell, because a machine without slip stands still:

            w = inlet - section_drop ((line + over) / commanded)^2,   over = kappa (w - opening)
        """
        bend = self.section_drop / self.commanded**2
        work = inlet - bend * line**2
        if self.relief is None:
            return work, np.zeros_like(inlet)
        kappa, opens = self.relief.slope, self.relief.opens_at(returns)
        spare = np.maximum(work - opens, 0.0)
        steep = 1.0 + 2.0 * bend * line * kappa
        beyond = 2.0 * spare / (steep + np.sqrt(steep**2 + 4.0 * bend * kappa**2 * spare))
        beyond = np.minimum(beyond, (self.commanded - line) / kappa)
        return np.where(spare > 0, opens + beyond, work), kappa * beyond

    def _divided(self, section: Array, returns: Array) -> Taken:
        """A section flow shared between the branch and its open port relief."""
        relief = self.relief
        assert relief is not None
        lifted = self.lift * returns
        returned = np.empty_like(section)

        def excess(line: Array, index: Index) -> tuple[Array, Array]:
            part, valve = (self, relief) if index.size == section.size else taken(index)
            climb = part.climb(line)
            returned[index] = climb.returned
            over = valve.flow(climb.pressure + lifted[index], returns[index])
            kappa = np.where(over > 0, valve.slope, 0.0)
            return line + over - section[index], 1.0 + kappa * climb.slope

        def taken(index: Index) -> tuple[Branch, PortRelief]:
            return self.take(index), relief.take(index)

        everything = np.arange(section.size)
        held = excess(TRICKLE * section, everything)[0] >= 0.0
        moving = np.flatnonzero(~held)
        line, high = np.zeros_like(section), section[moving]
        line[moving] = newton(lambda x, i: excess(x, moving[i]), high, high, 2.0 * EPS * high)
        work = relief.opens_at(returns) + (section - line) / relief.slope
        return Taken(section, line, np.where(held, 0.0, returned), work)


def _insert(taken: Taken, rows: Index, law: Callable[..., Taken], *given: Array) -> Taken:
    """`taken` with the rows at `rows` replaced by what a law gives for them."""
    if rows.size == 0:
        return taken
    new = law(*(values[rows] for values in given))
    out = Taken(*(np.array(old) for old in taken))
    for old, part in zip(out, new, strict=True):
        old[rows] = part
    return out
