"""The trade's decision aids as computed facts: what a gauge should show, what a slip means, ...

Each fact is a sentence with its numbers, its rule and the rule's source or blind spot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log

import numpy as np

from hydrocheck.advice.forecast import Forecast, forecast
from hydrocheck.advice.outcome import Diagnosis
from hydrocheck.advice.states import Order, State
from hydrocheck.advice.variants import variants
from hydrocheck.errors import MissingValue
from hydrocheck.model.readings import Reading
from hydrocheck.solver.fluid import fluid_at

WEAR_GROWTH, CLEARANCE_GROWTH = 1.4, 1.6
"""Growth of the loss in excess of a healthy truck's for a threefold drop of viscosity: up to the
first it is wear, bypass or a relief, from the second clearance slip in thin oil; 3^0.25 = 1.32 was
measured for an imposed leak (open data set "Condition monitoring of hydraulic systems", 2018)."""
CASE_RISE = 0.25
"""Rise of the drain flow from no load to full load beyond which leakage is excessive (trade column
on fluid power safety, part 1)."""
CASE_SHARE = (0.05, 0.10)
"""Drain flow over inlet flow that other published rules allow."""
LINE_SHARE = 0.15
"""Share of the power into the pump from which the heat of the lines is worth a word (ours)."""
LS_GAP = (100, 150)
"""Relief above compensator [psi] (trade column "Think first, then troubleshoot", chapter 8)."""


@dataclass(frozen=True)
class GaugeRow:
    """What a healthy truck's gauges show in one state [Pa]; signal is nan without an LS port."""

    name: str
    pump: float
    signal: float
    port: float


@dataclass(frozen=True)
class SlipRow:
    """A pump's slip as a flow at one engine speed [rad/s], [m3/s], and its share of the flow."""

    name: str
    engine: float
    theoretical: float
    slip: float

    @property
    def efficiency(self) -> float:
        """Volumetric efficiency at full stroke."""
        return 1.0 - self.slip / self.theoretical


@dataclass(frozen=True)
class Growth:
    """How the flow lost in excess of a healthy truck's grows as the oil thins.

    cold, hot: excess loss [m3/s]; factor: growth for a threefold drop of viscosity
    """

    cold: float
    hot: float
    factor: float

    @property
    def verdict(self) -> str:
        """What the growth points to."""
        if self.factor <= WEAR_GROWTH:
            return "wear, bypass or a relief"
        if self.factor >= CLEARANCE_GROWTH:
            return "clearance slip in thin oil"
        return "undecided"


@dataclass(frozen=True)
class Aids:
    """All that the circuit and the readings allow to say.

    line_heat: of all hoses and couplings at work in a healthy truck [W]
    """

    gauges: tuple[GaugeRow, ...]
    slip: tuple[SlipRow, ...]
    growth: Growth | None
    line_heat: float
    facts: tuple[str, ...]


def growth_of(cold: float, hot: float, viscosities: tuple[float, float]) -> Growth:
    """Growth of an excess loss between two viscosities, brought to a threefold drop.

    factor = (q_hot / q_cold)^(ln 3 / ln(nu_cold / nu_hot))

    cold, hot: loss in excess of the healthy truck's [m3/s], above 0
    viscosities: cold and hot [m2/s]

    >>> growth_of(1.0, 3.0, (60e-6, 20e-6)).verdict
    'clearance slip in thin oil'
    >>> growth_of(1.0, 1.3, (60e-6, 20e-6)).verdict
    'wear, bypass or a relief'
    """
    thick, thin = viscosities
    exponent = log(hot / cold) / log(thick / thin)
    return Growth(cold, hot, float(3.0**exponent))


def pump_or_relief(settings: Sequence[float], flows: Sequence[float]) -> str:
    """Which of pump and relief is bad, from flow over the relief at rising settings.

    settings: rising [Pa]; flows: [m3/s]

    Flow that falls away by a third as the setting rises is the pump's slip; flow that stays while
    the pressure stays low is the relief (a published troubleshooting reference, step 3).

    >>> pump_or_relief([5e6, 10e6, 15e6], [2.5e-3, 1.4e-3, 0.4e-3])
    'pump'
    >>> pump_or_relief([5e6, 10e6, 15e6], [2.5e-3, 2.45e-3, 2.4e-3])
    'relief'
    """
    if len(settings) < 2:
        raise MissingValue(["two settings of the relief"])
    return "pump" if flows[-1] < flows[0] * (1.0 - 1.0 / 3.0) else "relief"


def case_rise(no_load: float, full_load: float) -> float:
    """Rise of a drain flow from no load to full load, as a share of the first.

    >>> case_rise(1.0, 1.2) > CASE_RISE
    False
    """
    return full_load / no_load - 1.0


def heat_side(power: float, rejected: float, healthy_loss: float) -> str:
    """Which side makes the oil too hot: the circuit, or the cooler.

    power: into the pump [W]; rejected: by the cooler [W]; healthy_loss: heat of a healthy circuit
    over its power [1]

    A cooler that gives away more than a healthy circuit makes works: look for what makes the heat.

    >>> heat_side(100e3, 30e3, 0.25), heat_side(100e3, 10e3, 0.25)
    ('circuit', 'cooler')
    """
    return "circuit" if rejected > healthy_loss * power else "cooler"


