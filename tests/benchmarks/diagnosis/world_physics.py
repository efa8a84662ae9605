"""The steady state of a truck of the blind trial's world, by bisection, one point at a time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log10

from world_trucks import GPM, PSI, RPM, Seen, Truck, Work  # beside this file


@dataclass
class State:
    """What a solve gives, true values."""

    pressure: float
    signal: float
    back: float
    pump_flow: float
    relief_flow: float
    slip: float
    flow: dict[str, float]
    speed: dict[str, float]
    port: dict[str, float]
    leak: dict[str, float]
    command: dict[str, float]
    engine: float
    oil: float
    vacuum: float


def viscosity(truck: Truck, oil: float) -> float:
    """Kinematic viscosity at a temperature [m2/s], by two points of a usual multigrade."""
    hot = truck.grade * 0.195
    line = [log10(log10(1e6 * v + 0.7)) for v in (truck.grade, hot)]
    t = [log10(313.15), log10(373.15)]
    slope = (line[1] - line[0]) / (t[1] - t[0])
    nu = 10**10 ** (line[0] + slope * (log10(oil) - t[0])) - 0.7
    thin = truck.size if truck.fault == "thin oil" else 1.0
    return float(max(nu, 2.0) * 1e-6 * truck.sized["nu"] / thin)


def solve(truck: Truck, seen: Seen) -> State:
    """The steady state under the truck's fault, by bisection on the pump pressure."""
    return _Solver(truck, seen).state()


def _bisect(f: Callable[[float], float], low: float, high: float, steps: int = 40) -> float:
    """Where a falling function crosses zero; an end where it does not."""
    if f(low) <= 0:
        return low
    if f(high) >= 0:
        return high
    for _ in range(steps):
        middle = 0.5 * (low + high)
        if f(middle) > 0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


