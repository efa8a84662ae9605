"""Random circuits whose every number is an array, and single points taken out of them."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np

from hydrocheck.model.circuit import (
    Bank,
    Circuit,
    Coupling,
    Cylinder,
    Drive,
    Engine,
    Filter,
    Function,
    Line,
    Load,
    Motor,
    Oil,
    Pump,
    Relief,
    Section,
    ViscosityPoint,
)
from hydrocheck.solver import Points, solved_functions

SUPPLIES = (
    ("parallel", "fixed"),
    ("parallel", "load sensing"),
    ("parallel", "constant pressure"),
    ("open centre", "fixed"),
    ("flow sharing", "fixed"),
    ("flow sharing", "load sensing"),
    ("plain parallel", "fixed"),
    ("plain parallel", "load sensing"),
    ("plain parallel", "constant pressure"),
    ("priority valve", "fixed"),
    ("priority valve", "load sensing"),
    ("priority valve", "constant pressure"),
    ("gear divider", "fixed"),
)
BASIC = SUPPLIES[:4]
"""What most trucks have; the rest take longer to solve."""
UNCAPPED = ("plain parallel", "gear divider")
"""Banks whose functions may get more than they ask for."""
WARM = 313.15


class Draw:
    """Random numbers of shape (size,)."""

    def __init__(self, rng: np.random.Generator, size: int) -> None:
        self.rng, self.size = rng, size

    def even(self, low: float, high: float) -> Any:
        return self.rng.uniform(low, high, self.size)

    def log(self, low: float, high: float) -> Any:
        return np.exp(self.rng.uniform(np.log(low), np.log(high), self.size))

    def often(self, share: float) -> Any:
        """True in a share of the points."""
        return self.rng.random(self.size) < share

    def once(self, share: float) -> bool:
        """True in a share of the circuits."""
        return bool(self.rng.random() < share)

    def choose(self, share: float, special: float, value: Any) -> Any:
        """The special value in a share of the points."""
        return np.where(self.often(share), special, value)


def random_case(
    rng: np.random.Generator, size: int, kind: str, supply: str, hard: bool = True
) -> tuple[Circuit, Points]:
    """A circuit of one pump and one bank with 0 to 4 functions, and its points.

    hard: with numbers far outside what a truck has, and lines that turbulent or thick oil blocks
    """
    draw = Draw(rng, size)
    reach = 30.0 if hard else 1.0
    displacement = draw.log(3e-6 / reach, 3e-5 * reach)
    flow = displacement * 200.0
    count = int(rng.integers(1 if kind == "gear divider" else 0, 5))
    functions, lines, reliefs = [], [], []
    for i in range(count):
        name = f"f{i}"
        taken = flow * draw.log(0.02, 1.5)
        pressure = draw.log(2e5, 4e7 if hard else 2.5e7)
        functions.append(_function(draw, name, taken, pressure, rng))
        for role in ("work supply", "work return"):
            if draw.once(0.6):
                lines.append(_line(draw, f"{name} {role}", role, name, taken, hard))
        if draw.once(0.3):
            reliefs.append(_relief(draw, f"{name} relief", "port", name, taken, 3e7))
    held_by_margin = (kind, supply) == ("priority valve", "load sensing")
    if draw.once(0.7) and not held_by_margin:
        lines.append(_line(draw, "pressure", "pressure", "pump", flow, hard))
    if draw.once(0.8):
        lines.append(_line(draw, "return", "return", None, flow, hard, strained=True))
    if supply == "fixed" or draw.once(0.4):
        reliefs.append(_relief(draw, "main relief", "pump", "pump", flow, 3e7))
    if draw.once(0.25):
        reliefs.append(_relief(draw, "bank relief", "bank inlet", "bank", flow, 3e7))
    if supply == "load sensing" and draw.once(0.3):
        reliefs.append(_relief(draw, "LS relief", "LS", "pump", flow, 3e7))
    to_tank = kind == "open centre"
    if kind in ("priority valve", "gear divider"):
        to_tank = supply == "fixed" and draw.once(0.5)
    viscosity = draw.log(5e-6, 2e-2) if hard else draw.log(8e-6, 5e-4)
    circuit = Circuit(
        engine=Engine(drive=Drive(ratio=draw.even(0.7, 1.4))),
        oil=Oil(
            point=(
                ViscosityPoint(temperature=WARM, viscosity=viscosity),
                ViscosityPoint(temperature=WARM + 60.0, viscosity=0.2 * viscosity),
            ),
            density=draw.even(800.0, 950.0),
        ),
        pump=(_pump(draw, supply, displacement),),
        bank=(
            Bank(
                name="bank",
                type=kind,
                section_drop=draw.log(3e5, 5e5 if held_by_margin else 2e6),
                neutral_flow=flow if to_tank else None,
                neutral_drop=draw.choose(0.2, 0.0, draw.log(1e5, 2e6)) if to_tank else None,
                order=tuple(f"f{i}" for i in rng.permutation(count)),
                shares=tuple(rng.uniform(0.1, 1.0, count)) if kind == "gear divider" else (),
            ),
        ),
        function=tuple(functions),
        relief=tuple(reliefs),
        lines=tuple(lines),
    )
    points = random_points(draw, circuit, hard)
    return degraded(draw, circuit), points


FAULTS = {
    "wear": lambda draw: draw.log(0.1, 20.0),
    "air": lambda draw: draw.even(0.0, 0.4),
    "ls_signal": lambda draw: draw.choose(0.3, 0.0, draw.even(0.0, 1.0)),
    "opening": lambda draw: draw.even(0.1, 1.0),
    "command_limit": lambda draw: draw.even(0.3, 1.0),
    "weakness": lambda draw: draw.even(0.0, 0.8),
    "restriction": lambda draw: draw.log(0.5, 30.0),
}


def degraded(draw: Draw, part: Any) -> Any:
    """A circuit, or a part of one, with faults in some of its parts."""
    if isinstance(part, tuple):
        return tuple(degraded(draw, item) for item in part)
    if not dataclasses.is_dataclass(part) or isinstance(part, type):
        return part
    faulty: dict[str, Any] = {}
    for field in dataclasses.fields(part):
        if field.name in FAULTS and field.metadata["spec"].fault:
            if draw.once(0.15):
                faulty[field.name] = FAULTS[field.name](draw)
        else:
            faulty[field.name] = degraded(draw, getattr(part, field.name))
    return dataclasses.replace(part, **faulty)


def random_points(draw: Draw, circuit: Circuit, hard: bool) -> Points:
    """Points of a circuit: standstill, standby, full command, the edge of the deadband."""
    command, retract, thrown, lower, stop = {}, {}, {}, {}, {}
    for function in solved_functions(circuit):
        deadband = function.section.deadband
        just = deadband + (1e-9 if hard else 1e-4)
        edge = np.where(draw.often(0.5), deadband, np.minimum(just, 1.0))
        value = np.where(draw.often(0.1), edge, draw.even(0.0, 1.0))
        command[function.name] = draw.choose(0.2, 0.0, draw.choose(0.1, 1.0, value))
        if function.cylinder is not None:
            way = draw.rng.integers(0, 4, draw.size)
            retract[function.name] = (way == 1) * 1.0
            lower[function.name] = (way == 2) * 1.0
            stop[function.name] = draw.often(0.15) * 1.0
        if function.motor and function.motor[0].disc_radius is not None:
            thrown[function.name] = draw.choose(0.3, 0.0, draw.even(0.0, 20.0))
    return Points.of(
        circuit,
        draw.choose(0.05, 0.0, draw.log(5.0, 300.0)),
        draw.even(WARM - 1.0, WARM + 1.0),
        command=command,
        hopper=draw.choose(0.2, 0.0, draw.even(0.0, 1.0)),
        retract=retract,
        thrown=thrown,
        lower=lower,
        stop=stop,
    )


def _pump(draw: Draw, supply: str, displacement: Any) -> Pump:
    compensator = draw.log(8e6, 3e7)
    return Pump(
        name="pump",
        type=supply,
        feeds=("bank",),
        displacement=displacement,
        derived_displacement=displacement * draw.even(1.0, 1.02) if draw.once(0.2) else None,
        rated_speed=draw.even(100.0, 250.0),
        rated_pressure=draw.even(1e7, 3e7),
        rated_viscosity=draw.log(2e-5, 6e-5),
        volumetric_efficiency=draw.choose(0.2, 1.0, draw.even(0.6, 0.999)),
        hydromechanical_efficiency=draw.even(0.7, 1.0),
        viscous_slip_share=draw.even(0.0, 1.0),
        viscous_torque_share=draw.even(0.0, 1.0),
        margin=draw.log(5e5, 4e6),
        compensator=compensator,
        standby=compensator * draw.even(0.02, 0.3),
        torque_limit=(
            displacement * draw.log(2e6, 3e7) if supply != "fixed" and draw.once(0.4) else None
        ),
    )


def _function(
    draw: Draw, name: str, flow: Any, pressure: Any, rng: np.random.Generator
) -> Function:
    section = Section(
        rated_flow=flow,
        deadband=draw.even(0.0, 0.5),
        full_command=draw.even(0.6, 1.0),
        shape=draw.even(0.7, 2.0),
        lowering_drop=draw.log(1e5, 3e6) if draw.once(0.5) else None,
    )
    way = str(
        rng.choice(["motor", "motor", "series", "parallel", "cylinder", "single", "pressure"])
    )
    if way == "pressure":
        return Function(
            name=name, kind="other", bank="bank", section=section, flow=flow, pressure=pressure
        )
    if way in ("cylinder", "single"):
        bore = np.sqrt(flow / draw.log(0.02, 0.5) * 4.0 / np.pi)
        area = np.pi / 4.0 * bore**2
        rod = bore * draw.choose(0.2, 0.0, draw.even(0.2, 0.8))
        cylinder = Cylinder(
            bore=bore,
            rod=rod,
            acting="double" if way == "cylinder" else "single",
            extend_load=area * pressure,
            retract_load=draw.choose(0.2, 0.0, area * pressure * 0.5),
            lower_load=draw.choose(0.1, 0.0, area * pressure * draw.even(0.1, 0.8)),
            efficiency=draw.even(0.85, 1.0),
        )
        return Function(name=name, kind="cylinder", bank="bank", section=section, cylinder=cylinder)
    count = 1 if way == "motor" else int(rng.integers(2, 4))
    disc = draw.once(0.3)
    if way == "parallel":
        shares = [draw.log(0.3, 1.5) / count for _ in range(count)]
        motors = tuple(
            _motor(draw, f"m{j}", flow * share, pressure * draw.even(0.5, 1.0), disc)
            for j, share in enumerate(shares)
        )
    else:
        motors = tuple(_motor(draw, f"m{j}", flow, pressure / count, disc) for j in range(count))
    return Function(
        name=name,
        kind="other",
        bank="bank",
        section=section,
        motor=motors,
        motors_in="parallel" if way == "parallel" else "series",
    )


def _motor(draw: Draw, name: str, flow: Any, pressure: Any, disc: bool) -> Motor:
    speed = draw.log(5.0, 300.0)
    displacement = flow / speed
    at = speed * draw.even(0.3, 1.5)
    gear = draw.choose(0.5, 1.0, draw.log(0.2, 20.0))
    torque = displacement * pressure * gear
    share = draw.even(0.0, 1.0)

    def load(size: float) -> Load:
        if draw.once(0.15):
            return Load(pressure=pressure * size)
        return Load(
            constant=draw.choose(0.1, 0.0, torque * share * size),
            linear=draw.choose(0.3, 0.0, torque * (1.0 - share) * size) if draw.once(0.7) else None,
            square=draw.choose(0.3, 0.0, torque * share * size) if draw.once(0.5) else None,
            at=at / gear,
        )

    drain = draw.once(0.4)
    return Motor(
        name=name,
        displacement=displacement,
        derived_displacement=displacement * draw.even(0.98, 1.0) if draw.once(0.2) else None,
        rated_speed=speed,
        rated_pressure=draw.even(5e6, 2e7),
        rated_viscosity=draw.log(2e-5, 6e-5),
        volumetric_efficiency=draw.choose(0.2, 1.0, draw.even(0.6, 0.999)),
        hydromechanical_efficiency=draw.choose(0.1, 1.0, draw.even(0.6, 1.0)),
        viscous_slip_share=draw.even(0.0, 1.0),
        viscous_torque_share=draw.even(0.0, 1.0),
        case_drain=drain,
        case_share=draw.even(0.0, 1.0) if drain and draw.once(0.5) else None,
        gearbox_ratio=gear,
        gearbox_efficiency=draw.even(0.8, 1.0),
        load=load(1.0),
        load_empty=load(0.3) if draw.once(0.5) else None,
        disc_radius=draw.even(0.05, 0.4) if disc else None,
    )


def _line(
    draw: Draw, name: str, role: str, of: str | None, flow: Any, hard: bool, strained: bool = False
) -> Line:
    speed = draw.log(0.5, 20.0) if hard else draw.log(0.5, 6.0)
    return Line(
        name=name,
        role=role,
        of=of,
        bore=np.sqrt(flow / speed * 4.0 / np.pi),
        length=draw.choose(0.1, 0.0, draw.log(0.3, 20.0)),
        roughness=draw.choose(0.2, 0.0, draw.log(1e-6, 5e-5)),
        loss_factor=draw.choose(0.3, 0.0, draw.even(0.0, 10.0)),
        coupling=(Coupling(rated_flow=flow, rated_drop=draw.log(1e4, 5e5)),) * draw.once(0.4),
        filter=_filter(draw, flow) if strained and draw.once(0.7) else None,
    )


def _filter(draw: Draw, flow: Any) -> Filter:
    cracking = draw.log(5e4, 3e5) if draw.once(0.7) else None
    return Filter(
        rated_flow=flow,
        rated_drop=draw.log(1e4, 1e5),
        rated_viscosity=draw.log(2e-5, 6e-5),
        bypass_cracking=cracking,
        bypass_full=None if cracking is None else cracking * draw.even(1.2, 2.0),
    )


def _relief(draw: Draw, name: str, at: str, of: str, flow: Any, highest: float) -> Relief:
    setting = draw.log(3e6, highest)
    return Relief(
        name=name,
        at=at,
        of=of,
        type="pilot" if draw.once(0.5) else "direct",
        setting=setting,
        cracking=setting * draw.even(0.7, 0.99) if draw.once(0.3) else None,
        rated_flow=flow * draw.even(0.5, 2.0),
        outlet="return" if draw.once(0.5) else "tank",
    )


def single(part: Any, index: int) -> Any:
    """A circuit, or a part of one, with the numbers of one point."""
    return picked(part, lambda values: float(values[index]))


def some(part: Any, index: Any) -> Any:
    """A circuit, or a part of one, with the numbers of the points at `index`."""
    return picked(part, lambda values: values[index])


def picked(part: Any, pick: Callable[[Any], Any]) -> Any:
    """A circuit, or a part of one, with every array replaced by what is picked of it."""
    if isinstance(part, np.ndarray):
        return pick(part)
    if isinstance(part, tuple):
        return tuple(picked(item, pick) for item in part)
    if dataclasses.is_dataclass(part) and not isinstance(part, type):
        values = {f.name: picked(getattr(part, f.name), pick) for f in dataclasses.fields(part)}
        return dataclasses.replace(part, **values)
    return part
