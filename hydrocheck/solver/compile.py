"""Circuit and points -> arrays: what of the model the steady state needs, in the units of its
equations.

Everything is refused here that the iteration must never meet: missing values, values out of bounds,
circuit types that are not solved yet, circuits without a unique answer. A case drain is taken to
reach the tank without loss.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from hydrocheck.errors import CircuitError, DomainError, MissingValue, NotSolvedYet
from hydrocheck.model.circuit import Bank, Circuit, Function, Pump, Relief
from hydrocheck.physics import valves
from hydrocheck.physics.arrays import Array
from hydrocheck.solver.branches import Branch, PortRelief
from hydrocheck.solver.fluid import Fluid, fluid_at
from hydrocheck.solver.lowering import FedReturn, Lowering
from hydrocheck.solver.needs import Index, Needs, side_by_side, take_rows
from hydrocheck.solver.pipes import Pipes, compile_pipes
from hydrocheck.solver.points import Points, solved_functions
from hydrocheck.solver.stages import (
    function_stages,
    lowered,
    machine_losses,
    piston_and_rod_side,
)

NEVER = 1e300
"""Stands for a limit that is not there."""
NEGLIGIBLE = 1e-12
"""A section that asks for less than this share of the pump's flow counts as shut."""


@dataclass(frozen=True)
class PumpArrays:
    """The pump at N points; arrays of shape (1,) or (N,).

    capacity: full displacement [m3/rad]; slip: [m3/(s Pa)]; friction: Cf [1]; drag: [N m s]
    speed: [rad/s]; margin, compensator, standby: [Pa]; torque_limit: on x D dp [N m]
    ls_share: share of the LS pressure that reaches the control [1]

    Air in the suction takes the place of oil: capacity is less and the limiter, which sees the
    geometric stroke, lets through less. Friction stays as it is. What compresses the air is left
    out.
    """

    capacity: Array
    slip: Array
    friction: Array
    drag: Array
    speed: Array
    margin: Array
    compensator: Array
    standby: Array
    torque_limit: Array
    ls_share: Array

    def take(self, index: Index) -> PumpArrays:
        """The points at `index`."""
        return PumpArrays(*(take_rows(getattr(self, f.name), index) for f in fields(self)))


@dataclass(frozen=True)
class ReliefArrays:
    """Relief valves side by side, (1, K) or (N, K): cracking [Pa], flow per pressure beyond [m3/(s
    Pa)].

    to_return: 1 where the outlet is the return manifold, 0 where it is the tank
    """

    names: tuple[str, ...]
    cracking: Array
    slope: Array
    to_return: Array

    def take(self, index: Index) -> ReliefArrays:
        """The points at `index`."""
        return ReliefArrays(
            self.names,
            take_rows(self.cracking, index),
            take_rows(self.slope, index),
            self.to_return,
        )

    def flow(self, inlet: Array, return_pressure: Array) -> Array:
        """Flow of each [m3/s], (N, K), at an inlet pressure (N,) and return pressure (N,)."""
        if not self.names:
            return np.zeros((inlet.size, 0))
        outlet = self.to_return * return_pressure[:, None]
        return self.slope * np.maximum(inlet[:, None] - outlet - self.cracking, 0.0)


@dataclass(frozen=True)
class Network:
    """All that the equations of one pump, one bank and its M functions need at N points.

    order: columns of the functions from first to last, for an open centre
    ls_relief: highest pressure in the LS line [Pa]
    neutral: drop per flow squared of an open centre to tank [Pa s2/m6]
    """

    kind: str
    supply: str
    order: tuple[int, ...]
    pump: PumpArrays
    at_pump: ReliefArrays
    at_bank: ReliefArrays
    ls_relief: Array
    branches: tuple[Branch, ...]
    neutral: Array
    main_line: Pipes
    return_line: Pipes | FedReturn
    viscosity: Array

    @property
    def commanded(self) -> Array:
        """Section flow that each function asks for [m3/s], (N, M)."""
        size = self.viscosity.size
        if not self.branches:
            return np.zeros((size, 0))
        return np.stack([np.broadcast_to(b.commanded, (size,)) for b in self.branches]).T

    def take(self, index: Index) -> Network:
        """The points at `index`."""
        return Network(
            self.kind,
            self.supply,
            self.order,
            self.pump.take(index),
            self.at_pump.take(index),
            self.at_bank.take(index),
            take_rows(self.ls_relief, index),
            tuple(branch.take(index) for branch in self.branches),
            take_rows(self.neutral, index),
            self.main_line.take(index),
            self.return_line.take(index),
            take_rows(self.viscosity, index),
        )


