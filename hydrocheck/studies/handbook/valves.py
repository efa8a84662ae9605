"""Formulas of orifices, reliefs, load sensing, coils and the timed volume."""

from __future__ import annotations

from typing import Final

from hydrocheck.errors import DomainError
from hydrocheck.studies.handbook.formula import (
    Formula,
    Input,
    Output,
    Result,
    Values,
    Way,
    physics,
)

_BOOK: Final = "Fluid Power with Applications (6th ed., 2005)"
_TRAINING: Final = "trade site on troubleshooting, timed volume at the relief (10 gal in 15 s)"

_FLOW: Final = Input("flow", "flow", "flow")
_DROP: Final = Input("pressure", "pressure_drop", "pressure drop over the opening")
_DENSITY: Final = Input("density", "density", "density of the oil", "870 kg/m3")
_CD: Final = Input("discharge_coefficient", "ratio", "discharge coefficient", "0.65")
_BORE: Final = Input("bore", "length", "diameter of a round opening")
_AREA: Final = Input("area", "area", "area of the opening")
_SPECIFIC_HEAT: Final = Input("specific_heat", "specific_heat", "of the oil", "1.9 kJ/(kg K)")

_HEAT: Final = Output("heat", "heat_flow")


def _orifice_flow(values: Values) -> Result:
    from hydrocheck.physics.loads import piston_area
    from hydrocheck.physics.valves import orifice_flow

    area = values["area"] if "area" in values else float(piston_area(values["bore"]))
    flow = orifice_flow(
        values["pressure"], area, values["discharge_coefficient"], values["density"]
    )
    return {"flow": float(flow), "opening": area}


def _relief_heat(values: Values) -> Result:
    from hydrocheck.physics.heat import relief_heat, throttling_rise

    power = float(relief_heat(values["flow"], values["pressure"]))
    rise = throttling_rise(values["pressure"], values["density"], values["specific_heat"])
    return {"heat": power, "power": power, "temperature_rise": float(rise)}


def _bucket(values: Values) -> Result:
    if values["time"] <= 0.0:
        raise DomainError("--time must be above zero")
    answer = {"flow": values["volume"] / values["time"]}
    if "speed" in values:
        from hydrocheck.physics.machines import pump_slip, pump_volumetric_efficiency

        machine = (values["displacement"], values["speed"])
        answer["volumetric_efficiency"] = float(
            pump_volumetric_efficiency(answer["flow"], *machine)
        )
        answer["slip"] = float(pump_slip(*machine, answer["flow"]))
    return answer


def _coil(values: Values) -> Result:
    from hydrocheck.physics.valves import coil_current, coil_resistance

    resistance = float(coil_resistance(values["resistance"], values["temperature"]))
    current = float(coil_current(values["voltage"], resistance, values["duty"]))
    return {"current": current, "hot_resistance": resistance}


def _trims(values: Values) -> Result:
    from hydrocheck.physics.valves import command_line

    line = command_line(
        values["command_1"], values["flow_1"], values["command_2"], values["flow_2"]
    )
    return {"deadband": float(line.deadband), "flow_at_full_command": float(line.full_flow)}


_OPENING: Final = Output("opening", "area")
_HELD: Final = ("density", "discharge_coefficient")

