"""The trucks of the blind trial's world: their files' values, what truly is, one fault each."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi

import numpy as np

RPM = 2 * pi / 60
PSI = 6894.757293168361
GPM = 6.30901964e-5
IN3REV = 1.6387064e-5 / (2 * pi)
INLB = 0.1129848290276167
INCH = 0.0254

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
