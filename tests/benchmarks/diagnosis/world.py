"""Synthetic trucks with one known fault, for the blind trial. Imports numpy and nothing of ours.

Its physics is its own and differs from the toolkit's on purpose: leakage with other exponents of
pressure and viscosity, friction that rises at low speed, lines by one power law plus fittings that
the truck file does not tell, restrictions as orifices, a suction that caps the flow, sections that
droop, a coil with a soft knee, instruments with a bias of their own, people who mishear. The fault
mix is drawn here and not from the priors of the diagnosis.

Seed, fault mix and laws were fixed before the trial was first run. Defects were put right after
looks at trucks beyond the scored ones: a closed loop that does not reach its speed shows its
maximum trim, on the display and as coil current, not the command of the flow that it gets; on an
open centre the pump sees no more of a port than its port relief lets stand; no port hands the LS
line more than the pump's own pressure; a wrong tachometer shows on the dash, not on a second one.

Everything is SI inside; a truck tells its file as text.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from world_physics import State, soft, solve  # beside this file
from world_trucks import (
    FAULTS,
    GPM,
    IN3REV,
    INCH,
    INLB,
    PSI,
    RPM,
    SIZES,
    Seen,
    Truck,
    draw,
    ordered,
    usual,
)

SLOWED = 0.85
"""A fault counts if the auger turns no faster than this share of the sound truck's speed."""


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
        "LS margin": (max(state.pressure - state.signal, 0.0), 0.01, 14 * PSI),
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
        "engine speed": (_engine(truck, state, instrument), 0.003, 4 * RPM),
    }  # fmt: skip
    if key in simple:
        return max(number(*simple[key]), 0.0)
    if key == "oil temperature":
        return float(state.oil + truck.bias["thermometer"] + rng.normal() * 1.2)
    if key in ("NAME command", "NAME holding command"):
        command = _displayed(truck, function, seen, state)
        return float(np.clip(command + 0.003 * rng.normal(), 0.0, 1.0))
    if key == "NAME coil current":
        reach = 1.0
        if truck.fault == "coil" and seen.test != "coils swapped":
            reach = 1 - truck.size
        if truck.fault == "voltage":
            reach = min(1.0, 1.35 * (1 - truck.size))
        return number(
            1.5 * soft(_displayed(truck, function, seen, state), reach, truck.quirks["knee"]),
            0.01,
            0.008,
        )
    if key == "NAME coil voltage":
        low = truck.size if truck.fault == "voltage" else 0.0
        return number(12.5 * (1 - low), 0.008, 0.08)
    return _word(truck, key, seen, state)


def _engine(truck: Truck, state: State, instrument: str) -> float:
    """Engine speed, or what the dash makes of it."""
    wrong = truck.fault == "tachometer" and instrument == "display"
    return state.engine / (1 - truck.size) if wrong else state.engine


def _displayed(truck: Truck, function: str, seen: Seen, state: State) -> float:
    """Command that the controller gives: a loop short of its speed runs up to its maximum trim."""
    command = state.command.get(function, 0.0)
    loop = truck.closed and seen.speed > 0 and seen.test != "manual override"
    if loop and function == "auger":
        shown = state.speed[function] * (1 + (truck.size if truck.fault == "sensor" else 0.0))
        if shown < 0.98 * seen.speed:
            command = truck.works[function].high
    return command


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
        alone = replace(seen, commands={"auger": seen.commands["auger"]})
        yes = share(alone) - share(seen) > 0.1
        return "yes" if yes != wrong else "no"
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


__all__ = ["GPM", "IN3REV", "INCH", "INLB", "PSI", "RPM", "Seen", "Truck", "ill", "ordered", "read"]
