"""The parts of the oracle: machines, lines, reliefs and consumers, in plain floats.

Read from the model and derived again. Oil, filters in bypass and lines beyond laminar flow come
from `hydrocheck.physics`, which has tests of its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from scipy.optimize import brentq

from hydrocheck.model.circuit import Circuit, Function, Line, Load, Motor, Pump, Relief
from hydrocheck.physics.lines import drop_and_slope, filter_drop_and_slope

Fluid = tuple[float, float, float]  # kinematic viscosity, density, density of rated points
TRICKLE = 1e-13
CRACKING = {"pilot": 0.95, "direct": 0.85}


@dataclass
class Task:
    """What is asked at the point: engine speed, oil temperature, hopper, and by function name."""

    engine_speed: float
    temperature: float
    hopper: float
    command: dict[str, float]
    retract: dict[str, bool]
    thrown: dict[str, float]
    lower: dict[str, bool]
    stop: dict[str, bool]


def root(law: Callable[[float], float], low: float, high: float) -> float:
    """Root of a monotone law in a bracket; the nearer end where there is none."""
    if high <= low:
        return low
    at_low, at_high = law(low), law(high)
    if at_low == 0.0 or at_low * at_high > 0.0:
        return low if abs(at_low) <= abs(at_high) else high
    return float(
        brentq(law, low, high, xtol=1e-18 * max(abs(low), abs(high)), rtol=8.9e-16, maxiter=400)
    )


def slip_and_torque(part: Pump | Motor, fluid: Fluid) -> tuple[float, float, float, float]:
    """Displacement, slip per pressure, friction and drag torque per speed of a machine."""
    nu, rho, rho_rated = fluid
    nominal = part.displacement
    full = part.derived_displacement or nominal
    theoretical = full * part.rated_speed
    if isinstance(part, Pump):
        rated_slip = theoretical - part.volumetric_efficiency * nominal * part.rated_speed
        lost = 1.0 / part.hydromechanical_efficiency - 1.0
    else:
        rated_slip = nominal * part.rated_speed / part.volumetric_efficiency - theoretical
        lost = 1.0 - part.hydromechanical_efficiency
    at_46, nu_r = part.viscous_slip_share, part.rated_viscosity
    viscous = at_46 * 46e-6 / nu_r / (at_46 * 46e-6 / nu_r + 1.0 - at_46)
    factor = viscous * nu_r / nu + 1.0 - viscous + part.wear * (nu_r / nu) ** 0.25
    slip = max(rated_slip, 0.0) / part.rated_pressure * factor
    rated_torque = full * part.rated_pressure * lost
    drag = (
        part.viscous_torque_share
        * rated_torque
        / part.rated_speed
        * (nu * rho)
        / (nu_r * rho_rated)
    )
    return full, slip, (1.0 - part.viscous_torque_share) * lost, drag


def load_at(load: Load, motor: Motor) -> tuple[float, float, float]:
    """Torques at the load shaft, by power of the speed."""
    if load.pressure is not None:
        torque = motor.displacement * load.pressure * motor.hydromechanical_efficiency
        return torque * motor.gearbox_ratio * motor.gearbox_efficiency, 0.0, 0.0
    at = load.at or 1.0
    return load.constant or 0.0, (load.linear or 0.0) / at, (load.square or 0.0) / at**2


class Machine:
    """A motor, a cylinder or a plain pressure."""

    def __init__(self, **values: float) -> None:
        self.area = values["area"]
        self.leak = values.get("leak", 0.0)
        self.friction = values.get("friction", 0.0)
        self.load = tuple(values.get(f"load{i}", 0.0) for i in range(3))
        self.drag = values.get("drag", 0.0)
        self.back = values.get("back", 1.0)
        self.drained = values.get("drained", 0.0)
        self.gear = values.get("gear", 1.0)

    def run(self, flow: float) -> tuple[float, float]:
        """Speed and own pressure drop at an inlet flow."""
        if flow <= 0.0:
            return 0.0, 0.0
        lever = self.area * (1.0 - self.friction)
        t0, t1, t2 = self.load[0], self.load[1] + self.drag, self.load[2]
        if self.leak * t0 / lever >= flow:
            return 0.0, flow / self.leak
        # leak t2 n^2 + (area lever + leak t1) n = flow lever - leak t0
        a, b, c = self.leak * t2, self.area * lever + self.leak * t1, flow * lever - self.leak * t0
        speed = 2.0 * c / (b + math.sqrt(b * b + 4.0 * a * c))
        return speed, (t0 + t1 * speed + t2 * speed * speed) / lever

    def passed(self, flow: float) -> float:
        """Flow that leaves at the outlet."""
        speed, drop = self.run(flow)
        return self.back * (self.area * speed + (1.0 - self.drained) * self.leak * drop)


class Side:
    """Motors side by side: one drop, the flows add up. From the drop upwards."""

    def __init__(self, motors: list[Machine]) -> None:
        self.motors = motors
        self.leak = sum(m.leak for m in motors)
        self.drained = sum(m.drained * m.leak for m in motors) / (self.leak or 1.0)
        self.back, self.gear = 1.0, motors[0].gear

    def start(self, motor: Machine) -> float:
        return motor.load[0] / (motor.area * (1.0 - motor.friction))

    def speed(self, motor: Machine, beyond: float) -> float:
        """At a pressure beyond its start; inf where it does not rise with speed."""
        lever = motor.area * (1.0 - motor.friction)
        b, a = (motor.load[1] + motor.drag) / lever, motor.load[2] / lever
        if beyond <= 0.0:
            return 0.0
        if a == 0.0:
            return beyond / b if b > 0.0 else math.inf
        return 2.0 * beyond / (b + math.sqrt(b * b + 4.0 * a * beyond))

    def each(self, flow: float) -> tuple[list[float], float]:
        """Speeds and drop."""
        if flow <= 0.0:
            return [0.0 for _ in self.motors], 0.0
        starts = [self.start(m) for m in self.motors]

        def total(base: float, more: float) -> float:
            turned = (m.area * self.speed(m, base - s + more) for m, s in self.paired(starts))
            return sum(turned) + self.leak * (base + more)

        below = [s for s in starts if total(s, 0.0) <= flow]
        if not below:
            return [0.0 for _ in self.motors], flow / self.leak
        base = max(below)
        above = min([s - base for s in starts if s > base], default=math.inf)
        top = above if math.isfinite(above) else 1.0
        while not math.isfinite(above) and total(base, top) < flow:
            top *= 4.0
        flat = [m for m, s in self.paired(starts) if s == base and self.speed(m, 1.0) == math.inf]
        more = 0.0 if flat else root(lambda p: total(base, p) - flow, 0.0, top)
        speeds = [self.speed(m, base - s + more) for m, s in self.paired(starts)]
        if flat:
            place = self.motors.index(flat[0])
            others = sum(m.area * n for m, n in zip(self.motors, speeds, strict=True))
            speeds[place] = (flow - self.leak * base - others) / flat[0].area
        return speeds, base + more

    def paired(self, starts: list[float]) -> list[tuple[Machine, float]]:
        return list(zip(self.motors, starts, strict=True))

    def run(self, flow: float) -> tuple[float, float]:
        """Speed of the first motor, and the drop of all."""
        speeds, drop = self.each(flow)
        return speeds[0], drop

    def passed(self, flow: float) -> float:
        """Flow that leaves at the outlets."""
        return flow - self.drained * self.leak * self.each(flow)[1]


def machines_of(function: Function, task: Task, fluid: Fluid) -> list[Machine | Side]:
    if function.motor:
        motors = [motor_of(m, function, task, fluid) for m in function.motor]
        return [Side(motors)] if function.motors_in == "parallel" and motors[1:] else [*motors]
    if function.cylinder is None:
        return [Machine(area=1.0, load0=function.pressure)]
    c = function.cylinder
    bore_side = c.count * math.pi * c.bore**2 / 4.0
    rod_side = c.count * math.pi * (c.bore**2 - (c.rod or 0.0) ** 2) / 4.0
    if task.stop.get(function.name):
        return [Machine(area=bore_side, load0=1e12 * bore_side)]  # nothing moves it
    if task.retract.get(function.name):
        return [
            Machine(area=rod_side, load0=c.retract_load / c.efficiency, back=bore_side / rod_side)
        ]
    back = rod_side / bore_side if c.acting == "double" else 0.0
    return [Machine(area=bore_side, load0=c.extend_load / c.efficiency, back=back)]


def motor_of(motor: Motor, function: Function, task: Task, fluid: Fluid) -> Machine:
    area, leak, friction, drag = slip_and_torque(motor, fluid)
    loads = load_at(motor.load, motor)
    if motor.load_empty is not None:
        empty = load_at(motor.load_empty, motor)
        loads = tuple(
            task.hopper * f + (1.0 - task.hopper) * e for f, e in zip(loads, empty, strict=True)
        )
    thrown = task.thrown.get(function.name, 0.0) / len(function.motor)
    if thrown:
        loads = (loads[0], loads[1] + thrown * motor.disc_radius**2, loads[2])
    gear = motor.gearbox_ratio
    shaft = {
        f"load{i}": torque / (motor.gearbox_efficiency * gear ** (i + 1))
        for i, torque in enumerate(loads)
    }
    drained = 1.0 if motor.case_drain else 0.0
    if motor.case_share is not None:
        drained = motor.case_share
    return Machine(
        area=area, leak=leak, friction=friction, drag=drag, drained=drained, gear=gear, **shaft
    )


def line_drop(lines: list[Line], flow: float, fluid: Fluid) -> float:
    """Pressure drop of lines in series."""
    nu, rho, _ = fluid
    total = 0.0
    for line in lines:
        speed = 4.0 * flow / (math.pi * line.bore**2)
        number = speed * line.bore / nu
        if number <= 2000.0:
            # Hagen and Poiseuille, and fittings by the two-K method.
            own = 32.0 * nu * rho * speed * line.length / line.bore**2
            own += line.loss_factor * 0.5 * rho * (speed**2 + 1000.0 * nu * speed / line.bore)
        else:
            values = (line.bore, line.length, line.roughness, line.loss_factor, rho, nu)
            own = float(drop_and_slope(flow, *values)[0])
        total += line.restriction * own
        for part in line.coupling:
            total += part.restriction * part.rated_drop * (flow / part.rated_flow) ** 2
        if line.filter is not None:
            total += filter_loss(line.filter, flow, nu)
    return total


def filter_loss(strainer: Any, flow: float, nu: float) -> float:
    """Drop of a filter: linear in flow and viscosity until its bypass cracks."""
    drop = strainer.rated_drop * strainer.restriction
    laminar = drop * flow / strainer.rated_flow * nu / strainer.rated_viscosity
    if strainer.bypass_cracking is None or laminar <= strainer.bypass_cracking:
        return laminar
    return float(
        filter_drop_and_slope(
            flow,
            strainer.rated_flow,
            drop,
            nu,
            strainer.rated_viscosity,
            strainer.bypass_cracking,
            strainer.bypass_full,
        )[0]
    )


def relief_flow(relief: Relief, inlet: float, returns: float) -> float:
    outlet = returns if relief.outlet == "return" else 0.0
    cracking = (
        CRACKING[relief.type] * relief.setting if relief.cracking is None else relief.cracking
    )
    cracking, setting = (p * (1.0 - relief.weakness) for p in (cracking, relief.setting))
    return relief.rated_flow * max(inlet - outlet - cracking, 0.0) / (setting - cracking)


class Consumer:
    """A function: section, work lines, machines, port relief."""

    def __init__(self, circuit: Circuit, function: Function, task: Task, fluid: Fluid) -> None:
        self.name, self.fluid = function.name, fluid
        self.machines = machines_of(function, task, fluid)
        mine = [line for line in circuit.lines if line.of == function.name]
        self.supply = [line for line in mine if line.carries == "work supply"]
        self.back = [line for line in mine if line.carries == "work return"]
        self.reliefs = [r for r in circuit.relief if r.at == "port" and r.of == function.name]
        self.rated_drop = circuit.bank[0].section_drop
        self.compensated = circuit.bank[0].type != "plain parallel"
        section = function.section
        command = min(task.command.get(self.name, 0.0), section.command_limit)
        opened = (command - section.deadband) / (section.full_command - section.deadband)
        self.asked = section.rated_flow * min(max(opened, 0.0), 1.0) ** section.shape
        self.asked *= section.opening
        self.lets_down = 0.0
        c = function.cylinder
        single = c is not None and c.acting == "single" and task.retract.get(self.name)
        if task.lower.get(self.name) or single:
            self.lets_down = 0.0 if task.stop.get(self.name) else self.asked
            self.asked = 0.0
            self.down_drop = section.lowering_drop or self.rated_drop
            self.bore_side = c.count * math.pi * c.bore**2 / 4.0
            self.pushed = c.lower_load * c.efficiency / self.bore_side
            self.rod_share = 1.0 - ((c.rod or 0.0) / c.bore) ** 2 if c.acting == "double" else 0.0

    def up(self, flow: float, returns: float) -> tuple[float, float]:
        """Work-port pressure and returned flow at a flow into the work line."""
        flows = [flow]
        drops = []
        for machine in self.machines:
            drops.append(machine.run(flows[-1])[1])
            flows.append(machine.passed(flows[-1]))
        pressure = returns + line_drop(self.back, flows[-1], self.fluid)
        for machine, drop in zip(reversed(self.machines), reversed(drops), strict=True):
            pressure = machine.back * pressure + drop
        return pressure + line_drop(self.supply, flow, self.fluid), flows[-1]

    def down(self, returns: float) -> float:
        """Flow out of the piston side of a lowered cylinder."""
        if not self.lets_down:
            return 0.0
        room = self.pushed - (1.0 - self.rod_share) * returns

        def excess(flow: float) -> float:
            lost = line_drop(self.supply, flow, self.fluid)
            return lost + self.down_drop * (flow / self.lets_down) ** 2 - room

        if room <= 0.0:
            return 0.0
        return root(excess, 0.0, self.lets_down * math.sqrt(room / self.down_drop))

    def over(self, work: float, returns: float) -> float:
        """Flow of the port relief."""
        return sum(relief_flow(r, work, returns) for r in self.reliefs)

    def through(self, drop: float) -> float:
        """Section flow at a drop."""
        share = math.sqrt(max(drop / self.rated_drop, 0.0))
        return self.asked * (min(share, 1.0) if self.compensated else share)

    def at_pressure(self, inlet: float, returns: float) -> tuple[float, float, float]:
        """Section flow, line flow and work-port pressure at a bank inlet pressure."""
        if self.asked <= 0.0:
            return 0.0, 0.0, returns

        def excess(flow: float) -> float:
            work, _ = self.up(flow, returns)
            return flow + self.over(work, returns) - self.through(inlet - work)

        if excess(TRICKLE * self.asked) >= 0.0:
            # It stands still: the port relief alone takes what passes the section.
            work = root(lambda w: self.over(w, returns) - self.through(inlet - w), 0.0, inlet)
            return self.over(work, returns), 0.0, work
        flow = root(excess, TRICKLE * self.asked, max(self.through(inlet), TRICKLE * self.asked))
        work, _ = self.up(flow, returns)
        if abs(excess(flow)) > 1e-9 * self.asked:
            # A tight machine behind a stalled one stands still: the pressure lies within the jump.
            work = root(
                lambda w: flow + self.over(w, returns) - self.through(inlet - w), 0.0, inlet
            )
        return flow + self.over(work, returns), flow, work

    def at_flow(self, section: float, returns: float) -> tuple[float, float]:
        """Line flow and work-port pressure at a section flow."""

        def excess(flow: float) -> float:
            return flow + self.over(self.up(flow, returns)[0], returns) - section

        if self.over(self.up(section, returns)[0], returns) <= 0.0:
            return section, self.up(section, returns)[0]
        if excess(TRICKLE * section) >= 0.0:
            high = self.up(TRICKLE * section, returns)[0]
            return 0.0, root(lambda w: self.over(w, returns) - section, 0.0, high)
        flow = root(excess, TRICKLE * section, section)
        work = self.up(flow, returns)[0]
        if abs(excess(flow)) > 1e-9 * section:
            # A tight machine stands still: the pressure within the jump is the relief's.
            high = self.up(min(flow * (1.0 + 1e-9), section), returns)[0]
            work = root(lambda w: self.over(w, returns) - (section - flow), work, high)
        return flow, work

    def to_return(self, section: float, line: float, returns: float) -> float:
        """Flow into the return manifold."""
        if self.lets_down:
            return (1.0 - self.rod_share) * self.down(returns)
        beside = section - line if any(r.outlet == "return" for r in self.reliefs) else 0.0
        return self.up(line, returns)[1] + beside

    def speeds(self, line: float) -> tuple[float, float]:
        """Speed of the first load and total drain flow."""
        flow, drain, first = line, 0.0, None
        for machine in self.machines:
            speed, drop = machine.run(flow)
            first = speed / machine.gear if first is None else first
            drain += machine.drained * machine.leak * drop
            flow = machine.passed(flow)
        return first or 0.0, drain
