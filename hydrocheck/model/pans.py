"""A pan test across the road.

    # pans of 1 ft2, four passes
    across [ft], mass [lb]
    -12, 0.2
    0, 1.1
    12, 0.3

`across` counts from the middle of the truck, one side below 0; what the pans hold is told as `mass`
or as `depth`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import TruckFileError
from hydrocheck.model.csvtable import Column, read_table
from hydrocheck.model.files import read_text

Array = NDArray[np.float64]

PAN_COLUMNS = MappingProxyType(
    {
        "across": Column("length", "any", True),
        "mass": Column("mass", "not negative", False),
        "depth": Column("length", "not negative", False),
    }
)


@dataclass(frozen=True)
class Pans:
    """Pans across the road, (K,) each: place [m], and what each caught, in kg or m."""

    lines: tuple[int, ...]
    across: Array
    amount: Array


def read_pans(path: str | Path) -> Pans:
    """Read a file of pans. Raises FileError or TruckFileError with all that is wrong."""
    return pans_from_text(read_text(path, "a pan test"))


def pans_from_text(text: str) -> Pans:
    """Read the text of a pan test. Raises TruckFileError with all that is wrong."""
    lines, read = read_table(text, PAN_COLUMNS, "pans", "across [ft], mass [lb]")
    by_mass, by_depth = ~np.isnan(read["mass"]), ~np.isnan(read["depth"])
    amount = read["mass"] if by_mass.all() else read["depth"]
    if not (by_mass.all() ^ by_depth.all()) or (by_mass.any() and by_depth.any()):
        raise TruckFileError([f"line {lines[0]}: give mass or depth, one of them in every row"])
    return Pans(lines, read["across"], amount)
