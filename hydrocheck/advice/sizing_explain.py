"""The hand calculation behind each size, step by step, as on paper: one point, rated efficiencies.

The search goes over engine speed, temperature and wear; this goes over one point, so that its
numbers can be followed with a pocket calculator. Where the two differ, the size that was taken
stands beside.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from hydrocheck.advice.sizing import Sizing, require_chosen
from hydrocheck.advice.sizing_build import work_flow
from hydrocheck.advice.sizing_frame import CYLINDER_SHARE, Frame, cylinder_bore, torques
from hydrocheck.advice.sizing_hand import hand_bore, hand_drive, hand_motor_for_torque, hand_pump
from hydrocheck.checks import Amount, Inspection
from hydrocheck.checks.finding import Words, words
from hydrocheck.model.circuit import Function, Line
from hydrocheck.model.machines import Motor
from hydrocheck.model.truck import Scenario, Task, Truck
from hydrocheck.physics import heat, loads, material, motors, pumps
from hydrocheck.studies.conditions import engine_speeds
from hydrocheck.studies.work import discharge, mass_per_turn

TEXTBOOK = "standard textbook form, from memory"
FED = "FED-STD-794, p. 10"


@dataclass(frozen=True)
class Step:
    """One step on paper.

    about: the part; what: is worked out; formula; numbers: put in; result; taken: size beside it
    """

    about: str
    what: str
    formula: str
    numbers: Words
    result: Amount
    taken: Amount | None
    source: str


def explain(sizing: Sizing) -> tuple[Step, ...]:
    """The steps for the chosen circuit. Raises MissingValue where none fits."""
    made = require_chosen(sizing)
    frame, truck = sizing.frames[made.frame], made.truck
    flows: dict[tuple[str, str], float] = {}
    steps: list[Step] = []
    for function in truck.function:
        if function.motor:
            steps += _motor_steps(frame, truck, function, flows)
        elif function.cylinder is not None:
            steps += _cylinder_steps(frame, function, flows)
        else:
            flow = float(function.flow or 0.0)
            flows |= {(s.name, function.name): flow for s in _scenarios(truck, function.name)}
    steps += _pump_steps(frame, truck, flows)
    steps += _pressure_steps(frame, truck)
    steps += _line_steps(truck)
    steps += _tank_steps(frame, truck)
    return tuple(steps)


def _scenarios(truck: Truck, name: str) -> list[Scenario]:
    return [s for s in truck.scenario if any(t.name == name for t in s.run)]


def _speed(truck: Truck, task: Task) -> float:
    """Wanted shaft speed of a task [rad/s]."""
    if task.speed is not None:
        return float(task.speed)
    return discharge(truck, task) / mass_per_turn(truck)


def _fastest(truck: Truck, name: str) -> tuple[float, Scenario, Task]:
    """Greatest wanted speed of a function, and where."""
    found = [(s, t) for s in truck.scenario for t in s.run if t.name == name]
    speeds = [_speed(truck, t) if t.flow is None else 0.0 for _, t in found]
    best = int(np.argmax(speeds)) if speeds else 0
    return (speeds[best], *found[best]) if found else (0.0, truck.scenario[0], Task(name=name))


def _motor_steps(
    frame: Frame, truck: Truck, function: Function, flows: dict[tuple[str, str], float]
) -> Iterator[Step]:
    name, motor = function.name, function.motor[0]
    speed, scenario, task = _fastest(truck, name)
    if task.rate is not None and task.road_speed is not None:
        mass = mass_per_turn(truck)
        yield Step(
            name, "shaft speed for the ordered rate", "n = rate x road speed x lanes / mass a turn",
            words(
                "{rate}, {road}, {lanes} lane(s), {mass}",
                rate=Amount(float(task.rate), "application_rate"),
                road=Amount(float(task.road_speed), "road_speed"),
                lanes=str(truck.spreading.lanes), mass=Amount(mass, "mass_per_rev"),
            ),
            Amount(float(material.shaft_speed(discharge(truck, task), mass)), "shaft_speed"),
            None, "mass balance, as the field handbooks' calibration tables have it",
        )  # fmt: skip
    torque = _torque(frame, name, speed, scenario)
    displacement = float(motor.displacement or 0.0)
    yield from _torque_steps(frame, name, motor, torque)
    drop = float(
        motors.motor_pressure_for_torque(
            torque, displacement, float(motor.hydromechanical_efficiency or 1.0)
        )
    )
    yield Step(
        name, "pressure drop with the size that was taken", "dp = T / (D eta_hm)",
        words("{t}, {d}, {e}", t=Amount(torque, "torque"), d=Amount(displacement, "displacement"),
              e=Amount(float(motor.hydromechanical_efficiency or 1.0), "fraction")),
        Amount(drop, "pressure_drop"), None,
        "Fluid Power with Applications (2005), Example 7-1, p. 248",
    )  # fmt: skip
    turning = speed * float(motor.gearbox_ratio)
    volumetric = float(motor.volumetric_efficiency or 1.0)
    slip = (1.0 / volumetric - 1.0) * displacement * float(motor.rated_speed or 0.0)
    slip *= drop / float(motor.rated_pressure or 1.0) * (1.0 + frame.needs.margins.motor_wear)
    flow = displacement * turning + slip
    flows |= {(s.name, name): flow for s in _scenarios(truck, name)}
    yield Step(
        name, "flow, slip at the end of life included",
        "Q = D n + (1/eta_v - 1) D n_r (dp / dp_r) (1 + wear)",
        words("{n}, {e}, {r}, {p}, wear {w}", n=Amount(turning, "shaft_speed"),
              e=Amount(volumetric, "fraction"),
              r=Amount(float(motor.rated_speed or 0.0), "shaft_speed"),
              p=Amount(float(motor.rated_pressure or 0.0), "pressure_drop"),
              w=Amount(frame.needs.margins.motor_wear, "ratio")),
        Amount(flow, "flow"), Amount(float(function.section.rated_flow or 0.0), "flow"),
        "Fluid Power: Theory and Applications (4th ed.), Example 9.3, p. 195; Wilson's slip",
    )  # fmt: skip


def _torque(frame: Frame, name: str, speed: float, scenario: Scenario) -> float:
    """Torque at the motor's own shaft, hopper full [N m]; a disc's for the mass that it throws."""
    motor = frame.truck.function_named(name).motor[0]
    mass = sum(discharge(frame.truck, t) for t in scenario.run) if motor.disc_radius else 0.0
    load0, load1, load2 = torques(frame, name, mass)
    turning = speed * float(motor.gearbox_ratio)
    return load0 + (load1 + load2 * turning) * turning


def _torque_steps(frame: Frame, name: str, motor: Motor, torque: float) -> Iterator[Step]:
    displacement = float(motor.displacement or 0.0)
    efficiency = float(motor.hydromechanical_efficiency or 1.0)
    running = hand_motor_for_torque(torque, frame.working, efficiency) if torque else None
    taken = Amount(displacement, "displacement")
    if running is not None:
        yield Step(
            name, "displacement for the running torque", "D = T / (eta_hm dp)",
            words("{t}, {e}, {p}", t=Amount(torque, "torque"), e=Amount(efficiency, "fraction"),
                  p=Amount(frame.working, "pressure")),
            Amount(running.exact, "displacement"), taken, TEXTBOOK,
        )  # fmt: skip
    load = motor.load
    if load is None or load.breakaway is None:
        return
    still = torques(frame, name, 0.0)[0]
    rest = still * float(load.breakaway)
    starting = float(motor.starting_efficiency or 1.0)
    if rest > 0.0:
        start = hand_motor_for_torque(rest, frame.working, starting)
        yield Step(
            name, "displacement that starts it from rest", "D = T0 breakaway / (eta_start dp)",
            words("{t} x {b}, {e}, {p}", t=Amount(still, "torque"),
                  b=Amount(float(load.breakaway), "ratio"), e=Amount(starting, "fraction"),
                  p=Amount(frame.working, "pressure")),
            Amount(start.exact, "displacement"), taken,
            "statics of the motor; starting efficiency from a fluid power e-book",
        )  # fmt: skip


def _cylinder_steps(
    frame: Frame, function: Function, flows: dict[tuple[str, str], float]
) -> Iterator[Step]:
    name, part = function.name, function.cylinder
    assert part is not None
    bore, count = float(part.bore or 0.0), part.count
    yield Step(
        name, "bore for the load", "d = sqrt(4 F / (pi eta p count))",
        words("{f}, {e}, {share} of {p}, {count} cylinder(s)",
              f=Amount(float(part.extend_load or 0.0), "force"),
              e=Amount(float(part.efficiency), "fraction"),
              share=Amount(CYLINDER_SHARE, "fraction"), p=Amount(frame.working, "pressure"),
              count=str(count)),
        Amount(cylinder_bore(part, frame.working), "length"), Amount(bore, "length"),
        "Fluid Power: Theory and Applications (4th ed.), Example 8.1, p. 172",
    )  # fmt: skip
    area = float(loads.piston_area(bore, count))
    stroke, time = float(part.stroke or 0.0), float(part.extend_time or 1.0)
    flow = float(loads.stroke_flow(area, stroke, time))
    flows |= {(s.name, name): flow for s in _scenarios(frame.truck, name)}
    yield Step(
        name, "flow for its time", "Q = A s / t",
        words("{a}, {s}, {t}", a=Amount(area, "area"), s=Amount(stroke, "length"),
              t=Amount(time, "time")),
        Amount(flow, "flow"), Amount(float(function.section.rated_flow or 0.0), "flow"),
        "Fluid Power with Applications (2005), chapter on cylinders",
    )  # fmt: skip


def _pump_steps(frame: Frame, truck: Truck, flows: dict[tuple[str, str], float]) -> Iterator[Step]:
    """The pump by the scenario that asks the largest one; its drive."""
    pump, needs = truck.pump[0], frame.needs
    ratio = float(truck.engine.drive.ratio)
    displacement = float(pump.displacement or 0.0)
    volumetric = float(pump.volumetric_efficiency or 1.0)
    best: tuple[float, Scenario, float, float] | None = None
    for scenario in truck.scenario:
        total = sum(flows.get((scenario.name, t.name), float(t.flow or 0.0)) for t in scenario.run)
        speed = float(engine_speeds(truck, scenario.engine)[0])
        asked = total / speed
        if best is None or asked > best[0]:
            best = (asked, scenario, total, speed)
    assert best is not None
    _, scenario, total, speed = best
    reserve = 1.0 + needs.margins.flow
    worn = 1.0 - (1.0 - volumetric) * (1.0 + needs.margins.pump_wear)
    sized = hand_pump(total * reserve, speed * ratio, worn)
    yield Step(
        "pump", f"displacement for {scenario.name}", "D = Q (1 + reserve) / (n ratio eta_v,worn)",
        words("{q}, {r}, {n} x {k}, {e}", q=Amount(total, "flow"),
              r=Amount(needs.margins.flow, "fraction"), n=Amount(speed, "shaft_speed"),
              k=Amount(ratio, "ratio"), e=Amount(worn, "fraction")),
        Amount(sized.exact, "displacement"), Amount(displacement, "displacement"),
        "Fluid Power with Applications (2005), Example 5-2, p. 167, solved for D",
    )  # fmt: skip
    look = Inspection(truck)
    pressure, flow = look.highest_pressure(pump), look.full_flow(pump)
    efficiency = float(pump.hydromechanical_efficiency or 1.0)
    drive = truck.engine.drive
    yield Step(
        "drive", "torque rating", "T = D p / eta_hm",
        words("{d}, {p}, {e}", d=Amount(displacement, "displacement"),
              p=Amount(pressure, "pressure"), e=Amount(efficiency, "fraction")),
        Amount(float(pumps.pump_torque(displacement, pressure, efficiency)), "torque"),
        Amount(float(drive.torque_rating or 0.0), "torque"),
        "Fluid Power with Applications (2005), Example 5-9, p. 201",
    )  # fmt: skip
    yield Step(
        "drive", "power rating", "P = 1.5 p Q / 0.85",
        words("{p}, {q} at the highest engine speed", p=Amount(pressure, "pressure"),
              q=Amount(flow, "flow")),
        Amount(hand_drive(pressure, flow), "power"),
        Amount(float(drive.power_rating or 0.0), "power"), FED,
    )  # fmt: skip


def _pressure_steps(frame: Frame, truck: Truck) -> Iterator[Step]:
    pump, relief = truck.pump[0], truck.relief[0]
    setting = float(relief.setting or 0.0)
    yield Step(
        "main relief", "cracking pressure", "p_crack = 0.95 p_set (pilot operated)",
        words("{p}", p=Amount(setting, "pressure")), Amount(frame.cracking, "pressure"), None,
        "common practice: a pilot relief cracks at about 95 % of its setting",
    )  # fmt: skip
    if pump.compensator is None:
        yield Step(
            "main relief", "pressure that work may need", "p = p_crack - reserve",
            words("{p}, {r}", p=Amount(frame.cracking, "pressure"),
                  r=Amount(float(truck.limits.relief_reserve), "pressure")),
            Amount(frame.working, "pressure"), None, "common practice, 200-500 psi",
        )  # fmt: skip
        return
    gap = float(truck.limits.compensator_gap)
    yield Step(
        "pump control", "compensator", "p_comp = p_crack - gap, rounded down",
        words("{p}, {g}", p=Amount(frame.cracking, "pressure"), g=Amount(gap, "pressure")),
        Amount(frame.cracking - gap, "pressure"), Amount(float(pump.compensator), "pressure"),
        "trade column: relief 100-150 psi above the compensator",
    )  # fmt: skip
    if pump.margin is None:
        return
    section = float(truck.bank[0].section_drop or 0.0)
    yield Step(
        "pump control", "LS margin", "margin >= section drop + 1.1 x line drop",
        words("{s} and the drop of the pressure line, from the search",
              s=Amount(section, "pressure_drop")),
        Amount(section, "pressure"), Amount(float(pump.margin or 0.0), "pressure"),
        "load sensing: with less the highest load never gets its flow; 250 psi or more",
    )  # fmt: skip


def _line_steps(truck: Truck) -> Iterator[Step]:
    look = Inspection(truck)
    full = look.full_flow(look.pump)
    limits = {
        "suction": (truck.limits.suction_velocity, FED),
        "pressure": (truck.limits.pressure_velocity, FED),
        "return": (truck.limits.return_velocity, "common practice, 10-15 ft/s"),
    }
    for line in truck.lines:
        if line.carries.startswith("work"):
            yield _work_line_step(truck, line)
        if line.carries not in limits:
            continue
        velocity, source = limits[line.carries]
        sized = hand_bore(full, float(velocity))
        yield Step(
            f"{line.carries} line", "bore", "d = sqrt(4 Q / (pi v))",
            words("{q} at the highest engine speed, {v}", q=Amount(full, "flow"),
                  v=Amount(float(velocity), "velocity")),
            Amount(sized.exact, "length"), Amount(float(line.bore or 0.0), "length"), source,
        )  # fmt: skip


def _work_line_step(truck: Truck, line: Line) -> Step:
    """The bore of a function's hose by velocity; the drop in cold oil may ask the next one."""
    supply = line.carries == "work supply"
    velocity = float(truck.limits.pressure_velocity if supply else truck.limits.return_velocity)
    flow = work_flow(truck, line)
    rule = FED if supply else "common practice, 10-15 ft/s"
    return Step(
        line.name, "bore", "d = sqrt(4 Q / (pi v))",
        words("{q} at most, {v}", q=Amount(flow, "flow"), v=Amount(velocity, "velocity")),
        Amount(hand_bore(flow, velocity).exact, "length"),
        Amount(float(line.bore or 0.0), "length"),
        f"{rule}; too much drop in the coldest oil at work asks the next size",
    )  # fmt: skip


