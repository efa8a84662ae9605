"""Oil temperature: where it settles for a duty, and how it gets there from a cold start.

A duty is a mix of scenarios, each for a share of the time. Its heat is the mean of their heats,
each solved in full at the oil's temperature, element by element:

    heat      P(T) = sum of share x total heat of the steady state at T
    loss      G (T - T_air),    G = surface coefficient x surface + cooler
    settled   P(T) = G (T - T_air)
    warming   C dT/dt = P(T) - G (T - T_air),    C = m c of the oil, and of metal where given

Lumped: one body of oil at one temperature, in still surroundings; parts of a duty follow each other
quickly against its time constant. Every loss goes into the oil, that of gearboxes too. Not covered:
suction line, coils, warmth of engine, exhaust and sun, oil outside the reservoir, coolers with a
thermostat or a fan of their own. In very thick oil the drag of machines is extrapolated far beyond
its measured points: a real pump makes less heat there, and warming starts slower than computed.

The published surface coefficients differ by a factor of 2.5, and so the answer is a range: the
stated coefficient divided and multiplied by 1.6. Temperatures outside -50 to 150 degC are not
computed: beyond, the viscosity line of an oil means little.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.circuit import Reservoir
from hydrocheck.model.truck import Scenario, Truck
from hydrocheck.physics import heat
from hydrocheck.solver.needs import Needs
from hydrocheck.studies.conditions import engine_speeds
from hydrocheck.studies.work import plan_pairs, solve_work

Array = NDArray[np.float64]

LOWEST, HIGHEST = 223.15, 423.15
"""Oil temperatures between which heat is computed [K]."""
SPREAD = 1.6
"""Factor on the surface coefficient, either way: published ones differ by its square, 2.5 [1]."""
STANDBY = "standby"
"""Name of the part of a duty in which nothing runs, unless a scenario is called so."""

SCAN = 41
"""Temperatures at which a balance is looked for [1]."""
_CLOSED = 1e-11  # share of the loss to which a balance is closed
_MOST_STEPS = 80


@dataclass(frozen=True)
class Part:
    """One scenario of a duty.

    share: of the time [1], scalar or (N,)
    engine_speed: [rad/s], scalar or (N,); None takes the middle of the scenario's own
    """

    scenario: Scenario
    share: ArrayLike = 1.0
    engine_speed: ArrayLike | None = None


@dataclass(frozen=True)
class Cooling:
    """What changes the heat given off, scalars or (N,).

    factor: on the surface coefficient [1]
    further_surface: that gives off heat beside the reservoir [m2], see `hose_surface`
    """

    factor: ArrayLike = 1.0
    further_surface: ArrayLike = 0.0

    @property
    def values(self) -> tuple[ArrayLike, ArrayLike]:
        """Factor and further surface."""
        return self.factor, self.further_surface


STATED = Cooling()
"""The reservoir as the truck file gives it."""


@dataclass(frozen=True)
class HeatInput:
    """What a duty puts into the oil, mean over time, (N,) each.

    oil_temperature: at which it is solved [K]; heat: by element [W]
    input_power: into the pump [W]; mechanical_power: given to the loads [W]
    """

    oil_temperature: Array
    heat: Mapping[str, Array]
    input_power: Array
    mechanical_power: Array

    @property
    def total(self) -> Array:
        """Heat of all elements [W], (N,)."""
        total: Array = np.sum(list(self.heat.values()), axis=0)
        return total

    @property
    def share(self) -> Array:
        """Share of the input power that turns to heat [1], (N,); 0 where there is no input."""
        given = self.input_power > 0
        return np.where(given, self.total / np.where(given, self.input_power, 1.0), 0.0)


@dataclass(frozen=True)
class Settled:
    """Where the oil temperature of a duty settles, (N,) each.

    temperature: [K]; nan where heat exceeds the loss all the way up to `HIGHEST`
    input: heat at that temperature, or at `HIGHEST` where there is none
    ambient: of the air [K]; conductance: of surface and cooler [W/K]
    """

    temperature: Array
    input: HeatInput
    ambient: Array
    conductance: Array

    @property
    def found(self) -> NDArray[np.bool_]:
        """Where a temperature up to `HIGHEST` balances the heat, (N,)."""
        return np.isfinite(self.temperature)

    @property
    def loss(self) -> Array:
        """Heat given to the air at the temperature of `input` [W], (N,)."""
        return self.conductance * (self.input.oil_temperature - self.ambient)


@dataclass(frozen=True)
class SettledRange:
    """Where the oil settles with the stated surface coefficient, and over its published spread.

    cool: with coefficient x `SPREAD`; stated; warm: with coefficient / `SPREAD`
    """

    cool: Settled
    stated: Settled
    warm: Settled


def duty_of(
    truck: Truck, shares: Mapping[str, ArrayLike], engine_speed: ArrayLike | None = None
) -> tuple[Part, ...]:
    """The duty of scenarios by name and share of the time [1]; "standby": nothing runs.

    engine_speed: [rad/s] of all parts, in place of the scenarios' own

    Raises DomainError for a scenario that is not there, or shares that do not add up to 1.
    """
    own = {s.name for s in truck.scenario}
    parts = tuple(
        Part(
            Scenario(name=STANDBY)
            if name == STANDBY and STANDBY not in own
            else truck.scenario_named(name),
            share,
            engine_speed,
        )
        for name, share in shares.items()
    )
    _check_shares(parts)
    return parts


def _check_shares(duty: Sequence[Part]) -> None:
    if not duty:
        raise DomainError("a duty needs a scenario")
    shares = [np.asarray(part.share, dtype=np.float64) for part in duty]
    if not all((np.isfinite(s) & (s >= 0)).all() for s in shares):
        raise DomainError("shares of a duty: must be zero or above")
    total = np.asarray(sum(shares))
    if (np.abs(total - 1.0) > 1e-6).any():
        off = 100.0 * float(total.flat[int(np.argmax(np.abs(total - 1.0)))])
        raise DomainError(
            f"shares of a duty: add up to {off:.4g} %, must be 100 %; "
            f"the time in which nothing runs is '{STANDBY}'"
        )


class Mean:
    """The heat of a duty at N points, by oil temperature."""

    def __init__(self, truck: Truck, duty: Sequence[Part], size: int) -> None:
        _check_shares(duty)
        # The tank has no part in a steady state, and need not be solved for each of its values.
        self.truck, self.size = replace(truck, reservoir=Reservoir()), size
        self.varied = varied_size(self.truck) > 1
        self.parts = [
            (part.scenario, column(part.share, size), column(part_speed(truck, part), size))
            for part in duty
        ]

    def at(self, temperature: Array) -> HeatInput:
        """Means over the duty; temperature: [K], (N,)."""
        return self._at(temperature, 1)

    def _at(self, temperature: Array, times: int) -> HeatInput:
        """At `times` x N temperatures: the N points over and over."""
        heats: dict[str, Array] = {}
        power, work = np.zeros(temperature.size), np.zeros(temperature.size)
        for scenario, share, speed in self.parts:
            weight = np.tile(share, times)
            plan = plan_pairs(self.truck, scenario, np.tile(speed, times), temperature)
            result = solve_work(self.truck, plan).result
            for element, value in result.heat.items():
                heats[element] = heats.get(element, 0.0) + weight * value
            power = power + weight * result.shaft_power
            work = work + weight * result.mechanical_power
        return HeatInput(temperature, heats, power, work)

    def totals(self, temperature: Array) -> Array:
        """Heat [W], (K, N), at K temperatures of each point [K], (K, N)."""
        if self.varied:  # a truck of N values takes N points at a time
            return np.stack([self.at(row).total for row in temperature])
        rows = temperature.shape[0]
        return self._at(temperature.ravel(), rows).total.reshape(temperature.shape)


def part_speed(truck: Truck, part: Part) -> ArrayLike:
    """Engine speed of a part [rad/s]; a word that stands for several is taken at its middle."""
    if part.engine_speed is not None:
        return part.engine_speed
    return float(np.median(engine_speeds(truck, part.scenario.engine)))


def varied_size(part: object) -> int:
    """How many values the (N,) scalars of a truck or part hold; 1 where it has none."""
    if isinstance(part, np.ndarray):
        return part.size
    if isinstance(part, tuple):
        return max((varied_size(item) for item in part), default=1)
    if is_dataclass(part):
        return max((varied_size(getattr(part, f.name)) for f in fields(part)), default=1)
    return 1


def size_of(truck: Truck, duty: Sequence[Part], *values: ArrayLike) -> int:
    """N: how many points truck, duty and other values stand for."""
    given = [np.size(np.asarray(v)) for v in values]
    for part in duty:
        given.append(np.size(np.asarray(part.share)))
        given.append(np.size(np.asarray(part_speed(truck, part))))
    return max([varied_size(truck), *given])


def column(value: ArrayLike, size: int) -> Array:
    array = np.asarray(value, dtype=np.float64).reshape(-1)
    if array.size not in (1, size):
        raise DomainError(f"{array.size} values do not fit {size} points")
    return np.broadcast_to(array, (size,)).copy()


def heat_at(truck: Truck, duty: Sequence[Part], oil_temperature: ArrayLike) -> HeatInput:
    """The heat of a duty at oil temperatures [K], scalar or (N,).

    Raises DomainError for temperatures outside `LOWEST` to `HIGHEST`, else as `solve` does.
    """
    size = size_of(truck, duty, oil_temperature)
    oil = column(oil_temperature, size)
    refuse_outside(oil, "oil")
    return Mean(truck, duty, size).at(oil)


def refuse_outside(temperature: Array, what: str) -> None:
    if not ((temperature >= LOWEST) & (temperature <= HIGHEST)).all():
        raise DomainError(
            f"temperature of the {what}: heat is computed from "
            f"{LOWEST - 273.15:.0f} to {HIGHEST - 273.15:.0f} degC only"
        )


def conductance(truck: Truck, cooling: Cooling = STATED, size: int = 1) -> Array:
    """Heat that reservoir, further surface and cooler give off for each kelvin [W/K], (N,).

    G = factor x coefficient x (area + further surface) + cooler

    Raises MissingValue for a reservoir without area or coefficient, DomainError.
    """
    tank, needs = truck.reservoir, Needs(size)
    area = needs.column(tank, "area", "reservoir")
    coefficient = needs.column(tank, "heat_transfer", "reservoir")
    cooler = needs.column(tank, "cooler", "reservoir", otherwise=0.0)
    needs.settle()
    factor, more = (column(value, size) for value in cooling.values)
    if not (np.isfinite(factor) & (factor > 0) & np.isfinite(more) & (more >= 0)).all():
        raise DomainError("factor and further surface: must be above zero, and zero or above")
    return column(heat.surface_conductance(area + more, coefficient * factor) + cooler, size)


def hose_surface(truck: Truck) -> float:
    """Inside surface of all lines whose bore and length are given [m2].

    A = sum of pi x bore x length

    It stands for what hoses give off: their outside is larger by a third to a half, and rubber
    insulates by about as much. Lines of functions that are shut are counted too.
    Source: own estimate, rubber of 0.25 W/(m K), two-wire hose of usual wall.
    """
    total = 0.0
    for line in truck.lines:
        if line.bore is not None and line.length is not None:
            total += float(np.pi * np.max(np.asarray(line.bore) * line.length))
    return total


def settled_temperature(
    truck: Truck,
    duty: Sequence[Part],
    ambient: ArrayLike | None = None,
    cooling: Cooling = STATED,
) -> Settled:
    """Where the oil temperature of a duty settles when it warms from the air's temperature.

    ambient: of the air [K], scalar or (N,); None takes the hottest that the truck file gives

    Heat may fall and rise with temperature; the lowest balance is given, which the oil reaches from
    below and to which it returns. Balances closer together than 5 K may be passed over. Engine
    speeds, shares, ambient, cooling, and any scalar of the truck may be (N,).

    Raises MissingValue, DomainError, and as `solve` does.
    """
    return _settled(truck, duty, ambient, cooling, (1.0,))[0]


def settled_range(
    truck: Truck,
    duty: Sequence[Part],
    ambient: ArrayLike | None = None,
    cooling: Cooling = STATED,
) -> SettledRange:
    """As `settled_temperature`, with the published spread of the surface coefficient."""
    factors = (SPREAD, 1.0, 1.0 / SPREAD)
    return SettledRange(*_settled(truck, duty, ambient, cooling, factors))


def _settled(
    truck: Truck,
    duty: Sequence[Part],
    ambient: ArrayLike | None,
    cooling: Cooling,
    factors: tuple[float, ...],
) -> list[Settled]:
    around = truck.ambient.hottest if ambient is None else ambient
    lacking = {f"reservoir.{k}": getattr(truck.reservoir, k) for k in ("area", "heat_transfer")}
    lacking["ambient.hottest"] = around
    if around is None or any(value is None for value in lacking.values()):
        raise MissingValue([key for key, value in lacking.items() if value is None])
    size = size_of(truck, duty, around, *cooling.values)
    air = column(around, size)
    refuse_outside(air, "air")
    mean = Mean(truck, duty, size)
    grid = np.linspace(air, np.full(size, HIGHEST), SCAN)
    scanned = mean.totals(grid)
    found = []
    for factor in factors:
        scaled = replace(cooling, factor=factor * np.asarray(cooling.factor))
        total = conductance(truck, scaled, size)
        oil, there = balance(mean, total, air, grid, scanned)
        found.append(Settled(np.where(there, oil, np.nan), mean.at(oil), air, total))
    return found


def needed_conductance(
    truck: Truck, duty: Sequence[Part], limit: ArrayLike, ambient: ArrayLike
) -> Array:
    """Conductance of surface and cooler that holds the oil at a temperature [W/K], (N,).

    G = P(T_limit) / (T_limit - T_air)

    limit, ambient: [K], scalars or (N,); raises DomainError where the limit is not above the air
    """
    size = size_of(truck, duty, limit, ambient)
    made = heat_at(truck, duty, column(limit, size)).total
    return heat.conductance_for_limit(made, column(ambient, size), column(limit, size))


def balance(
    mean: Mean, total: Array, air: Array, grid: Array, scanned: Array | None = None
) -> tuple[Array, NDArray[np.bool_]]:
    """First balance along temperatures `grid` [K], (K, N), and whether there is one, (N,).

    total: conductance [W/K], air: [K], (N,) each; scanned: heat at the grid [W], (K, N), if known

    Where there is none, the last temperature of the grid.
    """
    columns = np.arange(grid.shape[1])
    excess = (mean.totals(grid) if scanned is None else scanned) - total * (grid - air)
    way = np.where(excess[0] < 0.0, -1.0, 1.0)
    past = way * excess <= 0.0
    there = np.asarray(past.any(axis=0))
    after = np.where(there, np.argmax(past, axis=0), grid.shape[0] - 1)
    before = np.where(there, np.maximum(after - 1, 0), after)

    def unbalanced(temperature: Array) -> tuple[Array, Array]:
        loss = total * (temperature - air)
        return mean.at(temperature).total - loss, _CLOSED * np.abs(loss)

    ends = (grid[before, columns], grid[after, columns])
    heights = (excess[before, columns], excess[after, columns])
    return _root(unbalanced, ends, heights), there


def _root(
    function: Callable[[Array], tuple[Array, Array]],
    ends: tuple[Array, Array],
    heights: tuple[Array, Array],
) -> Array:
    """Zero between two points, (N,), by the Illinois method: secants inside a closing bracket.

    function: its value and the height that counts as zero; heights: its values at both ends
    """
    (a, b), (fa, fb) = ends, heights
    best, least = np.where(np.abs(fa) < np.abs(fb), a, b), np.minimum(np.abs(fa), np.abs(fb))
    done = (a == b) | (least == 0.0)
    for _ in range(_MOST_STEPS):
        if done.all():
            break
        apart = np.where(fb == fa, 1.0, fb - fa)
        x = np.where(done | (fb == fa), best, b - fb * (b - a) / apart)
        fx, enough = function(x)
        better = ~done & (np.abs(fx) < least)
        best, least = np.where(better, x, best), np.where(better, np.abs(fx), least)
        done = done | (np.abs(fx) <= enough) | (np.abs(b - a) <= 4e-16 * np.abs(x))
        crossed = fx * fb < 0.0
        a, fa = np.where(crossed, b, a), np.where(crossed, fb, 0.5 * fa)
        b, fb = x, fx
        done = done | (fb == 0.0)
    return best
