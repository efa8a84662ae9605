"""How long the commands take, against what they cannot do without.

    python tests/benchmarks/startup.py [REPEATS]

`hydrocheck --help` against `import click`, `hydrocheck check` against `import numpy`. The runs
are interleaved, so that a busy machine slows all alike; the medians and their ratios are printed.
Compiled modules are kept, as those of an installed package are.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time

HYDROCHECK = [sys.executable, "-c", "from hydrocheck.cli import main; main()"]
CASES = {
    "import click": [sys.executable, "-c", "import click"],
    "hydrocheck --help": [*HYDROCHECK, "--help"],
    "import numpy": [sys.executable, "-c", "import numpy"],
    "hydrocheck check": [*HYDROCHECK, "check"],
}
KEEP = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
PAIRS = [("hydrocheck --help", "import click"), ("hydrocheck check", "import numpy")]


def seconds(command: list[str]) -> float | None:
    """Wall time of one run; None when it did not do its work."""
    start = time.perf_counter()
    done = subprocess.run(command, capture_output=True, check=False, env=KEEP)
    elapsed = time.perf_counter() - start
    return elapsed if done.returncode in {0, 1} else None  # 1: the check found a fault


def main(repeats: int) -> None:
    times: dict[str, list[float]] = {name: [] for name in CASES}
    for name, command in CASES.items():  # once unmeasured: fills the disk cache
        if seconds(command) is None:
            print(f"{name}: does not run, left out")
            del times[name]
    for _ in range(repeats):
        for name, values in times.items():
            elapsed = seconds(CASES[name])
            if elapsed is not None:
                values.append(elapsed)
    median = {name: statistics.median(values) for name, values in times.items() if values}
    for name, value in median.items():
        print(f"{name:<20} {value * 1e3:7.0f} ms  (median of {len(times[name])})")
    for ours, theirs in PAIRS:
        if ours in median and theirs in median:
            print(f"{ours} / {theirs}: {median[ours] / median[theirs]:.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 11)
