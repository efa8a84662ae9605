"""Trucks for the checks of feeding, heat by season, starts, lowering, safety and liquid."""

from __future__ import annotations

from dataclasses import replace

from hydrocheck.demo.variants import closed_loop, divided, drained, linked, sprayed
from hydrocheck.model import Truck
from hydrocheck.model.engine import Gear
from tests.checks.casekit import (
    INCH,
    PSI,
    RPM,
    SINGLE,
    TANDEM,
    Case,
    Cure,
    fahrenheit,
    put,
    sets,
)
from tests.checks.cases_work import only, relieved, work_from

GALLON, MPH, LANE = 3.785411784e-3, 0.44704, 0.45359237 / 1609.344
CLOSED, LINKED, DIVIDED = closed_loop(TANDEM), linked(TANDEM), divided(TANDEM)
BREAKAWAY = "function.auger.motor.0.load.breakaway"
LIQUID = "spreading.liquid"


def geared(truck: Truck, engine: float) -> Truck:
    """A truck with one gear that turns the engine at a speed where the road speed is 30 mph."""
    gear = Gear(name="1", road_speed=30 * MPH, at=engine)
    return put(truck, "engine.gear", (*truck.engine.gear, gear))  # type: ignore[no-any-return]  # a truck as before


def standing(command: float) -> Truck:
    """The spreading scenario with the auger at a small command."""
    task = replace(TANDEM.scenario[0].run[0], rate=None, road_speed=None, command=command)
    run = (task, *TANDEM.scenario[0].run[1:])
    return replace(TANDEM, scenario=(replace(TANDEM.scenario[0], run=run),))


def at_command(truck: Truck, command: float) -> Truck:
    return put(truck, "scenario.spreading.run.auger.command", command)  # type: ignore[no-any-return]  # a truck as before


def boosted(function: str) -> Cure:
    return sets(f"function.{function}.section.coil.boost")


SLOW = put(put(TANDEM, "engine.gear", ()), "spreading.road_speeds", (30 * MPH,))
TIGHT_LINK = work_from(LINKED, 1000 * RPM)
COOLED = put(TANDEM, "reservoir.cooler", 0.0)
SUMMER = put(COOLED, "reservoir.area", 0.4)
AUGER_EFFICIENCY = "function.auger.motor.0.volumetric_efficiency"
LEAKY = put(TANDEM, AUGER_EFFICIENCY, 0.75)
FAST_DUMP = put(TANDEM, "function.dump.cylinder.retract_time", 6.0)
NARROW = put(
    put(TANDEM, "lines.return.bore", 0.75 * INCH), "function.dump.cylinder.retract_time", 4.0
)
WATERY = put(TANDEM, "reservoir.volume", 20 * GALLON)

SPRAYED, DRAINED = sprayed(TANDEM), drained(TANDEM)
THIN_DRAIN = put(DRAINED, "lines.auger_drain.bore", INCH / 8)
NOZZLE = "function.liquid.liquid_pump.nozzle_flow"


def at_rate(rate: float) -> Cure:
    """A single road speed, with a single rate [kg/m]."""
    return lambda truck, speed: put(
        put(truck, "spreading.road_speeds", (speed,)), "spreading.rates", (rate,)
    )


def at_road_speed(speed: float) -> Cure:
    """A single rate, with a single road speed [m/s]."""
    return lambda truck, rate: at_rate(rate)(truck, speed)


def with_boost(time: float) -> Truck:
    """A boost of the auger's command for a time [s]."""
    truck = put(TANDEM, "function.auger.section.coil.boost", 0.12)
    return put(truck, "function.auger.section.coil.boost_time", time)  # type: ignore[no-any-return]  # a truck as before


def discharging(truck: Truck, speed: float) -> Truck:
    return put(truck, "full_discharge.engine", speed)  # type: ignore[no-any-return]  # a truck as before


