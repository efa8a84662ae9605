"""Formulas of oil, lines and the pump inlet."""

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

_BOOK: Final = "Fluid Power with Applications (6th ed., 2005)"

_FLOW: Final = Input("flow", "flow", "flow in the line")
_BORE: Final = Input("bore", "length", "inside diameter")
_LENGTH: Final = Input("length", "length", "length of the line")
_VELOCITY: Final = Input("velocity", "velocity", "velocity of the oil")
_VISCOSITY: Final = Input("viscosity", "kinematic_viscosity", "viscosity as the oil is now")
_DENSITY: Final = Input("density", "density", "density of the oil", "870 kg/m3")
_ROUGHNESS: Final = Input("roughness", "length", "roughness of the wall", "0.0015 mm")
_LOSS: Final = Input("loss_factor", "ratio", "sum of the K values of the fittings", "0")
_TEMPERATURE: Final = Input("temperature", "temperature", "temperature of the oil")

_LINE: Final = ("flow", "bore", "length", "viscosity", "density", "roughness", "loss_factor")
_STATE: Final = (
    Output("velocity", "velocity"),
    Output("reynolds_number", "ratio"),
    Output("regime", ""),
)


def _line(values: Values) -> dict[str, float | str]:
    from hydrocheck.physics import lines

    velocity = float(lines.velocity(values["flow"], values["bore"]))
    number = float(lines.reynolds(velocity, values["bore"], values["viscosity"]))
    drop = float(lines.pressure_drop(**{name: values[name] for name in _LINE}))
    return {
        "pressure_drop": drop,
        "velocity": velocity,
        "reynolds_number": number,
        "regime": lines.REGIMES[int(lines.regime(number))],
        "power_lost": drop * values["flow"],
    }


def _drop(values: Values) -> Result:
    from hydrocheck.physics.lines import friction_factor

    answer = _line(values)
    if values["flow"] > 0.0:
        factor = friction_factor(answer["reynolds_number"], values["roughness"] / values["bore"])
        answer["f"] = float(factor)
    else:
        answer["f"] = 0.0
    return answer


def _inlet(values: Values) -> Result:
    from hydrocheck.physics import lines

    answer = _line(values)
    suction = answer.pop("pressure_drop")
    del answer["power_lost"]
    atmosphere = float(lines.atmospheric_pressure(values["altitude"]))
    head = float(lines.head_pressure(values["oil_height"], values["density"]))
    inlet = float(lines.inlet_absolute_pressure(atmosphere, head, suction))
    return {
        "inlet_pressure": inlet,
        "inlet_vacuum": atmosphere - inlet,
        "atmosphere": atmosphere,
        "head": head,
        "suction_drop": suction,
        **answer,
    }


def _at_temperature(a: float, b: float, temperature: float) -> Result:
    from hydrocheck.physics.oil import kinematic_viscosity

    viscosity = float(kinematic_viscosity(temperature, a, b))
    return {"viscosity": viscosity, "a": a, "b": b, "kelvin": temperature}


def _by_grade(values: Values) -> Result:
    from hydrocheck.physics.oil import grade_line

    a, b = grade_line(values["grade"], values["viscosity_index"])
    return _at_temperature(float(a), float(b), values["temperature"])


def _by_points(values: Values) -> Result:
    from hydrocheck.physics.oil import viscosity_line

    points = ("temperature_1", "viscosity_1", "temperature_2", "viscosity_2")
    a, b = viscosity_line(*(values[name] for name in points))
    return _at_temperature(float(a), float(b), values["temperature"])


_LAW: Final = "nu = 10^(10^(a - b log10 T)) - 0.7 cSt"
_WORKED: Final = "10^(10^({a} - {b} x log10 {kelvin})) - 0.7 cSt"

