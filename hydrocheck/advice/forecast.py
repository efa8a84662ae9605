"""What every hypothesis predicts for every reading: one vectorised solve.

All states times all hypotheses times all tolerance draws are operating points of one call of the
solver.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np

from hydrocheck.advice.patient import Patient
from hydrocheck.advice.states import Order, State, Usual
from hydrocheck.advice.variants import Variants, value_at
from hydrocheck.model.circuit import Function, Pump
from hydrocheck.model.truck import Truck
from hydrocheck.physics import lines, valves
from hydrocheck.physics.arrays import Array
from hydrocheck.solver import Points, Result, solve, solved_functions
from hydrocheck.solver.compile import compile_plant, section_curve
from hydrocheck.solver.fluid import fluid_at
from hydrocheck.solver.needs import Needs
from hydrocheck.studies.work import flow_for_speed

HELD = 1e6
"""Torque [N m] or, times `FORCE`, force [N] that stands for a shaft or cylinder at its stop."""
FORCE = 1e2
LEAST_SHARE = 0.02
"""What a worn outlet of a gear divider still passes of its share."""
CREEPING = 0.5
"""Load of a function that takes flow unasked / that of the truck file: what creeps seldom lifts all
that it can (ours)."""


@dataclass(frozen=True)
class Forecast:
    """The solved states: arrays of shape (S, B) with B = hypotheses times draws.

    command: effective command of each function [1], (S, B, M); shown: as displayed
    vacuum: at the pump inlet [Pa]
    """

    patient: Patient
    variants: Variants
    states: tuple[State, ...]
    truck: Truck
    points: Points
    result: Result
    command: Array
    shown: Array
    vacuum: Array

    @property
    def supply(self) -> Result:
        """The result of the pump that feeds the patient."""
        name = self.patient.pump.name
        return next((r for r in self.result.supplies if r.pumps == (name,)), self.result)

    @property
    def pump(self) -> Pump:
        """The pump that feeds the patient, with its values as arrays."""
        return _own_pump(self.patient, self.truck)

    def row(self, state: State) -> int:
        """The row of a state."""
        return self.states.index(state)

    def take(self, values: Array, state: State) -> Array:
        """The rows of one state of (S * B,) values, as (H, D)."""
        shape = (len(self.states), len(self.variants.hypotheses), self.variants.draws)
        taken: Array = values.reshape(shape)[self.row(state)]
        return taken

    def column(self, values: Array, state: State, function: str) -> Array:
        """One function's column of (S * B, M) values in one state, as (H, D)."""
        return self.take(values[:, self.result.column(function)], state)


def forecast(
    patient: Patient, table: Variants, states: Sequence[State], standard: Usual
) -> Forecast:
    """Solve every state under every hypothesis and draw. Raises as `solve` does."""
    plan = _Plan(patient, table, tuple(states), standard)
    truck = plan.circuit()
    points, command, shown = plan.points(truck)
    result = solve(truck, points)
    return Forecast(
        patient,
        table,
        plan.states,
        truck,
        points,
        result,
        command,
        shown,
        _vacuum(patient, truck, points, np.tile(table.add("vacuum"), len(plan.states))),
    )


