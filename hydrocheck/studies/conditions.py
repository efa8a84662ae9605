"""The engine speeds and oil temperatures that words such as "working" and "range" stand for."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck

Array = NDArray[np.float64]

BAND_STEPS = 9
RANGE_STEPS = 33
OIL_STEPS = 7


def engine_speeds(truck: Truck, which: str | float) -> Array:
    """Engine speeds [rad/s] of a word or one speed, rising; ends included.

    idle and governed are one speed, working the whole band, range all from idle to the highest the
    engine can turn with the pump engaged. Raises MissingValue for a speed that the file does not
    give.
    """
    engine = truck.engine
    if which == "idle":
        return np.array([_given(engine, "idle")])
    if which == "governed":
        return np.array([_given(engine, "governed")])
    if which == "working":
        low, high = _given(engine, "working")
        return np.linspace(low, high, BAND_STEPS)
    if which == "range":
        return np.linspace(_given(engine, "idle"), top_speed(truck), RANGE_STEPS)
    return np.array([float(which)])


def top_speed(truck: Truck, pump: int = 0) -> float:
    """Highest engine speed with the pump engaged [rad/s].

    The no-load overrun where it is given, else the governed speed; never above the speed at which
    the
    drive drops out. Raises MissingValue.
    """
    engine = truck.engine
    drive = engine.drive
    if truck.pump and truck.pump[pump].drive is not None:
        drive = truck.pump[pump].drive or drive
    top = engine.overrun if engine.overrun is not None else _given(engine, "governed")
    return float(top if drive.engaged_to is None else min(top, drive.engaged_to))


def oil_temperatures(truck: Truck, which: str | float) -> Array:
    """Oil temperatures [K] of a word or one temperature, rising; ends included.

    Raises MissingValue.
    """
    oil = truck.oil
    if which == "range":
        return np.linspace(_oil(oil, "cold"), _oil(oil, "hot"), OIL_STEPS)
    if isinstance(which, str):
        return np.array([_oil(oil, which)])
    return np.array([float(which)])


def _given(engine: Any, key: str) -> Any:
    value = getattr(engine, key)
    if value is None:
        raise MissingValue([f"engine.{key}"])
    return value


def _oil(oil: Any, key: str) -> float:
    value = getattr(oil, key)
    if value is None:
        raise MissingValue([f"oil.{key}"])
    return float(value)
