"""The closed tables: one entry per kind of quantity, grouped by subject."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from hydrocheck.units.kind import Kind
from hydrocheck.units.tables import electrical, fluid, heat, mechanical, numbers, spreading

KINDS: Final[Mapping[str, Kind]] = MappingProxyType(
    {
        kind.name: kind
        for module in (numbers, mechanical, fluid, heat, spreading, electrical)
        for kind in module.KINDS
    }
)
