"""The causes that diagnosis knows: each one physical parameter over a grid of severities.

Priors are relative frequencies among trucks with a slow function. They are our own guesses (no open
count of such repairs was found) and were fixed before the blind trial was first run.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from hydrocheck.advice.patient import Changes, Knob, Patient, rated_flow
from hydrocheck.advice.states import usual
from hydrocheck.physics.arrays import Array
from hydrocheck.units import show

NODES = 6
"""Severities of a cause that are solved; between them predictions are taken as straight lines."""


@dataclass(frozen=True, eq=False)  # each is itself, and nothing else
class Cause:
    """One thing that can be wrong.

    name: in words; group: what a mechanic repairs, the level at which a diagnosis is right or wrong
    prior: relative frequency; low, high: ends of its severity, log: whether steps are ratios
    severity: what the number says, with {} where it stands as percent
    changes: knobs by severity; fits: whether a truck can have it
    words: probability of words that no equation gives, by what is read
    """

    name: str
    group: str
    prior: float
    low: float
    high: float
    severity: str
    changes: Callable[[Patient, Array], Changes]
    fits: Callable[[Patient], bool]
    action: str
    caution: str = ""
    log: bool = False
    unit: str = "percent"
    words: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    def grid(self) -> Array:
        """The severities that are solved, (NODES,)."""
        if self.log:
            return np.geomspace(self.low, self.high, NODES)
        return np.linspace(self.low, self.high, NODES)

    def told(self, severity: float, system: str = "us") -> str:
        """A severity in words."""
        if self.unit == "percent":
            return self.severity.format(f"{100.0 * severity:.0f} %")
        return self.severity.format(show(severity, self.unit, system))


def _scale(*paths: str) -> Callable[[Patient, Array], Changes]:
    """One less the severity multiplies the values; `{}` stands for the function's name."""
    return lambda p, s: {("scale", path.format(p.name)): 1.0 - s for path in paths}


def _to_share(path: str) -> Callable[[Patient, Array], Changes]:
    """The severity itself multiplies the value."""
    return lambda p, s: {("scale", path.format(p.name)): s}


def _add(path: str, factor: float = 1.0) -> Callable[[Patient, Array], Changes]:
    return lambda p, s: {("add", path.format(p.name)): factor * s}


def _pump_worn(patient: Patient, severity: Array) -> Changes:
    lost = 1.0 - float(patient.pump.volumetric_efficiency or 0.93)
    return {("add", f"{patient.pump.name}.wear"): severity / max(lost, 0.01)}


def _motor_worn(patient: Patient, severity: Array) -> Changes:
    made: dict[Knob, Array] = {}
    for motor, path in zip(patient.function.motor, patient.motors, strict=True):
        lost = 1.0 / float(motor.volumetric_efficiency or 0.93) - 1.0
        made["add", f"{path}.wear"] = severity / max(lost, 0.01)
    return made


def _restricted(which: str) -> Callable[[Patient, Array], Changes]:
    """Lines, with couplings and filter, whose drop at full flow rises by the severity times the
    highest pressure of the pump."""

    def changes(patient: Patient, severity: Array) -> Changes:
        made: dict[Knob, Array] = {}
        lines, names = {line.name: line for line in patient.truck.lines}, getattr(patient, which)
        standard = usual(patient)
        flow = rated_flow(patient.function) if which in ("supply", "back") else 0.0
        flow = flow or patient.full_flow(standard.engine)
        drop = max(patient.line_drop(names, flow, standard.oil), 1.0)
        factor = 1.0 + severity * patient.highest_pressure / drop
        for name in names:
            line, path = lines[name], f"lines.{name}"
            if line.bore is not None:
                made["scale", f"{path}.restriction"] = factor
            for i in range(len(line.coupling)):
                made["scale", f"{path}.coupling[{i + 1}].restriction"] = factor
            if line.filter is not None:
                made["scale", f"{path}.filter.restriction"] = factor
        return made

    return changes


def _motor_of_other_size(patient: Patient, severity: Array) -> Changes:
    made: dict[Knob, Array] = {}
    for motor, path in zip(patient.function.motor, patient.motors, strict=True):
        made["scale", f"{path}.displacement"] = severity
        if motor.derived_displacement is not None:
            made["scale", f"{path}.derived_displacement"] = severity
    return made


def _reliefs(patient: Patient, severity: Array) -> Changes:
    return {("add", f"{name}.weakness"): severity for name in patient.reliefs}


def _port_reliefs(patient: Patient, severity: Array) -> Changes:
    return {("add", f"{name}.weakness"): severity for name in patient.port_reliefs}


