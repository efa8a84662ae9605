"""Formulas of pumps, motors, their drives and their power."""

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
_THEORY: Final = "Fluid Power: Theory and Applications (4th ed.)"
_STANDARD_FORM: Final = "standard textbook form, from memory"

FLOW: Final = Output("flow", "flow")
SPEED: Final = Output("speed", "shaft_speed")
TORQUE: Final = Output("torque", "torque")
POWER: Final = Output("power", "power")
DISPLACEMENT: Final = Output("displacement", "displacement")
PRESSURE: Final = Output("pressure", "pressure_drop")

_D: Final = Input("displacement", "displacement", "displacement, per revolution")
_N: Final = Input("speed", "shaft_speed", "shaft speed")
_Q: Final = Input("flow", "flow", "flow")
_P: Final = Input("pressure", "pressure_drop", "pressure rise over the pump")
_DP: Final = Input("pressure", "pressure_drop", "pressure drop, inlet less outlet")
_T: Final = Input("torque", "torque", "torque at the shaft")
_W: Final = Input("power", "power", "power at the shaft")
_EV: Final = Input("volumetric_efficiency", "fraction", "volumetric efficiency", "100 %")
_EM: Final = Input("hydromechanical_efficiency", "fraction", "hydromechanical efficiency", "100 %")
_E: Final = Input("overall_efficiency", "fraction", "overall efficiency", "100 %")

_RENAME: Final = {"pressure": "pressure_drop"}


def _pump_efficiency(values: Values) -> Result:
    from hydrocheck.physics.machines import (
        pump_hydromechanical_efficiency,
        pump_overall_efficiency,
        pump_slip,
        pump_volumetric_efficiency,
    )

    flow, displacement, speed = (values[k] for k in ("flow", "displacement", "speed"))
    answer = {
        "volumetric_efficiency": float(pump_volumetric_efficiency(flow, displacement, speed)),
        "slip": float(pump_slip(displacement, speed, flow)),
    }
    if "torque" in values:
        torque, pressure = values["torque"], values["pressure"]
        answer["hydromechanical_efficiency"] = float(
            pump_hydromechanical_efficiency(torque, displacement, pressure)
        )
        answer["overall_efficiency"] = float(pump_overall_efficiency(flow, pressure, torque, speed))
    return answer


def _motor_efficiency(values: Values) -> Result:
    from hydrocheck.physics.machines import (
        motor_hydromechanical_efficiency,
        motor_overall_efficiency,
        motor_volumetric_efficiency,
    )

    flow, displacement, speed = (values[k] for k in ("flow", "displacement", "speed"))
    answer = {
        "volumetric_efficiency": float(motor_volumetric_efficiency(flow, displacement, speed)),
    }
    answer["slip"] = (1.0 - answer["volumetric_efficiency"]) * flow
    if "torque" in values:
        torque, pressure = values["torque"], values["pressure"]
        answer["hydromechanical_efficiency"] = float(
            motor_hydromechanical_efficiency(torque, displacement, pressure)
        )
        answer["overall_efficiency"] = float(
            motor_overall_efficiency(torque, speed, flow, pressure)
        )
    return answer


_SPLIT: Final = (
    Output("volumetric_efficiency", "fraction"),
    Output("slip", "flow"),
    Output("hydromechanical_efficiency", "fraction"),
    Output("overall_efficiency", "fraction"),
)

