"""One combination made into a complete truck, and the list of its sizes with what rules each."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.advice.sizing_frame import DEADBAND, Frame, put, swing
from hydrocheck.advice.sizing_parts import BORES, next_number
from hydrocheck.advice.sizing_search import Search
from hydrocheck.advice.sizing_sizes import Combos, combos_of, derive, fill
from hydrocheck.checks import REGISTRY, Finding, Inspection
from hydrocheck.model.circuit import Function, Line, Trims
from hydrocheck.model.truck import Truck
from hydrocheck.physics import heat, valves
from hydrocheck.physics import machines as machine_laws
from hydrocheck.solver import Points, solve, solved_functions
from hydrocheck.studies.conditions import engine_speeds, top_speed
from hydrocheck.studies.thermal import Part, needed_conductance
from hydrocheck.studies.work import flow_for_speed, mass_per_turn, most_flow

Array = NDArray[np.float64]

LEAST_TRIM_ROOM = 1.05
"""Share of the flow of the slowest even speed that the minimum trim passes (ours)."""
TRIM_STEP = 0.001
"""Trims are written to a tenth of a percent."""


@dataclass(frozen=True)
class Built:
    """A combination as a truck file's truck.

    frame: number of its frame; key: its numbers along the frame's axes
    unfit: findings of `check` that fail, none for a truck to be proposed
    """

    frame: int
    key: tuple[int, ...]
    truck: Truck
    findings: tuple[Finding, ...]

    @property
    def unfit(self) -> tuple[Finding, ...]:
        """Findings that fail."""
        return tuple(f for f in self.findings if f.verdict == "fail")


def build(search: Search, key: tuple[int, ...], margin: float) -> Truck:
    """The truck of a combination, every size a preferred one.

    margin: LS margin [Pa], of no account for a fixed pump
    """
    frame = search.frame
    combos = combos_of(frame, [key])
    sizes = derive(frame, combos, search.demands)
    truck = put(frame.truck, fill(frame, combos, sizes, margin))
    for name, options in frame.motors.items():
        starting = options[int(combos.motors[name][0])].starting
        truck = truck.vary(f"{name}.motor.starting_efficiency", starting)
    truck = _with_sections(truck, frame, combos, search)
    truck = _with_drive(truck)
    truck = _with_suction(truck)
    return _with_tank(truck, frame, float(sizes.work_flow[0]))


def _with_sections(truck: Truck, frame: Frame, combos: Combos, search: Search) -> Truck:
    """Sections of preferred flow, with trims: the least even speed and the greatest demand."""
    sizes = derive(frame, combos, search.demands)
    functions = []
    for function in truck.function:
        name = function.name
        rated, most = float(sizes.rated[name][0]), float(sizes.section[name][0])
        section = replace(function.section, rated_flow=rated)
        made = replace(function, section=section)
        if function.motor:
            # Rounded down: the lines are sized for no more, and above the demand there is room.
            top = np.floor(_command(most, rated) / TRIM_STEP + 1e-9) * TRIM_STEP
            least = _least_flow(truck, function, search)
            low = min(_step_up(_command(min(least, 0.9 * most), rated)), top - TRIM_STEP)
            made = replace(made, trims=Trims(min=low, max=float(top)))
        functions.append(made)
    return replace(truck, function=tuple(functions))


def _command(flow: float, rated: float) -> float:
    return float(valves.command_for_flow(flow, DEADBAND, 1.0, rated, 1.0))


def _step_up(command: float) -> float:
    return float(np.ceil(command / TRIM_STEP - 1e-9) * TRIM_STEP)


def _least_flow(truck: Truck, function: Function, search: Search) -> float:
    """Section flow of the slowest even speed under the worst slip [m3/s]; a feeder's least rate."""
    motor = function.motor[0]
    slowest = float(motor.min_speed or 0.0) / float(motor.gearbox_ratio)
    spreading = truck.spreading
    if function.kind == "feeder" and spreading.rates and spreading.road_speeds:
        mass = min(spreading.rates) * min(spreading.road_speeds) * spreading.lanes
        slowest = max(slowest, mass / mass_per_turn(truck))
    oil = np.array([t for one in search.conditions for t in one.oil])
    points = Points.of(truck, np.zeros(oil.size), oil)
    place = solved_functions(truck).index(function)
    return float(flow_for_speed(truck, function, place, slowest, points).max()) * LEAST_TRIM_ROOM


