"""From a balanced state to the full result: speeds, torques, powers, heat, limits, residuals.

Nothing is taken over from the iteration that can be had from an element's own law: speeds and drops
from the flows, section drops from the section law, relief heat from its own pressures. The
residuals compare the two:

    shaft power = mechanical power of the loads + sum of heat
    at each node, what flows in = what flows out
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from hydrocheck.physics.arrays import Array
from hydrocheck.solver.branches import Branch, Stage
from hydrocheck.solver.needs import Mask, sum_of
from hydrocheck.solver.network import Network
from hydrocheck.solver.points import Points
from hydrocheck.solver.result import FunctionLimit, Result, SupplyLimit
from hydrocheck.solver.state import State
from hydrocheck.solver.supply import deliverable, held_pressure, stroke_limit

STAGED = ("open centre", "priority valve")
"""Banks in which one stage passes on what it does not take."""
_CLOSE = 1e-9
_HELD = 1e-6
"""Share of the held pressure within which a pump holds it; thick oil makes it hard to tell."""


@dataclass(frozen=True)
class PumpState:
    """The pump, (N,) each: delivery, slip, D n [m3/s], stroke [1], torque [N m], power [W]."""

    flow: Array
    slip: Array
    theoretical: Array
    stroke: Array
    torque: Array
    power: Array
    destroked: Mask


@dataclass(frozen=True)
class StageState:
    """One stage of one function, (N,) each.

    speed: of its own shaft [rad/s] or [m/s]; drop: dp [Pa]; inlet, outlet: port pressures [Pa]
    slip, case: flow past it and into its drain [m3/s]
    torque: at the load [N m]; load_speed: [rad/s]; power: given to the load [W]; heat: [W]
    imbalance: inlet flow less displaced flow less slip [m3/s]
    """

    speed: Array
    drop: Array
    inlet: Array
    outlet: Array
    slip: Array
    case: Array
    torque: Array
    load_speed: Array
    power: Array
    heat: Array
    imbalance: Array


@dataclass(frozen=True)
class BranchState:
    """One function: its machines in the order of the model, heat of its lines [W] and flow back to
    the manifold [m3/s], (N,)."""

    stages: tuple[StageState, ...]
    line_heat: Array
    returned: Array


def account(points: Points, network: Network, state: State, pump_name: str) -> Result:
    """The result of a balanced state."""
    size, bank, pump = points.size, state.bank, _pump_state(network, state)
    branches = [
        branch_state(branch, bank.line[:, m], bank.work[:, m], state.returns)
        for m, branch in enumerate(network.branches)
    ]
    heat = _heat(network, state, branches)
    stages = _stages(branches, size)
    mechanical = stages["power"].sum(axis=(0, 2))
    flow_residual, energy_residual = _residuals(
        network, state, branches, pump, (mechanical, sum_of(list(heat.values())))
    )
    relief = np.concatenate([state.at_pump, state.at_bank], axis=1)
    reliefs = network.at_pump.names + network.at_bank.names
    return Result(
        functions=tuple(branch.name for branch in network.branches),
        pumps=(pump_name,),
        engine_speed=points.engine_speed,
        pump_speed=np.broadcast_to(network.pump.speed, (size,)),
        oil_temperature=points.oil_temperature,
        viscosity=network.viscosity,
        pump_pressure=state.pump,
        inlet_pressure=bank.inlet,
        return_pressure=state.returns,
        load_signal=state.load_signal,
        pump_flow=pump.flow,
        pump_slip=pump.slip,
        stroke=pump.stroke,
        pump_torque=pump.torque,
        shaft_power=pump.power,
        main_flow=state.through_line,
        passed=bank.passed,
        relief_flow={name: relief[:, k] for k, name in enumerate(reliefs)},
        return_flow=state.returned,
        asked=network.asked,
        flow=bank.section,
        motor_flow=bank.line,
        lowered=np.zeros((size, len(network.branches))),
        speed=stages["load_speed"][0],
        motor_speed=stages["speed"],
        motor_drop=stages["drop"],
        motor_inlet=stages["inlet"],
        motor_outlet=stages["outlet"],
        torque=stages["torque"],
        work_pressure=bank.work,
        section_drop=np.where(bank.section > 0, bank.stage_inlet - bank.work, 0.0),
        case_flow=stages["case"].sum(axis=0),
        mechanical_power=mechanical,
        heat=heat,
        supply_limit=_supply_limit(network, state, pump.destroked),
        function_limit=_function_limit(network, state, branches),
        flow_residual=flow_residual,
        energy_residual=energy_residual,
    )


def _pump_state(network: Network, state: State) -> PumpState:
    """The pump at a balanced state: destroked it gives what is taken, else all it can."""
    pump = network.pump
    flow = state.through_line + state.at_pump.sum(axis=1)
    slip = pump.slip * state.pump
    theoretical = pump.capacity * pump.speed
    turning = theoretical > 0
    needed = np.where(turning, (flow + slip) / np.where(turning, theoretical, 1.0), 0.0)
    full = stroke_limit(network, state.pump)
    destroked = _destroked(network, state, flow)
    stroke = np.where(destroked, np.minimum(needed, full), full)
    torque = (stroke + pump.friction) * pump.capacity * state.pump + pump.drag * pump.speed
    return PumpState(flow, slip, theoretical, stroke, torque, torque * pump.speed, destroked)


def _destroked(network: Network, state: State, pump_flow: Array) -> Mask:
    """Where a controlled pump holds its pressure with flow in hand, (N,)."""
    if network.supply == "fixed":
        return np.zeros(state.pump.shape, dtype=bool)
    holds = state.pump >= held_pressure(network, state.load_signal) * (1.0 - _HELD)
    return holds & (deliverable(network, state.pump) >= pump_flow * (1.0 - _CLOSE))


def _residuals(
    network: Network,
    state: State,
    branches: list[BranchState],
    pump: PumpState,
    given: tuple[Array, Array],
) -> tuple[Array, Array]:
    """Relative imbalance of flow and of energy [1], (N,); given: mechanical power and heat [W]."""
    mechanical, heat = given
    at_pump = np.abs(pump.stroke * pump.theoretical - pump.slip - pump.flow)
    imbalance = np.maximum(at_pump, _node_imbalance(network, state, branches))
    throughput = np.maximum(pump.theoretical, state.bank.section.sum(axis=1))
    power = np.maximum(np.abs(pump.power), heat)
    lost = np.abs(pump.power - mechanical - heat)
    return imbalance / np.maximum(throughput, 1e-12), lost / np.maximum(power, 1e-9)


def branch_state(branch: Branch, line: Array, work: Array, returns: Array) -> BranchState:
    """A branch at a flow into its work line [m3/s], work-port and return pressure [Pa], (N,) each.

    A machine without slip that gets no flow holds what pressure reaches it.
    """
    if not branch.commanded.any():
        return _shut(branch, returns)
    held: Array | None = None
    tight = any(np.any(stage.slip <= 0) for stage in branch.stages[1:])
    if tight or ((line <= 0) & (branch.commanded > 0)).any():
        held = work - branch.climb(line).pressure - branch.lift * returns
        held = np.where(branch.commanded > 0, np.maximum(held, 0.0), 0.0)
    ahead = line
    forward = []
    for stage in branch.stages:
        speed, drop, _ = stage.state(ahead)
        before = ahead
        ahead = stage.outflow(speed, drop)
        if held is not None:
            still = (before <= 0) & (stage.slip <= 0)
            drop, held = drop + np.where(still, held, 0.0), np.where(still, 0.0, held)
        forward.append((stage, before, speed, drop))
    supply, back = branch.supply.drop(line)[0], branch.back.drop(ahead)[0]
    outlet = returns + back
    backward: list[StageState] = []
    for stage, flow, speed, drop in reversed(forward):
        inlet = stage.outlet_share * outlet + drop
        ports = (inlet, outlet, drop)
        if isinstance(stage, Stage):
            backward.insert(0, _machine(stage, flow, speed, ports))
        else:
            speeds = stage.split(flow)[0]
            flows = [
                m.capacity * v + m.slip * drop for m, v in zip(stage.motors, speeds, strict=True)
            ]
            flows[0] = flow - sum(flows[1:])  # what they do not share is the first one's imbalance
            backward[:0] = [
                _machine(*of, ports) for of in zip(stage.motors, flows, speeds, strict=True)
            ]
        outlet = inlet
    return BranchState(tuple(backward), supply * line + back * ahead, ahead)


def _shut(branch: Branch, returns: Array) -> BranchState:
    """A branch that is shut at every point: its machines at rest at the return pressure."""
    nothing = np.broadcast_to(np.zeros(1), returns.shape)
    names = [f.name for f in fields(StageState) if f.name not in ("inlet", "outlet")]
    backward: list[StageState] = []
    outlet = returns
    for stage in reversed(branch.stages):
        inlet = stage.outlet_share * outlet
        rest = StageState(inlet=inlet, outlet=outlet, **dict.fromkeys(names, nothing))
        backward += [rest] * (1 if isinstance(stage, Stage) else len(stage.motors))
        outlet = inlet
    return BranchState(tuple(reversed(backward)), nothing, nothing)


def _machine(
    stage: Stage, flow: Array, speed: Array, ports: tuple[Array, Array, Array]
) -> StageState:
    """One machine at its flow [m3/s], speed, and pressure at inlet, outlet and over it [Pa]."""
    inlet, outlet, drop = ports
    slip = stage.slip * drop
    case = stage.case_share * slip
    running = stage.load0 + (stage.load1 + stage.load2 * speed) * speed
    reached = stage.capacity * drop * (1.0 - stage.friction)
    torque = np.where(speed > 0, running, np.minimum(reached, running))
    given = torque * speed * stage.gear_efficiency
    rubbed = stage.friction * stage.capacity * drop * speed + stage.drag * speed**2
    drained = case * outlet * stage.outlet_share
    return StageState(
        speed=speed,
        drop=drop,
        inlet=inlet,
        outlet=outlet,
        slip=slip,
        case=case,
        torque=torque * stage.gear_ratio * stage.gear_efficiency,
        load_speed=speed / stage.gear_ratio,
        power=given,
        heat=slip * drop + drained + rubbed + torque * speed - given,
        imbalance=flow - stage.capacity * speed - slip,
    )


def _stages(branches: list[BranchState], size: int) -> dict[str, Array]:
    """The machines' values as (S, N, M); a function with fewer of them has zeros there."""
    depth = max((len(branch.stages) for branch in branches), default=1)
    keys = ("speed", "drop", "inlet", "outlet", "case", "torque", "load_speed", "power")
    out = {key: np.zeros((depth, len(branches), size)) for key in keys}
    for m, branch in enumerate(branches):
        for s, stage in enumerate(branch.stages):
            for key in keys:
                values = getattr(stage, key)
                if values.strides != (0,) or values.any():  # else zeros, as they are there
                    out[key][s, m] = values
    # The points last in memory: sums over functions run through whole columns.
    return {key: values.transpose(0, 2, 1) for key, values in out.items()}


