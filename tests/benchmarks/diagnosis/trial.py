"""The blind trial: how often the diagnosis finds what must be repaired, and how fast.

    python tests/benchmarks/diagnosis/trial.py [TRUCKS] [FIRST] [PROCESSES]

`world` draws trucks with one fault each, tells their files and answers measurements. The diagnosis
gets the file and "auger motion = slow", then what its own first suggestion asks for, reading by
reading. Scored by what has to be repaired. Beside it, on the same trucks: the priors alone, and the
same inference fed by a fixed textbook order of measurements.

The seed and the fault mix of `world`, and the priors of `hydrocheck/advice/causes.py`, were fixed
before the trial was first run. An early form of `truck_text` left the work lines out of the truck
file; results from before that was put right do not compare.
"""

from __future__ import annotations

import os
import pickle
import sys
import time
from collections import Counter
from dataclasses import dataclass
from multiprocessing import Pool
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))
sys.path.insert(0, str(Path(__file__).resolve().parent))

import world  # type: ignore[import-not-found]  # beside this file

from hydrocheck.advice.causes import causes_for
from hydrocheck.advice.diagnosis import Diagnosis, Session, reading_of
from hydrocheck.advice.measurements import MEASUREMENTS
from hydrocheck.advice.predict import Query
from hydrocheck.advice.states import State
from hydrocheck.model import Truck, truck_from_text
from hydrocheck.model.readings import readings_from_lines

SEED = 20240611
MOST = 5
"""Measurements after the symptom."""
KEPT = os.environ.get("TRIAL_RECORDS", "")
"""File to which records are added, for a closer look."""
EACH = 4
"""The textbook order is followed on every fourth truck: it costs as much time as the rest."""
SYMPTOM = ["auger motion = slow"]

TEXTBOOK = (
    "oil level", "oil temperature", "look of the oil", "noise of the pump", "engine speed",
    "whether the other functions are slow too", "pump pressure with another function at its stop",
    "pump pressure at work", "inlet vacuum", "flow of the pump", "flow over the main relief",
    "LS pressure", "coil voltage", "command on the display", "shaft speed by manual override",
    "work port pressure", "return pressure", "flow into the function", "shaft speed",
)  # fmt: skip
"""From the tank along the flow to the motor, as textbooks teach: common practice."""


