"""Formulas of cylinders."""

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

_BORE: Final = Input("bore", "length", "bore of the cylinder")
_ROD: Final = Input("rod", "length", "rod diameter")
_COUNT: Final = Input("count", "count", "equal cylinders that share the work", "1")
_FLOW: Final = Input("flow", "flow", "flow into the cylinder")
_PRESSURE: Final = Input("pressure", "pressure", "pressure at the piston")
_LOAD: Final = Input("load", "force", "load on all cylinders together")
_STROKE: Final = Input("stroke", "length", "stroke")
_TIME: Final = Input("time", "time", "time of the stroke")

_PLAIN: Final = ("bore", "count")
_RODDED: Final = ("bore", "rod", "count")


def _areas(values: Values) -> dict[str, float]:
    """The piston area, and the rod-side area where a rod is given."""
    from hydrocheck.physics.loads import annulus_area, piston_area

    areas = {"piston_area": float(piston_area(values["bore"], values["count"]))}
    if "rod" in values:
        areas["rod_side_area"] = float(annulus_area(values["bore"], values["rod"], values["count"]))
    return areas


def _speeds(values: Values) -> Result:
    from hydrocheck.physics.loads import cylinder_speed, retract_return_flow

    areas = _areas(values)
    answer = dict(areas)
    answer["extend_speed"] = float(cylinder_speed(values["flow"], areas["piston_area"]))
    if "rod" in values:
        answer["retract_speed"] = float(cylinder_speed(values["flow"], areas["rod_side_area"]))
        answer["return_flow_while_retracting"] = float(
            retract_return_flow(values["flow"], values["bore"], values["rod"])
        )
    return answer


def _forces(values: Values) -> Result:
    areas = _areas(values)
    answer = areas | {"push": values["pressure"] * areas["piston_area"]}
    if "rod" in values:
        answer["pull"] = values["pressure"] * areas["rod_side_area"]
    return answer


def _pressures(values: Values) -> Result:
    from hydrocheck.physics.loads import extend_pressure, retract_pressure

    answer = _areas(values)
    load, bore, count = values["load"], values["bore"], values["count"]
    answer["extend_pressure"] = float(extend_pressure(load, bore, count))
    if "rod" in values:
        answer["retract_pressure"] = float(retract_pressure(load, bore, values["rod"], count))
    return answer


def _times(values: Values) -> Result:
    from hydrocheck.physics.loads import stroke_time

    answer = _areas(values)
    flow, stroke = values["flow"], values["stroke"]
    answer["extend_time"] = float(stroke_time(flow, answer["piston_area"], stroke))
    if "rod" in values:
        answer["retract_time"] = float(stroke_time(flow, answer["rod_side_area"], stroke))
    return answer


def _flows(values: Values) -> Result:
    from hydrocheck.physics.loads import stroke_flow

    answer = _areas(values)
    stroke, time = values["stroke"], values["time"]
    answer["extend_flow"] = float(stroke_flow(answer["piston_area"], stroke, time))
    if "rod" in values:
        answer["retract_flow"] = float(stroke_flow(answer["rod_side_area"], stroke, time))
    return answer


_PISTON_AREA: Final = Output("piston_area", "area")
_ROD_SIDE_AREA: Final = Output("rod_side_area", "area")

CYLINDERS: Final = (
    Formula(
        "cylinder-speed", "Speed of a cylinder on a flow, and what flows back.",
        (_FLOW, _BORE, _ROD, _COUNT),
        (
            Way(
                ("flow", *_RODDED),
                (
                    Output("extend_speed", "velocity"), Output("retract_speed", "velocity"),
                    Output("return_flow_while_retracting", "flow"), _PISTON_AREA, _ROD_SIDE_AREA,
                ),
                "v = Q / A", "{flow} / {piston_area}", _speeds, f"{_BOOK}, Example 6-1, p. 219",
            ),
            Way(
                ("flow", *_PLAIN), (Output("extend_speed", "velocity"), _PISTON_AREA),
                "v = Q / A", "{flow} / {piston_area}", _speeds, f"{_BOOK}, Example 6-1, p. 219",
            ),
        ),
    ),
    Formula(
        "cylinder-force", "Push and pull of a cylinder at a pressure, without friction.",
        (_PRESSURE, _BORE, _ROD, _COUNT),
        (
            Way(
                ("pressure", *_RODDED),
                (Output("push", "force"), Output("pull", "force"), _PISTON_AREA, _ROD_SIDE_AREA),
                "F = p A", "{pressure} x {piston_area}", _forces,
                "geometry; back pressure and friction take from it",
            ),
            Way(
                ("pressure", *_PLAIN), (Output("push", "force"), _PISTON_AREA),
                "F = p A", "{pressure} x {piston_area}", _forces,
                "geometry; back pressure and friction take from it",
            ),
        ),
    ),
    Formula(
        "cylinder-pressure", "Pressure that moves a load, without friction.",
        (_LOAD, _BORE, _ROD, _COUNT),
        (
            Way(
                ("load", *_RODDED),
                (
                    Output("extend_pressure", "pressure"), Output("retract_pressure", "pressure"),
                    _PISTON_AREA, _ROD_SIDE_AREA,
                ),
                "p = F / A", "{load} / {piston_area}", _pressures,
                f"{_BOOK}, Example 6-1, p. 219",
            ),
            Way(
                ("load", *_PLAIN), (Output("extend_pressure", "pressure"), _PISTON_AREA),
                "p = F / A", "{load} / {piston_area}", _pressures,
                f"{_BOOK}, Example 6-1, p. 219",
            ),
        ),
    ),
    Formula(
        "cylinder-time", "Time of a stroke on a flow.", (_FLOW, _BORE, _ROD, _STROKE, _COUNT),
        (
            Way(
                ("flow", "stroke", *_RODDED),
                (
                    Output("extend_time", "time"), Output("retract_time", "time"),
                    _PISTON_AREA, _ROD_SIDE_AREA,
                ),
                "t = A s / Q", "{piston_area} x {stroke} / {flow}", _times,
                "geometry, from memory",
            ),
            Way(
                ("flow", "stroke", *_PLAIN), (Output("extend_time", "time"), _PISTON_AREA),
                "t = A s / Q", "{piston_area} x {stroke} / {flow}", _times,
                "geometry, from memory",
            ),
        ),
    ),
    Formula(
        "cylinder-flow", "Flow that makes a stroke in a time.",
        (_BORE, _ROD, _STROKE, _TIME, _COUNT),
        (
            Way(
                ("stroke", "time", *_RODDED),
                (
                    Output("extend_flow", "flow"), Output("retract_flow", "flow"),
                    _PISTON_AREA, _ROD_SIDE_AREA,
                ),
                "Q = A s / t", "{piston_area} x {stroke} / {time}", _flows,
                "geometry, from memory",
            ),
            Way(
                ("stroke", "time", *_PLAIN), (Output("extend_flow", "flow"), _PISTON_AREA),
                "Q = A s / t", "{piston_area} x {stroke} / {time}", _flows,
                "geometry, from memory",
            ),
        ),
    ),
    Formula(
        "cylinder-bore", "Bore that carries a load at a pressure.", (_LOAD, _PRESSURE, _COUNT),
        (Way(
            ("load", "pressure", "count"), (Output("bore", "length"),),
            "d = sqrt(4 F / (pi p z))", "sqrt(4 x {load} / (pi x {pressure} x {count}))",
            physics("loads.bore_for_load", "bore"),
            "Fluid Power: Theory and Applications (4th ed.), Example 8.1, p. 172",
        ),),
    ),
)  # fmt: skip
