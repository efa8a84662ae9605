"""What a healthy truck reads while it is set up, step by step, with the range that is acceptable.

Predicted by the steady state; the range joins what the tolerances of the truck file do with the
usual uncertainty of the reading, in squares.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import HydrocheckError, MissingValue
from hydrocheck.model.readable import what_named
from hydrocheck.model.readings import usual_uncertainty
from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.solver import Points, Result, solve, solved_functions
from hydrocheck.studies.commands import command_of, flow_of, speed_at_flow, trimmed_functions
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures, top_speed
from hydrocheck.studies.tolerance import UNTOLD_RETURN, half_widths
from hydrocheck.studies.trims import Prediction
from hydrocheck.studies.work import flow_for_speed, mass_per_turn, plan_work, solve_work

Array = NDArray[np.float64]

FILL = {"auger": (0.70, 0.95), "conveyor": (0.80, 1.00)}
"""How far a catch test can lie off a size on paper: fill of flooded augers, published range; of
conveyor gates, ours."""

NAMED = 3
"""Functions that a line names as running beside; of more it gives the number."""

WARM = 8.0
"""How much colder than working the oil may be while the truck is set [K]: ours."""


@dataclass(frozen=True)
class Blank:
    """One value to measure: what a healthy truck shows, within which range, and how it is read.

    step: pressures, flow and speed, trims or catch test; label: what it is called, once a sheet
    what: the reading, as `model.readable` names it; expected, low, high: in SI of its kind
    how: where and how to measure; engine_speed: [rad/s]; oil_temperature: [K]
    commands: by function [1]; stop: functions held at the end of their stroke; off: those that
        stand; nothing of these where the step itself says what runs
    """

    step: str
    label: str
    what: str
    expected: float
    low: float
    high: float
    how: str
    engine_speed: float
    oil_temperature: float
    commands: Mapping[str, float] = field(default_factory=dict)
    stop: tuple[str, ...] = ()
    off: tuple[str, ...] = ()

    @property
    def kind(self) -> str:
        """The kind of quantity that is read."""
        return what_named(self.what).readable.kind


@dataclass(frozen=True)
class SetUp:
    """The blanks of a sheet in the order of the work, and what could not be predicted.

    scenario: what runs while flow and speed are measured, and its commands [1]
    engine_speed: low and high end of the working band [rad/s]; oil_temperature: [K]
    coldest: oil below which trims are not worth setting [K]
    """

    blanks: tuple[Blank, ...]
    gaps: tuple[str, ...]
    scenario: str
    commands: Mapping[str, float]
    engine_speed: tuple[float, float]
    oil_temperature: float
    coldest: float


def set_up(truck: Truck, prediction: Prediction) -> SetUp:
    """Everything to measure on a truck while it is set up. Raises MissingValue.

    truck: with trims; prediction: its predicted ones
    """
    low, high = (float(v) for v in engine_speeds(truck, "working")[[0, -1]])
    oil = float(oil_temperatures(truck, "working")[0])
    gaps: list[str] = []
    scenario = _scenario(truck)
    commands: dict[str, float] = {}
    blanks: list[Blank] = []
    try:
        commands = _commands(truck, scenario, oil) if scenario else {}
        frame = _Frame(low, high, oil, commands, _speeds(truck, commands, oil))
        blanks += _ranged(truck, frame)
    except HydrocheckError as error:
        gaps.append(f"pressures, flow and speed: {error}")
    blanks += _trims(truck, prediction, low, oil)
    gaps += [f"trims of {name}: {why}" for name, why in prediction.not_predicted]
    try:
        blanks += _catch(truck, low, oil)
    except HydrocheckError as error:
        gaps.append(f"catch test: {error}")
    name = scenario.name if scenario else ""
    return SetUp(tuple(blanks), tuple(gaps), name, commands, (low, high), oil, oil - WARM)


@dataclass(frozen=True)
class _Frame:
    """Engine speeds [rad/s], oil [K] and commands [1] at which everything is measured.

    speeds: that the commands turn with the values of the file [rad/s], of the load shafts
    """

    low: float
    high: float
    oil: float
    commands: Mapping[str, float]
    speeds: Mapping[str, float]


def _scenario(truck: Truck) -> Scenario | None:
    """The first scenario in which a feeder runs and no cylinder moves, else the first."""
    feeders = [f.name for f in truck.function if f.kind == "feeder"]
    still = [s for s in truck.scenario if all(t.motion is None for t in s.run)]
    feeding = [s for s in still if any(t.name in feeders for t in s.run)]
    return next(iter(feeding or still), None)


def _commands(truck: Truck, scenario: Scenario, oil: float) -> dict[str, float]:
    """Commands of a scenario's functions with motors, to a tenth of a percent, as displays do."""
    low = engine_speeds(truck, "working")[0]
    work = plan_work(truck, replace(scenario, hopper="full"), low, oil)
    found = {}
    for m, function in enumerate(solved_functions(truck)):
        flow = float(work.asked[0, m])
        if function.motor and flow > 0:
            found[function.name] = min(1.0, round(float(command_of(function, flow)), 3))
    return found


