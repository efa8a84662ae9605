"""What spread materials weigh by volume, and how hard a screw finds them, with sources."""

from __future__ import annotations

from dataclasses import dataclass

from hydrocheck.errors import DomainError
from hydrocheck.physics.arrays import Array, as_array

__all__ = ["MATERIALS", "Bulk", "bulk_density", "material_named"]

_POUND_FOOT = 0.45359237 / 0.3048**3


@dataclass(frozen=True)
class Bulk:
    """A material: its words, bulk density [kg/m3] (low, usual, high), screw factor [1], source."""

    name: str
    words: tuple[frozenset[str], ...]
    low: float
    usual: float
    high: float
    factor: float
    source: str


def _bulk(
    name: str, words: tuple[str, ...], lb_per_ft3: tuple[float, float, float], factor: float,
    source: str,
) -> Bulk:  # fmt: skip
    """A row of the table, whose densities are written as the sources have them."""
    low, usual, high = (value * _POUND_FOOT for value in lb_per_ft3)
    sets = tuple(frozenset(text.split()) for text in words)
    return Bulk(name, sets, low, usual, high, factor, source)


MATERIALS = (
    _bulk(
        "magnesium chloride flake", ("magnesium chloride", "mgcl2"), (30.0, 33.0, 36.0), 1.0,
        "screw-conveyor standard, Table 2-2 (33 lb/ft3); range ours",
    ),
    _bulk(
        "salt in store", ("stored salt", "salt store", "compacted salt"), (72.0, 80.0, 84.0), 1.0,
        "Salt Institute, Salt Storage Handbook: 72 loose, 80 design, 84 compacted",
    ),
    _bulk(
        "damp salt", ("damp salt", "wet salt", "treated salt"), (75.0, 80.0, 90.0), 1.7,
        "range and factor from memory",
    ),
    _bulk(
        "road salt, dry", ("salt",), (65.0, 72.0, 85.0), 1.0,
        "72 lb/ft3: Salt Institute, loose; range and factor from memory",
    ),
    _bulk(
        "sand, damp or wet", ("wet sand", "damp sand"), (105.0, 115.0, 130.0), 2.8, "from memory"
    ),
    _bulk("sand, dry", ("sand", "abrasives", "abrasive"), (90.0, 100.0, 110.0), 1.7, "from memory"),
    _bulk(
        "stone chips", ("chips", "stone", "grit"), (80.0, 88.0, 95.0), 2.0,
        "screw-conveyor standard, Table 2-2 (crushed marble 80-95 lb/ft3, factor 2.0)",
    ),
)  # fmt: skip
"""The first whose words all stand in a name is taken."""


def material_named(material: str) -> Bulk | None:
    """The material of the table that a name speaks of, None where none does.

    material: such as "road salt", "wet sand"
    returns: its row, densities in [kg/m3]

    >>> material_named("Road salt").name
    'road salt, dry'

    Source: the table's rows each name theirs.
    """
    said = set(material.casefold().replace(",", " ").split())
    for one in MATERIALS:
        if any(words <= said for words in one.words):
            return one
    return None


def bulk_density(material: str) -> Array:
    """Usual bulk density of a material by its name.

    rho = the table's usual value

    material: such as "road salt", "wet sand"; refused with DomainError where none is known
    returns: density [kg/m3], within some 10 to 15 %: moisture and compaction move it

    >>> round(float(bulk_density("stored salt")) / 16.01846337396014)
    80

    Source: Salt Institute, Salt Storage Handbook, 1968-2015 editions (80 lb/ft3 as a design value).
    """
    found = material_named(material)
    if found is None:
        known = ", ".join(one.name for one in MATERIALS)
        raise DomainError(f"no bulk density is known for {material[:60]!r}; there are: {known}")
    return as_array(found.usual)