OPENINGS: Final = (
    Formula(
        "orifice-flow", "Flow through a sharp orifice.",
        (_DROP, _BORE, _AREA, _CD, _DENSITY),
        (
            Way(
                ("pressure", "bore", *_HELD), (Output("flow", "flow"), _OPENING),
                "Q = Cd A sqrt(2 dp / rho)",
                "{discharge_coefficient} x {opening} x sqrt(2 x {pressure} / {density})",
                _orifice_flow, f"{_BOOK}, Example 8-4, p. 302",
            ),
            Way(
                ("pressure", "area", *_HELD), (Output("flow", "flow"), _OPENING),
                "Q = Cd A sqrt(2 dp / rho)",
                "{discharge_coefficient} x {opening} x sqrt(2 x {pressure} / {density})",
                _orifice_flow, f"{_BOOK}, Example 8-4, p. 302",
            ),
        ),
    ),
    Formula(
        "orifice-size", "Diameter of a round orifice that passes a flow.",
        (_FLOW, _DROP, _CD, _DENSITY),
        (Way(
            ("flow", "pressure", *_HELD), (Output("bore", "length"),),
            "d = sqrt(4 Q / (pi Cd sqrt(2 dp / rho)))",
            "sqrt(4 x {flow} / (pi x {discharge_coefficient} x sqrt(2 x {pressure} / {density})))",
            physics("valves.orifice_diameter", "bore", pressure="drop"),
            "inverse of orifice-flow",
        ),),
    ),
    Formula(
        "flow-at-drop", "Flow of the same opening at another pressure drop.",
        (
            _FLOW, Input("pressure", "pressure_drop", "drop at that flow"),
            Input("new_pressure", "pressure_drop", "the other drop"),
        ),
        (Way(
            ("flow", "pressure", "new_pressure"), (Output("new_flow", "flow"),),
            "Q_2 = Q_1 sqrt(dp_2 / dp_1)", "{flow} x sqrt({new_pressure} / {pressure})",
            physics("valves.flow_at_drop", "new_flow", pressure="drop", new_pressure="new_drop"),
            "orifice law, standard textbook form, from memory",
        ),),
    ),
    Formula(
        "valve-coefficient", "Flow coefficient of a valve from one measured point.",
        (
            _FLOW, _DROP,
            Input("specific_gravity", "specific_gravity", "density over that of water", "0.87"),
        ),
        (Way(
            ("flow", "pressure", "specific_gravity"),
            (Output("flow_coefficient", "flow_coefficient"),),
            "C = Q sqrt(S / dp)", "{flow} x sqrt({specific_gravity} / {pressure})",
            physics("valves.flow_coefficient", "flow_coefficient", pressure="drop"),
            "definition of the valve coefficient, standard textbook form, from memory",
        ),),
    ),
    Formula(
        "relief-heat", "Heat of a flow over a relief or any valve that does no work.",
        (_FLOW, Input("pressure", "pressure_drop", "pressure drop over the valve"),
         _DENSITY, _SPECIFIC_HEAT),
        (Way(
            ("flow", "pressure", "density", "specific_heat"),
            (_HEAT, Output("power", "power"), Output("temperature_rise", "temperature_rise")),
            "P = Q dp", "{flow} x {pressure}", _relief_heat, f"{_BOOK}, Example 8-2, p. 299",
        ),),
        caution=True,
    ),
    Formula(
        "bucket-test", "Flow from a volume caught in a time, and what it says of the pump.",
        (
            Input("volume", "volume", "oil caught"), Input("time", "time", "time it took"),
            Input("displacement", "displacement", "displacement of the pump"),
            Input("speed", "shaft_speed", "speed of the pump"),
        ),
        (
            Way(
                ("volume", "time"), (Output("flow", "flow"),), "Q = V / t", "{volume} / {time}",
                _bucket, _TRAINING,
            ),
            Way(
                ("volume", "time", "displacement", "speed"),
                (
                    Output("flow", "flow"), Output("volumetric_efficiency", "fraction"),
                    Output("slip", "flow"),
                ),
                "Q = V / t", "{volume} / {time}", _bucket, _TRAINING,
            ),
        ),
        caution=True,
    ),
    Formula(
        "load-sensing-pressure", "Pressure that a load-sensing pump holds.",
        (
            Input("load_pressure", "pressure", "highest load pressure; 0 psi: no signal"),
            Input("margin", "pressure_drop", "LS margin"),
            Input("standby", "pressure", "pressure without a load signal", "0 psi"),
            Input("compensator", "pressure", "setting of the pressure compensator"),
        ),
        (Way(
            ("load_pressure", "margin", "standby", "compensator"),
            (Output("pump_pressure", "pressure"),),
            "p = min(p_comp, max(p_standby, p_load + margin))",
            "min({compensator}, max({standby}, {load_pressure} + {margin}))",
            physics("valves.ls_pump_pressure", "pump_pressure"),
            "Hydraulic Systems for Mobile Equipment (2017), ch. 18, p. 421",
        ),),
        caution=True,
    ),
    Formula(
        "coil-current", "Current of a valve coil at its temperature.",
        (
            Input("voltage", "voltage", "voltage of the supply"),
            Input("resistance", "resistance", "resistance of the coil at 20 degC"),
            Input("temperature", "temperature", "temperature of the winding", "20 degC"),
            Input("duty", "fraction", "share of the time under voltage", "100 %"),
        ),
        (Way(
            ("voltage", "resistance", "temperature", "duty"),
            (Output("current", "current"), Output("hot_resistance", "resistance")),
            "I = d U / R", "{duty} x {voltage} / {hot_resistance}", _coil,
            "Ohm's law; copper 0.393 % per kelvin, from memory",
        ),),
    ),
    Formula(
        "coil-ripple", "Peak-to-peak current ripple of a switched coil.",
        (
            Input("voltage", "voltage", "voltage of the supply"),
            Input("resistance", "resistance", "resistance at the present temperature"),
            Input("inductance", "inductance", "inductance of the coil"),
            Input("frequency", "frequency", "drive frequency"),
            Input("duty", "fraction", "share of the time under voltage", "50 %"),
        ),
        (Way(
            ("voltage", "resistance", "inductance", "frequency", "duty"),
            (Output("ripple", "current"),),
            "dI = (U/R) (1 - e^(-d x)) (1 - e^(-(1-d) x)) / (1 - e^-x), x = R / (L f)",
            "U {voltage}, R {resistance}, L {inductance}, f {frequency}, d {duty}",
            physics("valves.coil_ripple", "ripple"), "closed form of the first-order circuit",
        ),),
    ),
    Formula(
        "command-line", "Deadband and full flow of a valve section from two tested commands.",
        (
            Input("command_1", "fraction", "first command, a share of rated current"),
            Input("flow_1", "flow", "flow at the first command"),
            Input("command_2", "fraction", "second command"),
            Input("flow_2", "flow", "flow at the second command"),
        ),
        (Way(
            ("command_1", "flow_1", "command_2", "flow_2"),
            (Output("deadband", "fraction"), Output("flow_at_full_command", "flow")),
            "u0 = u_1 - q_1 (u_2 - u_1) / (q_2 - q_1)",
            "{command_1} - {flow_1} x ({command_2} - {command_1}) / ({flow_2} - {flow_1})",
            _trims, "trade site, \"Proportional solenoid on a throttle valve\"",
        ),),
    ),
)  # fmt: skip
