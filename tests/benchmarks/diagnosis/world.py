"""Synthetic trucks with one known fault, for the blind trial. Imports numpy and nothing of ours.

Its physics is its own and differs from the toolkit's on purpose: leakage with other exponents of
pressure and viscosity, friction that rises at low speed, lines by one power law plus fittings that
the truck file does not tell, restrictions as orifices, a suction that caps the flow, sections that
droop, a coil with a soft knee, instruments with a bias of their own, people who mishear. The fault
mix is drawn here and not from the priors of the diagnosis.

Everything is SI inside; a truck tells its file as text.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from math import exp, log10, pi

import numpy as np

RPM = 2 * pi / 60
PSI = 6894.757293168361
GPM = 6.30901964e-5
IN3REV = 1.6387064e-5 / (2 * pi)
INLB = 0.1129848290276167
INCH = 0.0254

SLOWED = 0.85
"""A fault counts if the auger turns no faster than this share of the sound truck's speed."""

# Fault -> (what is repaired, share of the mix). Needs differ: see `Truck.can`.
FAULTS: dict[str, tuple[str, float]] = {
    "engine": ("engine speed", 5.0),
    "ratio": ("pump drive", 2.0),
    "pump": ("pump", 7.0),
    "ls line": ("LS line", 4.0),
    "margin": ("pump control", 5.0),
    "compensator": ("pump control", 3.0),
    "relief": ("main relief", 7.0),
    "port relief": ("port relief", 3.0),
    "spool": ("valve section", 7.0),
    "coil": ("coil and its supply", 5.0),
    "voltage": ("coil and its supply", 5.0),
    "trim": ("trims", 5.0),
    "motor": ("motor", 8.0),
    "motor size": ("motor", 3.0),
    "drag": ("auger drive and bearings", 5.0),
    "jam": ("load", 5.0),
    "supply hose": ("work hoses and couplings", 5.0),
    "return hose": ("work hoses and couplings", 4.0),
    "pressure line": ("pump pressure line", 3.0),
    "return filter": ("return filter and line", 3.0),
    "shuttle": ("LS shuttle", 3.0),
    "suction": ("suction side", 4.0),
    "air": ("suction side", 4.0),
    "cold oil": ("oil", 3.0),
    "hot oil": ("oil", 3.0),
    "thin oil": ("oil", 2.0),
    "other": ("other function", 5.0),
    "sensor": ("speed sensor", 3.0),
    "tachometer": ("tachometer", 2.0),
}


@dataclass
class Work:
    """A function: an auger or spinner with a motor, or a cylinder.

    All but `cylinder`, `name` are what the truck file says; `true` multiplies some of them.
    """

    name: str
    rated_flow: float
    deadband: float
    displacement: float = 0.0
    volumetric: float = 0.94
    mechanical: float = 0.88
    constant: float = 0.0
    linear: float = 0.0
    at: float = 60 * RPM
    low: float = 0.0
    high: float = 1.0
    line: float = 0.0  # drop of supply and return together at 10 gal/min in the truck file's oil
    hidden: float = 0.0  # further drop at 10 gal/min that the file does not tell
    area: float = 0.0
    force: float = 0.0
    bore: float = 0.625 * INCH
    length: float = 6.0


@dataclass
class Truck:
    """One truck as its file says, the truth about it, and one fault."""

    rng: np.random.Generator
    sensing: bool
    closed: bool
    works: dict[str, Work]
    displacement: float
    pump_volumetric: float
    pump_mechanical: float
    ratio: float
    engine: float
    margin: float
    compensator: float
    standby: float
    relief: float
    port_relief: float
    drop: float
    grade: float
    oil: float
    setting: dict[str, float]
    drained: bool
    coil_known: bool
    sized: dict[str, float] = field(default_factory=dict)
    fault: str = ""
    size: float = 0.0
    quirks: dict[str, float] = field(default_factory=dict)
    bias: dict[str, float] = field(default_factory=dict)

    def can(self, fault: str) -> bool:
        """Whether this truck can have a fault."""
        needs = {
            "ls line": self.sensing, "margin": self.sensing, "compensator": self.sensing,
            "shuttle": self.sensing, "sensor": self.closed, "port relief": self.port_relief > 0,
        }  # fmt: skip
        return needs.get(fault, True)

    @property
    def group(self) -> str:
        """What has to be repaired."""
        return FAULTS[self.fault][0]


