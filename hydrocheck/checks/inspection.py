"""The truck under inspection and the solves that several checks share, each done once."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Drive, Function, Line, Pump, Relief
from hydrocheck.model.truck import Scenario
from hydrocheck.physics import valves
from hydrocheck.solver import Points, Result, solve, solved_functions
from hydrocheck.solver.compile import section_curve
from hydrocheck.solver.fluid import fluid_at
from hydrocheck.solver.needs import Needs
from hydrocheck.solver.stages import function_stages
from hydrocheck.studies.budget import least_engine_speed
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures, top_speed
from hydrocheck.studies.pressure import Need, needed_pressure
from hydrocheck.studies.work import Solved, most_flow, plan_work, solve_work

Array = NDArray[np.float64]

WARMING_STEPS = 25
"""Oil temperatures from cold to working at which a scenario is solved."""


class Inspection:
    """A truck with cached answers. Every method raises MissingValue for what the file lacks."""

    def __init__(self, truck: Truck) -> None:
        self.truck = truck
        self._solved: dict[tuple[str, str], Solved] = {}
        self._least: dict[tuple[Scenario, float], float | None] = {}
        self._needs: dict[str, Need] = {}
        self._at_max: dict[str, Result] = {}
        self._fed: dict[str, Array] = {}

    def solved(self, scenario: Scenario) -> Solved:
        """A scenario at its own engine speeds and oil temperatures."""
        key = (scenario.name, "own")
        if key not in self._solved:
            self._solved[key] = solve_work(self.truck, plan_work(self.truck, scenario))
        return self._solved[key]

    def solved_at_idle(self, scenario: Scenario) -> Solved:
        """A scenario at idle, at its own oil temperatures."""
        key = (scenario.name, "idle")
        if key not in self._solved:
            idle = engine_speeds(self.truck, "idle")
            self._solved[key] = solve_work(self.truck, plan_work(self.truck, scenario, idle))
        return self._solved[key]

    def least_engine_speed(self, scenario: Scenario, oil: float) -> float | None:
        """Lowest engine speed that meets a scenario's demand [rad/s], at an oil temperature [K]."""
        key = (scenario, oil)
        if key not in self._least:
            self._least[key] = least_engine_speed(self.truck, scenario, oil)
        return self._least[key]

    def need(self, scenario: Scenario) -> Need:
        """Pressure that a scenario's work needs, valves aside."""
        if scenario.name not in self._needs:
            self._needs[scenario.name] = needed_pressure(self.truck, self.solved(scenario).work)
        return self._needs[scenario.name]

    def at_max_trim(self, function: Function) -> Result:
        """A function alone at its maximum trim, hopper empty: all engine and oil states."""
        if function.name not in self._at_max:
            if function.trims.max is None:
                raise MissingValue([f"{function.name}.trims.max"])
            engine = engine_speeds(self.truck, "range")
            oil = oil_temperatures(self.truck, "range")
            speeds, temperatures = (g.ravel() for g in np.meshgrid(engine, oil, indexing="ij"))
            points = Points.of(
                self.truck,
                speeds,
                temperatures,
                command={function.name: function.trims.max},
                hopper=0.0,
            )
            self._at_max[function.name] = solve(self.truck, points)
        return self._at_max[function.name]

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
        needs = Needs(points.size)
        fluid = fluid_at(self.truck, oil, needs)
        place = solved_functions(self.truck).index(function)
        stage = function_stages(function, place, points, fluid, needs)[0]
        needs.settle()
        speed: Array = stage.state(np.full(oil.size, flow))[0] / stage.gear_ratio
        return speed

    def over_oil(self, scenario: Scenario) -> Solved:
        """A scenario at both ends of its engine speeds, with oil from cold to working, and hot."""
        key = (scenario.name, "oil")
        if key not in self._solved:
            cold, warm, hot = (
                float(oil_temperatures(self.truck, word)[0]) for word in ("cold", "working", "hot")
            )
            speeds = engine_speeds(self.truck, scenario.engine)[[0, -1]]
            oil = np.append(np.linspace(cold, warm, WARMING_STEPS), hot)
            self._solved[key] = solve_work(self.truck, plan_work(self.truck, scenario, speeds, oil))
        return self._solved[key]

    def fed_at_max(self, scenario: Scenario) -> Array:
        """Flow that each function gets at its maximum trim [m3/s], (M,), the others at their work.

        At the low end of the working band, or at the scenario's own speed where that is one; the
        most over the scenario's oil temperatures.
        """
        if scenario.name not in self._fed:
            band = scenario.engine in ("working", "range")
            engine = engine_speeds(self.truck, "working" if band else scenario.engine)[0]
            work = plan_work(self.truck, scenario, engine)
            functions, size = solved_functions(self.truck), work.points.size
            turn = np.repeat(np.arange(len(functions)), size)  # whose turn it is, by row
            points = work.points.take(np.tile(np.arange(size), len(functions)))
            row = np.arange(turn.size)
            asked = points.asked.copy()
            most = np.array([most_flow(f) for f in functions])[turn]
            asked[row, turn] = np.where(np.isfinite(most), most, asked[row, turn])
            result = solve(self.truck, replace(points, asked=asked))
            self._fed[scenario.name] = result.flow[row, turn].reshape(-1, size).max(axis=1)
        return self._fed[scenario.name]

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
    needs = Needs()
    flow = section_curve(function, np.array([command]), needs)
    needs.settle()
    return float(flow[0])


def command_for(function: Function, flow: float) -> float:
    """Command that asks a section flow [m3/s]; inf where none does. Raises MissingValue."""
    section = function.section
    if section.curve:
        commands, flows = np.array(section.curve).T
        rising = np.maximum.accumulate(flows)
        return float(np.interp(flow, rising, commands)) if flow <= flows.max() else np.inf
    needs = Needs()
    key = f"{function.name}.section"
    deadband, rated = needs(section, "deadband", key), needs(section, "rated_flow", key)
    needs.settle()
    return float(
        valves.command_for_flow(flow, deadband, section.full_command, rated, section.shape)
    )
