"""`hydrocheck defaults`: every default of the truck file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from hydrocheck.cli._frame import Frame, Units, common_options

if TYPE_CHECKING:
    from hydrocheck.model.defaults import Default


@click.command()
@common_options
@click.option("--needs", is_flag=True, help="Of the needs file (for size) instead.")
def command(frame: Frame, needs: bool) -> None:
    """List every default of the truck file: key, value, meaning and source."""
    from hydrocheck.model.defaults import defaults
    from hydrocheck.model.needs import NeedsTables
    from hydrocheck.model.truck import Truck

    found = defaults(NeedsTables if needs else Truck)
    frame.emit(
        text=lambda: _text(found, frame.units),
        result=lambda: [_json(one, frame.units) for one in found],
    )


def _text(found: tuple[Default, ...], units: Units) -> str:
    """A table for each table of the truck file."""
    from hydrocheck.report.text import table

    groups: dict[str, list[Default]] = {}
    for one in found:
        groups.setdefault(one.key.rpartition(".")[0], []).append(one)
    blocks = []
    for group, members in groups.items():
        rows = [
            [one.key.rpartition(".")[2], _shown(one, units), one.about, one.source]
            for one in members
        ]
        body = table(["key", "value", "meaning", "source"], rows, align="llll")
        blocks.append(f"{group}\n{body}")
    return "\n\n".join(blocks)


def _json(one: Default, units: Units) -> dict[str, object]:
    from hydrocheck.report.envelope import quantity
    from hydrocheck.units import KINDS

    plain = one.si is None
    value = one.value if plain else quantity(one.si, KINDS[one.kind].si, _shown(one, units))
    return {"key": one.key, "value": value, "about": one.about, "source": one.source}


def _shown(one: Default, units: Units) -> str:
    """As the truck file would write it, or in metric units."""
    from hydrocheck.units import show

    if one.si is None or units == "us":
        return one.value
    return show(one.si, one.kind, units)
