"""The search: every combination of a frame, judged over the whole range.

In this order: formulas, bounds, a solve of the points where a truck starves first (lowest engine
speed, end of life), a solve of all other points. A combination leaves at the first rule it breaks.
What is left has been solved in full: every scenario, both ends of its engine speeds, every oil
temperature, new and worn.

Why the ends are enough: at fixed oil temperature, loads and commands more engine speed never lowers
a section's flow, so that what holds at the low end holds above.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hydrocheck.advice.sizing_frame import Frame, put
from hydrocheck.advice.sizing_rules import Rule, Test, formulas
from hydrocheck.advice.sizing_sizes import (
    Combos,
    Conditions,
    Derived,
    conditions,
    demands,
    derive,
    fill,
    least_margin,
    worn,
)
from hydrocheck.errors import DomainError
from hydrocheck.model.truck import Truck
from hydrocheck.studies.budget import ENOUGH, available_flow
from hydrocheck.studies.conditions import top_speed
from hydrocheck.studies.pressure import needed_pressure
from hydrocheck.studies.work import Solved, plan_pairs, solve_work

Array = NDArray[np.float64]
Index = NDArray[np.intp]

AIMS = ("low_speed", "heat", "power", "size", "overspeed")
POINTS_AT_ONCE = 24_000
COMBOS_AT_ONCE = 60_000
MOST = 20_000_000
"""Combinations of parts that break no rule by themselves: about a minute's work."""
AT_MOST = (
    "the pump can give {value} at most at the lowest engine speed, worn; "
    "{limit} is asked, reserve included"
)


@dataclass
class Count:
    """How many combinations went which way, and how many points were solved."""

    combinations: int = 0
    by_formula: int = 0
    by_bound: int = 0
    at_worst: int = 0
    in_full: int = 0
    points: int = 0
    fit: int = 0

    def add(self, other: Count) -> None:
        """Add another's numbers."""
        for key in vars(self):
            setattr(self, key, getattr(self, key) + getattr(other, key))


@dataclass
class Judged:
    """K combinations: which rule each breaks (None for those that fit), and the aims of the rest.

    broken: (K,) place in `rules`, -1 for a fit; value, limit: of that rule, (K,)
    aims: by name of `AIMS`, (K,), nan where not solved in full; margin: LS margin [Pa], (K,)
    """

    broken: NDArray[np.int64]
    value: Array
    limit: Array
    aims: dict[str, Array]
    margin: Array
    rules: list[Rule] = field(default_factory=list)

    @property
    def fits(self) -> NDArray[np.bool_]:
        """Which combinations keep every rule, (K,)."""
        return np.asarray(self.broken < 0)

    def apply(self, test: Test, rows: Index) -> Index:
        """Mark those of `rows` that break a rule; the rest."""
        fails = test.fails
        if fails.any():
            if test.rule not in self.rules:
                self.rules.append(test.rule)
            hit = rows[fails]
            self.broken[hit] = self.rules.index(test.rule)
            self.value[hit], self.limit[hit] = test.value[fails], test.limit[fails]
        return rows[~fails]


