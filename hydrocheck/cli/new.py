"""`hydrocheck new`: start a truck file."""

from __future__ import annotations

from typing import get_args

import click

from hydrocheck.cli._frame import Frame, common_options, force_option
from hydrocheck.model.template import Choices, Feeder, Liquid, PumpType


@click.command()
@common_options
@click.argument("file", metavar="FILE")
@click.option("--name", default=Choices.name, show_default=True, help="What the truck is called.")
@click.option(
    "--pump",
    type=click.Choice(get_args(PumpType)),
    default=Choices.pump,
    show_default=True,
    help="How the pump delivers; a fixed pump gets an open-centre bank.",
)
@click.option(
    "--feeder",
    type=click.Choice(get_args(Feeder)),
    default=Choices.feeder,
    show_default=True,
    help="What moves the material to the spinner.",
)
@click.option(
    "--liquid",
    type=click.Choice(get_args(Liquid)),
    default=Choices.liquid,
    show_default=True,
    help="What drives the liquid pump, if there is one.",
)
@force_option
def command(
    frame: Frame, file: str, name: str, pump: PumpType, feeder: Feeder, liquid: Liquid, force: bool
) -> None:
    """Start a truck file: readable as it is, every optional value a comment with its meaning."""
    from hydrocheck.model.template import starter
    from hydrocheck.report.files import write_text

    write_text(file, starter(Choices(name, pump, feeder, liquid)), force=force)
    frame.emit(
        text=lambda: f"wrote {file}; next: fill in what you know, then `hydrocheck check {file}`",
        result=lambda: {"file": file, "pump": pump, "feeder": feeder, "liquid": liquid},
    )