ONE_RATE = put(TANDEM, "spreading.rates", (400 * LANE,))
SMALL_TRIM = put(ONE_RATE, "function.auger.trims.max", 0.48)
ONE_SPEED = put(SINGLE, "spreading.road_speeds", (25 * MPH,))
IDLING = put(SINGLE, "engine.idle", 450 * RPM)


BAD = [
    Case("boost-duration", "auger", with_boost(0.05), "caution",
         {"time": sets("function.auger.section.coil.boost_time")}),
    Case("boost-duration", "auger", with_boost(60.0), "caution",
         {"most": sets("function.auger.section.coil.boost_time")}),
    Case("proportional-range", "auger", TANDEM, "caution",
         {"speed": at_rate(100 * LANE), "rate": at_road_speed(40 * MPH)}),
    Case("proportional-range", "auger", SMALL_TRIM, "fail",
         {"speed": at_rate(400 * LANE), "rate": at_road_speed(15 * MPH)}),
    Case("start-stop-rate", "auger", SINGLE, "caution",
         {"low": only("spreading.road_speeds"), "high": only("spreading.road_speeds")}),
    Case("start-stop-engine", "auger", IDLING, "caution", {"engine": sets("engine.idle")}),
    Case("start-stop-engine", "auger", work_from(IDLING, 460 * RPM), "fail",
         {"engine": work_from}, {"engine": "caution"}),
    Case("full-discharge-start", "full discharge", TANDEM, "caution", {"engine": discharging}),
    Case("flow-over-oil", "spreading", TANDEM, "caution", {"warm": sets("oil.cold")}),
    Case("rate-in-gear", "auger", geared(SLOW, 750 * RPM), "fail", {"engine": geared}),
    Case("turndown", "auger", put(TANDEM, "function.auger.motor.0.min_speed", 15 * RPM), "caution",
         {"rate": lambda t, r: put(t, "spreading.rates", (r, 400 * LANE))}),
    Case("linked-minimum", "liquid with auger", TIGHT_LINK, "fail", {"engine": work_from}),
    Case("closed-loop-reach", "auger", put(CLOSED, "function.auger.trims.max", 0.5), "fail",
         {"command": sets("function.auger.trims.max")}),
    Case("closed-loop-reach", "auger", put(CLOSED, "function.auger.trims.max", 0.58), "caution",
         {"command": sets("function.auger.trims.max")}),
    Case("trim-conditions", "auger", TANDEM, "caution", {"spread": sets("spreading.accuracy")}),
    Case("slip-share", "auger", LEAKY, "caution", {"efficiency": sets(AUGER_EFFICIENCY)}),
    Case("oil-temperature-winter", "oil", put(COOLED, "reservoir.area", 0.6), "fail",
         {"cooler": sets("reservoir.cooler")}),
    Case("oil-temperature-summer", "oil", SUMMER, "fail", {"cooler": sets("reservoir.cooler")}),
    Case("oil-temperature-winter", "oil", put(COOLED, "reservoir.area", 4.0), "caution",
         {"cooler": sets("reservoir.cooler")}),
    Case("heat-without-pause", "spreading", put(COOLED, "reservoir.area", 1.0), "caution",
         {"cooler": sets("reservoir.cooler")}),
    Case("heat-share", "spreading", SINGLE, "caution"),
    Case("viscosity-window", "pump", put(TANDEM, "pump.pump.min_viscosity", 20e-6), "fail",
         {"cool": sets("oil.hot")}),
    Case("viscosity-window", "pump", put(put(TANDEM, "pump.pump.max_viscosity", 20e-6),
                                         "pump.pump.min_viscosity", None), "fail",
         {"warm": sets("oil.working")}),
    Case("start-from-rest", "auger", put(TANDEM, BREAKAWAY, 5.0), "fail",
         {"d": sets("function.auger.motor.0.displacement")}),
    Case("start-from-rest", "auger", standing(0.30), "fail", {"command": at_command}),
    Case("breakaway-boost", "auger", TANDEM, "caution",
         {"boost": boosted("auger"), "command": sets("function.auger.trims.min")}),
    Case("lowering-velocity", "dump", FAST_DUMP, "caution",
         {"bore": sets("lines.return.bore"),
          "time": sets("function.dump.cylinder.retract_time")}),
    Case("lowering-seal-pressure", "dump", NARROW, "fail",
         {"time": sets("function.dump.cylinder.retract_time")}),
    Case("divider-intensification", "auger", DIVIDED, "fail", {"p": relieved("auger")}),
    Case("liquid-pump-pressure", "liquid", put(SPRAYED, NOZZLE, 0.1 * GALLON / 60), "fail",
         {"flow": sets(NOZZLE)}),
    Case("case-pressure", "auger", THIN_DRAIN, "fail", {"bore": sets("lines.auger_drain.bore")}),
    Case("low-oil-shut-off", "pump", put(TANDEM, "reservoir.low_level", 10 * GALLON), "fail",
         {"volume": sets("reservoir.low_level")}),
    Case("low-oil-shut-off", "pump", put(TANDEM, "reservoir.low_level_action", "alarm"), "caution"),
    Case("low-oil-shut-off", "pump", put(TANDEM, "reservoir.low_level_action", "none"), "caution"),
    Case("oil-level-body-up", "tank", WATERY, "fail", {"volume": sets("reservoir.volume")}),
    Case("hose-safety", "pressure hose", put(TANDEM, "lines.pressure.burst_pressure", 9000 * PSI),
         "fail", {"burst": sets("lines.pressure.burst_pressure"),
                  "setting": sets("relief.main relief.setting")}),
    Case("cleanliness", "oil", put(TANDEM, "oil.cleanliness", "20/18/15"), "fail"),
    Case("nozzle-pressure", "liquid", TANDEM, "caution",
         {"rate": lambda t, r: put(t, "spreading.rates", (r, 2 * r))}),
    Case("liquid-pump-speed", "liquid", put(TANDEM, "function.liquid.limits.max_speed", 800 * RPM),
         "fail", {"speed": only("spreading.road_speeds"),
                  "turn": sets(f"{LIQUID}.per_turn")}),
]  # fmt: skip

