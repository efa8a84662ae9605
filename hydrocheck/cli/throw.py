"""`hydrocheck throw`: where the salt lands."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from hydrocheck.cli._frame import Frame, force_option, option_value, truck_options

if TYPE_CHECKING:
    from hydrocheck.model.circuit import Disc


@click.command()
@truck_options
@click.option("--spinner", metavar="NAME", help="Which spinner (default: the first).")
@click.option("--width", metavar="WIDTH", help='Width to cover, such as "24 ft" (else the lanes).')
@click.option("--road-speed", metavar="SPEED", help='Of the truck, such as "25 mph".')
@click.option("--air", metavar="TEMPERATURE", help='Of the air (else "23 degF").')
@click.option("--height", metavar="LENGTH", help="Disc above the road, in place of the file's.")
@click.option("--tilt", metavar="ANGLE", help='Tilt of the disc, such as "3 deg".')
@click.option(
    "--high-side",
    type=click.Choice(["left", "right", "rear", "front"]),
    help="Where a tilted disc is high.",
)
@click.option("--exit-elevation", metavar="ANGLE", help="Of the grains, above the disc's plane.")
@click.option("--plot", metavar="FILE", help="Also draw it: .png, .svg or .pdf.")
@force_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    frame: Frame,
    spinner: str | None,
    width: str | None,
    road_speed: str | None,
    air: str | None,
    height: str | None,
    tilt: str | None,
    high_side: str | None,
    exit_elevation: str | None,
    plot: str | None,
    force: bool,
) -> None:
    """Throw width against spinner speed, the speed for a width, bounces. An estimate.

    Height, tilt and exit elevation of the disc matter most; none is guessed.
    """
    from hydrocheck.report.throw import throw_json, throw_text
    from hydrocheck.studies.pattern import AIR
    from hydrocheck.studies.throw import ThrowOrder, study_throw

    truck = frame.truck.load()
    order = ThrowOrder(
        spinner=spinner,
        width=option_value("width", width, "spread_width"),
        road_speed=option_value("road-speed", road_speed, "road_speed"),
        air=AIR if air is None else option_value("air", air, "temperature") or 0.0,
        disc=_disc(height, tilt, high_side, exit_elevation),
    )
    throw = study_throw(truck, order)
    if plot is not None:
        from hydrocheck.report.figures import save_figure
        from hydrocheck.report.throwplot import throw_figure

        save_figure(throw_figure(truck.name, throw, frame.units), Path(plot), force=force)
    frame.emit(
        text=lambda: throw_text(truck.name, throw, frame.units),
        result=lambda: throw_json(throw, frame.units),
        defaults_used=truck.defaults_used,
    )


def _disc(
    height: str | None, tilt: str | None, high_side: str | None, exit_elevation: str | None
) -> Disc | None:
    """What the options tell of the disc. Raises UnitError, DomainError."""
    from math import radians

    from hydrocheck.errors import DomainError
    from hydrocheck.model.circuit import Disc

    angles = {}
    for option, text, most in (("tilt", tilt, 45), ("exit-elevation", exit_elevation, 60)):
        angles[option] = option_value(option, text, "angle")
        value = angles[option]
        if value is not None and (abs(value) > radians(most) or (option == "tilt" and value < 0)):
            least = 0 if option == "tilt" else -most
            raise DomainError(f"--{option} '{text}': from {least} to {most} degrees fits")
    return Disc(
        height=option_value("height", height, "length"),
        tilt=angles["tilt"],
        high_side=high_side,
        exit_elevation=angles["exit-elevation"],
    )