@dataclass
class _Plan:
    patient: Patient
    table: Variants
    states: tuple[State, ...]
    standard: Usual

    @property
    def shape(self) -> tuple[int, int]:
        return len(self.states), self.table.size

    def spread(self, values: Array) -> Array:
        """(B,) values in every state, (S, B), fit to be written to."""
        return np.broadcast_to(values, self.shape).copy()

    def circuit(self) -> Truck:
        """The truck with every value that changes as an (S * B,) array."""
        truck = self.patient.truck
        values: dict[str, Array] = {}
        for path in self.table.paths:
            base = value_at(truck, path)
            if base is None:
                continue
            values[path] = self.spread(base * self.table.scale(path) + self.table.add(path))
        self._loads(values)
        self._creeping(values)
        self._stops(values)
        self._signal(values)
        self._starve(values)
        self._healthy_section(values)
        for path, value in values.items():
            truck = truck.vary(path, _bounded(path, value).reshape(-1))
        return self._divided(truck)

    def _divided(self, truck: Truck) -> Truck:
        """A worn outlet of a gear divider: what it passes less leaves by the other outlets."""
        left, bank = self.table.scale("divider"), self.patient.bank
        if bank is None or bank.type != "gear divider" or np.all(left == 1.0):
            return truck
        if len(bank.shares) < 2 or self.patient.name not in bank.order:
            return truck
        place = bank.order.index(self.patient.name)
        own = float(bank.shares[place])
        others = sum(bank.shares) - own
        kept = self.spread(np.maximum(left, LEAST_SHARE)).reshape(-1)
        shares = [(1.0 + (1.0 - kept) * own / others) * float(share) for share in bank.shares]
        shares[place] = own * kept
        # Arrays, as any scalar of a circuit may be.
        arrays = cast("tuple[float, ...]", tuple(shares))
        banks = tuple(
            dataclasses.replace(b, shares=arrays) if b.name == bank.name else b for b in truck.bank
        )
        return dataclasses.replace(truck, bank=banks)

    def _loads(self, values: dict[str, Array]) -> None:
        """Torque of the patient's load: its own, bearings' drag, gone when uncoupled, held."""
        truck = self.patient.truck
        load, drag = self.table.scale("load"), self.table.add("drag")
        gone = np.array([[float(state.test != "uncoupled")] for state in self.states])
        for motor in self.patient.motors:
            full = value_at(truck, f"{motor}.load.constant") or 0.0
            for which in ("load", "load_empty"):
                for part in ("constant", "linear", "square", "pressure"):
                    path = f"{motor}.{which}.{part}"
                    base = value_at(truck, path)
                    if base is None:
                        continue
                    extra = base if part == "pressure" else full if part == "constant" else 0.0
                    values[path] = base * load * gone + extra * drag
                    if part == "pressure":
                        values[path] = np.maximum(values[path], 1.0)

    def _creeping(self, values: dict[str, Array]) -> None:
        """The load of a cylinder that takes flow unasked."""
        taking = self.table.add("other") > 0.0
        if not taking.any():
            return
        truck, other = self.patient.truck, self.patient.other
        if truck.function_named(other).cylinder is None:
            return
        for key in ("extend_load", "retract_load"):
            path = f"{other}.cylinder.{key}"
            if (base := value_at(truck, path)) is not None:
                values[path] = self.spread(base * np.where(taking, CREEPING, 1.0))

    def _stops(self, values: dict[str, Array]) -> None:
        """Functions held at their stop: a load that nothing moves."""
        for i, state in enumerate(self.states):
            held = list(state.stop)
            if state.test in ("shaft held", "port blocked"):
                held.append(self.patient.name)
            for name in dict.fromkeys(held):
                for path, size in _holding(self.patient.truck.function_named(name)):
                    base = value_at(self.patient.truck, path) or 0.0
                    array = values.setdefault(path, self.spread(np.full(self.table.size, base)))
                    array[i] = size
            if state.test == "port blocked":
                self._plug(values, i)

    def _plug(self, values: dict[str, Array], row: int) -> None:
        """No oil passes the patient's blocked port: its motors do not slip, however worn."""
        truck = self.patient.truck
        for motor in self.patient.motors:
            tight = {"wear": 0.0, "volumetric_efficiency": 1.0}
            if value_at(truck, f"{motor}.derived_displacement") is not None:
                tight["derived_displacement"] = value_at(truck, f"{motor}.displacement") or 0.0
            for key, value in tight.items():
                path = f"{motor}.{key}"
                base = value_at(truck, path)
                if base is not None:
                    values.setdefault(path, self.spread(np.full(self.table.size, base)))[row] = (
                        value
                    )

    def _signal(self, values: dict[str, Array]) -> None:
        """A stuck shuttle loses the patient's load pressure, but not that of others."""
        lost = self.table.add("shuttle")
        if not lost.any():
            return
        path = f"{self.patient.pump.name}.ls_signal"
        array = values.setdefault(path, self.spread(np.ones(self.table.size)))
        healthy, own = self._healthy_loads()
        for i, state in enumerate(self.states):
            if state.order(self.patient.name) is None or state.test == "hoses swapped":
                continue
            others = np.delete(healthy[i], own).max(initial=0.0)
            share = 1.0 if state.stop else others / max(healthy[i, own], 1.0)
            array[i] *= np.maximum(1.0 - lost, min(share, 1.0))

    def _starve(self, values: dict[str, Array]) -> None:
        """A suction that lets so much flow follow and no more: the pump fills as far as that."""
        starve = self.table.add("starve")
        if not starve.any():
            return
        path = f"{self.patient.pump.name}.air"
        air = values.setdefault(path, self.spread(np.zeros(self.table.size)))
        cap = (1.0 - starve) * self.standard.engine / np.maximum(self.engine(), 1e-9)
        values[path] = np.where(starve > 0.0, 1.0 - (1.0 - air) * np.minimum(cap, 1.0), air)

    def engine(self) -> Array:
        """True engine speed [rad/s], (S, B)."""
        engine = np.empty(self.shape)
        for i, state in enumerate(self.states):
            believed = self.standard.engine if state.engine is None else state.engine
            engine[i] = believed * self.table.scale("tachometer")
            if state.engine is None:
                engine[i] *= self.table.scale("engine")
        return engine

    def _healthy_loads(self) -> tuple[Array, int]:
        """Work port pressure of each function in each state as the truck file says, (S, M)."""
        bare = Variants(self.table.hypotheses[:1], 1, {}, {})
        plan = _Plan(self.patient, bare, self.states, self.standard)
        plant = compile_plant(self.patient.truck, plan.points(self.patient.truck)[0])
        branches = {b.name: b for network in plant.networks for b in network.branches}
        names = [f.name for f in solved_functions(self.patient.truck)]
        loads = [
            np.where(b.asked > 0, b.climb(b.asked).pressure, 0.0)
            for b in (branches[name] for name in names)
        ]
        return np.stack(loads, axis=1), names.index(self.patient.name)

    def _healthy_section(self, values: dict[str, Array]) -> None:
        """A priority valve gives less; hoses moved to a healthy section leave the own spool behind.

        The orifice over which a priority valve holds its flow is in series with the section.
        """
        path, divider = f"{self.patient.name}.section.opening", self.table.scale("divider")
        if self.patient.bank is not None and self.patient.bank.type == "gear divider":
            divider = np.ones_like(divider)  # `_divided` gives its share
        if path not in values and np.all(divider == 1.0):
            return
        opening = values.setdefault(path, self.spread(np.ones(self.table.size)))
        for i, state in enumerate(self.states):
            if state.test == "hoses swapped":
                opening[i] = 1.0
        opening *= divider

    def points(self, truck: Truck) -> tuple[Points, Array, Array]:
        """The operating points, with effective and displayed commands, (S, B, M)."""
        functions = solved_functions(truck)
        table, standard = self.table, self.standard
        engine = self.engine()
        oil, hopper = (np.empty(self.shape) for _ in range(2))
        for i, state in enumerate(self.states):
            oil[i] = standard.oil if state.oil is None else state.oil
            if state.oil is None:
                oil[i] += table.add("oil temperature")
            hopper[i] = 1.0 if state.hopper == "full" else 0.0
        shown = np.zeros((*self.shape, len(functions)))
        for m, function in enumerate(functions):
            for i, state in enumerate(self.states):
                if (order := state.order(function.name)) is not None:
                    shown[i, :, m] = self._shown(function, order, state)
        command = shown.copy()
        own = [f.name for f in functions].index(self.patient.name)
        command[:, :, own] = self._reached(shown[:, :, own])
        base = Points.of(truck, engine.reshape(-1), oil.reshape(-1), hopper=hopper.reshape(-1))
        asked = np.full((engine.size, len(functions)), np.nan)
        self._closed_loops(truck, base, command, asked)
        self._taken(functions, asked)
        flat = command.reshape(-1, len(functions))
        points = dataclasses.replace(base, command=np.clip(flat, 0.0, 1.0), asked=asked)
        return points, flat, shown.reshape(-1, len(functions))

    def _shown(self, function: Function, order: Order, state: State) -> Array:
        """The command of a function before its coil, (B,)."""
        command = np.full(self.table.size, order.command)
        if function.name != self.patient.name:
            return command
        if state.test == "manual override":
            return np.ones(self.table.size)
        if order.told or state.test == "hoses swapped":
            return command
        dead = float(self.patient.function.section.deadband or 0.0)
        return np.where(command > dead, dead + (command - dead) * self.table.scale("trim"), command)

    def _reached(self, shown: Array) -> Array:
        """The patient's command after its coil, (S, B)."""
        limit = np.minimum(self.table.scale("coil"), self.table.scale("supply"))
        wired = np.minimum(shown, self.table.scale("supply"))
        tests = [state.test for state in self.states]
        made = np.minimum(shown, limit)
        for i, test in enumerate(tests):
            if test in ("manual override", "hoses swapped"):
                made[i] = shown[i]
            elif test == "coils swapped":
                made[i] = wired[i]
        return made

    def _closed_loops(self, truck: Truck, base: Points, command: Array, asked: Array) -> None:
        """A closed loop asks the flow of its ordered speed, up to what its maximum trim passes."""
        for m, function in enumerate(solved_functions(truck)):
            speeds = [s.order(function.name) for s in self.states]
            rows = [i for i, state in enumerate(self.states) if state.loop(function.name)]
            if not rows:
                continue
            top = 1.0 if function.trims.max is None else float(function.trims.max)
            limit = np.full(self.shape, top)
            read = np.ones(self.table.size)
            if function.name == self.patient.name:
                limit = self._reached(limit)
                read = 1.0 + self.table.add("sensor")
            needs = Needs(base.size)
            most = section_curve(function, limit.reshape(-1), needs).reshape(self.shape)
            needs.settle()
            for i in rows:
                order = speeds[i]
                assert order is not None
                true = np.tile(order.speed / read, len(self.states))
                flow = flow_for_speed(truck, function, m, true, base).reshape(self.shape)[i]
                asked.reshape(*self.shape, -1)[i, :, m] = np.minimum(flow, most[i])
                command[i, :, m] = limit[i]

    def _taken(self, functions: tuple[Function, ...], asked: Array) -> None:
        """Flow that another function takes unasked."""
        share = self.table.add("other")
        names = [f.name for f in functions]
        if not share.any() or self.patient.other not in names:
            return
        m = names.index(self.patient.other)
        flow = share * self.patient.full_flow(self.standard.engine)
        block = asked.reshape(*self.shape, -1)
        for i, state in enumerate(self.states):
            if self.patient.other not in state.stop:
                block[i, share > 0, m] = flow[share > 0]


