"""`hydrocheck diagnose`: likely causes of a slow function, and what to measure next."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import click

from hydrocheck.cli._frame import Frame, common_options, say, truck_source

if TYPE_CHECKING:
    from hydrocheck.advice.diagnosis import Session
    from hydrocheck.advice.outcome import Diagnosis
    from hydrocheck.model.readings import Readings


@click.command()
@click.argument("truck", required=False, metavar="[TRUCK]")
@click.option("--demo", metavar="NAME", help="Use a built-in demo truck instead of a file.")
@common_options
@click.option("--readings", metavar="FILE", help="A readings file: TOML, or JSON of the sheet.")
@click.option(
    "--reading",
    "one",
    multiple=True,
    metavar="TEXT",
    help='"auger speed = 62 rpm @ engine 1300 rpm"; may be repeated.',
)
@click.option(
    "--symptom", metavar="WORD", help="How it moves: slow, stopped, jerky, stays open, normal."
)
@click.option(
    "--function", metavar="NAME", help="Which function (default: as read, or the feeder)."
)
@click.option(
    "--known",
    multiple=True,
    metavar="TEXT",
    help='Without a truck file: "pump displacement = 3 in^3/rev"; may be repeated.',
)
@click.option("--ask", is_flag=True, help="Ask for one measurement at a time; leave at any point.")
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    frame: Frame,
    truck: str | None,
    demo: str | None,
    readings: str | None,
    one: tuple[str, ...],
    symptom: str | None,
    function: str | None,
    known: tuple[str, ...],
    ask: bool,
) -> None:
    """Likely causes of a slow function in order, why, and the next measurement.

    Readings come from a file, from --reading, or one by one with --ask. Without any, the symptom
    "slow" stands alone.
    """
    from hydrocheck.advice.aids import aids_for
    from hydrocheck.advice.assumed import truck_of_known
    from hydrocheck.advice.diagnosis import Session
    from hydrocheck.errors import TruckFileError
    from hydrocheck.model.readings import refuse_unknown_functions
    from hydrocheck.report.diagnosis import diagnosis_json, diagnosis_text

    if ask and frame.as_json:
        raise click.UsageError("give --ask or --json, not both")
    if known and (truck or demo):
        raise click.UsageError("give a truck or --known, not both")
    paths: frozenset[str] = frozenset()
    said: tuple[str, ...] = ()
    if known:
        try:
            assumption = truck_of_known(known)
        except TruckFileError as error:
            raise TruckFileError([f"--known: {line}" for line in error.lines]) from None
        model, paths, said = assumption.truck, assumption.paths, assumption.said
    else:
        frame = dataclasses.replace(frame, source=truck_source(truck, demo))
        model = frame.truck.load()
    taken = _readings(readings, one)
    refuse_unknown_functions(taken, model)
    session = Session(model, taken.readings, function=function or "", assumed=paths)
    if symptom is not None or not taken.readings:
        _add_symptom(session, "slow" if symptom is None else symptom)
    diagnosis = _interview(session, frame.units) if ask else session.diagnosis()
    aids = aids_for(diagnosis)
    frame.emit(
        text=lambda: diagnosis_text(model.name, diagnosis, aids, said, frame.units),
        result=lambda: diagnosis_json(diagnosis, aids, said, frame.units),
        defaults_used=() if known else model.defaults_used,
    )


def _readings(file: str | None, lines: tuple[str, ...]) -> Readings:
    """The readings of a file and of the command line together. Raises TruckFileError, FileError."""
    from hydrocheck.model.readings import Readings, read_readings, readings_from_lines

    read = read_readings(file) if file is not None else Readings()
    told = readings_from_lines(lines, "--reading") if lines else Readings()
    return dataclasses.replace(read, readings=(*read.readings, *told.readings))


def _add_symptom(session: Session, word: str) -> None:
    """How the function moves, as a reading. Raises TruckFileError."""
    from hydrocheck.errors import DomainError
    from hydrocheck.model.readable import READABLES
    from hydrocheck.model.readings import readings_from_lines

    words = READABLES["NAME motion"].words
    if word not in words:
        raise DomainError(f"--symptom: read '{word[:40]}'; here fits: {', '.join(words)}")
    for reading in readings_from_lines([f"{session.patient.name} motion = {word}"]).readings:
        session.add(reading)


def _interview(session: Session, units: str) -> Diagnosis:
    """Ask for the most telling measurement, take the answer, go on until the user leaves."""
    from hydrocheck.errors import HydrocheckError
    from hydrocheck.model.readings import readings_from_lines, shown_kind
    from hydrocheck.report.diagnosis import suggestion_text
    from hydrocheck.report.text import paragraph

    skipped: set[str] = set()
    say("Empty line: skip this one. q, or end of input: leave.")
    while True:
        diagnosis = session.diagnosis()
        leading = ", ".join(
            f"{group} {100 * share:.0f} %" for group, share in list(diagnosis.groups.items())[:3]
        )
        say(f"\nSo far: {leading}")
        left = [s for s in diagnosis.suggestions if s.measurement.title not in skipped]
        if not left:
            say("Nothing more to measure would tell them apart.")
            return diagnosis
        first = left[0]
        say(f"\nMeasure {first.measurement.title}")
        say(suggestion_text(session.patient, first, units))
        while True:
            try:
                question = f"{first.query.what} ({shown_kind(first.query.what)})"
                *above, last = paragraph(question, width=70).splitlines()
                for line in above:
                    say(line)
                answer = click.prompt(last, default="", show_default=False)
            except click.Abort:
                say("")
                return diagnosis
            if answer.strip() in ("q", "quit"):
                say("")
                return diagnosis
            if not answer.strip():
                skipped.add(first.measurement.title)
                break
            instrument = f"with {first.query.instrument}"
            try:
                made = readings_from_lines([f"{first.query.what} = {answer} @ {instrument}"])
            except HydrocheckError as error:
                fault = str(error).removeprefix("reading.value: ")
                say(paragraph(fault, indent=2, hang=2))
                continue
            session.add(made.readings[0], first.query)
            break
