"""Bulk densities: what is usual for a material, and whether the truck file lies there."""

from __future__ import annotations

from dataclasses import dataclass

from hydrocheck.model.truck import Truck
from hydrocheck.physics.bulk import MATERIALS, Bulk, material_named


@dataclass(frozen=True)
class Density:
    """A material's bulk density [kg/m3], usual and its range, with the source.

    given: what the truck file has, None where it has none; factor: of a control-fed screw [1]
    """

    name: str
    low: float
    usual: float
    high: float
    factor: float
    source: str
    given: float | None = None

    @property
    def inside(self) -> bool:
        """Whether the truck file's density is a usual one; true where it has none."""
        return self.given is None or self.low <= self.given <= self.high


def density_of(truck: Truck) -> Density | None:
    """The usual density of the truck's material beside its own; None for an unknown material."""
    found = material_named(truck.spreading.material)
    given = truck.spreading.density
    return None if found is None else _density(found, None if given is None else float(given))


def known_materials() -> list[Density]:
    """Every material of the table."""
    return [_density(one, None) for one in MATERIALS]


def _density(one: Bulk, given: float | None) -> Density:
    return Density(one.name, one.low, one.usual, one.high, one.factor, one.source, given)
