"""Measured points of a pump or motor: a CSV text with units in its header -> SI arrays.

    # gear pump, warm oil
    speed [rpm], pressure [psi], flow [gpm], torque [lb-ft], viscosity [cSt], note
    1200, 500, 21.6, , 40, first run

`speed`, `pressure` (the difference over the machine) and `flow` are needed in every row; `torque`,
`viscosity` and `temperature` may be missing or blank; `note` is free text. Blank lines and lines
that start with # are passed over, nothing else is.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from hydrocheck.model.csvtable import MOST_ROWS, Column, read_table
from hydrocheck.model.files import read_text

Array = NDArray[np.float64]

MOST_POINTS = MOST_ROWS

COLUMNS = MappingProxyType(
    {
        "speed": Column("shaft_speed", "not negative", True),
        "pressure": Column("pressure_drop", "not negative", True),
        "flow": Column("flow", "not negative", True),
        "torque": Column("torque", "not negative", False),
        "viscosity": Column("kinematic_viscosity", "positive", False),
        "temperature": Column("temperature", "any", False),
    }
)


@dataclass(frozen=True)
class PointTable:
    """The rows in SI, shape (N,) each; a blank or missing optional value is nan.

    lines: line number of each row in its text
    """

    lines: tuple[int, ...]
    speed: Array
    pressure: Array
    flow: Array
    torque: Array
    viscosity: Array
    temperature: Array

    def __len__(self) -> int:
        return len(self.lines)


def read_points(path: str | Path) -> PointTable:
    """Read a file of measured points. Raises FileError or TruckFileError with all that is wrong."""
    return points_from_text(read_text(path, "a list of points"))


def points_from_text(text: str) -> PointTable:
    """Read the text of measured points. Raises TruckFileError with all that is wrong."""
    lines, arrays = read_table(text, COLUMNS, "points", "speed [rpm], pressure [psi], flow [gpm]")
    return PointTable(lines=lines, **arrays)
