"""One value of a truck made worse, and the finding that must then be listed first.

`PAIRS` are on the tandem demo truck. `ALONE` holds, for each finding that no pair turns alone, a
truck and a value that do; `WHY_NOT` says why none can.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi

from hydrocheck.demo.variants import (
    closed_loop,
    divided,
    drained,
    in_series,
    sprayed,
    with_port_relief,
)
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Coupling
from hydrocheck.model.engine import Gear
from tests.checks.casekit import (
    FOOT_POUND,
    HP,
    INCH,
    MISTAKES,
    PSI,
    RPM,
    SINGLE,
    TANDEM,
    fahrenheit,
    put,
)
from tests.checks.cases_work import LIFT_ALONE

GALLON, POUND, MPH = 3.785411784e-3, 0.45359237, 0.44704
GPM, LANE, GALLON_PER_TON = GALLON / 60, POUND / 1609.344, GALLON / (2000 * POUND)
CUBIC_INCH = INCH**3 / (2 * pi)
AUGER, SPINNER, LIQUID = "function.auger.", "function.spinner.", "function.liquid."
DUMP_TIME = "function.dump.cylinder.retract_time"
COIL, FILTER, RELIEF = AUGER + "section.coil.", "lines.return.filter.", "relief.main relief.setting"
WEAK_ENGINE = tuple((speed, 150 * FOOT_POUND) for speed, _ in TANDEM.engine.torque_curve)

ONE_RATE = put(TANDEM, "spreading.rates", (400 * LANE,))
ONE_SPEED = put(SINGLE, "spreading.road_speeds", (25 * MPH,))


@dataclass(frozen=True)
class Mutation:
    """A value put in place of a truck's own, and the finding that it must turn."""

    expected: str
    path: str
    value: object
    truck: Truck = TANDEM

    @property
    def mutated(self) -> Truck:
        return put(self.truck, self.path, self.value)  # type: ignore[no-any-return]  # a truck as before