def _node_imbalance(network: Network, state: State, branches: list[BranchState]) -> Array:
    """Greatest flow imbalance at a bank inlet, a machine or the return manifold [m3/s], (N,)."""
    bank = state.bank
    at_bank = network.at_bank.flow(bank.inlet, state.returns)
    at_pump = network.at_pump.flow(state.pump, state.returns)
    worst = np.abs(
        state.through_line - bank.section.sum(axis=1) - bank.passed - at_bank.sum(axis=1)
    )
    returned = bank.passed + (at_bank * network.at_bank.to_return).sum(axis=1)
    returned = returned + (at_pump * network.at_pump.to_return).sum(axis=1)
    for m, (branch, found) in enumerate(zip(network.branches, branches, strict=True)):
        returned = returned + found.returned
        if branch.relief is not None and branch.relief.to_return:
            returned = returned + (bank.section - bank.line)[:, m]
        for stage in found.stages:
            worst = np.maximum(worst, np.abs(stage.imbalance))
    return np.asarray(np.maximum(worst, np.abs(returned - state.returned)))


def _heat(network: Network, state: State, branches: list[BranchState]) -> dict[str, Array]:
    """Heat by element [W], (N,) each, every one from its own law."""
    pump, bank = network.pump, state.bank
    friction = pump.friction * pump.capacity * state.pump + pump.drag * pump.speed
    heat = {
        "pump slip": pump.slip * state.pump**2,
        "pump friction": friction * pump.speed,
        "pressure line": network.main_line.drop(state.through_line)[0] * state.through_line,
        "return line": network.return_line.drop(state.returned)[0] * state.returned,
    }
    for reliefs, inlet in ((network.at_pump, state.pump), (network.at_bank, bank.inlet)):
        flows = reliefs.flow(inlet, state.returns)
        for k, name in enumerate(reliefs.names):
            heat[name] = flows[:, k] * (inlet - reliefs.to_return[0, k] * state.returns)
    drops = _section_drops(network, state)
    for m, (branch, found) in enumerate(zip(network.branches, branches, strict=True)):
        heat[f"{branch.name} section"] = drops[m] * bank.section[:, m]
        heat[f"{branch.name} lines"] = found.line_heat
        heat[f"{branch.name} machine"] = sum_of([s.heat for s in found.stages])
        if branch.relief is not None:
            outlet = state.returns if branch.relief.to_return else 0.0
            reached = bank.section[:, m] > 0
            over = np.where(reached, branch.relief.flow(bank.work[:, m], state.returns), 0.0)
            heat[f"{branch.name} port relief"] = over * (bank.work[:, m] - outlet)
    if network.kind == "gear divider":
        through = bank.section.sum(axis=1) + bank.passed
        heat["gear divider"] = network.neutral * np.abs(through) ** 3
    elif network.kind in STAGED:
        heat[network.kind] = _staged_heat(network, state)
    return {key: np.broadcast_to(value, state.pump.shape) for key, value in heat.items()}


