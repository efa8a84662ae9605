"""Circuit and points -> arrays: what of the model the steady state needs, in the units of its
equations.

Everything is refused here that the iteration must never meet: missing values, values out of bounds,
circuit types that are not solved yet, circuits without a unique answer. A case drain is taken to
reach the tank without loss.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hydrocheck.errors import CircuitError, DomainError, MissingValue, NotSolvedYet
from hydrocheck.model.circuit import Bank, Circuit, Function, Pump, Relief
from hydrocheck.physics import valves
from hydrocheck.physics.arrays import Array
from hydrocheck.solver.branches import Branch, PortRelief
from hydrocheck.solver.fluid import Fluid, fluid_at
from hydrocheck.solver.lowering import FedReturn, Lowering
from hydrocheck.solver.needs import Needs, side_by_side
from hydrocheck.solver.network import (
    NEVER,
    PRESSURE_BANKS,
    Network,
    Plant,
    PumpArrays,
    ReliefArrays,
)
from hydrocheck.solver.pipes import Pipes, compile_pipes
from hydrocheck.solver.points import Points, solved_functions
from hydrocheck.solver.stages import (
    function_stages,
    lowered,
    machine_losses,
    piston_and_rod_side,
)
from hydrocheck.solver.supply import ceiling

ORDERED_BANKS = ("open centre", "priority valve", "gear divider")
NEGLIGIBLE = 1e-12
"""A section that asks for less than this share of the pump's flow counts as shut."""


@dataclass(frozen=True)
class _Fed:
    """A pump, its banks, and the columns of the functions that they hold."""

    pump: Pump
    banks: tuple[Bank, ...]
    columns: tuple[int, ...]


@dataclass(frozen=True)
class _About:
    """What every part of a network is compiled from."""

    circuit: Circuit
    points: Points
    fluid: Fluid
    needs: Needs

    def lines(self, role: str, *of: str | None) -> Pipes:
        """Lines of a role in series, one after the other."""
        found = [line for line in self.circuit.lines if line.carries == role and line.of in of]
        return compile_pipes(found, self.fluid, self.needs)


def compile_plant(circuit: Circuit, points: Points) -> Plant:
    """The networks of a circuit at its points, one a pump.

    Raises MissingValue, NotSolvedYet, CircuitError, DomainError.
    """
    needs = Needs(points.size)
    fed = _who_feeds_whom(circuit)
    functions = solved_functions(circuit)
    points.fit(len(functions))
    _refuse_motions(functions, points)
    try:
        about = _About(circuit, points, fluid_at(circuit, points.oil_temperature, needs), needs)
        back = about.lines("return", *{line.of for line in circuit.lines})
        returns = _return_line(circuit, points, back, about.fluid, needs)
        networks = [_network(about, part, returns) for part in fed]
    except DomainError:
        needs.settle()  # a stand-in for a missing value may be what does not fit
        raise
    needs.settle()
    for network, part in zip(networks, fed, strict=True):
        _refuse_no_way_out(network, part.pump)
        _refuse_two_answers(network, part)
    return Plant(
        tuple(part.pump.name for part in fed),
        tuple(networks),
        tuple(part.columns for part in fed),
        returns,
    )


def _network(about: _About, fed: _Fed, returns: Pipes | FedReturn) -> Network:
    circuit, needs = about.circuit, about.needs
    pump, bank = fed.pump, fed.banks[0]
    every = solved_functions(circuit)
    functions = tuple(every[column] for column in fed.columns)
    pump_arrays = _pump_arrays(circuit, pump, about.points, about.fluid, needs)
    theoretical = pump_arrays.capacity * pump_arrays.speed
    shares = _shares(bank, functions, needs)
    network = Network(
        kind=bank.type,
        supply=pump.type,
        order=_order(bank, functions, needs),
        shares=shares,
        pump=pump_arrays,
        at_pump=_reliefs(circuit, "pump", (pump.name,), needs),
        at_bank=_reliefs(circuit, "bank inlet", tuple(b.name for b in fed.banks), needs),
        ls_relief=_ls_relief(circuit, pump, needs),
        branches=tuple(
            _branch(about, fed, column, theoretical, shares[:, place])
            for place, column in enumerate(fed.columns)
        ),
        to_tank=bank.type in ("open centre", "gear divider")
        or (bank.type == "priority valve" and _neutral_given(bank)),
        neutral=_neutral(bank, needs),
        main_line=about.lines("pressure", None, pump.name),
        return_line=returns,
        viscosity=about.fluid.viscosity,
    )
    plain = {b.name for b in fed.banks if b.type == "plain parallel"}
    return _uncapped(network, [f.bank in plain for f in functions])


