"""Predictions of single states: closed loops, restrictions, flow taken unasked, the dash."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.advice.causes import CAUSES, Cause, causes_for
from hydrocheck.advice.diagnosis import Session
from hydrocheck.advice.forecast import Forecast, forecast
from hydrocheck.advice.measurements import MEASUREMENTS
from hydrocheck.advice.outcome import MINUTES_PER_BIT
from hydrocheck.advice.patient import patient_of
from hydrocheck.advice.predict import Query, Unpredictable, numbers
from hydrocheck.advice.states import State, state_of
from hydrocheck.advice.variants import single_hypotheses, variants
from hydrocheck.model import Truck, truck_from_text
from hydrocheck.model.readable import What
from hydrocheck.model.readings import readings_from_lines
from hydrocheck.physics.arrays import Array
from hydrocheck.report.diagnosis import reading_conditions


@cache
def tandem(loop: str = "open") -> Truck:
    text = demo.path("tandem").read_text(encoding="utf-8")
    return truck_from_text(text.replace('loop = "open"', f'loop = "{loop}"', 1))


@cache
def session(loop: str = "open") -> Session:
    return Session(tandem(loop), readings_from_lines(["auger motion = slow"]).readings)


def cause(name: str) -> Cause:
    return next(one for one in CAUSES if one.name == name)


def solved(where: Session, states: list[State], *faults: tuple[Cause, float]) -> Forecast:
    """Each fault alone, without tolerances; a healthy truck where there is none."""
    healthy = causes_for(where.patient)[0]
    hypotheses = [((c, s),) for c, s in faults] or [((healthy, 0.0),)]
    table = variants(where.patient, hypotheses, draws=False)
    return forecast(where.patient, table, states, where.standard)


def read(where: Session, key: str, state: State, *faults: tuple[Cause, float],
         instrument: str = "") -> Array:  # fmt: skip
    made = solved(where, [state], *faults)
    function = where.patient.name if key.startswith("NAME") else ""
    return numbers(made, Query(What(key, function), state, instrument), where.standard)[:, 0]


def candidates(where: Session) -> list[Query]:
    found = [one.query(where.patient, where.base) for one in MEASUREMENTS]
    return [query for query in found if query is not None]


@pytest.mark.parametrize("loop", ["open", "closed"])
def test_a_state_is_predicted_alike_alone_and_among_others(loop: str) -> None:
    """In whatever company and order states are solved, each has its own answer."""
    where = session(loop)
    queries = candidates(where)
    states = list(dict.fromkeys(query.state for query in queries))
    table = variants(where.patient, single_hypotheses(causes_for(where.patient))[::7], draws=False)
    forward = forecast(where.patient, table, states, where.standard)
    back = forecast(where.patient, table, states[::-1], where.standard)
    compared = 0
    for query in queries:
        if query.what.readable.words:
            continue
        alone = forecast(where.patient, table, [query.state], where.standard)
        try:
            wanted = numbers(alone, query, where.standard)
        except Unpredictable:
            continue
        scale = 1e-6 * float(np.abs(wanted).max())
        for made in (forward, back):
            got = numbers(made, query, where.standard)
            np.testing.assert_allclose(got, wanted, rtol=1e-6, atol=scale)
        compared += 1
    assert compared > 15


def test_an_override_by_hand_takes_a_closed_loop_to_full_command() -> None:
    where = session("closed")
    override = State(orders=where.base.orders, test="manual override")
    loop = read(where, "NAME speed", where.base)
    full = read(where, "NAME speed", override)
    assert full[0] > 1.2 * loop[0]


def test_a_closed_loop_shows_the_command_that_it_holds() -> None:
    """One command on the display and in the coil; more of it for a worn motor."""
    where = session("closed")
    worn = (cause("motor worn"), 0.1)
    held = read(where, "NAME holding command", where.base, worn)
    shown = read(where, "NAME command", where.base, worn)
    current = read(where, "NAME coil current", where.base, worn)
    coil = where.patient.function.section.coil
    assert coil is not None
    assert coil.rated_current is not None
    np.testing.assert_allclose(shown, held)
    np.testing.assert_allclose(current, held * float(coil.rated_current))
    assert held[0] > read(where, "NAME holding command", where.base)[0]


def test_a_sensor_that_reads_high_lets_the_loop_hold_less_command() -> None:
    where = session("closed")
    high = read(where, "NAME holding command", where.base, (cause("speed sensor wrong"), 0.3))
    assert high[0] < read(where, "NAME holding command", where.base)[0] - 0.02


RESTRICTED = {
    "pressure hose or coupling restricted": "supply",
    "return hose or coupling restricted": "back",
    "pump pressure line restricted": "pressure",
    "return filter or line restricted": "returns",
}


@pytest.mark.parametrize(("name", "lines"), RESTRICTED.items())
def test_a_restriction_takes_its_share_of_the_highest_pressure(name: str, lines: str) -> None:
    """The factor on every part of the line makes up the drop that the severity says."""
    patient, standard = session().patient, session().standard
    names = getattr(patient, lines)
    assert names
    severity = np.array([0.02, 0.4, 2.0])
    factors = list(cause(name).changes(patient, severity).values())
    flow = float(patient.function.section.rated_flow or 0.0)
    if lines in ("pressure", "returns"):
        flow = patient.full_flow(standard.engine)
    drop = patient.line_drop(names, flow, standard.oil)
    for factor in factors:
        added = (factor - 1.0) * drop
        np.testing.assert_allclose(added, severity * patient.highest_pressure)


def test_highest_pressure_is_that_of_the_compensator_or_the_relief() -> None:
    patient = patient_of(tandem(), "")
    settings = [r.setting for r in patient.truck.relief if r.name in patient.reliefs]
    known = [float(s) for s in (patient.pump.compensator, *settings) if s is not None]
    assert patient.highest_pressure == min(known)


@pytest.mark.parametrize("name", ["tandem", "single"])
def test_the_function_that_takes_flow_unasked_is_idle_at_work(name: str) -> None:
    patient = patient_of(demo.load(name), "")
    at_work = {task.name for task in patient.truck.scenario[0].run}
    assert patient.name in at_work
    assert patient.other not in at_work


def test_only_a_wrong_tachometer_shows_the_usual_speed_on_the_dash() -> None:
    where = session()
    base = State(orders=where.base.orders)
    faults = [(cause("engine speed low"), 0.2), (cause("tachometer wrong"), 0.2)]
    dash = read(where, "engine speed", base, *faults, instrument="display")
    second = read(where, "engine speed", base, *faults, instrument="tachometer")
    usual = where.standard.engine
    np.testing.assert_allclose(dash, [0.8 * usual, usual])
    np.testing.assert_allclose(second, [0.8 * usual, 0.8 * usual])


def test_suggestions_stand_in_the_order_of_the_minutes_that_they_save() -> None:
    """Risk counts against a measurement's own minutes only; the approach to it is the same."""
    made = session().diagnosis().suggestions
    saved = [one.saved for one in made]
    assert saved == sorted(saved, reverse=True)
    for one in made:
        assert one.saved == pytest.approx(one.bits * MINUTES_PER_BIT - one.minutes)
        assert one.minutes >= one.measurement.again


VALUES = {
    "shaft_speed": "10 rpm", "pressure": "10 psi", "vacuum": "10 inHg", "flow": "10 gpm",
    "temperature": "10 degC", "current": "1 A", "voltage": "10 V", "fraction": "10 %",
}  # fmt: skip


@pytest.mark.parametrize("loop", ["open", "closed"])
def test_what_a_suggestion_says_to_write_reads_back_as_what_it_asks(loop: str) -> None:
    """Conditions and instrument alike, for every measurement that the truck allows."""
    where = session(loop)
    for query in candidates(where):
        if query.what.readable.words:
            continue
        value = VALUES[query.what.readable.kind]
        at = reading_conditions(where.patient, query)
        line = f"{query.what} = {value}" + (f" @ {at}" if at else "")
        (reading,) = readings_from_lines([line]).readings
        assert reading.what == query.what, line
        assert reading.instrument == query.instrument, line
        assert (reading.at.test or "") == query.state.test, line
        state = state_of(where.patient, reading.at, where.standard)
        assert {name for name, _ in state.orders} == {name for name, _ in query.state.orders}, line
