"""The truck under inspection and the solves that several checks share, each done once."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.checks import watched
from hydrocheck.checks.search import Domain, Plan, Search, Watch, search
from hydrocheck.checks.solving import Solves
from hydrocheck.errors import HydrocheckError, MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Drive, Function, Line, Pump, Relief
from hydrocheck.model.truck import Scenario
from hydrocheck.physics import valves
from hydrocheck.solver import Points, Result, solved_functions
from hydrocheck.studies.budget import least_engine_speed
from hydrocheck.studies.commands import command_of, flow_of, speed_at_flow
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures, top_speed
from hydrocheck.studies.pressure import Need
from hydrocheck.studies.starting import Start, starts_together
from hydrocheck.studies.work import Solved, Work, most_flow, plan_pairs, plan_work

Array = NDArray[np.float64]

WARMING_STEPS = 13
"""Oil temperatures from cold to working at which a scenario is solved, before refinement."""
ENGINE_NODES = 13
"""Engine speeds from idle to the highest at which a maximum trim is solved, before refinement."""


class Inspection(Solves):
    """A truck with cached answers. Every method raises MissingValue for what the file lacks."""

    def __init__(self, truck: Truck) -> None:
        super().__init__(truck)
        self._searched: dict[tuple[str, str], Solved | HydrocheckError] = {}
        self._plans: dict[tuple[object, ...], Work] = {}
        self._starts: dict[str, list[tuple[str, Start]]] | None = None
        self._begun: dict[tuple[str, str], tuple[Search, Work]] = {}

    def _search(self, key: tuple[str, str], plan: Plan, domain: Domain, watch: Watch) -> Solved:
        """A search from where it stands; its plans are made once, however often it breaks off."""
        if key not in self._searched:
            try:
                self._searched[key] = self._sought(key, plan, domain, watch)
            except HydrocheckError as error:
                self._searched[key] = error
        found = self._searched[key]
        if isinstance(found, HydrocheckError):
            raise found
        return found

    def _sought(self, key: tuple[str, str], plan: Plan, domain: Domain, watch: Watch) -> Solved:
        if key not in self._begun:
            going = search(plan, domain, watch)
            self._begun[key] = going, next(going)
        while True:
            going, work = self._begun[key]
            solved = self.solve_work(work)
            try:
                self._begun[key] = going, going.send(solved)
            except StopIteration as done:
                return done.value  # type: ignore[no-any-return]  # what the search returns

    def plan(
        self,
        scenario: Scenario,
        engine: ArrayLike,
        oil: ArrayLike,
        hopper: ArrayLike | None = None,
    ) -> Work:
        """A scenario's work at pairs of engine speed and oil temperature, planned once."""
        parts = [np.asarray(engine, dtype=np.float64), np.asarray(oil, dtype=np.float64)]
        parts += [] if hopper is None else [np.asarray(hopper, dtype=np.float64)]
        key = (scenario, *(part.tobytes() for part in parts))
        if key not in self._plans:
            self._plans[key] = plan_pairs(self.truck, scenario, engine, oil, hopper)
        return self._plans[key]

    def grid(self, scenario: Scenario, engine: ArrayLike | None = None) -> Work:
        """A scenario's work at every engine speed (its own, or these) with every oil of its own."""
        speeds = engine_speeds(self.truck, scenario.engine) if engine is None else engine
        oil = oil_temperatures(self.truck, scenario.oil)
        pairs = np.meshgrid(np.atleast_1d(speeds), oil, indexing="ij")
        return self.plan(scenario, *(part.ravel() for part in pairs))

    def _of_scenario(self, scenario: Scenario) -> Plan:
        def plan(engine: Array, oil: Array, hopper: Array) -> Work:
            return self.plan(scenario, engine, oil, hopper)

        return plan

    def solved(self, scenario: Scenario) -> Solved:
        """A scenario at its own engine speeds and oil temperatures, refined where it is worst."""
        engine = engine_speeds(self.truck, scenario.engine)
        knots = np.array([speed for speed, _ in self.truck.engine.torque_curve])
        inside = knots[(knots > engine[0]) & (knots < engine[-1])]
        domain = Domain(
            np.union1d(engine, inside),
            oil_temperatures(self.truck, scenario.oil),
            np.array([1.0 if scenario.hopper == "full" else 0.0]),
        )
        watch = partial(watched.at_work, self)
        return self._search((scenario.name, "own"), self._of_scenario(scenario), domain, watch)

    def solved_at_idle(self, scenario: Scenario) -> Solved:
        """A scenario at idle, at its own oil temperatures."""
        domain = Domain(
            engine_speeds(self.truck, "idle"),
            oil_temperatures(self.truck, scenario.oil),
            np.array([1.0 if scenario.hopper == "full" else 0.0]),
        )
        plan = self._of_scenario(scenario)
        return self._search((scenario.name, "idle"), plan, domain, watched.missing)

    def over_oil(self, scenario: Scenario) -> Solved:
        """A scenario at its engine speeds and governed, oil cold to hot, hopper empty to full."""
        cold, warm, hot = (
            float(oil_temperatures(self.truck, word)[0]) for word in ("cold", "working", "hot")
        )
        engine = engine_speeds(self.truck, scenario.engine)[[0, -1]]
        if self.truck.engine.governed is not None:
            governed = float(self.truck.engine.governed)
            engine = np.append(engine, [0.5 * (engine[-1] + governed), governed])
        oil = np.append(np.linspace(cold, warm, WARMING_STEPS), [0.5 * (warm + hot), hot])
        domain = Domain(np.unique(engine), np.unique(oil), np.array([0.0, 1.0]))
        plan = self._of_scenario(scenario)
        return self._search((scenario.name, "oil"), plan, domain, watched.over_oil)

    def at_max_trim(self, function: Function) -> Result:
        """A function alone at its maximum trim: all engine speeds, oils and hopper fillings."""
        if function.trims.max is None:
            raise MissingValue([f"{function.name}.trims.max"])
        engine = engine_speeds(self.truck, "range")
        oil = oil_temperatures(self.truck, "range")
        emptied = any(motor.load_empty is not None for motor in function.motor)
        domain = Domain(
            np.linspace(engine[0], engine[-1], ENGINE_NODES),
            oil,
            np.array([0.0, 1.0] if emptied else [0.0]),
        )
        plan = self.alone(function, float(function.trims.max))
        watch = partial(watched.motor_speed, function.name)
        return self._search((function.name, "maximum trim"), plan, domain, watch).result

    def alone(self, function: Function, command: float) -> Plan:
        """One function at a command, the others off."""

        def plan(engine: Array, oil: Array, hopper: Array) -> Work:
            points = Points.of(
                self.truck, engine, oil, command={function.name: command}, hopper=hopper
            )
            return Work(Scenario(name=function.name), points, points.command, points.command)

        return plan

    def least_engine_speed(self, scenario: Scenario, oil: float) -> float | None:
        """Lowest engine speed that meets a scenario's demand [rad/s], at an oil temperature [K]."""
        return least_engine_speed(self.truck, scenario, oil, self)

    def starts(self) -> dict[str, list[tuple[str, Start]]]:
        """Starts from rest by function, each with its scenario's name: all in one solve.

        At the low end of each scenario's engine speeds, with working and with hot oil.
        """
        if self._starts is None:
            truck = self.truck
            oil = np.array([float(oil_temperatures(truck, w)[0]) for w in ("working", "hot")])
            wanted: list[tuple[str, str, Work]] = []
            for scenario in truck.scenario:
                engine = float(engine_speeds(truck, scenario.engine)[0])
                work = plan_work(truck, scenario, engine, oil)
                wanted += [
                    (scenario.name, f.name, work)
                    for m, f in enumerate(solved_functions(truck))
                    if f.motor and (work.asked[:, m] > 0).all()
                ]
            found = starts_together(truck, [(name, work) for _, name, work in wanted])
            self._starts = {f.name: [] for f in truck.function}
            for (scenario_name, name, _), start in zip(wanted, found, strict=True):
                self._starts[name].append((scenario_name, start))
        return self._starts

    def need(self, scenario: Scenario) -> Need:
        """Pressure that a scenario's work needs, valves aside."""
        return self.pressures(self.solved(scenario).work)

    @property
    def pump(self) -> Pump:
        """The only pump."""
        if not self.truck.pump:
            raise MissingValue(["pump"])
        return self.truck.pump[0]

    def drive_of(self, pump: Pump) -> Drive:
        """What turns a pump."""
        return pump.drive if pump.drive is not None else self.truck.engine.drive

    def top_pump_speed(self, pump: Pump) -> float:
        """Highest speed of a pump [rad/s]."""
        position = self.truck.pump.index(pump)
        return float(top_speed(self.truck, position) * self.drive_of(pump).ratio)

    def full_flow(self, pump: Pump) -> float:
        """Theoretical flow at full displacement and the highest pump speed [m3/s]."""
        if pump.displacement is None:
            raise MissingValue([f"{pump.name}.displacement"])
        return float(pump.displacement) * self.top_pump_speed(pump)

    def reliefs_at(self, pump: Pump) -> list[Relief]:
        """Reliefs of a pump's circuit: at the pump, or at the inlet of a bank that it feeds."""
        return [
            r
            for r in self.truck.relief
            if (r.at == "pump" and r.of == pump.name)
            or (r.at == "bank inlet" and r.of in pump.feeds)
        ]

    def main_relief(self, pump: Pump) -> Relief:
        """The relief that opens first."""
        found = self.reliefs_at(pump)
        if not found:
            raise MissingValue([f"a [[relief]] at pump '{pump.name}'"])
        return min(found, key=cracking)

    def highest_pressure(self, pump: Pump) -> float:
        """Highest pressure at a pump [Pa]: its compensator, or the main relief's setting."""
        if pump.type != "fixed":
            if pump.compensator is None:
                raise MissingValue([f"{pump.name}.compensator"])
            return float(pump.compensator)
        relief = self.main_relief(pump)
        if relief.setting is None:
            raise MissingValue([f"{relief.name}.setting"])
        return float(relief.setting)

    def speed_at_flow(
        self, function: Function, flow: float, oil: Array, hopper: float = 1.0
    ) -> Array:
        """Speed of a motor's load shaft [rad/s], (N,), that a section flow [m3/s] turns.

        oil: temperatures [K], (N,); hopper: 1 full, 0 empty
        """
        points = Points.of(self.truck, np.zeros(oil.size), oil, hopper=hopper)
        return speed_at_flow(self.truck, function, flow, points)

    def fed_at_max(self, scenario: Scenario) -> Array:
        """Flow that each function gets at its maximum trim [m3/s], (M,), the others at their work.

        At the low end of the working band, or at the scenario's own speed where that is one; the
        most over the scenario's oil temperatures.
        """
        band = scenario.engine in ("working", "range")
        engine = engine_speeds(self.truck, "working" if band else scenario.engine)[0]
        work = self.grid(scenario, engine)
        functions, size = solved_functions(self.truck), work.points.size
        turn = np.repeat(np.arange(len(functions)), size)  # whose turn it is, by row
        points = work.points.take(np.tile(np.arange(size), len(functions)))
        row = np.arange(turn.size)
        asked = points.asked.copy()
        most = np.array([most_flow(f) for f in functions])[turn]
        asked[row, turn] = np.where(np.isfinite(most), most, asked[row, turn])
        result = self.solve(replace(points, asked=asked))
        fed: Array = result.flow[row, turn].reshape(-1, size).max(axis=1)
        return fed

    def return_flow(self, pump: Pump) -> float:
        """Greatest flow that the return line takes at work [m3/s].

        A fixed pump sends all its flow home, a controlled one what the scenarios take.
        """
        if pump.type == "fixed":
            return self.full_flow(pump)
        flows = [float(self.solved(s).result.return_flow.max()) for s in self.truck.scenario]
        return max(flows, default=0.0)

    def line(self, role: str, pump: Pump | None = None) -> Line:
        """The line of a role (of a pump, where several have one)."""
        for line in self.truck.lines:
            if line.carries == role and (pump is None or line.of in (None, pump.name)):
                return line
        raise MissingValue([f"lines.{role}"])

    def bore(self, line: Line) -> float:
        """A line's bore [m]."""
        if line.bore is None:
            raise MissingValue([f"lines.{line.name}.bore"])
        return float(line.bore)


