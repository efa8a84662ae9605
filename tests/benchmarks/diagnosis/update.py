"""How long a full update with 12 readings takes, against a process that only imports numpy.

    python tests/benchmarks/diagnosis/update.py

A new diagnosis each time: every state solved, every cause weighed, every measurement foreseen. The
issue of time is a mechanic who waits; ten times a bare `import numpy` is the aim.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from hydrocheck import demo
from hydrocheck.advice.diagnosis import Session
from hydrocheck.model.readings import readings_from_lines

READINGS = (
    "auger motion = slow", "other functions = normal", "noise = none", "engine speed = 1290 rpm",
    "auger speed = 24 rpm", "auger command = 54 %", "auger coil current = 0.81 A",
    "auger coil voltage = 12.4 V", "pump pressure = 990 psi", "auger pressure = 640 psi",
    "auger speed = 95 rpm @ test manual override", "auger speed = 25 rpm @ spinner off, liquid off",
)  # fmt: skip
TIMES = 7


def update() -> float:
    """Seconds of one full update."""
    truck = demo.load("tandem")
    readings = readings_from_lines(READINGS).readings
    start = time.perf_counter()
    answer = Session(truck, readings).diagnosis()
    took = time.perf_counter() - start
    assert len(answer.healthy) == len(READINGS)
    return took


def bare() -> float:
    """Seconds of a process that imports numpy and ends."""
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", "import numpy"], check=True)
    return time.perf_counter() - start


def main() -> None:
    """Measure in turns, so that a busy machine slows both, and print the medians."""
    update()  # once unmeasured: imports
    pairs = [(update(), bare()) for _ in range(TIMES)]
    ours, theirs = (sorted(column)[TIMES // 2] for column in zip(*pairs, strict=True))
    print(f"update with {len(READINGS)} readings {1e3 * ours:8.0f} ms")
    print(f"process that imports numpy  {1e3 * theirs:8.0f} ms")
    print(f"ratio                       {ours / theirs:8.1f}   (aim: at most 10)")


if __name__ == "__main__":
    main()
