"""Formulas of spreading and of heat in the reservoir."""

from __future__ import annotations

from typing import Final

from hydrocheck.studies.handbook.formula import (
    Formula,
    Input,
    Output,
    Result,
    Values,
    Way,
    physics,
)

_HANDBOOK: Final = "Minnesota Snow and Ice Control Field Handbook, 2nd revision, 2012"

_RATE: Final = Input("rate", "application_rate", "application rate for one lane")
_ROAD: Final = Input("road_speed", "road_speed", "road speed of the truck")
_LANES: Final = Input("lanes", "ratio", "lanes treated at once", "1")
_DISCHARGE: Final = Input("discharge", "mass_flow", "mass flow of material")
_SHAFT: Final = Input("shaft_speed", "shaft_speed", "speed of the feeder's shaft")
_PER_REV: Final = Input("mass_per_rev", "mass_per_rev", "discharge per revolution, from a catch")
_WIDTH: Final = Input("width", "length", "width of the lane", "12 ft")

_OUT_RATE: Final = Output("application_rate", "application_rate")
_OUT_DISCHARGE: Final = Output("discharge", "mass_flow")


def _spread(values: Values) -> Result:
    from hydrocheck.physics import material

    answer: dict[str, float | str] = {}
    road = (values["road_speed"], values["lanes"])
    if "rate" in values:
        answer["discharge"] = mass_flow = float(material.discharge(values["rate"], *road))
        if "mass_per_rev" in values:
            answer["shaft_speed"] = float(material.shaft_speed(mass_flow, values["mass_per_rev"]))
        return answer
    mass_flow = values.get("discharge", 0.0)
    if "shaft_speed" in values:
        mass_flow = float(material.shaft_discharge(values["shaft_speed"], values["mass_per_rev"]))
        answer["discharge"] = mass_flow
    answer["application_rate"] = float(material.application_rate(mass_flow, *road))
    return answer


def _sensor_error(values: Values) -> Result:
    from hydrocheck.physics import speedsensor

    real = float(speedsensor.pulses_from_pass(values["pulses"], values["distance"]))
    share = float(speedsensor.indicated_share(values["set_pulses"], real))
    return {"rate_error": share - 1.0, "sensor": real}


def _weighed(values: Values) -> Result:
    from hydrocheck.physics import material

    ordered = values["rate"] * values["distance"] * values["lanes"]
    return {"error": float(material.verification_error(values["put_down"], ordered))}


def _brine(values: Values) -> Result:
    from hydrocheck.physics import brine

    strength = values["concentration"]
    return {
        "specific_gravity": float(brine.brine_specific_gravity(strength)),
        "freezing_point": float(brine.brine_freezing_point(strength)),
        "density": float(brine.brine_density(strength)),
        "saturation": float(brine.salometer(strength)),
    }


def _oil_temperature(values: Values) -> Result:
    from hydrocheck.physics.heat import steady_temperature, surface_conductance

    surface = float(surface_conductance(values["area"], values["coefficient"]))
    total = surface + values["cooler"]
    warm = float(steady_temperature(values["heat"], values["ambient"], total))
    return {"oil_temperature": warm, "conductance": total}