def draw(rng: np.random.Generator) -> Truck:
    """A sound truck: its file's values and what truly is."""
    u = rng.uniform
    sensing = bool(rng.random() < 0.6)
    closed = bool(sensing and rng.random() < 0.4)
    auger_size = u(12.0, 28.0) * IN3REV
    auger = Work(
        "auger", u(9.0, 14.0) * GPM, u(0.2, 0.35), auger_size, u(0.91, 0.955), u(0.84, 0.9),
        constant=u(500, 1000) * PSI * auger_size * 0.87, low=u(0.02, 0.04),
        line=u(8, 35) * PSI, hidden=u(0, 40) * PSI, bore=0.75 * INCH, length=u(4.0, 9.0),
    )  # fmt: skip
    auger.linear = u(0.0, 0.25) * auger.constant
    spinner = Work(
        "spinner", u(8.0, 11.0) * GPM, u(0.2, 0.35), u(3.5, 5.5) * IN3REV, u(0.9, 0.95),
        u(0.82, 0.88), constant=u(80, 150) * INLB, linear=u(100, 200) * INLB, at=350 * RPM,
        line=u(10, 40) * PSI, hidden=u(0, 40) * PSI, length=u(4.0, 9.0),
    )  # fmt: skip
    bore = u(2.5, 3.5) * INCH
    plow = Work("plow", u(7, 9) * GPM, 0.25, area=pi / 4 * bore**2)
    plow.force = u(0.35, 0.6) * 2000 * PSI * plow.area
    works = {w.name: w for w in (auger, spinner, plow)}
    for work in (auger, spinner):
        work.low = work.deadband + u(0.04, 0.1)
        work.high = u(0.68, 0.85)
    setting = {"auger": u(0.55, 1.0), "spinner": u(0.5, 0.9)}
    engine = u(1200, 1450) * RPM
    ratio = 1.0 if sensing else u(0.9, 1.3)
    wanted = sum(
        works[n].rated_flow * (works[n].low + s * (works[n].high - works[n].low)
                               - works[n].deadband) / (1 - works[n].deadband)
        for n, s in setting.items()
    )  # fmt: skip
    truck = Truck(
        rng, sensing, closed, works,
        displacement=wanted * u(1.08, 1.5) / (engine * ratio),
        pump_volumetric=u(0.91, 0.96), pump_mechanical=u(0.87, 0.93), ratio=ratio, engine=engine,
        margin=u(250, 380) * PSI, compensator=u(2300, 2900) * PSI, standby=u(300, 420) * PSI,
        relief=u(2700, 3200) * PSI if sensing else u(1800, 2400) * PSI,
        port_relief=u(1700, 2200) * PSI if rng.random() < 0.3 else 0.0,
        drop=u(100, 180) * PSI, grade=float(rng.choice([32e-6, 46e-6])), oil=u(310, 322),
        setting=setting, drained=bool(rng.random() < 0.4), coil_known=bool(rng.random() < 0.7),
    )  # fmt: skip
    if sensing:
        truck.relief = max(truck.relief, truck.compensator * 1.12)
        truck.margin = max(truck.margin, truck.drop + 100 * PSI)
    n = rng.normal
    truck.sized = {  # truth over file
        "pump": 1 + 0.015 * n(), "motor": 1 + 0.012 * n(), "load": float(np.exp(0.15 * n())),
        "spinner load": float(np.exp(0.15 * n())), "flow": 1 + 0.03 * n(),
        "line": float(np.exp(0.3 * n())),
        "nu": float(np.exp(0.1 * n())), "margin": 1 + 0.05 * n(), "relief": 1 + 0.025 * n(),
        "compensator": 1 + 0.02 * n(), "slip": float(np.exp(0.25 * n())),
        "motor slip": float(np.exp(0.25 * n())),
        "deadband": 1 + 0.03 * n(), "engine": 1 + 0.01 * n(), "ratio": 1 + 0.003 * n(),
    }  # fmt: skip
    truck.quirks = {
        "pump p": u(0.9, 1.25), "pump nu": u(0.2, 0.8),
        "motor p": u(0.85, 1.25), "motor nu": u(0.2, 0.8),
        "line": u(1.2, 1.9), "low speed": u(0.0, 0.15), "droop": u(0.0, 0.04), "knee": u(6, 20),
        "wear p": u(0.55, 1.0), "shape": u(0.93, 1.1), "common": u(20, 80) * PSI,
    }  # fmt: skip
    truck.bias = {
        "gauge": 1 + 0.012 * n(), "tachometer": 1 + 0.004 * n(), "flow meter": 1 + 0.02 * n(),
        "bucket": 1 + 0.02 * n(), "multimeter": 1 + 0.008 * n(), "thermometer": 1.5 * n(),
    }  # fmt: skip
    return truck


