"""Functions in closed loop: the command rises until the ordered speed or the maximum trim.

The plan's command is the flow that turns the shaft at the ordered speed, were it delivered. Where
the supply is short, or a section passes less than its command says, the shaft is slower and its
controller opens the section further, to the least command that reaches the speed, or to the maximum
trim: then the loop is out of command. With more than one loop each rises while the others hold,
round after round. What one takes others may lack, so that commands only rise: the answer is the
least set of commands that reaches all speeds which can be reached.

A controller that holds its speed hides slip, wear and a stuck spool: they show in its command.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.solver import Result, solve, solved_functions
from hydrocheck.studies.commands import command_of
from hydrocheck.studies.work import Solved, Work, feeder_speed, most_flow

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

REACHED = 1e-9
"""Share of the ordered speed that may be missing."""
FINE = 1e-11
MOST_ROUNDS = 50
MOST_STEPS = 80


@dataclass(frozen=True)
class Loop:
    """A function in closed loop: its column, ordered shaft speed [rad/s], one or (N,), flow at its
    maximum trim [m3/s]."""

    function: Function
    column: int
    ordered: float | Array
    most: float


@dataclass(frozen=True)
class LoopState:
    """A closed loop at N solved points.

    ordered: shaft speed [rad/s]; speed: reached [rad/s], (N,)
    command: [1], (N,); nan where the section's curve is not given
    out_of_command: where the maximum trim does not reach the ordered speed, (N,)
    """

    function: str
    ordered: float
    speed: Array
    command: Array
    out_of_command: Mask


def loops_of(truck: Truck, scenario: Scenario) -> tuple[Loop, ...]:
    """The loops of a scenario: functions in closed loop with an ordered speed or rate."""
    tasks = {task.name: task for task in scenario.run}
    found = []
    for column, function in enumerate(solved_functions(truck)):
        task = tasks.get(function.name)
        if function.loop != "closed" or task is None or not function.motor:
            continue
        if task.speed is None and task.rate is None:
            continue
        ordered = task.speed if task.speed is not None else feeder_speed(truck, task)
        if float(ordered) > 0.0:
            found.append(Loop(function, column, float(ordered), most_flow(function)))
    return tuple(found)


def solve_loops(truck: Truck, work: Work, loops: tuple[Loop, ...] | None = None) -> Solved:
    """The steady state of a scenario's points with its loops closed; as `solve_work` without any.

    loops: in place of the scenario's, for speeds that are ordered point by point

    Raises as `solve` does.
    """
    known = loops_of(truck, work.scenario) if loops is None else loops
    loops = tuple(loop for loop in known if np.isfinite(loop.most))
    result = solve(truck, work.points)
    asked = work.points.asked.copy()
    for _ in range(MOST_ROUNDS):
        before = asked.copy()
        for loop in loops:
            if _slow(result, loop, asked).any():
                asked, result = _raised(truck, work, asked, result, loop)
        if not (asked > before * (1.0 + REACHED)).any():
            break
    points = replace(work.points, asked=asked)
    return Solved(replace(work, points=points, asked=np.where(work.asked > 0, asked, 0.0)), result)


def loop_states(truck: Truck, solved: Solved) -> tuple[LoopState, ...]:
    """What each loop of a solved scenario does."""
    states = []
    for loop in loops_of(truck, solved.work.scenario):
        m, asked, ordered = loop.column, solved.work.asked, float(loop.ordered)
        speed = solved.result.speed[:, m]
        try:
            command = command_of(loop.function, asked[:, m])
        except MissingValue:
            command = np.full(speed.size, np.nan)
        out = (speed < ordered * (1.0 - REACHED)) & ~_slow(solved.result, loop, asked)
        states.append(LoopState(loop.function.name, ordered, speed, command, out))
    return tuple(states)


def _slow(result: Result, loop: Loop, asked: Array) -> Mask:
    """Where a shaft is slower than ordered and its command may still rise, (N,)."""
    m = loop.column
    slow = result.speed[:, m] < loop.ordered * (1.0 - REACHED)
    return np.asarray(slow & (asked[:, m] < loop.most * (1.0 - FINE)))


def _raised(
    truck: Truck, work: Work, asked: Array, result: Result, loop: Loop
) -> tuple[Array, Result]:
    """Commands and result with one loop closed, the others as they are.

    The lack of speed falls as the command rises: a straight line between two commands around its
    root, whose end that stays has half the weight the next time (the Illinois rule).
    """
    m, slow = loop.column, _slow(result, loop, asked)

    def lack(flow: Array) -> tuple[Array, Array, Result]:
        at = asked.copy()
        at[:, m] = flow
        found = solve(truck, replace(work.points, asked=at))
        return loop.ordered - found.speed[:, m], at, found

    low, at_low = asked[:, m], loop.ordered - result.speed[:, m]
    high = np.where(slow, loop.most, low)
    at_high, best, found = lack(high)
    seek = slow & (at_high < 0.0)
    flow, near = high, np.zeros(low.size, dtype=bool)
    narrow = near
    kept = np.zeros(low.size)  # which end stayed: -1 low, 1 high
    for _ in range(MOST_STEPS):
        if not (seek & ~near).any():
            break
        gap = np.where(seek, at_low - at_high, 1.0)
        flow = np.where(seek & ~near, low + (high - low) * np.clip(at_low / gap, 0.0, 1.0), flow)
        value, best, found = lack(flow)
        short = value > 0.0
        at_high = np.where(short & (kept > 0), 0.5 * at_high, at_high)
        at_low = np.where(~short & (kept < 0), 0.5 * at_low, at_low)
        low, at_low = np.where(short, flow, low), np.where(short, value, at_low)
        high, at_high = np.where(short, high, flow), np.where(short, at_high, value)
        kept = np.where(short, 1.0, -1.0)
        narrow = high - low <= FINE * high
        near = near | narrow | (np.abs(value) <= FINE * loop.ordered)
    if (seek & narrow & (flow < high)).any():  # the speed jumps: the side that reaches it
        _, best, found = lack(np.where(seek & narrow, high, flow))
    return best, found
