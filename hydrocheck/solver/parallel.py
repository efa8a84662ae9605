"""Motors side by side on one section: one pressure drop, flows that add up.

Motor i stands still up to its own starting pressure s_i and then turns at n_i(dp), the root of
rise n + square n^2 = dp - s_i (see `physics.losses.motor_law`):

    flow of motor i    q_i(dp) = D_i n_i(dp) + k_i dp
    flow of all        Q(dp) = sum of q_i(dp), rising

Q at the starting pressures says between which of them the answer lies, so which motors turn. The
last of these, at v, carries the excess of pressure over its start, y = (rise + square v) v, and

    D v + K y + sum over the others that turn of D_i (n_i(e_i + y) - n_i(e_i)) = q - Q(s)

is one rising function of v (K: the sum of all slips, e_i = s - s_i). Newton's step hits its root at
once where no load has a square part; a bracket guards the rest. The unknown is a speed, not the
pressure, so that a motor whose pressure hardly follows its speed loses no digits.

A motor whose pressure does not rise with speed takes all flow that the others leave. Two of them
with the same starting pressure have no unique share: `refuse_equal_flat` refuses them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from hydrocheck.errors import CircuitError
from hydrocheck.physics.arrays import Array
from hydrocheck.solver.branches import Stage
from hydrocheck.solver.needs import Index
from hydrocheck.solver.roots import EPS

MOST_STEPS = 100
FLAT = 1e-17
"""Least rise of a motor's drop with its speed, as a share of the starting pressure [s/rad]."""
FAINT = 1e-12
"""The same as a pressure per speed, for a motor without load [Pa s]."""
SAME = 1e-9


@dataclass(frozen=True)
class SideBySide:
    """Motors in parallel, which a branch takes for one stage that displaces volume itself.

    For the branch: speed is the flow displaced by all [m3/s], capacity 1, slip the sum of the
    slips.
    """

    motors: tuple[Stage, ...]

    def take(self, index: Index) -> SideBySide:
        """The points at `index`."""
        return SideBySide(tuple(motor.take(index) for motor in self.motors))

    @property
    def outlet_share(self) -> Array:
        """All that enters leaves, but for the drains [1], (1,)."""
        return np.ones(1)

    @cached_property
    def slip(self) -> Array:
        """Of all motors [m3/(s Pa)], (1,) or (N,)."""
        return np.asarray(sum(motor.slip for motor in self.motors))

    @cached_property
    def case_share(self) -> Array:
        """Share of all slip that leaves by the drains [1], (1,) or (N,)."""
        drained = np.asarray(sum(motor.case_share * motor.slip for motor in self.motors))
        return drained / np.where(self.slip > 0.0, self.slip, 1.0)

    @cached_property
    def _start(self) -> Array:
        """Starting pressure of each motor [Pa], (M, 1) or (M, N)."""
        return self._stacked([motor.load0 / _lever(motor) for motor in self.motors])

    @cached_property
    def _rise(self) -> Array:
        """Pressure by speed of each motor, never quite flat [Pa s], (M, 1) or (M, N)."""
        rise = self._stacked([(motor.load1 + motor.drag) / _lever(motor) for motor in self.motors])
        return np.maximum(rise, FLAT * self._start + FAINT)

    @cached_property
    def _square(self) -> Array:
        """Pressure by speed squared of each motor [Pa s2], (M, 1) or (M, N)."""
        return self._stacked([motor.load2 / _lever(motor) for motor in self.motors])

    @cached_property
    def _capacity(self) -> Array:
        return self._stacked([motor.capacity for motor in self.motors])

    @cached_property
    def _at_start(self) -> Array:
        """Flow of all at each motor's starting pressure [m3/s], (M, 1) or (M, N)."""
        excess = np.maximum(self._start[:, None] - self._start[None], 0.0)
        speed = _turning(excess, self._rise, self._square)[0]
        turned: Array = (self._capacity[None] * speed).sum(axis=1)
        return turned + self.slip * self._start

    def _stacked(self, values: list[Array]) -> Array:
        """One row a motor, (M, 1) or (M, N)."""
        stacked: Array = np.stack(np.broadcast_arrays(*values))
        return stacked

    def outflow(self, displaced: Array, drop: Array) -> Array:
        """Flow that leaves towards the return line [m3/s], (N,)."""
        return displaced + (1.0 - self.case_share) * self.slip * drop

    def state(self, flow: Array) -> tuple[Array, Array, Array]:
        """Flow displaced by all, drop, and its slope with the flow [Pa s/m3] at an inlet flow."""
        speeds, drop, slope = self.split(flow)
        return (self._capacity * speeds).sum(axis=0), drop, slope

    def split(self, flow: Array) -> tuple[Array, Array, Array]:
        """Speed of each motor [rad/s], (M, N), drop [Pa] and its slope [Pa s/m3], (N,) each."""
        flow = np.maximum(flow, 0.0)
        reached = self._at_start <= flow
        turns = reached.any(axis=0)
        last = np.argmax(np.where(reached, self._start, -1.0), axis=0)[None]
        shape = (len(self.motors), flow.size)
        start, rise, square, capacity = (
            np.broadcast_to(values, shape)
            for values in (self._start, self._rise, self._square, self._capacity)
        )
        base, base_rise, base_square, base_capacity = (
            np.take_along_axis(values, last, axis=0)[0]
            for values in (start, rise, square, capacity)
        )
        others = (start <= base) & (np.arange(len(self.motors))[:, None] != last)
        head = np.where(others, base - start, 0.0)
        before = _turning(head, rise, square)[0]
        spare = flow - np.take_along_axis(np.broadcast_to(self._at_start, shape), last, axis=0)[0]
        spare = np.where(turns, spare, 0.0)

        def excess(v: Array) -> tuple[Array, Array, Array]:
            """What the motors take too much at the last one's speed, its slope, their speeds."""
            y, climb = (base_rise + base_square * v) * v, base_rise + 2.0 * base_square * v
            speed, quicker = _turning(head + y, rise, square)
            more = np.where(others, capacity * (speed - before), 0.0).sum(axis=0)
            steeper = np.where(others, capacity * quicker, 0.0).sum(axis=0) + self.slip
            value = base_capacity * v + self.slip * y + more - spare
            return value, base_capacity + steeper * climb, np.where(others, speed, 0.0)

        v = _rising_root(excess, spare / base_capacity, 4.0 * EPS * flow)
        _, steep, speeds = excess(v)
        np.put_along_axis(speeds, last, v[None], axis=0)
        leaks = self.slip > 0.0
        stiff = np.where(leaks, 1.0 / np.where(leaks, self.slip, 1.0), 0.0)
        drop = np.where(
            turns,
            np.where(leaks | (flow > 0.0), base + (base_rise + base_square * v) * v, 0.0),
            flow * stiff,
        )
        slope = np.where(turns, (base_rise + 2.0 * base_square * v) / steep, stiff)
        return np.where(turns, speeds, 0.0), drop, slope

    def load_speed(self, flow: Array) -> Array:
        """Speed of the first motor's load shaft at an inlet flow [rad/s], (N,)."""
        return np.asarray(self.split(flow)[0][0] / self.motors[0].gear_ratio)

    def flow_for(self, speed: Array) -> Array:
        """Inlet flow at which the first motor turns at a speed of its own shaft [m3/s], (N,)."""
        drop = self.motors[0].drop_at(speed) + np.zeros(1)
        heads = np.maximum(drop - self._start, 0.0)
        speeds = _turning(heads, self._rise, self._square)[0]
        speeds = np.concatenate([np.broadcast_to(speed, drop.shape)[None], speeds[1:]])
        return np.asarray((self._capacity * speeds).sum(axis=0) + self.slip * drop)