SIZES: dict[str, tuple[float, float]] = {
    "engine": (0.08, 0.5), "ratio": (0.1, 0.5), "pump": (0.1, 0.8), "ls line": (0.2, 1.0),
    "margin": (0.3, 0.95), "compensator": (0.2, 0.9), "relief": (0.2, 0.95),
    "port relief": (0.2, 0.95), "spool": (0.12, 0.95), "coil": (0.15, 0.75), "voltage": (0.2, 0.65),
    "trim": (0.12, 0.8), "motor": (0.06, 0.9), "motor size": (1.2, 2.0), "drag": (0.5, 5.0),
    "jam": (1.5, 6.0), "supply hose": (0.3, 1.0), "return hose": (0.3, 1.0),
    "pressure line": (0.3, 1.0), "return filter": (0.3, 1.0), "shuttle": (0.3, 1.0),
    "suction": (0.15, 0.7), "air": (0.1, 0.6), "cold oil": (15, 50), "hot oil": (15, 50),
    "thin oil": (1.5, 4.0), "other": (0.15, 0.9), "sensor": (0.18, 0.5), "tachometer": (0.08, 0.45),
}  # fmt: skip


def ill(rng: np.random.Generator) -> Truck:
    """A truck with a fault that slows its auger by at least 15 %."""
    names = list(FAULTS)
    share = np.array([w for _, w in FAULTS.values()])
    while True:
        truck = draw(rng)
        sound = solve(truck, usual(truck)).speed["auger"]
        if sound < 5 * RPM:
            continue
        for _ in range(4):
            fault = names[int(rng.choice(len(names), p=share / share.sum()))]
            if not truck.can(fault):
                continue
            for _ in range(6):
                low, high = SIZES[fault]
                truck.fault, truck.size = fault, float(rng.uniform(low, high))
                seen = usual(truck)
                if solve(truck, seen).speed["auger"] <= SLOWED * sound:
                    return truck
            truck.fault, truck.size = "", 0.0


@dataclass
class Seen:
    """Conditions of a reading: commands by function with whether they were given as such.

    engine: as the tachometer shows it, None for the usual; oil: K, None for the usual
    """

    engine: float | None
    oil: float | None
    commands: dict[str, tuple[float, bool]]
    speed: float = 0.0  # that a closed loop orders
    stop: tuple[str, ...] = ()
    test: str = ""


def usual(truck: Truck) -> Seen:
    """The state in which the auger is found slow."""
    commands = {
        n: (truck.works[n].low + s * (truck.works[n].high - truck.works[n].low), False)
        for n, s in truck.setting.items()
    }
    return Seen(None, None, commands, ordered(truck) if truck.closed else 0.0)


def ordered(truck: Truck) -> float:
    """Speed that a closed loop orders: what the file's values give at the setting."""
    work = truck.works["auger"]
    command = work.low + truck.setting["auger"] * (work.high - work.low)
    flow = work.rated_flow * (command - work.deadband) / (1 - work.deadband)
    return 0.9 * flow / work.displacement


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
            flow = self._curve(work, _soft(command, reach, t.quirks["knee"]), own)
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

    def _signal(self, flows: dict[str, float], back: float) -> float:
        t = self.t
        loads = {}
        for name, flow in flows.items():
            port = self._climb(t.works[name], flow)[0] + back if flow > 0 else 0.0
            if name in self.seen.stop or (name == "auger" and self._load(t.works[name], 0) >= 1e9):
                port = 1e9
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
            held = min(compensator, max(t.standby, self._signal(flows, back) + margin))
            return held - p

        def spare(p: float) -> float:
            flows, _, _ = self._demand(p)
            return self._pump(p) - self._over(p) - sum(flows.values())

        p = _bisect(wish, 0.0, compensator, 18)
        if spare(p) < 0:
            p = _bisect(spare, 0.0, p, 18)
        flows, _, back = self._demand(p)
        delivered = sum(flows.values()) + self._over(p)
        return self._result(p, flows, back, delivered, min(self._signal(flows, back), 1e9))

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
                port = self._climb(work, flow)[0] + back + t.drop if flow > 0 else 0.0
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


def _soft(command: float, reach: float, knee: float) -> float:
    """A command limited by a coil, with a soft knee."""
    if reach >= 1.0:
        return command
    a, b = command / reach, 1.0
    return float(reach * (a**-knee + b**-knee) ** (-1 / knee)) if a > 0 else 0.0


