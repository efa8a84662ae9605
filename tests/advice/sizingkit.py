"""Needs with few sizes, for tests of sizing: quick, and with rejections of every kind."""

from __future__ import annotations

from dataclasses import replace

from hydrocheck import demo
from hydrocheck.model.needs import Needs, read_needs
from hydrocheck.units import parse


def sizes(*numbers: float) -> tuple[float, ...]:
    """Displacements from cm3 a turn."""
    return tuple(parse(f"{n} cm3/rev", "displacement") for n in numbers)


def smaller_grid(pump: str = "any", ratios: tuple[float, ...] = (0.9, 1.1)) -> Needs:
    """The built-in needs with a few sizes of each part."""
    needs = read_needs(demo.needs_path("patrol"))
    choose = {"auger": sizes(250, 315, 500), "spinner": sizes(40, 63), "liquid": sizes(4, 6.3)}
    functions = tuple(replace(f, displacements=choose.get(f.name, ())) for f in needs.function)
    wanted = replace(needs.pump, type=pump, displacements=sizes(50, 63, 80, 100, 125))
    drive = replace(needs.engine.drive, ratios=ratios)
    engine = replace(needs.engine, drive=drive)
    return replace(needs, function=functions, pump=wanted, engine=engine)
