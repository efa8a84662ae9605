"""Any inputs over ranges, every combination solved, in blocks.

    pump.displacement=1..5 in3/rev:9     nine values, ends included
    engine=800 rpm; 1200 rpm; 1400 rpm   a list

An input is a value of the circuit (a path of `Circuit.vary`), or one of the operating point:
engine, oil, hopper; rate and road speed, which the feeder then follows; and of a function its
command, setting, speed or flow, in place of what the scenario asks of it. Inputs that change what a
section can be commanded (its section, trims, cylinder), or how much a turn discharges, are solved
one after the other, all others at once; so the former run slowest, then in the order given. With
`hopper` the flows that are asked stay those for the scenario's hopper.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.solver import Points, Result, solved_functions
from hydrocheck.solver.blocks import iter_solve
from hydrocheck.studies.closedloop import Loop, loops_of, solve_loops
from hydrocheck.studies.commands import flow_of
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures
from hydrocheck.studies.spreadplan import Rows, feeder_task, plan_rows
from hydrocheck.studies.sweepcolumns import SweepColumn, kept_columns
from hydrocheck.studies.work import Work, flow_for_speed, mass_per_turn, most_flow, plan_pairs
from hydrocheck.units import parse

Array = NDArray[np.float64]

MOST_VALUES = 10_000_000
BLOCK = 50_000
POINT_KINDS: Mapping[str, str] = {
    "engine": "shaft_speed",
    "oil": "temperature",
    "hopper": "fraction",
    "rate": "application_rate",
    "road speed": "road_speed",
}
TASK_KINDS = {
    "command": "fraction",
    "setting": "fraction",
    "speed": "shaft_speed",
    "flow": "flow",
}
_SLOW = ("section", "trims", "cylinder", "flow", "pressure")


@dataclass(frozen=True)
class Axis:
    """One input and its values in SI, (K,)."""

    path: str
    kind: str
    values: Array


@dataclass(frozen=True)
class SweepOrder:
    """What to sweep. keep: names of columns, empty for the usual ones."""

    axes: tuple[Axis, ...]
    scenario: str | None = None
    keep: tuple[str, ...] = ()
    block: int = BLOCK

    @property
    def size(self) -> int:
        """Number of points."""
        size = 1
        for axis in self.axes:
            size *= axis.values.size
        return size


@dataclass(frozen=True)
class SweepBlock:
    """Solved points: inputs by path (N,), results by name (N,), in SI; texts for limits."""

    inputs: Mapping[str, Array]
    results: Mapping[str, Array | list[str]]
    done: float


@dataclass(frozen=True)
class Sweep:
    """A sweep that is ready to run. columns: what is kept, with kinds."""

    truck: Truck
    scenario: Scenario
    order: SweepOrder
    columns: tuple[SweepColumn, ...]

    def blocks(self) -> Iterator[SweepBlock]:
        """The solved points, block by block. Raises as `solve` does."""
        closed = any(f.loop == "closed" and f.motor for f in solved_functions(self.truck))
        done = 0
        for inputs, work, columns in self._closed() if closed else self._open():
            results = {column.name: column.take(columns, work) for column in self.columns}
            done += work.points.size
            yield SweepBlock(inputs, results, done / self.order.size)

    def _open(self) -> Iterator[tuple[dict[str, Array], Work, Mapping[str, Array]]]:
        """Inputs, work and kept columns of each block."""
        planned: deque[tuple[dict[str, Array], Work]] = deque()

        def points() -> Iterator[tuple[Truck, Points]]:
            for truck, inputs in self._inputs():
                work, _ = _work(truck, self.scenario, inputs)
                planned.append((inputs, work))
                yield truck, work.points

        # A block is planned when it is asked for, so that at most one waits here.
        for kept in iter_solve(self.truck, points(), self._behind()):
            yield (*planned.popleft(), kept.columns)

    def _closed(self) -> Iterator[tuple[dict[str, Array], Work, Mapping[str, Array]]]:
        """As `_open`, with loops closed."""
        for truck, inputs in self._inputs():
            work, loops = _work(truck, self.scenario, inputs)
            result = solve_loops(truck, work, loops).result
            yield inputs, work, {name: _column(result, name) for name in self._behind()}

    def _behind(self) -> list[str]:
        """The columns of a result from which the kept ones come."""
        return list(dict.fromkeys(column.behind for column in self.columns))

    def _inputs(self) -> Iterator[tuple[Truck, dict[str, Array]]]:
        """Every block's truck and the values of its inputs, (N,) each."""
        axes = self.order.axes
        slow = [axis for axis in axes if _is_slow(self.truck, axis.path)]
        fast = [axis for axis in axes if axis not in slow]
        for number in range(_product(slow)):
            fixed = {k: float(v[0]) for k, v in _places(slow, number, number + 1).items()}
            base = self.truck
            for path, value in fixed.items():
                base = base.vary(path, value)
            for start in range(0, _product(fast), self.order.block):
                end = min(start + self.order.block, _product(fast))
                given = _places(fast, start, end)
                truck = base
                for path, values in given.items():
                    if not _of_point(self.truck, path):
                        truck = truck.vary(path, values)
                whole = {**{k: np.full(end - start, v) for k, v in fixed.items()}, **given}
                yield truck, {axis.path: whole[axis.path] for axis in axes}