def compile_network(circuit: Circuit, points: Points) -> Network:
    """The network of a circuit at its points.

    Raises MissingValue, NotSolvedYet, CircuitError, DomainError.
    """
    needs = Needs(points.size)
    pump, bank = _one_pump_one_bank(circuit)
    _refuse_elsewhere(circuit, points, bank)
    try:
        network = _network(circuit, points, pump, bank, needs)
    except DomainError:
        needs.settle()  # a stand-in for a missing value may be what does not fit
        raise
    needs.settle()
    _refuse_no_way_out(network, pump)
    return network


def _network(circuit: Circuit, points: Points, pump: Pump, bank: Bank, needs: Needs) -> Network:
    functions = solved_functions(circuit)
    fluid = fluid_at(circuit, points.oil_temperature, needs)

    def lines(role: str, *of: str | None) -> Pipes:
        found = [line for line in circuit.lines if line.carries == role and line.of in of]
        return compile_pipes(found, fluid, needs)

    pump_arrays = _pump_arrays(circuit, pump, points, fluid, needs)
    least = NEGLIGIBLE * pump_arrays.capacity * pump_arrays.speed

    def branch(function: Function, place: int) -> Branch:
        commanded = commanded_flow(function, place, points, needs)
        return Branch(
            function.name,
            function_stages(function, place, points, fluid, needs),
            lines("work supply", function.name),
            lines("work return", function.name),
            _port_relief(circuit, function, needs),
            np.where(commanded > least, commanded, 0.0),
            needs.column(bank, "section_drop", bank.name),
        )

    return Network(
        kind=bank.type,
        supply=pump.type,
        order=_order(bank, functions, needs),
        pump=pump_arrays,
        at_pump=_reliefs(circuit, "pump", pump.name, needs),
        at_bank=_reliefs(circuit, "bank inlet", bank.name, needs),
        ls_relief=_ls_relief(circuit, pump, needs),
        branches=tuple(branch(f, i) for i, f in enumerate(functions)),
        neutral=_neutral(bank, needs),
        main_line=lines("pressure", None, pump.name),
        return_line=_return_line(
            circuit, points, lines("return", *{line.of for line in circuit.lines}), fluid, needs
        ),
        viscosity=fluid.viscosity,
    )


def _one_pump_one_bank(circuit: Circuit) -> tuple[Pump, Bank]:
    if missing := [key for key in ("pump", "bank") if not getattr(circuit, key)]:
        raise MissingValue(missing)
    if len(circuit.pump) > 1:
        raise NotSolvedYet("several pumps")
    if len(circuit.bank) > 1:
        raise NotSolvedYet("several banks")
    pump, bank = circuit.pump[0], circuit.bank[0]
    if bank.type not in ("parallel", "open centre"):
        raise NotSolvedYet(f"a bank of type '{bank.type}'")
    if bank.type == "open centre" and pump.type != "fixed":
        raise NotSolvedYet(f"an open centre on a {pump.type} pump")
    if bank.name not in pump.feeds:
        raise MissingValue([f"{pump.name}.feeds"])
    return pump, bank


def _refuse_elsewhere(circuit: Circuit, points: Points, bank: Bank) -> None:
    functions = solved_functions(circuit)
    if missing := [f"{f.name}.bank" for f in functions if f.bank is None]:
        raise MissingValue(missing)
    for function in functions:
        if function.bank != bank.name:
            raise DomainError(f"{function.name}.bank: no bank '{function.bank}'")
    points.fit(len(functions))
    _refuse_motions(functions, points)


def _refuse_motions(functions: tuple[Function, ...], points: Points) -> None:
    """Motions that only a cylinder makes, and one at a time. Raises DomainError."""
    for place, function in enumerate(functions):
        moved = {key: getattr(points, key)[:, place] > 0 for key in ("retract", "lower", "stop")}
        asked = [key for key, where in moved.items() if where.any()]
        if asked and function.cylinder is None:
            raise DomainError(f"{asked[0]}: '{function.name}' has no cylinder")
        if (moved["retract"] & moved["lower"]).any():
            raise DomainError(f"lower: '{function.name}' is driven in by its load or by the pump")


