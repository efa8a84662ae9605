"""What a search for the worst operating point seeks the highest of, (W, N) each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hydrocheck.solver import Result, solved_functions
from hydrocheck.studies.budget import available_flow
from hydrocheck.studies.work import Solved

if TYPE_CHECKING:
    from hydrocheck.checks.inspection import Inspection
    from hydrocheck.model import Truck

Array = NDArray[np.float64]
Places = NDArray[np.intp]


def shares_missing(solved: Solved) -> Array:
    """Share of its wanted flow that each function lacks, (N, M)."""
    wanted = solved.wanted
    return np.divide(solved.shortfall, wanted, out=np.zeros_like(wanted), where=wanted > 0)


def missing(solved: Solved) -> Array:
    """The greatest share of its flow that a function lacks."""
    worst: Array = shares_missing(solved).max(axis=1, initial=0.0)[None]
    return worst


def outlets(solved: Solved) -> Array:
    """Outlet pressure of every motor that is asked to turn."""
    result = solved.result
    pressures = result.motor_outlet.transpose(0, 2, 1)  # (S, M, N)
    asked = (solved.work.asked > 0).T
    rows: Array = np.where(asked, pressures, 0.0).reshape(-1, result.size)
    under_pressure: Array = rows[rows.max(axis=1, initial=0.0) > 0]
    return under_pressure


def over_oil(solved: Solved) -> Array:
    """Missing flow and outlet pressures."""
    return np.concatenate([missing(solved), outlets(solved)])


def motor_speed(function: str, solved: Solved) -> Array:
    """Speed of a function's motors."""
    result = solved.result
    speeds: Array = result.motor_speed[:, :, result.column(function)]
    return speeds


def at_work(look: Inspection, solved: Solved) -> Array:
    """Missing flow, tightness of the pump's flow, torque at the engine, losses of lines."""
    total = solved.wanted.sum(axis=1)
    tight = total / np.maximum(available_flow(look.truck, solved), 1e-12)
    shares, _ = line_shares(look.truck, solved.result)
    rows = [missing(solved)[0], tight, shares]
    if look.truck.engine.torque_curve:
        speeds, torques = np.array(look.truck.engine.torque_curve, dtype=np.float64).T
        has = np.interp(solved.result.engine_speed, speeds, torques)
        rows.append(solved.result.pump_torque / np.maximum(has, 1e-12))
    return np.stack(rows)


def line_drops(truck: Truck, result: Result, m: Places) -> dict[str, Array]:
    """Drop of the lines on the way of function m at each point [Pa], (N,), by what they carry."""
    row = np.arange(result.size)
    last = np.array([max(len(f.motor), 1) - 1 for f in solved_functions(truck)], dtype=np.intp)
    outlet = result.motor_outlet[last[m], row, m]
    return {
        "pressure": result.pump_pressure - result.inlet_pressure,
        "work supply": result.work_pressure[row, m] - result.motor_inlet[0][row, m],
        "work return": outlet - result.return_pressure,
        "return": result.return_pressure,
    }


def line_shares(truck: Truck, result: Result) -> tuple[Array, Places]:
    """Share of the pump's pressure lost in lines, and the function of the highest load, (N,)."""
    if not result.functions:
        return np.zeros(result.size), np.zeros(result.size, dtype=np.intp)
    heaviest = np.argmax(np.where(result.flow > 0, result.work_pressure, -1.0), axis=1)
    moving = result.flow[np.arange(result.size), heaviest] > 0
    total = np.sum(list(line_drops(truck, result, heaviest).values()), axis=0)
    shares = np.where(moving, total / np.maximum(result.pump_pressure, 1.0), 0.0)
    return shares, heaviest
