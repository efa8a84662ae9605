"""One solved operating point as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence

from hydrocheck.model.circuit import Circuit
from hydrocheck.report.shown import NEGLIGIBLE, shown, shown_json
from hydrocheck.report.text import heading, pairs, paragraph, table
from hydrocheck.solver import FunctionLimit, Result, SupplyLimit
from hydrocheck.studies.closedloop import LoopState
from hydrocheck.studies.liquiddelivery import LiquidDelivery
from hydrocheck.studies.work import Solved

SUPPLY_WORDS = {
    SupplyLimit.FLOW: "the circuit takes all the pump's flow",
    SupplyLimit.STANDBY: "pump destroked, at standby",
    SupplyLimit.LOAD_SIGNAL: "pump destroked, at load pressure plus LS margin",
    SupplyLimit.COMPENSATOR: "pump destroked, at the compensator",
    SupplyLimit.FULL_STROKE: "pump at full stroke: its flow is used up",
    SupplyLimit.TORQUE_LIMIT: "pump held back by its torque limiter",
    SupplyLimit.RELIEF: "a relief valve passes flow",
}
FUNCTION_WORDS = {
    FunctionLimit.OFF: "off",
    FunctionLimit.COMMAND: "its command",
    FunctionLimit.SHORT: "short of flow or pressure",
    FunctionLimit.STALL: "stalled",
    FunctionLimit.PORT_RELIEF: "its port relief",
    FunctionLimit.LOWERING: "its load lowers it",
    FunctionLimit.STOP: "end of its stroke",
}

_POINT = (
    ("engine speed", "engine_speed", "shaft_speed"),
    ("pump speed", "pump_speed", "shaft_speed"),
    ("oil", "oil_temperature", "temperature"),
    ("oil viscosity", "viscosity", "kinematic_viscosity"),
    ("pump pressure", "pump_pressure", "pressure"),
    ("bank inlet pressure", "inlet_pressure", "pressure"),
    ("load-sensing pressure", "load_signal", "pressure"),
    ("return pressure", "return_pressure", "pressure"),
    ("pump flow", "pump_flow", "flow"),
    ("pump slip", "pump_slip", "flow"),
    ("stroke", "stroke", "fraction"),
    ("pump torque", "pump_torque", "torque"),
    ("power into the pump", "shaft_power", "power"),
    ("power to the loads", "mechanical_power", "power"),
    ("return flow", "return_flow", "flow"),
)
_OF_ALL = ("engine_speed", "oil_temperature", "viscosity", "return_pressure", "return_flow")
_OF_A_PUMP = (
    "pump_speed",
    "pump_pressure",
    "inlet_pressure",
    "load_signal",
    "pump_flow",
    "pump_slip",
    "stroke",
    "pump_torque",
)


def point_text(
    truck: str,
    circuit: Circuit,
    solved: Solved,
    units: str,
    liquid: Sequence[LiquidDelivery] = (),
    loops: Sequence[LoopState] = (),
) -> str:
    """Everything about one point: supply, functions, heat, residuals."""
    result = solved.result
    if result.supplies:
        whole = _values(result, units, _OF_A_PUMP)
        supply = [pairs([(k.replace("the pump", "the pumps"), v) for k, v in whole])]
        supply += [
            f"Pump: {part.pumps[0]}\n" + pairs(_supply(circuit, part, units, _OF_ALL))
            for part in result.supplies
        ]
    else:
        supply = [pairs(_supply(circuit, result, units, ()))]
    headers = ["function", "wanted", "flow", "speed", "work port", "its drop", "limited by"]
    rows = [_function_row(circuit, solved, m, units) for m in range(len(result.functions))]
    heat = [
        [name, shown(float(q[0]), "power", units)]
        for name, q in result.heat.items()
        if q[0] > NEGLIGIBLE["power"]
    ]
    heat.append(["total", shown(float(result.total_heat[0]), "power", units)])
    check = paragraph(
        "Balance check, missing share: flow "
        f"{_share(float(result.flow_residual[0]))}, power "
        f"{_share(float(result.energy_residual[0]))}."
    )
    return "\n\n".join(
        [
            heading(f"Steady state of {truck}: {solved.work.scenario.name}"),
            *supply,
            table(headers, rows, align="lrrrrrl"),
            *_loops(loops, units),
            *_liquids(liquid, units),
            "Heat by element\n" + table(["element", "heat"], heat),
            check,
        ]
    )


def _supply(
    circuit: Circuit, result: Result, units: str, skip: tuple[str, ...]
) -> list[tuple[str, str]]:
    """One pump, less the keys to skip."""
    pump = next(p for p in circuit.pump if p.name == result.pumps[0])
    skip += () if pump.type == "load sensing" else ("load_signal",)
    skip += ("stroke",) if pump.type == "fixed" else ()
    rows = _values(result, units, skip)
    rows += [
        (f"flow over {n}", shown(float(q[0]), "flow", units))
        for n, q in result.relief_flow.items()
        if q[0] > NEGLIGIBLE["flow"]
    ]
    rows.append(("what limits", SUPPLY_WORDS[SupplyLimit(int(result.supply_limit[0]))]))
    return rows


def _values(result: Result, units: str, skip: tuple[str, ...]) -> list[tuple[str, str]]:
    return [
        (label, shown(float(getattr(result, key)[0]), kind, units))
        for label, key, kind in _POINT
        if key not in skip
    ]


def _function_row(circuit: Circuit, solved: Solved, m: int, units: str) -> list[str]:
    result = solved.result
    name = result.functions[m]
    speed_kind = _speed_kind(circuit, name)
    on = result.asked[0, m] > 0
    back = float(result.lowered[0, m])
    values = (
        (float(solved.wanted[0, m]), "flow"),
        (-back if back else float(result.flow[0, m]), "flow"),
        (float(result.speed[0, m]), speed_kind),
        (float(result.work_pressure[0, m]), "pressure"),
        (float(result.motor_drop[0, 0, m]), "pressure"),
    )
    cells = [shown(value, kind, units) if on and kind else "-" for value, kind in values]
    return [name, *cells, FUNCTION_WORDS[FunctionLimit(int(result.function_limit[0, m]))]]


def _loops(loops: Sequence[LoopState], units: str) -> list[str]:
    """A line for each closed loop."""
    lines = []
    for one in loops:
        command = shown(float(one.command[0]), "fraction", units)
        ordered = shown(one.ordered, "shaft_speed", units)
        says = f"holds {ordered} at a command of {command}."
        if one.out_of_command[0]:
            speed = shown(float(one.speed[0]), "shaft_speed", units)
            says = f"is out of command: {speed} of {ordered} at {command}, its maximum trim."
        lines.append(paragraph(f"The closed loop of {one.function} {says}"))
    return lines


def _loops_json(loops: Sequence[LoopState], units: str) -> dict[str, object]:
    return {
        one.function: {
            "ordered": shown_json(one.ordered, "shaft_speed", units),
            "command": shown_json(float(one.command[0]), "fraction", units),
            "out_of_command": bool(one.out_of_command[0]),
        }
        for one in loops
    }


_LIQUID = (("speed", "shaft_speed"), ("flow", "flow"), ("pressure", "pressure"), ("power", "power"))


def _liquids(liquid: Sequence[LiquidDelivery], units: str) -> list[str]:
    """What the liquid pumps give, and a line for each that its nozzles ask too much of."""
    if not liquid:
        return []
    rows = [
        [
            one.function + (", electric" if one.electric else ""),
            *(shown(float(getattr(one, key)[0]), kind, units) for key, kind in _LIQUID),
        ]
        for one in liquid
    ]
    headers = ["liquid pump", "speed", "liquid", "at nozzles", "at its shaft"]
    over = [
        paragraph(
            f"The nozzles of {one.function} ask more than the "
            f"{shown(one.rating, 'pressure', units)} that its pump is rated for."
        )
        for one in liquid
        if one.rating is not None and one.beyond_rating[0]
    ]
    return [table(headers, rows, align="lrrrr"), *over]


def _liquid_json(liquid: Sequence[LiquidDelivery], units: str) -> dict[str, object]:
    return {
        one.function: {
            **{key: shown_json(float(getattr(one, key)[0]), kind, units) for key, kind in _LIQUID},
            "electric": one.electric,
            "beyond_rating": bool(one.beyond_rating[0]),
        }
        for one in liquid
    }


def _share(residual: float) -> str:
    return f"{residual:.0e}" if residual else "0"


def _speed_kind(circuit: Circuit, name: str) -> str:
    """Kind of a function's speed; empty where only a pressure is known."""
    function = next(f for f in circuit.function if f.name == name)
    if function.cylinder is not None:
        return "velocity"
    return "shaft_speed" if function.motor else ""