def _return_line(
    circuit: Circuit, points: Points, pipes: Pipes, fluid: Fluid, needs: Needs
) -> Pipes | FedReturn:
    """The return line, with what lowering cylinders bring into it."""
    lowering = []
    for place, function in enumerate(solved_functions(circuit)):
        cylinder, section = function.cylinder, function.section
        lower = lowered(cylinder, points, place)
        if cylinder is None or not lower.any():
            continue
        key = f"{function.name}.cylinder"
        bank = next((b for b in circuit.bank if b.name == function.bank), None)
        if section.lowering_drop is None and bank is not None:
            drop = needs.column(bank, "section_drop", bank.name)
        else:
            drop = needs.column(section, "lowering_drop", f"{function.name}.section")
        piston, rest = piston_and_rod_side(cylinder, key, needs)
        moves = lower & (points.stop[:, place] <= 0)
        hoses = [n for n in circuit.lines if n.carries == "work supply" and n.of == function.name]
        lowering.append(
            Lowering(
                name=function.name,
                column=place,
                commanded=np.where(moves, _opened_flow(function, place, points, needs), 0.0),
                drop=drop,
                force=needs.column(cylinder, "lower_load", key),
                efficiency=needs.column(cylinder, "efficiency", key),
                area=piston,
                rod_share=np.zeros(1) if cylinder.acting == "single" else rest,
                hose=compile_pipes(hoses, fluid, needs),
            )
        )
    return FedReturn(pipes, tuple(lowering)) if lowering else pipes


def _order(bank: Bank, functions: tuple[Function, ...], needs: Needs) -> tuple[int, ...]:
    names = [f.name for f in functions]
    if bank.type != "open centre":
        return tuple(range(len(names)))
    if missing := [n for n in names if n not in bank.order]:
        needs.missing.append(f"{bank.name}.order (place of {', '.join(missing)})")
    return tuple(names.index(n) for n in bank.order if n in names)


def _pump_arrays(
    circuit: Circuit, pump: Pump, points: Points, fluid: Fluid, needs: Needs
) -> PumpArrays:
    key = pump.name
    controlled, sensing = pump.type != "fixed", pump.type == "load sensing"
    if pump.drive is None:
        ratio = needs.column(circuit.engine.drive, "ratio", "engine.drive")
    else:
        ratio = needs.column(pump.drive, "ratio", f"{key}.drive")
    if pump.torque_limit is not None and not controlled:
        raise DomainError(f"{key}.torque_limit: a fixed pump cannot destroke")
    nothing = np.zeros(1)
    capacity, slip, friction, drag = machine_losses(pump, key, fluid, needs)
    oil = 1.0 - needs.column(pump, "air", key)
    return PumpArrays(
        capacity=capacity * oil,
        slip=slip,
        friction=friction / oil,
        drag=drag,
        speed=points.engine_speed * ratio,
        margin=needs.column(pump, "margin", key) if sensing else nothing,
        compensator=needs.column(pump, "compensator", key) if controlled else np.array([NEVER]),
        standby=needs.column(pump, "standby", key) if sensing else nothing,
        torque_limit=needs.column(pump, "torque_limit", key, otherwise=NEVER) * oil,
        ls_share=needs.column(pump, "ls_signal", key),
    )


def commanded_flow(function: Function, place: int, points: Points, needs: Needs) -> Array:
    """Section flow that each command (or asked flow) gets with pressure in plenty [m3/s], (N,).

    place: the function's column in the points

    Nothing where its load lowers it: then the pump gives nothing.
    """
    flow = _opened_flow(function, place, points, needs)
    lower = lowered(function.cylinder, points, place)
    return np.where(lower, 0.0, flow) if lower.any() else flow


def _opened_flow(function: Function, place: int, points: Points, needs: Needs) -> Array:
    """Flow of a section as it is opened, at its rated drop [m3/s], (N,).

    A limited coil caps the command, or the asked flow at that of its highest command. A spool that
    opens too little passes its share of either.
    """
    asked, command = points.asked[:, place], points.command[:, place]
    section, key = function.section, f"{function.name}.section"
    limit = needs.column(section, "command_limit", key)
    limited, opening = (limit < 1.0).any(), needs.column(section, "opening", key)
    reached = np.minimum(command, limit) if limited else command
    told, runs = np.isnan(asked), command > 0
    if not (told & runs).any():
        flow = np.where(told, 0.0, asked)
    else:
        flow = section_curve(function, reached, needs)
        if not told.all() or section.curve:
            flow = np.where(told, np.where(runs, flow, 0.0), asked)
    if limited:
        most = section_curve(function, np.broadcast_to(limit, flow.shape), needs)
        flow = np.where(limit < 1.0, np.minimum(flow, most), flow)
    return flow * opening if (opening != 1.0).any() else flow