def prepare(truck: Truck, order: SweepOrder) -> Sweep:
    """Check a sweep before it runs. Raises DomainError."""
    if not order.axes:
        raise DomainError("give at least one input to vary")
    paths = [axis.path for axis in order.axes]
    if twice := [p for p in paths if paths.count(p) > 1]:
        raise DomainError(f"'{twice[0]}' is varied twice")
    if order.size > MOST_VALUES:
        raise DomainError(f"{order.size} points; at most {MOST_VALUES} are solved")
    if order.scenario is None and not truck.scenario:
        raise DomainError("the truck has no scenario; a sweep needs one")
    scenario = truck.scenario[0] if order.scenario is None else truck.scenario_named(order.scenario)
    if {"rate", "road speed"} & set(paths):
        feeder_task(truck, scenario)
    return Sweep(truck, scenario, order, kept_columns(truck, scenario, order.keep))


def _product(axes: Sequence[Axis]) -> int:
    size = 1
    for axis in axes:
        size *= axis.values.size
    return size


def _places(axes: Sequence[Axis], start: int, end: int) -> dict[str, Array]:
    """Values of the combinations from `start` to `end`, (N,) each; the last axis runs fastest."""
    if not axes:
        return {}
    shape = tuple(axis.values.size for axis in axes)
    places = np.unravel_index(np.arange(start, end), shape)
    return {axis.path: axis.values[place] for axis, place in zip(axes, places, strict=True)}


def _task_path(truck: Truck, path: str) -> tuple[str, str] | None:
    """Function and way of asking, where a path is that."""
    name, _, way = path.rpartition(".")
    known = any(f.name == name for f in solved_functions(truck))
    return (name, way) if known and way in TASK_KINDS else None


def _of_point(truck: Truck, path: str) -> bool:
    return path in POINT_KINDS or _task_path(truck, path) is not None


def _is_slow(truck: Truck, path: str) -> bool:
    """Whether an input must be a plain number when points are planned."""
    if _of_point(truck, path):
        return False
    keys = path.split(".")
    for function in truck.function:
        if function.name in keys:
            return bool(set(keys) & set(_SLOW))
    parts = [p.name for p in truck.pump] + [b.name for b in truck.bank]
    parts += [r.name for r in truck.relief] + [line.name for line in truck.lines]
    return keys[0] not in (*parts, "pump", "bank", "engine", "oil", "relief", "lines")


def axis_from_text(truck: Truck, text: str) -> Axis:
    """`PATH=FROM..TO UNIT:COUNT` or `PATH=VALUE; VALUE; ...`. Raises DomainError, UnitError."""
    path, sign, told = (part.strip() for part in text.partition("="))
    if not sign or not path or not told:
        raise DomainError(f"--vary {text[:60]!r}: write INPUT=FROM..TO UNIT:COUNT")
    kind = kind_of_input(truck, path)
    if ".." not in told:
        values = np.array([parse(one.strip(), kind) for one in told.split(";")])
        return Axis(path, kind, values)
    span, colon, count_text = told.rpartition(":")
    if not colon or not count_text.strip().isdecimal() or int(count_text) < 1:
        raise DomainError(f"--vary {text[:60]!r}: end it with the number of values, such as :9")
    if int(count_text) > MOST_VALUES:
        raise DomainError(f"--vary {text[:60]!r}: at most {MOST_VALUES} values")
    low_text, _, high_text = (part.strip() for part in span.partition(".."))
    high = parse(high_text, kind)
    number = high_text.split()[0] if high_text.split() else ""
    unit = high_text.removeprefix(number).strip()
    low = parse(low_text if _has_unit(low_text, unit) else f"{low_text} {unit}", kind)
    return Axis(path, kind, np.linspace(low, high, int(count_text)))


def _has_unit(text: str, unit: str) -> bool:
    """Whether the first number of a span has a unit of its own."""
    return not unit or any(c.isalpha() or c == "%" for c in text.replace("e", "").replace("E", ""))


def kind_of_input(truck: Truck, path: str) -> str:
    """Kind of quantity of an input. Raises DomainError for one that cannot be varied."""
    if path in POINT_KINDS:
        return POINT_KINDS[path]
    task = _task_path(truck, path)
    if task is not None:
        return TASK_KINDS[task[1]]
    spec = truck.spec(path)
    if spec.form == "count":
        return "count"
    return spec.kind


