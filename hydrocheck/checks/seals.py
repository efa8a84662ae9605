"""Shaft seals of motors: what stands at the outlet, or in a case that has no drain."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import Amount, Judgement, Words, at_least, eased, upper, words
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.checks.subjects import FittedMotor
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Line
from hydrocheck.model.truck import Scenario
from hydrocheck.physics import lines
from hydrocheck.solver.fluid import fluid_at
from hydrocheck.studies.conditions import oil_temperatures
from hydrocheck.studies.work import Solved

Array = NDArray[np.float64]

AREA = "pressure ladder"

_SIXTEENTH, _WIDER = 0.0254 / 16.0, 32
"""Step and number of the wider bores that are tried [m]."""

_DRAINED = "a case drain keeps the shaft seal at tank pressure"


@dataclass(frozen=True)
class _Outlet:
    """Highest outlet pressure [Pa] of a motor, and where it stands so."""

    pressure: float
    scenario: Scenario
    solved: Solved
    n: int

    @property
    def at(self) -> dict[str, Amount | str]:
        result = self.solved.result
        return {
            "scenario": self.scenario.name,
            "engine": Amount(float(result.engine_speed[self.n]), "shaft_speed"),
            "oil": Amount(float(result.oil_temperature[self.n]), "temperature"),
        }


def _feeds_another(subject: FittedMotor) -> bool:
    last = len(subject.function.motor) - 1
    return subject.function.motors_in == "series" and subject.stage < last


def _in_series(truck: Truck) -> Iterable[tuple[str, FittedMotor]]:
    return [(label, one) for label, one in subjects.motors(truck) if _feeds_another(one)]


def _to_return(truck: Truck) -> Iterable[tuple[str, FittedMotor]]:
    return [(label, one) for label, one in subjects.motors(truck) if not _feeds_another(one)]


def _outlets(solved: Solved, subject: FittedMotor) -> Array:
    """Outlet pressure of a motor [Pa], (N,)."""
    result = solved.result
    outlets: Array = result.motor_outlet[subject.stage][:, result.column(subject.function.name)]
    return outlets


def _running(truck: Truck, subject: FittedMotor) -> list[Scenario]:
    """The scenarios that run a motor, by a task or by a link."""
    name = subject.function.name
    leads = {link.follows for link in truck.link if link.function == name}
    return [s for s in truck.scenario if any(t.name in leads | {name} for t in s.run)]


def _worst(look: Inspection, subject: FittedMotor, cold: bool) -> _Outlet | None:
    """Highest outlet pressure over the scenarios that run the motor.

    cold: with oil below its working temperature, else with oil from there to the hottest
    """
    working = float(oil_temperatures(look.truck, "working")[0])
    worst: _Outlet | None = None
    for scenario in _running(look.truck, subject):
        solved = look.over_oil(scenario)
        m = solved.result.column(subject.function.name)
        below = solved.result.oil_temperature < working
        here = (below == cold) & (solved.work.asked[:, m] > 0)
        if not here.any():
            continue
        outlets = np.where(here, _outlets(solved, subject), -np.inf)
        n = int(np.argmax(outlets))
        if worst is None or outlets[n] > worst.pressure:
            worst = _Outlet(float(outlets[n]), scenario, solved, n)
    return worst


def _limit(look: Inspection, subject: FittedMotor) -> tuple[float, bool]:
    """Pressure that a seal stands [Pa], and whether its maker says so."""
    stated = subject.motor.max_back_pressure
    if stated is not None:
        return float(stated), True
    return float(look.truck.limits.seal_pressure), False


@check(
    "series-seal-pressure",
    area=AREA,
    asks="Does the seal of a motor that feeds another in series stand the load of the next one?",
    formula="outlet pressure of the motor by the steady state, without a case drain",
    limit="the motor's max_back_pressure ({seal_pressure}, as a caution, where not given)",
    source=(
        "a motor maker's manual: series motors must be drained; the limit is the motor maker's, "
        "from memory otherwise"
    ),
    subjects=_in_series,
)
def series_seal_pressure(look: Inspection, subject: FittedMotor) -> Judgement:
    """Outlet pressure of a motor in front of another against its seal."""
    if subject.motor.case_drain:
        return Judgement("pass", words(_DRAINED))
    worst = _worst(look, subject, cold=False)
    if worst is None:
        return Judgement("pass", words("no scenario runs it"))
    limit, stated = _limit(look, subject)
    judged = upper(
        Amount(worst.pressure, "pressure"),
        Amount(limit, "pressure"),
        about="pressure between the motors in series",
        at=worst.at,
        change=words(
            "a case drain to tank, or a motor whose seal stands {p} or more",
            p=at_least(worst.pressure, "pressure"),
        ),
    )
    return judged if stated or judged.verdict != "fail" else replace(judged, verdict="caution")


@check(
    "seal-pressure",
    area=AREA,
    asks="Does the motor's shaft seal stand the back pressure of the return, hot and cold?",
    formula="outlet pressure by the steady state at oil.cold, oil.working and oil.hot, undrained",
    limit=(
        "the motor's max_back_pressure ({seal_pressure} where not given); a caution where "
        "only oil below its working temperature exceeds it"
    ),
    source="the limit is the motor maker's, from memory otherwise",
    subjects=_to_return,
)
def seal_pressure(look: Inspection, subject: FittedMotor) -> Judgement:
    """Back pressure at the shaft seal against its limit."""
    if subject.motor.case_drain:
        return Judgement("pass", words(_DRAINED))
    limit, stated = _limit(look, subject)
    warm = _worst(look, subject, cold=False)
    cold = _worst(look, subject, cold=True)
    if warm is None or cold is None:
        return Judgement("pass", words("no scenario runs it"))
    fails = warm.pressure > limit
    worst = cold if cold.pressure > warm.pressure and not fails else warm
    change = None
    if fails:
        change = words(
            "a case drain to tank, a larger return, or a motor whose seal stands {p} or more",
            p=at_least(max(warm.pressure, cold.pressure), "pressure"),
        )
    elif cold.pressure > limit:
        change = _warm_up(look, subject, limit)
    judged = upper(
        Amount(worst.pressure, "pressure"),
        Amount(limit, "pressure"),
        about="back pressure at the shaft seal",
        at=worst.at,
        change=change,
    )
    eased = judged.verdict == "fail" and not (fails and stated)
    return replace(judged, verdict="caution") if eased else judged


def _warm_up(look: Inspection, subject: FittedMotor, limit: float) -> Words:
    """The oil temperature, of those solved, from which the seal is safe in every scenario."""
    unsafe, oil = [], []
    for scenario in _running(look.truck, subject):
        solved = look.over_oil(scenario)
        m = solved.result.column(subject.function.name)
        over = (_outlets(solved, subject) > limit) & (solved.work.asked[:, m] > 0)
        unsafe += list(solved.result.oil_temperature[over])
        oil += list(solved.result.oil_temperature)
    warm = min((t for t in oil if t > max(unsafe)), default=None)
    if warm is None:
        return words("a case drain to tank, or a larger return")
    return words(
        "warm the oil to {warm} before work, or a case drain, or a larger return",
        warm=at_least(float(warm), "temperature"),
    )


def _drained(truck: Truck) -> Iterable[tuple[str, tuple[FittedMotor, Line]]]:
    """Motors with a case drain line."""
    drains = {line.of: line for line in truck.lines if line.carries == "case drain"}
    for label, one in subjects.motors(truck):
        if one.motor.case_drain and one.function.name in drains:
            yield label, (one, drains[one.function.name])


@check(
    "case-pressure",
    area=AREA,
    asks="Does the case drain line keep the motor's case at a low pressure, hot and cold?",
    formula="drop of the case drain line at what slips to the case, oil.cold to oil.hot",
    limit=(
        "the motor's max_back_pressure ({seal_pressure} where not given); a caution where only oil "
        "below its working temperature exceeds it"
    ),
    source="line losses at the motor's slip; the limit is the motor maker's, from memory otherwise",
    subjects=_drained,
)
def case_pressure(look: Inspection, subject: tuple[FittedMotor, Line]) -> Judgement:
    """Drop of a case drain line at the slip of its motor."""
    one, line = subject
    missing = [f"lines.{line.name}.{k}" for k in ("bore", "length") if getattr(line, k) is None]
    if missing:
        raise MissingValue(missing)
    flows, oils = [np.zeros(0)], [np.zeros(0)]
    for scenario in _running(look.truck, one):
        result = look.over_oil(scenario).result
        flows.append(result.case_flow[:, result.column(one.function.name)])
        oils.append(result.oil_temperature)
    flow, oil = np.concatenate(flows), np.concatenate(oils)
    if not (flow > 0).any():
        return Judgement("pass", words("no scenario sends oil to its case"))
    bore = look.bore(line)
    drops = _drain_drops(look, line, flow, oil, np.array([bore]))[:, 0]
    limit, stated = _limit(look, one)
    working = float(oil_temperatures(look.truck, "working")[0])
    warm = np.where(oil >= working, drops, 0.0)
    n = int(np.argmax(warm if warm.max() > limit else drops))
    wider = bore + _SIXTEENTH * np.arange(1.0, _WIDER + 1.0)
    fits = _drain_drops(look, line, flow, oil, wider).max(axis=0) <= limit
    change = words("a larger case drain line")
    if fits.any():
        change = words(
            "a bore of {bore} or more in the case drain line",
            bore=at_least(float(wider[int(np.argmax(fits))]), "length"),
        )
    judged = upper(
        Amount(float(drops[n]), "pressure"),
        Amount(limit, "pressure"),
        about="case pressure of the motor",
        at={"oil": Amount(float(oil[n]), "temperature")},
        given={"Q": Amount(float(flow[n]), "flow"), "bore": Amount(bore, "length")},
        change=change,
    )
    return judged if stated and warm.max() > limit else eased(judged)


def _drain_drops(look: Inspection, line: Line, flow: Array, oil: Array, bores: Array) -> Array:
    """Drop of a drain line at N flows and oil temperatures with K bores [Pa], (N, K)."""
    fluid = fluid_at(look.truck, oil)
    drops: Array = lines.pressure_drop(
        flow[:, None],
        bores[None, :],
        float(line.length or 0.0),
        float(line.roughness),
        float(line.loss_factor),
        fluid.density[:, None],
        fluid.viscosity[:, None],
    )
    return drops
