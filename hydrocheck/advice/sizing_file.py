"""The truck file of a sized circuit: complete, with the requirement beside each size."""

from __future__ import annotations

from hydrocheck.advice.sizing import Sizing, require_chosen
from hydrocheck.advice.sizing_bill import Item, bill
from hydrocheck.model.writer import truck_text

HEAD = """\
Sized by `hydrocheck size` from what the truck must do; `hydrocheck check FILE` judges it.
Efficiencies and speed limits of machines are assumptions until their maker is known.
Deadband and trims are predictions: measured ones replace them."""


def sized_truck_text(sizing: Sizing, units: str = "us") -> str:
    """The truck file of the chosen circuit. Raises MissingValue where none fits."""
    truck = require_chosen(sizing).truck
    notes = {path: i.rule.shown(units) for i in bill(sizing) if (path := _path(i, sizing))}
    return truck_text(truck, units, head=HEAD, notes=notes)


def _path(item: Item, sizing: Sizing) -> str:
    """Where an item's size stands in the truck file; empty where its rule says little."""
    if item.item.startswith("pump,"):
        return "pump.displacement"
    if item.item == "motor":
        return f"{item.group}.motor.displacement"
    if item.item == "cylinder":
        return f"{item.group}.cylinder.bore"
    settings = {
        "main relief, pilot operated": "main relief.setting",
        "compensator": "pump.compensator",
        "LS margin": "pump.margin",
        "tank": "reservoir.volume",
        "cooler": "reservoir.cooler",
    }
    if item.group == "hoses":
        return f"lines.{item.item.removesuffix(' line')}.bore"
    return settings.get(item.item, "")
