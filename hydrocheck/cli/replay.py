"""`hydrocheck replay`: a truck's log through its circuit."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from hydrocheck.cli._frame import Frame, common_options, force_option, option_value, truck_source

if TYPE_CHECKING:
    from hydrocheck.model.truck import Truck
    from hydrocheck.studies.replay import Replay, ReplayOrder, RowBlock


@click.command()
@common_options
@click.argument("files", nargs=-1, metavar="[TRUCK] LOG...")
@click.option("--demo", metavar="NAME", help="Use a built-in demo truck instead of a file.")
@click.option(
    "--column", multiple=True, metavar="ROLE=HEADER", help='"engine=EngSpd [rpm]"; roles as above.'
)
@click.option("--rate", metavar="RATE", help="Ordered rate, where the log has none.")
@click.option("--scenario", metavar="NAME", help="What else runs (default: first with a feeder).")
@click.option("--oil", metavar="TEMPERATURE", help="Oil temperature, where the log has none.")
@click.option("--tolerance", metavar="%", help="Share of a rate that may be missing.")
@click.option("--rows", metavar="FILE.csv", help="Write every solved row.")
@click.option("--plot", metavar="FILE", help="Draw it over time: .png, .svg or .pdf.")
@click.option("--no-cures", is_flag=True, help="Do not search for what would cure a shortfall.")
@force_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    frame: Frame,
    files: tuple[str, ...],
    demo: str | None,
    column: tuple[str, ...],
    rate: str | None,
    scenario: str | None,
    oil: str | None,
    tolerance: str | None,
    rows: str | None,
    plot: str | None,
    no_cures: bool,
    force: bool,
) -> None:
    """A route log through the truck: what was ordered, what came out, where it fell short and why.

    A log is CSV (or Parquet, with pyarrow) with a header: "time [s], engine speed [rpm],
    road speed [mph]" and, where logged, "rate [lb/lane-mile]", "spreading" (on or off) and
    "oil temperature [degF]". "engine_rpm" names a unit too. Other headers are told by --column
    with the roles time, engine, road, rate, on, oil. A clock stands under "timestamp" or
    "time [iso]", as 2026-01-05T03:30:00. Several logs make a fleet table. A first
    file that ends in .toml is the truck.
    """
    from hydrocheck.errors import HydrocheckError
    from hydrocheck.report.replay import fleet_text, replay_json, replay_text
    from hydrocheck.studies.cures import cures

    frame, logs = _sources(frame, files, demo)
    if len(logs) > 1 and (rows is not None or plot is not None):
        raise click.UsageError("--rows and --plot take one log")
    truck = frame.truck.load()
    order = _order(rate, scenario, oil, tolerance)
    told = _columns(column)
    found: list[Replay] = []
    failed: dict[str, str] = {}
    for log in logs:
        try:
            with _sink(rows, truck, frame.units, force) as sink:
                found.append(_replay(truck, log, told, order, sink))
        except HydrocheckError as error:
            if len(logs) == 1:
                raise
            failed[log] = str(error).splitlines()[0]
    # One log that cannot be used does not hide the others.
    for log, why in failed.items():
        click.echo(f"error: {log}: {why}", err=True)
    if found:
        changes = [[] if no_cures or len(logs) > 1 else cures(truck, one) for one in found]
        if plot is not None:
            from hydrocheck.report.figures import save_figure
            from hydrocheck.report.replayplot import replay_figure

            save_figure(replay_figure(truck.name, found[0], frame.units), Path(plot), force=force)
        both = list(zip(found, changes, strict=True))
        frame.emit(
            text=lambda: (
                fleet_text(truck.name, found, frame.units)
                if len(logs) > 1
                else replay_text(truck.name, *both[0], frame.units)
            ),
            result=lambda: {
                "logs": [replay_json(one, cured, frame.units) for one, cured in both],
                "failed": failed,
            },
            defaults_used=truck.defaults_used,
        )
    if failed:
        raise click.exceptions.Exit(2)


def _sources(frame: Frame, files: tuple[str, ...], demo: str | None) -> tuple[Frame, list[str]]:
    """The frame with its truck, and the logs."""
    truck = files[0] if files and files[0].lower().endswith(".toml") else None
    logs = list(files[1:] if truck is not None else files)
    if not logs:
        raise click.UsageError("give a log: hydrocheck replay TRUCK LOG.csv")
    return replace(frame, source=truck_source(truck, demo)), logs


def _columns(told: tuple[str, ...]) -> dict[str, str]:
    """Headers by role. Raises DomainError."""
    from hydrocheck.errors import DomainError

    columns: dict[str, str] = {}
    for text in told:
        role, sign, header = (part.strip() for part in text.partition("="))
        if not sign or not role or not header:
            raise DomainError(f"--column {text[:60]!r}: write ROLE=HEADER [unit]")
        if role in columns:
            raise DomainError(f"--column {text[:60]!r}: {role} is told twice")
        columns[role] = header
    return columns


def _order(
    rate: str | None, scenario: str | None, oil: str | None, tolerance: str | None
) -> ReplayOrder:
    from hydrocheck.errors import DomainError
    from hydrocheck.studies.replay import ReplayOrder

    share = option_value("tolerance", tolerance, "fraction")
    if share is not None and not 0.0 <= share < 1.0:
        raise DomainError("--tolerance: must be at least 0 and below 100 %")
    return ReplayOrder(
        scenario=scenario,
        rate=option_value("rate", rate, "application_rate"),
        oil_temperature=option_value("oil", oil, "temperature"),
        tolerance=share,
    )


@contextmanager
def _sink(
    path: str | None, truck: Truck, units: str, force: bool
) -> Iterator[Callable[[RowBlock], None] | None]:
    """What takes the solved rows: a CSV file, written whole or not at all."""
    if path is None:
        yield None
        return
    from hydrocheck.report.files import whole_file
    from hydrocheck.report.replay import RowWriter
    from hydrocheck.solver import solved_functions

    names = [f.name for f in solved_functions(truck)]
    with whole_file(path, force=force) as temporary, temporary.open("w", encoding="utf-8") as file:
        yield RowWriter(file, names, units)


def _replay(
    truck: Truck,
    log: str,
    told: dict[str, str],
    order: ReplayOrder,
    sink: Callable[[RowBlock], None] | None,
) -> Replay:
    """One log, with a progress bar on a terminal."""
    from hydrocheck.model.logfile import open_log
    from hydrocheck.studies.replay import replay_log

    opened = open_log(log, told)
    if not sys.stderr.isatty():
        return replay_log(truck, opened, order, sink)
    with click.progressbar(length=1000, label=Path(log).name[:24], file=sys.stderr) as bar:

        def progress(done: float) -> None:
            bar.update(max(0, round(1000 * done) - bar.pos))

        return replay_log(truck, opened, order, sink, progress)
