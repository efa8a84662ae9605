"""Plain trucks whose heat is known by hand, for the tests of oil temperature."""

from __future__ import annotations

from dataclasses import replace
from math import pi
from typing import Any

from hydrocheck.model.circuit import (
    Ambient,
    Bank,
    Drive,
    Engine,
    Function,
    Line,
    Oil,
    Pump,
    Relief,
    Reservoir,
    Section,
    ViscosityPoint,
)
from hydrocheck.model.truck import About, Scenario, Task, Truck
from hydrocheck.studies.thermal import Part

PSI, INCH, FOOT = 6894.757293168361, 0.0254, 0.3048
GPM = 231 * INCH**3 / 60
HP, RPM = 745.6998715822702, pi / 30
SPEED = 100.0  # of engine and pump [rad/s]


def celsius(value: float) -> float:
    return value + 273.15


def fahrenheit(value: float) -> float:
    return (value + 459.67) / 1.8


def plain_truck(flow: float, setting: float, **pump: Any) -> Truck:
    """A pump of a flow [m3/s] without losses, and a relief that passes it at its setting [Pa]."""
    base: dict[str, Any] = {
        "name": "pump",
        "type": "fixed",
        "feeds": ("bank",),
        "displacement": flow / SPEED,
        "rated_speed": SPEED,
        "rated_pressure": setting,
        "volumetric_efficiency": 1.0,
        "hydromechanical_efficiency": 1.0,
    }
    return Truck(
        truck=About(name="plain"),
        engine=Engine(drive=Drive()),
        oil=Oil(
            point=(
                ViscosityPoint(temperature=celsius(40.0), viscosity=32e-6),
                ViscosityPoint(temperature=celsius(100.0), viscosity=6e-6),
            )
        ),
        ambient=Ambient(coldest=celsius(-10.0), hottest=celsius(20.0)),
        pump=(Pump(**(base | pump)),),
        bank=(Bank(name="bank", type="parallel", section_drop=1e5),),
        relief=(
            Relief(
                name="relief", at="pump", of="pump", setting=setting, cracking=0.9 * setting,
                rated_flow=flow,
            ),
        ),
        reservoir=Reservoir(volume=0.1, area=2.0, heat_transfer=11.0),
    )  # fmt: skip


def with_work(truck: Truck, flow: float, pressure: float, *lines: Line) -> tuple[Truck, Scenario]:
    """The truck with one function that asks a flow [m3/s] against a pressure [Pa]."""
    function = Function(
        name="work", kind="other", bank="bank", section=Section(), flow=flow, pressure=pressure
    )
    return replace(truck, function=(function,), lines=lines), Scenario(
        name="work", run=(Task(name="work", flow=flow),)
    )


def always(scenario: Scenario | None = None, share: Any = 1.0) -> tuple[Part, ...]:
    """One scenario (or nothing) at the speed of the plain trucks."""
    return (Part(scenario or Scenario(name="standby"), share, SPEED),)