GOOD = {
    "boost-duration": (with_boost(0.8), "auger"),
    "proportional-range": (ONE_RATE, "auger"),
    "start-stop-rate": (ONE_SPEED, "auger"),
    "start-stop-engine": (SINGLE, "auger"),
    "full-discharge-start": (SINGLE, "full discharge"),
    "case-pressure": (DRAINED, "auger"),
    "liquid-pump-pressure": (SPRAYED, "liquid"),
    "flow-over-oil": (put(TANDEM, "oil.cold", fahrenheit(90)), "spreading"),
    "rate-in-gear": (TANDEM, "auger"),
    "turndown": (TANDEM, "auger"),
    "linked-minimum": (LINKED, "liquid with auger"),
    "closed-loop-reach": (CLOSED, "auger"),
    "trim-conditions": (CLOSED, "auger"),
    "slip-share": (TANDEM, "auger"),
    "oil-temperature-winter": (TANDEM, "oil"),
    "oil-temperature-summer": (TANDEM, "oil"),
    "heat-without-pause": (TANDEM, "spreading"),
    "heat-share": (TANDEM, "spreading"),
    "viscosity-window": (TANDEM, "pump"),
    "start-from-rest": (TANDEM, "auger"),
    "breakaway-boost": (put(TANDEM, "function.auger.trims.min", 0.5), "auger"),
    "lowering-velocity": (TANDEM, "dump"),
    "lowering-seal-pressure": (TANDEM, "dump"),
    "divider-intensification": (relieved("auger")(DIVIDED, 2500 * PSI), "auger"),
    "low-oil-shut-off": (TANDEM, "pump"),
    "oil-level-body-up": (TANDEM, "tank"),
    "hose-safety": (TANDEM, "pressure hose"),
    "cleanliness": (TANDEM, "oil"),
    "nozzle-pressure": (put(TANDEM, f"{LIQUID}.least_pressure", 0.1 * PSI), "liquid"),
    "liquid-pump-speed": (TANDEM, "liquid"),
}

