"""Function side: what a section's flow does between its work port and the return manifold.

A branch is a work supply line, one or more stages in series (motors, or one cylinder) and a work return
line. A stage of capacity D (volume per radian, or piston area) and outlet share r obeys

    flow        q = D v + k dp                      v: speed, k: slip conductance
    force       D (p_in - r p_out)(1 - Cf) = T0 + (T1 + drag) v + T2 v^2
    outlet      q_out = r (q - case slip)

with r = 1 for a motor and the annulus ratio for a cylinder. The state at a flow is the closed form of
`physics.motor_state`. Work-port pressure rises with flow, strictly, so that the flow at a given bank
pressure is one root (`flow_at`), found by Newton's method inside a bracket.

A load known only as a pressure is a stage of capacity 1 and force T0 = pressure.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from hydrocheck.physics.losses import motor_state, motor_state_slope
from hydrocheck.solver.needs import take_rows
from hydrocheck.solver.pipes import Pipes

Array = NDArray[np.float64]
Index = NDArray[np.intp]

TRICKLE = 1e-13
"""Share of the commanded flow below which a function counts as standing still."""
MOST_STEPS = 200


@dataclass(frozen=True)
class Stage:
    """One motor or cylinder of each function; arrays of shape (1, M) or (N, M).

    capacity: D [m3/rad] or [m2]; slip: k [m3/(s Pa)]; friction: Cf [1]
    drag: viscous drag per speed [N m s]; load0, load1, load2: load at the stage's own shaft
    outlet_share: r [1]; case_share: share of slip that leaves by the case drain [1]
    present: 1 where the function has this stage, else 0
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
    present: Array

    def take(self, index: Index) -> Stage:
        """The points at `index`."""
        return Stage(*(take_rows(getattr(self, f.name), index) for f in fields(self)))

    def state(self, flow: Array) -> tuple[Array, Array]:
        """Speed and own pressure drop (inlet less r times outlet) at an inlet flow, (N, M) each."""
        speed, drop = motor_state(
            flow,
            self.capacity,
            self.slip,
            self.friction,
            self.drag,
            self.load0,
            self.load1,
            self.load2,
        )
        return speed * self.present, drop * self.present

    def slope(self, flow: Array) -> Array:
        """Rise of the own drop with the inlet flow [Pa s/m3], (N, M)."""
        return self.present * motor_state_slope(
            flow,
            self.capacity,
            self.slip,
            self.friction,
            self.drag,
            self.load0,
            self.load1,
            self.load2,
        )

    def outflow(self, flow: Array, drop: Array) -> Array:
        """Flow that leaves the stage towards the return line [m3/s], (N, M)."""
        through = flow - self.case_share * self.slip * drop
        return np.where(self.present > 0, self.outlet_share * through, flow)


