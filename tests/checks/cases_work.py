"""Trucks that the checks of travel, coils, seals, work lines, tank and orders find fault with."""

from __future__ import annotations

from dataclasses import replace
from math import pi

from hydrocheck.checks import REGISTRY
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Coupling, Relief
from tests.checks.casekit import (
    CONVEYOR,
    FOOT_POUND,
    INCH,
    MISTAKES,
    PSI,
    RPM,
    SINGLE,
    TANDEM,
    Case,
    Cure,
    fahrenheit,
    put,
    sets,
    work_from,
)

GPM, POUND, MPH, GALLON = 3.785411784e-3 / 60, 0.45359237, 0.44704, 3.785411784e-3
LANE = POUND / 1609.344
AUGER_COIL = "function.auger.section.coil"


def only(path: str) -> Cure:
    """The number as the only one of a list."""
    return lambda truck, number: put(truck, path, (number,))


def fastest(truck: Truck, number: float) -> Truck:
    """The number as the greatest road speed."""
    slower = (s for s in truck.spreading.road_speeds if s < number)
    return put(truck, "spreading.road_speeds", (*slower, number))  # type: ignore[no-any-return]  # a truck as before


def in_full_discharge(truck: Truck, speed: float) -> Truck:
    return put(truck, "full_discharge.engine", speed)  # type: ignore[no-any-return]  # a truck as before


def stronger(truck: Truck, torque: float) -> Truck:
    """An engine that gives a torque at every speed."""
    curve = tuple((speed, torque) for speed, _ in truck.engine.torque_curve)
    return put(truck, "engine.torque_curve", curve)  # type: ignore[no-any-return]  # a truck as before


def port_relief(truck: Truck, function: str, setting: float) -> Truck:
    """A relief at a function's port."""
    relief = Relief(
        name=f"{function} port", at="port", of=function, setting=setting, rated_flow=10 * GPM
    )
    others = tuple(r for r in truck.relief if r.name != relief.name)
    return replace(truck, relief=(*others, relief))


def relieved(function: str) -> Cure:
    return lambda truck, setting: port_relief(truck, function, setting)


def without_scenario(truck: Truck, name: str) -> Truck:
    return replace(truck, scenario=tuple(s for s in truck.scenario if s.name != name))


def in_series(truck: Truck) -> Truck:
    """The auger's motor twice, one behind the other, each with half of the load."""
    motor = truck.function_named("auger").motor[0]
    assert motor.load is not None
    half = replace(motor.load, constant=float(motor.load.constant or 0) / 2)
    pair = tuple(replace(motor, name=n, load=half) for n in ("first", "second"))
    return put(truck, "function.auger.motor", pair)  # type: ignore[no-any-return]  # a truck as before


LIFT_ALONE = without_scenario(TANDEM, "spreading, plow lifted")
SLOW_LIFT = work_from(LIFT_ALONE, 950 * RPM)
SERIES = in_series(TANDEM)
PLOW_PORT = port_relief(TANDEM, "plow", 1200 * PSI)
NEAR_MAIN = port_relief(TANDEM, "plow", 3050 * PSI)
THIN_HOSE = put(TANDEM, "lines.auger_supply.bore", 0.25 * INCH)
DUTY = put(TANDEM, f"{AUGER_COIL}.drive", "duty")
FINE_MESH = "lines.return.filter"
NO_MAKER = put(put(CONVEYOR, "pump.pump.max_speed", None), "pump.pump.min_speed", None)
HIGHER = put(TANDEM, "pump.pump.compensator", 3600 * PSI)
SANDING = put(TANDEM, "spreading.material", "washed sand")

