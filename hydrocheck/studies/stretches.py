"""Runs of short rows over blocks: how many, and the one that lacks most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

BREAK = 2.0
"""A run goes on over a break of so little time [s]."""


@dataclass
class Stretch:
    """A run of short rows. start, end: time [s]; lasts: [s], distance: [m], masses: [kg]."""

    start: float
    end: float
    lasts: float
    distance: float
    ordered: float
    delivered: float

    @property
    def missing(self) -> float:
        """Mass that is lacking [kg]."""
        return self.ordered - self.delivered

    def join(self, other: Stretch) -> None:
        """Add a run that follows."""
        self.end = other.end
        self.lasts += other.lasts
        self.distance += other.distance
        self.ordered += other.ordered
        self.delivered += other.delivered


class Stretches:
    """Collects runs; the last one of a block may go on in the next."""

    def __init__(self) -> None:
        self.open: Stretch | None = None
        self.worst: Stretch | None = None
        self.count = 0

    def add(
        self,
        time: Array,
        lasts: Array,
        way: Array,
        short: Mask,
        ordered: Array,
        delivered: Array,
    ) -> None:
        """Rows of a block, (N,) each, in rising time."""
        places = np.flatnonzero(short)
        if not places.size:
            return
        ends = time[places] + lasts[places]
        breaks = np.flatnonzero(time[places[1:]] - ends[:-1] > BREAK) + 1
        starts = np.concatenate(([0], breaks))
        sums = [
            np.add.reduceat(column[places], starts)
            for column in (lasts, way, ordered * lasts, delivered * lasts)
        ]
        last = np.append(starts[1:], places.size) - 1
        for run in range(starts.size):
            one = Stretch(
                float(time[places[starts[run]]]),
                float(ends[last[run]]),
                *(float(column[run]) for column in sums),
            )
            if self.open is not None and one.start - self.open.end <= BREAK:
                self.open.join(one)
            else:
                self._close()
                self.open = one

    def _close(self) -> None:
        if self.open is None:
            return
        self.count += 1
        if self.worst is None or self.open.missing > self.worst.missing:
            self.worst = self.open
        self.open = None

    def finish(self) -> tuple[Stretch | None, int]:
        """The run that lacks most, and how many there are."""
        self._close()
        return self.worst, self.count
