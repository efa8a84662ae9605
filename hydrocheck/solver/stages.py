"""Motors, cylinders and plain pressures of the model as `Stage` arrays."""

from __future__ import annotations

import numpy as np

from hydrocheck.errors import DomainError
from hydrocheck.model.circuit import Cylinder, Function, LiquidPump, Load, Motor, Pump
from hydrocheck.physics import losses
from hydrocheck.physics.arrays import Array
from hydrocheck.solver.branches import Stage
from hydrocheck.solver.feederload import feeder_torque
from hydrocheck.solver.fluid import Fluid
from hydrocheck.solver.liquidload import liquid_load
from hydrocheck.solver.needs import Mask, Needs
from hydrocheck.solver.parallel import SideBySide, refuse_equal_flat
from hydrocheck.solver.points import Points

_Turns = tuple[Array, LiquidPump | None]  # mass flow thrown [kg/s], liquid pump turned

NONE, ONE = np.zeros(1), np.ones(1)
IMMOVABLE = 1e9
"""Pressure that would move a cylinder at the end of its stroke [Pa]: more than any supply gives."""
TIGHT = 1e-9
"""Slip below this share of the flow at the rated point is rounding of the values that give it."""


def function_stages(
    function: Function, column: int, points: Points, fluid: Fluid, needs: Needs
) -> tuple[Stage | SideBySide, ...]:
    """What a function moves, from its inlet to its outlet; column: its place in the points."""
    if function.motor:
        # A mass flow is thrown by all discs of a function together.
        turns = points.thrown[:, column] / len(function.motor), function.liquid_pump
        motors = tuple(
            _motor(motor, _motor_key(function, level), points, turns, (fluid, needs))
            for level, motor in enumerate(function.motor)
        )
        if len(motors) == 1 or function.motors_in == "series":
            return motors
        group = SideBySide(motors)
        if not needs.missing:
            refuse_equal_flat(function.name, group)
        return (group,)
    if function.cylinder is not None:
        key = f"{function.name}.cylinder"
        return (_cylinder(function.cylinder, key, points, column, needs),)
    if function.pressure is not None:
        return (_stage(ONE, load0=needs.column(function, "pressure", function.name)),)
    needs.missing.append(f"{function.name}.motor (or .cylinder, or .pressure with .flow)")
    return (_stage(ONE),)


def _motor_key(function: Function, level: int) -> str:
    if len(function.motor) == 1:
        return f"{function.name}.motor"
    return f"{function.name}.{function.motor[level].name or f'motor {level + 1}'}"


def _stage(
    capacity: Array, *, load0: Array = NONE, outlet_share: Array = ONE, efficiency: Array = ONE
) -> Stage:
    """A stage that neither leaks nor rubs."""
    return Stage(
        capacity=capacity,
        slip=NONE,
        friction=NONE,
        drag=NONE,
        load0=load0,
        load1=NONE,
        load2=NONE,
        outlet_share=outlet_share,
        case_share=NONE,
        gear_ratio=ONE,
        gear_efficiency=efficiency,
    )


def machine_losses(
    part: Pump | Motor, key: str, fluid: Fluid, needs: Needs
) -> tuple[Array, Array, Array, Array]:
    """Capacity [m3/rad], slip [m3/(s Pa)], friction [1] and drag per speed [N m s] at the oil
    given.

    Slip is what the derived displacement does not explain of the rated flow; wear adds a multiple
    of it that hardly follows viscosity.
    """
    nominal = needs.column(part, "displacement", key)
    derived = needs.column(part, "derived_displacement", key, otherwise=1.0)
    full = nominal if part.derived_displacement is None else derived
    volumetric = needs.column(part, "volumetric_efficiency", key)
    hydromechanical = needs.column(part, "hydromechanical_efficiency", key)
    speed = needs.column(part, "rated_speed", key)
    pressure = needs.column(part, "rated_pressure", key)
    rated = needs.column(part, "rated_viscosity", key)
    if isinstance(part, Pump):
        slip_loss = 1.0 - volumetric * nominal / full
        torque_loss = losses.pump_torque_loss(hydromechanical)
    else:
        slip_loss = nominal / volumetric / full - 1.0
        torque_loss = losses.motor_torque_loss(hydromechanical)
    if np.any(slip_loss < -TIGHT) and not needs.missing:
        raise DomainError(f"{key}.derived_displacement: slip would be negative at the rated point")
    slip_loss = np.where(slip_loss < TIGHT, 0.0, slip_loss)
    slip = losses.slip_conductance(full, slip_loss, speed, pressure)
    share = losses.viscous_share_at_rating(needs.column(part, "viscous_slip_share", key), rated)
    friction, drag = losses.torque_loss_coefficients(
        torque_loss,
        pressure,
        rated * fluid.rated_density,
        speed,
        needs.column(part, "viscous_torque_share", key),
    )
    leak = slip * losses.slip_viscosity_factor(fluid.viscosity, rated, share)
    wear = needs.column(part, "wear", key)
    if wear.any():
        leak = leak + losses.wear_slip(wear * slip, fluid.viscosity, rated)
    return (
        full,
        np.asarray(leak),
        np.asarray(friction),
        np.asarray(losses.drag_torque_per_speed(full, drag, fluid.viscosity * fluid.density)),
    )


