"""Diagnosis on the demo trucks: what it must find, whatever the order of the readings."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from hydrocheck import demo
from hydrocheck.advice.aids import growth_of
from hydrocheck.advice.assumed import KNOWN, truck_of_known
from hydrocheck.advice.causes import CAUSES, causes_for
from hydrocheck.advice.diagnosis import Session, diagnose, reading_of
from hydrocheck.advice.forecast import forecast
from hydrocheck.advice.measurements import MEASUREMENTS
from hydrocheck.advice.outcome import Diagnosis
from hydrocheck.advice.patient import WORDS, patient_of
from hydrocheck.advice.predict import Query, numbers
from hydrocheck.advice.variants import value_at, variants
from hydrocheck.errors import DomainError, TruckFileError
from hydrocheck.model import Truck, truck_from_text
from hydrocheck.model.readable import What
from hydrocheck.model.readings import readings_from_lines
from hydrocheck.studies.trims import reference_trims
from hydrocheck.units import show, to_unit


@cache
def truck(name: str) -> Truck:
    return demo.load(name)


def answer_of(name: str, *lines: str) -> Diagnosis:
    return diagnose(truck(name), readings_from_lines(lines).readings, suggest=False)


def found(name: str, *lines: str) -> dict[str, float]:
    return dict(answer_of(name, *lines).groups)


def test_probabilities_sum_to_one_and_nothing_is_lost() -> None:
    groups = found("tandem", "auger motion = slow")
    assert sum(groups.values()) == pytest.approx(1.0)
    patient = patient_of(truck("tandem"), "")
    assert set(groups) == {cause.group for cause in causes_for(patient)}


def test_without_readings_the_priors_stand() -> None:
    """Shares of the table of causes, whatever their severities do."""
    answer = answer_of("tandem")
    total = sum(one.prior for one in causes_for(answer.patient))
    for one in answer.ranked:
        assert one.probability == pytest.approx(one.causes[0].prior / total)


def test_the_order_of_readings_does_not_matter() -> None:
    lines = ["auger speed = 20 rpm", "pump pressure = 1000 psi", "noise = none"]
    forward, back = found("tandem", *lines), found("tandem", *reversed(lines))
    assert forward == pytest.approx(back)


def test_adding_a_reading_equals_starting_with_it() -> None:
    lines = ["auger motion = slow", "pump pressure = 500 psi"]
    one, two = readings_from_lines(lines).readings
    session = Session(truck("tandem"), [one])
    session.diagnosis(suggest=False)
    session.add(two)
    assert dict(session.diagnosis(suggest=False).groups) == pytest.approx(found("tandem", *lines))


@pytest.mark.parametrize(
    ("lines", "repair"),
    [
        (["auger motion = slow", "engine speed = 700 rpm"], "engine speed"),
        (["auger motion = slow", "auger coil voltage = 5 V"], "coil and its supply"),
        (["auger motion = slow", "auger command = 42 %"], "trims"),
        (["auger motion = slow", "inlet vacuum = 22 inHg"], "suction side"),
        (
            ["auger motion = slow", "pump pressure = 2300 psi", "auger pressure = 1900 psi",
             "auger speed = 41 rpm @ test uncoupled"],
            "load",
        ),
        (
            ["auger motion = slow", "auger speed = 22 rpm",
             "auger speed = 38 rpm @ test hoses swapped",
             "auger speed = 65 rpm @ test manual override"],
            "valve section",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)  # fmt: skip
def test_clear_evidence_on_the_tandem(lines: list[str], repair: str) -> None:
    assert next(iter(found("tandem", *lines))) == repair


PLANTED = ["motor worn", "LS margin low"]


@pytest.mark.parametrize("name", PLANTED)
def test_a_planted_fault_is_found_by_its_own_suggestions(name: str) -> None:
    """Readings from the model itself, in the middle of what it may vary: after three, the first."""
    cause = next(one for one in CAUSES if one.name == name)
    severity = 0.8 * cause.high
    session = Session(truck("tandem"), readings_from_lines(["auger motion = slow"]).readings)
    table = variants(session.patient, [((cause, severity),)], draws=False)
    for _ in range(3):
        answer = session.diagnosis()
        numeric = [s for s in answer.suggestions if s.query.what.readable.kind]
        query = numeric[0].query
        solved = forecast(session.patient, table, [query.state], session.standard)
        value = float(numbers(solved, query, session.standard)[0, 0])
        session.add(reading_of(query, value), query)
    assert next(iter(session.diagnosis(suggest=False).groups)) == cause.group


def test_a_reading_that_nothing_explains_is_said_to_be_so() -> None:
    lines = ["auger motion = slow", "return pressure = 5000 psi"]
    answer = answer_of("tandem", *lines)
    assert [str(r.what) for r in answer.unexplained] == ["return pressure"]


def test_readings_without_an_equation_are_listed_not_used() -> None:
    lines = ["auger motion = slow", "cooler heat = 5 kW", "plow coil current = 1 A"]
    answer = answer_of("tandem", *lines)
    assert [str(r.what) for r, _ in answer.unused] == ["cooler heat", "plow coil current"]
    assert dict(answer.groups) == pytest.approx(found("tandem", lines[0]))


def test_two_faults_at_once_are_tried_where_one_fits_badly() -> None:
    """A dead coil supply and a pressed return: no single cause gives both."""
    lines = ["auger motion = slow", "auger coil voltage = 6 V", "engine speed = 800 rpm"]
    answer = answer_of("tandem", *lines)
    assert len(answer.leading.causes) == 2
    assert set(answer.leading.group.split(" and ")) >= {"engine speed"}
    assert sum(one.probability for one in answer.ranked) == pytest.approx(1.0)


def test_the_shaft_sensor_is_asked_first() -> None:
    text = (
        demo.path("tandem").read_text(encoding="utf-8").replace('loop = "open"', 'loop = "closed"')
    )
    session = Session(truck_from_text(text), readings_from_lines(["auger motion = slow"]).readings)
    first = session.diagnosis().suggestions[0]
    assert first.query.what == What("NAME holding command", "auger")


def test_every_path_of_every_cause_is_there() -> None:
    """A cause that changes a value which no truck has would change nothing."""
    for name in ("tandem", "single", "conveyor"):
        patient = patient_of(truck(name), "")
        for cause in causes_for(patient)[1:]:
            for _, path in cause.changes(patient, cause.grid()):
                known = path in WORDS or value_at(patient.truck, path) is not None
                assert known, (name, cause.name, path)


def test_every_measurement_is_complete() -> None:
    titles = [one.title for one in MEASUREMENTS]
    assert len(set(titles)) == len(titles)
    for one in MEASUREMENTS:
        assert one.minutes > 0
        assert one.again <= one.minutes
        assert one.how
        assert one.where
        assert one.risk in ("low", "medium", "high")


def test_a_suggestion_is_not_repeated() -> None:
    session = Session(truck("single"), readings_from_lines(["auger motion = slow"]).readings)
    taken: list[Query] = []
    for _ in range(2):
        first = session.diagnosis().suggestions[0]
        assert first.query not in taken
        taken.append(first.query)
        value = first.expected[0].word or first.expected[0].value
        session.add(reading_of(first.query, value), first.query)


def test_cold_against_hot() -> None:
    """An imposed leak grew as nu^-0.25 (open rig data of 2018), 1/nu is Wilson's clearance."""
    assert growth_of(1.0, 3.0**0.25, (60e-6, 20e-6)).verdict == "wear, bypass or a relief"
    assert growth_of(1.0, 3.0, (60e-6, 20e-6)).verdict == "clearance slip in thin oil"
    assert growth_of(1.0, 2.0, (90e-6, 22.5e-6)).factor == pytest.approx(3.0**0.5)
    assert growth_of(1.0, 1.5, (60e-6, 20e-6)).verdict == "undecided"