def truck_text(truck: world.Truck) -> str:
    """The truck file: what its builder wrote down."""
    rpm, psi, gpm, in3, inlb = world.RPM, world.PSI, world.GPM, world.IN3REV, world.INLB
    auger, spinner, plow = (truck.works[n] for n in ("auger", "spinner", "plow"))
    pump = f"""
[[pump]]
name = "pump"
type = "{"load sensing" if truck.sensing else "fixed"}"
build = "{"piston" if truck.sensing else "gear"}"
feeds = ["bank"]
displacement = "{truck.displacement / in3:.4f} in^3/rev"
rated_speed = "1800 rpm"
rated_pressure = "{3000 if truck.sensing else 2000} psi"
volumetric_efficiency = {truck.pump_volumetric:.4f}
hydromechanical_efficiency = {truck.pump_mechanical:.4f}
"""
    if truck.sensing:
        pump += f"""margin = "{truck.margin / psi:.1f} psi"
compensator = "{truck.compensator / psi:.1f} psi"
standby = "{truck.standby / psi:.1f} psi"
"""
    bank = f"""
[[bank]]
name = "bank"
type = "{"parallel" if truck.sensing else "open centre"}"
section_drop = "{truck.drop / psi:.1f} psi"
"""
    if not truck.sensing:
        bank += 'neutral_flow = "20 gpm"\nneutral_drop = "60 psi"\n'
        bank += 'order = ["auger", "spinner", "plow"]\n'
    reliefs = f"""
[[relief]]
name = "main relief"
at = "pump"
of = "pump"
setting = "{truck.relief / psi:.1f} psi"
rated_flow = "28 gpm"
"""
    if truck.port_relief:
        reliefs += f"""
[[relief]]
name = "port relief"
at = "port"
of = "auger"
setting = "{truck.port_relief / 0.95 / psi:.1f} psi"
rated_flow = "15 gpm"
"""
    coil = (
        '\n[function.section.coil]\nresistance = "5.3 ohm"\nrated_current = "1.5 A"\n'
        'supply = "12.5 V"\n'
        if truck.coil_known
        else ""
    )
    functions = f"""
[[function]]
name = "auger"
kind = "feeder"
bank = "bank"
loop = "{"closed" if truck.closed else "open"}"
trims = {{ min = {auger.low:.4f}, max = {auger.high:.4f} }}
[function.motor]
displacement = "{auger.displacement / in3:.4f} in^3/rev"
rated_speed = "200 rpm"
rated_pressure = "1500 psi"
volumetric_efficiency = {auger.volumetric:.4f}
hydromechanical_efficiency = {auger.mechanical:.4f}
case_drain = {str(truck.drained).lower()}
[function.motor.load]
constant = "{auger.constant / inlb:.2f} in-lb"
linear = "{auger.linear / inlb:.3f} in-lb"
at = "60 rpm"
[function.section]
rated_flow = "{auger.rated_flow / gpm:.3f} gpm"
deadband = {auger.deadband:.4f}
{coil}
[[function]]
name = "spinner"
kind = "spinner"
bank = "bank"
trims = {{ min = {spinner.low:.4f}, max = {spinner.high:.4f} }}
[function.motor]
displacement = "{spinner.displacement / in3:.4f} in^3/rev"
rated_speed = "400 rpm"
rated_pressure = "1500 psi"
volumetric_efficiency = {spinner.volumetric:.4f}
hydromechanical_efficiency = {spinner.mechanical:.4f}
[function.motor.load]
constant = "{spinner.constant / inlb:.2f} in-lb"
linear = "{spinner.linear / inlb:.2f} in-lb"
at = "350 rpm"
[function.section]
rated_flow = "{spinner.rated_flow / gpm:.3f} gpm"
deadband = {spinner.deadband:.4f}

[[function]]
name = "plow"
kind = "cylinder"
bank = "bank"
section = {{ rated_flow = "{plow.rated_flow / gpm:.3f} gpm", deadband = 0.25 }}
[function.cylinder]
bore = "{(4 * plow.area / np.pi) ** 0.5:.5f} m"
stroke = "0.25 m"
acting = "single"
extend_load = "{plow.force:.1f} N"
"""
    lines = ""
    for work in (auger, spinner):
        for side in ("supply", "return"):
            lines += f"""
[lines.{work.name}_{side}]
role = "work {side}"
of = "{work.name}"
bore = "{work.bore:.5f} m"
length = "{work.length:.2f} m"
coupling = {{ rated_flow = "10 gpm", rated_drop = "{0.4 * work.line / psi:.2f} psi" }}
"""
    run = (
        f'auger = {{ speed = "{world.ordered(truck) / rpm:.3f} rpm" }}'
        if truck.closed
        else f"auger = {{ setting = {truck.setting['auger']:.4f} }}"
    )
    nu = 1e6 * truck.grade
    return f"""schema = 1
[truck]
name = "trial"
[engine]
idle = "700 rpm"
working = ["{truck.engine / rpm - 50:.2f} rpm", "{truck.engine / rpm + 50:.2f} rpm"]
governed = "2100 rpm"
drive = {{ ratio = {truck.ratio:.4f} }}
[oil]
point = [
  {{ temperature = "40 degC", viscosity = "{nu:.3f} cSt" }},
  {{ temperature = "100 degC", viscosity = "{0.195 * nu:.3f} cSt" }},
]
cold = "{truck.oil - 273.15 - 30:.2f} degC"
working = "{truck.oil - 273.15:.2f} degC"
hot = "{truck.oil - 273.15 + 20:.2f} degC"
{pump}{bank}{reliefs}{functions}{lines}
[lines.pressure]
of = "pump"
bore = "1 in"
length = "3 m"
[lines.return]
bore = "1-1/4 in"
length = "3 m"
[lines.return.filter]
rated_flow = "40 gpm"
rated_drop = "6 psi"
[lines.suction]
of = "pump"
bore = "2 in"
length = "1.2 m"
[[scenario]]
name = "spreading"
[scenario.run]
{run}
spinner = {{ setting = {truck.setting["spinner"]:.4f} }}
"""


