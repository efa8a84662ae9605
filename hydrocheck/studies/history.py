"""A history of bounded size: means over equal spans of time, doubled when they are too many."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

MOST = 2048
FINEST = 0.2


@dataclass
class History:
    """Sums of columns, weighted by how long each row lasts, in bins of `width` [s] from `start`."""

    start: float = np.nan
    width: float = FINEST
    weight: Array = field(default_factory=lambda: np.zeros(MOST))
    sums: dict[str, Array] = field(default_factory=dict)

    def add(self, time: Array, lasts: Array, columns: Mapping[str, Array]) -> None:
        """Rows in rising time."""
        if not time.size:
            return
        if np.isnan(self.start):
            self.start = float(time[0])
        while (float(time[-1]) - self.start) / self.width >= MOST:
            self._double()
        place = ((time - self.start) / self.width).astype(np.int64)
        self.weight += np.bincount(place, lasts, minlength=MOST)
        for name, values in columns.items():
            if name not in self.sums:
                self.sums[name] = np.zeros(MOST)
            self.sums[name] += np.bincount(place, values * lasts, minlength=MOST)

    def _double(self) -> None:
        """Two bins become one."""
        self.width *= 2.0

        def halved(bins: Array) -> Array:
            return np.concatenate([bins.reshape(-1, 2).sum(axis=1), np.zeros(MOST // 2)])

        self.weight = halved(self.weight)
        self.sums = {name: halved(bins) for name, bins in self.sums.items()}

    @property
    def time(self) -> Array:
        """Middle of each bin that holds something, from the start [s], (B,)."""
        return np.asarray((np.flatnonzero(self.weight > 0) + 0.5) * self.width, dtype=np.float64)

    def mean(self, name: str) -> Array:
        """Mean of a column over each bin that holds something, (B,)."""
        used = self.weight > 0
        return np.asarray(self.sums[name][used] / self.weight[used])
