"""How long a breakaway boost must last to start a standing shaft, and when it lasts too long.

    needed = coil (3 L / R) + spool + filling: V / (B k) ln(q / (q - k p)) to breakaway pressure p

q is the flow of the minimum trim with the boost, k the slip of the standing motor, V the oil in the
supply hose and half of the motor, B the modulus of oil with some air in a hose. Once the shaft
turns, the rest of the boost drives it faster than its minimum: too long is a boost that lasts one
turn of the shaft beyond the need. Left out: inertia of shaft and load, the pump's own response and
the line from it, and how the driver ramps its command.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Truck
from hydrocheck.physics import rise
from hydrocheck.solver import Points
from hydrocheck.studies.commands import flow_of, speed_at_flow, starting_flow
from hydrocheck.studies.conditions import oil_temperatures
from hydrocheck.studies.starting import needed_drops

SPOOL = 0.1
"""Time of a spool to follow its coil [s]: common practice, some hundredths to two tenths."""
MODULUS = 5e8
"""Effective bulk modulus of oil with some air in a rubber hose [Pa] (from memory, 0.3 to 1 GPa)."""

FORMULA = "coil 3 L/R + spool 0.1 s + V / (B k) ln(q / (q - k p)), B = 0.5 GPa"
SOURCE = "first-order coil and filling; spool: common practice; B of oil in a hose: from memory"


@dataclass(frozen=True)
class BoostTime:
    """What a boost's duration is compared with.

    coil, spool, filling: parts of the need [s]; filling is inf where the boost is too small
    turn: time of one turn of the load shaft while the boost lasts [s]
    speed: of the load shaft then [rad/s]; oil_temperature: hottest, where slip is greatest [K]
    pressure: that breaks the load away [Pa]; volume: that it compresses [m3]
    """

    coil: float
    spool: float
    filling: float
    turn: float
    speed: float
    oil_temperature: float
    pressure: float
    volume: float

    @property
    def needed(self) -> float:
        """Least duration [s]."""
        return self.coil + self.spool + self.filling

    @property
    def longest(self) -> float:
        """Duration beyond which the boost lasts longer than it helps [s]."""
        return self.needed + self.turn


def boost_time(truck: Truck, function: Function, command: float) -> BoostTime:
    """What a boost must outlast; command: the minimum trim with the boost [1].

    Raises MissingValue.
    """
    coil = function.section.coil
    keys = ("resistance", "inductance")
    missing = [f"{function.name}.section.coil.{k}" for k in keys if getattr(coil, k, None) is None]
    volume, lacks = _volume(truck, function)
    if missing or lacks or coil is None:
        raise MissingValue([*missing, *lacks])
    oil = float(oil_temperatures(truck, "hot" if truck.oil.hot is not None else "working")[0])
    points = Points.of(truck, np.zeros(1), np.array([oil]))
    flow = float(flow_of(function, min(command, 1.0)))
    drops = needed_drops(truck, function, points)
    pressure = float(drops.max() if function.motors_in == "parallel" else drops.sum())
    slip = float(starting_flow(truck, function, points)[0]) / pressure if pressure > 0 else 0.0
    speed = float(speed_at_flow(truck, function, flow, points)[0])
    return BoostTime(
        coil=float(
            rise.current_rise_time(float(coil.resistance or 0.0), float(coil.inductance or 0.0))
        ),
        spool=SPOOL,
        filling=float(rise.pressure_rise_time(volume, MODULUS, flow, slip, pressure)),
        turn=2.0 * np.pi / speed if speed > 0 else np.inf,
        speed=speed,
        oil_temperature=oil,
        pressure=pressure,
        volume=volume,
    )


def _volume(truck: Truck, function: Function) -> tuple[float, list[str]]:
    """Oil from the section into the motors [m3], and what lacks."""
    lines = [x for x in truck.lines if x.carries == "work supply" and x.of == function.name]
    lacks = [f"{function.name}.motor.displacement" for m in function.motor if not m.displacement]
    if not lines:
        lacks.append(f"a line of role 'work supply' of {function.name}")
    volume = sum(np.pi * float(m.displacement or 0.0) for m in function.motor)  # half a turn's
    for line in lines:
        missing = [f"lines.{line.name}.{k}" for k in ("bore", "length") if not getattr(line, k)]
        lacks += missing
        volume += np.pi / 4.0 * float(line.bore or 0.0) ** 2 * float(line.length or 0.0)
    return float(volume), lacks