def _ranged(truck: Truck, frame: _Frame) -> list[Blank]:
    """The measured blanks with their ranges."""
    blanks = _measured(truck, frame)
    band = half_widths(truck, lambda moved: [b.expected for b in _measured(moved, frame)])
    made = []
    for blank, half in zip(blanks, band, strict=True):
        what = what_named(blank.what)
        usual = usual_uncertainty(what, blank.expected, what.readable.instrument)
        wide = float(np.hypot(half, usual))
        untold = UNTOLD_RETURN if blank.what == "return pressure" else 0.0
        low, high = max(blank.expected - wide, 0.0), blank.expected + wide + untold
        names = (f.name for f in solved_functions(truck))
        off = tuple(n for n in names if n not in blank.commands and n not in blank.stop)
        made.append(replace(blank, low=low, high=high, off=off))
    return made


def _measured(truck: Truck, frame: _Frame) -> list[Blank]:
    return [*_at_rest(truck, frame), *_at_stop(truck, frame), *_at_work(truck, frame)]


def _blank(step: str, label: str, what: str, value: float, how: str, frame: _Frame) -> Blank:
    return Blank(step, label, what, float(value), value, value, how, frame.low, frame.oil)


def _at_rest(truck: Truck, frame: _Frame) -> list[Blank]:
    """Pump pressure with nothing running."""
    points = Points.of(truck, frame.low, frame.oil)
    result = solve(truck, points)
    label = "standby pressure" if truck.pump[0].type == "load sensing" else "pressure at rest"
    how = "gauge at the pump outlet, nothing running"
    return [_blank("pressures", label, "pump pressure", result.pump_pressure[0], how, frame)]


def _at_stop(truck: Truck, frame: _Frame) -> list[Blank]:
    """Pump pressure with a cylinder held at the end of its stroke."""
    lifts = [f for f in solved_functions(truck) if f.cylinder is not None]
    if not lifts:
        return []
    function = min(lifts, key=lambda f: float(flow_of(f, 1.0)))  # the small one heats the oil less
    wide = {function.name: 1.0}
    points = Points.of(truck, frame.low, frame.oil, command=wide, stop=wide)
    pressure = float(solve(truck, points).pump_pressure[0])
    label = "relief pressure" if truck.pump[0].type == "fixed" else "compensator pressure"
    how = (
        f"gauge at the pump outlet, {function.name} held raised at its stop for no more than 5 s, "
        "nothing else running"
    )
    one = _blank("pressures", label, "pump pressure", pressure, how, frame)
    return [replace(one, commands={function.name: 1.0}, stop=(function.name,))]


def _at_work(truck: Truck, frame: _Frame) -> list[Blank]:
    """Pressures and speeds of the scenario at the low end of the band, speeds at the high end."""
    if not frame.commands:
        return []
    ends = np.array([frame.low, frame.high])
    thrown = _thrown(truck, frame)
    points = Points.of(truck, ends, frame.oil, command=dict(frame.commands), thrown=thrown)
    result = solve(truck, points)
    blanks = [
        _blank(
            "pressures",
            "pump pressure at work",
            "pump pressure",
            result.pump_pressure[0],
            "gauge at the pump outlet, everything running as listed",
            frame,
        )
    ]
    if truck.pump[0].type == "load sensing":
        how = "gauge at the LS port of the pump, as before; the pump stands above it by the margin"
        signal = result.load_signal[0]
        blanks.append(_blank("pressures", "load signal at work", "LS pressure", signal, how, frame))
    blanks += [_port(name, result, frame) for name in frame.commands]
    blanks.append(
        _blank(
            "pressures",
            "return pressure at work",
            "return pressure",
            result.return_pressure[0],
            "gauge in the return line at the valve bank, as before; fittings that the truck file "
            "leaves out add to it",
            frame,
        )
    )
    for name in frame.commands:
        how = "flow meter in its supply line where there is one, as before"
        flow = result.flow[0, result.column(name)]
        blanks.append(_blank("flow and speed", f"{name} flow", f"{name} flow", flow, how, frame))
    for n, end in enumerate(ends):
        blanks += [_speed(truck, name, result, (n, float(end)), frame) for name in frame.commands]
    blanks += _held(truck, frame)
    blanks += _strokes(truck, frame)
    return [replace(b, commands=b.commands or frame.commands) for b in blanks]