def _branch(about: _About, fed: _Fed, column: int, theoretical: Array, share: Array) -> Branch:
    """One function.

    theoretical: flow of its pump without slip [m3/s]; share: of its divider outlet in that [1]
    """
    function, needs = solved_functions(about.circuit)[column], about.needs
    bank = next(b for b in fed.banks if b.name == function.bank)
    if bank.type == "gear divider":
        asked = _divided_flow(about, function, column, share * theoretical)
    else:
        asked = commanded_flow(function, column, about.points, needs)
    asked = np.where(asked > NEGLIGIBLE * theoretical, asked, 0.0)
    most, drop = asked, np.ones(1)
    if bank.type == "gear divider":
        most = np.where(asked > 0, share * theoretical, 0.0)
    else:
        drop = needs.column(bank, "section_drop", bank.name)
    return Branch(
        function.name,
        function_stages(function, column, about.points, about.fluid, needs),
        about.lines("work supply", function.name),
        about.lines("work return", function.name),
        _port_relief(about.circuit, function, needs),
        asked,
        most,
        drop,
    )


def _divided_flow(about: _About, function: Function, column: int, share: Array) -> Array:
    """What a function asks of its divider outlet [m3/s], (N,): where no valve meters it, its share.

    share: of the pump's flow [m3/s]
    """
    points = about.points
    if function.section.rated_flow is not None or function.section.curve:
        return commanded_flow(function, column, points, about.needs)
    running = (points.command[:, column] > 0) & ~lowered(function.cylinder, points, column)
    by_share = np.where(running, share, 0.0)
    return np.where(np.isnan(points.asked[:, column]), by_share, points.asked[:, column])


def _uncapped(network: Network, plain: list[bool]) -> Network:
    """Sections without a compensator as compensated ones whose limit is never reached.

    c sqrt(dp / dp_c) = (m c) sqrt(dp / (m^2 dp_c)), with m so large that m^2 dp_c is more than any
    pressure in the circuit.
    """
    if not any(plain):
        return network
    lift = np.ones(1)
    for branch in network.branches:
        lift = np.maximum(lift, branch.lift)
    highest = ceiling(network, network.pump.capacity * network.pump.speed * lift)

    def widened(branch: Branch) -> Branch:
        square = np.maximum(2.0 * highest / branch.section_drop, 1.0)
        return replace(
            branch,
            commanded=branch.asked * np.sqrt(square),
            section_drop=branch.section_drop * square,
        )

    branches = zip(network.branches, plain, strict=True)
    return replace(network, branches=tuple(widened(b) if free else b for b, free in branches))


def _who_feeds_whom(circuit: Circuit) -> list[_Fed]:
    """Each pump with its banks and functions; everything without a place in that is refused."""
    if missing := [key for key in ("pump", "bank") if not getattr(circuit, key)]:
        raise MissingValue(missing)
    functions = solved_functions(circuit)
    if missing := [f"{f.name}.bank" for f in functions if f.bank is None]:
        raise MissingValue(missing)
    banks = {bank.name: bank for bank in circuit.bank}
    for function in functions:
        if function.bank not in banks:
            raise DomainError(f"{function.name}.bank: no bank '{function.bank}'")
    fed: list[_Fed] = []
    for pump in circuit.pump:
        own = tuple(bank for bank in circuit.bank if bank.name in pump.feeds)
        if not own:
            raise MissingValue([f"{pump.name}.feeds"])
        names = {bank.name for bank in own}
        columns = tuple(i for i, f in enumerate(functions) if f.bank in names)
        fed.append(_Fed(pump, own, columns))
        _refuse_pairing(pump, own)
    for bank in circuit.bank:
        feeders = [part.pump.name for part in fed if bank in part.banks]
        if not feeders:
            raise MissingValue([f"pump.feeds (a pump for {bank.name})"])
        if len(feeders) > 1:
            raise NotSolvedYet(f"pumps that join their flow ({' and '.join(feeders)})")
    return fed


