"""How fast a long log runs through a truck, against the solver alone and the reading alone.

    python tests/benchmarks/replay.py [ROWS] [LOG]

Writes a log of our own making (or takes one), and measures in one run:

- rows per second of reading, by each reader that is installed
- rows per second of the whole replay, and after reading
- its time against one call of the solver on as many of the same points
- the greatest memory of the process
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from hydrocheck import demo
from hydrocheck.demo.route import ROUTE, route_lines
from hydrocheck.model.logfile import has_pyarrow, open_log
from hydrocheck.solver import solve
from hydrocheck.studies.replay import ReplayOrder, replay_log, rows_of
from hydrocheck.studies.spreadplan import plan_rows, spreading_scenario

TRUCK = demo.load("tandem")


def write_log(path: Path, rows: int) -> None:
    """About so many rows, 0.5 s apart."""
    rounds = max(1, round(rows / (2 * sum(part[0] for part in ROUTE))))
    with path.open("w", encoding="utf-8") as file:
        file.writelines(f"{line}\n" for line in route_lines(TRUCK, rounds))


def read_only(path: Path, reader: str) -> tuple[int, float]:
    """Rows, and the time of reading them."""
    start = time.process_time()
    rows = sum(block.size for block in open_log(path, reader=reader).blocks())
    return rows, time.process_time() - start


def solver_only(path: Path) -> float:
    """Points per second of `solve` on the first block's points, planned before."""
    scenario = spreading_scenario(TRUCK, None)
    block = next(iter(open_log(path).blocks()))
    plan = plan_rows(TRUCK, scenario, rows_of(block, {"rate": 0.1, "oil": 316.0, "on": 1.0}))
    start = time.process_time()
    solve(TRUCK, plan.work.points)
    return block.size / (time.process_time() - start)


def main(rows: int, path: Path) -> None:
    """Measure and print; times are of the processor, so that other work does not count."""
    rate = solver_only(path)
    rate = max(rate, solver_only(path))
    spent = {}
    for reader in ("numpy", *(["pyarrow"] if has_pyarrow() else [])):
        rows, spent[reader] = read_only(path, reader)
        print(f"reading by {reader:8s} {rows:10d} rows  {rows / spent[reader]:10.0f} rows/s")
    start = time.process_time()
    replay_log(TRUCK, open_log(path), ReplayOrder())
    whole = time.process_time() - start
    after = whole - min(spent.values())
    print(f"replay              {rows:10d} rows  {rows / whole:10.0f} rows/s")
    print(f"replay after reading                 {rows / after:10.0f} rows/s")
    print(f"solver alone                         {rate:10.0f} points/s")
    print(f"ratio to the solver alone            {after * rate / rows:10.2f}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"greatest memory                      {peak:10.0f} MiB")


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 500_000
    if len(sys.argv) > 2:
        main(wanted, Path(sys.argv[2]))
    else:
        with tempfile.TemporaryDirectory() as folder:
            log = Path(folder) / "log.csv"
            write_log(log, wanted)
            main(wanted, log)