def _thrown(truck: Truck, frame: _Frame) -> dict[str, float]:
    """What the feeders give, thrown by the spinners [kg/s]."""
    total = 0.0
    points = Points.of(truck, np.array([frame.low]), np.array([frame.oil]))
    for function in trimmed_functions(truck):
        if function.kind == "feeder" and function.name in frame.commands:
            flow = flow_of(function, frame.commands[function.name])
            try:
                turning = float(speed_at_flow(truck, function, flow, points)[0])
                total += turning * mass_per_turn(truck)
            except MissingValue:
                continue
    return {f.name: total for f in trimmed_functions(truck) if f.kind == "spinner"}


def _port(name: str, result: Result, frame: _Frame) -> Blank:
    pressure = result.work_pressure[0, result.column(name)]
    how = f"gauge at the work port of the {name} section, as before"
    return _blank("pressures", f"{name} pressure at work", f"{name} pressure", pressure, how, frame)


def _speed(truck: Truck, name: str, result: Result, end: tuple[int, float], frame: _Frame) -> Blank:
    n, engine = end
    where = "low" if n == 0 else "high"
    closed = truck.function_named(name).loop == "closed"
    how = "tachometer or counted turns at its shaft, hopper full"
    if closed:
        how += "; speed control off, this command by hand"
    one = _blank(
        "flow and speed",
        f"{name} speed, {where} end of the band",
        f"{name} speed",
        result.speed[n, result.column(name)],
        how,
        frame,
    )
    return replace(one, engine_speed=engine)


def _speeds(truck: Truck, commands: Mapping[str, float], oil: float) -> dict[str, float]:
    """Speeds of the load shafts that commands turn where they are fed in full [rad/s]."""
    points = Points.of(truck, np.zeros(1), np.array([oil]))
    found = {}
    for name, command in commands.items():
        function = truck.function_named(name)
        flow = flow_of(function, command)
        found[name] = float(speed_at_flow(truck, function, flow, points)[0])
    return found


def _held(truck: Truck, frame: _Frame) -> list[Blank]:
    """Command at which each closed loop holds its speed: there slip hides in the command."""
    points = Points.of(truck, np.zeros(1), np.array([frame.oil]))
    blanks = []
    for function in trimmed_functions(truck):
        name = function.name
        if function.loop != "closed" or name not in frame.speeds:
            continue
        place = solved_functions(truck).index(function)
        flow = flow_for_speed(truck, function, place, frame.speeds[name], points)
        value = float(command_of(function, flow)[0])
        how = "speed control on, ordered so that the shaft turns as in the line above"
        label = f"{name} command that holds its speed"
        blanks.append(_blank("flow and speed", label, f"{name} holding command", value, how, frame))
    return blanks


def _strokes(truck: Truck, frame: _Frame) -> list[Blank]:
    """Time of every cylinder's stroke out, alone at full command."""
    lifts = [
        f
        for f in solved_functions(truck)
        if f.cylinder is not None and None not in (f.cylinder.stroke, f.cylinder.extend_load)
    ]
    blanks = []
    for function in lifts:
        cylinder = function.cylinder
        assert cylinder is not None
        points = Points.of(truck, frame.low, frame.oil, command={function.name: 1.0})
        speed = float(solve(truck, points).speed[0, solved_functions(truck).index(function)])
        if speed <= 0:
            continue
        time = float(cylinder.stroke or 0.0) / speed
        how = "watch, full stroke up under its load, nothing else running"
        label = f"{function.name} raise time"
        one = _blank("flow and speed", label, f"{function.name} time", time, how, frame)
        blanks.append(replace(one, commands={function.name: 1.0}))
    return blanks


