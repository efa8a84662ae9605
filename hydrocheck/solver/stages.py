"""Motors, cylinders and plain pressures of the model as `Stage` arrays."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import MissingValue, NotSolvedYet
from hydrocheck.model.circuit import Cylinder, Function, Load, Motor
from hydrocheck.physics import losses
from hydrocheck.solver.branches import Stage
from hydrocheck.solver.fluid import Fluid
from hydrocheck.solver.needs import Needs, stack
from hydrocheck.solver.points import Points

Array = NDArray[np.float64]

_ABSENT = {
    "capacity": 1.0,
    "slip": 0.0,
    "friction": 0.0,
    "drag": 0.0,
    "load0": 0.0,
    "load1": 0.0,
    "load2": 0.0,
    "outlet_share": 1.0,
    "case_share": 0.0,
    "present": 0.0,
}


def compile_stages(
    functions: tuple[Function, ...], points: Points, fluid: Fluid, needs: Needs
) -> tuple[Stage, ...]:
    """Stage s of every function, for s up to the longest series of motors."""
    depth = max((max(len(f.motor), 1) for f in functions), default=1)
    stages = []
    for level in range(depth):
        rows = [
            _row(function, level, i, points, fluid, needs) for i, function in enumerate(functions)
        ]
        stages.append(
            Stage(**{key: stack([row[key] for row in rows], points.size, key) for key in _ABSENT})
        )
    return tuple(stages)


def _row(
    function: Function, level: int, i: int, points: Points, fluid: Fluid, needs: Needs
) -> dict[str, Any]:
    if level < len(function.motor):
        motor = function.motor[level]
        key = (
            f"{function.name}.motor"
            if len(function.motor) == 1
            else f"{function.name}.{motor.name or level + 1}"
        )
        return _motor(motor, key, points, points.thrown[:, i], fluid, needs)
    if level > 0:
        return dict(_ABSENT)
    if function.cylinder is not None:
        return _cylinder(
            function.cylinder, f"{function.name}.cylinder", points.retract[:, i], needs
        )
    if function.pressure is not None:
        return {**_ABSENT, "load0": function.pressure, "present": 1.0}
    raise MissingValue([f"{function.name}.motor, .cylinder, or .flow with .pressure"])


def _motor(
    motor: Motor, key: str, points: Points, thrown: Array, fluid: Fluid, needs: Needs
) -> dict[str, Any]:
    nominal = needs(motor, "displacement", key)
    full = nominal if motor.derived_displacement is None else motor.derived_displacement
    efficiency = needs(motor, "volumetric_efficiency", key)
    speed, pressure = needs(motor, "rated_speed", key), needs(motor, "rated_pressure", key)
    torque_loss = losses.motor_torque_loss(needs(motor, "hydromechanical_efficiency", key))
    share = losses.viscous_share_at_rating(motor.viscous_slip_share, motor.rated_viscosity)
    slip = losses.slip_conductance(full, nominal / efficiency / full - 1.0, speed, pressure)
    friction, drag = losses.torque_loss_coefficients(
        torque_loss,
        pressure,
        motor.rated_viscosity * fluid.rated_density,
        speed,
        motor.viscous_torque_share,
    )
    torques = load_torques(motor, key, points, thrown, needs)
    drained = 1.0 if motor.case_drain else 0.0
    return {
        "capacity": full,
        "slip": slip * losses.slip_viscosity_factor(fluid.viscosity, motor.rated_viscosity, share),
        "friction": friction,
        "drag": drag * full * fluid.viscosity * fluid.density,
        **torques,
        "outlet_share": 1.0,
        "case_share": drained if motor.case_share is None else motor.case_share,
        "present": 1.0,
    }


def load_torques(
    motor: Motor, key: str, points: Points, thrown: Array, needs: Needs
) -> dict[str, Any]:
    """Load of a motor at its own shaft: T0 [N m], T1 [N m s], T2 [N m s2], (N,) or scalars.

    The gearbox divides torque by ratio and efficiency and multiplies speed by the ratio. A spinner adds
    m R^2 w for the mass flow m that it throws. Between an empty and a full hopper torque is linear.
    """
    full = _load(motor.load, motor, f"{key}.load", needs)
    empty = (
        full
        if motor.load_empty is None
        else _load(motor.load_empty, motor, f"{key}.load_empty", needs)
    )
    share = points.hopper
    mixed = [share * a + (1.0 - share) * b for a, b in zip(full, empty, strict=True)]
    if thrown.any():
        radius = needs(motor, "disc_radius", key)
        mixed[1] = mixed[1] + thrown * radius**2
    gear = motor.gearbox_ratio
    return {
        f"load{power}": torque / (motor.gearbox_efficiency * gear ** (power + 1))
        for power, torque in enumerate(mixed)
    }


def _load(load: Load | None, motor: Motor, key: str, needs: Needs) -> list[Any]:
    """Torque coefficients at the load shaft, before the gearbox."""
    if load is None:
        needs.missing.append(key)
        return [0.0, 0.0, 0.0]
    if load.pressure is not None:
        # The torque that the motor gives at that drop, by its hydromechanical efficiency.
        displacement = needs(motor, "displacement", key.rpartition(".")[0])
        efficiency = needs(motor, "hydromechanical_efficiency", key.rpartition(".")[0])
        torque = displacement * load.pressure * efficiency
        return [torque * motor.gearbox_ratio * motor.gearbox_efficiency, 0.0, 0.0]
    at = 1.0 if load.at is None else load.at
    return [
        0.0 if load.constant is None else load.constant,
        0.0 if load.linear is None else load.linear / at,
        0.0 if load.square is None else load.square / at**2,
    ]


def _cylinder(cylinder: Cylinder, key: str, retract: Array, needs: Needs) -> dict[str, Any]:
    """A moving cylinder: one side is fed, the other returns its share. All cylinders move together."""
    bore = np.asarray(needs(cylinder, "bore", key))
    moving_in = retract > 0
    push = needs(cylinder, "extend_load", key) if not moving_in.all() else 0.0
    pull = needs(cylinder, "retract_load", key) if moving_in.any() else 0.0
    if cylinder.acting == "single" and moving_in.any():
        raise NotSolvedYet(f"lowering of a single-acting cylinder ({key.partition('.')[0]})")
    piston = cylinder.count * np.pi / 4.0 * bore**2
    rest = 1.0 - (np.asarray(cylinder.rod or 0.0) / bore) ** 2
    out_share = 0.0 if cylinder.acting == "single" else rest
    return {
        **_ABSENT,
        "capacity": np.where(moving_in, piston * rest, piston),
        "load0": np.where(moving_in, pull, push) / cylinder.efficiency,
        "outlet_share": np.where(moving_in, 1.0 / rest, out_share),
        "present": 1.0,
    }
