"""The only door to pint: one registry, made when first asked for.

User text never goes through here; see `parse`.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import isfinite
from typing import TYPE_CHECKING, Any, Final

from hydrocheck.errors import UnitError
from hydrocheck.units.factors import TURN
from hydrocheck.units.kind import Kind, article
from hydrocheck.units.reading import kind_of

if TYPE_CHECKING:
    import pint

# Kinds for which the trade leaves "per revolution" unsaid.
_PER_TURN_UNSAID: Final = ("displacement",)
_NO_ENERGY: Final = ("torque",)
_TORQUE_UNITS: Final = ("foot_pound",)


@lru_cache(maxsize=1)
def registry() -> pint.UnitRegistry[Any]:
    """The one registry, also registered as pint's application registry so that pickles agree."""
    import pint

    made: pint.UnitRegistry[Any] = pint.UnitRegistry()
    made.define("gpm = gallon / minute")
    made.define("lpm = liter / minute")
    made.define("rev = revolution")
    register: Callable[[Any], None] = pint.set_application_registry
    register(made)
    return made


def to_pint(value: float, kind: str) -> Any:
    """An SI value as a quantity of our registry, in the SI unit of its kind."""
    made = registry()
    return made.Quantity(value, made.parse_units(kind_of(kind).pint))


def _check_role(quantity: Any, kind: Kind) -> int:
    """Refuse what only shares a dimension; returns the power of the radian."""
    wanted = registry().parse_units(kind.pint).dimensionality
    if dict(quantity.dimensionality) != dict(wanted):
        raise UnitError(f"a quantity in {quantity.units} is not {article(kind.title)}")
    offsets = [n for n, _ in quantity.unit_items() if n in ("degree_Fahrenheit", "degree_Celsius")]
    deltas = [n for n, _ in quantity.unit_items() if n.startswith("delta_")]
    if (kind.name == "temperature" and deltas) or (kind.name == "temperature_rise" and offsets):
        raise UnitError(f"a quantity in {quantity.units} is not {article(kind.title)}")
    if kind.name in _NO_ENERGY:
        for name, _ in quantity.unit_items():
            one = quantity._REGISTRY.Quantity(1.0, name)
            if one.check("[energy]") and name not in _TORQUE_UNITS:
                raise UnitError(f"a quantity in {quantity.units} is an energy, not a torque")
    if kind.name in ("temperature", "temperature_rise"):
        return 0
    angle = dict(quantity.to_root_units().unit_items()).get("radian", 0)
    return int(angle) if angle == int(angle) else 99


def from_pint(quantity: Any, kind: str) -> float:
    """The SI value of a scalar pint quantity, of whatever registry it comes from.

    Pressures are gauge for the kinds that are gauge. A displacement without an angle is taken per
    revolution, as in text; a shaft speed must name a turn or a radian, so hertz is refused.
    """
    target = kind_of(kind)
    if not (hasattr(quantity, "dimensionality") and hasattr(quantity, "magnitude")):
        raise UnitError(f"{quantity!r} is no pint quantity; {article(target.title)} was expected")
    angle = _check_role(quantity, target)
    unsaid = angle == 0 and kind in _PER_TURN_UNSAID
    if not unsaid and angle not in target.angle:
        raise UnitError(
            f"a quantity in {quantity.units} is not {article(target.title)}: "
            "its angle (turn, radian) does not fit"
        )
    try:
        value = float(quantity.to(target.pint).magnitude)
    except (TypeError, ValueError, OverflowError):
        raise UnitError(f"{article(target.title)} must be one plain number and its unit") from None
    if not isfinite(value):
        raise UnitError(f"{article(target.title)} must be finite")
    if value < 0.0 and not target.negative:
        raise UnitError(f"{article(target.title)} cannot be negative")
    return value / TURN if unsaid else value
