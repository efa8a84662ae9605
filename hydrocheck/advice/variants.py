"""Hypotheses times tolerance draws, as arrays of the values that they change.

The draws are a two-level orthogonal design (Hadamard), each factor at plus or minus one standard
deviation: the covariance that it gives is exact where predictions are linear in the tolerances.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hydrocheck.advice.causes import Cause
from hydrocheck.advice.patient import WORDS, Knob, Patient
from hydrocheck.model.truck import Truck
from hydrocheck.physics.arrays import Array

DRAWS = 8
"""Tolerance draws: room for seven independent factors."""

Hypothesis = tuple[tuple[Cause, float], ...]
"""Causes with their severities: one, or two for a pair."""


@dataclass(frozen=True)
class Factor:
    """Values that vary together, each with its relative standard deviation."""

    about: str
    values: tuple[tuple[Knob, float], ...]


@dataclass(frozen=True)
class Variants:
    """H hypotheses times D draws: the value of each knob, (H * D,), draws running fastest."""

    hypotheses: tuple[Hypothesis, ...]
    draws: int
    scales: dict[str, Array]
    adds: dict[str, Array]

    @property
    def size(self) -> int:
        """H times D."""
        return len(self.hypotheses) * self.draws

    def scale(self, word: str) -> Array:
        """The product of what scales a value, (H * D,)."""
        return self.scales.get(word, np.ones(self.size))

    def add(self, word: str) -> Array:
        """The sum of what is added to a value, (H * D,)."""
        return self.adds.get(word, np.zeros(self.size))

    @property
    def paths(self) -> tuple[str, ...]:
        """Values of the circuit that change."""
        found = dict.fromkeys((*self.scales, *self.adds))
        return tuple(path for path in found if path not in WORDS)


def single_hypotheses(causes: Sequence[Cause]) -> tuple[Hypothesis, ...]:
    """Every cause at every severity of its grid; the first cause, healthy, stands once."""
    made: list[Hypothesis] = [((causes[0], 0.0),)]
    made += [((cause, float(s)),) for cause in causes[1:] for s in cause.grid()]
    return tuple(made)


def variants(patient: Patient, hypotheses: Sequence[Hypothesis], draws: bool = True) -> Variants:
    """The knobs of hypotheses times tolerance draws (or without any: as the truck file says)."""
    count = DRAWS if draws else 1
    size = (len(hypotheses), count)
    scales: dict[str, Array] = {}
    adds: dict[str, Array] = {}

    def put(knob: Knob, value: Array) -> None:
        into = scales if knob[0] == "scale" else adds
        start = np.ones(size) if knob[0] == "scale" else np.zeros(size)
        held = into.setdefault(knob[1], start)
        into[knob[1]] = held * value if knob[0] == "scale" else held + value

    for cause in dict.fromkeys(cause for one in hypotheses for cause, _ in one):
        rows = [i for i, one in enumerate(hypotheses) if cause in [c for c, _ in one]]
        severity = np.array([dict(hypotheses[i])[cause] for i in rows])
        for knob, value in cause.changes(patient, severity).items():
            full = np.full((len(hypotheses), 1), 1.0 if knob[0] == "scale" else 0.0)
            full[rows, 0] = value
            put(knob, full)
    if draws:
        signs = hadamard(DRAWS)
        for column, factor in enumerate(factors(patient)[: DRAWS - 1], start=1):
            for knob, deviation in factor.values:
                put(knob, 1.0 + deviation * signs[None, :, column])
    flat = {path: value.reshape(-1) for path, value in scales.items()}
    return Variants(
        tuple(hypotheses), count, flat, {path: value.reshape(-1) for path, value in adds.items()}
    )


def hadamard(size: int) -> Array:
    """Signs of an orthogonal two-level design, (size, size); the first column is all ones."""
    rows = np.arange(size)
    common = rows[:, None] & rows[None, :]
    parity = np.zeros_like(common)
    while common.any():
        parity ^= common & 1
        common >>= 1
    return np.where(parity, -1.0, 1.0)


ASSUMED = 4.0
"""A value that nobody gave is taken to vary so many times as far."""


def factors(patient: Patient) -> tuple[Factor, ...]:
    """What varies between trucks of one file, `DRAWS` - 1 groups that vary independently.

    Standard deviations: half the half width that the truck file gives, else common practice.
    """
    truck, name = patient.truck, patient.name
    pump, motors = patient.pump.name, patient.motors
    own = [f"lines.{n}.restriction" for n in (*patient.supply, *patient.back)]
    common = [f"lines.{n}.restriction" for n in (*patient.pressure, *patient.returns)]
    others = [
        f"{f.name}.motor.load.{part}"
        for f in truck.function
        if f.name != name and len(f.motor) == 1 and f.motor[0].load is not None
        for part in ("constant", "linear", "square")
    ]
    oil = [f"oil.point[{i + 1}].viscosity" for i in range(len(truck.oil.point))] or ["oil.grade"]
    drive = f"{pump}.drive.ratio" if patient.pump.drive is not None else "engine.drive.ratio"

    def factor(deviation: float, paths: Sequence[str]) -> tuple[tuple[Knob, float], ...]:
        """A negative deviation varies against the rest of its factor."""
        sign = np.sign(deviation)
        return tuple(
            (("scale", p), sign * _deviation(patient, p, abs(deviation)))
            for p in paths
            if _has(truck, p)
        )

    load: tuple[tuple[Knob, float], ...] = ((("scale", "load"), _load_deviation(patient)),)
    speed: tuple[tuple[Knob, float], ...] = (
        (("scale", "engine"), 0.015),
        (("scale", "tachometer"), max(_deviation(patient, drive, 0.005), 0.005)),
    )
    return (
        Factor(
            "pump",
            factor(0.02, [f"{pump}.displacement"])
            + factor(0.015, [f"{pump}.volumetric_efficiency"]),
        ),
        Factor(
            "motor size and friction",
            factor(0.015, [f"{m}.displacement" for m in motors])
            + factor(0.03, [f"{m}.hydromechanical_efficiency" for m in motors]),
        ),
        Factor("motor slip", factor(0.02, [f"{m}.volumetric_efficiency" for m in motors])),
        Factor("loads", load + factor(0.2, others)),
        Factor(
            "section",
            factor(0.03, [f"{name}.section.rated_flow"])
            + factor(-0.03, [f"{name}.section.deadband"]),
        ),
        Factor("oil and lines", factor(0.12, oil) + factor(0.3, own) + factor(0.3, common)),
        Factor(
            "settings and engine speed",
            factor(0.04, [f"{pump}.margin", f"{pump}.standby"])
            + factor(0.03, [f"{pump}.compensator", *(f"{r}.setting" for r in patient.reliefs)])
            + speed,
        ),
    )


def _deviation(patient: Patient, path: str, usual: float) -> float:
    """Relative standard deviation of a value: from the truck file's tolerance where it has one."""
    half = patient.truck.tolerances.get(path)
    base = value_at(patient.truck, path)
    if half is not None and base:
        return 0.5 * half / abs(base)
    if path in patient.assumed:
        return min(ASSUMED * usual, 0.5)
    return usual


def _load_deviation(patient: Patient) -> float:
    path = f"{patient.motors[0]}.load.constant"
    return _deviation(patient, path, 0.2) if _has(patient.truck, path) else 0.2


def _has(truck: Truck, path: str) -> bool:
    return value_at(truck, path) is not None


def value_at(truck: Truck, path: str) -> float | None:
    """A single number of a circuit by its path, None where there is none."""
    value = truck.value(path)
    return None if value is None else float(value)