def _holding(function: Function) -> list[tuple[str, float]]:
    """Values that hold a function at its stop."""
    if function.motor:
        paths = []
        for i, motor in enumerate(function.motor):
            path = f"{function.name}.motor"
            path = path if len(function.motor) == 1 else f"{path}[{i + 1}]"
            for which in ("load", "load_empty"):
                load = getattr(motor, which)
                if load is None:
                    continue
                if load.pressure is not None:
                    paths.append((f"{path}.{which}.pressure", HELD * 1e3))
                else:
                    paths.append((f"{path}.{which}.constant", HELD))
        return paths
    if function.cylinder is not None:
        return [
            (f"{function.name}.cylinder.{key}", HELD * FORCE)
            for key in ("extend_load", "retract_load")
            if getattr(function.cylinder, key) is not None
        ]
    return [(f"{function.name}.pressure", HELD * 1e3)]


_SHARES = ("opening", "command_limit", "ls_signal", "air", "weakness")


def _bounded(path: str, value: Array) -> Array:
    """Values kept to what the truck file would take."""
    last = path.rpartition(".")[2]
    if last.endswith("_efficiency"):
        return np.clip(value, 0.05, 0.999)
    if last in _SHARES or last == "deadband":
        return np.clip(value, 0.0, 0.98 if last in ("air", "weakness", "deadband") else 1.0)
    return np.maximum(value, 1e-12 if last not in ("wear", "constant", "linear", "square") else 0.0)