def _trims(truck: Truck, prediction: Prediction, low: float, oil: float) -> list[Blank]:
    """The trims with the range of their tolerances and of a display."""
    blanks = []
    for trim in prediction.trims:
        beside = " and ".join(trim.beside[:NAMED]) or "nothing else"
        if len(trim.beside) > NAMED:
            beside += f" and {len(trim.beside) - NAMED} more of the scenario"
        for which in ("minimum", "maximum"):
            value, band = getattr(trim, which), getattr(trim, f"{which}_band")
            if not np.isfinite(value):
                continue
            what = f"{trim.function} {which} trim"
            usual = usual_uncertainty(what_named(what), value, "display")
            wide = float(np.hypot(band, usual))
            how = _how(trim.grid.by_start[trim.reference], which, trim.function)
            blanks.append(
                Blank(
                    "trims",
                    what,
                    what,
                    value,
                    max(value - wide, 0.0),
                    min(value + wide, 1.0),
                    f"{how}; while {beside} run{'' if len(trim.beside) > 1 else 's'}",
                    low,
                    oil,
                )
            )
    return blanks


def _how(by_start: bool, which: str, name: str) -> str:
    if which == "maximum":
        return "raise the command until the shaft turns as fast as wanted, and no further"
    if by_start:
        return f"from rest, raise the command until the {name} starts; stop and repeat three times"
    return "lower the command until the shaft turns as slowly as it still does evenly"


def _catch(truck: Truck, low: float, oil: float) -> list[Blank]:
    """Discharge of one turn of each feeder."""
    feeders = [f.name for f in truck.function if f.kind == "feeder" and f.fitted]
    if not feeders:
        return []
    mass = mass_per_turn(truck)
    shape = truck.spreading.auger or truck.spreading.conveyor
    if truck.spreading.mass_per_turn is None and shape is not None:
        usual_fill = FILL["auger" if truck.spreading.auger is not None else "conveyor"]
        ends = [mass * fill / float(shape.fill) for fill in (*usual_fill, float(shape.fill))]
    else:
        half = truck.tolerances.get("spreading.mass_per_turn", 0.0)
        ends = [mass - half, mass + half]
    made = []
    for name in feeders:
        what = f"{name} discharge"
        usual = usual_uncertainty(what_named(what), mass, "scale")
        how = "catch and weigh ten turns or more, five times; divide by the turns"
        made.append(
            Blank(
                "catch test",
                f"{name} discharge a turn",
                what,
                mass,
                min(ends) - usual,
                max(ends) + usual,
                how,
                low,
                oil,
            )
        )
    return made


@dataclass(frozen=True)
class SpeedCurves:
    """How fast the functions of a scenario turn (or move), as shares of what is wanted.

    engine_speed: [rad/s], (N,); oil_temperature: [K]; share: [1], (N, K); functions: K names
    """

    scenario: str
    functions: tuple[str, ...]
    engine_speed: Array
    oil_temperature: float
    share: Array


def speed_curves(truck: Truck, scenario: Scenario, steps: int = 61) -> SpeedCurves:
    """Speeds of a scenario from idle to the highest engine speed, warm oil. Raises MissingValue."""
    if truck.engine.idle is None:
        raise MissingValue(["engine.idle"])
    engine = np.linspace(float(truck.engine.idle), top_speed(truck), steps)
    oil = float(oil_temperatures(truck, "working")[0])
    work = plan_work(truck, scenario, engine, oil)
    solved = solve_work(truck, work)
    shares, names = [], []
    for m, function in enumerate(solved_functions(truck)):
        wanted = solved.wanted[:, m]
        if not (wanted > 0).any():
            continue
        names.append(function.name)
        if function.motor:
            full = speed_at_flow(truck, function, wanted, work.points)
            shares.append(solved.result.speed[:, m] / np.maximum(full, 1e-12))
        else:
            shares.append(solved.result.motor_flow[:, m] / wanted)
    share = np.stack(shares, axis=1) if shares else np.zeros((steps, 0))
    return SpeedCurves(scenario.name, tuple(names), engine, oil, share)
