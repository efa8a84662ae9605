"""How fast the steady state is found, against its own laws and a root finder called per point.

    python tests/benchmarks/solver.py [POINTS]

On the tandem demo truck (load sensing, a main relief, pump line, work lines, return line with
filter), random engine speeds, oil temperatures and commands. Two mixes: `spreading`, its three
motors at once, and `all`, with the two cylinders, each function in half of the points. All in one
run, on one core, in processor time, the best of a few:

- points per second of `solve`, and the share of points where something is short
- evaluations of a function's branch law per point and function; once is the least
- the time against the floor: one evaluation of all section and line laws, which no method can go
  below
- the time for few points and for many: the cost is linear in points
- the ratio to scipy's brentq on plain-float closures, point by point (the tests' oracle), at equal
  tolerance, and how far the two differ
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from hydrocheck import demo
from hydrocheck.solver import FunctionLimit, Points, solve, solved_functions
from hydrocheck.solver.branches import Branch, Climb
from hydrocheck.solver.compile import compile_plant
from hydrocheck.solver.network import Network
from tests.solver.oracle import Plant
from tests.solver.test_against_oracle import task_of

TRUCK = demo.load("tandem")
MOTORS = ("auger", "spinner", "liquid")
BY_HAND = 100
"""Points that are also solved one by one."""


def random_points(size: int, mix: str = "all") -> Points:
    """Random points of a mix of functions."""
    rng = np.random.default_rng(1)
    running = {
        f.name: rng.uniform(0.0, 1.0, size) * (rng.random(size) < 0.5)
        for f in solved_functions(TRUCK)
    }
    if mix == "spreading":
        running = {name: rng.uniform(0.3, 1.0, size) for name in MOTORS}
    return Points.of(
        TRUCK,
        rng.uniform(70.0, 240.0, size),
        rng.uniform(270.0, 345.0, size),
        command=running,
        hopper=rng.uniform(0.0, 1.0, size),
    )


def best(law: Callable[[], Any], times: int = 5) -> tuple[float, Any]:
    """Least processor time of a few calls, and what the last returned."""
    took = []
    for _ in range(times):
        start = time.process_time()
        out = law()
        took.append(time.process_time() - start)
    return min(took), out


def count_evaluations(points: Points) -> float:
    """Evaluations of the branch law per point and function of one solve."""
    plain, count = Branch.climb, 0

    def counted(branch: Branch, flow: np.ndarray) -> Climb:
        nonlocal count
        count += flow.size
        return plain(branch, flow)

    Branch.climb = counted  # type: ignore[method-assign]  # counts on the way
    try:
        result = solve(TRUCK, points)
    finally:
        Branch.climb = plain  # type: ignore[method-assign]  # as it was
    return count / (points.size * int((result.asked > 0).any(axis=0).sum()))


def every_law_once(network: Network) -> None:
    """Motors, lines, sections, reliefs and pump at N points, once, of the functions that run."""
    total = np.zeros(network.viscosity.size)
    for branch in network.branches:
        if branch.commanded.any():
            climb = branch.climb(branch.commanded)
            np.minimum(1.0, np.sqrt(np.abs(climb.pressure) / branch.section_drop))
            total = total + branch.commanded
    pressure = network.main_line.drop(total)[0] + network.return_line.drop(total)[0]
    network.at_pump.flow(pressure, pressure)


def one_by_one(points: Points) -> list[float]:
    """Pump pressures by the oracle."""
    return [Plant(TRUCK, task_of(TRUCK, points, i)).answer().pump for i in range(points.size)]


def report(size: int, mix: str) -> None:
    """Measure and print one mix."""
    points = random_points(size, mix)
    took, result = best(lambda: solve(TRUCK, points))
    compiled, plant = best(lambda: compile_plant(TRUCK, points))
    network = plant.networks[0]
    floor, _ = best(lambda: every_law_once(network))
    few = points.take(np.arange(min(BY_HAND, size)))
    by_hand, pressures = best(lambda: one_by_one(few), 1)
    difference = np.abs(np.asarray(pressures) / result.pump_pressure[: few.size] - 1.0).max()
    short = (result.function_limit > FunctionLimit.COMMAND).any(axis=1).mean()
    rate, rate_by_hand = size / took, few.size / by_hand
    print(f"--- {mix}: {100.0 * short:.0f} % of the points short of something")
    print(f"points at once       {size:10d}  {rate:10.0f} points/s")
    print(f"compiling alone      {size:10d}  {size / compiled:10.0f} points/s")
    print(f"floor: each law once {size:10d}  {size / floor:10.0f} points/s")
    print(f"time over the floor                  {took / floor:8.1f}")
    print(f"evaluations per point and function   {count_evaluations(points):8.1f}")
    print(f"brentq on floats     {few.size:10d}  {rate_by_hand:10.0f} points/s")
    print(f"ratio to brentq                      {rate / rate_by_hand:8.0f}")
    print(f"largest difference in pump pressure  {difference:8.1e}")
    worst = max(result.flow_residual.max(), result.energy_residual.max())
    print(f"worst residual                       {worst:8.1e}")


def main(size: int) -> None:
    """Measure and print."""
    solve(TRUCK, random_points(1))  # once unmeasured: imports
    for mix in ("spreading", "all"):
        report(size, mix)
    print("--- spreading, by the number of points")
    for count in sorted({1, 10, 100, 1_000, 10_000, size, 4 * size}):
        points = random_points(count, "spreading")
        took, _ = best(lambda points=points: solve(TRUCK, points), 3)
        print(f"{count:10d} points {1e3 * took:10.2f} ms {1e6 * took / count:10.2f} us each")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