BAD = [
    Case("least-rate", "auger", TANDEM, "caution",
         {"rate": only("spreading.rates"), "command": sets("function.auger.trims.min")}),
    Case("greatest-rate", "auger", put(TANDEM, "function.auger.trims.max", 0.50), "fail",
         {"speed": fastest, "command": sets("function.auger.trims.max")}),
    Case("dead-travel", "spinner", MISTAKES, "caution",
         {"command": sets("function.spinner.trims.max")}),
    Case("spinner-setting-up", "spinner", MISTAKES, "caution", {"engine": work_from}),
    Case("full-discharge", "full discharge", TANDEM, "caution", {"engine": in_full_discharge}),
    Case("full-discharge", "full discharge",
         put(TANDEM, "pump.pump.displacement", 1.5 * INCH**3 / (2 * pi)), "fail",
         {"engine": in_full_discharge}),
    Case("cylinder-while-spreading", "plow", SLOW_LIFT, "caution",
         {"engine": work_from, "time": sets("function.plow.cylinder.extend_time")}),
    Case("coil-current", "auger", put(TANDEM, f"{AUGER_COIL}.resistance", 9.0), "fail",
         {"resistance": sets(f"{AUGER_COIL}.resistance")}),
    Case("coil-drift", "auger", DUTY, "caution"),
    Case("drive-frequency", "auger", put(TANDEM, f"{AUGER_COIL}.frequency", 40.0), "caution",
         {"low": sets(f"{AUGER_COIL}.frequency"), "high": sets(f"{AUGER_COIL}.frequency")}),
    Case("drive-frequency", "auger", put(TANDEM, f"{AUGER_COIL}.frequency", 2000.0), "caution",
         {"low": sets(f"{AUGER_COIL}.frequency"), "high": sets(f"{AUGER_COIL}.frequency")}),
    Case("standby-pressure", "pump", put(TANDEM, "pump.pump.standby", 200 * PSI), "caution",
         {"p": sets("pump.pump.standby")}),
    Case("standby-margin", "pump", put(TANDEM, "pump.pump.standby", 250 * PSI), "caution",
         {"high": sets("pump.pump.standby"), "low": sets("pump.pump.margin")}),
    Case("highest-pressure", "pump", HIGHER, "caution", {"p": sets("pump.pump.compensator")}),
    Case("highest-pressure", "pump", put(SINGLE, "relief.main relief.setting", 3600 * PSI),
         "caution", {"p": sets("relief.main relief.setting")}),
    Case("port-relief-work", "plow port", PLOW_PORT, "fail",
         {"setting": sets("relief.plow port.setting")}),
    Case("port-relief-main", "plow port", NEAR_MAIN, "caution",
         {"high": sets("relief.plow port.setting"), "low": sets("relief.plow port.setting")}),
    Case("rod-side-intensification", "plow", TANDEM, "caution", {"p": relieved("plow")}),
    Case("series-seal-pressure", "auger first", SERIES, "fail",
         {"p": sets("function.auger.motor.first.max_back_pressure")}),
    Case("series-seal-pressure", "auger first",
         put(SERIES, "function.auger.motor.first.max_back_pressure", None), "caution",
         {"p": sets("function.auger.motor.first.max_back_pressure")}),
    Case("seal-pressure", "auger", put(TANDEM, "function.auger.motor.0.max_back_pressure",
                                       5 * PSI), "fail",
         {"p": sets("function.auger.motor.0.max_back_pressure")}),
    Case("seal-pressure", "liquid", TANDEM, "caution", {"warm": sets("oil.cold")}),
    Case("drive-drop-out", "pump", put(SINGLE, "engine.drive.engaged_to", None), "caution",
         {"engine": sets("engine.drive.engaged_to")}),
    Case("drive-drop-out", "pump", put(SINGLE, "engine.drive.engaged_to", 2400 * RPM), "caution",
         {"engine": sets("engine.drive.engaged_to")}),
    Case("pump-speed-build", "pump", NO_MAKER, "caution",
         {"engine": sets("engine.drive.engaged_to")}),
    Case("pump-speed-build", "pump", put(NO_MAKER, "engine.idle", 550 * RPM), "caution",
         {"engine": sets("engine.drive.engaged_to")}, {"engine": "caution"}),
    Case("pump-speed-build", "pump",
         put(put(TANDEM, "pump.pump.min_speed", None), "engine.idle", 550 * RPM), "caution",
         {"idle": sets("engine.idle")}),
    Case("engine-torque", "dump", stronger(TANDEM, 150 * FOOT_POUND), "caution",
         {"torque": stronger}),
    Case("engine-torque", "dump", stronger(TANDEM, 100 * FOOT_POUND), "fail",
         {"torque": stronger}),
    Case("circulation-heat", "pump", SINGLE.vary("reservoir.cooler", 0.0), "caution",
         {"area": sets("reservoir.area")}),
    Case("work-line-velocity", "auger_supply line",
         put(TANDEM, "lines.auger_supply.bore", 0.25 * INCH), "fail",
         {"bore": sets("lines.auger_supply.bore")}),
    Case("coupling-drop", "auger_supply line",
         put(TANDEM, "lines.auger_supply.coupling",
             (Coupling(rated_flow=5 * GPM, rated_drop=20 * PSI),)), "caution",
         {"drop": sets("lines.auger_supply.coupling.0.rated_drop")}),
    Case("line-loss", "spreading", THIN_HOSE, "caution",
         {"bore": sets("lines.auger_supply.bore")}),
    Case("filter-clean-drop", "return filter", put(TANDEM, f"{FINE_MESH}.rated_flow", 4 * GPM),
         "caution", {"flow": sets(f"{FINE_MESH}.rated_flow")}),
    Case("filter-bypass", "return filter", put(TANDEM, f"{FINE_MESH}.rated_flow", 6 * GPM),
         "caution", {"flow": sets(f"{FINE_MESH}.rated_flow")}),
    Case("filter-fineness", "return filter", put(TANDEM, f"{FINE_MESH}.fineness", 40e-6),
         "caution", {"fine": sets(f"{FINE_MESH}.fineness")}),
    Case("tank-dwell", "tank", put(TANDEM, "reservoir.volume", 20 * GALLON), "caution",
         {"volume": sets("reservoir.volume")}),
    Case("tank-swing", "tank", put(TANDEM, "reservoir.volume", 8 * GALLON), "fail",
         {"volume": sets("reservoir.volume")}),
    Case("viscosity-at-work", "spreading", put(TANDEM, "oil.working", fahrenheit(155)), "caution",
         {"cool": sets("oil.working")}),
    Case("viscosity-at-work", "spreading", put(TANDEM, "oil.working", fahrenheit(40)), "caution",
         {"warm": sets("oil.working")}),
    Case("warm-up", "oil", TANDEM, "caution", {"warm": sets("oil.cold")}),
    Case("rate-band", "orders", put(SANDING, "scenario", ()), "caution",
         {"low": only("spreading.rates"), "high": only("spreading.rates")}),
    Case("rate-band", "orders", put(TANDEM, "spreading.rates", (800 * LANE,)), "caution",
         {"high": only("spreading.rates")}),
    Case("road-speed", "orders", put(TANDEM, "spreading.road_speeds", (50 * MPH,)), "caution",
         {"speed": only("spreading.road_speeds")}),
    Case("discharge-ceiling", "orders",
         put(put(TANDEM, "spreading.lanes", 3), "spreading.road_speeds", (45 * MPH,)), "caution",
         {"speed": only("spreading.road_speeds")}),
    Case("shaft-speed-band", "spinner",
         put(TANDEM, "scenario.spreading.run.spinner.speed", 1000 * RPM), "caution",
         {"low": sets("scenario.spreading.run.spinner.speed"),
          "high": sets("scenario.spreading.run.spinner.speed")}),
    Case("prewet-ratio", "pre-wet", put(TANDEM, "spreading.prewet", 30 * GALLON / (2000 * POUND)),
         "caution", {"low": sets("spreading.prewet"), "high": sets("spreading.prewet")}),
]  # fmt: skip