PAIRS = [
    # pressure ladder
    Mutation("working-pressure-compensator", "pump.pump.compensator", 2300 * PSI),
    Mutation("working-pressure-relief", "limits.relief_reserve", 900 * PSI),
    Mutation("compensator-relief", "pump.pump.compensator", 2800 * PSI),
    Mutation("compensator-relief", RELIEF, 2900 * PSI),
    Mutation("relief-ratings", RELIEF, 3300 * PSI),
    Mutation("relief-ratings", AUGER + "max_pressure", 2900 * PSI),
    Mutation("breakaway-pressure", AUGER + "motor.0.load.breakaway", 4.0),
    Mutation("breakaway-pressure", AUGER + "motor.0.starting_efficiency", 0.5),
    Mutation("standby-pressure", "limits.standby_pressure", 400 * PSI),
    Mutation("standby-margin", "pump.pump.standby", 280 * PSI),
    Mutation("highest-pressure", "limits.highest_pressure", 2600 * PSI),
    Mutation("rod-side-intensification", "function.dump.cylinder.acting", "double"),
    Mutation("seal-pressure", AUGER + "motor.0.max_back_pressure", 20 * PSI),
    Mutation("hose-safety", "lines.pressure.burst_pressure", 9000 * PSI),
    Mutation("margin-section-drop", "pump.pump.margin", 140 * PSI),
    # pump and drive
    Mutation("pump-overspeed", "pump.pump.max_speed", 2000 * RPM),
    Mutation("pump-underspeed", "pump.pump.min_speed", 800 * RPM),
    Mutation("drive-torque", "engine.drive.torque_rating", 120 * FOOT_POUND),
    Mutation("drive-power", "engine.drive.power_rating", 80 * HP),
    Mutation("drive-drop-out", "engine.drive.kind", "power take-off"),
    Mutation("engine-torque", "engine.torque_curve", WEAK_ENGINE),
    Mutation("low-oil-shut-off", "reservoir.low_level_action", "alarm"),
    Mutation("low-oil-shut-off", "reservoir.least_volume", 20 * GALLON),
    # lines and inlet
    Mutation("suction-velocity", "lines.suction.bore", 2 * INCH),
    Mutation("pressure-velocity", "lines.pressure.bore", 0.75 * INCH),
    Mutation("pressure-velocity", "limits.pressure_velocity", 3.0),
    Mutation("return-velocity", "lines.return.bore", 1.0 * INCH),
    Mutation("pump-inlet", "pump.pump.min_inlet", 1.02e5),
    Mutation("pump-inlet-cold", "lines.suction.length", 20.0),
    Mutation("work-line-velocity", "lines.auger_supply.bore", 0.25 * INCH),
    Mutation("work-line-velocity", "lines.liquid_return.bore", 0.3 * INCH),
    Mutation("coupling-drop", "lines.auger_supply.coupling",
             (Coupling(rated_flow=5 * GPM, rated_drop=20 * PSI),)),
    Mutation("line-loss", "lines.spinner_supply.length", 100.0),
    Mutation("lowering-velocity", DUMP_TIME, 5.0),
    # filter and tank
    Mutation("filter-clean-drop", "limits.filter_drop", 1 * PSI),
    Mutation("filter-bypass", FILTER + "rated_flow", 8 * GPM),
    Mutation("filter-bypass", FILTER + "bypass_cracking", 5 * PSI),
    Mutation("filter-fineness", FILTER + "fineness", 40e-6),
    Mutation("tank-dwell", "limits.tank_dwell", 300.0),
    Mutation("oil-level-body-up", "reservoir.low_level", 44 * GALLON),
    Mutation("oil-level-body-up", "reservoir.volume", 20 * GALLON),
    Mutation("cleanliness", "oil.cleanliness", "20/18/15"),
    # oil and heat
    Mutation("viscosity-hot", "oil.hot", fahrenheit(190)),
    Mutation("viscosity-hot", "limits.hot_viscosity", 12.5e-6),
    Mutation("viscosity-at-work", "limits.work_viscosity_low", 30e-6),
    Mutation("viscosity-at-work", "oil.working", fahrenheit(150)),
    Mutation("viscosity-window", "pump.pump.min_viscosity", 13e-6),
    Mutation("oil-temperature-summer", "ambient.summer", fahrenheit(140)),
    Mutation("oil-temperature-winter", "reservoir.cooler", 0.0),
    Mutation("heat-without-pause", "ambient.hottest", fahrenheit(100)),
    Mutation("heat-share", "limits.heat_share", 0.2),
    # orders and material
    Mutation("rate-band", "spreading.material", "washed sand"),
    Mutation("road-speed", "spreading.road_speeds", (50 * MPH,)),
    Mutation("road-speed", "limits.spreading_speed", 25 * MPH),
    Mutation("discharge-ceiling", "limits.discharge_ceiling", 1.0),
    Mutation("shaft-speed-band", "limits.spinner_speed_high", 300 * RPM),
    Mutation("prewet-ratio", "spreading.prewet", 3 * GALLON_PER_TON),
    # trims and valve drive
    Mutation("trim-order", LIQUID + "trims.min", 0.85),
    Mutation("trim-deadband", LIQUID + "trims.min", 0.27),
    Mutation("trim-deadband", AUGER + "section.deadband", 0.38),
    Mutation("minimum-speed", LIQUID + "motor.0.min_speed", 400 * RPM),
    Mutation("minimum-speed", AUGER + "trims.min", 0.33),
    Mutation("greatest-rate", AUGER + "trims.max", 0.56),
    Mutation("least-rate", AUGER + "trims.min", 0.45, ONE_RATE),
    Mutation("greatest-rate", AUGER + "trims.max", 0.50),
    Mutation("trim-conditions", "limits.trim_spread", 0.02),
    Mutation("coil-current", COIL + "resistance", 9.0),
    Mutation("coil-drift", COIL + "drive", "duty"),
    Mutation("drive-frequency", COIL + "frequency", 40.0),
    Mutation("breakaway-boost", SPINNER + "motor.0.load.breakaway", 6.0),
    Mutation("absent-liquid-zero", LIQUID + "fitted", False),
    # flow and speed
    Mutation("flow-demand", "pump.pump.displacement", 3.1 * CUBIC_INCH),
    Mutation("flow-demand", "limits.flow_reserve", 0.5),
    Mutation("flow-over-oil", "lines.pressure.bore", 0.85 * INCH),
    Mutation("speed-in-reach", SPINNER + "trims.max", 0.7),
    Mutation("speed-in-reach", "function.dump.section.rated_flow", 14 * GPM),
    Mutation("motor-overspeed", AUGER + "motor.0.max_speed", 60 * RPM),
    Mutation("machinery-overspeed", SPINNER + "limits.max_speed", 350 * RPM),
    Mutation("full-discharge", "full_discharge.engine", 300 * RPM),
    Mutation("slip-share", "limits.slip_share", 0.05),
    Mutation("start-from-rest", AUGER + "motor.0.load.breakaway", 3.2),
    # spreading and throw
    Mutation("rate-in-gear", "engine.gear", (Gear(name="5", road_speed=26 * MPH, at=640 * RPM),),
             put(TANDEM, "speed_following.mode", "start-stop")),
    Mutation("turndown", AUGER + "limits.min_speed", 15 * RPM),
    Mutation("liquid-pump-speed", "spreading.liquid.per_turn", 0.1 * CUBIC_INCH),
    Mutation("spinner-lane-width", "scenario.spreading.run.spinner.speed", 200 * RPM),
]  # fmt: skip


def without_seasons(truck: Truck) -> Truck:
    scenarios = tuple(replace(s, winter=None, summer=None) for s in truck.scenario)
    return replace(truck, scenario=scenarios)


