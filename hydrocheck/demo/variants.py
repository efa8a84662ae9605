"""Demo trucks with one part fitted otherwise: for what no demo truck has as it stands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from hydrocheck.demo import load
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Bank, Function, Line, Relief
from hydrocheck.model.machines import LiquidPump
from hydrocheck.model.truck import Link
from hydrocheck.units import parse


@dataclass(frozen=True)
class Variant:
    """A demo truck and what is done to it."""

    demo: str
    about: str
    change: Callable[[Truck], Truck]

    def load(self) -> Truck:
        """The truck so fitted."""
        return self.change(load(self.demo))


def with_function(truck: Truck, function: Function) -> Truck:
    """A truck with the function of that name replaced."""
    return replace(
        truck, function=tuple(function if f.name == function.name else f for f in truck.function)
    )


def in_series(truck: Truck) -> Truck:
    """The auger driven by two motors in series, each with half of the load."""
    auger = truck.function_named("auger")
    motor = auger.motor[0]
    assert motor.load is not None
    half = replace(motor.load, constant=0.5 * (motor.load.constant or 0.0))
    pair = tuple(replace(motor, name=name, load=half) for name in ("first", "second"))
    return with_function(truck, replace(auger, motor=pair))


def with_port_relief(truck: Truck) -> Truck:
    """A relief at the plow's port."""
    relief = Relief(
        name="plow relief",
        at="port",
        of="plow",
        setting=parse("2400 psi", "pressure"),
        rated_flow=parse("8 gpm", "flow"),
    )
    return replace(truck, relief=(*truck.relief, relief))


def closed_loop(truck: Truck) -> Truck:
    """The auger with a shaft-speed sensor."""
    return with_function(truck, replace(truck.function_named("auger"), loop="closed"))


def linked(truck: Truck) -> Truck:
    """The liquid pump linked to the auger, asked for by no scenario."""
    scenarios = tuple(
        replace(s, run=tuple(t for t in s.run if t.name != "liquid")) for s in truck.scenario
    )
    link = Link(function="liquid", follows="auger")
    return replace(truck, scenario=scenarios, link=(link,))


def divided(truck: Truck) -> Truck:
    """Auger and spinner behind a gear divider of equal sections."""
    divider = Bank(name="divider", type="gear divider", shares=(1.0, 1.0))
    truck = replace(truck, bank=(*truck.bank, divider))
    for name in ("auger", "spinner"):
        truck = with_function(truck, replace(truck.function_named(name), bank="divider"))
    return truck


def sprayed(truck: Truck) -> Truck:
    """The liquid pump with its nozzles as the load of its motor."""
    liquid = truck.function_named("liquid")
    pump = LiquidPump(
        displacement=parse("0.24 in^3/rev", "displacement"),
        volumetric_efficiency=0.9,
        hydromechanical_efficiency=0.85,
        nozzle_flow=parse("0.25 gpm", "flow"),
        nozzle_pressure=parse("40 psi", "pressure"),
        nozzles=4,
        max_pressure=parse("100 psi", "pressure"),
    )
    motors = tuple(replace(motor, load=None) for motor in liquid.motor)
    return with_function(truck, replace(liquid, liquid_pump=pump, motor=motors))


def drained(truck: Truck) -> Truck:
    """The auger's motor with a case drain line of its own."""
    auger = truck.function_named("auger")
    motors = tuple(replace(motor, case_drain=True) for motor in auger.motor)
    line = Line(
        name="auger_drain",
        role="case drain",
        of="auger",
        bore=parse("1/2 in", "length"),
        length=parse("22 ft", "length"),
    )
    truck = with_function(truck, replace(auger, motor=motors))
    return replace(truck, lines=(*truck.lines, line))


def unrated(truck: Truck) -> Truck:
    """A pump whose maker's speeds are not known."""
    pumps = tuple(replace(pump, min_speed=None, max_speed=None) for pump in truck.pump)
    return replace(truck, pump=pumps)


def boosted(truck: Truck) -> Truck:
    """The auger's command with a short boost after a full stop."""
    auger = truck.function_named("auger")
    assert auger.section.coil is not None
    coil = replace(
        auger.section.coil, boost=parse("12 %", "fraction"), boost_time=parse("0.3 s", "time")
    )
    return with_function(truck, replace(auger, section=replace(auger.section, coil=coil)))


_PORT = Variant("tandem", "with a relief at the plow's port", with_port_relief)

VARIANTS = {
    "port-relief-work": _PORT,
    "port-relief-main": _PORT,
    "liquid-pump-pressure": Variant("tandem", "with its nozzles at the liquid pump", sprayed),
    "case-pressure": Variant("tandem", "with a case drain line at the auger", drained),
    "pump-speed-build": Variant("conveyor", "without the pump maker's speeds", unrated),
    "series-seal-pressure": Variant("tandem", "with two auger motors in series", in_series),
    "boost-duration": Variant("tandem", "with a short boost of the auger's command", boosted),
    "closed-loop-reach": Variant("tandem", "with a sensor at the auger shaft", closed_loop),
    "linked-minimum": Variant("tandem", "with the liquid linked to the auger", linked),
    "divider-intensification": Variant(
        "tandem", "with auger and spinner behind a gear divider", divided
    ),
}
"""By the check that they are an example for."""
