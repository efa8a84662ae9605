"""What follows from a combination without a choice: demands, sections, bores, margin, relief.

A combination picks a drive ratio, a pump and a motor for each function that turns. Everything else
is the smallest preferred size that its own requirement allows; the arrays here hold it for K
combinations at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.advice.sizing_frame import (
    LEAST_MARGIN,
    LITRE_A_MINUTE,
    SECTION_DROP,
    STANDBY_OVER_MARGIN,
    STEP,
    TRIM_ROOM,
    Frame,
    machine_values,
    put,
)
from hydrocheck.advice.sizing_parts import BORES, next_bore, next_number, step_up
from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.physics import lines
from hydrocheck.solver import solved_functions
from hydrocheck.solver.fluid import fluid_at
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures, top_speed
from hydrocheck.studies.work import plan_pairs

Array = NDArray[np.float64]
Index = NDArray[np.intp]

LINE_SHARE = 0.05
"""Most that one work line may take of the working pressure, in the coldest oil at work (ours)."""
ROUGHNESS = 1e-5
"""Of hoses [m], as a truck file takes it where none is given."""


@dataclass(frozen=True)
class Combos:
    """K combinations of a frame: which drive ratio, pump and motors, by number, (K,) each."""

    ratio: Index
    pump: Index
    motors: Mapping[str, Index]

    @property
    def size(self) -> int:
        """K."""
        return int(self.ratio.size)

    def take(self, index: Index) -> Combos:
        """The combinations at `index`."""
        motors = {name: pick[index] for name, pick in self.motors.items()}
        return Combos(self.ratio[index], self.pump[index], motors)

    def key(self, k: int) -> tuple[int, ...]:
        """One combination as numbers along the axes of the frame."""
        picks = (self.ratio, self.pump, *self.motors.values())
        return tuple(int(pick[k]) for pick in picks)


def combos_at(frame: Frame, flat: NDArray[np.int64]) -> Combos:
    """The combinations of flat numbers below `frame.size`."""
    picks = np.unravel_index(flat, frame.shape)
    return Combos(picks[0], picks[1], dict(zip(frame.motors, picks[2:], strict=True)))


def combos_of(frame: Frame, keys: list[tuple[int, ...]]) -> Combos:
    """The combinations of numbers along the axes of the frame."""
    columns = np.array(keys, dtype=np.intp).reshape(len(keys), len(frame.shape)).T
    return Combos(columns[0], columns[1], dict(zip(frame.motors, columns[2:], strict=True)))


@dataclass(frozen=True)
class Conditions:
    """Where a scenario must work: engine speeds [rad/s], rising, and oil temperatures [K]."""

    scenario: Scenario
    engine: Array
    oil: Array


def conditions(frame: Frame) -> tuple[Conditions, ...]:
    """Both ends of each scenario's engine speeds; oil from warmed up to hot, and its own."""
    needs = frame.needs
    found = []
    for scenario in frame.truck.scenario:
        engine = np.unique(engine_speeds(frame.truck, scenario.engine)[[0, -1]])
        own = oil_temperatures(frame.truck, scenario.oil)[[0, -1]]
        common = [
            float(needs.warmed_up),
            *(float(t) for t in (needs.oil.working, needs.oil.hot) if t),
        ]
        found.append(Conditions(scenario, engine, np.unique([*common, *own])))
    return tuple(found)


@dataclass(frozen=True)
class Demands:
    """What each function asks at the end of its life, by motor on offer; each by function, (O,).

    by_scenario: demand in each scenario at its oil temperatures, (O, T) each
    most: greatest demand of any scenario; section: what its section passes at most at its maximum
    trim; rated: preferred section flow; carried: most that its lines carry [m3/s]
    supply, returns: bores of its lines [m], inf where no preferred one will do
    """

    by_scenario: tuple[Mapping[str, Array], ...]
    most: Mapping[str, Array]
    section: Mapping[str, Array]
    rated: Mapping[str, Array]
    carried: Mapping[str, Array]
    supply: Mapping[str, Array]
    returns: Mapping[str, Array]


