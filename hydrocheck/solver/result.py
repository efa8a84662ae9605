"""What a solve returns: the steady state of N points, complete, with its residuals."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError
from hydrocheck.physics.arrays import Array


class SupplyLimit(IntEnum):
    """What sets the pressure at the pump."""

    FLOW = 0  # a fixed pump: the circuit takes all its flow
    STANDBY = 1  # destroked at standby
    LOAD_SIGNAL = 2  # destroked at load pressure plus margin
    COMPENSATOR = 3  # destroked at the compensator
    FULL_STROKE = 4  # all the pump's flow is used: something starves
    TORQUE_LIMIT = 5  # held back by the torque limiter
    RELIEF = 6  # a relief passes flow


class FunctionLimit(IntEnum):
    """What sets the flow of a function."""

    OFF = 0
    COMMAND = 1  # it gets what its command asks
    SHORT = 2  # the pressure or flow left for it is too small
    STALL = 3  # it is opened and does not move, or one of its motors does not
    PORT_RELIEF = 4  # its port relief passes part of its flow
    LOWERING = 5  # its load drives it in
    STOP = 6  # it stands at the end of its stroke


BY_FUNCTION = (
    "asked", "flow", "motor_flow", "lowered", "speed", "work_pressure", "section_drop", "case_flow",
    "function_limit",
)  # fmt: skip
"""Attributes of a result of shape (N, M)."""
BY_STAGE = ("motor_speed", "motor_drop", "motor_inlet", "motor_outlet", "torque")
"""Attributes of a result of shape (S, N, M)."""


@dataclass(frozen=True)
class Result:
    """The steady state at N points of a circuit with M functions. All gauge, SI.

    functions: their names, in the order of the columns; pumps: names
    engine_speed, pump_speed: [rad/s], (N,); oil_temperature: [K], (N,); viscosity: [m2/s], (N,)
    pump_pressure, inlet_pressure, return_pressure, load_signal: at the pump, the bank inlet, the
        return
        manifold and the LS port [Pa], (N,)
    pump_flow: delivered by the pump [m3/s], (N,); pump_slip: [m3/s], (N,); stroke: x [1], (N,)
    pump_torque: [N m], (N,); shaft_power: into the pump [W], (N,)
    main_flow: through the pressure line [m3/s], (N,); passed: open-centre remainder [m3/s], (N,)
    relief_flow: by relief name [m3/s], (N,) each; return_flow: [m3/s], (N,)
    asked: commanded section flow [m3/s], (N, M); flow: section flow [m3/s], (N, M)
    motor_flow: flow into the work line [m3/s], (N, M)
    lowered: flow out of a cylinder that its load drives in [m3/s], (N, M); a double-acting one
        draws a part of it again
    speed: of the load shaft [rad/s], or of a cylinder [m/s], (N, M) (first of several motors)
    motor_speed: of the motor shaft [rad/s] or the cylinder [m/s], by stage, (S, N, M): motors in
        series or in parallel, in the order of the model
    motor_drop: inlet less outlet share times outlet pressure [Pa], by stage, (S, N, M); negative
        where a load drives a cylinder in
    motor_inlet, motor_outlet: pressure at each stage's ports [Pa], (S, N, M)
    torque: at the load shaft [N m], or force [N], by stage, (S, N, M)
    work_pressure: at the valve's work port [Pa], (N, M); section_drop: [Pa], (N, M)
    case_flow: drain flow [m3/s], (N, M)
    mechanical_power: given to the loads [W], (N,); heat: by element [W], (N,) each
    supply_limit: SupplyLimit, (N,); function_limit: FunctionLimit, (N, M)
    flow_residual, energy_residual: relative imbalances [1], (N,)

    With several pumps `supplies` has the result of each with its own functions. Pump, bank inlet
    and load signal are then the first pump's here; powers, heat, reliefs and what returns are those
    of all.
    """

    functions: tuple[str, ...]
    pumps: tuple[str, ...]
    engine_speed: Array
    pump_speed: Array
    oil_temperature: Array
    viscosity: Array
    pump_pressure: Array
    inlet_pressure: Array
    return_pressure: Array
    load_signal: Array
    pump_flow: Array
    pump_slip: Array
    stroke: Array
    pump_torque: Array
    shaft_power: Array
    main_flow: Array
    passed: Array
    relief_flow: Mapping[str, Array]
    return_flow: Array
    asked: Array
    flow: Array
    motor_flow: Array
    lowered: Array
    speed: Array
    motor_speed: Array
    motor_drop: Array
    motor_inlet: Array
    motor_outlet: Array
    torque: Array
    work_pressure: Array
    section_drop: Array
    case_flow: Array
    mechanical_power: Array
    heat: Mapping[str, Array]
    supply_limit: NDArray[np.int64]
    function_limit: NDArray[np.int64]
    flow_residual: Array
    energy_residual: Array
    supplies: tuple[Result, ...] = ()

    @property
    def size(self) -> int:
        """N, the number of points."""
        return int(self.engine_speed.size)

    @property
    def total_heat(self) -> Array:
        """Sum of the heat of all elements [W], (N,)."""
        total: Array = np.sum(list(self.heat.values()), axis=0)
        return total

    def column(self, name: str) -> int:
        """The column of a function. Raises DomainError, with those that there are."""
        if name not in self.functions:
            have = ", ".join(self.functions) or "none"
            raise DomainError(f"no function '{name}' in the result; there is: {have}")
        return self.functions.index(name)

    def rows(self, start: int, stop: int) -> Result:
        """The points from `start` up to `stop`."""
        return self._each(lambda array, axis: array[(slice(None),) * axis + (slice(start, stop),)])

    def joined(self, other: Result) -> Result:
        """These points and then those of another result of the same circuit."""
        values: dict[str, Any] = {}
        for key in self.__dataclass_fields__:
            mine, more = getattr(self, key), getattr(other, key)
            if isinstance(mine, Mapping):
                values[key] = {k: np.concatenate([v, more[k]]) for k, v in mine.items()}
            elif isinstance(mine, np.ndarray):
                values[key] = np.concatenate([mine, more], axis=_axis(mine))
            elif key == "supplies":
                values[key] = tuple(a.joined(b) for a, b in zip(mine, more, strict=True))
            else:
                values[key] = mine
        return Result(**values)

    def _each(self, pick: Callable[[Array, int], Array]) -> Result:
        """A function of every array and its axis of points."""
        values: dict[str, Any] = {}
        for key in self.__dataclass_fields__:
            mine = getattr(self, key)
            if isinstance(mine, Mapping):
                values[key] = {k: pick(v, 0) for k, v in mine.items()}
            elif isinstance(mine, np.ndarray):
                values[key] = pick(mine, _axis(mine))
            elif key == "supplies":
                values[key] = tuple(part._each(pick) for part in mine)
            else:
                values[key] = mine
        return Result(**values)

    def to_rows(self) -> list[dict[str, float | str]]:
        """One flat dict a point, for CSV: SI values, the function's name before its columns."""
        rows: list[dict[str, float | str]] = []
        single = [
            "engine_speed", "pump_speed", "oil_temperature", "viscosity", "pump_pressure",
            "inlet_pressure", "return_pressure", "load_signal", "pump_flow", "pump_slip", "stroke",
            "pump_torque", "shaft_power", "main_flow", "passed", "return_flow", "mechanical_power",
            "flow_residual", "energy_residual",
        ]  # fmt: skip
        by_function = [
            "asked", "flow", "lowered", "speed", "work_pressure", "section_drop", "case_flow",
        ]  # fmt: skip
        for n in range(self.size):
            row: dict[str, float | str] = {key: float(getattr(self, key)[n]) for key in single}
            row["supply_limit"] = SupplyLimit(self.supply_limit[n]).name.lower()
            for name, flow in self.relief_flow.items():
                row[f"{name}.flow"] = float(flow[n])
            for m, function in enumerate(self.functions):
                for key in by_function:
                    row[f"{function}.{key}"] = float(getattr(self, key)[n, m])
                row[f"{function}.limit"] = FunctionLimit(self.function_limit[n, m]).name.lower()
            for element, heat in self.heat.items():
                row[f"heat.{element}"] = float(heat[n])
            rows.append(row)
        return rows

    def __repr__(self) -> str:
        worst = max(float(np.max(self.flow_residual)), float(np.max(self.energy_residual)))
        names = ", ".join(self.functions)
        return f"<Result: {self.size} points, functions {names}, worst residual {worst:.1e}>"


def _axis(array: Array) -> int:
    """Which axis counts the points: the second of (S, N, M), else the first."""
    return 1 if array.ndim == 3 else 0
