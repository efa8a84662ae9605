"""`hydrocheck heat`: where the oil temperature settles, and how the oil warms."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from hydrocheck.cli._frame import Frame, force_option, option_value, told_value, truck_options

if TYPE_CHECKING:
    from hydrocheck.model.truck import Truck
    from hydrocheck.studies.thermal import Part


@click.command()
@truck_options
@click.option("--scenario", metavar="NAME", help="Which scenario (default: the first).")
@click.option(
    "--duty",
    multiple=True,
    metavar="NAME=%",
    help='A share of the time instead: "spreading=70 %"; "standby=30 %": nothing runs.',
)
@click.option("--ambient", metavar="TEMPERATURE", help='Air, such as "20 degF".')
@click.option("--engine", metavar="SPEED", help='Engine speed, such as "1300 rpm".')
@click.option("--surface", metavar="AREA", help='Further surface, such as "20 ft2".')
@click.option("--hoses", is_flag=True, help="Count the inside surface of the hoses too.")
@click.option("--warm-up", is_flag=True, help="Follow the oil from a cold start.")
@click.option("--start", metavar="TEMPERATURE", help="Oil at that start (default: oil.cold).")
@click.option("--metal", metavar="MASS", help='Metal that warms with it, such as "300 lb".')
@click.option("--plot", metavar="FILE", help="Draw the warm-up: .png, .svg or .pdf.")
@force_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    frame: Frame,
    scenario: str | None,
    duty: tuple[str, ...],
    ambient: str | None,
    engine: str | None,
    surface: str | None,
    hoses: bool,
    warm_up: bool,
    start: str | None,
    metal: str | None,
    plot: str | None,
    force: bool,
) -> None:
    """Where the oil temperature settles, heat by element, warming from a cold start.

    Without --ambient the coldest and the hottest air of the truck file are taken.
    """
    from hydrocheck.report.heat import heat_json, heat_text
    from hydrocheck.studies.heatstudy import HeatOrder, study_heat
    from hydrocheck.studies.thermal import Cooling, hose_surface

    if scenario is not None and duty:
        raise click.UsageError("give --scenario or --duty, not both")
    truck = frame.truck.load()
    further = option_value("surface", surface, "area") or 0.0
    order = HeatOrder(
        duty=_duty(truck, scenario, duty, option_value("engine", engine, "shaft_speed")),
        ambient=option_value("ambient", ambient, "temperature"),
        cooling=Cooling(further_surface=further + (hose_surface(truck) if hoses else 0.0)),
        warming=warm_up or plot is not None,
        start=option_value("start", start, "temperature"),
        metal_mass=option_value("metal", metal, "mass") or 0.0,
    )
    study = study_heat(truck, order)
    if plot is not None:
        from hydrocheck.report.figures import save_figure
        from hydrocheck.report.heatplot import heat_figure

        save_figure(heat_figure(truck.name, study, frame.units), Path(plot), force=force)
    frame.emit(
        text=lambda: heat_text(truck.name, study, frame.units),
        result=lambda: heat_json(study, frame.units),
        defaults_used=truck.defaults_used,
    )


def _duty(
    truck: Truck, scenario: str | None, told: tuple[str, ...], engine: float | None
) -> tuple[Part, ...]:
    """The duty that the options name. Raises DomainError, UnitError, MissingValue."""
    from hydrocheck.errors import DomainError, MissingValue
    from hydrocheck.studies.thermal import duty_of

    if not told:
        if scenario is None and not truck.scenario:
            raise MissingValue(["a [[scenario]]"])
        return duty_of(truck, {scenario or truck.scenario[0].name: 1.0}, engine)
    shares: dict[str, float] = {}
    for text in told:
        name, sign, value = (part.strip() for part in text.rpartition("="))
        if not sign or not name:
            raise DomainError(f"--duty '{text[:60]}': write NAME=SHARE, such as spreading=70 %")
        if name in shares:
            raise DomainError(f"--duty '{text[:60]}': {name} is told twice")
        shares[name] = told_value(f"duty {name}", value, "fraction")
    return duty_of(truck, shares, engine)
