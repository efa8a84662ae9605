"""What would cure the shortfall of a route: found by solving the short rows again.

One value is changed at a time: pump displacement, drive ratio, or the engine speed below which the
driver does not let it fall while spreading. More of each never lowers a section's flow, so that one
bracket holds the least value that cures; the rows that are hardest to cure are searched first, and
the answer is confirmed on all of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.studies.conditions import top_speed
from hydrocheck.studies.replay import Replay
from hydrocheck.studies.spreadplan import Rows, plan_rows

Array = NDArray[np.float64]
Places = NDArray[np.int64]

MOST = 2.5
"""Greatest change that is tried, over the present value: ours."""
LADDER, HALVINGS, HARDEST, ROUNDS = 13, 14, 300, 6
Change = Callable[[float], tuple[Truck, Rows]]


@dataclass(frozen=True)
class Cure:
    """One change. what: in words; kind: of its value; now, needed: in SI, None where none is found

    leaves: share of the short rows that stay short at the value needed, or where none is found at
    the greatest that was tried [1]; note: what else it does
    """

    what: str
    kind: str
    now: float
    needed: float | None
    leaves: float
    tried: float
    note: str = ""


def cures(truck: Truck, found: Replay) -> list[Cure]:
    """What would cure the short rows of a route; nothing where none is short."""
    rows = found.short
    if rows is None:
        return []
    search = _Search(truck, found.scenario, rows, found.tolerance)
    return [
        _displacement(truck, search),
        _drive(truck, search),
        _engine_speed(truck, search),
    ]


@dataclass(frozen=True)
class _Search:
    truck: Truck
    scenario: Scenario
    rows: Rows
    tolerance: float

    def lacking(self, truck: Truck, rows: Rows) -> Array:
        """Share of the ordered discharge that is lacking beyond the tolerance [1], (N,)."""
        plan = plan_rows(truck, self.scenario, rows)
        delivered = plan.delivered(plan.solve(truck).speed)
        wanted = np.where(plan.target > 0, plan.target, 1.0)
        share = 1.0 - delivered / wanted - self.tolerance
        return np.where(plan.target > 0, np.maximum(share, 0.0), 0.0)

    def least(self, change: Change, low: float, high: float) -> tuple[float | None, float]:
        """Least value in (low, high] that cures every row, and the share that it leaves short.

        change: truck and rows at a value
        """
        rows = self.rows
        best = self.lacking(*change(high))
        left = float((best > 0).mean())
        if left > 0:
            return None, left
        hard = _hardest(self.lacking(self.truck, rows))
        at = low
        for _ in range(ROUNDS):
            at = self._least_of(change, hard, (at, high))
            truck, changed = change(at)
            after = self.lacking(truck, changed)
            if not (after > 0).any():
                return at, 0.0
            hard = _hardest(after)
        return high, 0.0

    def _least_of(self, change: Change, hard: Places, ends: tuple[float, float]) -> float:
        """As `least`, for some of the rows."""

        def cured(value: float) -> bool:
            truck, rows = change(value)
            return not (self.lacking(truck, _some(rows, hard)) > 0).any()

        low, high = ends
        for value in np.linspace(low, high, LADDER)[1:]:
            if cured(float(value)):
                high = float(value)
                break
            low = float(value)
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if cured(middle) else (middle, high)
        return high


def _hardest(lacking: Array) -> Places:
    """Places of the rows that lack most."""
    return np.asarray(np.argsort(-lacking, kind="stable")[:HARDEST], dtype=np.int64)


def _some(rows: Rows, places: Places) -> Rows:
    index = places
    return Rows(
        rows.engine_speed[index],
        rows.oil_temperature[index],
        rows.rate[index],
        rows.road_speed[index],
        rows.on[index],
    )


def _displacement(truck: Truck, search: _Search) -> Cure:
    pump = truck.pump[0]
    keys = ["displacement", *(["derived_displacement"] if pump.derived_displacement else [])]
    now = float(pump.displacement or 0.0)

    def change(value: float) -> tuple[Truck, Rows]:
        larger = {key: getattr(pump, key) * value / now for key in keys}
        pumps = (replace(pump, **larger), *truck.pump[1:])
        return replace(truck, pump=pumps), search.rows

    needed, leaves = search.least(change, now, MOST * now)
    return Cure("pump displacement", "displacement", now, needed, leaves, MOST * now)


def _drive(truck: Truck, search: _Search) -> Cure:
    pump = truck.pump[0]
    drive = pump.drive or truck.engine.drive
    now = float(drive.ratio)

    def change(value: float) -> tuple[Truck, Rows]:
        other = replace(drive, ratio=value)
        if pump.drive is not None:
            return replace(truck, pump=(replace(pump, drive=other), *truck.pump[1:])), search.rows
        return replace(truck, engine=replace(truck.engine, drive=other)), search.rows

    needed, leaves = search.least(change, now, MOST * now)
    note = ""
    top = top_speed(truck)
    if needed is not None and pump.max_speed is not None and needed * top > float(pump.max_speed):
        note = "turns the pump above its greatest speed at the highest engine speed"
    return Cure("drive ratio", "ratio", now, needed, leaves, MOST * now, note)


def _engine_speed(truck: Truck, search: _Search) -> Cure:
    slowest, top = float(search.rows.engine_speed.min()), top_speed(truck)

    def change(value: float) -> tuple[Truck, Rows]:
        held = np.maximum(search.rows.engine_speed, value)
        return truck, replace(search.rows, engine_speed=held)

    needed, leaves = search.least(change, slowest, max(top, slowest))
    note = ""
    if needed is not None and truck.engine.governed is not None and needed > truck.engine.governed:
        note = "above the governed speed"
    return Cure("least engine speed", "shaft_speed", slowest, needed, leaves, top, note)