def _tank_steps(frame: Frame, truck: Truck) -> Iterator[Step]:
    tank, needs = truck.reservoir, frame.needs
    working = truck.engine.working or (0.0, 0.0)
    ratio, displacement = float(truck.engine.drive.ratio), float(truck.pump[0].displacement or 0.0)
    flow = displacement * working[1] * ratio
    yield Step(
        "tank", "oil volume by dwell", "V = Q t",
        words("{q} at the high end of the working band, {t}", q=Amount(flow, "flow"),
              t=Amount(needs.tank.dwell, "time")),
        Amount(float(heat.reservoir_volume(flow, needs.tank.dwell)), "volume"),
        Amount(float(tank.volume or 0.0), "volume"), "common practice: a minute or more on trucks",
    )  # fmt: skip
    hot, air = truck.oil.hot, truck.ambient.hottest
    if hot is None or air is None or float(hot) <= float(air):
        return
    surface = float(tank.heat_transfer or 0.0) * float(tank.area or 0.0)
    given = surface * (float(hot) - float(air))
    yield Step(
        "tank", "heat that it gives off", "P = h A (T_oil - T_air)",
        words("{h}, {a}, {hot}, {air}", h=Amount(float(tank.heat_transfer or 0.0), "heat_transfer"),
              a=Amount(float(tank.area or 0.0), "area"), hot=Amount(float(hot), "temperature"),
              air=Amount(float(air), "temperature")),
        Amount(given, "power"),
        None if not tank.cooler else Amount(float(tank.cooler), "heat_conductance"),
        "a formula sheet; the cooler beside it takes the rest",
    )  # fmt: skip