def test_growth_allows_for_engine_speed() -> None:
    """The loss is taken against a healthy truck at the speed and temperature of each reading."""
    from hydrocheck.advice.aids import aids_for

    lines = [
        "auger speed = 30 rpm @ engine 1300 rpm, oil 60 degF, auger command 54 %",
        "auger speed = 27 rpm @ engine 1250 rpm, oil 130 degF, auger command 54 %",
    ]
    answer = answer_of("tandem", *lines)
    cold, hot = (one.value - one.reading.number for one in answer.healthy)
    growth = aids_for(answer).growth
    assert growth is not None
    assert growth.hot / growth.cold == pytest.approx(hot / cold)


def test_truck_of_a_few_known_numbers() -> None:
    made = truck_of_known(["pump displacement = 3 in^3/rev", "LS margin = 20 bar"])
    assert made.truck.pump[0].type == "load sensing"
    shown = to_unit(float(made.truck.pump[0].displacement or 0), "displacement", "in^3/rev")
    assert shown == pytest.approx(3.0)
    assert "pump.displacement" not in made.paths
    assert "auger.motor.displacement" in made.paths
    assert any("auger displacement: 20 in^3/rev" in line for line in made.said)
    assert truck_of_known([]).truck.pump[0].type == "fixed"
    for line in (f"{word} = {known.otherwise or '3000 psi'}" for word, known in KNOWN.items()):
        truck_of_known([line])


@pytest.mark.parametrize(
    "line",
    ["pump size = 3 in^3/rev", "pump displacement 3", "pump displacement = 3 psi",
     "pump type = vane", "LS margin = 0 psi"],
)  # fmt: skip
def test_known_numbers_that_are_none(line: str) -> None:
    with pytest.raises(TruckFileError):
        truck_of_known([line])