def seen(state: State) -> world.Seen:
    """The world's conditions of a state."""
    orders = dict(state.orders)
    auger = orders.get("auger")
    return world.Seen(
        state.engine,
        state.oil,
        {name: (order.command, order.told) for name, order in orders.items()},
        auger.speed if auger else 0.0,
        state.stop,
        state.test,
    )


def answer(truck: world.Truck, query: Query) -> float | str:
    """What the world says to a measurement."""
    key, function = query.what.key, query.what.function
    found: float | str = world.read(truck, key, function, seen(query.state), query.instrument)
    return found


def best(diagnosis: Diagnosis) -> list[tuple[str, float]]:
    """What to repair, most probable first."""
    return list(diagnosis.groups.items())


Run = list[list[tuple[str, float]]]


def by_suggestion(truck: world.Truck, model: Truck, asked: list[str]) -> Run:
    """Rankings after 0, 1, ... measurements of the tool's own choice."""
    session = Session(model, readings_from_lines(SYMPTOM).readings)
    made = []
    for step in range(MOST + 1):
        diagnosis = session.diagnosis(suggest=step < MOST)
        made.append(best(diagnosis))
        if not diagnosis.suggestions:
            break
        first = diagnosis.suggestions[0]
        asked.append(first.measurement.title)
        session.add(reading_of(first.query, answer(truck, first.query)), first.query)
    return made + [made[-1]] * (MOST + 1 - len(made))


def by_textbook(truck: world.Truck, model: Truck) -> Run:
    """Rankings after 0, 1, ... measurements in the fixed order."""
    session = Session(model, readings_from_lines(SYMPTOM).readings)
    made = [best(session.diagnosis(suggest=False))]
    titles = {one.title: one for one in MEASUREMENTS}
    for title in TEXTBOOK:
        query = titles[title].query(session.patient, session.base)
        if query is None:
            continue
        if "coil" in title and not truck.coil_known:
            continue
        session.add(reading_of(query, answer(truck, query)), query)
        made.append(best(session.diagnosis(suggest=False)))
        if len(made) > MOST:
            break
    return made


def by_priors(model: Truck) -> list[tuple[str, float]]:
    """What to repair by the priors alone."""
    session = Session(model, readings_from_lines(SYMPTOM).readings)
    total: dict[str, float] = {}
    for cause in causes_for(session.patient)[1:]:
        total[cause.group] = total.get(cause.group, 0.0) + cause.prior
    whole = sum(total.values())
    return sorted(((g, p / whole) for g, p in total.items()), key=lambda item: -item[1])


def rank(ranking: list[tuple[str, float]], group: str) -> int:
    """Place of what has to be repaired, from 1; the truth may be one of a pair."""
    for place, (name, _) in enumerate(ranking, start=1):
        if group == name or group in name.split(" and "):
            return place
    return 99


def rates(title: str, runs: list[Run], truth: list[str], steps: int) -> None:
    """Top-1 and top-3 by number of measurements."""
    print(f"{title:24s}" + "".join(f"{k:>8d}" for k in range(steps + 1)))
    for most in (1, 3):
        shares = [
            np.mean(
                [
                    rank(run[min(k, len(run) - 1)], g) <= most
                    for run, g in zip(runs, truth, strict=True)
                ]
            )
            for k in range(steps + 1)
        ]
        print(f"  top-{most:<18d}" + "".join(f"{100 * s:7.1f}%" for s in shares))


