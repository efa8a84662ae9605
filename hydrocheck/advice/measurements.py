"""What can be measured next: instrument, where, how long, how risky, and how to do it safely.

Minutes are what a mechanic with the tool at hand needs (common practice); each further reading with
an instrument that already sits there needs less.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from hydrocheck.advice.patient import Patient
from hydrocheck.advice.predict import Query
from hydrocheck.advice.states import Order, State, high_engine_speed, usual
from hydrocheck.model.readable import What
from hydrocheck.model.readings import Reading

RISK_FACTOR = {"low": 1.0, "medium": 1.5, "high": 4.0}
"""Minutes count so many times as much at a risk (ours)."""
APPROACH = 20.0
"""Minutes for anything at all: to make safe before and after, to bring the truck to its state again
(oil warm, hopper loaded, engine at its working speed), to write down (ours)."""


@dataclass(frozen=True)
class Measurement:
    """Something that can be measured, at a state made from the symptom's.

    what: entry of the readables; again: minutes with the instrument already there
    state: the state from that of the symptom, None where it cannot be set up
    """

    title: str
    what: str
    instrument: str
    where: str
    minutes: float
    again: float
    risk: str
    how: str
    state: Callable[[Patient, State], State | None]
    fits: Callable[[Patient], bool] = lambda p: True
    of_other: bool = False

    def query(self, patient: Patient, base: State) -> Query | None:
        """What would be read, None where the truck or the state does not allow it."""
        if not self.fits(patient):
            return None
        state = self.state(patient, base)
        if state is None:
            return None
        function = patient.name if self.what.startswith("NAME") else ""
        return Query(What(self.what, function), state, self.instrument)

    def effort(self, readings: Sequence[Reading]) -> float:
        """Minutes, those of the measurement weighted by its risk."""
        there = any(r.what.key == self.what and r.instrument == self.instrument for r in readings)
        minutes = self.again if there else self.minutes
        return APPROACH + minutes * RISK_FACTOR[self.risk]


def _same(patient: Patient, base: State) -> State | None:
    return base if base.order(patient.name) else None


def _test(name: str) -> Callable[[Patient, State], State | None]:
    return lambda p, base: replace(base, test=name) if base.order(p.name) else None


def _alone(patient: Patient, base: State) -> State | None:
    alone = base.only(patient.name)
    return alone if alone != base and alone.orders else None


def _nothing(patient: Patient, base: State) -> State | None:
    return replace(base, orders=(), stop=(), test="")


def _stop(patient: Patient) -> str:
    """A cylinder that can be held at the end of its stroke."""
    names = [
        f.name
        for f in patient.truck.function
        if f.fitted and f.cylinder is not None and f.name != patient.name
        and f.cylinder.extend_load is not None
    ]  # fmt: skip
    return names[0] if names else ""


def _stalled(patient: Patient, base: State) -> State | None:
    """Only another function, held at its stop."""
    name = _stop(patient)
    if not name:
        return None
    return replace(base, orders=((name, Order(1.0)),), stop=(name,), test="")


def _beside_stop(patient: Patient, base: State) -> State | None:
    """The function as before, with another held at its stop."""
    name = _stop(patient)
    if not name or not base.order(patient.name):
        return None
    orders = tuple(o for o in base.orders if o[0] != name)
    return replace(base, orders=(*orders, (name, Order(1.0))), stop=(name,))


def _faster(patient: Patient, base: State) -> State | None:
    if patient.truck.engine.governed is None or not base.order(patient.name):
        return None
    return replace(base, engine=high_engine_speed(patient, usual(patient)))


def _unsaid_command(patient: Patient, base: State) -> State | None:
    order = base.order(patient.name)
    unsaid = order is not None and not order.told and not base.loop(patient.name)
    return base if unsaid else None  # of a closed loop it is the command that holds its speed


def _closed(patient: Patient, base: State) -> State | None:
    return base if base.loop(patient.name) else None


def _with_others(patient: Patient, base: State) -> State | None:
    return base if len(base.orders) > 1 else None


def _sensing(patient: Patient) -> bool:
    return patient.pump.type == "load sensing"


def _drained_pump(patient: Patient) -> bool:
    return patient.pump.build != "gear" and patient.pump.type != "fixed"


def _drained_motor(patient: Patient) -> bool:
    return bool(patient.function.motor[0].case_drain)


def _coil_current(patient: Patient) -> bool:
    coil = patient.function.section.coil
    return coil is not None and coil.rated_current is not None


def _coil_supply(patient: Patient) -> bool:
    coil = patient.function.section.coil
    return coil is not None and coil.supply is not None


_GAUGE = (
    "engine off, pressure relieved, then connect the tee and a gauge of at least 1.5 times the"
    " relief setting; read it from a distance"
)
_METER = (
    "engine off, pressure relieved; connect the meter in the right direction, its load valve fully"
    " open before the start"
)
_BUCKET = (
    "hold the hose end firmly in the bucket, never by hand under pressure; stop the engine to move"
    " it; hot oil scalds"
)
_CLEAR = "two people, clear of what turns; engine off and keys out before anyone reaches in"

MEASUREMENTS: tuple[Measurement, ...] = (
    Measurement(
        "command at which the loop holds its speed", "NAME holding command", "display",
        "on the controller's display", 1.0, 0.5, "low", "with the ordered speed steady", _closed,
    ),
    Measurement(
        "engine speed", "engine speed", "tachometer",
        "reflector on the crankshaft pulley, or a second tachometer", 3.0, 1.0, "low",
        "keep clothes and hands off the belts", lambda p, b: replace(b, engine=None),
    ),
    Measurement(
        "engine speed as the dash shows it", "engine speed", "display", "in the cab", 0.5, 0.5,
        "low", "at the throttle of the work", lambda p, b: replace(b, engine=None),
    ),
    Measurement(
        "pump shaft speed", "pump speed", "tachometer",
        "reflector on the pump's drive shaft", 6.0, 2.0, "medium",
        "stay off the turning drive shaft: aim from the side", _same,
    ),
    Measurement(
        "shaft speed", "NAME speed", "tachometer",
        "at the driven shaft, or count turns for a minute", 2.0, 1.0, "low", _CLEAR, _same,
    ),
    Measurement(
        "shaft speed as the display shows it", "NAME speed", "display",
        "on the controller's display", 0.5, 0.5, "low", "from the cab", _same,
        lambda p: p.function.loop == "closed",
    ),
    Measurement(
        "whether the other functions are slow too", "other functions", "eye",
        "watch them while they run together", 1.0, 1.0, "low", _CLEAR, _with_others,
    ),
    Measurement(
        "noise of the pump", "noise", "ear", "beside the pump", 1.0, 1.0, "low",
        "ear protection; off the drive shaft", _same,
    ),
    Measurement(
        "look of the oil", "oil look", "eye", "sight glass or a sample in a jar", 2.0, 2.0, "low",
        "from the tank's top, engine off", _same,
    ),
    Measurement(
        "oil level", "oil level", "eye", "sight glass, cylinders in", 1.5, 1.5, "low",
        "on level ground", _same,
    ),
    Measurement(
        "oil temperature", "oil temperature", "thermometer",
        "infrared, on the painted tank wall or the pump housing", 2.0, 1.0, "low",
        "not on bright metal, which reads low", lambda p, b: replace(b, oil=None),
    ),
    Measurement(
        "whether it is worse with hot or cold oil", "worse with oil", "eye",
        "ask the driver", 1.0, 1.0, "low", "no test needed", _same,
    ),
    Measurement(
        "at which engine speed it is worse", "worse with engine speed", "eye",
        "ask the driver, or try", 1.0, 1.0, "low", _CLEAR, _same,
    ),
    Measurement(
        "command on the display", "NAME command", "display",
        "on the controller's display", 1.0, 0.5, "low", "from the cab", _unsaid_command,
    ),
    Measurement(
        "coil voltage", "NAME coil voltage", "multimeter",
        "at the coil's connector, plugged in", 4.0, 1.0, "low",
        "back-probe the connector; keep the leads from shorting", _same, _coil_supply,
    ),
    Measurement(
        "coil current", "NAME coil current", "multimeter",
        "in series at the coil's connector, or a clamp for direct current", 5.0, 2.0, "low",
        "engine off while the meter is put in", _same, _coil_current,
    ),
    Measurement(
        "shaft speed by manual override", "NAME speed", "tachometer",
        "override pin or lever on the valve section", 3.0, 2.0, "medium",
        "the shaft goes to full speed: everyone clear, a second person at the engine stop",
        _test("manual override"),
    ),
    Measurement(
        "shaft speed with only this function on", "NAME speed", "tachometer",
        "at the driven shaft", 2.0, 1.0, "low", _CLEAR, _alone,
    ),
    Measurement(
        "shaft speed with another function at its stop", "NAME speed", "tachometer",
        "hold a cylinder at the end of its stroke meanwhile", 3.0, 2.0, "medium",
        "nobody under plow or body; no longer than a few seconds, the oil heats",
        _beside_stop,
    ),
    Measurement(
        "shaft speed at governed engine speed", "NAME speed", "tachometer",
        "at the driven shaft", 2.0, 1.0, "low",
        "mind the shaft's highest speed; " + _CLEAR, _faster,
    ),
    Measurement(
        "shaft speed with the coil swapped", "NAME speed", "tachometer",
        "coils of two sections swapped on their stems", 8.0, 4.0, "low",
        "engine off, lock out; mark the coils; mind which function now moves",
        _test("coils swapped"),
    ),
    Measurement(
        "shaft speed on a healthy section", "NAME speed", "tachometer",
        "its hoses moved to a healthy section", 20.0, 8.0, "medium",
        "engine off, pressure relieved, body and plow lowered; clean the couplings",
        _test("hoses swapped"), lambda p: bool(p.other),
    ),
    Measurement(
        "shaft speed off its load", "NAME speed", "tachometer",
        "load uncoupled from its drive", 30.0, 15.0, "medium",
        "lock out engine and hydraulics before the coupling is opened; guards back on",
        _test("uncoupled"),
    ),
    Measurement(
        "pump pressure at work", "pump pressure", "gauge", "test port at the pump outlet",
        7.0, 1.5, "medium", _GAUGE, _same,
    ),
    Measurement(
        "pump pressure with nothing running", "pump pressure", "gauge",
        "test port at the pump outlet", 7.0, 1.0, "medium", _GAUGE, _nothing,
    ),
    Measurement(
        "pump pressure with another function at its stop", "pump pressure", "gauge",
        "test port at the pump outlet, a cylinder held at the end of its stroke", 8.0, 2.0,
        "medium", _GAUGE + "; a few seconds only; nobody under plow or body", _stalled,
    ),
    Measurement(
        "pump pressure with the function blocked", "pump pressure", "gauge",
        "test port at the pump outlet, the work port blocked at a low command", 12.0, 6.0, "high",
        "only under a relief that is known to work; rated plug; " + _GAUGE, _test("port blocked"),
    ),
    Measurement(
        "LS pressure", "LS pressure", "gauge", "tee in the LS line at the pump control",
        8.0, 1.5, "medium", _GAUGE, _same, _sensing,
    ),
    Measurement(
        "LS margin at work", "LS margin", "gauge",
        "a gauge at the pump outlet and one in the LS line, read together", 12.0, 1.5, "medium",
        _GAUGE, _same, _sensing,
    ),
    Measurement(
        "work port pressure", "NAME pressure", "gauge", "tee at the section's work port",
        8.0, 1.5, "medium", _GAUGE, _same,
    ),
    Measurement(
        "work port pressure off its load", "NAME pressure", "gauge",
        "tee at the work port, load uncoupled from its drive", 30.0, 15.0, "medium",
        "lock out engine and hydraulics before the coupling is opened; " + _GAUGE,
        _test("uncoupled"),
    ),
    Measurement(
        "return pressure", "return pressure", "gauge", "tee in the return at the valve bank",
        8.0, 1.5, "medium", "a low-pressure gauge with a snubber; " + _GAUGE, _same,
    ),
    Measurement(
        "inlet vacuum", "inlet vacuum", "gauge", "vacuum gauge at the pump's suction port",
        8.0, 1.5, "low", "engine off while the fitting is open; close it airtight", _same,
    ),
    Measurement(
        "drain flow of the motor", "NAME case flow", "bucket", "its drain hose into a bucket",
        12.0, 4.0, "medium", "never block a drain: the seal goes; " + _BUCKET, _same,
        _drained_motor,
    ),
    Measurement(
        "drain flow of the pump", "case flow", "bucket", "its drain hose into a bucket",
        12.0, 4.0, "medium", "never block a drain: the housing bursts; " + _BUCKET, _stalled,
        _drained_pump,
    ),
    Measurement(
        "flow over the main relief", "relief flow", "bucket",
        "relief outlet into a bucket, a cylinder held at its stop", 15.0, 5.0, "medium",
        "a few seconds only; " + _BUCKET, _stalled,
        lambda p: p.pump.type == "fixed" and bool(p.reliefs),
    ),
    Measurement(
        "flow over the main relief at work", "relief flow", "bucket",
        "relief outlet into a bucket; a hot relief body says the same", 12.0, 3.0, "medium",
        _BUCKET, _same, lambda p: p.pump.type != "fixed" and bool(p.reliefs),
    ),
    Measurement(
        "flow into the function", "NAME flow", "flow meter", "in its work hose", 20.0, 3.0,
        "medium", _METER, _same,
    ),
    Measurement(
        "flow of the pump", "pump flow", "flow meter", "in the pressure line", 25.0, 3.0,
        "medium", _METER, _same,
    ),
    Measurement(
        "relief screw turned in while oil flows over it", "relief turned up", "eye",
        "relief outlet into an open hose", 12.0, 12.0, "high",
        "count the turns and go back; never past the rating of the weakest part; " + _BUCKET,
        _same, lambda p: p.pump.type == "fixed" and bool(p.reliefs),
    ),
)  # fmt: skip
