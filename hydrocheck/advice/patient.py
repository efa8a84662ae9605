"""The function under diagnosis, and the parts of the circuit that it depends on, by their paths."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from hydrocheck.errors import DomainError, HydrocheckError, MissingValue
from hydrocheck.model.circuit import Bank, Function, Load, Motor, Pump, ViscosityPoint
from hydrocheck.model.truck import Truck
from hydrocheck.physics.arrays import Array
from hydrocheck.solver import solved_functions
from hydrocheck.solver.feederload import feeder_torque
from hydrocheck.solver.fluid import fluid_at
from hydrocheck.solver.needs import Needs
from hydrocheck.solver.pipes import compile_pipes
from hydrocheck.studies.trims import reference_trims

Knob = tuple[str, str]
"""`scale` or `add`, and the path of a value of the circuit, or a word of `WORDS`."""

WORDS: Mapping[str, str] = {
    "engine": "true engine speed / the speed at which it is believed to run",
    "tachometer": "true engine speed / the speed that the tachometer shows",
    "sensor": "what the shaft-speed sensor shows / true speed, less 1",
    "trim": "command beyond the deadband / the command that the trims should give",
    "coil": "highest command that the coil itself reaches",
    "voltage": "supply voltage at the coil / as it should be",
    "supply": "highest command that the supply voltage lets the coil reach",
    "shuttle": "share of its own load pressure that the function's LS shuttle or bleed loses",
    "load": "torque of the load / as it should be; gone when uncoupled",
    "drag": "further torque of bearings or gearbox / torque of the load; stays when uncoupled",
    "other": "flow that another function takes unasked / full flow of the pump",
    "oil temperature": "true oil temperature less the one taken [K]",
    "divider": "flow that a flow divider or priority valve gives the function / as it should",
    "starve": "share of the pump's flow at the usual engine speed that cannot follow: a fixed cap",
    "vacuum": "further vacuum at the pump inlet [Pa]",
}
"""Knobs that are no value of the circuit: each changes how an operating point is set up or read."""


USUAL_PRESSURE = 17e6
"""Highest pump pressure taken where nothing limits it [Pa]: common practice, about 2500 psi."""


@dataclass(frozen=True)
class Patient:
    """A function with what it depends on.

    supply, back: names of its own work lines; pressure, returns: of the common lines
    reliefs, port_reliefs: names
    other: another function that moves oil, if there is one: rather one that is idle at work
    """

    truck: Truck
    function: Function
    pump: Pump
    supply: tuple[str, ...] = ()
    back: tuple[str, ...] = ()
    pressure: tuple[str, ...] = ()
    returns: tuple[str, ...] = ()
    reliefs: tuple[str, ...] = ()
    port_reliefs: tuple[str, ...] = ()
    other: str = ""
    assumed: frozenset[str] = field(default_factory=frozenset)
    """Paths of values that nobody gave: they are varied further."""

    @property
    def name(self) -> str:
        """Name of the function."""
        return self.function.name

    @property
    def motors(self) -> tuple[str, ...]:
        """Paths of its motors."""
        if len(self.function.motor) == 1:
            return (f"{self.name}.motor",)
        return tuple(f"{self.name}.motor[{i + 1}]" for i in range(len(self.function.motor)))

    @property
    def bank(self) -> Bank | None:
        """The bank that feeds the function."""
        return next((b for b in self.truck.bank if b.name == self.function.bank), None)

    @cached_property
    def healthy_trims(self) -> tuple[float, float]:
        """Minimum and maximum trim of a healthy truck [1], nan where they cannot be predicted."""
        try:
            return reference_trims(self.truck, self.name)
        except HydrocheckError:
            return np.nan, np.nan

    @property
    def highest_pressure(self) -> float:
        """Highest pressure that the pump sees [Pa]: the least of its compensator and reliefs."""
        settings = [self.pump.compensator if self.pump.type != "fixed" else None]
        settings += [r.setting for r in self.truck.relief if r.name in self.reliefs]
        known = [float(s) for s in settings if s is not None]
        return min(known, default=USUAL_PRESSURE)

    def full_flow(self, engine: float) -> float:
        """Flow of the pump at an engine speed [m3/s], without slip."""
        drive = self.pump.drive or self.truck.engine.drive
        ratio = float(np.mean(np.asarray(drive.ratio)))
        return float(self.pump.displacement or 0.0) * engine * ratio

    def line_drop(self, names: Sequence[str], flow: float, oil: float) -> float:
        """Drop of lines in series, as the truck file has them [Pa]. Raises MissingValue.

        flow: [m3/s]; oil: temperature [K]
        """
        needs = Needs()
        fluid = fluid_at(self.truck, np.array([oil]), needs)
        pipes = compile_pipes(
            [line for line in self.truck.lines if line.name in names], fluid, needs
        )
        needs.settle()
        return float(pipes.drop(np.array([flow]))[0][0])


def patient_of(truck: Truck, wanted: str, assumed: frozenset[str] = frozenset()) -> Patient:
    """The patient of that name, or without a name the first feeder, else the first motor function.

    Raises DomainError, MissingValue.
    """
    if not truck.pump:
        raise MissingValue(["pump"])
    truck = _plain(truck)
    functions = [f for f in solved_functions(truck) if f.motor]
    if not functions:
        raise MissingValue(["a [[function]] with a motor"])
    feeders = [f for f in functions if f.kind == "feeder"]
    function = truck.function_named(wanted) if wanted else (feeders or functions)[0]
    if function not in functions:
        raise DomainError(f"{function.name}: is not turned by oil, so there is nothing to diagnose")
    pump = next((p for p in truck.pump if function.bank in p.feeds), truck.pump[0])
    own = {None, pump.name, *pump.feeds}
    carries = {line.name: (line.carries, line.of) for line in truck.lines}
    others = [f for f in solved_functions(truck) if f.name != function.name]
    others.sort(key=lambda f: (f.name in _at_work(truck, function), -rated_flow(f)))
    return Patient(
        truck,
        function,
        pump,
        supply=tuple(n for n, c in carries.items() if c == ("work supply", function.name)),
        back=tuple(n for n, c in carries.items() if c == ("work return", function.name)),
        pressure=tuple(n for n, (c, of) in carries.items() if c == "pressure" and of in own),
        returns=tuple(n for n, (c, _) in carries.items() if c == "return"),
        reliefs=tuple(
            r.name for r in truck.relief if r.at in ("pump", "bank inlet") and r.of in own
        ),
        port_reliefs=tuple(
            r.name for r in truck.relief if r.at == "port" and r.of == function.name
        ),
        other=others[0].name if others else "",
        assumed=assumed,
    )


def rated_flow(function: Function) -> float:
    """Flow of a function at full command [m3/s], 0 where nothing tells."""
    return float(function.section.rated_flow or function.flow or 0.0)


def _at_work(truck: Truck, function: Function) -> frozenset[str]:
    """What runs in the first scenario in which a function does: of an idle one a leak is unseen."""
    for scenario in truck.scenario:
        names = frozenset(task.name for task in scenario.run)
        if function.name in names:
            return names
    return frozenset()


def _plain(truck: Truck) -> Truck:
    """The same truck with its oil as two points and its loads as torques, fit to be scaled."""
    if not truck.oil.point and truck.oil.grade is not None:
        temperatures = np.array([313.15, 373.15])
        viscosities = fluid_at(truck, temperatures).viscosity
        points = tuple(
            ViscosityPoint(temperature=float(t), viscosity=float(v))
            for t, v in zip(temperatures, viscosities, strict=True)
        )
        truck = dataclasses.replace(truck, oil=dataclasses.replace(truck.oil, point=points))
    functions = []
    for function in truck.function:
        motors = tuple(
            dataclasses.replace(m, load=_torque(m.load, m), load_empty=_torque(m.load_empty, m))
            for m in function.motor
        )
        functions.append(dataclasses.replace(function, motor=motors))
    return dataclasses.replace(truck, function=tuple(functions))


def _torque(load: Load | None, motor: Motor) -> Load | None:
    """A load that a model or a working pressure describes, as its torque."""
    if load is None:
        return None
    if load.pressure is not None and motor.displacement is not None:
        gears = float(motor.gearbox_ratio) * float(motor.gearbox_efficiency)
        share = float(motor.hydromechanical_efficiency or 1.0)
        torque = float(load.pressure) * float(motor.displacement) * share * gears
        return dataclasses.replace(load, constant=torque, pressure=None)
    if load.hopper is None and load.screw is None:
        return load
    needs = Needs()
    modelled = feeder_torque(load, "load", needs)
    needs.settle()
    assert modelled is not None
    return dataclasses.replace(load, constant=float(modelled[0]), hopper=None, screw=None)


Changes = Mapping[Knob, Array]