def test_what_is_assumed_is_doubted_more() -> None:
    """Further spread of the healthy expectation than with the same numbers known."""
    known = [f"{word} = {k.otherwise}" for word, k in KNOWN.items() if k.otherwise]
    readings = readings_from_lines(["auger speed = 40 rpm"]).readings
    sure, unsure = truck_of_known([*known, "main relief = 3000 psi"]), truck_of_known(known[-3:-2])
    spreads = [
        diagnose(made.truck, readings, assumed=made.paths, suggest=False).healthy[0].deviation
        for made in (sure, unsure)
    ]
    assert spreads[1] > 1.5 * spreads[0]


def test_a_function_without_a_motor_is_refused() -> None:
    with pytest.raises(DomainError, match="nothing to diagnose"):
        Session(truck("tandem"), function="plow")


def test_predictions_are_finite() -> None:
    answer = diagnose(truck("single"), readings_from_lines(["auger motion = slow"]).readings)
    for one in answer.suggestions:
        assert np.isfinite(one.bits)
        for expected in one.expected:
            assert expected.word or np.isfinite(expected.value)


def test_a_divider_can_stick_only_where_there_is_one() -> None:
    text = demo.path("tandem").read_text(encoding="utf-8")
    order = 'order = ["auger", "spinner", "liquid", "plow", "dump"]'
    divided = text.replace('type = "parallel"', f'type = "priority valve"\n{order}')
    for truck_, there in ((truck("tandem"), False), (truck_from_text(divided), True)):
        groups = {cause.group for cause in causes_for(patient_of(truck_, "auger"))}
        assert ("flow divider" in groups) == there


def sheet_readings() -> list[str]:
    """What a healthy tandem truck shows, as its set-up sheet expects it."""
    at = "@ engine 1300 rpm, oil 110 degF, hopper full, auger command 50 %"
    found = answer_of("tandem", f"auger speed = 30 rpm {at}")
    (speed,) = found.healthy
    return [f"auger speed = {show(speed.value, 'shaft_speed')} {at}"]


def test_readings_of_a_healthy_truck_and_no_complaint() -> None:
    """Healthy leads clearly where nobody complains, and is not forced where somebody does."""
    lines = sheet_readings()
    quiet = answer_of("tandem", *lines)
    assert not quiet.complained
    assert quiet.leading.name == "nothing wrong"
    assert quiet.leading.probability > 0.6
    loud = answer_of("tandem", *lines, "auger motion = slow")
    assert loud.complained
    assert loud.groups["nothing"] < 0.3
    context = answer_of("tandem", "oil temperature = 110 degF")
    assert context.complained  # nobody looked at the auger's work
    off = answer_of("tandem", lines[0].replace("= ", "= 1", 1))
    assert off.complained


def test_trims_of_the_set_up_are_those_of_the_trim_study() -> None:
    tandem = truck("tandem")
    low, high = reference_trims(tandem, "auger")
    found = answer_of("tandem", f"auger minimum trim = {100 * low:.2f} %",
                 f"auger maximum trim = {100 * high:.2f} %", "auger motion = normal")  # fmt: skip
    values = [h.value for h in found.healthy if not h.word]
    assert values == pytest.approx([low, high], abs=0.01)


def test_healthy_trims_are_worked_out_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """However many readings, hypotheses and questions need them."""
    asked: list[str] = []

    def counted(truck: Truck, name: str) -> tuple[float, float]:
        asked.append(name)
        return reference_trims(truck, name)

    monkeypatch.setattr("hydrocheck.advice.patient.reference_trims", counted)
    lines = ["auger minimum trim = 37 %", "auger maximum trim = 54 %", "auger motion = normal"]
    diagnose(truck("tandem"), readings_from_lines(lines).readings)
    assert asked == ["auger"]


def test_what_is_not_weighed_says_why() -> None:
    lines = [
        "auger motion = slow", "case pressure = 10 psi", "cooler heat = 3 kW",
        "auger discharge = 5 lb/rev", "spinner minimum trim = 30 %",
        "auger minimum trim = 30 % @ swept down",
    ]  # fmt: skip
    found = answer_of("tandem", *lines)
    reasons = {str(r.what): why for r, why in found.unused}
    assert "fixed limit" in reasons["case pressure"]
    assert "power that goes in" in reasons["cooler heat"]
    assert "fills" in reasons["auger discharge"]
    assert "function that is diagnosed" in reasons["spinner minimum trim"]
    assert "hysteresis" in reasons["auger minimum trim"]


def test_a_blocked_port_lets_no_oil_through_a_worn_motor() -> None:
    """Blocked, a worn motor cannot leak: nothing flows; held, its slip still flows."""
    at = "@ engine 1300 rpm, oil 110 degF, auger command 50 %"
    rows = {}
    for test in ("port blocked", "shaft held"):
        found = answer_of("tandem", f"auger flow = 0 gpm {at}, test {test}")
        worn = next(r for r in found.ranked if r.name == "motor worn")
        (healthy,) = found.healthy
        rows[test] = (healthy.value, worn.evidence[0].expected)
    assert max(rows["port blocked"]) < 0.02 * rows["shaft held"][0]
    assert rows["shaft held"][1] > rows["shaft held"][0] > 0.0