def _refuse_pairing(pump: Pump, banks: tuple[Bank, ...]) -> None:
    if len(banks) > 1 and any(bank.type not in PRESSURE_BANKS for bank in banks):
        kinds = " and ".join(dict.fromkeys(bank.type for bank in banks))
        raise NotSolvedYet(f"several banks on one pump ({kinds})")
    for bank in banks:
        if pump.type == "fixed":
            continue
        if bank.type in ("open centre", "gear divider"):
            raise NotSolvedYet(f"a bank of type '{bank.type}' on a {pump.type} pump")
        if bank.type == "priority valve" and _neutral_given(bank):
            raise NotSolvedYet(f"a priority valve that is open to tank on a {pump.type} pump")


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
    if bank.type not in ORDERED_BANKS:
        return tuple(range(len(names)))
    if missing := [n for n in names if n not in bank.order]:
        needs.missing.append(f"{bank.name}.order (place of {', '.join(missing)})")
    return tuple(names.index(n) for n in bank.order if n in names)


def _shares(bank: Bank, functions: tuple[Function, ...], needs: Needs) -> Array:
    """Part of the flow that each function's outlet of a gear divider gets [1], (1, M) or (N, M)."""
    if bank.type != "gear divider":
        return np.zeros((1, len(functions)))
    if len(bank.shares) != len(bank.order) or not bank.shares:
        needs.missing.append(f"{bank.name}.shares (one for each outlet in {bank.name}.order)")
        return np.ones((1, len(functions)))
    if min(float(np.min(share)) for share in bank.shares) <= 0:
        raise DomainError(f"{bank.name}.shares: must be positive")
    found = dict(zip(bank.order, bank.shares, strict=True))
    if missing := [n for n in found if n not in {f.name for f in functions}]:
        raise DomainError(f"{bank.name}.order: no function '{missing[0]}' in it that takes oil")
    whole = sum(np.atleast_1d(share) for share in bank.shares)
    own = [np.atleast_1d(found.get(f.name, 1.0)) / whole for f in functions]
    return np.stack(np.broadcast_arrays(*own), axis=1)


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


def _reliefs(circuit: Circuit, at: str, of: tuple[str, ...], needs: Needs) -> ReliefArrays:
    found = [r for r in circuit.relief if r.at == at and r.of in of]
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
    """Drop per flow squared of an open centre to tank or of a divider [Pa s2/m6], (1,) or (N,)."""
    if bank.type != "open centre" and not (bank.type in ORDERED_BANKS and _neutral_given(bank)):
        return np.zeros(1)
    drop, flow = (needs.column(bank, k, bank.name) for k in ("neutral_drop", "neutral_flow"))
    return drop / flow**2


def _neutral_given(bank: Bank) -> bool:
    return bank.neutral_drop is not None or bank.neutral_flow is not None


def _refuse_no_way_out(network: Network, pump: Pump) -> None:
    asked = any(branch.commanded.any() for branch in network.branches)
    blocked = network.supply == "fixed" and (asked or not network.to_tank)
    relieved = bool(network.at_pump.names or network.at_bank.names)
    if blocked and not relieved and not np.all(network.pump.slip > 0):
        raise CircuitError(
            f"{pump.name}: a fixed pump without slip or relief has nowhere to send its oil; "
            "give a relief at the pump, or a volumetric efficiency below 100 %"
        )


def _refuse_two_answers(network: Network, fed: _Fed) -> None:
    """A priority valve on a load sensing pump whose margin does not hold up its own section.

    The priority load alone then leaves the excess closed. A higher load behind it, once it had
    flow, would raise the pump's pressure and keep itself going.
    """
    if network.kind != "priority valve" or network.supply != "load sensing":
        return
    total = network.asked.sum(axis=1)
    needed = network.branches[0].section_drop if network.branches else np.zeros(1)
    needed = needed + network.main_line.drop(total)[0]
    if np.any((network.pump.margin < needed) & (total > 0)):
        raise CircuitError(
            f"{fed.pump.name}.margin: must cover {fed.banks[0].name}.section_drop and the loss of "
            "the pressure line, or a priority valve has no single answer"
        )