PUMPS: Final = (
    Formula(
        "pump-flow", "Flow of a pump from displacement and speed.", (_D, _N, _EV),
        (Way(
            ("displacement", "speed", "volumetric_efficiency"), (FLOW,),
            "Q = D n eta_v", "{displacement} x {speed} x {volumetric_efficiency}",
            physics("machines.pump_flow", "flow"), f"{_BOOK}, Example 5-2, p. 167",
        ),),
    ),
    Formula(
        "pump-displacement", "Displacement that a pump needs for a flow at a speed.",
        (_Q, _N, _EV),
        (Way(
            ("flow", "speed", "volumetric_efficiency"), (DISPLACEMENT,),
            "D = Q / (n eta_v)", "{flow} / ({speed} x {volumetric_efficiency})",
            physics("machines.pump_displacement", "displacement"),
            f"inverse of pump-flow; {_STANDARD_FORM}",
        ),),
    ),
    Formula(
        "pump-torque", "Shaft torque of a pump at a pressure.", (_D, _P, _EM),
        (Way(
            ("displacement", "pressure", "hydromechanical_efficiency"), (TORQUE,),
            "T = D dp / eta_hm", "{displacement} x {pressure} / {hydromechanical_efficiency}",
            physics("machines.pump_torque", "torque", **_RENAME),
            f"{_BOOK}, Example 5-9, p. 201",
        ),),
    ),
    Formula(
        "pump-power", "Power that a pump takes from its shaft.", (_Q, _P, _E),
        (Way(
            ("flow", "pressure", "overall_efficiency"), (POWER,),
            "P = Q dp / eta", "{flow} x {pressure} / {overall_efficiency}",
            physics("machines.pump_shaft_power", "power", **_RENAME), _STANDARD_FORM,
        ),),
    ),
    Formula(
        "pump-efficiency", "Efficiencies and slip of a pump from measured values.",
        (
            Input("flow", "flow", "measured flow, at full stroke and full pressure"), _D, _N,
            Input("torque", "torque", "measured shaft torque"), _P,
        ),
        (
            Way(
                ("flow", "displacement", "speed"), _SPLIT[:2],
                "eta_v = Q / (D n)", "{flow} / ({displacement} x {speed})", _pump_efficiency,
                f"{_THEORY}, Example 7.2, p. 137",
            ),
            Way(
                ("flow", "displacement", "speed", "torque", "pressure"), _SPLIT,
                "eta_v = Q / (D n)", "{flow} / ({displacement} x {speed})", _pump_efficiency,
                f"{_BOOK}, Example 5-9, p. 201",
            ),
        ),
        caution=True,
    ),
)  # fmt: skip

MOTORS: Final = (
    Formula(
        "motor-speed", "Speed of a motor on a flow.", (_Q, _D, _EV),
        (Way(
            ("flow", "displacement", "volumetric_efficiency"), (SPEED,),
            "n = Q eta_v / D", "{flow} x {volumetric_efficiency} / {displacement}",
            physics("machines.motor_speed", "speed"), f"{_THEORY}, Example 9.2, p. 194",
        ),),
    ),
    Formula(
        "motor-flow", "Flow that a motor takes at a speed.", (_D, _N, _EV),
        (Way(
            ("displacement", "speed", "volumetric_efficiency"), (FLOW,),
            "Q = D n / eta_v", "{displacement} x {speed} / {volumetric_efficiency}",
            physics("machines.motor_flow", "flow"), f"{_THEORY}, Example 9.3, p. 195",
        ),),
    ),
    Formula(
        "motor-torque", "Shaft torque of a motor at a pressure drop.", (_D, _DP, _EM),
        (Way(
            ("displacement", "pressure", "hydromechanical_efficiency"), (TORQUE,),
            "T = D dp eta_hm", "{displacement} x {pressure} x {hydromechanical_efficiency}",
            physics("machines.motor_torque", "torque", **_RENAME),
            f"{_BOOK}, Example 7-2, p. 259",
        ),),
    ),
    Formula(
        "motor-pressure", "Pressure drop that a motor needs for a torque.", (_T, _D, _EM),
        (Way(
            ("torque", "displacement", "hydromechanical_efficiency"), (PRESSURE,),
            "dp = T / (D eta_hm)", "{torque} / ({displacement} x {hydromechanical_efficiency})",
            physics("machines.motor_pressure_for_torque", "pressure"),
            f"{_BOOK}, Example 7-1, p. 248",
        ),),
    ),
    Formula(
        "motor-displacement", "Displacement that a motor needs for a torque or a speed.",
        (_T, _DP, _EM, _Q, _N, _EV),
        (
            Way(
                ("torque", "pressure", "hydromechanical_efficiency"), (DISPLACEMENT,),
                "D = T / (dp eta_hm)", "{torque} / ({pressure} x {hydromechanical_efficiency})",
                physics("machines.motor_displacement_for_torque", "displacement", **_RENAME),
                f"inverse of motor-torque; {_STANDARD_FORM}",
            ),
            Way(
                ("flow", "speed", "volumetric_efficiency"), (DISPLACEMENT,),
                "D = Q eta_v / n", "{flow} x {volumetric_efficiency} / {speed}",
                physics("machines.motor_displacement_for_speed", "displacement"),
                f"{_BOOK}, Example 7-4, p. 264",
            ),
        ),
    ),
    Formula(
        "motor-efficiency", "Efficiencies and slip of a motor from measured values.",
        (
            Input("flow", "flow", "measured inlet flow"), _D, _N,
            Input("torque", "torque", "measured shaft torque"), _DP,
        ),
        (
            Way(
                ("flow", "displacement", "speed"), _SPLIT[:2],
                "eta_v = D n / Q", "{displacement} x {speed} / {flow}", _motor_efficiency,
                f"{_BOOK}, Example 7-6, p. 267",
            ),
            Way(
                ("flow", "displacement", "speed", "torque", "pressure"), _SPLIT,
                "eta_v = D n / Q", "{displacement} x {speed} / {flow}", _motor_efficiency,
                f"{_BOOK}, Example 7-6, p. 267",
            ),
        ),
        caution=True,
    ),
)  # fmt: skip

