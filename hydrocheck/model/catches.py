"""What was weighed on a truck: catches at the feeder, and loads checked on the road.

    # auger, damp salt, pail of 3.2 lb
    setting [%], revolutions [rev], gross [lb], tare [lb], time [s], note
    40, 10, 55.2, 3.2, 12.4, first pail

Give `mass`, or `gross` with `tare`. `setting` and `time` may be left out: then there is no table by
setting.

    rate [lb/lane-mile], distance [mile], mass [lb]
    200, 2.0, 421
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

CATCH_COLUMNS = MappingProxyType(
    {
        "setting": Column("fraction", "fraction", False),
        "revolutions": Column("angle", "positive", True),
        "mass": Column("mass", "positive", False),
        "gross": Column("mass", "positive", False),
        "tare": Column("mass", "not negative", False),
        "time": Column("time", "positive", False),
    }
)
LOAD_COLUMNS = MappingProxyType(
    {
        "rate": Column("application_rate", "positive", True),
        "distance": Column("distance", "positive", True),
        "mass": Column("mass", "positive", True),
    }
)


@dataclass(frozen=True)
class Catches:
    """Weighed catches, (K,) each. mass: [kg]; revolutions: [rad]; setting: [1]; time: [s].

    nan where a setting or a time was not given; lines: of the text
    """

    lines: tuple[int, ...]
    setting: Array
    revolutions: Array
    mass: Array
    time: Array

    def __len__(self) -> int:
        return len(self.lines)


@dataclass(frozen=True)
class Loads:
    """Loads weighed over a known distance, (K,) each: rate [kg/m], distance [m], mass [kg]."""

    lines: tuple[int, ...]
    rate: Array
    distance: Array
    mass: Array

    def __len__(self) -> int:
        return len(self.lines)


def read_catches(path: str | Path) -> Catches:
    """Read a file of catches. Raises FileError or TruckFileError with all that is wrong."""
    return catches_from_text(read_text(path, "a list of catches"))


def catches_from_text(text: str) -> Catches:
    """Read the text of catches. Raises TruckFileError with all that is wrong."""
    lines, read = read_table(
        text, CATCH_COLUMNS, "catches", "setting [%], revolutions [rev], mass [lb]"
    )
    weighed = np.where(np.isnan(read["gross"]), np.nan, read["gross"] - np.nan_to_num(read["tare"]))
    faults = []
    for line, net, both in zip(lines, read["mass"], weighed, strict=True):
        if np.isnan(net) == np.isnan(both):
            faults.append(f"line {line}: give mass, or gross with tare, one of them")
        elif both <= 0:
            faults.append(f"line {line}: gross: must lie above tare")
    if faults:
        raise TruckFileError(faults)
    return Catches(
        lines,
        read["setting"],
        read["revolutions"],
        np.where(np.isnan(weighed), read["mass"], weighed),
        read["time"],
    )


def read_loads(path: str | Path) -> Loads:
    """Read a file of loads. Raises FileError or TruckFileError with all that is wrong."""
    return loads_from_text(read_text(path, "a list of loads"))


def loads_from_text(text: str) -> Loads:
    """Read the text of loads. Raises TruckFileError with all that is wrong."""
    lines, read = read_table(
        text, LOAD_COLUMNS, "loads", "rate [lb/lane-mile], distance [mile], mass [lb]"
    )
    return Loads(lines, **read)