LACKING = {
    "boost-duration": (
        "function.auger.section.coil.boost_time", "auger", "auger.section.coil.boost_time",
        with_boost(0.8),
    ),
    "proportional-range": ("engine.working", "auger", "engine.working"),
    "start-stop-rate": ("engine.working", "auger", "engine.working", SINGLE),
    "start-stop-engine": ("engine.idle", "auger", "engine.idle", SINGLE),
    "full-discharge-start": ("full_discharge.engine", "full discharge", "full_discharge.engine"),
    "case-pressure": ("lines.auger_drain.bore", "auger", "lines.auger_drain.bore", DRAINED),
    "liquid-pump-pressure": (
        "function.liquid.liquid_pump.max_pressure", "liquid", "liquid.liquid_pump.max_pressure",
        SPRAYED,
    ),
    "flow-over-oil": ("oil.hot", "spreading", "oil.hot"),
    "rate-in-gear": ("engine.gear.0.road_speed", "auger", "engine.gear.4.road_speed"),
    "turndown": ("function.auger.motor.0.min_speed", "auger", "auger.motor.min_speed"),
    "linked-minimum": (
        "function.liquid.trims.min", "liquid with auger", "liquid.trims.min", LINKED,
    ),
    "closed-loop-reach": ("function.auger.trims.max", "auger", "auger.trims.max", CLOSED),
    "trim-conditions": ("function.auger.trims.max", "auger", "auger.trims.max"),
    "slip-share": ("oil.hot", "auger", "oil.hot"),
    "oil-temperature-winter": ("ambient.hottest", "oil", "ambient.hottest"),
    "oil-temperature-summer": ("ambient.summer", "oil", "ambient.summer"),
    "heat-without-pause": ("reservoir.area", "spreading", "reservoir.area"),
    "heat-share": ("pump.pump.displacement", "spreading", "pump.displacement"),
    "viscosity-window": (
        "pump.pump.min_viscosity", "pump", "pump.min_viscosity",
        put(TANDEM, "pump.pump.max_viscosity", None),
    ),
    "start-from-rest": (
        "function.auger.motor.0.starting_efficiency", "auger", "auger.motor.starting_efficiency",
    ),
    "breakaway-boost": (BREAKAWAY, "auger", "auger.motor.load.breakaway"),
    "lowering-velocity": (
        "function.dump.cylinder.retract_time", "dump", "dump.cylinder.retract_time",
    ),
    "lowering-seal-pressure": (
        "function.dump.cylinder.retract_time", "dump", "dump.cylinder.retract_time",
    ),
    "divider-intensification": (
        "function.auger.max_pressure", "auger", "auger.max_pressure",
        put(DIVIDED, "function.auger.motor.0.max_pressure", None),
    ),
    "low-oil-shut-off": ("reservoir.low_level", "pump", "reservoir.low_level"),
    "oil-level-body-up": ("reservoir.volume", "tank", "reservoir.volume"),
    "hose-safety": (
        "lines.pressure.burst_pressure", "pressure hose", "lines.pressure.burst_pressure",
    ),
    "nozzle-pressure": (f"{LIQUID}.least_pressure", "liquid", "spreading.liquid.least_pressure"),
    "liquid-pump-speed": (f"{LIQUID}.per_turn", "liquid", "spreading.liquid.per_turn"),
}  # fmt: skip

NEEDS_NOTHING = {"cleanliness"}  # its codes are texts: an empty one stands for a missing one

ONLY_CAUTIONS = {case.id for case in BAD} - {case.id for case in BAD if case.verdict == "fail"}
