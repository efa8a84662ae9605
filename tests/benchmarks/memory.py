"""How much memory many points need, solved in blocks of which four columns are kept.

    python tests/benchmarks/memory.py [POINTS [BLOCK]]

A child process solves random points of the tandem demo truck with `iter_solve`, holds all values of
four columns, and reports the most memory that it ever had; another does as much with a tenth of the
points.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

KEEP = ("pump_pressure", "auger.speed", "spinner.speed", "shaft_power")
LIMIT = 2**30


def child(size: int, block: int) -> None:
    """Solve, and print seconds, bytes of the columns and bytes of the process."""
    import numpy as np

    from hydrocheck import demo
    from hydrocheck.solver import Points, iter_solve, solved_functions

    truck, rng = demo.load("tandem"), np.random.default_rng(1)
    names = [f.name for f in solved_functions(truck)]

    def points(count: int) -> Points:
        return Points.of(
            truck,
            rng.uniform(70.0, 240.0, count),
            rng.uniform(270.0, 345.0, count),
            command={n: rng.uniform(0.0, 1.0, count) * (rng.random(count) < 0.5) for n in names},
        )

    start = time.process_time()
    kept = {name: np.empty(size) for name in KEEP}
    blocks = (points(min(block, size - i)) for i in range(0, size, block))
    for part in iter_solve(truck, blocks, KEEP):
        for name, column in kept.items():
            column[part.start : part.start + part.size] = part[name]
    took = time.process_time() - start
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (
        1 if sys.platform == "darwin" else 1024
    )
    print(took, sum(column.nbytes for column in kept.values()), most)


def main(size: int, block: int) -> None:
    """Run the children and print."""
    for count in (size // 10, size):
        command = [sys.executable, __file__, "--child", str(count), str(block)]
        words = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
        took, columns, most = (float(word) for word in words)
        verdict = "below" if most < LIMIT else "NOT BELOW"
        print(
            f"{count:10d} points in blocks of {block}: {count / took:9.0f} points/s, columns "
            f"{columns / 2**20:4.0f} MiB, process {most / 2**20:4.0f} MiB, {verdict} 1 GiB"
        )


if __name__ == "__main__":
    if "--child" in sys.argv:
        child(int(sys.argv[2]), int(sys.argv[3]))
    else:
        numbers = [int(word) for word in sys.argv[1:]]
        main(*(numbers + [10_000_000, 65_536][len(numbers) :]))
