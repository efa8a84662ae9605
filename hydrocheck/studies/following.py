"""How discharge follows road speed: within which speeds, with which error outside, and what a link
adds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Scenario, Task, Truck
from hydrocheck.physics import material
from hydrocheck.solver import Points, solved_functions
from hydrocheck.studies.commands import flow_of, speed_at_flow, trimmed_functions
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures, top_speed
from hydrocheck.studies.work import mass_per_turn, plan_work, solve_work

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Following:
    """Discharge of one feeder against road speed.

    mode: off, start-stop or proportional; rates: ordered, per lane [kg/m], (R,)
    slowest, fastest: road speeds between which each rate is kept, the feeder between its trims,
        warm oil, hopper full [m/s], (R,); proportional only, else empty
    road_speeds: [m/s], (V,); put_down: rate per lane at each road speed [kg/m], (R, V)
    engine_speed: [rad/s], (E,); share: of the greatest ordered discharge that the feeder gets there
    [1], (E,)
    sensor: pulses a metre [1/m], None where not given
    """

    feeder: str
    mode: str
    rates: Array
    slowest: Array
    fastest: Array
    road_speeds: Array
    put_down: Array
    engine_speed: Array
    share: Array
    sensor: float | None

    @property
    def pulses(self) -> Array | None:
        """Pulses a second of the speed sensor at the road speeds [Hz], (V,)."""
        return None if self.sensor is None else self.sensor * self.road_speeds


@dataclass(frozen=True)
class Linked:
    """A function that runs at its minimum trim whenever another runs, and the flow that adds.

    command: [1]; flow: [m3/s]; electric and absent functions add none
    """

    function: str
    follows: str
    command: float
    flow: float


def linked_flows(truck: Truck) -> tuple[Linked, ...]:
    """The flow that each link adds. Raises MissingValue."""
    found = []
    for link in truck.link:
        function = truck.function_named(str(link.function))
        least = function.trims.min
        if least is None:
            raise MissingValue([f"{function.name}.trims.min"])
        oil = function in solved_functions(truck)
        flow = float(flow_of(function, float(least))) if oil else 0.0
        found.append(Linked(function.name, str(link.follows), float(least), flow))
    return tuple(found)


def follow_road_speed(truck: Truck) -> tuple[Following, ...]:
    """Every feeder's discharge against road speed. Raises MissingValue.

    Proportional: the order is kept where the feeder is between its trims. Start-stop and off: the
    discharge stays what it was set to for each rate at the greatest road speed, so that a slower
    truck puts down more.
    """
    spreading = truck.spreading
    missing = [f"spreading.{k}" for k in ("rates", "road_speeds") if not getattr(spreading, k)]
    if missing:
        raise MissingValue(missing)
    return tuple(_following(truck, f) for f in trimmed_functions(truck) if f.kind == "feeder")


def _following(truck: Truck, feeder: Function) -> Following:
    spreading = truck.spreading
    rates = np.array([r for r in spreading.rates if r > 0])
    speeds = np.array(sorted(v for v in spreading.road_speeds if v > 0))
    low, high = discharge_range(truck, feeder)
    ordered = np.asarray(material.discharge(rates[:, None], speeds[None, :], spreading.lanes))
    mode = truck.speed_following.mode
    if mode == "proportional":
        given = np.clip(ordered, low, high)
        slowest = np.asarray(material.road_speed_limit(low, rates, spreading.lanes))
        fastest = np.asarray(material.road_speed_limit(high, rates, spreading.lanes))
    else:
        given = np.broadcast_to(np.clip(ordered[:, -1:], low, high), ordered.shape)
        slowest = fastest = np.zeros(0)
    engine, share = _over_engine(truck, feeder, float(np.clip(ordered.max(), low, high)))
    sensor = truck.speed_following.sensor
    return Following(
        feeder.name,
        mode,
        rates,
        slowest,
        fastest,
        speeds,
        given / (speeds[None, :] * spreading.lanes),
        engine,
        share,
        None if sensor is None else float(sensor),
    )


def discharge_range(truck: Truck, feeder: Function) -> tuple[float, float]:
    """Discharge at the minimum and the maximum trim [kg/s], warm oil, hopper full, fed in full.

    Raises MissingValue.
    """
    oil = oil_temperatures(truck, "working")
    points = Points.of(truck, np.zeros(1), oil)
    ends = []
    for which in ("min", "max"):
        command = getattr(feeder.trims, which)
        if command is None:
            raise MissingValue([f"{feeder.name}.trims.{which}"])
        flow = flow_of(feeder, float(command))
        ends.append(float(speed_at_flow(truck, feeder, flow, points)[0]) * mass_per_turn(truck))
    return ends[0], ends[1]


def _over_engine(truck: Truck, feeder: Function, discharge: float) -> tuple[Array, Array]:
    """Share of a discharge [kg/s] that the feeder gives from idle to the highest engine speed, the
    others of its first scenario running."""
    own = Task(name=feeder.name, speed=discharge / mass_per_turn(truck))
    spreads = [s for s in truck.scenario if any(t.name == feeder.name for t in s.run)]
    still = [s for s in spreads if all(t.motion is None for t in s.run)]
    others = tuple(t for s in (still or spreads)[:1] for t in s.run if t.name != feeder.name)
    band = engine_speeds(truck, "working")[[0, -1]]
    ends = [top_speed(truck)] + ([] if truck.engine.idle is None else [float(truck.engine.idle)])
    engine = np.unique(np.concatenate((band, ends)))
    scenario = Scenario(name="discharge", run=(own, *others))
    solved = solve_work(truck, plan_work(truck, scenario, engine))
    turning = solved.result.speed[:, solved.result.column(feeder.name)]
    return engine, turning / float(own.speed or 1.0)