def refuse_equal_flat(name: str, group: SideBySide) -> None:
    """Refuse motors that share no unique flow. Raises CircuitError."""
    flat = [(m.load1 + m.load2 + m.drag) <= 0.0 for m in group.motors]
    for i, one in enumerate(group.motors):
        for j in range(i):
            other = group.motors[j]
            first, second = one.load0 / _lever(one), other.load0 / _lever(other)
            same = np.abs(first - second) <= SAME * np.maximum(first, second)
            if (same & flat[i] & flat[j]).any():
                raise CircuitError(
                    f"{name}.motor: motors in parallel whose drop is the same at every speed have "
                    "no unique share of the flow; give a load that rises with speed, or a "
                    "viscous_torque_share above 0"
                )


def _lever(motor: Stage) -> Array:
    return motor.capacity * (1.0 - motor.friction)


def _turning(head: Array, rise: Array, square: Array) -> tuple[Array, Array]:
    """Speed at a pressure beyond the start, and its slope: the root of rise n + square n^2."""
    base = head / rise
    speed = 2.0 * base / (1.0 + np.sqrt(1.0 + 4.0 * square * base / rise))
    return speed, 1.0 / (rise + 2.0 * square * speed)


def _rising_root(
    law: Callable[[Array], tuple[Array, Array, Array]], high: Array, noise: Array
) -> Array:
    """Root of a rising function between 0 and `high`, by Newton's steps inside a bracket."""
    low, v = np.zeros_like(high), high
    for _ in range(MOST_STEPS):
        value, slope, _ = law(v)
        over = value > 0.0
        high, low = np.where(over, v, high), np.where(over, low, v)
        aim = v - value / slope
        outside = (aim < low) | (aim > high)
        aim = np.where(outside, 0.5 * (low + high), aim)
        found = (np.abs(value) <= noise) | (np.abs(aim - v) <= 2.0 * EPS * v)
        v = np.where(np.abs(value) <= noise, v, aim)
        if found.all():
            break
    return v