def _drive(patient: Patient, severity: Array) -> Changes:
    path = "engine.drive.ratio"
    if patient.pump.drive is not None:
        path = f"{patient.pump.name}.drive.ratio"
    return {("scale", path): 1.0 - severity}


def _control(attribute: str) -> Callable[[Patient, Array], Changes]:
    return lambda p, s: {("scale", f"{p.pump.name}.{attribute}"): 1.0 - s}


def _suction(patient: Patient, severity: Array) -> Changes:
    """A pump that cannot fill: its line lets so much follow and no more, at any speed.

    The vacuum rises to most of an atmosphere as it starves.
    """
    return {
        ("add", "starve"): severity,
        ("add", "vacuum"): 2.5e4 + 5e4 * np.sqrt(severity),
    }


def _voltage(patient: Patient, severity: Array) -> Changes:
    """The supply sags: what current is left decides the highest command."""
    coil = patient.function.section.coil
    reserve = 1.35  # of a usual 12 V coil, warm
    if coil is not None and coil.supply and coil.resistance and coil.rated_current:
        warm = float(coil.resistance) * 1.16  # at 60 degC
        reserve = float(coil.supply) / warm / float(coil.rated_current)
    limit = np.minimum((1.0 - severity) * reserve, 1.0)
    return {
        ("scale", "voltage"): 1.0 - severity,
        ("scale", "supply"): limit,
    }


def _thick(patient: Patient, severity: Array) -> Changes:
    """Another oil: its viscosity times the severity at every temperature."""
    oil = patient.truck.oil
    if oil.point:
        paths = [f"oil.point[{i + 1}].viscosity" for i in range(len(oil.point))]
    else:
        paths = ["oil.grade"]
    return {("scale", path): severity for path in paths}


def _thin(patient: Patient, severity: Array) -> Changes:
    return {knob: 1.0 / value for knob, value in _thick(patient, severity).items()}


def _always(patient: Patient) -> bool:
    return True


def _sensing(patient: Patient) -> bool:
    return patient.pump.type == "load sensing"


def _controlled(patient: Patient) -> bool:
    return patient.pump.type != "fixed"


def _divided(patient: Patient) -> bool:
    return patient.bank is not None and patient.bank.type in ("priority valve", "gear divider")


_STEADY = {"noise": {"none": 0.30, "steady": 0.60, "erratic": 0.10}}
_USUAL_WORDS: Mapping[str, Mapping[str, float]] = {
    "noise": {"none": 0.80, "steady": 0.12, "erratic": 0.08},
    "oil look": {"clear": 0.90, "foam": 0.04, "milky": 0.03, "dark": 0.03},
    "oil level": {"normal": 0.92, "low": 0.06, "rises": 0.02},
    "relief turned up": {"flow stays": 0.5, "flow falls away": 0.5},
}

_FILLED = "fill a new motor's case with clean oil before its first start: run dry, it soon fails"

