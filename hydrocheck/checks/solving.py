"""Solves shared by the checks of one truck: asked for one by one, made many at a time.

The cost of a solve hardly depends on its number of points. While `gathering`, a solve that is not
yet known is noted, and the check that asks for it breaks off with `Pending`; when every check has
had its turn, `settle` makes all of them in one, and the checks that broke off begin anew.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np

from hydrocheck.errors import HydrocheckError
from hydrocheck.model import Truck
from hydrocheck.solver import Points, Result, solve
from hydrocheck.studies.pressure import Need, needed_pressure
from hydrocheck.studies.work import Solved, Work

Key = tuple[str, bytes]
T = TypeVar("T")


class Pending(Exception):
    """A check needs a solve that is still to be made."""


class Solves:
    """Steady states and needed pressures of one truck, each made once."""

    def __init__(self, truck: Truck) -> None:
        self.truck = truck
        self.gathering = False
        self._known: dict[Key, object] = {}
        self._wanted: dict[Key, Points | Work] = {}

    def solve(self, points: Points) -> Result:
        """The steady state at these points."""
        return self._answer("solve", points, lambda: solve(self.truck, points))

    def solve_work(self, work: Work) -> Solved:
        """The steady state of a scenario's points."""
        return Solved(work, self.solve(work.points))

    def solve_works(self, works: Sequence[Work]) -> list[Solved]:
        """Several works: all of them are noted before a check breaks off."""
        if self.gathering:
            pending = False
            for work in works:
                try:
                    self.solve(work.points)
                except Pending:
                    pending = True
            if pending:
                raise Pending
        return [self.solve_work(work) for work in works]

    def pressures(self, work: Work) -> Need:
        """What a scenario's work needs, valves aside."""
        return self._answer("need", work.points, lambda: needed_pressure(self.truck, work), work)

    def _answer(
        self, what: str, points: Points, make: Callable[[], T], wanted: Work | None = None
    ) -> T:
        key = (what, _content(points))
        if key not in self._known:
            if self.gathering:
                self._wanted[key] = points if wanted is None else wanted
                raise Pending
            self._known[key] = make()
        known = self._known[key]
        if isinstance(known, HydrocheckError):
            raise known
        return known  # type: ignore[return-value]  # what was made for this key

    def settle(self) -> None:
        """Make all that is noted."""
        solves = {k: v for k, v in self._wanted.items() if isinstance(v, Points)}
        needs = {k: v for k, v in self._wanted.items() if isinstance(v, Work)}
        self._wanted = {}
        if solves:
            self._make_all(solves, lambda points: solve(self.truck, points), Result.rows)
        if needs:
            works = {k: work.points for k, work in needs.items()}
            one = next(iter(needs.values()))
            self._make_all(works, lambda p: needed_pressure(self.truck, _of(one, p)), Need.rows)

    def _make_all(
        self,
        wanted: dict[Key, Points],
        make: Callable[[Points], T],
        rows: Callable[[T, int, int], T],
    ) -> None:
        """One call for all; where that is refused, one for each, to know whose fault it is."""
        try:
            everything = make(Points.stacked(list(wanted.values())))
        except HydrocheckError:
            for key, points in wanted.items():
                try:
                    self._known[key] = make(points)
                except HydrocheckError as error:
                    self._known[key] = error
            return
        start = 0
        for key, points in wanted.items():
            self._known[key] = rows(everything, start, start + points.size)
            start += points.size


def _of(work: Work, points: Points) -> Work:
    """A work at other points; what it asks of them is in the points."""
    return Work(work.scenario, points, points.asked, points.asked)


def _content(points: Points) -> bytes:
    return b"".join(
        np.ascontiguousarray(getattr(points, key)).tobytes() for key in Points.__dataclass_fields__
    )
