"""Needs -> truck of one circuit type and pressure level, with its sizes still to be put in.

What does not trade against anything is set here by rule: pressure settings from the level, section
drops, filter. Each rule's source stands beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from hydrocheck.advice.sizing_parts import Machine, machines, next_cylinder_bore, step_down
from hydrocheck.errors import DomainError
from hydrocheck.model.circuit import Bank, Function, FunctionLimits, Relief
from hydrocheck.model.engine import Drive, Engine, Reservoir
from hydrocheck.model.lines import Filter, Line
from hydrocheck.model.machines import Cylinder, Load, Motor, Pump
from hydrocheck.model.needs import NeededFunction, Needs
from hydrocheck.model.shelf import ShelfPart
from hydrocheck.model.truck import Scenario, Task, Truck
from hydrocheck.model.valves import Section
from hydrocheck.physics import heat, loads, valves
from hydrocheck.solver import Points
from hydrocheck.solver.needs import Needs as Requires
from hydrocheck.solver.stages import load_torques
from hydrocheck.units import parse

Array = NDArray[np.float64]
Supply = Literal["load sensing", "constant pressure", "fixed"]

PSI = parse("1 psi", "pressure")
LITRE_A_MINUTE = parse("1 L/min", "flow")

STEP = 25.0 * PSI
"""Pressure settings are whole multiples of this (ours)."""
SECTION_DROP: Mapping[str, float] = {
    "load sensing": 150.0 * PSI,
    "constant pressure": 150.0 * PSI,
    "fixed": 100.0 * PSI,
}
"""Drop of a section at its rated flow (ours, common practice)."""
NEUTRAL_DROP = 60.0 * PSI
"""Drop of an open centre at the pump's flow at the high end of the working band (ours)."""
LEAST_MARGIN = 250.0 * PSI
"""Source: Hydraulic Systems for Mobile Equipment, 2017, p. 421: example of 250 psi."""
STANDBY_OVER_MARGIN = 50.0 * PSI
"""Standby stands above the margin, so that the two can be told apart (the same page; ours)."""
DEADBAND = 0.30
"""Share of command that opens nothing: 15-55 % (published); a measured minimum trim replaces it."""
MAIN_LOSS, SUCTION_LOSS = 2.0, 1.1
"""Sum of K values: a few bends; entrance and one swept bend (ours)."""
TRIM_ROOM = 1.03
"""The section's maximum trim passes this share of the greatest demand (ours)."""
CYLINDER_SHARE = 0.8
"""Share of the working pressure that a cylinder's load may take, lines and section aside (ours)."""


@dataclass(frozen=True)
class Frame:
    """One circuit type at one pressure level.

    truck: complete but for the sizes; level: pressure rating of its parts [Pa]
    pumps: on offer; motors: on offer, by function; ratios: drive ratios on offer
    """

    needs: Needs
    supply: Supply
    level: float
    truck: Truck
    ratios: tuple[float, ...]
    pumps: tuple[Machine, ...]
    motors: Mapping[str, tuple[Machine, ...]]

    @property
    def shape(self) -> tuple[int, ...]:
        """Number of choices by axis: ratio, pump, then each function's motor."""
        return (len(self.ratios), len(self.pumps), *(len(m) for m in self.motors.values()))

    @property
    def priced(self) -> bool:
        """Whether every part on offer has a price."""
        parts = [*self.pumps, *(m for options in self.motors.values() for m in options)]
        return all(np.isfinite(m.price) for m in parts)

    @property
    def size(self) -> int:
        """Number of combinations."""
        return int(np.prod(self.shape, dtype=np.int64))

    @property
    def cracking(self) -> float:
        """Pressure at which the main relief opens [Pa]."""
        relief = self.truck.relief[0]
        return float(valves.relief_cracking(float(relief.setting or 0.0), relief.type))

    @property
    def highest(self) -> float:
        """Compensator, or setting of the main relief of a fixed pump [Pa]."""
        pump = self.truck.pump[0]
        value = self.truck.relief[0].setting if self.supply == "fixed" else pump.compensator
        assert value is not None
        return float(value)

    @property
    def working(self) -> float:
        """Highest pressure at the pump that work may need [Pa]."""
        if self.supply == "fixed":
            return self.cracking - float(self.needs.limits.relief_reserve)
        return self.highest


def frames(needs: Needs, shelf: tuple[ShelfPart, ...] | None = None) -> list[Frame]:
    """Every circuit type and pressure level on offer. Raises DomainError where parts lack."""
    supplies: list[Supply] = ["load sensing", "constant pressure", "fixed"]
    chosen = [s for s in supplies if needs.pump.type in ("any", s)]
    found, lacking = [], set()
    for supply in chosen:
        for level in sorted(needs.pump.pressures):
            frame = _frame(needs, supply, level, shelf)
            if frame.size:
                found.append(frame)
            else:
                lacking |= {"a pump"} if not frame.pumps else set()
                lacking |= {f"a motor for {n}" for n, m in frame.motors.items() if not m}
    if not found:
        raise DomainError(f"nothing on the shelf fits: it lacks {', '.join(sorted(lacking))}")
    return found


