"""Whether anybody complains, and what that says of a healthy truck.

The causes' priors hold among trucks with a slow function. A truck that was only measured, all of it
as it should be, is one that was set up or looked over, and most of those are healthy.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hydrocheck.advice.outcome import Evidence
from hydrocheck.model.readings import Reading
from hydrocheck.physics.arrays import Array

CHECKED = 0.6
"""Share of healthy trucks among those that nobody complains of (ours)."""
TOLERATED = 2.0
"""Standard deviations within which a reading is as it should be."""
SOUND = ("normal", "none", "clear", "no difference", "no", "flow stays")
"""Words that are no complaint."""
WORK = ("NAME speed", "NAME flow", "NAME time", "NAME motion", "NAME holding command")
"""Readings that show whether a function does its work."""


def complained(readings: Sequence[Reading], healthy: Sequence[Evidence], function: str) -> bool:
    """Whether a word complains, a number is off, or the function's work was not looked at.

    healthy: the readings that are used, under the hypothesis that nothing is wrong
    """
    told = [r.value for r in readings if isinstance(r.value, str)]
    if any(word not in SOUND for word in told):
        return True
    if any(abs(one.sigmas) > TOLERATED for one in healthy if not np.isnan(one.sigmas)):
        return True
    work = [e for e in healthy if e.reading.what.key in WORK]
    return not any(e.reading.what.function == function for e in work)


def unasked_prior(weight: Array) -> Array:
    """The weights of hypotheses, healthy first, where nobody complains."""
    others = weight[1:] / weight[1:].sum()
    return np.concatenate([[CHECKED], (1.0 - CHECKED) * others])