class Search:
    """A frame with what all its combinations have in common."""

    def __init__(self, frame: Frame, *, priced: bool = False) -> None:
        self.frame = frame
        self.priced = priced
        self.conditions = conditions(frame)
        self.demands = demands(frame, self.conditions)
        self.count = Count()

    def judge(self, combos: Combos, *, brute: bool = False) -> Judged:
        """Judge combinations; `brute` solves every one in full and discards by no bound."""
        size = combos.size
        blank = np.full(size, np.nan)
        judged = Judged(
            np.full(size, -1, dtype=np.int64),
            blank.copy(),
            blank.copy(),
            {aim: blank.copy() for aim in AIMS},
            blank.copy(),
        )
        count = Count(combinations=size)
        rows = np.arange(size)
        for test in formulas(self.frame, combos, derive(self.frame, combos, self.demands)):
            kept = Test(test.rule, test.value[rows], test.limit[rows])
            rows = judged.apply(kept, rows)
        count.by_formula = size - rows.size
        left = rows.size
        if not brute:
            rows = self._without_slip(combos, judged, rows)
        rows = self._bounds(combos, judged, rows, brute)
        count.by_bound = left - rows.size
        for part in _pieces(rows, POINTS_AT_ONCE // max(self._points_each, 1)):
            self._solve(combos, judged, part, brute, count)
        count.fit = int(judged.fits.sum())
        self.count.add(count)
        return judged

    @property
    def _points_each(self) -> int:
        return sum(2 * c.engine.size * c.oil.size for c in self.conditions)

    def _without_slip(self, combos: Combos, judged: Judged, rows: Index) -> Index:
        """The first bound: a pump that did not slip would have to give the demands."""
        frame = self.frame
        for one, asked in zip(self.conditions, self.demands.by_scenario, strict=True):
            mine = combos.take(rows)
            first = np.zeros(rows.size, dtype=np.intp)
            total = np.zeros((rows.size, one.oil.size))
            for name, flow in asked.items():
                total += flow[mine.motors.get(name, first)]
            displacement = np.array([m.displacement for m in frame.pumps])[mine.pump]
            full = displacement * np.array(frame.ratios)[mine.ratio] * one.engine[0]
            wanted = total.max(axis=1) * (1.0 + frame.needs.margins.flow)
            rule = Rule("flow-demand", one.scenario.name, AT_MOST, "flow", upper=False)
            rows = judged.apply(Test(rule, full, wanted), rows)
        return rows

    def _bounds(self, combos: Combos, judged: Judged, rows: Index, brute: bool) -> Index:
        """Pressure that work needs, and the least that the pump must give: no steady state yet."""
        kept = []
        each = max(c.oil.size for c in self.conditions)
        for part in _pieces(rows, COMBOS_AT_ONCE // each):
            mine = combos.take(part)
            sizes = derive(self.frame, mine, self.demands)
            margin, tests = self._lower_bounds(mine, sizes, brute)
            judged.margin[part] = margin
            here = np.arange(part.size)
            for test in tests:
                now = Test(test.rule, test.value[here], test.limit[here])
                here = np.searchsorted(part, judged.apply(now, part[here]))
            kept.append(part[here])
        return np.concatenate(kept) if kept else rows

    def _lower_bounds(self, mine: Combos, sizes: Derived, brute: bool) -> tuple[Array, list[Test]]:
        """LS margin [Pa], (K,), and the tests of pressure and (not for brute force) of flow."""
        frame, size = self.frame, mine.size
        values = fill(frame, mine, sizes, 1.0)
        found = []
        for one in self.conditions:
            each = one.oil.size
            row = np.repeat(np.arange(size), each)
            truck = put(frame.truck, {k: v[row] for k, v in values.items()} | worn(frame, 1.0))
            low = np.full(row.size, one.engine[0])
            work = plan_pairs(truck, one.scenario, low, np.tile(one.oil, size))
            need = needed_pressure(truck, work)
            pump = truck.pump[0]
            asked = work.asked.sum(axis=1)
            capacity = np.asarray(pump.displacement, dtype=np.float64) * np.ones(row.size)
            speed = low * np.asarray(truck.engine.drive.ratio)
            reserve = frame.needs.margins.flow
            spare = capacity * (speed - need.pump_speed) + asked - (1.0 + reserve) * asked
            line = need.line.reshape(size, each).max(axis=1)
            found.append((one, need, asked, spare, line))
        drop = np.max([f[4] for f in found], axis=0)
        sensing = frame.supply == "load sensing"
        margin = least_margin(frame, drop) if sensing else np.zeros(size)
        tests = []
        for one, need, asked, spare, _ in found:
            each = one.oil.size
            pressure = need.pump.reshape(size, each)
            if sensing:
                signal = need.load_signal.reshape(size, each)
                pressure = np.maximum(pressure, signal + margin[:, None])
            name = one.scenario.name
            which = "relief" if frame.supply == "fixed" else "compensator"
            says = "work needs {value} at the pump, worn; {limit} is there for it"
            rule = Rule(f"working-pressure-{which}", name, says, "pressure")
            highest = pressure.max(axis=1)
            tests.append(Test(rule, highest, np.full(size, frame.working)))
            if not brute:
                tests.append(_flow_bound(name, asked, spare, (size, each), frame))
        return margin, tests

    def _solve(
        self, combos: Combos, judged: Judged, rows: Index, brute: bool, count: Count
    ) -> None:
        """Solve combinations: the worst points of all, then the rest of those that still stand."""
        for worst in (True, False):
            if rows.size == 0:
                return
            mine = combos.take(rows)
            sizes = derive(self.frame, mine, self.demands)
            values = fill(self.frame, mine, sizes, judged.margin[rows])
            before = rows.size
            if not worst:
                count.in_full += before
                self._own_aims(mine, sizes, judged, rows)
            left = rows
            for one in self.conditions:
                grid = _grid(one, worst)
                if grid[0].size == 0:
                    continue
                count.points += before * grid[0].size
                solved, truck = self._solved(values, one, grid, before)
                tests = self._measure(one, grid, solved, truck, judged, rows)
                for test in tests:
                    here = np.searchsorted(rows, left)
                    now = Test(test.rule, test.value[here], test.limit[here])
                    left = judged.apply(now, left)
            if worst and not brute:
                rows = left
                count.at_worst += before - rows.size

    def _solved(
        self, values: dict[str, Array], one: Conditions, grid: tuple[Array, Array, Array], size: int
    ) -> tuple[Solved, Truck]:
        engine, oil, share = grid
        row = np.repeat(np.arange(size), engine.size)
        varied = {k: v[row] for k, v in values.items()} | worn(self.frame, np.tile(share, size))
        truck = put(self.frame.truck, varied)
        work = plan_pairs(truck, one.scenario, np.tile(engine, size), np.tile(oil, size))
        return solve_work(truck, work), truck

    def _measure(
        self,
        one: Conditions,
        grid: tuple[Array, Array, Array],
        solved: Solved,
        truck: Truck,
        judged: Judged,
        rows: Index,
    ) -> Iterator[Test]:
        """Rules that the steady state answers; its aims go into `judged`."""
        engine, oil, share = grid
        shape = (rows.size, engine.size)
        name = one.scenario.name
        wanted, got = solved.wanted, solved.result.flow
        met = np.where(wanted > 0, got / np.where(wanted > 0, wanted, 1.0), 1.0).min(axis=1)
        says = "a function gets {value} of its flow"
        rule = Rule("flow-demand", name, says, "fraction", upper=False)
        worst = met.reshape(shape).min(axis=1)
        yield Test(rule, worst, np.full(rows.size, 1.0 - ENOUGH))
        total, has = wanted.sum(axis=1), available_flow(truck, solved)
        low = (engine == one.engine[0]) & (share == 1.0)
        if low.any():
            reserve = np.where(total > 0, has / np.where(total > 0, total, 1.0), np.inf) - 1.0
            least = reserve.reshape(shape)[:, low].min(axis=1)
            judged.aims["low_speed"][rows] = np.fmin(judged.aims["low_speed"][rows], least)
            says = "flow in hand at the lowest engine speed, worn, is {value}; at least {limit}"
            rule = Rule("flow-demand", name, says, "fraction", upper=False)
            yield Test(rule, least, np.full(rows.size, self.frame.needs.margins.flow))
        yield from self._power(one, grid, solved, truck, judged, rows)

    def _power(
        self,
        one: Conditions,
        grid: tuple[Array, Array, Array],
        solved: Solved,
        truck: Truck,
        judged: Judged,
        rows: Index,
    ) -> Iterator[Test]:
        engine, oil, share = grid
        shape = (rows.size, engine.size)
        power = solved.result.shaft_power.reshape(shape).max(axis=1)
        judged.aims["power"][rows] = np.fmax(judged.aims["power"][rows], power)
        if one is self.conditions[0]:
            working = float(self.frame.needs.oil.working or 0.0)
            new = (share == 0.0) & (oil == working)
            if new.any():
                heat = solved.result.total_heat.reshape(shape)[:, new].mean(axis=1)
                judged.aims["heat"][rows] = heat
        curve = self.frame.needs.engine.torque_curve
        if curve:
            torque = solved.result.pump_torque * np.asarray(truck.engine.drive.ratio)
            speeds, full = np.array(curve).T
            given = np.interp(solved.result.engine_speed, speeds, full)
            says = "the pump takes {value} of the engine's full-load torque; at most {limit}"
            rule = Rule("engine-torque", one.scenario.name, says, "fraction")
            taken = (torque / given).reshape(shape).max(axis=1)
            yield Test(rule, taken, np.ones(rows.size))

    def _own_aims(self, mine: Combos, sizes: Derived, judged: Judged, rows: Index) -> None:
        """Aims that need no solve: size or price, nearness to speed limits."""
        frame = self.frame
        pump = frame.pumps
        share = top_speed(frame.truck) * np.array(frame.ratios)[mine.ratio]
        near = share / np.array([m.max_speed for m in pump])[mine.pump]
        bulk = np.array([m.displacement * frame.level for m in pump])[mine.pump]
        price = np.array([m.price for m in pump])[mine.pump]
        for name, options in frame.motors.items():
            pick = mine.motors[name]
            displacement = np.array([m.displacement for m in options])[pick]
            speed = sizes.section[name] / displacement
            near = np.maximum(near, speed / np.array([m.max_speed for m in options])[pick])
            bulk = bulk + displacement * frame.level
            price = price + np.array([m.price for m in options])[pick]
        judged.aims["overspeed"][rows] = near
        judged.aims["size"][rows] = price if self.priced else bulk

    def everything(self) -> Iterator[tuple[Combos, Judged]]:
        """Every combination of the frame that its parts allow, piece by piece.

        A part that breaks a rule by itself takes all its combinations with it: they are counted,
        not made. Raises DomainError where too many are left.
        """
        frame = self.frame
        pairs, motors = self._parts()
        shape = (pairs.shape[1], *(pick.size for pick in motors.values()))
        size = int(np.prod(shape, dtype=np.int64))
        if size > MOST:
            raise DomainError(
                f"{size} combinations are left; at most {MOST} are searched: name fewer sizes "
                "(displacements) or drive ratios"
            )
        gone = frame.size - size
        self.count.add(Count(combinations=gone, by_formula=gone))
        for start in range(0, size, COMBOS_AT_ONCE):
            flat = np.arange(start, min(start + COMBOS_AT_ONCE, size))
            pair, *picks = np.unravel_index(flat, shape)
            chosen = zip(motors.items(), picks, strict=True)
            combos = Combos(
                pairs[0][pair], pairs[1][pair], {name: part[k] for (name, part), k in chosen}
            )
            yield combos, self.judge(combos)

    def _parts(self) -> tuple[Index, dict[str, Index]]:
        """Pairs of ratio and pump, (2, P), and motors by function, that break no rule alone."""
        frame = self.frame
        ratio, pump = (part.ravel() for part in np.indices(frame.shape[:2]))
        none = np.zeros(ratio.size, dtype=np.intp)
        both = Combos(ratio, pump, dict.fromkeys(frame.motors, none))
        good = self._alone(both, lambda subject: subject not in frame.motors)
        motors: dict[str, Index] = {}
        for name, options in frame.motors.items():
            picks = {n: np.zeros(len(options), dtype=np.intp) for n in frame.motors}
            picks[name] = np.arange(len(options))
            first = np.zeros(len(options), dtype=np.intp)
            own = self._alone(Combos(first, first, picks), name.__eq__)
            motors[name] = np.flatnonzero(own)
        return np.stack([ratio[good], pump[good]]), motors

    def _alone(self, combos: Combos, about: Callable[[str], bool]) -> NDArray[np.bool_]:
        """Which combinations break no formula about some subjects, (K,)."""
        good = np.ones(combos.size, dtype=bool)
        for test in formulas(self.frame, combos, derive(self.frame, combos, self.demands)):
            if about(test.rule.subject):
                good &= ~test.fails
        return good


def _flow_bound(
    name: str, asked: Array, spare: Array, shape: tuple[int, int], frame: Frame
) -> Test:
    """What the pump can give at most against the demand with its reserve, worst oil of each."""
    wanted = (asked * (1.0 + frame.needs.margins.flow)).reshape(shape)
    spare = spare.reshape(shape)
    worst = np.argmin(spare, axis=1)[:, None]
    limit = np.take_along_axis(wanted, worst, axis=1)[:, 0]
    value = limit + np.take_along_axis(spare, worst, axis=1)[:, 0]
    return Test(Rule("flow-demand", name, AT_MOST, "flow", upper=False), value, limit)


def _grid(one: Conditions, worst: bool) -> tuple[Array, Array, Array]:
    """Engine speed, oil and share of life of the worst points, or of all others, (P,) each."""
    parts = np.meshgrid(one.engine, one.oil, np.array([0.0, 1.0]), indexing="ij")
    engine, oil, share = (part.ravel() for part in parts)
    hardest = (engine == one.engine[0]) & (share == 1.0)
    keep = hardest if worst else ~hardest
    return engine[keep], oil[keep], share[keep]


def _pieces(rows: Index, size: int) -> Iterator[Index]:
    for start in range(0, rows.size, max(size, 1)):
        yield rows[start : start + max(size, 1)]