def demands(frame: Frame, wanted: tuple[Conditions, ...]) -> Demands:
    """What each function asks with each motor on offer, and the section and lines for it.

    Demand depends on the function's own motor, its load and the oil, on nothing else.
    """
    by_scenario = tuple(_by_motor(frame, one) for one in wanted)
    names = [f.name for f in solved_functions(frame.truck)]
    nothing = {n: np.zeros(len(frame.motors.get(n, (1,)))) for n in names}
    most = {
        name: np.max(
            [nothing[name], *(d[name].max(axis=1) for d in by_scenario if name in d)], axis=0
        )
        for name in names
    }
    section = {name: np.maximum(q * TRIM_ROOM, LITRE_A_MINUTE) for name, q in most.items()}
    rated = {name: next_number(flow, LITRE_A_MINUTE) for name, flow in section.items()}
    # Without trims a section opens fully.
    carried = {n: flow if n in frame.motors else rated[n] for n, flow in section.items()}
    coldest = min(float(one.oil[0]) for one in wanted)
    limits = frame.needs.limits
    supply, returns = {}, {}
    for function in solved_functions(frame.truck):
        name = function.name
        fastest = (float(limits.pressure_velocity), float(limits.return_velocity))
        supply[name] = _work_bore(frame, name, carried[name], fastest[0], coldest)
        out = carried[name]
        if function.cylinder is not None and function.cylinder.rod:
            # What leaves the far side while the near one is fed.
            out = out / _area_share(function.cylinder.bore, function.cylinder.rod)
        returns[name] = _work_bore(frame, name, out, fastest[1], coldest)
    return Demands(by_scenario, most, section, rated, carried, supply, returns)


def _work_bore(frame: Frame, name: str, flow: Array, fastest: float, oil: float) -> Array:
    """Smallest hose bore that keeps a velocity [m/s] and `LINE_SHARE` of the pressure, (O,)."""
    fluid = fluid_at(frame.truck, np.array([oil]))
    needed = next(f for f in frame.needs.function if f.name == name)
    drop = lines.pressure_drop(
        flow[:, None],
        BORES,
        needed.line,
        ROUGHNESS,
        needed.loss_factor,
        float(fluid.density[0]),
        float(fluid.viscosity[0]),
    )
    good = (lines.velocity(flow[:, None], BORES) <= fastest) & (drop <= LINE_SHARE * frame.working)
    return np.where(good.any(axis=1), BORES[np.argmax(good, axis=1)], np.inf)


def _by_motor(frame: Frame, one: Conditions) -> dict[str, Array]:
    """Demand of each function of a scenario, worn, by motor on offer and oil, (O, T) each."""
    found = {}
    for place, function in enumerate(solved_functions(frame.truck)):
        name = function.name
        if not any(task.name == name for task in one.scenario.run):
            continue
        count = len(frame.motors.get(name, (1,)))
        pick = np.repeat(np.arange(count), one.oil.size)
        truck = _one_motor(frame, name, pick)
        alone = _only(one.scenario, name)
        work = plan_pairs(truck, alone, float(one.engine[0]), np.tile(one.oil, count))
        found[name] = work.demand[:, place].reshape(count, one.oil.size)
    return found


def _only(scenario: Scenario, function: str) -> Scenario:
    """A scenario in which feeders still feed (a spinner throws what they bring) beside one."""
    feeds = [t for t in scenario.run if t.name == function or t.rate is not None or t.speed]
    return replace(scenario, run=tuple(feeds))


def _one_motor(frame: Frame, name: str, pick: Index) -> Truck:
    """The frame's truck with the first motor on offer everywhere, but one function's varied."""
    values: dict[str, Array | float] = {}
    for other, options in frame.motors.items():
        chosen = pick if other == name else np.zeros(1, dtype=np.intp)
        columns = machine_values(options, chosen)
        values |= {f"{other}.motor.{key}": column for key, column in columns.items()}
        values[f"{other}.motor.wear"] = frame.needs.margins.motor_wear
    return put(frame.truck, values)


@dataclass(frozen=True)
class Derived:
    """Sizes that follow from K combinations, (K,) each, SI; inf where no preferred size will do.

    top_flow: theoretical flow of the pump at the highest engine speed with the drive engaged
    work_flow: the same at the high end of the working band
    section: flow that each section must pass at its maximum trim, by function
    rated: preferred section flow; carried: most that its lines carry
    supply, returns: bores of the work lines
    """

    top_flow: Array
    work_flow: Array
    suction: Array
    pressure: Array
    back: Array
    section: Mapping[str, Array]
    rated: Mapping[str, Array]
    carried: Mapping[str, Array]
    supply: Mapping[str, Array]
    returns: Mapping[str, Array]