# A truck and subject that each check passes.
GOOD = {
    "least-rate": (put(TANDEM, "spreading.rates", (400 * LANE,)), "auger"),
    "greatest-rate": (TANDEM, "auger"),
    "dead-travel": (TANDEM, "spinner"),
    "spinner-setting-up": (TANDEM, "spinner"),
    "full-discharge": (SINGLE, "full discharge"),
    "cylinder-while-spreading": (LIFT_ALONE, "plow"),
    "coil-current": (TANDEM, "auger"),
    "coil-drift": (TANDEM, "auger"),
    "drive-frequency": (TANDEM, "auger"),
    "standby-pressure": (TANDEM, "pump"),
    "standby-margin": (TANDEM, "pump"),
    "highest-pressure": (TANDEM, "pump"),
    "port-relief-work": (port_relief(TANDEM, "plow", 2000 * PSI), "plow port"),
    "port-relief-main": (PLOW_PORT, "plow port"),
    "rod-side-intensification": (PLOW_PORT, "plow"),
    "series-seal-pressure": (
        put(SERIES, "function.auger.motor.first.case_drain", True), "auger first",
    ),
    "seal-pressure": (TANDEM, "auger"),
    "drive-drop-out": (SINGLE, "pump"),
    "pump-speed-build": (CONVEYOR, "pump"),
    "engine-torque": (TANDEM, "dump"),
    "circulation-heat": (TANDEM, "pump"),
    "work-line-velocity": (TANDEM, "auger_supply line"),
    "coupling-drop": (TANDEM, "auger_supply line"),
    "line-loss": (TANDEM, "spreading"),
    "filter-clean-drop": (TANDEM, "return filter"),
    "filter-bypass": (TANDEM, "return filter"),
    "filter-fineness": (TANDEM, "return filter"),
    "tank-dwell": (TANDEM, "tank"),
    "tank-swing": (TANDEM, "tank"),
    "viscosity-at-work": (TANDEM, "spreading"),
    "warm-up": (put(TANDEM, "oil.cold", fahrenheit(70)), "oil"),
    "rate-band": (TANDEM, "orders"),
    "road-speed": (TANDEM, "orders"),
    "discharge-ceiling": (TANDEM, "orders"),
    "shaft-speed-band": (TANDEM, "auger"),
    "prewet-ratio": (TANDEM, "pre-wet"),
}  # fmt: skip