def calibration(runs: list[Run], truth: list[str]) -> None:
    """Stated probability of the first against how often it was right, all steps together."""
    stated, right = [], []
    for run, group in zip(runs, truth, strict=True):
        for ranking in run:
            stated.append(ranking[0][1])
            right.append(rank(ranking[:1], group) == 1)
    stated_, right_ = np.array(stated), np.array(right)
    print("calibration of the first: stated, right, cases")
    for low in np.arange(0.0, 1.0, 0.1):
        mask = (stated_ >= low) & (stated_ < low + 0.1 + (low > 0.85))
        if mask.sum() >= 10:
            print(f"  {stated_[mask].mean():6.2f}  {right_[mask].mean():6.2f}  {mask.sum():6d}")


def needed(runs: list[Run], truth: list[str], most: int) -> float:
    """Mean measurements until the truth first stands first, `most` where it never does."""
    counts = [
        next((k for k, r in enumerate(run) if rank(r, g) == 1), most)
        for run, g in zip(runs, truth, strict=True)
    ]
    return float(np.mean(counts))


@dataclass(frozen=True)
class Record:
    """One truck of the trial: what is wrong, and the rankings of each way."""

    group: str
    fault: str
    tool: Run
    textbook: Run
    priors: Run
    asked: list[str]


def one(number: int) -> Record:
    """One truck through all ways."""
    truck = world.ill(np.random.default_rng([SEED, number]))
    model = truck_from_text(truck_text(truck))
    asked: list[str] = []
    tool = by_suggestion(truck, model, asked)
    textbook = by_textbook(truck, model) if number % EACH == 0 else []
    return Record(truck.group, truck.fault, tool, textbook, [by_priors(model)], asked)


def main(count: int, start: int, jobs: int) -> None:
    """Run and print."""
    records: list[Record] = []
    began = time.perf_counter()
    with Pool(jobs) as pool:
        for record in pool.imap_unordered(one, range(start, start + count)):
            records.append(record)
            if KEPT:
                with open(KEPT, "ab") as file:
                    pickle.dump(record, file)
            if len(records) % 20 == 0:
                took = time.perf_counter() - began
                print(f"... {len(records)} trucks, {took / len(records):.1f} s each", flush=True)
                if len(records) % 100 == 0 and len(records) < count:
                    show(records, start)
    show(records, start)


def show(records: list[Record], start: int) -> None:
    """Print all that is scored."""
    truth, faults = [r.group for r in records], [r.fault for r in records]
    tool, both = [r.tool for r in records], [r for r in records if r.textbook]
    textbook, alike = [r.textbook for r in both], [r.tool for r in both]
    known = [r.group for r in both]
    print(f"{len(records)} trucks with one fault each, from number {start}, seed {SEED}")
    print("measurements after the symptom:")
    rates("own suggestions", tool, truth, MOST)
    rates("priors only", [r.priors for r in records], truth, 0)
    print(f"on {len(both)} of them, beside the textbook order:")
    rates("own suggestions", alike, known, MOST)
    rates("fixed textbook order", textbook, known, MOST)
    print(
        "mean measurements until right: own"
        f" {needed(alike, known, MOST + 1):.2f}, textbook {needed(textbook, known, MOST + 1):.2f}"
        f" (never counts as {MOST + 1})"
    )
    calibration(tool, truth)
    print("by fault, after four: cases, top-1, top-3, most often taken for")
    for fault in sorted(set(faults)):
        rows = [i for i, f in enumerate(faults) if f == fault]
        places = np.array([rank(tool[i][4], truth[i]) for i in rows])
        wrong = Counter(tool[i][4][0][0] for i in rows if rank(tool[i][4], truth[i]) != 1)
        taken = ", ".join(f"{name} {n}" for name, n in wrong.most_common(2))
        print(
            f"  {fault:14s} {len(rows):4d} {100 * np.mean(places <= 1):6.0f}%"
            f" {100 * np.mean(places <= 3):6.0f}%  {taken}"
        )
    print("measurements asked for:")
    for title, times in Counter(t for r in records for t in r.asked).most_common(12):
        print(f"  {times:5d}  {title}")
    sys.stdout.flush()


if __name__ == "__main__":
    numbers = [int(a) for a in sys.argv[1:]]
    main(*(numbers + [1000, 0, 2][len(numbers) :]))