def derive(frame: Frame, combos: Combos, asked: Demands) -> Derived:
    """The sizes that follow from combinations: bores by velocity, sections by demand."""
    limits, truck = frame.needs.limits, frame.truck
    ratio = np.array(frame.ratios)[combos.ratio]
    displacement = np.array([m.displacement for m in frame.pumps])[combos.pump]
    top = displacement * ratio * top_speed(truck)
    assert truck.engine.working is not None
    working = displacement * ratio * float(truck.engine.working[1])

    def bore(flow: Array, velocity: float) -> Array:
        return next_bore(np.asarray(lines.bore_for_velocity(flow, velocity)))

    def picked(by_motor: Mapping[str, Array]) -> dict[str, Array]:
        first = np.zeros(combos.size, dtype=np.intp)
        return {name: column[combos.motors.get(name, first)] for name, column in by_motor.items()}

    return Derived(
        top_flow=top,
        work_flow=working,
        suction=bore(top, float(limits.suction_velocity)),
        pressure=bore(top, float(limits.pressure_velocity)),
        back=bore(top, float(limits.return_velocity)),
        section=picked(asked.section),
        rated=picked(asked.rated),
        carried=picked(asked.carried),
        supply=picked(asked.supply),
        returns=picked(asked.returns),
    )


def _area_share(bore: object, rod: object) -> float:
    return 1.0 - (float(rod) / float(bore)) ** 2  # type: ignore[arg-type]  # floats before variation


def fill(frame: Frame, combos: Combos, sizes: Derived, margin: Array | float) -> dict[str, Array]:
    """Paths and values, (K,) each, that make the frame's truck into the combinations' trucks."""
    sensing = frame.supply == "load sensing"
    full = np.ones(combos.size)
    values: dict[str, Array] = {"engine.drive.ratio": np.array(frame.ratios)[combos.ratio]}
    for key, column in machine_values(frame.pumps, combos.pump).items():
        values[f"pump.{key}"] = column
    if sensing:
        values["pump.margin"] = margin * full
        values["pump.standby"] = values["pump.margin"] + STANDBY_OVER_MARGIN
    elif frame.supply == "fixed":
        values["bank.neutral_flow"] = sizes.work_flow
    values["main relief.rated_flow"] = next_number(sizes.top_flow, LITRE_A_MINUTE)
    values["lines.suction.bore"] = _finite(sizes.suction)
    values["lines.pressure.bore"] = _finite(sizes.pressure)
    values["lines.return.bore"] = _finite(sizes.back)
    values["lines.return.filter.rated_flow"] = next_number(sizes.top_flow, LITRE_A_MINUTE)
    have = {line.name for line in frame.truck.lines}
    for name, options in frame.motors.items():
        for key, column in machine_values(options, combos.motors[name]).items():
            values[f"{name}.motor.{key}"] = column
    for name, bore in sizes.supply.items():
        values[f"lines.{name} supply.bore"] = _finite(bore)
        if f"{name} return" in have:
            values[f"lines.{name} return.bore"] = _finite(sizes.returns[name])
    return values


def _finite(bore: Array) -> Array:
    """Bores that a truck can hold; a combination without one is refused before it is solved."""
    return np.where(np.isfinite(bore), bore, 1.0)


def worn(frame: Frame, share: Array | float) -> dict[str, Array | float]:
    """Paths and values of the wear at a share of life, 0 new to 1 end."""
    margins = frame.needs.margins
    values: dict[str, Array | float] = {"pump.wear": np.asarray(share) * margins.pump_wear}
    for name in frame.motors:
        values[f"{name}.motor.wear"] = np.asarray(share) * margins.motor_wear
    return values


def least_margin(frame: Frame, line_drop: Array) -> Array:
    """LS margin for a drop of the pressure line [Pa]: section and line, a tenth more, in steps."""
    return np.maximum(step_up(SECTION_DROP[frame.supply] + 1.1 * line_drop, STEP), LEAST_MARGIN)
