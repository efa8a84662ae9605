"""How fast the steady state is found, against its own laws and a root finder called per point.

    python tests/benchmarks/solver.py [POINTS]

On the tandem demo truck, random engine speeds, oil temperatures and commands, all in one run:

- points per second of `solve`, for all points at once and for one
- evaluations of a function's branch law per point and function; once is the floor
- the time against one evaluation of all section and line laws, which no method can go below
- the ratio to scipy's brentq on plain-float closures, point by point (the tests' oracle), and how
  far the two differ
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from hydrocheck import demo
from hydrocheck.solver import Points, Result, solve, solved_functions
from hydrocheck.solver.branches import Branch, Climb
from hydrocheck.solver.compile import Network, compile_network
from tests.solver.oracle import Plant, Task

TRUCK = demo.load("tandem")
BY_HAND = 100
"""Points that are also solved one by one."""


def random_points(size: int) -> Points:
    """Half of the functions run; lifting cylinders among them."""
    rng = np.random.default_rng(1)
    return Points.of(
        TRUCK,
        rng.uniform(70.0, 240.0, size),
        rng.uniform(270.0, 345.0, size),
        command={
            f.name: rng.uniform(0.0, 1.0, size) * (rng.random(size) < 0.5)
            for f in solved_functions(TRUCK)
        },
        hopper=rng.uniform(0.0, 1.0, size),
    )


def count_evaluations(points: Points) -> float:
    """Evaluations of the branch law per point and function of one solve."""
    plain, count = Branch.climb, 0

    def counted(branch: Branch, flow: np.ndarray) -> Climb:
        nonlocal count
        count += flow.size
        return plain(branch, flow)

    Branch.climb = counted  # type: ignore[method-assign]  # counts on the way
    try:
        solve(TRUCK, points)
    finally:
        Branch.climb = plain  # type: ignore[method-assign]  # as it was
    return count / (points.size * len(solved_functions(TRUCK)))


def every_law_once(network: Network) -> None:
    """Motors, lines, sections, reliefs and pump at N points, once."""
    flow = network.commanded
    total = flow.sum(axis=1)
    for m, branch in enumerate(network.branches):
        climb = branch.climb(flow[:, m])
        np.minimum(1.0, np.sqrt(np.abs(climb.pressure) / branch.section_drop))
    pressure = network.main_line.drop(total)[0] + network.return_line.drop(total)[0]
    network.at_pump.flow(pressure, pressure)


def one_by_one(points: Points) -> list[float]:
    """Pump pressures by the oracle."""
    found = []
    for i in range(points.size):
        names = [f.name for f in solved_functions(TRUCK)]
        rows = {
            key: dict(zip(names, getattr(points, key)[i].tolist(), strict=True))
            for key in ("command", "retract", "thrown", "lower", "stop")
        }
        task = Task(
            float(points.engine_speed[i]),
            float(points.oil_temperature[i]),
            float(points.hopper[i]),
            **rows,
        )
        found.append(Plant(TRUCK, task).answer().pump)
    return found


def seconds(law: object, *given: object) -> tuple[float, object]:
    """Time of one call, and what it returns."""
    assert callable(law)
    start = time.perf_counter()
    out = law(*given)
    return time.perf_counter() - start, out


def main(size: int) -> None:
    """Measure and print."""
    points, single = random_points(size), random_points(1)
    solve(TRUCK, single)  # once unmeasured: imports
    took, result = seconds(solve, TRUCK, points)
    assert isinstance(result, Result)
    took_single, _ = seconds(solve, TRUCK, single)
    compiled, network = seconds(compile_network, TRUCK, points)
    floor, _ = seconds(every_law_once, network)
    few = points.take(np.arange(min(BY_HAND, size)))
    by_hand, pressures = seconds(one_by_one, few)
    difference = np.abs(np.asarray(pressures) / result.pump_pressure[: few.size] - 1.0).max()
    rate, rate_by_hand = size / took, few.size / by_hand
    print(f"points at once       {size:10d}  {rate:10.0f} points/s")
    print(f"one point                     1  {1e3 * took_single:10.1f} ms")
    print(f"compiling alone      {size:10d}  {size / compiled:10.0f} points/s")
    print(f"evaluations per point and function {count_evaluations(points):8.1f}")
    print(f"time / every law once              {took / floor:8.1f}")
    print(f"brentq on floats     {few.size:10d}  {rate_by_hand:10.0f} points/s")
    print(f"ratio to brentq                    {rate / rate_by_hand:8.0f}")
    print(f"largest difference in pump pressure {difference:9.1e}")
    print(f"worst residual  {max(result.flow_residual.max(), result.energy_residual.max()):29.1e}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