SPREADING: Final = (
    Formula(
        "spread-rate", "Rate, road speed and lanes to discharge and shaft speed, and back.",
        (_RATE, _ROAD, _LANES, _PER_REV, _DISCHARGE, _SHAFT),
        (
            Way(
                ("rate", "road_speed", "lanes"), (_OUT_DISCHARGE,),
                "m = rate v lanes", "{rate} x {road_speed} x {lanes}", _spread, _HANDBOOK,
            ),
            Way(
                ("rate", "road_speed", "lanes", "mass_per_rev"),
                (Output("shaft_speed", "shaft_speed"), _OUT_DISCHARGE),
                "n = rate v lanes / M", "{rate} x {road_speed} x {lanes} / {mass_per_rev}",
                _spread, _HANDBOOK,
            ),
            Way(
                ("discharge", "road_speed", "lanes"), (_OUT_RATE,),
                "rate = m / (v lanes)", "{discharge} / ({road_speed} x {lanes})", _spread,
                _HANDBOOK,
            ),
            Way(
                ("shaft_speed", "mass_per_rev", "road_speed", "lanes"),
                (_OUT_RATE, _OUT_DISCHARGE),
                "rate = n M / (v lanes)",
                "{shaft_speed} x {mass_per_rev} / ({road_speed} x {lanes})", _spread, _HANDBOOK,
            ),
        ),
    ),
    Formula(
        "spread-speed", "Road speed up to which a discharge holds a rate.",
        (_DISCHARGE, _RATE, _LANES),
        (Way(
            ("discharge", "rate", "lanes"), (Output("road_speed", "road_speed"),),
            "v = m / (rate lanes)", "{discharge} / ({rate} x {lanes})",
            physics("material.road_speed_limit", "road_speed", rate="application_rate"),
            "spread-rate turned round",
        ),),
    ),
    Formula(
        "area-rate", "Rate for a lane to rate for an area, and back.",
        (_RATE, Input("area_rate", "area_rate", "rate for an area"), _WIDTH),
        (
            Way(
                ("rate", "width"), (Output("area_rate", "area_rate"),),
                "area rate = rate / width", "{rate} / {width}",
                physics("material.area_rate", "area_rate", rate="lane_rate"), "arithmetic",
            ),
            Way(
                ("area_rate", "width"), (_OUT_RATE,),
                "rate = area rate x width", "{area_rate} x {width}",
                physics("material.lane_rate", "application_rate"), "arithmetic",
            ),
        ),
    ),
    Formula(
        "auger-discharge", "Discharge per revolution of an auger from its shape.",
        (
            Input("diameter", "length", "over the flighting"),
            Input("shaft_diameter", "length", "of the core tube"),
            Input("pitch", "length", "of the flighting at the outlet"),
            Input("density", "density", "bulk density of the material", "80 lb/ft3"),
            Input("fill", "fraction", "share of the swept volume that comes out", "85 %"),
        ),
        (Way(
            ("diameter", "shaft_diameter", "pitch", "density", "fill"),
            (Output("discharge_per_revolution", "mass_per_rev"),),
            "M = rho fill pi/4 (D^2 - d^2) pitch",
            "{density} x {fill} x pi/4 x (({diameter})^2 - ({shaft_diameter})^2) x {pitch}",
            physics("material.auger_mass_per_revolution", "discharge_per_revolution"),
            "swept volume; a catch test overrides",
        ),),
    ),
    Formula(
        "prewet-flow", "Liquid flow that pre-wets a discharge.",
        (_DISCHARGE, Input("liquid_per_mass", "liquid_per_mass", "such as 10 gal/ton")),
        (Way(
            ("discharge", "liquid_per_mass"), (Output("flow", "flow"),),
            "Q = m r", "{discharge} x {liquid_per_mass}",
            physics("material.prewet_flow", "flow"), "arithmetic; common practice",
        ),),
    ),
    Formula(
        "liquid-flow", "Liquid flow that an ordered liquid rate asks.",
        (Input("rate", "liquid_rate", "liquid for one lane"), _ROAD, _LANES),
        (Way(
            ("rate", "road_speed", "lanes"), (Output("flow", "flow"),),
            "Q = rate v lanes", "{rate} x {road_speed} x {lanes}",
            physics("material.liquid_flow", "flow"), "arithmetic",
        ),),
    ),
    Formula(
        "nozzle", "Pressure that nozzles need for a flow, and the flow at a pressure.",
        (
            Input("rated_flow", "flow", "water through all nozzles at the rated pressure"),
            Input("rated_pressure", "pressure", "at which that flow is stated"),
            Input("flow", "flow", "wanted"),
            Input("pressure", "pressure", "at the nozzles"),
            Input("specific_gravity", "specific_gravity", "of the liquid", "1.0"),
        ),
        (
            Way(
                ("rated_flow", "rated_pressure", "flow", "specific_gravity"),
                (Output("nozzle_pressure", "pressure"),),
                "p = p_r SG (Q / Q_r)^2",
                "{rated_pressure} x {specific_gravity} x ({flow} / {rated_flow})^2",
                physics("material.nozzle_pressure", "nozzle_pressure"), "orifice law",
            ),
            Way(
                ("rated_flow", "rated_pressure", "pressure", "specific_gravity"),
                (Output("nozzle_flow", "flow"),),
                "Q = Q_r sqrt(p / (p_r SG))",
                "{rated_flow} x sqrt({pressure} / ({rated_pressure} x {specific_gravity}))",
                physics("material.nozzle_flow", "nozzle_flow"), "orifice law",
            ),
        ),
    ),
    Formula(
        "brine", "Sodium chloride brine: specific gravity, freezing point, saturation.",
        (Input("concentration", "fraction", "salt over brine, by mass"),),
        (Way(
            ("concentration",),
            (
                Output("specific_gravity", "specific_gravity"),
                Output("freezing_point", "temperature"),
                Output("density", "density"),
                Output("saturation", "brine_saturation"),
            ),
            "density law of Laliberte and Cooper; table of freezing points", "{concentration}",
            _brine, "Journal of Chemical and Engineering Data 49, 2004; table from memory",
        ),),
    ),
    Formula(
        "speed-sensor", "Pulses for a distance from a known pass; after new tyres or axle.",
        (
            Input("pulses", "count", "counted on the pass"),
            Input("distance", "distance", "of the pass"),
            Input("set_pulses", "pulses_per_distance", "pulses that are set now"),
            Input("rolling_before", "length", "rolling circumference (or radius) of the old tyre"),
            Input("rolling_after", "length", "of the new tyre"),
            Input("axle_before", "ratio", "old axle ratio; 1 for a sensor on the wheel", "1"),
            Input("axle_after", "ratio", "new axle ratio", "1"),
        ),
        (
            Way(
                ("pulses", "distance"), (Output("sensor", "pulses_per_distance"),),
                "k = pulses / distance", "{pulses} / {distance}",
                physics("speedsensor.pulses_from_pass", "sensor"), "definition",
            ),
            Way(
                ("pulses", "distance", "set_pulses"),
                (Output("rate_error", "fraction"), Output("sensor", "pulses_per_distance")),
                "error of the rate = (pulses / distance) / set - 1",
                "({pulses} / {distance}) / {set_pulses} - 1", _sensor_error,
                "definition; discharge follows the indicated speed",
            ),
            Way(
                ("set_pulses", "rolling_before", "rolling_after", "axle_before", "axle_after"),
                (Output("sensor", "pulses_per_distance"),),
                "k' = k (C / C') (i' / i)",
                "{set_pulses} x ({rolling_before} / {rolling_after}) x "
                "({axle_after} / {axle_before})",
                physics("speedsensor.refitted_pulses", "sensor", set_pulses="pulses_per_distance"),
                "kinematics of the drive",
            ),
        ),
    ),
    Formula(
        "weighed-load", "Error of what was put down against what was ordered.",
        (
            Input("put_down", "mass", "weighed before less after"),
            _RATE,
            Input("distance", "distance", "driven while spreading"),
            _LANES,
        ),
        (Way(
            ("put_down", "rate", "distance", "lanes"), (Output("error", "fraction"),),
            "error = put down / (rate distance lanes) - 1",
            "{put_down} / ({rate} x {distance} x {lanes}) - 1", _weighed, "definition",
        ),),
    ),
)  # fmt: skip

