"""Circuit and points -> arrays: what of the model the steady state needs, in the units of its equations.

Everything is refused here that the iteration must never meet: missing values, circuit types that are not
solved yet, circuits without a unique answer.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import CircuitError, MissingValue, NotSolvedYet
from hydrocheck.model.circuit import Bank, Circuit, Function, Line, Pump, Relief
from hydrocheck.physics import losses, valves
from hydrocheck.solver.branches import Branches
from hydrocheck.solver.fluid import Fluid, fluid_at
from hydrocheck.solver.needs import Needs, column, stack, take_rows
from hydrocheck.solver.pipes import Pipes, compile_pipes
from hydrocheck.solver.points import Points, solved_functions
from hydrocheck.solver.stages import compile_stages

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True)
class PumpArrays:
    """The pump at N points; arrays of shape (1,) or (N,).

    capacity: full displacement [m3/rad]; slip: [m3/(s Pa)]; friction: Cf [1]; drag: [N m s]
    speed: [rad/s]; margin, compensator, standby: [Pa], inf compensator for a fixed pump
    torque_limit: on x D dp [N m], inf without a limiter
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

    def take(self, index: Index) -> PumpArrays:
        """The points at `index`."""
        return PumpArrays(*(take_rows(getattr(self, f.name), index) for f in fields(self)))