DRIVES: Final = (
    Formula(
        "hydraulic-power", "Power in a flow over a pressure drop.",
        (_Q, Input("pressure", "pressure_drop", "pressure drop", negative=True)),
        (Way(
            ("flow", "pressure"), (POWER,), "P = Q dp", "{flow} x {pressure}",
            physics("machines.hydraulic_power", "power", **_RENAME),
            f"{_BOOK}, Example 3-15, p. 114",
        ),),
    ),
    Formula(
        "shaft-power", "Power of a turning shaft.", (_T, _N),
        (Way(
            ("torque", "speed"), (POWER,), "P = T n", "{torque} x {speed}",
            physics("machines.shaft_power", "power"), f"{_BOOK}, Example 7-6, p. 267",
        ),),
    ),
    Formula(
        "shaft-torque", "Torque of a shaft that carries a power.", (_W, _N),
        (Way(
            ("power", "speed"), (TORQUE,), "T = P / n", "{power} / {speed}",
            physics("machines.torque_from_power", "torque"), f"{_BOOK}, Example 3-16, p. 114",
        ),),
    ),
    Formula(
        "drive-ratio", "Ratio of a pump drive: pump speed over engine speed.",
        (
            Input("pump_speed", "shaft_speed", "speed of the pump"),
            Input("engine_speed", "shaft_speed", "speed of the engine"),
        ),
        (Way(
            ("pump_speed", "engine_speed"), (Output("drive_ratio", "ratio"),),
            "r = n_pump / n_engine", "{pump_speed} / {engine_speed}",
            physics("machines.drive_ratio", "drive_ratio"),
            "trade journal article on specifying power take-offs (67 % for 1000 over 1500 rpm)",
        ),),
    ),
    Formula(
        "drive-rating", "Power for which a power take-off must be rated (FED-STD-794).",
        (
            Input("pressure", "pressure", "working pressure"),
            Input("flow", "flow", "flow of the pump"),
        ),
        (Way(
            ("pressure", "flow"), (POWER,), "P = 1.5 p Q / 0.85",
            "1.5 x {pressure} x {flow} / 0.85",
            physics("machines.drive_power_rating", "power"), "FED-STD-794, p. 10",
        ),),
    ),
    Formula(
        "divider-pressure", "Pressure to which one outlet of a gear flow divider can rise.",
        (
            Input("pressure", "pressure", "pressure at the divider's inlet"),
            Input("share", "fraction", "this section's share of the displacement", "50 %"),
            Input("other_pressure", "pressure", "pressure at the other outlets", "0 psi"),
        ),
        (Way(
            ("pressure", "share", "other_pressure"), (Output("outlet_pressure", "pressure"),),
            "p_1 = p_other + (p_in - p_other) / share",
            "{other_pressure} + ({pressure} - {other_pressure}) / {share}",
            physics("machines.divider_intensified_pressure", "outlet_pressure",
                    pressure="inlet_pressure"),
            "textbook on fluid power circuits, chapter on flow dividers, p. 6",
        ),),
    ),
)  # fmt: skip