def _frame(
    needs: Needs, supply: Supply, level: float, shelf: tuple[ShelfPart, ...] | None
) -> Frame:
    build = "gear pump" if supply == "fixed" else "piston pump"
    pumps = machines(build, needs.pump.displacements, shelf)
    motors = {
        f.name: machines(f"{f.motor_build} motor", f.displacements, shelf)
        for f in needs.function
        if f.turns
    }
    ratios = tuple(sorted(needs.engine.drive.ratios)) or (1.0,)
    return Frame(needs, supply, level, _truck(needs, supply, level), ratios, pumps, motors)


def _truck(needs: Needs, supply: Supply, level: float) -> Truck:
    setting = step_down(level, STEP)
    cracking = float(valves.relief_cracking(setting, "pilot"))
    compensator = step_down(cracking - float(needs.limits.compensator_gap), STEP)
    if compensator <= 2.0 * LEAST_MARGIN:
        raise DomainError("pump.pressures: too low for any work")
    controlled = supply != "fixed"
    names = tuple(f.name for f in needs.function)
    pump = Pump(
        name="pump",
        type=supply,
        build="piston" if controlled else "gear",
        feeds=("bank",),
        compensator=compensator if controlled else None,
        max_pressure=level,
        min_inlet=parse("0.8 bar abs" if controlled else "0.7 bar abs", "absolute_pressure"),
    )
    bank = Bank(
        name="bank",
        type="parallel" if controlled else "open centre",
        section_drop=SECTION_DROP[supply],
        neutral_drop=None if controlled else NEUTRAL_DROP,
        order=() if controlled else names,
        max_pressure=level,
    )
    working = compensator if controlled else cracking - float(needs.limits.relief_reserve)
    return Truck(
        truck=needs.truck,
        engine=_engine(needs),
        oil=needs.oil,
        ambient=needs.ambient,
        pump=(pump,),
        bank=(bank,),
        relief=(Relief(name="main relief", at="pump", of="pump", setting=setting),),
        function=tuple(_function(f, level, working) for f in needs.function),
        lines=_lines(needs, level),
        reservoir=Reservoir(heat_transfer=needs.tank.heat_transfer),
        spreading=needs.spreading,
        scenario=tuple(_scenario(s, needs) for s in needs.scenario),
        limits=needs.limits,
    )


def _engine(needs: Needs) -> Engine:
    engine, drive = needs.engine, needs.engine.drive
    return Engine(
        idle=engine.idle,
        working=engine.working,
        governed=engine.governed,
        overrun=engine.overrun,
        torque_curve=engine.torque_curve,
        gear=engine.gear,
        drive=Drive(
            kind=drive.kind,
            torque_rating=drive.torque_rating,
            power_rating=drive.power_rating,
            duty=drive.duty,
            engaged_to=drive.engaged_to,
        ),
    )


def _function(needed: NeededFunction, level: float, working: float) -> Function:
    motor: tuple[Motor, ...] = ()
    if needed.turns:
        motor = (
            Motor(
                case_drain=needed.case_drain,
                max_pressure=level,
                gearbox_ratio=needed.gearbox_ratio,
                gearbox_efficiency=needed.gearbox_efficiency,
                load=needed.load or _liquid_load(needed),
                load_empty=needed.load_empty,
                disc_radius=needed.disc_radius,
            ),
        )
    return Function(
        name=needed.name,
        kind=needed.kind,
        bank="bank",
        section=Section(deadband=DEADBAND),
        motor=motor,
        cylinder=None if needed.cylinder is None else _cylinder(needed.cylinder, level, working),
        flow=needed.flow,
        pressure=needed.pressure,
        limits=FunctionLimits(max_speed=needed.max_speed),
        loop=needed.loop,
        max_pressure=level,
    )


def _liquid_load(needed: NeededFunction) -> Load | None:
    """Torque of a liquid pump: its pressure on its displacement, by its efficiencies.

    T = D p eta_v / eta, from Q = D n eta_v and P = Q p / eta
    """
    duty = needed.liquid
    if duty is None:
        return None
    torque = duty.displacement * duty.pressure * duty.volumetric_efficiency / duty.efficiency
    return Load(constant=torque, breakaway=duty.breakaway)


def _scenario(scenario: Scenario, needs: Needs) -> Scenario:
    """A scenario with the shaft speeds that its flows of liquid ask; n = Q / (D eta_v)."""
    duties = {f.name: f.liquid for f in needs.function if f.liquid is not None}

    def turned(task: Task) -> Task:
        duty = duties.get(task.name)
        if duty is None or task.flow is None:
            return task
        speed = float(task.flow) / (duty.displacement * duty.volumetric_efficiency)
        return replace(task, flow=None, speed=speed)

    return replace(scenario, run=tuple(turned(t) for t in scenario.run))