def aids_for(diagnosis: Diagnosis) -> Aids:
    """The decision aids at the conditions of a diagnosis. Raises as `solve` does."""
    patient, base = diagnosis.patient, diagnosis.base
    held = replace(base, test="shaft held") if base.order(patient.name) else None
    states = {"nothing running (standby)": State(base.engine, base.oil), "at work": base}
    if held is not None:
        states[f"{patient.name} at stop (stall)"] = held
    hypotheses = [((diagnosis.healthy_cause, 0.0),)]
    made = forecast(
        patient, variants(patient, hypotheses, draws=False), list(states.values()),
        diagnosis.standard,
    )  # fmt: skip
    gauges = tuple(_gauge(made, name, state) for name, state in states.items())
    slip = _slip(diagnosis)
    growth = _growth(diagnosis)
    heat, power = _heat(made, base)
    facts = [*_facts(diagnosis, growth), *_facts_of_heat(diagnosis, made, base)]
    return Aids(gauges, slip, growth, heat, tuple(facts))


def _heat(made: Forecast, base: State) -> tuple[float, float]:
    """Heat of all lines, and power into the pump, at work [W]."""
    total = sum(
        float(made.take(heat, base)[0, 0])
        for name, heat in made.result.heat.items()
        if "line" in name
    )
    return total, float(made.take(made.result.shaft_power, base)[0, 0])


def _facts_of_heat(diagnosis: Diagnosis, made: Forecast, base: State) -> list[str]:
    """Where heat is made, and whether circuit or cooler is to blame."""
    lines, power = _heat(made, base)
    facts = []
    if power > 0.0 and lines > LINE_SHARE * power:
        facts.append(
            f"the hoses and couplings alone make {lines / 1e3:.1f} kW of heat, {lines / power:.0%}"
            " of the power into the pump: no cooler cures that, larger hoses do"
        )
    whole = float(made.take(made.result.total_heat, base)[0, 0])
    for reading, _ in diagnosis.unused:
        if reading.what.key != "cooler heat" or power <= 0.0:
            continue
        side = heat_side(power, reading.number, whole / power)
        where = (
            "more than a healthy circuit makes: the cooler works, look for leakage or a relief that"
            " passes"
            if side == "circuit"
            else "no more than a healthy circuit makes: look at the cooler, its air and its size"
        )
        facts.append(
            f"the cooler rejects {reading.number / 1e3:.1f} kW of the {power / 1e3:.1f} kW into the"
            f" pump, {where}"
        )
    return facts