@dataclass(frozen=True)
class Branches:
    """The M functions of a bank at N points."""

    stages: tuple[Stage, ...]
    supply: Pipes
    back: Pipes
    port_crack: Array
    port_slope: Array

    def take(self, index: Index) -> Branches:
        """The points at `index`."""
        return Branches(
            tuple(stage.take(index) for stage in self.stages),
            self.supply.take(index),
            self.back.take(index),
            take_rows(self.port_crack, index),
            take_rows(self.port_slope, index),
        )

    @property
    def feels_return(self) -> bool:
        """Whether any stage depends on the return pressure itself, not only on differences."""
        return any(bool(np.any((s.outlet_share != 1.0) & (s.present > 0))) for s in self.stages)

    @property
    def has_port_relief(self) -> bool:
        """Whether any work port has a relief."""
        return bool(np.any(self.port_slope > 0))

    def port_flow(self, work_pressure: Array, return_pressure: Array) -> Array:
        """Flow over the port reliefs [m3/s], (N, M); they discharge to the return manifold."""
        return self.port_slope * np.maximum(work_pressure - return_pressure - self.port_crack, 0.0)

    def work_pressure(self, flow: Array, return_pressure: Array) -> tuple[Array, Array, Array]:
        """Work-port pressure, its slope, and the flow returned to the manifold, (N, M) each.

        flow: into the work supply line [m3/s], (N, M); return_pressure: [Pa], broadcasts

        Returns pressure [Pa], d pressure / d flow [Pa s/m3], returned flow [m3/s].
        """
        ahead, gain = flow, np.ones_like(flow)
        drops, slopes = [], []
        for stage in self.stages:
            _, drop = stage.state(ahead)
            slope = stage.slope(ahead)
            drops.append(drop)
            slopes.append(slope * gain)
            gain = np.where(
                stage.present > 0,
                gain * stage.outlet_share * (1.0 - stage.case_share * stage.slip * slope),
                gain,
            )
            ahead = stage.outflow(ahead, drop)
        back, back_slope = self.back.drop(ahead)
        pressure, rise = return_pressure + back, back_slope * gain
        for stage, drop, slope in zip(self.stages[::-1], drops[::-1], slopes[::-1], strict=True):
            share = np.where(stage.present > 0, stage.outlet_share, 1.0)
            pressure, rise = share * pressure + drop, share * rise + slope
        line, line_slope = self.supply.drop(flow)
        return pressure + line, rise + line_slope, ahead

    def flow_at(
        self, bank_pressure: Array, return_pressure: Array, commanded: Array, drop_rated: Array
    ) -> tuple[Array, Array]:
        """Flows of pressure-compensated sections at a bank pressure, (N, M) each.

        bank_pressure, return_pressure: [Pa], shape (N, 1)
        commanded: commanded section flow [m3/s]; drop_rated: section drop at that flow [Pa]

        Section law: the commanded flow while the drop left for the section is at least `drop_rated`;
        below, commanded * sqrt(drop / drop_rated). Returns the section flow and the flow into the work
        line (less, by what a port relief passes).
        """
        shape = np.broadcast_shapes(bank_pressure.shape, commanded.shape)
        ceiling = self._line_flow_of(np.broadcast_to(commanded, shape), return_pressure)

        def excess(q: Array) -> tuple[Array, Array]:
            work, slope, _ = self.work_pressure(q, return_pressure)
            over = self.port_flow(work, return_pressure)
            rated = np.maximum(commanded, 1e-300)
            share = (q + over) / rated
            growth = 1.0 + np.where(over > 0, self.port_slope, 0.0) * slope
            return (
                work + drop_rated * share**2 - bank_pressure,
                slope + 2.0 * drop_rated * share / rated * growth,
            )

        q = _rising_root(excess, ceiling, TRICKLE * commanded)
        work, _, _ = self.work_pressure(q, return_pressure)
        return q + self.port_flow(work, return_pressure) * (q > 0), q

    def _line_flow_of(self, section_flow: Array, return_pressure: Array) -> Array:
        """Flow into the work line when a section passes `section_flow`, a port relief taking the rest."""
        if not self.has_port_relief:
            return section_flow

        def excess(q: Array) -> tuple[Array, Array]:
            work, slope, _ = self.work_pressure(q, return_pressure)
            over = self.port_flow(work, return_pressure)
            return q + over - section_flow, 1.0 + np.where(over > 0, self.port_slope, 0.0) * slope

        return _rising_root(excess, section_flow, TRICKLE * section_flow)


def _rising_root(function: object, ceiling: Array, floor: Array) -> Array:
    """Largest q between 0 and `ceiling` with function(q) <= 0, element by element.

    function(q) -> (value, slope), rising. Newton's step, halving where it leaves the bracket. Where the
    function is already above zero at `floor` the answer is 0.
    """
    evaluate = function
    value, slope = evaluate(ceiling)  # type: ignore[operator]  # a closure of this module
    open_ = value > 0.0
    if not open_.any():
        return ceiling
    low = np.broadcast_to(floor, ceiling.shape).copy()
    at_floor, _ = evaluate(low)  # type: ignore[operator]  # as above
    held = open_ & (at_floor >= 0.0)
    q, high = ceiling.copy(), ceiling.copy()
    active = open_ & ~held
    for _ in range(MOST_STEPS):
        if not active.any():
            break
        newton = q - value / np.maximum(slope, 1e-300)
        inside = (newton > low) & (newton < high)
        step = np.where(inside, newton, 0.5 * (low + high))
        before = q
        q = np.where(active, step, q)
        value, slope = evaluate(q)  # type: ignore[operator]  # as above
        high = np.where(active & (value > 0.0), q, high)
        low = np.where(active & (value <= 0.0), q, low)
        settled = (np.abs(q - before) <= 1e-15 * ceiling) | (high - low <= 1e-15 * ceiling)
        active = active & ~settled & (value != 0.0)
    return np.where(held, 0.0, q)