def cracking(relief: Relief) -> float:
    """Cracking pressure of a relief [Pa]: as given, or by its type. Raises MissingValue."""
    if relief.cracking is not None:
        return float(relief.cracking)
    if relief.setting is None:
        raise MissingValue([f"{relief.name}.setting"])
    return float(valves.relief_cracking(float(relief.setting), relief.type))


def trim(function: Function, which: str) -> float:
    """A trim of a function, "min" or "max". Raises MissingValue."""
    value = getattr(function.trims, which)
    if value is None:
        raise MissingValue([f"{function.name}.trims.{which}"])
    return float(value)


def flow_at(function: Function, command: float) -> float:
    """Section flow that a command asks [m3/s]. Raises MissingValue."""
    return float(flow_of(function, command))


def commands_over(
    look: Inspection, function: Function, command: Array, oil: str
) -> tuple[Points, Result]:
    """A function alone at every command, both ends of the working band, and each oil of a word."""
    engine = engine_speeds(look.truck, "working")[[0, -1]]
    grid = np.meshgrid(command, engine, oil_temperatures(look.truck, oil), indexing="ij")
    commands, speeds, temperatures = (part.ravel() for part in grid)
    points = Points.of(look.truck, speeds, temperatures, command={function.name: commands})
    return points, look.solve(points)


def command_for(function: Function, flow: float) -> float:
    """Command that asks a section flow [m3/s]; inf where none does. Raises MissingValue."""
    return float(command_of(function, flow))
