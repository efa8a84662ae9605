"""`hydrocheck sheet`: the set-up sheet of a truck, one HTML file."""

from __future__ import annotations

from pathlib import Path

import click

from hydrocheck.cli._frame import Frame, force_option, truck_options


@click.command()
@truck_options
@click.option("--output", "-o", required=True, metavar="FILE", help="Where to write the page.")
@click.option("--readings", metavar="FILE", help="Fill it with saved readings (JSON or TOML).")
@force_option
def command(frame: Frame, output: str, readings: str | None, force: bool) -> None:
    """The set-up sheet: print it, or open it on a phone, fill it in and save the readings.

    Cautions, the steps in the order of the work with predicted values and their ranges, trims,
    figures, findings that did not pass. The saved readings go to `trims` and `diagnose`.
    """
    from hydrocheck.model.readings import read_readings, refuse_unknown_functions
    from hydrocheck.report.files import write_text
    from hydrocheck.report.sheet import make_sheet
    from hydrocheck.report.sheet.summary import summary_json, summary_text

    truck = frame.truck.load()
    taken = None if readings is None else read_readings(Path(readings))
    if taken is not None:
        refuse_unknown_functions(taken, truck)
    sheet = make_sheet(truck, frame.units, taken)
    write_text(output, sheet.html, force=force)
    frame.emit(
        text=lambda: summary_text(output, sheet),
        result=lambda: summary_json(output, sheet),
        defaults_used=truck.defaults_used,
    )