def _section_drops(network: Network, state: State) -> list[Array]:
    """Drop over each section, (N,): by its own law where that rules, else what the pressures leave.

    The law rules a starving section of a parallel bank, the stage of an open centre that sets the
    inlet pressure, and the highest load of a bank that shares flow. It is also the least drop of
    any other section: its compensator takes the rest. The outlets of a gear divider have none.
    """
    bank = state.bank
    drops = {}
    downstream = state.returns + network.neutral * bank.passed * np.abs(bank.passed)
    starving = bank.section < network.commanded * (1.0 - _CLOSE)
    any_starves = starving.any(axis=1)
    for m in reversed(network.order):
        branch, section = network.branches[m], bank.section[:, m]
        most = np.where(branch.commanded > 0, branch.commanded, 1.0)
        law = branch.section_drop * (section / most) ** 2
        left = bank.stage_inlet[:, m] - bank.work[:, m]
        if network.kind == "gear divider":
            law = left
        if network.kind in STAGED:
            rules = bank.stage_inlet[:, m] > downstream * (1.0 + _CLOSE)
            rules = rules & (any_starves | network.to_tank)
        elif network.kind == "flow sharing":
            rules = starving[:, m] & (bank.work[:, m] >= state.load_signal * (1.0 - _CLOSE))
        else:
            rules = starving[:, m]
        drops[m] = np.where(rules, law, np.maximum(law, left))
        downstream = bank.stage_inlet[:, m]
    return [drops[m] for m in sorted(drops)]