CAUSES: tuple[Cause, ...] = (
    Cause(
        "engine speed low", "engine speed", 10.0, 0.04, 0.55,
        "the engine turns {} slower than it should",
        _scale("engine"), _always,
        "set the working engine speed (hand throttle, governor, idle-up), then measure again",
    ),
    Cause(
        "pump drive ratio wrong", "pump drive", 1.0, 0.06, 0.55,
        "the pump turns {} slower than the drive ratio says",
        _drive, _always,
        "check the power take-off ratio or pulleys against the truck file; look for a slipping belt"
        " or clutch",
    ),
    Cause(
        "pump worn", "pump", 8.0, 0.04, 0.9,
        "the pump leaks a further {} of its flow at its rated point",
        _pump_worn, _always,
        "measure pump flow at working pressure; overhaul or replace the pump, flush the circuit",
        "metal from a worn pump is in the oil: check filter and tank first",
        log=True,
        words={
            "noise": {"none": 0.45, "steady": 0.40, "erratic": 0.15},
            "relief turned up": {"flow falls away": 0.92, "flow stays": 0.08},
        },
    ),
    Cause(
        "LS signal missing", "LS line", 3.0, 0.15, 1.0,
        "{} of the load pressure does not reach the pump control",
        lambda p, s: {("scale", f"{p.pump.name}.ls_signal"): 1.0 - s}, _sensing,
        "check the LS hose and its orifice or strainer between valve bank and pump",
    ),
    Cause(
        "LS margin low", "pump control", 4.0, 0.15, 0.95,
        "the LS margin is {} below its setting",
        _control("margin"), _sensing,
        "set the LS margin at the pump control to the truck file's value",
    ),
    Cause(
        "compensator low", "pump control", 3.0, 0.1, 0.9,
        "the compensator is {} below its setting",
        _control("compensator"), _controlled,
        "set the pump's pressure compensator, with everything at stop and below the relief",
    ),
    Cause(
        "torque limiter low", "pump control", 1.5, 0.1, 0.9,
        "the torque limiter is {} below its setting",
        _control("torque_limit"),
        lambda p: _controlled(p) and p.pump.torque_limit is not None,
        "set the pump's torque limiter to its maker's value",
    ),
    Cause(
        "main relief low or passing", "main relief", 6.0, 0.08, 0.97,
        "the main relief opens {} below its setting",
        _reliefs, lambda p: bool(p.reliefs),
        "clean and set the main relief; replace its cartridge where it passes below its setting",
        words={
            "noise": {"none": 0.50, "steady": 0.42, "erratic": 0.08},
            "relief turned up": {"flow stays": 0.92, "flow falls away": 0.08},
        },
    ),
    Cause(
        "port relief low or passing", "port relief", 2.0, 0.1, 0.97,
        "the port relief opens {} below its setting",
        _port_reliefs, lambda p: bool(p.port_reliefs),
        "clean and set the port relief of this section, or swap it with a healthy section's",
    ),
    Cause(
        "section spool not opening", "valve section", 5.0, 0.06, 1.0,
        "the spool passes {} less than it should",
        _scale("{}.section.opening"), _always,
        "free or clean the spool and its compensator; check linkage and stroke stop",
    ),
    Cause(
        "coil weak or hot", "coil and its supply", 5.0, 0.05, 0.8,
        "the coil reaches {} less command than asked",
        _scale("coil"), _always,
        "measure coil resistance cold and hot; replace the coil, clean its connector",
    ),
    Cause(
        "coil under-supplied", "coil and its supply", 5.0, 0.1, 0.7,
        "the voltage at the coil is {} low",
        _voltage, _always,
        "find the voltage drop in connector, wire, ground or driver",
    ),
    Cause(
        "trim too low", "trims", 8.0, 0.06, 0.9,
        "the command stands {} lower beyond the deadband than the trims should give",
        _scale("trim"), _always,
        "set minimum and maximum trim anew, with warm oil and the engine in its working band",
    ),
    Cause(
        "motor worn", "motor", 8.0, 0.05, 1.5,
        "the motor leaks a further {} of its flow at its rated point",
        _motor_worn, _always,
        "measure its drain flow or its speed at a known flow; overhaul or replace the motor",
        _FILLED,
        log=True,
    ),
    Cause(
        "motor of the wrong displacement", "motor", 2.0, 1.12, 2.2,
        "the motor's displacement is {} of the truck file's",
        _motor_of_other_size, _always,
        "read the motor's plate and fit the displacement of the truck file",
        _FILLED,
        log=True,
    ),
    Cause(
        "gearbox or bearing drag", "auger drive and bearings", 5.0, 0.3, 6.0,
        "bearings or gearbox take a further {} of the load's torque",
        _add("drag"), _always,
        "turn the shaft by hand when locked out; check gearbox oil, bearings, alignment",
        "lock out engine and hydraulics before any hand goes near the shaft",
        log=True,
    ),
    Cause(
        "load jammed, frozen or overfilled", "load", 8.0, 1.3, 7.0,
        "the load asks {} of its usual torque",
        _to_share("load"), _always,
        "unload or thaw; look for lumps, foreign parts, material packed behind the flight",
        "never clear an auger with the engine running",
        log=True,
    ),
    Cause(
        "pressure hose or coupling restricted", "work hoses and couplings", 6.0, 0.02, 2.0,
        "the work pressure line takes a further {} of the pump's highest pressure at full flow",
        _restricted("supply"), lambda p: bool(p.supply),
        "push the quick couplings fully home; look for kinked or swollen hose; swap the hoses",
        "relieve the pressure before opening any coupling",
        log=True,
    ),
    Cause(
        "return hose or coupling restricted", "work hoses and couplings", 4.0, 0.02, 2.0,
        "the work return line takes a further {} of the pump's highest pressure at full flow",
        _restricted("back"), lambda p: bool(p.back),
        "push the return coupling fully home; a closed check in it stalls the motor and can burst"
        " its shaft seal",
        "back pressure endangers the motor's shaft seal: stop until it is found",
        log=True,
    ),
    Cause(
        "pump pressure line restricted", "pump pressure line", 2.0, 0.02, 2.0,
        "the line from the pump takes a further {} of the pump's highest pressure at full flow",
        _restricted("pressure"), lambda p: bool(p.pressure),
        "look for a kinked hose, a half closed valve or a collapsed filter between pump and bank",
        log=True,
    ),
    Cause(
        "return filter or line restricted", "return filter and line", 4.0, 0.02, 2.0,
        "the return to tank takes a further {} of the pump's highest pressure at full flow",
        _restricted("returns"), lambda p: bool(p.returns),
        "change the return filter; look at its indicator with warm oil",
        log=True,
    ),
    Cause(
        "LS shuttle or bleed stuck", "LS shuttle", 2.0, 0.2, 1.0,
        "{} of this function's load pressure is lost before the LS line",
        _add("shuttle"), _sensing,
        "clean the shuttle and bleed of this section",
    ),
    Cause(
        "suction restricted", "suction side", 4.0, 0.04, 0.75,
        "{} of the pump's flow at its usual speed cannot follow",
        _suction, _always,
        "open the suction valve fully; check strainer, hose lining, breather, oil temperature",
        "stop soon: a starving pump wrecks itself",
        words=_STEADY,
    ),
    Cause(
        "air in the suction or low oil", "suction side", 4.0, 0.04, 0.7,
        "{} of what the pump takes in is air",
        lambda p, s: {("add", f"{p.pump.name}.air"): s}, _always,
        "fill the tank; find the leak in the suction line; see that the return ends below the oil",
        words={
            "noise": {"none": 0.15, "steady": 0.15, "erratic": 0.70},
            "oil look": {"clear": 0.25, "foam": 0.70, "milky": 0.03, "dark": 0.02},
            "oil level": {"normal": 0.40, "low": 0.45, "rises": 0.15},
        },
    ),
    Cause(
        "oil cold", "oil", 4.0, 12.0, 55.0,
        "the oil is {} colder than taken",
        lambda p, s: {("add", "oil temperature"): -s}, _always,
        "warm the oil up with the engine in its working band and nothing at stop",
        unit="temperature_rise",
        words={"noise": {"none": 0.45, "steady": 0.50, "erratic": 0.05}},
    ),
    Cause(
        "oil overheated", "oil", 3.0, 12.0, 55.0,
        "the oil is {} hotter than taken",
        lambda p, s: {("add", "oil temperature"): s}, _always,
        "find why it runs hot (cooler, relief passing, oil level), then measure again",
        "hot oil scalds: do not open a line",
        unit="temperature_rise",
    ),
    Cause(
        "oil of too thick a grade", "oil", 1.0, 1.6, 12.0,
        "the oil is {} as viscous as its grade",
        _thick, _always,
        "check the oil against the truck file and the season; change it",
        log=True,
        words={"noise": {"none": 0.55, "steady": 0.40, "erratic": 0.05}},
    ),
    Cause(
        "oil of too thin a grade", "oil", 1.0, 1.4, 5.0,
        "the oil is thinner than its grade by a factor of {}",
        _thin, _always,
        "check its grade, and fuel or solvent in it; change it",
        unit="ratio",
        log=True,
    ),
    Cause(
        "another function takes the flow", "other function", 4.0, 0.1, 0.95,
        "another function takes {} of the pump's flow",
        _add("other"), lambda p: bool(p.other),
        "shut the other functions one by one; look for a spool off centre, a cylinder creeping",
    ),
    Cause(
        "flow divider or priority valve stuck", "flow divider", 4.0, 0.1, 1.0,
        "the divider or priority valve gives it {} less flow",
        _scale("divider"), _divided,
        "free and clean the flow divider or priority valve; check its spring and orifice",
    ),
    Cause(
        "speed sensor wrong", "speed sensor", 3.0, 0.06, 0.6,
        "the shaft sensor reads {} off",
        lambda p, s: {("add", "sensor"): s if p.function.loop == "closed" else -s},
        _always,
        "count turns by hand against the display; check pulses per turn and sensor gap",
    ),
    Cause(
        "tachometer wrong", "tachometer", 2.0, 0.05, 0.5,
        "the engine turns {} slower than its tachometer shows",
        _scale("tachometer"), _always,
        "check engine speed with a second tachometer",
    ),
)  # fmt: skip

HEALTHY = Cause(
    "nothing wrong", "nothing", 5.0, 0.0, 0.0, "as the truck file says",
    lambda p, s: {}, _always,
    "nothing to repair: compare what was expected with what was ordered",
)  # fmt: skip


def words_of(cause: Cause, what: str) -> Mapping[str, float]:
    """Probability of each word of a reading that no equation gives, under a cause."""
    return cause.words.get(what, _USUAL_WORDS[what])


def causes_for(patient: Patient) -> tuple[Cause, ...]:
    """`HEALTHY`, then every cause that a truck can have."""
    return (HEALTHY, *(cause for cause in CAUSES if cause.fits(patient)))
