"""Several pumps over one return line.

Each pump with its banks is a network of its own. They meet in the return manifold alone, whose
pressure p_r = R(sum of what they return) is the same for all. With p_r given each network is solved
as if it were alone; what it returns falls, or stays, as p_r rises, so that p_r is one root.
"""

from __future__ import annotations

from dataclasses import replace
from functools import reduce
from typing import Any

import numpy as np

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.account import account
from hydrocheck.solver.balance import find_balance, most_returned
from hydrocheck.solver.needs import Index
from hydrocheck.solver.network import Network, Plant
from hydrocheck.solver.pipes import Level
from hydrocheck.solver.points import Points
from hydrocheck.solver.result import BY_FUNCTION, BY_STAGE, Result
from hydrocheck.solver.roots import secant
from hydrocheck.solver.state import State

SUMS = ("passed", "return_flow", "shaft_power", "mechanical_power")


def solve_together(points: Points, plant: Plant) -> Result:
    """The result of all pumps: their own in `supplies`, and the sums."""
    size, networks = points.size, plant.networks
    line = plant.return_line
    if line.series:
        nothing = np.zeros(size)
        most = line.drop(nothing + sum(most_returned(network) for network in networks))[0]

        def falling(returns: Array, index: Index) -> Array:
            flow = np.zeros(index.size)
            for network in networks:
                part = network.part(index, size)
                flow = flow + _at(part, returns)[1].returned
            back = line if index.size == size else line.take(index)
            return np.asarray(back.drop(flow)[0] - returns)

        returns = secant(falling, most, nothing, slope=-1.0)
        found = [_at(network, returns) for network in networks]
    else:
        found = [(network, find_balance(network, size)) for network in networks]
    parts = [
        _renamed(account(points, network, state, name), name)
        for name, (network, state) in zip(plant.names, found, strict=True)
    ]
    return _sum(parts, plant, size)


def _at(network: Network, returns: Array) -> tuple[Network, State]:
    """A network and its balance over a return manifold at a pressure [Pa], (n,)."""
    held = replace(network, return_line=Level(returns, network.return_line.series))
    return held, find_balance(held, returns.size)


def _renamed(result: Result, pump: str) -> Result:
    """The heat of the pump and its line under the pump's name."""
    own = ("pump slip", "pump friction", "pressure line")
    words = {
        key: f"{pump} {key.removeprefix('pump ')}" if key in own else key for key in result.heat
    }
    return replace(result, heat={words[key]: heat for key, heat in result.heat.items()})


def _sum(parts: list[Result], plant: Plant, size: int) -> Result:
    """All pumps: functions in the circuit's order; flows, powers and heat that add up."""
    columns = [column for own in plant.columns for column in own]
    place = np.argsort(columns, kind="stable")
    depth = max(part.motor_speed.shape[0] for part in parts)

    def by_function(key: str) -> Array:
        return np.concatenate([getattr(part, key) for part in parts], axis=1)[:, place]

    def by_stage(key: str) -> Array:
        wide = []
        for part in parts:
            values = getattr(part, key)
            more = np.zeros((depth - values.shape[0], size, values.shape[2]))
            wide.append(np.concatenate([values, more], axis=0))
        return np.concatenate(wide, axis=2)[:, :, place]

    def total(key: str) -> Array:
        return np.asarray(sum(getattr(part, key) for part in parts))

    returned = total("return_flow")
    heat: dict[str, Array] = {}
    for part in parts:
        for key, value in part.heat.items():
            heat[key] = heat[key] + value if key in heat else value
    if plant.return_line.series:
        heat["return line"] = plant.return_line.drop(returned)[0] * returned
    shaft, mechanical = total("shaft_power"), total("mechanical_power")
    lost = sum(heat.values())
    scale = np.maximum(np.maximum(np.abs(shaft), lost), 1e-9)
    functions = [name for part in parts for name in part.functions]
    sums: dict[str, Any] = {key: total(key) for key in SUMS}
    sums |= {key: by_function(key) for key in BY_FUNCTION}
    sums |= {key: by_stage(key) for key in BY_STAGE}
    return replace(
        parts[0],
        functions=tuple(functions[k] for k in place),
        pumps=plant.names,
        supplies=tuple(parts),
        relief_flow=reduce(lambda a, b: {**a, **b}, (dict(part.relief_flow) for part in parts)),
        heat=heat,
        flow_residual=np.maximum.reduce([part.flow_residual for part in parts]),
        energy_residual=np.abs(shaft - mechanical - lost) / scale,
        **sums,
    )
