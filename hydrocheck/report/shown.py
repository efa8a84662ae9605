"""A value with its unit, as text and for the JSON envelope; what is only rounding shows as 0."""

from __future__ import annotations

from hydrocheck.report.envelope import Json, quantity
from hydrocheck.units import KINDS, show

# Far below anything a gauge can tell, in SI: 1e-8 gal/min, 1e-7 psi, 1e-9 hp, 1e-8 rpm.
NEGLIGIBLE = {
    "flow": 1e-12,
    "pressure": 1e-3,
    "pressure_drop": 1e-3,
    "power": 1e-6,
    "torque": 1e-9,
    "shaft_speed": 1e-9,
    "velocity": 1e-9,
    "fraction": 1e-9,
}


def shown(value: float, kind: str, units: str) -> str:
    """A value with its unit.

    >>> shown(5e-61, "flow", "us")
    '0.0 gal/min'
    """
    return show(0.0 if abs(value) < NEGLIGIBLE.get(kind, 0.0) else value, kind, units)


def shown_json(value: float, kind: str, units: str) -> dict[str, Json]:
    """A value for the envelope: SI as computed, unit, and the text that people are shown."""
    return quantity(value, KINDS[kind].si, shown(value, kind, units))