def _own_pump(patient: Patient, truck: Truck) -> Pump:
    """The pump that feeds the patient, with the values of a varied truck."""
    return next(one for one in truck.pump if one.name == patient.pump.name)


def _vacuum(patient: Patient, truck: Truck, points: Points, further: Array) -> Array:
    """Vacuum at the pump inlet [Pa], (N,), with the flow of full stroke."""
    pump = _own_pump(patient, truck)
    found = [
        line for line in truck.lines if line.carries == "suction" and line.of in (None, pump.name)
    ]
    line = found[0] if found else None
    if line is None or line.bore is None or line.length is None:
        return 6000.0 + further  # 1.8 inHg: a usual suction line, common practice
    fluid = fluid_at(truck, points.oil_temperature)
    ratio = (pump.drive or truck.engine.drive).ratio
    assert pump.displacement is not None
    assert ratio is not None
    flow = np.asarray(pump.displacement * points.engine_speed * ratio)
    drop = lines.pressure_drop(
        flow, line.bore, line.length, line.roughness, line.loss_factor, fluid.density,
        fluid.viscosity,
    )  # fmt: skip
    head = lines.head_pressure(line.head, fluid.density)
    return np.clip(np.asarray(drop) - np.asarray(head) + further, 0.0, 9.6e4)


def command_for_speed(made: Forecast, speed: float | Array) -> Array:
    """Command at which the patient turns at a speed [1], (S * B,), whatever its trims.

    speed: [rad/s], a float or (S * B,)
    """
    function = made.truck.function_named(made.patient.name)
    section = function.section
    place = made.result.column(function.name)
    flow = flow_for_speed(made.truck, function, place, speed, made.points)
    opening = np.maximum(np.asarray(section.opening), 1e-6)
    if section.curve:
        commands, flows = (np.array(part) for part in zip(*section.curve, strict=True))
        return np.asarray(np.interp(flow / opening, flows, commands))
    rated = section.rated_flow if section.rated_flow is not None else function.flow
    assert rated is not None
    assert section.deadband is not None
    command = valves.command_for_flow(
        flow / opening, section.deadband, section.full_command, rated, section.shape
    )
    return np.asarray(np.minimum(np.asarray(command), 1.0))