OIL: Final = (
    Formula(
        "oil-viscosity", "Viscosity of an oil at a temperature, from grade or two points.",
        (
            _TEMPERATURE,
            Input("grade", "kinematic_viscosity", "ISO grade such as VG 46", grade=True),
            Input("viscosity_index", "ratio", "viscosity index", "100"),
            Input("temperature_1", "temperature", "of the first known point"),
            Input("viscosity_1", "kinematic_viscosity", "at the first known point"),
            Input("temperature_2", "temperature", "of the second known point"),
            Input("viscosity_2", "kinematic_viscosity", "at the second known point"),
        ),
        (
            Way(
                ("temperature", "grade", "viscosity_index"),
                (Output("viscosity", "kinematic_viscosity"),), _LAW, _WORKED, _by_grade,
                "ASTM D341 with the 100 degC value from ASTM D2270; ISO 3448 grades",
            ),
            Way(
                ("temperature", "temperature_1", "viscosity_1", "temperature_2", "viscosity_2"),
                (Output("viscosity", "kinematic_viscosity"),), _LAW, _WORKED, _by_points,
                "ASTM D341, shortened equation",
            ),
        ),
    ),
    Formula(
        "viscosity-index", "Viscosity index from the viscosities at 40 and 100 degC.",
        (
            Input("viscosity_40", "kinematic_viscosity", "at 40 degC"),
            Input("viscosity_100", "kinematic_viscosity", "at 100 degC"),
        ),
        (Way(
            ("viscosity_40", "viscosity_100"), (Output("viscosity_index", "ratio"),),
            "VI = f(nu_40, nu_100)", "f({viscosity_40}, {viscosity_100})",
            physics("oil.viscosity_index", "viscosity_index", viscosity_40="nu40",
                    viscosity_100="nu100"),
            "ASTM D2270, procedures A and B",
        ),),
    ),
    Formula(
        "oil-density", "Density of oil at a temperature.",
        (
            _TEMPERATURE,
            Input("density_15", "density", "density at 15 degC", "870 kg/m3"),
            Input("expansion", "expansion", "thermal expansion", "0.0007 1/K"),
        ),
        (Way(
            ("temperature", "density_15", "expansion"), (Output("density", "density"),),
            "rho = rho_15 (1 - a (T - 15 degC))",
            "{density_15} x (1 - {expansion} x ({temperature} - 15 degC))",
            physics("oil.density", "density"), "common practice; defaults from memory",
        ),),
    ),
)  # fmt: skip

LINES: Final = (
    Formula(
        "line-velocity", "Velocity of oil in a line.", (_FLOW, _BORE),
        (Way(
            ("flow", "bore"), (Output("velocity", "velocity"),),
            "v = 4 Q / (pi d^2)", "4 x {flow} / (pi x ({bore})^2)",
            physics("lines.velocity", "velocity"), f"{_BOOK}, Example 3-14, p. 113",
        ),),
    ),
    Formula(
        "line-bore", "Bore at which a flow has a velocity.", (_FLOW, _VELOCITY),
        (Way(
            ("flow", "velocity"), (Output("bore", "length"),),
            "d = sqrt(4 Q / (pi v))", "sqrt(4 x {flow} / (pi x {velocity}))",
            physics("lines.bore_for_velocity", "bore"), f"{_BOOK}, Example 10-1, p. 367",
        ),),
    ),
    Formula(
        "line-drop", "Pressure drop of a line with its fittings, and the flow regime.",
        (_FLOW, _BORE, _LENGTH, _VISCOSITY, _DENSITY, _ROUGHNESS, _LOSS),
        (Way(
            _LINE,
            (
                Output("pressure_drop", "pressure_drop"), *_STATE,
                Output("power_lost", "power"),
            ),
            "dp = (f L / d + K (1 + 1000 / Re)) rho v^2 / 2",
            "({f} x {length} / {bore} + {loss_factor} x (1 + 1000 / {reynolds_number}))"
            " x {density} x ({velocity})^2 / 2",
            _drop, "Darcy-Weisbach, 64/Re and Colebrook; two-K method (Hooper, 1981)",
        ),),
    ),
    Formula(
        "suction-inlet", "Absolute pressure and vacuum at a pump inlet.",
        (
            _FLOW, _BORE, _LENGTH, _VISCOSITY,
            Input("oil_height", "length", "oil level above the pump inlet", "0 in", negative=True),
            Input("altitude", "length", "above sea level", "0 ft", negative=True),
            _DENSITY, _ROUGHNESS, _LOSS,
        ),
        (Way(
            (*_LINE, "oil_height", "altitude"),
            (
                Output("inlet_pressure", "absolute_pressure"), Output("inlet_vacuum", "vacuum"),
                Output("atmosphere", "absolute_pressure"), Output("head", "pressure_drop"),
                Output("suction_drop", "pressure_drop"), *_STATE,
            ),
            "p = p_atm + rho g h - dp", "{atmosphere} + {head} - {suction_drop}", _inlet,
            f"{_BOOK}, Example 2-7, p. 51; US Standard Atmosphere, 1976",
        ),),
    ),
)  # fmt: skip