def _with_drive(truck: Truck) -> Truck:
    """A drive rated for the pump, where the needs name no rating: next preferred numbers."""
    drive, look = truck.engine.drive, Inspection(truck)
    pump = look.pump
    pressure = look.highest_pressure(pump)
    torque = (
        float(pump.displacement or 0.0) * pressure / float(pump.hydromechanical_efficiency or 1)
    )
    power = float(machine_laws.drive_power_rating(pressure, look.full_flow(pump)))
    share = float(truck.limits.drive_duty) if drive.duty == "intermittent" else 1.0
    if drive.torque_rating is None:
        drive = replace(drive, torque_rating=float(next_number(np.array(torque), 1.0)))
    if drive.power_rating is None:
        drive = replace(drive, power_rating=float(next_number(np.array(power / share), 1e3)))
    return replace(truck, engine=replace(truck.engine, drive=drive))


def _with_suction(truck: Truck) -> Truck:
    """A wider suction hose until the checks of the pump inlet pass, warm and cold."""
    start = next(line.bore for line in truck.lines if line.carries == "suction")
    assert start is not None
    for bore in BORES[int(np.argmin(np.abs(BORES - float(start)))) :]:
        wider = truck.vary("lines.suction.bore", float(bore))
        look = Inspection(wider)
        found = [f for c in ("pump-inlet", "pump-inlet-cold") for f in REGISTRY[c].run(look)]
        if all(f.verdict != "fail" for f in found):
            return wider
    return truck


def _with_tank(truck: Truck, frame: Frame, flow: float) -> Truck:
    """Tank by dwell and by what the cylinders take, within its space; cooler where it must be."""
    space, needs = frame.needs.tank, frame.needs
    wanted = max(
        float(heat.reservoir_volume(flow, space.dwell)),
        float(heat.reservoir_volume_for_swing(swing(truck))),
    )
    volume = float(next_number(np.array(wanted), 1e-3))
    if space.max_volume is not None:
        volume = min(volume, float(space.max_volume))
    tank = replace(truck.reservoir, volume=volume, area=surface(volume))
    truck = replace(truck, reservoir=tank)
    cooler = _cooler(truck, needs.ambient.hottest)
    return replace(truck, reservoir=replace(tank, cooler=cooler)) if cooler else truck


def work_flow(truck: Truck, line: Line) -> float:
    """Most that a work line carries [m3/s]: at the maximum trim or fully open, what the pump has.

    A cylinder's far side returns more than its near side takes.
    """
    look = Inspection(truck)
    function = truck.function_named(line.of or "")
    flow = min(float(most_flow(function)), look.full_flow(look.pump))
    part = function.cylinder
    if line.carries == "work return" and part is not None and part.rod:
        flow /= 1.0 - (float(part.rod) / float(part.bore or 1.0)) ** 2
    return flow


def surface(volume: float) -> float:
    """Surface of a tank of that oil volume [m2]: a cube with a fifth more height for air (ours).

    A = V^(2/3) (2 + 4 x 1.2)
    """
    return float(volume ** (2.0 / 3.0) * 6.8)


def _cooler(truck: Truck, air: object) -> float | None:
    """Cooler that holds the oil at `oil.hot` in the hottest air [W/K]; None where none is needed.

    For the main scenario all day long, and for the unloaded pump on the road.
    """
    hot = truck.oil.hot
    if air is None or hot is None or float(hot) <= float(air):  # type: ignore[arg-type]  # a float
        return None
    main = Part(truck.scenario[0])
    needed = float(needed_conductance(truck, (main,), float(hot), float(air)).max())  # type: ignore[arg-type]  # a float
    speed = min(float(engine_speeds(truck, "governed")[0]), top_speed(truck))
    still = solve(truck, Points.of(truck, np.array([speed]), np.array([float(hot)])))
    idle = float(still.shaft_power[0]) / (float(hot) - float(air))  # type: ignore[arg-type]  # a float
    tank = truck.reservoir
    given = float(tank.heat_transfer or 0.0) * float(tank.area or 0.0)
    lacking = max(needed, idle) - given
    return float(next_number(np.array(lacking), 1.0)) if lacking > 0.0 else None