class _Solver:
    def __init__(self, truck: Truck, seen: Seen) -> None:
        self.t, self.seen = truck, seen
        t, q = truck, truck.quirks
        self.f = lambda name, otherwise=0.0: t.size if t.fault == name else otherwise
        shown = seen.engine if seen.engine is not None else t.engine
        true = shown * (1 - self.f("tachometer"))
        if seen.engine is None:
            true *= 1 - self.f("engine")
        self.engine = true * t.sized["engine"]
        self.pump_speed = self.engine * t.ratio * t.sized["ratio"] * (1 - self.f("ratio"))
        self.oil = seen.oil if seen.oil is not None else t.oil
        if seen.oil is None:
            self.oil += self.f("hot oil") - self.f("cold oil")
        self.nu = viscosity(t, self.oil)
        self.relative = 36e-6 / self.nu
        self.full = t.displacement * t.sized["pump"]
        theory = self.full * self.pump_speed
        cap = 1.0
        if t.fault == "suction":  # the line caps the flow that follows, whatever the speed
            most = (1 - t.size) * self.full * t.engine * t.ratio
            cap = min(1.0, most / max(theory, 1e-9))
        self.theory = theory * cap * (1 - self.f("air"))
        self.starved = cap < 0.999
        self.relief = t.relief * t.sized["relief"] * (1 - self.f("relief"))
        self.pump_leak = (
            t.displacement * 1800 * RPM * (1 - t.pump_volumetric) * t.sized["slip"]
            * self.relative ** q["pump nu"]
        )  # fmt: skip
        self.orders = self._orders()

    def _orders(self) -> dict[str, float]:
        """Section flow that each function asks, after trims and coil."""
        t, seen = self.t, self.seen
        asked: dict[str, float] = {}
        self.command: dict[str, float] = {}
        for name, (given, told) in seen.commands.items():
            command = given
            work = t.works[name]
            own = name == "auger"
            dead = work.deadband
            healthy = seen.test == "hoses swapped"
            if own and not told and not healthy:
                command = (
                    dead + (command - dead) * (1 - self.f("trim")) if command > dead else command
                )
            if own and seen.test == "manual override":
                command, reach = 1.0, 1.0
            else:
                reach = 1.0
                if own and not healthy:
                    if t.fault == "coil" and seen.test != "coils swapped":
                        reach = 1 - t.size
                    if t.fault == "voltage":
                        reach = min(1.0, 1.35 * (1 - t.size))
            closed = own and t.closed and seen.speed > 0 and seen.test != "manual override"
            if closed:
                command = work.high
            self.command[name] = command
            flow = self._curve(work, soft(command, reach, t.quirks["knee"]), own)
            if closed:
                wanted = seen.speed / (1 + self.f("sensor"))
                need = self._needed(work, wanted)
                flow_limit = flow
                flow = min(need, flow_limit)
                self.command[name] = self._command_for(work, min(need, flow_limit), own)
            if own and not healthy:
                flow *= 1 - self.f("spool")
            asked[name] = flow
        return asked

    def _curve(self, work: Work, command: float, own: bool) -> float:
        dead = work.deadband * (self.t.sized["deadband"] if own else 1.0)
        part = min(max((command - dead) / (1 - dead), 0.0), 1.0)
        scale = self.t.sized["flow"] if own else 1.0
        return float(work.rated_flow * scale * part ** self.t.quirks["shape"])

    def _command_for(self, work: Work, flow: float, own: bool) -> float:
        opening = 1 - self.f("spool") if own else 1.0
        return min(
            _bisect(lambda u: flow - opening * self._curve(work, u, own), work.deadband, 1.0), 1.0
        )

    def _needed(self, work: Work, speed: float) -> float:
        return self._size(work) * speed + self._leak(work, self._load(work, speed))

    def _size(self, work: Work) -> float:
        if work.name != "auger":
            return work.displacement
        wrong = self.t.size if self.t.fault == "motor size" else 1.0
        return work.displacement * self.t.sized["motor"] * wrong

    def _leak(self, work: Work, drop: float) -> float:
        """Flow that a motor passes without turning."""
        t, q = self.t, self.t.quirks
        if work.area:
            return 0.0
        rated = work.displacement * 200 * RPM * (1 / work.volumetric - 1)
        if work.name == "spinner":
            rated *= 2
        leak = (
            rated * (max(drop, 0) / (1500 * PSI)) ** q["motor p"] * self.relative ** q["motor nu"]
        )
        if work.name == "auger":
            leak *= t.sized["motor slip"]
            worn = self.f("motor") * work.displacement * 200 * RPM
            leak += worn * (max(drop, 0) / (1500 * PSI)) ** q["wear p"] * self.relative**0.2
        return float(leak)

    def _load(self, work: Work, speed: float) -> float:
        """Pressure over the motor or cylinder."""
        t, seen = self.t, self.seen
        held = work.name in seen.stop or (
            work.name == "auger" and seen.test in ("port blocked", "shaft held")
        )
        if held:
            return 1e9
        if work.area:
            force = work.force * (
                0.3 if t.fault == "other" and work.name not in seen.commands else 1
            )
            return force / work.area / 0.95
        torque = work.constant + work.linear * speed / work.at
        if work.name == "auger":
            torque *= t.sized["load"]
            if t.fault == "jam":
                torque *= t.size
            if seen.test == "uncoupled":
                torque = 0.0
            if t.fault == "drag":
                torque += t.size * work.constant * (0.8 + 0.2 * speed / (60 * RPM))
        else:
            torque *= t.sized["spinner load"]
        size = self._size(work)
        mechanical = work.mechanical * (1 - t.quirks["low speed"] * exp(-abs(speed) / (25 * RPM)))
        friction = 0.03 * 1500 * PSI * (self.nu / 36e-6) ** 0.5 * min(abs(speed) / (200 * RPM), 2.0)
        return float(torque / (size * mechanical) + friction)

    def _climb(self, work: Work, flow: float) -> tuple[float, float, float]:
        """Pressure at the work port above return, speed and leak for a section flow."""
        t = self.t
        if work.area:
            return self._load(work, 0.0), flow / work.area, 0.0
        size = self._size(work)
        # The speed at which displacement and leak take the flow.
        top = flow / size

        def left(speed: float) -> float:
            return flow - size * speed - self._leak(work, self._load(work, speed))

        speed = _bisect(left, 0.0, top, 20)
        drop = self._load(work, speed)
        leak = flow - size * speed
        if speed <= 0.0:  # stalled: what passes is the leak at the pressure that stands
            drop = _bisect(lambda p: flow - self._leak(work, p), 0.0, self._load(work, 0.0), 24)
        share = flow / (10 * GPM)
        thick = (self.nu / 30e-6) ** (2 - t.quirks["line"])
        line = (work.line * t.sized["line"] * thick + work.hidden) * share ** t.quirks["line"]
        if work.name == "auger" and t.fault in ("supply hose", "return hose"):
            line += 3000 * PSI * t.size**3 * share**2
        return drop + line, max(speed, 0.0), leak

    def _taken(self, name: str, work: Work, inlet: float, back: float) -> float:
        """Flow that a section passes at an inlet pressure."""
        asked = self._asked(name)
        if asked <= 0:
            return 0.0
        droop = 1 - self.t.quirks["droop"]

        def excess(flow: float) -> float:
            port = self._climb(work, flow)[0] + back
            if name == "auger" and self.t.port_relief:
                port = min(port, self._port_limit() + 1e3)
            return inlet - port - self.t.drop * (flow / asked) ** 2

        return droop * _bisect(excess, 0.0, asked, 18)

    def _port_limit(self) -> float:
        return self.t.port_relief * (1 - self.f("port relief"))

    def _asked(self, name: str) -> float:
        extra = 0.0
        if self.t.fault == "other" and name == "plow" and name not in self.seen.stop:
            extra = self.t.size * self.t.displacement * self.t.engine * self.t.ratio
        return self.orders.get(name, 0.0) + extra

    def _running(self) -> list[str]:
        return [n for n in self.t.works if self._asked(n) > 0]

    def _line(self, flow: float) -> float:
        """Drop of the line from pump to bank."""
        share = flow / (20 * GPM)
        line = 0.4 * self.t.quirks["common"] * share ** self.t.quirks["line"]
        if self.t.fault == "pressure line":
            line += 4000 * PSI * self.t.size**3 * share**2
        return line

    def _back(self, flow: float) -> float:
        """Pressure at the bank's return."""
        share = flow / (20 * GPM)
        back = self.t.quirks["common"] * share ** self.t.quirks["line"] * (self.nu / 30e-6) ** 0.4
        if self.t.fault == "return filter":
            back += 2500 * PSI * self.t.size**3 * share**1.5
        return back

    def _pump(self, pressure: float) -> float:
        leak = self._slip(pressure)
        return max(self.theory - leak, 0.0)

    def _slip(self, pressure: float) -> float:
        t = self.t
        share = max(pressure, 0) / (3000 * PSI if t.sensing else 2000 * PSI)
        own = self.pump_leak * share ** t.quirks["pump p"]
        worn = self.f("pump") * t.displacement * 1800 * RPM * share ** t.quirks["wear p"]
        return own + worn * self.relative**0.2

    def _over(self, pressure: float) -> float:
        """Flow over the main relief."""
        crack = 0.95 * self.relief
        return max(pressure - crack, 0.0) / max(0.05 * self.relief, 1e4) * 28 * GPM

    def _demand(self, pressure: float) -> tuple[dict[str, float], float, float]:
        """Section flows, inlet and return pressure at a pump pressure (parallel bank)."""
        flows = {n: self._asked(n) for n in self._running()}
        inlet, back = pressure, 0.0
        for _ in range(6):
            total = sum(flows.values())
            back = 0.5 * back + 0.5 * self._back(total)
            inlet = 0.5 * inlet + 0.5 * (pressure - self._line(total))
            flows = {n: self._taken(n, self.t.works[n], inlet, back) for n in flows}
        return flows, inlet, back

    def state(self) -> State:
        return self._sensing() if self.t.sensing else self._open()

    def _signal(self, flows: dict[str, float], back: float, pressure: float) -> float:
        """What reaches the pump control: no port stands above the pump that feeds it."""
        t = self.t
        loads = {}
        for name, flow in flows.items():
            port = self._climb(t.works[name], flow)[0] + back if flow > 0 else 0.0
            if name in self.seen.stop or (name == "auger" and self._load(t.works[name], 0) >= 1e9):
                port = 1e9
            port = min(port, pressure)
            if name == "auger":
                if t.port_relief:
                    port = min(port, self._port_limit())
                if t.fault == "shuttle" and self.seen.test != "hoses swapped":
                    port *= 1 - t.size
            loads[name] = port
        return max(loads.values(), default=0.0) * (1 - self.f("ls line"))

    def _sensing(self) -> State:
        t = self.t
        margin = t.margin * t.sized["margin"] * (1 - self.f("margin"))
        compensator = t.compensator * t.sized["compensator"] * (1 - self.f("compensator"))

        def wish(p: float) -> float:
            flows, _, back = self._demand(p)
            held = min(compensator, max(t.standby, self._signal(flows, back, p) + margin))
            return held - p

        def spare(p: float) -> float:
            flows, _, _ = self._demand(p)
            return self._pump(p) - self._over(p) - sum(flows.values())

        p = _bisect(wish, 0.0, compensator, 18)
        if spare(p) < 0:
            p = _bisect(spare, 0.0, p, 18)
        flows, _, back = self._demand(p)
        delivered = sum(flows.values()) + self._over(p)
        return self._result(p, flows, back, delivered, self._signal(flows, back, p))

    def _open(self) -> State:
        """Stages in order on a fixed pump: auger, spinner, plow."""
        t = self.t

        def flows_at(pressure: float) -> tuple[dict[str, float], float, float]:
            left = max(self._pump(pressure) - self._over(pressure), 0.0)
            total = left
            back = self._back(total)
            inlet = pressure - self._line(total)
            flows, need = {}, 60 * PSI * (total / (20 * GPM)) ** 2
            for name in self._running():
                work = t.works[name]
                flow = min(self._asked(name), left)
                if name == "auger" and t.port_relief:
                    flow = min(flow, self._taken(name, work, min(inlet, 2e7), back))
                port = self._climb(work, flow)[0] + back if flow > 0 else 0.0
                if name == "auger" and t.port_relief:
                    port = min(port, self._port_limit())
                port += t.drop if flow > 0 else 0.0
                if port > inlet:
                    flow = self._taken(name, work, inlet, back)
                flows[name] = flow
                left -= flow
                need = max(need, port)
            return flows, need + self._line(total) + back * 0, back

        p = _bisect(lambda p: flows_at(p)[1] - p, 0.0, 1.3 * self.relief, 24)
        flows, _, back = flows_at(p)
        return self._result(p, flows, back, self._pump(p), 0.0)

    def _result(
        self, p: float, flows: dict[str, float], back: float, delivered: float, signal: float
    ) -> State:
        t = self.t
        climbs = {
            n: self._climb(t.works[n], f) if f > 0 else (0.0, 0.0, 0.0) for n, f in flows.items()
        }
        speeds = {n: climbs[n][1] if n in climbs else 0.0 for n in t.works}
        leaks = {n: climbs[n][2] if n in climbs else 0.0 for n in t.works}
        if t.port_relief and "auger" in flows:
            port = climbs["auger"][0] + back
            if port > self._port_limit():  # the relief takes what the motor then does not
                work = t.works["auger"]
                through = _bisect(
                    lambda q: self._port_limit() - back - self._climb(work, q)[0], 0.0,
                    flows["auger"], 30,
                )  # fmt: skip
                climbs["auger"] = self._climb(work, through)
                speeds["auger"], leaks["auger"] = climbs["auger"][1], climbs["auger"][2]
        ports = {n: (climbs[n][0] + back if n in climbs and flows[n] > 0 else 0.0) for n in t.works}
        for name in t.works:
            if name in flows and (name in self.seen.stop or ports[name] > p):
                ports[name] = p - self._line(delivered)
        length = 1.2
        vacuum = 3500 + 1500 * length * (self.nu / 36e-6) * (self.theory / (20 * GPM)) * 0.5
        if self.starved:
            vacuum = self.t.rng.uniform(5.5e4, 8.5e4)
        return State(
            p, signal, back, delivered, self._over(p), self._slip(p), dict(flows), speeds, ports,
            leaks, dict(self.command), self.engine, self.oil, min(vacuum, 9e4),
        )  # fmt: skip


def soft(command: float, reach: float, knee: float) -> float:
    """A command limited by a coil, with a soft knee."""
    if reach >= 1.0:
        return command
    a, b = command / reach, 1.0
    return float(reach * (a**-knee + b**-knee) ** (-1 / knee)) if a > 0 else 0.0
