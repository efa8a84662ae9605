"""How many combinations a second sizing judges, against the solver on the same machine.

    python tests/benchmarks/sizing.py

On the built-in needs, all in one run: combinations a second; the time that 100,000 of them take;
and the time that `solve` takes for 5 million random points of the tandem demo truck (from 100,000).
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from hydrocheck import demo
from hydrocheck.advice.sizing_frame import frames
from hydrocheck.advice.sizing_search import Count, Search
from hydrocheck.model.needs import read_needs
from hydrocheck.solver import solve
from tests.benchmarks.solver import TRUCK, random_points

POINTS = 100_000


def main() -> None:
    """Measure and print."""
    points = random_points(POINTS)
    start = time.perf_counter()
    solve(TRUCK, points)
    solver = (time.perf_counter() - start) * 5e6 / POINTS
    for name in demo.needs_names():
        start = time.perf_counter()
        count = Count()
        for frame in frames(read_needs(demo.needs_path(name))):
            search = Search(frame)
            for _ in search.everything():
                pass
            count.add(search.count)
        took = time.perf_counter() - start
        rate = count.combinations / took
        print(f"{name:10s} {count.combinations} combinations, {count.points} points solved")
        print(f"  all of them               {took:8.2f} s  {rate:9.0f} a second")
        print(f"  100,000 combinations      {took * 1e5 / count.combinations:8.2f} s")
    print(f"  5 million solver points   {solver:8.2f} s")


if __name__ == "__main__":
    main()