RESERVOIR: Final = (
    Formula(
        "oil-temperature", "Temperature at which losses to the air balance the heat.",
        (
            Input("heat", "heat_flow", "heat into the oil"),
            Input("ambient", "temperature", "temperature of the air"),
            Input("area", "area", "surface of reservoir and lines"),
            Input("coefficient", "heat_transfer", "from oil to air: 6 to 14.5 published",
                  "11 W/(m2 K)"),
            Input("cooler", "heat_conductance", "of a cooler, from its data sheet", "0 W/K"),
        ),
        (Way(
            ("heat", "ambient", "area", "coefficient", "cooler"),
            (Output("oil_temperature", "temperature"), Output("conductance", "heat_conductance")),
            "T = T_air + P / (U A + G)", "{ambient} + {heat} / {conductance}", _oil_temperature,
            "Fluid Power: Theory and Applications (4th ed.), Example 14.6, p. 391",
        ),),
    ),
    Formula(
        "reservoir-volume", "Reservoir volume by minutes of pump flow, a rule of thumb.",
        (
            Input("flow", "flow", "flow of the pump"),
            Input("dwell", "time", "1 to 2 min on trucks, 3 to 5 in industry", "2 min"),
        ),
        (Way(
            ("flow", "dwell"), (Output("volume", "volume"),), "V = Q t", "{flow} x {dwell}",
            physics("heat.reservoir_volume", "volume", flow="pump_flow"), "common practice",
        ),),
    ),
)  # fmt: skip