@dataclass(frozen=True)
class ReliefArrays:
    """Relief valves side by side, (1, K) or (N, K): cracking [Pa], flow per pressure beyond [m3/(s Pa)].

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
        outlet = self.to_return * return_pressure[:, None]
        return self.slope * np.maximum(inlet[:, None] - outlet - self.cracking, 0.0)


@dataclass(frozen=True)
class Network:
    """All that the equations of one pump, one bank and its M functions need at N points."""

    kind: str
    supply: str
    names: tuple[str, ...]
    order: tuple[int, ...]
    pump: PumpArrays
    at_pump: ReliefArrays
    at_bank: ReliefArrays
    ls_relief: Array
    branches: Branches
    commanded: Array
    section_drop: Array
    neutral: Array
    main_line: Pipes
    return_line: Pipes

    def take(self, index: Index) -> Network:
        """The points at `index`."""
        rows = {
            key: take_rows(getattr(self, key), index)
            for key in ("ls_relief", "commanded", "section_drop", "neutral")
        }
        parts = {
            key: getattr(self, key).take(index)
            for key in ("pump", "at_pump", "at_bank", "branches", "main_line", "return_line")
        }
        return Network(self.kind, self.supply, self.names, self.order, **rows, **parts)


def compile_network(circuit: Circuit, points: Points) -> Network:
    """The network of a circuit at its points. Raises MissingValue, NotSolvedYet, CircuitError, DomainError."""
    pump, bank = _one_pump_one_bank(circuit)
    functions = solved_functions(circuit)
    _refuse_elsewhere(functions, bank)
    size = points.size
    fluid = fluid_at(circuit, points.oil_temperature)
    needs = Needs()
    by_function = {(line.of, line.carries): line for line in circuit.lines}
    lines = [
        _pipes_of(functions, by_function, role, size, fluid, needs)
        for role in ("work supply", "work return")
    ]
    ports = [_port_relief(circuit, f) for f in functions]
    port_crack, port_slope = _relief_law(ports, size, needs)
    network = Network(
        kind=bank.type,
        supply=pump.type,
        names=tuple(f.name for f in functions),
        order=_order(bank, functions),
        pump=_pump_arrays(circuit, pump, points, fluid, needs),
        at_pump=_reliefs(circuit, "pump", pump.name, size, needs),
        at_bank=_reliefs(circuit, "bank inlet", bank.name, size, needs),
        ls_relief=_ls_relief(circuit, pump, size, needs),
        branches=Branches(
            compile_stages(functions, points, fluid, needs), *lines, port_crack, port_slope
        ),
        commanded=commanded_flow(functions, points, needs),
        section_drop=stack(
            [needs(bank, "section_drop", bank.name) for _ in functions], size, "section_drop"
        ),
        neutral=_neutral(bank, size, needs),
        main_line=compile_pipes([_main_line(circuit, "pressure", pump)], size, fluid, needs),
        return_line=compile_pipes([_main_line(circuit, "return", None)], size, fluid, needs),
    )
    needs.settle()
    _refuse_no_way_out(network, pump)
    return network


def _one_pump_one_bank(circuit: Circuit) -> tuple[Pump, Bank]:
    if not circuit.pump or not circuit.bank:
        keys = [key for key in ("pump", "bank") if not getattr(circuit, key)]
        raise MissingValue(keys)
    if len(circuit.pump) > 1:
        raise NotSolvedYet("several pumps")
    if len(circuit.bank) > 1:
        raise NotSolvedYet("several banks")
    pump, bank = circuit.pump[0], circuit.bank[0]
    if bank.name not in pump.feeds:
        raise MissingValue([f"{pump.name}.feeds"])
    if bank.type not in ("parallel", "open centre"):
        raise NotSolvedYet(f"a bank of type '{bank.type}'")
    if bank.type == "open centre" and pump.type != "fixed":
        raise NotSolvedYet(f"an open centre on a {pump.type} pump")
    return pump, bank


def _refuse_elsewhere(functions: tuple[Function, ...], bank: Bank) -> None:
    for function in functions:
        if function.bank is None:
            raise MissingValue([f"{function.name}.bank"])
        if len(function.motor) > 1 and function.motors_in == "parallel":
            raise NotSolvedYet(f"motors in parallel ({function.name})")


def _order(bank: Bank, functions: tuple[Function, ...]) -> tuple[int, ...]:
    names = [f.name for f in functions]
    if bank.type != "open centre":
        return tuple(range(len(names)))
    if missing := [n for n in names if n not in bank.order]:
        raise MissingValue([f"{bank.name}.order (place of {', '.join(missing)})"])
    return tuple(names.index(n) for n in bank.order if n in names)


def _pump_arrays(
    circuit: Circuit, pump: Pump, points: Points, fluid: Fluid, needs: Needs
) -> PumpArrays:
    size, key = points.size, pump.name
    nominal = needs(pump, "displacement", key)
    full = nominal if pump.derived_displacement is None else pump.derived_displacement
    efficiency = needs(pump, "volumetric_efficiency", key)
    speed, pressure = needs(pump, "rated_speed", key), needs(pump, "rated_pressure", key)
    torque_loss = losses.pump_torque_loss(needs(pump, "hydromechanical_efficiency", key))
    share = losses.viscous_share_at_rating(pump.viscous_slip_share, pump.rated_viscosity)
    # Slip is what the pump does not deliver of its full (derived) displacement at the rated point.
    slip = losses.slip_conductance(full, 1.0 - efficiency * nominal / full, speed, pressure)
    friction, drag = losses.torque_loss_coefficients(
        torque_loss,
        pressure,
        pump.rated_viscosity * fluid.rated_density,
        speed,
        pump.viscous_torque_share,
    )
    drive = circuit.engine.drive if pump.drive is None else pump.drive
    controlled = pump.type != "fixed"
    sensing = pump.type == "load sensing"
    values = {
        "capacity": full,
        "slip": slip * losses.slip_viscosity_factor(fluid.viscosity, pump.rated_viscosity, share),
        "friction": friction,
        "drag": drag * full * fluid.viscosity * fluid.density,
        "speed": points.engine_speed * drive.ratio,
        "margin": needs(pump, "margin", key) if sensing else 0.0,
        "compensator": needs(pump, "compensator", key) if controlled else 1e300,
        "standby": needs(pump, "standby", key) if sensing else 0.0,
        "torque_limit": 1e300 if pump.torque_limit is None else pump.torque_limit,
    }
    return PumpArrays(**{k: column(v, size, f"{key}.{k}") for k, v in values.items()})


def commanded_flow(functions: tuple[Function, ...], points: Points, needs: Needs) -> Array:
    """Section flow that each command (or asked flow) calls for [m3/s], (N, M)."""
    columns = []
    for i, function in enumerate(functions):
        asked, command = points.asked[:, i], points.command[:, i]
        by_command = np.isnan(asked) & (command > 0)
        flow = np.where(np.isnan(asked), 0.0, asked)
        if by_command.any():
            flow = np.where(by_command, section_curve(function, command, needs), flow)
        columns.append(flow)
    return np.stack(columns, axis=1) if columns else np.zeros((points.size, 0))


def section_curve(function: Function, command: Array, needs: Needs) -> Array:
    """Flow of a section by command [m3/s], (N,): its measured curve, or deadband and rated flow."""
    section, key = function.section, f"{function.name}.section"
    if section.curve:
        commands, flows = zip(*section.curve, strict=True)
        return np.interp(command, commands, flows, left=0.0)
    rated = (
        needs(section, "rated_flow", key)
        if function.flow is None or section.rated_flow is not None
        else function.flow
    )
    return np.asarray(
        valves.section_flow(
            command, needs(section, "deadband", key), section.full_command, rated, section.shape
        )
    )


def _pipes_of(
    functions: tuple[Function, ...],
    by_function: dict[tuple[str | None, str | None], Line],
    role: str,
    size: int,
    fluid: Fluid,
    needs: Needs,
) -> Pipes:
    found = [by_function.get((f.name, role)) for f in functions]
    return compile_pipes(found, size, fluid, needs)


def _main_line(circuit: Circuit, role: str, pump: Pump | None) -> Line | None:
    for line in circuit.lines:
        if line.carries == role and (pump is None or line.of in (None, pump.name)):
            return line
    return None


def _relief_law(found: list[Relief | None], size: int, needs: Needs) -> tuple[Array, Array]:
    """Cracking pressure [Pa] and flow per pressure beyond it [m3/(s Pa)], (1, K) or (N, K)."""
    cracking, slope = [], []
    for relief in found:
        if relief is None:
            cracking.append(1e300)
            slope.append(0.0)
            continue
        setting, flow = (needs(relief, key, relief.name) for key in ("setting", "rated_flow"))
        opens = (
            valves.relief_cracking(setting, relief.type)
            if relief.cracking is None
            else relief.cracking
        )
        cracking.append(opens)
        slope.append(flow / (setting - opens))
    return stack(cracking, size, "relief.setting"), stack(slope, size, "relief.setting")


def _reliefs(circuit: Circuit, at: str, of: str, size: int, needs: Needs) -> ReliefArrays:
    found = [r for r in circuit.relief if r.at == at and r.of == of]
    cracking, slope = _relief_law(list(found), size, needs)
    to_return = np.array([[float(r.outlet == "return") for r in found]])
    return ReliefArrays(tuple(r.name for r in found), cracking, slope, to_return)


def _port_relief(circuit: Circuit, function: Function) -> Relief | None:
    found = [r for r in circuit.relief if r.at == "port" and r.of == function.name]
    if len(found) > 1:
        raise NotSolvedYet(f"several port reliefs on one function ({function.name})")
    return found[0] if found else None


def _ls_relief(circuit: Circuit, pump: Pump, size: int, needs: Needs) -> Array:
    """Highest LS pressure that an LS relief lets through [Pa], (1,) or (N,)."""
    settings = [
        needs(r, "setting", r.name) for r in circuit.relief if r.at == "LS" and r.of == pump.name
    ]
    columns = [column(s, size, "LS relief") for s in settings]
    return np.minimum.reduce(columns) if columns else np.array([1e300])


def _neutral(bank: Bank, size: int, needs: Needs) -> Array:
    """Drop per flow squared of an open centre to tank [Pa s2/m6], (1,) or (N,)."""
    if bank.type != "open centre":
        return np.zeros(1)
    flow, drop = needs(bank, "neutral_flow", bank.name), needs(bank, "neutral_drop", bank.name)
    return column(drop / flow**2, size, f"{bank.name}.neutral_drop")


def _refuse_no_way_out(network: Network, pump: Pump) -> None:
    fixed_closed = network.supply == "fixed" and network.kind != "open centre"
    blocked = network.supply == "fixed" and (fixed_closed or bool(network.commanded.any()))
    ways = bool(network.at_pump.slope.size or network.at_bank.slope.size) or bool(
        np.all(network.pump.slip > 0)
    )
    if blocked and not ways:
        raise CircuitError(
            f"{pump.name}: a fixed pump without slip or relief has nowhere to send its oil; "
            "give a relief at the pump, or a volumetric efficiency below 100 %"
        )
