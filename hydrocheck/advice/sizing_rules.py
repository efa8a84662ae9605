"""What a combination must keep: each rule as a value and a limit for K combinations at once.

The rules are those of `check`, over more points: worn parts and every oil temperature from warmed
up to hot. Formulas hold for a combination by themselves. Bounds are drawn from facts that are
always true (more pressure never leaves a pump more flow; a function never works with less pressure
than its own load and lines take), and so may only discard what the steady state would refuse too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.advice.sizing_frame import LEAST_MARGIN, SECTION_DROP, Frame, swing, torques
from hydrocheck.advice.sizing_parts import BORES
from hydrocheck.advice.sizing_sizes import Combos, Derived
from hydrocheck.physics import heat, losses, machines
from hydrocheck.physics.lines import velocity
from hydrocheck.studies.conditions import top_speed

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Rule:
    """One requirement: the check that asks it, what it is about, and its sentence.

    says: with {value} and {limit}; upper: whether the limit must not be exceeded
    """

    id: str
    subject: str
    says: str
    kind: str
    upper: bool = True


@dataclass(frozen=True)
class Test:
    """A rule with its value and limit for K combinations, (K,) each."""

    rule: Rule
    value: Array
    limit: Array

    @property
    def fails(self) -> NDArray[np.bool_]:
        """Which combinations break it, (K,)."""
        slack = 1e-9 * np.abs(self.limit)
        if self.rule.upper:
            return np.asarray(~(self.value <= self.limit + slack))
        return np.asarray(~(self.value >= self.limit - slack))


def _test(rule: Rule, value: Array | float, limit: Array | float, size: int) -> Test:
    both = (np.broadcast_to(np.asarray(v, dtype=np.float64), (size,)) for v in (value, limit))
    return Test(rule, *both)


def formulas(frame: Frame, combos: Combos, sizes: Derived) -> Iterator[Test]:
    """Rules that a combination keeps or breaks by itself, without a steady state."""
    yield from _pump_rules(frame, combos)
    yield from _drive_rules(frame, combos, sizes)
    yield from _line_rules(frame, combos, sizes)
    yield from _tank_rules(frame, combos)
    for name in frame.motors:
        yield from _motor_rules(frame, name, combos, sizes)


def _pump_rules(frame: Frame, combos: Combos) -> Iterator[Test]:
    ratio = np.array(frame.ratios)[combos.ratio]
    fastest = np.array([m.max_speed for m in frame.pumps])[combos.pump]
    slowest = np.array([m.min_speed for m in frame.pumps])[combos.pump]
    rated = np.array([m.max_pressure for m in frame.pumps])[combos.pump]
    idle = float(frame.needs.engine.idle)
    size = combos.size
    says = "pump turns at {value} at the highest engine speed; at most {limit}"
    yield _test(
        Rule("pump-overspeed", "pump", says, "shaft_speed"),
        top_speed(frame.truck) * ratio, fastest, size,
    )  # fmt: skip
    says = "pump turns at {value} at idle; at least {limit}"
    rule = Rule("pump-underspeed", "pump", says, "shaft_speed", upper=False)
    yield _test(rule, idle * ratio, slowest, size)
    says = "pressure level is {value}; the pump is rated {limit}"
    yield _test(Rule("relief-ratings", "pump", says, "pressure"), frame.level, rated, size)


def _drive_rules(frame: Frame, combos: Combos, sizes: Derived) -> Iterator[Test]:
    drive = frame.needs.engine.drive
    pumps = frame.pumps
    displacement = np.array([m.displacement for m in pumps])[combos.pump]
    if drive.torque_rating is not None:
        share = np.array([losses.pump_torque_loss(m.hydromechanical) for m in pumps])[combos.pump]
        torque = displacement * frame.highest * (1.0 + share)
        says = (
            "pump torque at full stroke and highest pressure is {value}; the drive carries {limit}"
        )
        rule = Rule("drive-torque", "pump", says, "torque")
        yield _test(rule, torque, drive.torque_rating, combos.size)
    if drive.power_rating is not None:
        usable = float(frame.needs.limits.drive_duty) if drive.duty == "intermittent" else 1.0
        asked = np.asarray(machines.drive_power_rating(frame.highest, sizes.top_flow))
        says = "a drive rated {value} is asked for; it has {limit} for its duty"
        rule = Rule("drive-power", "pump", says, "power")
        yield _test(rule, asked, drive.power_rating * usable, combos.size)


def _line_rules(frame: Frame, combos: Combos, sizes: Derived) -> Iterator[Test]:
    limits = frame.needs.limits
    main = {
        "suction": (sizes.suction, limits.suction_velocity),
        "pressure": (sizes.pressure, limits.pressure_velocity),
        "return": (sizes.back, limits.return_velocity),
    }
    for name, (bore, most) in main.items():
        widest = np.where(np.isfinite(bore), bore, BORES[-1])
        says = f"{name} velocity is {{value}} in the widest hose; at most {{limit}}"
        rule = Rule(f"{name}-velocity", f"{name} line", says, "velocity")
        yield _test(rule, np.asarray(velocity(sizes.top_flow, widest)), float(most), combos.size)
    for name, bore in sizes.supply.items():
        lacks = np.where(np.isfinite(bore) & np.isfinite(sizes.returns[name]), 0.0, 1.0)
        says = "no hose is wide enough for its lines"
        yield _test(Rule("work-line-velocity", name, says, "count"), lacks, 0.5, combos.size)


def _tank_rules(frame: Frame, combos: Combos) -> Iterator[Test]:
    space = frame.needs.tank.max_volume
    if space is not None:
        taken = float(heat.reservoir_volume_for_swing(swing(frame.truck)))
        says = "cylinders take {value}, a tenth more included; there is space for {limit}"
        yield _test(Rule("tank-swing", "tank", says, "volume"), taken, space, combos.size)


def _motor_rules(frame: Frame, name: str, combos: Combos, sizes: Derived) -> Iterator[Test]:
    options, pick, size = frame.motors[name], combos.motors[name], combos.size
    function = frame.truck.function_named(name)
    motor = function.motor[0]
    displacement = np.array([m.displacement for m in options])[pick]
    fastest = np.array([m.max_speed for m in options])[pick]
    rated = np.array([m.max_pressure for m in options])[pick]
    # Slip only makes it slower: this is the speed of a tight motor in cold oil.
    speed = sizes.section[name] / displacement
    says = "motor turns at {value} at its maximum trim, slip left out; at most {limit}"
    yield _test(Rule("motor-overspeed", name, says, "shaft_speed"), speed, fastest, size)
    if function.limits.max_speed is not None:
        shaft = speed / float(motor.gearbox_ratio)
        says = "its shaft turns at {value} at its maximum trim, slip left out; at most {limit}"
        rule = Rule("machinery-overspeed", name, says, "shaft_speed")
        yield _test(rule, shaft, float(function.limits.max_speed), size)
    says = "pressure level is {value}; the motor is rated {limit}"
    yield _test(Rule("relief-ratings", name, says, "pressure"), frame.level, rated, size)
    if motor.load is not None and motor.load.breakaway is not None:
        starting = np.array([m.starting for m in options])[pick]
        rest = float(torques(frame, name, 0.0)[0])
        start = losses.starting_pressure(rest, displacement, starting, float(motor.load.breakaway))
        says = "{value} at its motor starts it from rest; {limit} is left for it"
        rule = Rule("breakaway-pressure", name, says, "pressure")
        yield _test(rule, np.asarray(start), frame.working - _standing_loss(frame), size)


def _standing_loss(frame: Frame) -> float:
    """What section or LS margin take of the pressure of a function at rest [Pa], at least."""
    sensing = frame.supply == "load sensing"
    return LEAST_MARGIN if sensing else SECTION_DROP[frame.supply]