def _motor(
    motor: Motor, key: str, points: Points, turns: _Turns, about: tuple[Fluid, Needs]
) -> Stage:
    fluid, needs = about
    thrown, liquid = turns
    capacity, slip, friction, drag = machine_losses(motor, key, fluid, needs)
    drained = 1.0 if motor.case_drain else 0.0
    return Stage(
        capacity=capacity,
        slip=slip,
        friction=friction,
        drag=drag,
        **load_torques(motor, key, points, thrown, needs, liquid),
        outlet_share=ONE,
        case_share=needs.column(motor, "case_share", key, otherwise=drained),
        gear_ratio=needs.column(motor, "gearbox_ratio", key),
        gear_efficiency=needs.column(motor, "gearbox_efficiency", key),
    )


def load_torques(
    motor: Motor,
    key: str,
    points: Points,
    thrown: Array,
    needs: Needs,
    liquid: LiquidPump | None = None,
) -> dict[str, Array]:
    """Load of a motor at its own shaft: load0 [N m], load1 [N m s], load2 [N m s2], (1,) or (N,).

    liquid: the liquid pump that it turns, in place of a load of its own

    The gearbox divides torque by ratio and efficiency and multiplies speed by the ratio. A spinner
    adds m R^2 w for the mass flow m that it throws. Between an empty and a full hopper torque is
    linear.
    """
    if liquid is not None and motor.load is None:
        full = NONE, NONE, liquid_load(liquid, f"{key.partition('.')[0]}.liquid_pump", needs)
    else:
        full = _load(motor.load, motor, key, "load", needs)
    share = points.hopper
    if motor.load_empty is None:
        constant, linear, square = full
    else:
        empty = _load(motor.load_empty, motor, key, "load_empty", needs)
        constant, linear, square = (
            share * a + (1.0 - share) * b for a, b in zip(full, empty, strict=True)
        )
    if thrown.any():
        linear = linear + thrown * needs.column(motor, "disc_radius", key) ** 2
    gear, efficiency = (needs.column(motor, f"gearbox_{k}", key) for k in ("ratio", "efficiency"))
    return {
        "load0": constant / (efficiency * gear),
        "load1": linear / (efficiency * gear**2),
        "load2": square / (efficiency * gear**3),
    }


def _load(
    load: Load | None, motor: Motor, key: str, attribute: str, needs: Needs
) -> tuple[Array, Array, Array]:
    """Torque coefficients at the load shaft, before the gearbox."""
    name = f"{key}.{attribute}"
    torques = ("constant", "linear", "square")
    if load is not None and (modelled := feeder_torque(load, name, needs)) is not None:
        return modelled, NONE, NONE
    if load is None or all(getattr(load, k) is None for k in (*torques, "pressure")):
        needs.missing.append(name)
        return NONE, NONE, NONE
    if load.pressure is not None:
        # The torque that the motor gives at that drop, by its hydromechanical efficiency.
        torque = needs.column(load, "pressure", name)
        for attribute_ in ("displacement", "hydromechanical_efficiency"):
            torque = torque * needs.column(motor, attribute_, key)
        for attribute_ in ("gearbox_ratio", "gearbox_efficiency"):
            torque = torque * needs.column(motor, attribute_, key)
        return torque, NONE, NONE
    constant, linear, square = (needs.column(load, k, name, otherwise=0.0) for k in torques)
    if load.linear is None and load.square is None:
        return constant, NONE, NONE
    at = needs.column(load, "at", name)
    return constant, linear / at, square / at**2


def _cylinder(cylinder: Cylinder, key: str, points: Points, column: int, needs: Needs) -> Stage:
    """A cylinder that the pump moves: one side is fed, the other returns its share. Several move
    together. At the end of its stroke no pressure moves it."""
    piston, rest = piston_and_rod_side(cylinder, key, needs)
    stop, lower = points.stop[:, column] > 0, lowered(cylinder, points, column)
    moving_in = (points.retract[:, column] > 0) & ~lower
    held = stop | lower
    push = needs.column(cylinder, "extend_load", key) if not (moving_in | held).all() else NONE
    pull = needs.column(cylinder, "retract_load", key) if (moving_in & ~held).any() else NONE
    efficiency = needs.column(cylinder, "efficiency", key)
    out_share = NONE if cylinder.acting == "single" else rest
    capacity, load = piston, push / efficiency
    if moving_in.any():
        capacity = np.where(moving_in, piston * rest, piston)
        load = np.where(moving_in, pull / efficiency, load)
        out_share = np.where(moving_in, 1.0 / rest, out_share)
    if stop.any():
        load = np.where(stop, IMMOVABLE * capacity, load)
    return _stage(capacity, load0=load, outlet_share=out_share, efficiency=efficiency)


def piston_and_rod_side(cylinder: Cylinder, key: str, needs: Needs) -> tuple[Array, Array]:
    """Piston area of all cylinders together [m2], and the rod side's share of it [1], (1,) or
    (N,)."""
    bore = needs.column(cylinder, "bore", key)
    rod = needs.column(cylinder, "rod", key, otherwise=0.0)
    if cylinder.bore is not None and np.any(rod >= bore):
        raise DomainError(f"{key}.rod: must be smaller than the bore")
    piston = cylinder.count * np.pi / 4.0 * bore**2
    return piston, 1.0 - (rod / np.maximum(bore, rod + 1e-12)) ** 2


def lowered(cylinder: Cylinder | None, points: Points, column: int) -> Mask:
    """Where a load drives the cylinder in, and the pump gives nothing, (N,)."""
    if cylinder is None:
        return np.zeros(points.size, dtype=bool)
    lower = points.lower[:, column] > 0
    return lower | (points.retract[:, column] > 0) if cylinder.acting == "single" else lower
