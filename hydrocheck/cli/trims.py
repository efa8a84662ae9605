"""`hydrocheck trims`: where the minimum and maximum trims should come out, and what bounds them."""

from __future__ import annotations

from pathlib import Path

import click

from hydrocheck.cli._frame import Frame, truck_options


@click.command()
@truck_options
@click.option(
    "--readings", metavar="FILE", help="Compare with trims found on the truck (JSON or TOML)."
)
def command(frame: Frame, readings: str | None) -> None:
    """Predicted minimum and maximum trims, the limit that rules each, coil current, boost.

    By engine speed, oil temperature and load of the hopper; with what full discharge, following
    the road speed and links ask of the flow.
    """
    from hydrocheck.model.readings import read_readings, refuse_unknown_functions
    from hydrocheck.report.trims import study_trims, trims_json, trims_text

    truck = frame.truck.load()
    taken = None if readings is None else read_readings(Path(readings))
    if taken is not None:
        refuse_unknown_functions(taken, truck)
    report = study_trims(truck, taken)
    frame.emit(
        text=lambda: trims_text(report, frame.units),
        result=lambda: trims_json(report, frame.units),
        defaults_used=truck.defaults_used,
    )