def section_curve(function: Function, command: Array, needs: Needs) -> Array:
    """Flow of a section by command [m3/s], (N,): its measured curve, or deadband and rated flow."""
    section, key = function.section, f"{function.name}.section"
    if section.curve:
        commands, flows = zip(*section.curve, strict=True)
        return np.asarray(np.interp(command, commands, flows, left=0.0))
    if section.rated_flow is None and function.flow is not None:
        rated = needs.column(function, "flow", function.name)
    else:
        rated = needs.column(section, "rated_flow", key)
    deadband, full = (needs.column(section, k, key) for k in ("deadband", "full_command"))
    shape = needs.column(section, "shape", key)
    if np.any(deadband >= full):
        raise DomainError(f"{key}.deadband: must lie below section.full_command")
    return np.asarray(valves.section_flow(command, deadband, full, rated, shape))


def _relief_law(relief: Relief, needs: Needs) -> tuple[Array, Array]:
    """Cracking pressure [Pa] and flow per pressure beyond it [m3/(s Pa)], (1,) or (N,).

    A weak spring lowers setting and cracking by the same share.
    """
    setting, flow = (needs.column(relief, key, relief.name) for key in ("setting", "rated_flow"))
    left = 1.0 - needs.column(relief, "weakness", relief.name)
    if relief.cracking is None:
        cracking = np.asarray(valves.relief_cracking(setting, relief.type))
    else:
        cracking = needs.column(relief, "cracking", relief.name)
    if np.any(cracking >= setting):
        raise DomainError(f"{relief.name}.cracking: must lie below the setting")
    return left * cracking, flow / (left * (setting - cracking))


def _reliefs(circuit: Circuit, at: str, of: str, needs: Needs) -> ReliefArrays:
    found = [r for r in circuit.relief if r.at == at and r.of == of]
    laws = [_relief_law(relief, needs) for relief in found]
    return ReliefArrays(
        tuple(r.name for r in found),
        side_by_side([cracking for cracking, _ in laws]),
        side_by_side([slope for _, slope in laws]),
        np.array([[float(r.outlet == "return") for r in found]]),
    )


def _port_relief(circuit: Circuit, function: Function, needs: Needs) -> PortRelief | None:
    found = [r for r in circuit.relief if r.at == "port" and r.of == function.name]
    if len(found) > 1:
        raise NotSolvedYet(f"several port reliefs on one function ({function.name})")
    if not found:
        return None
    return PortRelief(*_relief_law(found[0], needs), to_return=found[0].outlet == "return")


def _ls_relief(circuit: Circuit, pump: Pump, needs: Needs) -> Array:
    """Highest LS pressure that the LS reliefs let through [Pa], (1,) or (N,)."""
    lowest = np.array([NEVER])
    for relief in circuit.relief:
        if relief.at == "LS" and relief.of == pump.name:
            left = 1.0 - needs.column(relief, "weakness", relief.name)
            lowest = np.minimum(lowest, left * needs.column(relief, "setting", relief.name))
    return lowest


def _neutral(bank: Bank, needs: Needs) -> Array:
    """Drop per flow squared of an open centre to tank [Pa s2/m6], (1,) or (N,)."""
    if bank.type != "open centre":
        return np.zeros(1)
    drop, flow = (needs.column(bank, k, bank.name) for k in ("neutral_drop", "neutral_flow"))
    return drop / flow**2


def _refuse_no_way_out(network: Network, pump: Pump) -> None:
    asked = any(branch.commanded.any() for branch in network.branches)
    blocked = network.supply == "fixed" and (network.kind != "open centre" or asked)
    relieved = bool(network.at_pump.names or network.at_bank.names)
    if blocked and not relieved and not np.all(network.pump.slip > 0):
        raise CircuitError(
            f"{pump.name}: a fixed pump without slip or relief has nowhere to send its oil; "
            "give a relief at the pump, or a volumetric efficiency below 100 %"
        )
