"""Between command, section flow and shaft speed of one function."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Truck
from hydrocheck.physics import valves
from hydrocheck.solver import Points, solved_functions
from hydrocheck.solver.compile import section_curve
from hydrocheck.solver.fluid import fluid_at
from hydrocheck.solver.needs import Needs
from hydrocheck.solver.stages import function_stages
from hydrocheck.studies.starting import needed_drops

Array = NDArray[np.float64]


def trimmed_functions(truck: Truck) -> tuple[Function, ...]:
    """The fitted hydraulic functions with a motor: those that are set by trims."""
    return tuple(f for f in solved_functions(truck) if f.motor)


def flow_of(function: Function, command: ArrayLike) -> Array:
    """Section flow that commands ask [m3/s], of their shape. Raises MissingValue."""
    commands = np.atleast_1d(np.asarray(command, dtype=np.float64))
    needs = Needs(commands.size)
    flow = section_curve(function, commands.ravel(), needs)
    needs.settle()
    return np.broadcast_to(flow, (commands.size,)).reshape(np.shape(command))


def command_of(function: Function, flow: ArrayLike) -> Array:
    """Command that asks a section flow [1], of the shape of the flow [m3/s].

    The inverse of `flow_of`: the deadband at no flow, inf where no command asks so much. Of a
    measured curve the least command that gives the flow. Raises MissingValue.
    """
    section = function.section
    wanted = np.asarray(flow, dtype=np.float64)
    if section.curve:
        commands, flows = np.array(section.curve).T
        rising = np.maximum.accumulate(flows)
        first = np.concatenate(([True], np.diff(rising) > 0))  # where flow rises
        first[:-1] |= first[1:]
        found = np.interp(wanted, rising[first], commands[first])
        return np.where(wanted <= rising[-1] * (1.0 + 1e-12), found, np.inf)
    needs = Needs()
    key = f"{function.name}.section"
    deadband = needs(section, "deadband", key)
    whole = section.rated_flow is None and function.flow is not None
    rated = needs(function, "flow", function.name) if whole else needs(section, "rated_flow", key)
    needs.settle()
    return np.asarray(
        valves.command_for_flow(wanted, deadband, section.full_command, rated, section.shape)
    )


def deadband_of(function: Function) -> float:
    """Command up to which nothing flows [1]. Raises MissingValue."""
    if function.section.curve:
        return max((c for c, q in function.section.curve if q <= 0), default=0.0)
    if function.section.deadband is None:
        raise MissingValue([f"{function.name}.section.deadband"])
    return float(function.section.deadband)


def speed_at_flow(truck: Truck, function: Function, flow: ArrayLike, points: Points) -> Array:
    """Speed of a motor's load shaft that a section flow turns [rad/s], (N,).

    flow: [m3/s], scalar or (N,), taken to be delivered
    points: oil temperature, hopper, thrown mass
    """
    needs = Needs(points.size)
    fluid = fluid_at(truck, points.oil_temperature, needs)
    place = solved_functions(truck).index(function)
    stage = function_stages(function, place, points, fluid, needs)[0]
    needs.settle()
    given = np.broadcast_to(np.asarray(flow, dtype=np.float64), (points.size,))
    return np.broadcast_to(stage.load_speed(given), (points.size,))


def starting_flow(truck: Truck, function: Function, points: Points) -> Array:
    """Section flow that a standing motor lets slip at the pressure that breaks its load away.

    q = slip x breakaway torque / (D x starting efficiency), for each motor of a series the whole
    pressure, which errs to the safe side. A smaller command never builds that pressure up: all its
    flow slips past.

    points: oil temperature, hopper; returns [m3/s], (N,). Raises MissingValue.
    """
    needs = Needs(points.size)
    fluid = fluid_at(truck, points.oil_temperature, needs)
    place = solved_functions(truck).index(function)
    stage = function_stages(function, place, points, fluid, needs)[0]
    needs.settle()
    drops = needed_drops(truck, function, points)
    whole = drops.max(axis=0) if function.motors_in == "parallel" else drops.sum(axis=0)
    return np.asarray(stage.slip * whole)
