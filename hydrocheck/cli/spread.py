"""`hydrocheck spread`: rates, calibration, what the circuit gives by road speed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from hydrocheck.cli._frame import Frame, force_option, option_value, told_value, truck_options

if TYPE_CHECKING:
    from hydrocheck.model.truck import Truck
    from hydrocheck.studies.spreading import SpreadOrder


@click.command()
@truck_options
@click.option("--rate", multiple=True, metavar="RATE", help='"200 lb/lane-mile", "20 g/m2".')
@click.option("--speed", multiple=True, metavar="SPEED", help='Road speed, such as "25 mph".')
@click.option(
    "--width", metavar="WIDTH", help="Width that a rate in g/m2 covers (default: a lane)."
)
@click.option("--scenario", metavar="NAME", help="What else runs (default: first with a feeder).")
@click.option("--oil", metavar="TEMPERATURE", help='Oil temperature, such as "110 degF".')
@click.option("--per-rev", metavar="MASS", help='Discharge per revolution, such as "5.1 lb/rev".')
@click.option("--catch", metavar="FILE.csv", help="Evaluate a catch test, and spread by its mean.")
@click.option("--loads", metavar="FILE.csv", help="Evaluate weighed loads against their orders.")
@click.option("--pans", metavar="FILE.csv", help="Evaluate a pan test across the road.")
@click.option("--materials", is_flag=True, help="List bulk densities with their sources.")
@click.option("--plot", metavar="FILE", help="Also draw it: .png, .svg or .pdf.")
@click.option("--card", metavar="FILE.html", help="Also write a cab card to print.")
@force_option
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    frame: Frame,
    rate: tuple[str, ...],
    speed: tuple[str, ...],
    width: str | None,
    scenario: str | None,
    oil: str | None,
    per_rev: str | None,
    catch: str | None,
    loads: str | None,
    pans: str | None,
    materials: bool,
    plot: str | None,
    card: str | None,
    force: bool,
) -> None:
    """Rates on the road: discharge, auger speed, oil flow, command, whether it is held.

    Without --rate and --speed those of the truck file are taken. --catch reads weighed catches:
    "setting [%], revolutions [rev], gross [lb], tare [lb], time [s]" (or "mass"; setting and time
    may be left out). --loads reads "rate [lb/lane-mile], distance [mile], mass [lb]", --pans
    "across [ft], mass [lb]" (or "depth").
    """
    truck = frame.truck.load()
    order = _order(truck, rate, speed, width, (scenario, oil, per_rev))
    parts: list[Part] = []
    if loads is not None:
        parts.append(_loads(truck, loads, frame.units))
    if pans is not None:
        parts.append(_pans(truck, pans, frame.units))
    if materials:
        parts.append(_materials(frame.units))
    if catch is not None:
        part, order = _catch(truck, catch, order, frame.units)
        parts.append(part)
    # What is asked for by itself stands alone; files and a catch need the rates.
    if not parts or catch is not None or plot is not None or card is not None:
        parts.append(_spread(truck, order, frame.units, Outputs(plot, card, force)))
    frame.emit(
        text=lambda: "\n\n".join(part.text() for part in parts),
        result=lambda: {part.key: part.result() for part in parts},
        defaults_used=truck.defaults_used,
    )


@dataclass(frozen=True)
class Part:
    """One part of the answer: its key in JSON, as text and as JSON."""

    key: str
    text: Callable[[], str]
    result: Callable[[], object]


@dataclass(frozen=True)
class Outputs:
    """Files to write beside what is printed."""

    plot: str | None
    card: str | None
    force: bool


def _order(
    truck: Truck,
    rates: tuple[str, ...],
    speeds: tuple[str, ...],
    width: str | None,
    others: tuple[str | None, str | None, str | None],
) -> SpreadOrder:
    """What the options ask. Raises UnitError, DomainError."""
    from hydrocheck.errors import DomainError
    from hydrocheck.studies.spreading import SpreadOrder

    scenario, oil, per_turn = others
    across = (
        float(truck.spreading.lane_width) if width is None else told_value("width", width, "length")
    )
    if not across > 0:
        raise DomainError(f"--width {(width or '')[:60]!r}: must be above zero")
    told = tuple(_rate(text, across) for text in rates)
    driven = tuple(told_value("speed", text, "road_speed") for text in speeds)
    for option, values in (("--rate", told), ("--speed", driven)):
        if any(not value > 0 for value in values):
            raise DomainError(f"{option}: must be above zero")
    turn = option_value("per-rev", per_turn, "mass_per_rev")
    if turn is not None and not turn > 0:
        raise DomainError("--per-rev: must be above zero")
    return SpreadOrder(
        rates=told or None,
        road_speeds=driven or None,
        oil_temperature=option_value("oil", oil, "temperature"),
        scenario=scenario,
        per_turn=turn,
    )


def _rate(text: str, width: float) -> float:
    """A rate for a lane [kg/m], from one for a lane or for an area [over width, m]."""
    from hydrocheck.errors import UnitError

    try:
        return told_value("rate", text, "application_rate")
    except UnitError as error:
        try:
            return told_value("rate", text, "area_rate") * width
        except UnitError:
            raise error from None


def _loads(truck: Truck, path: str, units: str) -> Part:
    from hydrocheck.model.catches import read_loads
    from hydrocheck.report.catchtest import loads_json, loads_text
    from hydrocheck.studies.catchtest import verify_loads

    found = verify_loads(truck, read_loads(path))
    return Part(
        "loads",
        lambda: loads_text(truck.name, found, units),
        lambda: loads_json(found, units),
    )


def _pans(truck: Truck, path: str, units: str) -> Part:
    from hydrocheck.model.pans import read_pans
    from hydrocheck.report.pantest import pan_json, pan_text
    from hydrocheck.studies.pantest import pan_test

    found = pan_test(truck, read_pans(path))
    return Part("pans", lambda: pan_text(truck.name, found, units), lambda: pan_json(found, units))


def _materials(units: str) -> Part:
    from hydrocheck.report.pantest import materials_json, materials_text
    from hydrocheck.studies.materials import known_materials

    known = known_materials()
    return Part(
        "materials", lambda: materials_text(known, units), lambda: materials_json(known, units)
    )


def _catch(truck: Truck, path: str, order: SpreadOrder, units: str) -> tuple[Part, SpreadOrder]:
    """The catch test, and the order with its mean where no discharge was told."""
    from dataclasses import replace

    from hydrocheck.model.catches import read_catches
    from hydrocheck.report.catchtest import catch_json, catch_text
    from hydrocheck.studies.catchtest import calibration_table, catch_test

    found = catch_test(truck, read_catches(path))
    speeds = order.road_speeds or truck.spreading.road_speeds
    classic = calibration_table(found, speeds, truck.spreading.lanes)
    part = Part(
        "catch",
        lambda: catch_text(truck.name, found, classic, units),
        lambda: catch_json(found, classic, units),
    )
    mean = found.catch.mean if order.per_turn is None else order.per_turn
    return part, replace(order, per_turn=mean)


def _spread(truck: Truck, order: SpreadOrder, units: str, outputs: Outputs) -> Part:
    from hydrocheck.report.spreading import spread_json, spread_text
    from hydrocheck.studies.feederload import torque_bands
    from hydrocheck.studies.liquid import liquid_need
    from hydrocheck.studies.materials import density_of
    from hydrocheck.studies.spreading import spread_table

    found = spread_table(truck, order)
    liquid = liquid_need(truck, found.rates, found.road_speeds)
    bands, density = torque_bands(truck), density_of(truck)
    if outputs.plot is not None:
        from hydrocheck.report.figures import save_figure
        from hydrocheck.report.spreadplot import spread_figure
        from hydrocheck.studies.spreading import reach

        figure = spread_figure(truck.name, found, reach(truck, order, found), units)
        save_figure(figure, Path(outputs.plot), force=outputs.force)
    if outputs.card is not None:
        from hydrocheck.report.cabcard import cab_card
        from hydrocheck.report.files import write_text

        page = cab_card(truck.name, found, truck.spreading.material, units)
        write_text(outputs.card, page, force=outputs.force)
    return Part(
        "spread",
        lambda: spread_text(truck.name, found, liquid, bands, density, units),
        lambda: spread_json(found, liquid, bands, units),
    )