NO_TASKS = put(put(TANDEM, "scenario", ()), "spreading.road_speeds", (20 * MPH,))

# What each check needs: path to take away, subject, the key that the finding must name; the truck.
LACKING = {
    "least-rate": ("function.auger.trims.min", "auger", "auger.trims.min"),
    "greatest-rate": ("function.auger.trims.max", "auger", "auger.trims.max"),
    "dead-travel": ("engine.working", "spinner", "engine.working"),
    "spinner-setting-up": ("function.spinner.trims.max", "spinner", "spinner.trims.max"),
    "full-discharge": ("full_discharge.engine", "full discharge", "full_discharge.engine"),
    "cylinder-while-spreading": (
        "function.plow.cylinder.extend_time", "plow", "plow.cylinder.extend_time", LIFT_ALONE,
    ),
    "coil-current": (f"{AUGER_COIL}.resistance", "auger", "auger.section.coil.resistance"),
    "coil-drift": (f"{AUGER_COIL}.drive", "auger", "auger.section.coil.drive"),
    "drive-frequency": (f"{AUGER_COIL}.inductance", "auger", "auger.section.coil.inductance"),
    "standby-pressure": ("pump.pump.standby", "pump", "pump.standby"),
    "standby-margin": ("pump.pump.margin", "pump", "pump.margin"),
    "highest-pressure": ("pump.pump.compensator", "pump", "pump.compensator"),
    "port-relief-work": (
        "relief.plow port.setting", "plow port", "plow port.setting", PLOW_PORT,
    ),
    "port-relief-main": (
        "relief.main relief.setting", "plow port", "main relief.setting", PLOW_PORT,
    ),
    "rod-side-intensification": ("function.plow.cylinder.bore", "plow", "plow.cylinder.bore"),
    "series-seal-pressure": ("oil.hot", "auger first", "oil.hot", SERIES),
    "seal-pressure": ("oil.cold", "auger", "oil.cold"),
    "drive-drop-out": ("engine.governed", "pump", "engine.governed", SINGLE),
    "pump-speed-build": ("pump.pump.build", "pump", "pump.build", NO_MAKER),
    "engine-torque": ("pump.pump.displacement", "dump", "pump.displacement"),
    "circulation-heat": ("reservoir.area", "pump", "reservoir.area"),
    "work-line-velocity": (
        "lines.auger_supply.bore", "auger_supply line", "lines.auger_supply.bore",
    ),
    "coupling-drop": ("pump.pump.displacement", "auger_supply line", "pump.displacement"),
    "line-loss": ("lines.pressure.bore", "spreading", "lines.pressure.bore"),
    "filter-clean-drop": ("oil.grade", "return filter", "oil.grade"),
    "filter-bypass": (
        f"{FINE_MESH}.bypass_cracking", "return filter", "lines.return.filter.bypass_cracking",
    ),
    "filter-fineness": (f"{FINE_MESH}.fineness", "return filter", "lines.return.filter.fineness"),
    "tank-dwell": ("reservoir.volume", "tank", "reservoir.volume"),
    "tank-swing": ("function.plow.cylinder.stroke", "tank", "plow.cylinder.stroke"),
    "viscosity-at-work": ("oil.working", "spreading", "oil.working"),
    "warm-up": ("oil.cold", "oil", "oil.cold"),
    "shaft-speed-band": ("spreading.density", "auger", "spreading.density"),
}  # fmt: skip

# Those that the orders themselves are all they need; without any order they say so.
ORDERS = {"rate-band", "road-speed", "discharge-ceiling", "prewet-ratio"}

ONLY_CAUTIONS = {case.id for case in BAD} - {case.id for case in BAD if case.verdict == "fail"}
assert set(REGISTRY) >= ONLY_CAUTIONS
