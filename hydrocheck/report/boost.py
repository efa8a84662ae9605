"""Duration of the breakaway boost against what it must outlast, as text and as JSON."""

from __future__ import annotations

import numpy as np

from hydrocheck.errors import HydrocheckError
from hydrocheck.model.truck import Truck
from hydrocheck.report.shown import shown_json
from hydrocheck.studies.boosttime import FORMULA, SOURCE, BoostTime, boost_time
from hydrocheck.studies.trims import Trim
from hydrocheck.units import show

ROOM = 1.25
"""A boost that is not given is taken as so much of the least one: the least takes forever."""


def _found(truck: Truck, trim: Trim) -> tuple[BoostTime, float | None, float] | None:
    """The need, the duration given [s], the boost that it is for [1]; None where none is asked."""
    coil = truck.function_named(trim.function).section.coil
    if coil is None or not (coil.boost or (np.isfinite(trim.boost) and trim.boost > 5e-4)):
        return None
    boost = float(coil.boost or 0.0) or ROOM * trim.boost
    own = trim.file.min if coil.boost else None
    low = float(np.nanmax(trim.grid.run[trim.grid.full])) if own is None else float(own)
    given = None if coil.boost_time is None or not coil.boost else float(coil.boost_time)
    found = boost_time(truck, truck.function_named(trim.function), low + boost)
    return found, given, boost


def boost_rows(truck: Truck, trim: Trim) -> list[tuple[str, str]]:
    """How long the boost must last, as label and text."""
    try:
        known = _found(truck, trim)
    except HydrocheckError as error:
        return [("boost time", f"not known: {error}")]
    if known is None:
        return []
    found, given, boost = known
    if not np.isfinite(found.needed):
        return [("boost time", "no duration helps: all the flow slips before the load breaks away")]
    text = (
        f"a boost of {100 * boost:.1f} points takes {found.needed:.2f} s to break the load away: "
        f"coil {found.coil:.2f} s, spool {found.spool:.2f} s, filling {found.filling:.2f} s"
    )
    if np.isfinite(found.longest):
        text += (
            f"; beyond {found.longest:.1f} s it only drives the shaft at "
            f"{show(found.speed, 'shaft_speed')}"
        )
    if given is not None:
        short, long = given < found.needed, given > found.longest
        verdict = "too short" if short else "longer than it helps" if long else "fits"
        text += f"; the truck file gives {given:.2g} s, {verdict}"
    return [("boost time", text)]


def boost_json(truck: Truck, trim: Trim, units: str) -> dict[str, object] | None:
    """The need and its parts; a text where something lacks, None where no boost is asked."""
    try:
        known = _found(truck, trim)
    except HydrocheckError as error:
        return {"not_computed": str(error)}
    if known is None:
        return None
    found, given, boost = known

    def time(value: float | None) -> dict[str, object] | None:
        known = value is not None and np.isfinite(value)
        return dict(shown_json(float(value or 0.0), "time", units)) if known else None

    return {
        "boost": shown_json(boost, "fraction", units),
        "given": time(given),
        "needed": time(found.needed),
        "longest": time(found.longest),
        "coil": time(found.coil),
        "spool": time(found.spool),
        "filling": time(found.filling),
        "formula": FORMULA,
        "source": SOURCE,
    }
