"""What a pan test says of the pattern: how wide it counts, what lies in the lanes, which side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydrocheck.model.pans import Pans
from hydrocheck.model.truck import Truck
from hydrocheck.physics import pattern


@dataclass(frozen=True)
class PanTest:
    """left, right: ends of the effective swath [m]; lanes_width: of the treated lanes [m]

    within: share of all that lies in the lanes, the truck in their middle [1]
    left_share: share of all that lies left of the truck's middle [1]
    reached: whether the amount falls to half within the pans, left and right
    """

    left: float
    right: float
    lanes_width: float
    within: float
    left_share: float
    reached: tuple[bool, bool]

    @property
    def swath(self) -> float:
        """Effective swath [m]."""
        return self.right - self.left


def pan_test(truck: Truck, pans: Pans) -> PanTest:
    """Evaluate a pan test for the truck's lanes. Raises DomainError."""
    left, right = pattern.effective_swath(pans.across, pans.amount)
    width = truck.spreading.lanes * float(truck.spreading.lane_width)
    half = 0.5 * float(pans.amount[int(np.argmin(np.abs(pans.across)))])
    order = np.argsort(pans.across)
    ends = pans.amount[order[[0, -1]]]
    outer = (float(pans.across.min()), float(pans.across.max()))
    reached = (left > outer[0] or ends[0] <= half, right < outer[1] or ends[1] <= half)
    return PanTest(
        left,
        right,
        width,
        pattern.share_within(pans.across, pans.amount, -0.5 * width, 0.5 * width),
        pattern.share_within(pans.across, pans.amount, outer[0], 0.0),
        (bool(reached[0]), bool(reached[1])),
    )
