"""What the tolerances of a truck file do to a result."""

from __future__ import annotations

from collections.abc import Callable, Collection

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.truck import Truck

Array = NDArray[np.float64]

UNTOLD_RETURN = 2e5
"""What fittings, valve galleries and cooler that no truck file tells add to a return pressure [Pa],
one standard deviation: common practice, some 30 psi."""


def half_widths(
    truck: Truck, result: Callable[[Truck], ArrayLike], leave_out: Collection[str] = ()
) -> Array:
    """Half widths of a result from the tolerances of the truck file, of the result's shape.

    Each value is moved by its tolerance to both sides; the greater changes add in squares. A side
    that lies out of bounds, or changes that mean nothing (nan), count as no change.

    leave_out: first words of keys whose tolerance does not count
    """
    stated = np.asarray(result(truck), dtype=np.float64)
    total = np.zeros_like(stated)
    for path, half in truck.tolerances.items():
        if path.partition(".")[0] in leave_out:
            continue
        moves = []
        for sign in (-1.0, 1.0):
            try:
                moved = truck.vary(path, value_at(truck, path) + sign * half)
                moves.append(np.abs(np.asarray(result(moved)) - stated))
            except (DomainError, MissingValue):
                continue
        if moves:
            total += np.nan_to_num(np.max(moves, axis=0)) ** 2
    return np.sqrt(total)


def value_at(truck: Truck, path: str) -> float:
    """The value under a path of `Circuit.vary`. Raises DomainError where there is no number."""
    part: object = truck
    keys = path.split(".")
    while keys:
        key = keys.pop(0)
        array, _, number = key.removesuffix("]").partition("[")
        found = getattr(part, array if number else key, None)
        if isinstance(found, tuple) and number:
            part = found[int(number) - 1]
        elif isinstance(found, tuple):
            named = [one for one in found if keys and getattr(one, "name", "") == keys[0]]
            keys = keys[1:] if named else keys
            part = named[0] if named else found[0] if found else None
        elif found is not None:
            part = found
        else:
            part = _by_name(part, key)
    if isinstance(part, bool) or not isinstance(part, int | float):
        raise DomainError(f"'{path}' is no single number of the truck")
    return float(part)


def _by_name(part: object, key: str) -> object:
    """The part of that name in any array of a part, None for none."""
    for items in vars(part).values() if part is not None else ():
        if isinstance(items, tuple):
            for one in items:
                if getattr(one, "name", "") == key:
                    return one
    return None