def point_json(
    circuit: Circuit,
    solved: Solved,
    units: str,
    liquid: Sequence[LiquidDelivery] = (),
    loops: Sequence[LoopState] = (),
) -> dict[str, object]:
    """The point for the JSON envelope."""
    result = solved.result
    whole = _supply_json(result, units)
    if result.supplies:
        for key in (*_OF_A_PUMP, "supply_limit"):
            del whole[key]
        whole["supplies"] = {part.pumps[0]: _supply_json(part, units) for part in result.supplies}
    return {
        "scenario": solved.work.scenario.name,
        **whole,
        "functions": {
            name: _function_json(circuit, solved, m, units)
            for m, name in enumerate(result.functions)
        },
        **({"closed_loop": _loops_json(loops, units)} if loops else {}),
        **({"liquid": _liquid_json(liquid, units)} if liquid else {}),
        "heat": {n: shown_json(float(q[0]), "power", units) for n, q in result.heat.items()},
        "total_heat": shown_json(float(result.total_heat[0]), "power", units),
        "flow_residual": float(result.flow_residual[0]),
        "energy_residual": float(result.energy_residual[0]),
    }


def _supply_json(result: Result, units: str) -> dict[str, object]:
    return {
        **{key: shown_json(float(getattr(result, key)[0]), kind, units) for _, key, kind in _POINT},
        "supply_limit": SupplyLimit(int(result.supply_limit[0])).name.lower(),
        "relief_flow": {
            n: shown_json(float(q[0]), "flow", units) for n, q in result.relief_flow.items()
        },
    }


def _function_json(circuit: Circuit, solved: Solved, m: int, units: str) -> dict[str, object]:
    result: Result = solved.result
    kinds = {
        "asked": "flow",
        "flow": "flow",
        "lowered": "flow",
        "work_pressure": "pressure",
        "section_drop": "pressure_drop",
        "case_flow": "flow",
    }
    values: dict[str, object] = {
        key: shown_json(float(getattr(result, key)[0, m]), kind, units)
        for key, kind in kinds.items()
    }
    values["wanted"] = shown_json(float(solved.wanted[0, m]), "flow", units)
    speed_kind = _speed_kind(circuit, result.functions[m])
    if speed_kind:
        values["speed"] = shown_json(float(result.speed[0, m]), speed_kind, units)
    values["motor_drop"] = [
        shown_json(float(d), "pressure_drop", units) for d in result.motor_drop[:, 0, m]
    ]
    values["limit"] = FunctionLimit(int(result.function_limit[0, m])).name.lower()
    return values
