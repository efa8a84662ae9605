"""The steady state of one point with plain floats and a scalar root finder.

The same equations as the solver's, in another order of solving: sections by flow instead of
pressure, a controlled pump by its two cases, an open centre stage by stage. Nothing of
`hydrocheck.solver` is called.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from hydrocheck.model.circuit import Circuit
from hydrocheck.physics import oil
from tests.solver.oracle_parts import (
    TRICKLE,
    Consumer,
    Fluid,
    Task,
    line_drop,
    relief_flow,
    root,
    slip_and_torque,
)

__all__ = ["Answer", "Plant", "Task"]


@dataclass
class Answer:
    """The steady state, by function where it is a dict."""

    pump: float = 0.0
    inlet: float = 0.0
    returns: float = 0.0
    delivered: float = 0.0
    torque: float = 0.0
    passed: float = 0.0
    section: dict[str, float] = field(default_factory=dict)
    line: dict[str, float] = field(default_factory=dict)
    work: dict[str, float] = field(default_factory=dict)
    speed: dict[str, float] = field(default_factory=dict)
    drain: dict[str, float] = field(default_factory=dict)
    lowered: dict[str, float] = field(default_factory=dict)


@dataclass
class Bank:
    """Flows and pressures of the sections at a trial."""

    section: dict[str, float]
    line: dict[str, float]
    work: dict[str, float]
    inlet: float
    passed: float = 0.0


class Plant:
    """The whole point."""

    def __init__(self, circuit: Circuit, task: Task) -> None:
        if circuit.oil.point:
            constants = oil.viscosity_line(
                *(value for p in circuit.oil.point for value in (p.temperature, p.viscosity))
            )
        else:
            constants = oil.grade_line(circuit.oil.grade, circuit.oil.viscosity_index)
        nu = float(oil.kinematic_viscosity(task.temperature, *constants))
        rho = float(oil.density(task.temperature, circuit.oil.density, circuit.oil.expansion))
        self.fluid: Fluid = (nu, rho, circuit.oil.density)
        self.circuit, self.task = circuit, task
        self.pump = circuit.pump[0]
        self.full, self.leak, self.friction, self.drag = slip_and_torque(self.pump, self.fluid)
        self.speed = task.engine_speed * circuit.engine.drive.ratio
        self.oil = 1.0 - self.pump.air  # share of what it sucks
        self.gives = self.full * self.oil * self.speed
        self.consumers = [Consumer(circuit, f, task, self.fluid) for f in circuit.function]
        for c in self.consumers:
            if c.asked <= 1e-12 * self.gives:
                c.asked = 0.0  # counts as shut
        self.main = [line for line in circuit.lines if line.carries == "pressure"]
        self.back = [line for line in circuit.lines if line.carries == "return"]
        self.reliefs = {
            at: [r for r in circuit.relief if r.at == at] for at in ("pump", "bank inlet", "LS")
        }
        self.order = [
            next(c for c in self.consumers if c.name == name) for name in circuit.bank[0].order
        ]

    # --- around the bank ---

    def around(self, bank: Bank, returns: float) -> tuple[float, float, float]:
        """Pump pressure, pump flow taken, and returned flow."""
        at_bank = [(r, relief_flow(r, bank.inlet, returns)) for r in self.reliefs["bank inlet"]]
        through = sum(bank.section.values()) + bank.passed + sum(q for _, q in at_bank)
        lost = math.copysign(line_drop(self.main, abs(through), self.fluid), through)
        pressure = bank.inlet + lost
        at_pump = [(r, relief_flow(r, pressure, returns)) for r in self.reliefs["pump"]]
        returned = bank.passed + sum(q for r, q in at_bank + at_pump if r.outlet == "return")
        for c in self.consumers:
            returned += c.to_return(bank.section[c.name], bank.line[c.name], returns)
        return pressure, through + sum(q for _, q in at_pump), returned

    def with_return(self, law: Callable[[float], Bank]) -> tuple[Bank, float]:
        """A bank and its return pressure, where the flow of the one makes the other."""

        def falling(returns: float) -> float:
            return line_drop(self.back, self.around(law(returns), returns)[2], self.fluid) - returns

        most = falling(0.0)
        returns = root(falling, 0.0, most) if most > 0 else 0.0
        return law(returns), returns

    def most(self, pressure: float) -> float:
        """Flow that the pump can give."""
        stroke = 1.0
        if self.pump.torque_limit is not None and self.full * pressure > self.pump.torque_limit:
            stroke = self.pump.torque_limit / (self.full * pressure)
        return stroke * self.gives - self.leak * pressure

    def in_hand(self, bank: Bank, returns: float) -> float:
        pressure, taken, _ = self.around(bank, returns)
        return self.most(pressure) - taken

    def wanted(self, bank: Bank) -> float:
        """Pressure that a controlled pump aims at."""
        if self.pump.type == "constant pressure":
            return float(self.pump.compensator)
        signal = max([0.0] + [bank.work[c.name] for c in self.consumers if c.asked > 0])
        for relief in self.reliefs["LS"]:
            signal = min(signal, relief.setting * (1.0 - relief.weakness))
        signal *= self.pump.ls_signal
        return float(min(self.pump.compensator, max(self.pump.standby, signal + self.pump.margin)))

    # --- parallel bank ---

    def parallel(self, inlet: float) -> tuple[Bank, float]:
        def law(returns: float) -> Bank:
            found = {c.name: c.at_pressure(inlet, returns) for c in self.consumers}
            section, line, work = ({n: v[i] for n, v in found.items()} for i in range(3))
            return Bank(section, line, work, inlet)

        return self.with_return(law)

    def settle_parallel(self) -> tuple[Bank, float]:
        def hand(inlet: float) -> float:
            return self.in_hand(*self.parallel(inlet))

        def lack(inlet: float) -> float:
            bank, returns = self.parallel(inlet)
            return self.wanted(bank) - self.around(bank, returns)[0]

        if self.pump.type != "fixed":
            inlet = root(lack, 0.0, self.pump.compensator)
            bank, returns = self.parallel(inlet)
            if self.speed > 0.0 and self.in_hand(bank, returns) >= 0.0:
                return bank, returns
            return self.parallel(root(hand, 0.0, inlet))
        high = 1e5
        while hand(high) > 0.0 and high < 1e16:
            high *= 4.0
        return self.parallel(root(hand, 0.0, high))

    # --- open centre ---

    def cascade(
        self, total: float, returns: float, raised: float = 0.0, holder: Consumer | None = None
    ) -> Bank:
        """The bank at a flow, its inlet raised by a holder that stands still."""
        neutral = self.circuit.bank[0].neutral_drop / self.circuit.bank[0].neutral_flow ** 2
        left = total
        section, line, work, asks = {}, {}, {}, {}
        for c in self.order:
            section[c.name] = min(c.asked, max(left, 0.0))
            left -= section[c.name]
            left = left if abs(left) > 1e-15 * abs(total) else 0.0
            line[c.name], work[c.name], asks[c.name] = 0.0, returns, 0.0
            if section[c.name] > 0:
                line[c.name], work[c.name] = c.at_flow(section[c.name], returns)
                share = section[c.name] / c.asked
                asks[c.name] = work[c.name] + c.rated_drop * share**2
        inlet = returns + neutral * left * abs(left)
        for c in reversed(self.order):
            inlet = max(inlet, asks[c.name])
            if c is holder:
                inlet = max(inlet, raised)
                share = section[c.name] / c.asked
                work[c.name] = inlet - c.rated_drop * share**2
            elif c.asked > 0 and section[c.name] <= 0:
                work[c.name] = inlet
        return Bank(section, line, work, inlet, left)

    def cascade_at(self, returns: float) -> Bank:
        """The balance of supply and bank with the return manifold at a pressure."""

        def hand(total: float) -> float:
            return self.in_hand(self.cascade(total, returns), returns)

        low, top = 0.0, self.gives
        if hand(0.0) < 0.0:
            # The return pressure feeds reliefs and slip backwards, through the open centre.
            fed = self.reliefs["pump"] + self.reliefs["bank inlet"]
            back = sum(relief_flow(r, returns, returns) for r in fed) + self.leak * returns
            return self.cascade(root(hand, -back, 0.0), returns)
        for c in self.order:
            if c.asked <= 0:
                continue
            if low >= top or hand(low) <= 0.0:
                break
            start = low + max(TRICKLE * 10.0 * c.asked, 1e-15 * low)
            if hand(start) < 0.0:
                return self.within(c, low, start, returns)
            high = min(low + c.asked, top)
            if hand(high) <= 0.0:
                found = root(hand, start, high)
                before, after = max(start, found * (1.0 - 1e-12)), min(high, found * (1.0 + 1e-12))
                low_work = self.cascade(before, returns).work[c.name]
                if self.cascade(after, returns).work[c.name] - low_work > 1e-6 * low_work:
                    return self.within(c, before, after, returns)
                return self.cascade(found, returns)
            low = high
        return self.cascade(root(hand, low, top), returns)

    def within(self, holder: Consumer, before: float, after: float, returns: float) -> Bank:
        """Where the pressure jumps between two (all but equal) flows: the holder stands still."""
        low, high = (self.cascade(total, returns).inlet for total in (before, after))
        pressure = root(
            lambda p: self.in_hand(self.cascade(before, returns, p, holder), returns), low, high
        )
        return self.cascade(before, returns, pressure, holder)

    def settle_cascade(self) -> tuple[Bank, float]:
        """With the return pressure outermost: it has one root, and for each value the flow has."""

        def falling(returns: float) -> float:
            returned = self.around(self.cascade_at(returns), returns)[2]
            return (
                math.copysign(1.0, returned) * line_drop(self.back, abs(returned), self.fluid)
                - returns
            )

        most = self.gives + sum(c.asked for c in self.consumers)
        for c in self.consumers:
            most += c.asked * max(m.back for m in c.machines) + c.down(0.0)
        returns = root(falling, 0.0, line_drop(self.back, most, self.fluid))
        return self.cascade_at(returns), returns

    def answer(self) -> Answer:
        """The steady state."""
        if self.circuit.bank[0].type == "parallel":
            bank, returns = self.settle_parallel()
        else:
            bank, returns = self.settle_cascade()
        pressure, taken, _ = self.around(bank, returns)
        stroke = (taken + self.leak * pressure) / self.gives if self.gives else 0.0
        torque = (stroke * self.oil + self.friction) * self.full * pressure + self.drag * self.speed
        speeds = {c.name: c.speeds(bank.line[c.name]) for c in self.consumers}
        for c in self.consumers:
            if c.lets_down:
                speeds[c.name] = (c.down(returns) / c.bore_side, 0.0)
                bank.work[c.name] = returns + c.down_drop * (c.down(returns) / c.lets_down) ** 2
        return Answer(
            pump=pressure,
            inlet=bank.inlet,
            returns=returns,
            delivered=taken,
            torque=torque,
            passed=bank.passed,
            section=bank.section,
            line=bank.line,
            work=bank.work,
            speed={n: v[0] for n, v in speeds.items()},
            drain={n: v[1] for n, v in speeds.items()},
            lowered={c.name: c.down(returns) for c in self.consumers},
        )
