"""Text with a unit to SI floats and back. The only place that knows spellings, factors and pint.

>>> from hydrocheck.units import parse, show
>>> show(parse("4 in^3/rev", "displacement") * parse("1000 rpm", "shaft_speed"), "flow")
'17.3 gal/min'
"""

from __future__ import annotations

from hydrocheck.units.display import display_value, show, to_unit
from hydrocheck.units.kind import Display, Kind, Unit
from hydrocheck.units.pintbridge import from_pint, registry, to_pint
from hydrocheck.units.reading import Measured, accepted, parse, parse_measured
from hydrocheck.units.tables import KINDS

__all__ = [
    "KINDS",
    "Display",
    "Kind",
    "Measured",
    "Unit",
    "accepted",
    "display_value",
    "from_pint",
    "parse",
    "parse_measured",
    "registry",
    "show",
    "to_pint",
    "to_unit",
]