def without_levels(truck: Truck) -> Truck:
    tank = replace(truck.reservoir, least_volume=None, low_level=None)
    return put(replace(truck, reservoir=tank), "limits.tank_dwell", 1.0)  # type: ignore[no-any-return]  # a truck as before


PORT = with_port_relief(TANDEM)
SERIES = put(in_series(TANDEM), AUGER + "motor.first.max_back_pressure", 500 * PSI)
CIRCULATING = without_seasons(replace(SINGLE, scenario=SINGLE.scenario[1:]))
UNRATED = put(put(TANDEM, "pump.pump.min_speed", None), "pump.pump.max_speed", None)
STRONG = put(put(divided(TANDEM), AUGER + "max_pressure", 6000 * PSI),
             AUGER + "motor.0.max_pressure", 6000 * PSI)  # fmt: skip
DUMPING = put(put(TANDEM, "scenario.spreading.winter", 0.03), "scenario.dump.winter", 0.1)
FREE_SPINNER = put(put(MISTAKES, SPINNER + "trims.max", 0.80), SPINNER + "limits.max_speed", None)
STARVED = put(FREE_SPINNER, SPINNER + "trims.max", 0.85)
SPRAYING = put(TANDEM, "spreading.liquid.least_pressure", 0.1 * PSI)
WARM = put(TANDEM, "oil.cold", fahrenheit(70))

ALONE = [
    Mutation("breakaway-pressure", AUGER + "motor.0.load.breakaway", 3.6,
             put(LIFT_ALONE, "limits.start_reserve", 0.0)),
    Mutation("circulation-heat", "reservoir.cooler", 0.0, CIRCULATING),
    Mutation("closed-loop-reach", AUGER + "trims.max", 0.60, closed_loop(TANDEM)),
    Mutation("cylinder-while-spreading", "function.plow.cylinder.extend_time", 2.0, LIFT_ALONE),
    Mutation("dead-travel", SPINNER + "trims.max", 1.0, STARVED),
    Mutation("divider-intensification", AUGER + "max_pressure", 5000 * PSI, STRONG),
    Mutation("flow-at-idle", "engine.idle", 560 * RPM, put(SINGLE, "speed_following.mode", "off")),
    Mutation("heat-without-pause", "reservoir.cooler", 25.0, without_seasons(TANDEM)),
    Mutation("liquid-pump-pressure", LIQUID + "liquid_pump.nozzles", 2, sprayed(TANDEM)),
    Mutation("case-pressure", "lines.auger_drain.bore", INCH / 8, drained(TANDEM)),
    Mutation("lowering-seal-pressure", DUMP_TIME, 1.2,
             put(TANDEM, "limits.return_velocity", 100.0)),
    Mutation("nozzle-pressure", "spreading.liquid.nozzle_flow", 4 * GPM, SPRAYING),
    Mutation("oil-temperature-winter", "scenario.dump.winter", 0.9, DUMPING),
    Mutation("port-relief-main", "relief.plow relief.setting", 2950 * PSI, PORT),
    Mutation("port-relief-work", "relief.plow relief.setting", 1300 * PSI, PORT),
    Mutation("pump-speed-build", "engine.idle", 550 * RPM, UNRATED),
    Mutation("series-seal-pressure", AUGER + "motor.first.max_back_pressure", 300 * PSI, SERIES),
    Mutation("spinner-setting-up", SPINNER + "trims.max", 0.84, FREE_SPINNER),
    Mutation("tank-swing", "reservoir.volume", 8 * GALLON, without_levels(TANDEM)),
    Mutation("viscosity-cold", "oil.cold", fahrenheit(8), SINGLE),
    Mutation("proportional-range", "spreading.rates", (190 * LANE,),
             put(TANDEM, "spreading.rates", (198 * LANE,))),
    Mutation("boost-duration", COIL + "boost_time", 0.05,
             put(put(TANDEM, COIL + "boost", 0.12), COIL + "boost_time", 0.8)),
    Mutation("start-stop-rate", "spreading.road_speeds", (28 * MPH,), ONE_SPEED),
    Mutation("full-discharge-start", "full_discharge.engine", 690 * RPM,
             put(TANDEM, "full_discharge.engine", 750 * RPM)),
    Mutation("warm-up", "oil.cold", fahrenheit(55), WARM),
]  # fmt: skip

WHY_NOT = {
    "least-rate": "a rate that the minimum trim exceeds is not kept at the slow end of the range",
    "start-stop-engine": "a scenario that starves at idle says so, too: flow-at-idle",
    "speed-in-reach": "what cannot be commanded is not delivered either: flow-demand says so, too",
    "trim-deadband": "a section that stays shut leaves the shaft standing: minimum-speed, too",
    "margin-section-drop": "with too small a margin the highest load starves: flow-demand, too",
    "linked-minimum": "flow-demand counts linked functions, too, and starves with them",
    "width-at-trims": "a width that no trim throws is not thrown at the ordered speed either",
}