def read(truck: Truck, key: str, function: str, seen: Seen, instrument: str) -> float | str:
    """What a mechanic reads: the truth through a biased instrument, or a word."""
    rng, state = truck.rng, solve(truck, seen)
    bias = truck.bias.get(instrument, 1.0)

    def number(value: float, relative: float, least: float) -> float:
        return float(value * bias + rng.normal() * max(relative * abs(value), least))

    if key == "NAME speed":
        speed = state.speed[function]
        if instrument in ("display", "sensor") and function == "auger":
            speed *= 1 + (truck.size if truck.fault == "sensor" else 0.0)
        return max(number(speed, 0.008, 0.2 * RPM), 0.0)
    simple: dict[str, tuple[float, float, float]] = {
        "pump pressure": (state.pressure, 0.01, 10 * PSI),
        "LS pressure": (min(state.signal, state.pressure), 0.01, 10 * PSI),
        "NAME pressure": (state.port.get(function, 0.0), 0.01, 10 * PSI),
        "return pressure": (state.back, 0.03, 2 * PSI),
        "inlet vacuum": (state.vacuum, 0.03, 700.0),
        "pump flow": (state.pump_flow, 0.015, 0.1 * GPM),
        "NAME flow": (state.flow.get(function, 0.0), 0.015, 0.05 * GPM),
        "relief flow": (state.relief_flow, 0.02, 0.05 * GPM),
        "case flow": (state.slip, 0.04, 0.02 * GPM),
        "NAME case flow": (state.leak.get(function, 0.0), 0.04, 0.02 * GPM),
        "pump speed": (
            state.engine * truck.ratio * (1 - (truck.size if truck.fault == "ratio" else 0)),
            0.003, 3 * RPM,
        ),
        "engine speed": (state.engine, 0.003, 4 * RPM),
    }  # fmt: skip
    if key in simple:
        return max(number(*simple[key]), 0.0)
    if key == "oil temperature":
        return float(state.oil + truck.bias["thermometer"] + rng.normal() * 1.2)
    if key in ("NAME command", "NAME holding command"):
        return float(np.clip(state.command.get(function, 0.0) + 0.003 * rng.normal(), 0.0, 1.0))
    if key == "NAME coil current":
        reach = 1.0
        if truck.fault == "coil" and seen.test != "coils swapped":
            reach = 1 - truck.size
        if truck.fault == "voltage":
            reach = min(1.0, 1.35 * (1 - truck.size))
        return number(
            1.5 * _soft(state.command.get(function, 0.0), reach, truck.quirks["knee"]), 0.01, 0.008
        )
    if key == "NAME coil voltage":
        low = truck.size if truck.fault == "voltage" else 0.0
        return number(12.5 * (1 - low), 0.008, 0.08)
    return _word(truck, key, seen, state)


def _word(truck: Truck, key: str, seen: Seen, state: State) -> str:
    rng = truck.rng

    def pick(**chances: float) -> str:
        words = [w.replace("_", " ") for w in chances]
        share = np.array(list(chances.values()))
        return str(rng.choice(words, p=share / share.sum()))

    def sound(other: Seen) -> float:
        fault, truck.fault = truck.fault, ""
        speed = solve(truck, other).speed["auger"]
        truck.fault = fault
        return speed

    def share(other: Seen) -> float:
        return solve(truck, other).speed["auger"] / max(sound(other), 1e-6)

    if key == "noise":
        if truck.fault == "suction":
            return pick(none=0.2, steady=0.7, erratic=0.1)
        if truck.fault == "air":
            return pick(none=0.2, steady=0.2, erratic=0.6)
        if truck.fault in ("relief", "pump", "cold oil"):
            return pick(none=0.55, steady=0.38, erratic=0.07)
        return pick(none=0.82, steady=0.12, erratic=0.06)
    if key == "oil look":
        return (
            pick(clear=0.35, foam=0.6, milky=0.05)
            if truck.fault == "air"
            else pick(clear=0.92, foam=0.04, milky=0.02, dark=0.02)
        )
    if key == "oil level":
        return (
            pick(normal=0.45, low=0.45, rises=0.1)
            if truck.fault == "air"
            else pick(normal=0.93, low=0.06, rises=0.01)
        )
    if key == "relief turned up":
        weak = truck.fault == "relief"
        falls = truck.fault == "pump" or (not weak and rng.random() < 0.4)
        return "flow falls away" if falls else "flow stays"
    wrong = rng.random() < 0.06
    if key == "other functions":
        fault, truck.fault = truck.fault, ""
        healthy = solve(truck, seen).speed["spinner"]
        truck.fault = fault
        slow = state.speed["spinner"] < 0.9 * healthy
        return "slow" if slow != wrong else "normal"
    if key == "worse with other functions":
        from dataclasses import replace

        alone = replace(seen, commands={"auger": seen.commands["auger"]})
        yes = share(alone) - share(seen) > 0.1
        return "yes" if yes != wrong else "no"
    from dataclasses import replace

    if key == "worse with oil":
        ends = [replace(seen, oil=truck.oil - 30), replace(seen, oil=truck.oil + 20)]
        names = ("cold", "hot")
    else:
        ends = [replace(seen, engine=700 * RPM), replace(seen, engine=truck.engine * 1.5)]
        names = ("low", "high")
    first, second = (share(end) for end in ends)
    if wrong or abs(first - second) < 0.08:
        return "no difference"
    return names[0] if first < second else names[1]
