"""`hydrocheck size`: circuits for what a new truck must do."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from hydrocheck.cli._frame import Frame, common_options, force_option

if TYPE_CHECKING:
    from collections.abc import Callable

    from hydrocheck.advice.sizing import Sizing


@click.command()
@common_options
@click.argument("needs", required=False, metavar="[NEEDS]")
@click.option("--demo", metavar="NAME", help="Use a built-in needs file instead.")
@click.option("--shelf", metavar="CSV", help="Choose from these parts, not from preferred sizes.")
@click.option("--place", metavar="N", type=click.IntRange(1, 25), default=1, show_default=True,
              help="Take the circuit at this place of the ranking.")  # fmt: skip
@click.option("--start", metavar="FILE", help="Write the built-in needs file there to start from.")
@click.option("--explain", is_flag=True, help="Show the hand calculation behind each size.")
@click.option("-o", "--output", metavar="FILE", help="Write the truck file (TOML).")
@click.option("--page", metavar="FILE", help="Write the spec page (HTML).")
@click.option("--bill", "bill_file", metavar="FILE", help="Write the bill of sizes (CSV).")
@click.option("--plot", metavar="FILE", help="Draw the trade-off: .png, .svg or .pdf.")
@click.option("--budget", metavar="FILE", help="Draw the flow budget: .png, .svg or .pdf.")
@force_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    frame: Frame,
    needs: str | None,
    demo: str | None,
    shelf: str | None,
    place: int,
    explain: bool,
    force: bool,
    **files: str | None,
) -> None:
    """Size a new truck: from what it must do to the circuits that do it, ranked, with reasons.

    NEEDS says what must be moved, what runs together, the engine, the drives and pressure levels
    on offer. Without it the first built-in needs file is used. Exit code 0 when a circuit fits, 1
    when none does, 2 for bad input.
    """
    from hydrocheck.advice.sizing import size_truck
    from hydrocheck.model.needs import read_needs
    from hydrocheck.model.shelf import read_shelf
    from hydrocheck.report.figures import figure_format
    from hydrocheck.report.files import refuse_targets
    from hydrocheck.report.sizing import explain_text, sizing_json, sizing_text

    if (start := files.pop("start")) is not None:
        _start(start, needs, demo, frame, force)
        return
    refuse_targets([f for f in files.values() if f is not None], force=force)
    for figure in (files["plot"], files["budget"]):
        if figure is not None:
            figure_format(Path(figure))
    parts = None if shelf is None else read_shelf(shelf)
    wanted = read_needs(_source(needs, demo))
    sizing = size_truck(wanted, parts, place=place)
    written = _write(sizing, files, frame, force) if sizing.chosen is not None else []

    def text() -> str:
        shown = [sizing_text(sizing, frame.units)]
        if explain and sizing.chosen is not None:
            shown.append(explain_text(sizing, frame.units))
        return "\n\n".join([*shown, *(f"wrote {f}" for f in written)])

    frame.emit(
        text=text,
        result=lambda: sizing_json(sizing, frame.units) | {"files": written},
        defaults_used=wanted.defaults_used,
    )
    ctx.exit(0 if sizing.chosen is not None else 1)


def _start(file: str, needs: str | None, name: str | None, frame: Frame, force: bool) -> None:
    """Write a needs file to start from."""
    from hydrocheck.report.files import write_text

    write_text(file, _source(needs, name).read_text(encoding="utf-8"), force=force)
    frame.emit(
        text=lambda: f"wrote {file}; next: put in your own needs, then `hydrocheck size {file}`",
        result=lambda: {"file": file},
    )


def _source(needs: str | None, name: str | None) -> Path:
    """The needs file that the options name; with neither the first built-in one, said aloud."""
    from hydrocheck import demo as demos

    if needs is not None and name is not None:
        raise click.UsageError("give a needs file or --demo NAME, not both")
    if needs is not None:
        return Path(needs)
    if name is None:
        name = demos.needs_names()[0]
        click.echo(f"note: no needs file given; using the built-in {name}", err=True)
    return demos.needs_path(name)


def _write(sizing: Sizing, files: dict[str, str | None], frame: Frame, force: bool) -> list[str]:
    """Write what was asked for; the files' names."""
    from hydrocheck.advice.sizing import require_chosen
    from hydrocheck.advice.sizing_file import sized_truck_text
    from hydrocheck.report.budgetplot import budget_figure
    from hydrocheck.report.figures import save_figure
    from hydrocheck.report.files import write_text
    from hydrocheck.report.sizing import bill_csv
    from hydrocheck.report.sizingpage import main_budget, sizing_page
    from hydrocheck.report.sizingplot import sizing_figure

    units = frame.units
    texts: dict[str, Callable[[], str]] = {
        "output": lambda: sized_truck_text(sizing, units),
        "page": lambda: sizing_page(sizing, units),
        "bill_file": lambda: bill_csv(sizing, units),
    }
    written = []
    for key, make in texts.items():
        if (path := files[key]) is not None:
            write_text(path, make(), force=force)
            written.append(path)
    if (path := files["plot"]) is not None:
        save_figure(sizing_figure(sizing, units), Path(path), force=force)
        written.append(path)
    if (path := files["budget"]) is not None:
        name = require_chosen(sizing).truck.name
        save_figure(budget_figure(name, main_budget(sizing), units), Path(path), force=force)
        written.append(path)
    return written