def _gauge(made: Forecast, name: str, state: State) -> GaugeRow:
    result = made.result

    def at(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
        return float(made.take(values, state)[0, 0])

    port = float(made.column(result.work_pressure, state, made.patient.name)[0, 0])
    sensing = made.patient.pump.type == "load sensing"
    signal = at(result.load_signal) if sensing else np.nan
    return GaugeRow(name, at(result.pump_pressure), signal, port)


def _slip(diagnosis: Diagnosis) -> tuple[SlipRow, ...]:
    """The pump's slip at full stroke against a function at its stop, by engine speed."""
    patient = diagnosis.patient
    engine = patient.truck.engine
    speeds = {
        "idle": engine.idle,
        "working": diagnosis.standard.engine,
        "governed": engine.governed,
    }
    states = {
        name: State(float(speed), diagnosis.base.oil, orders=((patient.name, Order(1.0)),),
                    test="shaft held")
        for name, speed in speeds.items()
        if speed
    }  # fmt: skip
    hypotheses = [((diagnosis.healthy_cause, 0.0),)]
    made = forecast(
        patient, variants(patient, hypotheses, draws=False), list(states.values()),
        diagnosis.standard,
    )  # fmt: skip
    rows = []
    for name, state in states.items():
        shaft = float(made.take(made.result.pump_speed, state)[0, 0])
        theoretical = float(patient.pump.displacement or 0.0) * shaft
        slip = float(made.take(made.result.pump_slip, state)[0, 0])
        rows.append(SlipRow(name, float(state.engine or 0.0), theoretical, slip))
    return tuple(rows)


def _growth(diagnosis: Diagnosis) -> Growth | None:
    """From two speeds of the patient at different oil temperatures, all else alike."""
    name = diagnosis.patient.name
    found: list[tuple[float, float, Reading]] = []
    for healthy in diagnosis.healthy:
        reading = healthy.reading
        if str(reading.what) == f"{name} speed" and reading.at.oil and not reading.at.test:
            found.append((reading.at.oil, healthy.value - reading.number, reading))
    found.sort(key=lambda item: item[0])
    if len(found) < 2 or found[-1][0] - found[0][0] < 5.0:
        return None
    (cold, lost_cold, first), (hot, lost_hot, last) = found[0], found[-1]
    same = replace(first.at, oil=None, engine=None) == replace(last.at, oil=None, engine=None)
    # A loss within the readings' own doubt says nothing about its growth.
    doubt = first.uncertainty + last.uncertainty
    if not same or lost_cold <= doubt or lost_hot <= doubt:
        return None
    motor = diagnosis.patient.function.motor[0]
    flow = float(motor.displacement or 0.0) * float(motor.gearbox_ratio)
    nu = fluid_at(diagnosis.patient.truck, np.array([cold, hot])).viscosity
    return growth_of(flow * lost_cold, flow * lost_hot, (float(nu[0]), float(nu[1])))


def _facts(diagnosis: Diagnosis, growth: Growth | None) -> list[str]:
    """Sentences that readings give rise to."""
    facts = []
    by_what: dict[str, list[Reading]] = {}
    for healthy in diagnosis.healthy:
        by_what.setdefault(healthy.reading.what.key, []).append(healthy.reading)
    for reading, _ in diagnosis.unused:
        by_what.setdefault(reading.what.key, []).append(reading)
    if growth is not None:
        facts.append(
            f"cold against hot: the loss in excess of a healthy truck's grows {growth.factor:.1f}"
            f" times for a threefold viscosity drop: {growth.verdict} (up to {WEAR_GROWTH} wear or"
            f" a bypass, from {CLEARANCE_GROWTH} clearance slip); engine speed is allowed for"
        )
    facts += _facts_of_oil(by_what) + _facts_of_trims(diagnosis, by_what)
    pressures = [h for h in diagnosis.healthy if h.reading.what.key == "pump pressure"]
    if diagnosis.patient.pump.type == "load sensing" and diagnosis.patient.pump.standby:
        standby = float(diagnosis.patient.pump.standby)
        if any(
            abs(h.reading.number - standby) < 0.2 * standby and h.value > 1.5 * standby
            for h in pressures
        ):
            facts.append(
                "the pump stays at standby while a function is told to move: that points to a load"
                " signal that does not reach it, not to a worn pump (fork truck manual, our"
                " inference)"
            )
    if "case flow" in by_what or "NAME case flow" in by_what:
        facts.append(
            f"drain flow: {100 * CASE_SHARE[0]:.0f}-{100 * CASE_SHARE[1]:.0f} % of the inlet flow"
            f" is usual; a rise of more than {100 * CASE_RISE:.0f} % from no load to full load is"
            " too much; it misses wear that leaks from inlet to outlet; never block a drain"
        )
    if "pump flow" in by_what and diagnosis.patient.pump.type != "fixed":
        facts.append(
            "slip is a flow, not a share: judge the pump at full stroke only; at part stroke or low"
            " speed the same slip looks like a bad pump"
        )
    for reading in by_what.get("case pressure", []):
        if reading.number > 1.7e5:
            facts.append(
                "case pressure stands far above the usual 5 psi: it shifts the pump control and"
                " endangers the shaft seal; look at the drain line first"
            )
    return facts


def _facts_of_oil(by_what: dict[str, list[Reading]]) -> list[str]:
    said = {key: {r.value for r in readings} for key, readings in by_what.items()}
    facts = []
    if "milky" in said.get("oil look", ()):
        facts.append("milky oil is water; foam and a rising level are air")
    if "foam" in said.get("oil look", ()) or "rises" in said.get("oil level", ()):
        facts.append(
            "foam or a level that rises after the start is air: it is drawn in where the pressure"
            " is below the atmosphere's, so look along the suction side; the return must end below"
            " the oil"
        )
    if "erratic" in said.get("noise", ()):
        facts.append("an erratic noise that follows the flow is air; a steady one is cavitation")
    if "steady" in said.get("noise", ()):
        facts.append("a steady noise is cavitation (or a relief); an erratic one is air")
    if "high" in said.get("worse with engine speed", ()):
        facts.append(
            "worse at high engine speed points to an inlet that starves or a failing pump, not to"
            " low flow"
        )
    for verdict in said.get("relief turned up", ()):
        bad = "the pump" if verdict == "flow falls away" else "the relief"
        facts.append(f"bucket at the relief: {verdict} as the screw goes in: {bad}")
    return facts


def _facts_of_trims(diagnosis: Diagnosis, by_what: dict[str, list[Reading]]) -> list[str]:
    """Deadband and hysteresis, from minimum trims found going up and down."""
    trims = by_what.get("NAME minimum trim", [])
    up = [r.number for r in trims if r.at.swept == "up"]
    down = [r.number for r in trims if r.at.swept == "down"]
    facts = []
    if up and down:
        gap = up[0] - down[0]
        much = (
            "far more than the 3-15 % of a proportional valve: a valve made to be on or off, or a"
            " drive without ripple, does that"
        )
        usual = "within the 3-15 % that proportional valves have"
        facts.append(
            f"the valve opens at {100 * up[0]:.0f} % going up and closes at {100 * down[0]:.0f} %"
            f" going down: {100 * gap:.0f} points of hysteresis, {much if gap > 0.15 else usual}"
            " (range from memory); deadband is what is left at the middle of the two"
        )
    elif any(r.value == "stays open" for r in by_what.get("NAME motion", [])):
        facts.append(
            "a valve that stays open and then shuts at once has hysteresis: find the command at"
            " which it opens going up and closes going down"
        )
    return facts
