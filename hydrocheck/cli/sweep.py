"""`hydrocheck sweep`: any inputs over ranges, to CSV."""

from __future__ import annotations

import sys
from collections.abc import Callable
from io import StringIO
from typing import TYPE_CHECKING

import click

from hydrocheck.cli._frame import Frame, force_option, truck_options

if TYPE_CHECKING:
    from hydrocheck.studies.sweep import Sweep, SweepBlock

MOST_PRINTED = 200_000


@click.command()
@truck_options
@click.option(
    "--vary",
    multiple=True,
    required=True,
    metavar="INPUT=FROM..TO UNIT:COUNT",
    help='Such as "engine=800..2400 rpm:17", or a list: "oil=40 degF; 110 degF".',
)
@click.option("--scenario", metavar="NAME", help="What runs (default: the first scenario).")
@click.option("--keep", multiple=True, metavar="COLUMN", help="Keep these; commas between several.")
@click.option("--csv", "path", metavar="FILE.csv", help="Write to a file (default: print it).")
@force_option
def command(
    frame: Frame,
    vary: tuple[str, ...],
    scenario: str | None,
    keep: tuple[str, ...],
    path: str | None,
    force: bool,
) -> None:
    """Every combination of inputs over their ranges, solved, as CSV with units in its header.

    An input is a value of the truck file by its path (pump.displacement, auger.motor.load.constant,
    lines.pressure.bore), or of the operating point: engine, oil, hopper, rate, "road speed", and of
    a function NAME.command, NAME.setting, NAME.speed or NAME.flow. Without an engine or oil input
    the middle of the scenario's is taken.
    """
    from hydrocheck.errors import DomainError
    from hydrocheck.report.sweep import SweepWriter, sweep_json
    from hydrocheck.studies.sweep import SweepOrder, axis_from_text, prepare

    truck = frame.truck.load()
    columns = tuple(name.strip() for text in keep for name in text.split(",") if name.strip())
    axes = tuple(axis_from_text(truck, text) for text in vary)
    sweep = prepare(truck, SweepOrder(axes, scenario, columns))
    if path is None and sweep.order.size > MOST_PRINTED:
        raise DomainError(f"{sweep.order.size} points are much to print; use --csv FILE.csv")
    blocks: list[SweepBlock] = []
    printed = StringIO()
    if path is None and frame.as_json:
        _run(sweep, blocks.append)
    elif path is None:
        _run(sweep, SweepWriter(printed, sweep, frame.units))
    else:
        from hydrocheck.report.files import whole_file

        with whole_file(path, force=force) as temporary, temporary.open("w", encoding="utf-8") as f:
            _run(sweep, SweepWriter(f, sweep, frame.units))
    size = sweep.order.size
    frame.emit(
        text=lambda: f"wrote {size} points to {path}" if path else printed.getvalue().rstrip("\n"),
        result=lambda: (
            sweep_json(sweep, blocks) if path is None else {"points": size, "file": path}
        ),
        defaults_used=truck.defaults_used,
    )


def _run(sweep: Sweep, sink: Callable[[SweepBlock], None]) -> None:
    """Solve and hand on every block, with a progress bar on a terminal."""
    if not sys.stderr.isatty():
        for block in sweep.blocks():
            sink(block)
        return
    with click.progressbar(length=1000, label="sweep", file=sys.stderr) as bar:
        for block in sweep.blocks():
            sink(block)
            bar.update(max(0, round(1000 * block.done) - bar.pos))
