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

    def spare(self, bank: Bank, returns: float) -> float:
        """Whether the supply would push more (positive) or less than the bank takes, scaled."""
        flow = self.in_hand(bank, returns) / max(self.gives, 1e-12)
        if self.pump.type == "fixed":
            return flow
        return min(flow, (self.wanted(bank) - self.around(bank, returns)[0]) / 1e6)

    # --- parallel and flow sharing ---

    def parallel(self, inlet: float) -> tuple[Bank, float]:
        def law(returns: float) -> Bank:
            found = {c.name: c.at_pressure(inlet, returns) for c in self.consumers}
            section, line, work = ({n: v[i] for n, v in found.items()} for i in range(3))
            return Bank(section, line, work, inlet)

        return self.with_return(law)

    def sharing(self, inlet: float) -> tuple[Bank, float]:
        """All sections at the same part of their commands, ruled by the highest load."""
        caps = [r.setting * (1.0 - r.weakness) for r in self.reliefs["LS"]]
        cap = min(caps, default=math.inf)
        drop = self.circuit.bank[0].section_drop
        moving = [c for c in self.consumers if c.asked > 0]

        def law(returns: float) -> Bank:
            section = {c.name: 0.0 for c in self.consumers}
            line, work = dict(section), {c.name: returns for c in self.consumers}

            def load(part: float) -> float:
                return max([0.0] + [c.at_flow(part * c.asked, returns)[1] for c in moving])

            def over(part: float) -> float:
                return min(load(part), cap) + drop * part**2 - inlet

            least = TRICKLE * 1e-6
            if not moving or over(least) >= 0.0:
                for c in moving:
                    work[c.name] = min(inlet, c.at_flow(least * c.asked, returns)[1])
                return Bank(section, line, work, inlet)
            part = root(over, least, 1.0)
            if over(1.0) <= 0.0:
                part = 1.0
            for c in moving:
                name = c.name
                section[name] = part * c.asked
                line[name], work[name] = c.at_flow(section[name], returns)
                if work[name] > cap:
                    section[name], line[name], work[name] = c.at_pressure(inlet, returns)
            if part < 1.0 and abs(over(part)) > 1e-9 * inlet:
                ruling = inlet - drop * part**2  # a tight machine stands still within a jump
                for c in moving:
                    after = c.at_flow(part * (1.0 + 1e-9) * c.asked, returns)[1]
                    before = c.at_flow(part * (1.0 - 1e-9) * c.asked, returns)[1]
                    if after - before > 1e-6 * inlet and after <= cap:
                        work[c.name] = min(max(ruling, before), after)
            return Bank(section, line, work, inlet)

        return self.with_return(law)

    def settle_by_pressure(
        self, at_inlet: Callable[[float], tuple[Bank, float]]
    ) -> tuple[Bank, float]:
        def hand(inlet: float) -> float:
            return self.in_hand(*at_inlet(inlet))

        def lack(inlet: float) -> float:
            bank, returns = at_inlet(inlet)
            return self.wanted(bank) - self.around(bank, returns)[0]

        if self.pump.type != "fixed":
            inlet = root(lack, 0.0, self.pump.compensator)
            bank, returns = at_inlet(inlet)
            if self.speed > 0.0 and self.in_hand(bank, returns) >= 0.0:
                return bank, returns
            return at_inlet(root(hand, 0.0, inlet))
        high = 1e5
        while hand(high) > 0.0 and high < 1e16:
            high *= 4.0
        return at_inlet(root(hand, 0.0, high))

    # --- gear divider ---

    def divided(self, total: float, returns: float) -> Bank:
        """The outlets of a divider at a flow into it; nothing goes backwards into a function."""
        bank = self.circuit.bank[0]
        loss = bank.neutral_drop / bank.neutral_flow**2 if bank.neutral_flow else 0.0
        share = dict(zip(bank.order, (a / sum(bank.shares) for a in bank.shares), strict=True))
        section = {c.name: 0.0 for c in self.consumers}
        line, work = dict(section), {c.name: returns for c in self.consumers}
        passed = 0.0
        for c in self.consumers:
            if c.asked <= 0 or total * share[c.name] <= 0.0:
                passed += total * share[c.name]
                continue
            section[c.name] = total * share[c.name]
            line[c.name], work[c.name] = c.at_flow(section[c.name], returns)
        inlet = sum(share[name] * pressure for name, pressure in work.items())
        return Bank(section, line, work, inlet + loss * total * abs(total), passed)

    def divided_at(self, returns: float) -> Bank:
        def hand(total: float) -> float:
            return self.spare(self.divided(total, returns), returns)

        high = self.gives
        if not any(c.asked > 0 for c in self.consumers):
            back = sum(relief_flow(r, returns, returns) for r in self.reliefs["pump"])
            back += sum(relief_flow(r, returns, returns) for r in self.reliefs["bank inlet"])
            return self.divided(root(hand, -back - self.leak * returns, high), returns)
        least = 1e-20 * high
        found = root(hand, least, high)
        after = self.divided(found * (1.0 + 1e-12), returns)
        before = self.divided(max(found * (1.0 - 1e-12), least), returns)
        if found <= least:
            before.inlet = 0.0
            before.work = {c.name: 0.0 if c.asked > 0 else returns for c in self.consumers}
        elif after.inlet - before.inlet < 1e-6 * after.inlet:
            return self.divided(found, returns)

        def between(part: float) -> Bank:
            work = {n: w + part * (after.work[n] - w) for n, w in before.work.items()}
            inlet = before.inlet + part * (after.inlet - before.inlet)
            return Bank(before.section, before.line, work, inlet, before.passed)

        return between(root(lambda part: self.spare(between(part), returns), 0.0, 1.0))

    # --- open centre and priority valve ---

    @property
    def to_tank(self) -> bool:
        return self.circuit.bank[0].neutral_flow is not None

    def cascade(
        self, total: float, returns: float, raised: float = 0.0, holder: Consumer | None = None
    ) -> Bank:
        """The bank at a flow, its inlet raised by a holder that stands still."""
        bank = self.circuit.bank[0]
        neutral = bank.neutral_drop / bank.neutral_flow**2 if self.to_tank else 0.0
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
        if not self.to_tank:
            left = inlet = 0.0
        for c in reversed(self.order):
            inlet = max(inlet, asks[c.name])
            if c is holder:
                inlet = max(inlet, raised)
                share = section[c.name] / c.asked
                work[c.name] = inlet - c.rated_drop * share**2
            elif c.asked > 0 and section[c.name] <= 0:
                work[c.name] = max(inlet, returns)
        return Bank(section, line, work, inlet, left)

    def cascade_at(self, returns: float) -> Bank:
        """The balance of supply and bank with the return manifold at a pressure."""

        def hand(total: float) -> float:
            return self.spare(self.cascade(total, returns), returns)

        low, top = 0.0, self.gives
        if self.to_tank and hand(0.0) < 0.0:
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
                less, more = self.cascade(before, returns), self.cascade(after, returns)
                if more.work[c.name] - less.work[c.name] > 1e-6 * less.inlet:
                    return self.within(c, before, after, returns)
                return self.cascade(found, returns)
            low = high
        if self.to_tank or low >= top or hand(low) <= 0.0:
            return self.cascade(root(hand, low, top), returns)

        # Every command is met and nothing goes on to tank: the inlet rises.
        def lifted(extra: float) -> Bank:
            bank = self.cascade(low, returns)
            bank.inlet += extra
            bank.work.update({c.name: returns for c in self.consumers if c.asked <= 0})
            return bank

        extra = 1e5
        while self.spare(lifted(extra), returns) > 0.0 and extra < 1e16:
            extra *= 4.0
        return lifted(root(lambda e: self.spare(lifted(e), returns), 0.0, extra))

    def within(self, holder: Consumer, before: float, after: float, returns: float) -> Bank:
        """Where the pressure jumps between two (all but equal) flows: the holder stands still."""
        low, high = (self.cascade(total, returns).inlet for total in (before, after))
        pressure = root(
            lambda p: self.spare(self.cascade(before, returns, p, holder), returns), low, high
        )
        return self.cascade(before, returns, pressure, holder)

    def settle_by_flow(self, at_return: Callable[[float], Bank]) -> tuple[Bank, float]:
        """With the return pressure outermost: it has one root, and for each value the flow has."""

        def falling(returns: float) -> float:
            returned = self.around(at_return(returns), returns)[2]
            return (
                math.copysign(1.0, returned) * line_drop(self.back, abs(returned), self.fluid)
                - returns
            )

        most = self.gives
        for c in self.consumers:
            most += max(c.asked, self.gives) * (1.0 + max(m.back for m in c.machines)) + c.down(0.0)
        returns = root(falling, 0.0, line_drop(self.back, most, self.fluid))
        return at_return(returns), returns

    def answer(self) -> Answer:
        """The steady state."""
        kind = self.circuit.bank[0].type
        if kind == "flow sharing":
            bank, returns = self.settle_by_pressure(self.sharing)
        elif kind == "gear divider":
            bank, returns = self.settle_by_flow(self.divided_at)
        elif kind in ("open centre", "priority valve"):
            bank, returns = self.settle_by_flow(self.cascade_at)
        else:
            bank, returns = self.settle_by_pressure(self.parallel)
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