def _column(result: Result, name: str) -> Array:
    """A column of a result, as `iter_solve` names them."""
    function, dot, attribute = name.rpartition(".")
    found = getattr(result, attribute)
    return np.asarray(found[:, result.column(function)] if dot else found)


def _work(
    truck: Truck, scenario: Scenario, given: Mapping[str, Array]
) -> tuple[Work, tuple[Loop, ...]]:
    """What a block's points are told, and the loops that are closed."""
    size = next(iter(given.values())).size

    def column(key: str, otherwise: float) -> Array:
        return given[key] if key in given else np.full(size, otherwise)

    engine = column("engine", float(np.median(engine_speeds(truck, scenario.engine))))
    oil = column("oil", float(np.median(oil_temperatures(truck, scenario.oil))))
    if "rate" in given or "road speed" in given:
        task = feeder_task(truck, scenario)
        missing = [
            k for k, v in (("rate", task.rate), ("road speed", task.road_speed)) if v is None
        ]
        if missing and missing[0] not in given:
            raise DomainError(f"the scenario orders no {missing[0]}; vary it too")
        rows = Rows(
            engine,
            oil,
            column("rate", float(task.rate or 0.0)),
            column("road speed", float(task.road_speed or 0.0)),
            np.ones(size, dtype=np.bool_),
        )
        plan = plan_rows(truck, scenario, rows)
        work, loops = plan.work, plan.loops(truck)
    else:
        work = plan_pairs(truck, scenario, engine, oil)
        loops = loops_of(truck, scenario)
    work = _with_tasks(truck, work, given)
    if "hopper" in given:
        work = replace(work, points=replace(work.points, hopper=given["hopper"]))
    return work, _told_loops(truck, loops, given)


def _told_loops(
    truck: Truck, loops: tuple[Loop, ...], given: Mapping[str, Array]
) -> tuple[Loop, ...]:
    """Loops of functions that the inputs do not tell otherwise, and of those told a speed."""
    told = [(task, values) for k, values in given.items() if (task := _task_path(truck, k))]
    names = [task[0] for task, _ in told]
    kept = [loop for loop in loops if loop.function.name not in names]
    for (name, way), values in told:
        function = truck.function_named(name)
        if way == "speed" and function.loop == "closed" and function.motor:
            place = solved_functions(truck).index(function)
            kept.append(Loop(function, place, values, most_flow(function)))
    return tuple(kept)


def _with_tasks(truck: Truck, work: Work, given: Mapping[str, Array]) -> Work:
    """Work with what the inputs ask of single functions."""
    demand, asked = np.array(work.demand), np.array(work.asked)
    work = replace(work, points=_thrown(truck, work.points, given))
    for path, values in given.items():
        task = _task_path(truck, path)
        if task is None:
            continue
        function = truck.function_named(task[0])
        place = [f.name for f in solved_functions(truck)].index(function.name)
        if task[1] in ("command", "setting"):
            command = values if task[1] == "command" else _command(function, values)
            demand[:, place] = np.where(command > 0, np.nan, 0.0)
            asked[:, place] = flow_of(function, command)
            continue
        wanted = values
        if task[1] == "speed":
            wanted = flow_for_speed(truck, function, place, values, work.points)
        demand[:, place] = wanted
        asked[:, place] = np.minimum(wanted, most_flow(function))
    points = replace(work.points, asked=asked)
    points.validate()
    return Work(work.scenario, points, demand, asked)


def _thrown(truck: Truck, points: Points, given: Mapping[str, Array]) -> Points:
    """Points whose discs throw what a feeder of a told speed discharges, where that is known."""
    functions = solved_functions(truck)
    keys = [f"{f.name}.speed" for f in functions if f.kind == "feeder"]
    told = [given[key] for key in keys if key in given]
    try:
        mass = sum(told) * mass_per_turn(truck) if told else None
    except MissingValue:
        return points
    if mass is None:
        return points
    thrown = np.array(points.thrown)
    for m, function in enumerate(functions):
        if function.kind == "spinner":
            thrown[:, m] = np.where(points.thrown[:, m] > 0, mass, 0.0)
    return replace(points, thrown=thrown)


def _command(function: Function, settings: Array) -> Array:
    """Command of settings; 0 is off. Raises MissingValue."""
    low, high = function.trims.min, function.trims.max
    if missing := [k for k, v in (("min", low), ("max", high)) if v is None]:
        raise MissingValue([f"{function.name}.trims.{k}" for k in missing])
    least, most = np.asarray(low), np.asarray(high)
    return np.where(settings > 0, least + settings * (most - least), 0.0)
