"""A result with the cylinders that the pump does not move: lowered by their load, or at a stop.

Powers of a load that drives a cylinder in, at v = q / A_p:

    to the load       - F v
    heat              seals (1 - eta) F v, section and hose by their own laws, and the return line's
                      for all that passes it

The residual of energy is taken again with them.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.lowering import FedReturn, Lowering
from hydrocheck.solver.needs import Mask
from hydrocheck.solver.pipes import Pipes
from hydrocheck.solver.points import Points
from hydrocheck.solver.result import FunctionLimit, Result


def with_motions(result: Result, points: Points, returns: Pipes | FedReturn) -> Result:
    """A result of the pump's side, with what lowers and what stands at a stop."""
    if points.stop.any():
        stands = (points.stop > 0) & (result.asked > 0)
        limit = np.where(stands, FunctionLimit.STOP, result.function_limit)
        result = replace(result, function_limit=limit.astype(np.int64))
    if not isinstance(returns, FedReturn):
        return result
    flows = returns.flows(result.return_flow)
    whole = result.return_flow.copy()
    for one, flow in zip(returns.lowering, flows, strict=True):
        whole += (1.0 - one.rod_share) * flow
    heat = {**result.heat, "return line": returns.pipes.drop(whole)[0] * whole}
    result = replace(result, return_flow=whole, heat=heat)
    for one, flow in zip(returns.lowering, flows, strict=True):
        result = _lowered(result, one, flow)
    total = result.total_heat
    lost = np.abs(result.shaft_power - result.mechanical_power - total)
    scale = np.maximum(np.maximum(np.abs(result.shaft_power), total), 1e-9)
    return replace(result, energy_residual=lost / scale)


def _lowered(result: Result, one: Lowering, flow: Array) -> Result:
    """A result with one function's lowering, at its flow [m3/s], (N,)."""
    m, level = one.column, result.return_pressure
    opened = one.commanded > 0.0
    speed = flow / one.area
    share = flow / np.where(opened, one.commanded, 1.0)
    across = one.drop * share**2
    hose = one.hose.drop(flow)[0]
    given = -one.force * speed
    heat = dict(result.heat)
    for element, more in (
        ("section", across * flow),
        ("lines", hose * flow),
        ("machine", (1.0 - one.efficiency) * one.force * speed),
    ):
        heat[f"{one.name} {element}"] = heat[f"{one.name} {element}"] + more
    limit = np.where(flow > 0.0, FunctionLimit.LOWERING, FunctionLimit.STALL)
    by_stage = {
        "motor_speed": speed,
        "motor_drop": -one.pushed,
        "motor_inlet": np.where(one.rod_share > 0.0, level, 0.0),
        "motor_outlet": one.pushed + one.rod_share * level,
        "torque": one.force,
    }
    by_function = {
        "asked": one.commanded,
        "lowered": flow,
        "speed": speed,
        "work_pressure": level + across,
        "section_drop": across,
        "function_limit": limit.astype(np.int64),
    }
    changed: dict[str, Any] = {
        key: _put(getattr(result, key), m, value, opened) for key, value in by_function.items()
    }
    for key, value in by_stage.items():
        stages = getattr(result, key).copy()
        stages[0] = _put(stages[0], m, value, opened)
        changed[key] = stages
    power = result.mechanical_power + given
    return replace(result, mechanical_power=power, heat=heat, **changed)


def _put(values: Array, column: int, new: Any, rows: Mask) -> Array:
    """Values (N, M) with those of one function replaced at some points."""
    out = np.array(values)
    out[:, column] = np.where(rows, new, out[:, column])
    return out