def _staged_heat(network: Network, state: State) -> Array:
    """Heat of oil that passes each stage and of the neutral passage [W], (N,)."""
    bank = state.bank
    left = state.through_line - state.at_bank.sum(axis=1)
    before, heat = bank.inlet, np.zeros_like(left)
    for m in network.order:
        heat = heat + (before - bank.stage_inlet[:, m]) * left
        before = bank.stage_inlet[:, m]
        left = left - bank.section[:, m]
    return np.asarray(heat + (before - state.returns) * bank.passed)


def _supply_limit(network: Network, state: State, destroked: Mask) -> NDArray[np.int64]:
    """What sets the pump pressure, (N,)."""
    relieving = (state.at_pump.sum(axis=1) + state.at_bank.sum(axis=1)) > 0
    if network.supply == "fixed":
        return np.where(relieving, SupplyLimit.RELIEF, SupplyLimit.FLOW).astype(np.int64)
    pump = network.pump
    held = held_pressure(network, state.load_signal)
    kind = np.where(
        held >= pump.compensator,
        SupplyLimit.COMPENSATOR,
        np.where(held <= pump.standby, SupplyLimit.STANDBY, SupplyLimit.LOAD_SIGNAL),
    )
    limited = stroke_limit(network, state.pump) < 1.0
    saturated = np.where(limited, SupplyLimit.TORQUE_LIMIT, SupplyLimit.FULL_STROKE)
    limit = np.where(destroked, kind, saturated)
    return np.where(relieving, SupplyLimit.RELIEF, limit).astype(np.int64)


def _function_limit(
    network: Network, state: State, branches: list[BranchState]
) -> NDArray[np.int64]:
    """What sets the flow of each function, (N, M)."""
    still = np.zeros(state.bank.section.T.shape, dtype=bool).T
    for m, branch in enumerate(branches):
        for machine in branch.stages:
            still[:, m] |= machine.speed <= 0.0
    section, line = state.bank.section, state.bank.line
    asked = network.asked
    full = section >= asked * (1.0 - _CLOSE)
    limit = np.where(full, FunctionLimit.COMMAND, FunctionLimit.SHORT)
    limit = np.where(section - line > _CLOSE * asked, FunctionLimit.PORT_RELIEF, limit)
    limit = np.where(still, FunctionLimit.STALL, limit)
    return np.where(asked > 0, limit, FunctionLimit.OFF).astype(np.int64)