def cylinder_bore(cylinder: Cylinder, working: float) -> float:
    """Bore that carries a cylinder's load with `CYLINDER_SHARE` of a working pressure [m].

    working: highest pressure at the pump that work may need [Pa]
    """
    force = float(cylinder.extend_load or 0.0) / float(cylinder.efficiency)
    return float(loads.bore_for_load(force, CYLINDER_SHARE * working, cylinder.count))


def _cylinder(cylinder: Cylinder, level: float, working: float) -> Cylinder:
    """A cylinder with its bore: as given, or the next preferred one for its load."""
    rated = cylinder.max_pressure if cylinder.max_pressure is not None else level
    if cylinder.bore is not None:
        return replace(cylinder, max_pressure=rated)
    # A rod takes half of the piston's area at most.
    stout = float(cylinder.rod or 0.0) * 2.0**0.5
    bore = next_cylinder_bore(max(cylinder_bore(cylinder, working), stout))
    if not np.isfinite(bore):
        raise DomainError("no preferred cylinder bore carries the load; give more cylinders")
    return replace(cylinder, bore=bore, max_pressure=rated)


def _lines(needs: Needs, level: float) -> tuple[Line, ...]:
    main = needs.lines
    found = [
        Line(
            name="suction", of="pump", kind="hose", length=main.suction,
            loss_factor=SUCTION_LOSS, head=main.head,
        ),
        Line(
            name="pressure", of="pump", kind="hose", length=main.pressure,
            loss_factor=MAIN_LOSS, max_pressure=level,
        ),
        Line(
            name="return", kind="hose", length=main.back, loss_factor=MAIN_LOSS,
            filter=Filter(
                rated_flow=LITRE_A_MINUTE,
                rated_drop=parse("6 psi", "pressure_drop"),
                bypass_cracking=parse("25 psi", "pressure_drop"),
                bypass_full=parse("40 psi", "pressure_drop"),
                fineness=parse("10 micron", "particle_size"),
            ),
        ),
    ]  # fmt: skip
    for f in needs.function:
        for role in ("supply", "return"):
            if role == "return" and f.cylinder is not None and f.cylinder.acting == "single":
                continue
            found.append(
                Line(
                    name=f"{f.name} {role}", role=f"work {role}", of=f.name, kind="hose",
                    length=f.line, loss_factor=f.loss_factor,
                    max_pressure=level if role == "supply" else None,
                )
            )  # fmt: skip
    return tuple(found)


def swing(truck: Truck) -> float:
    """Oil that all cylinders take when they are out [m3]: a double-acting one its rod's."""
    total = 0.0
    for function in truck.function:
        part = function.cylinder
        if part is not None:
            across = part.bore if part.acting == "single" else part.rod
            total += float(heat.swing_volume(across or 0.0, part.stroke or 0.0, part.count))
    return total


def torques(frame: Frame, name: str, thrown: float) -> tuple[float, float, float]:
    """Load at a motor's own shaft, hopper full: T0 [N m], T1 [N m s], T2 [N m s2].

    thrown: mass flow that a spinner throws [kg/s]
    """
    truck = frame.truck
    motor = truck.function_named(name).motor[0]
    point = Points.of(truck, np.zeros(1), np.array([300.0]))
    needs = Requires()
    load = load_torques(motor, f"{name}.motor", point, np.array([thrown]), needs)
    needs.settle()
    return float(load["load0"][0]), float(load["load1"][0]), float(load["load2"][0])


MACHINE_PATHS: Mapping[str, str] = {
    "displacement": "displacement",
    "rated_speed": "rated_speed",
    "rated_pressure": "rated_pressure",
    "volumetric": "volumetric_efficiency",
    "hydromechanical": "hydromechanical_efficiency",
    "min_speed": "min_speed",
    "max_speed": "max_speed",
}


def machine_values(options: tuple[Machine, ...], pick: NDArray[np.intp]) -> dict[str, Array]:
    """Values of the picked machines by the truck file's keys, (K,) each."""
    return {
        key: np.array([getattr(m, attribute) for m in options])[pick]
        for attribute, key in MACHINE_PATHS.items()
    }


def put(truck: Truck, values: Mapping[str, Array | float]) -> Truck:
    """A truck with many values replaced by their paths; equal columns become floats."""
    for path, value in values.items():
        array = np.asarray(value, dtype=np.float64)
        single = array.ndim == 0 or (array.size > 0 and bool((array == array.flat[0]).all()))
        truck = truck.vary(path, float(array.flat[0]) if single else array)
    return truck
