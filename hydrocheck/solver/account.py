"""From a balanced state to the full result: speeds, torques, powers, heat by element, limits, residuals.

Heat is added up element by element, each from its own law, and compared with what the shaft puts in:

    shaft power = mechanical power of the loads + sum of heat
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hydrocheck.model.circuit import Circuit
from hydrocheck.solver.balance import State, commanded_pressure, deliverable, stroke_limit
from hydrocheck.solver.compile import Network
from hydrocheck.solver.fluid import fluid_at
from hydrocheck.solver.points import Points, solved_functions
from hydrocheck.solver.result import FunctionLimit, Result, SupplyLimit

Array = NDArray[np.float64]

_CLOSE = 1e-9


def account(circuit: Circuit, points: Points, network: Network, state: State) -> Result:
    """The result of a balanced state."""
    size = points.size
    pump = network.pump
    relief = np.concatenate([state.at_pump, state.at_bank], axis=1)
    pump_flow = state.through_line + state.at_pump.sum(axis=1)
    slip = pump.slip * state.pump
    full = stroke_limit(network, state.pump)
    theoretical = pump.capacity * pump.speed
    destroked = _destroked(network, state, pump_flow)
    needed = np.divide(pump_flow + slip, theoretical, out=np.zeros(size), where=theoretical > 0)
    stroke = np.where(destroked, np.minimum(needed, full), full)
    torque = (stroke + pump.friction) * pump.capacity * state.pump + pump.drag * pump.speed
    shaft = torque * pump.speed
    stages = _stages(network, state)
    gearing = _gearing(circuit, size)
    heat = _heat(network, state, stages, gearing)
    mechanical = (stages["load_power"] * gearing["efficiency"]).sum(axis=(0, 2))
    imbalance = np.abs(stroke * theoretical - slip - pump_flow)
    throughput = np.maximum(np.maximum(theoretical, state.section.sum(axis=1)), 1e-12)
    total = np.sum(list(heat.values()), axis=0)
    names = network.at_pump.names + network.at_bank.names
    return Result(
        functions=network.names,
        engine_speed=points.engine_speed,
        pump_speed=np.broadcast_to(pump.speed, (size,)),
        oil_temperature=points.oil_temperature,
        viscosity=fluid_at(circuit, points.oil_temperature).viscosity,
        pump_pressure=state.pump,
        inlet_pressure=state.inlet,
        return_pressure=state.returns,
        load_signal=state.load_signal,
        pump_flow=pump_flow,
        pump_slip=slip,
        stroke=stroke,
        pump_torque=torque,
        shaft_power=shaft,
        main_flow=state.through_line,
        passed=state.passed,
        relief_flow={name: relief[:, k] for k, name in enumerate(names)},
        return_flow=state.returned,
        asked=np.broadcast_to(network.commanded, state.section.shape),
        flow=state.section,
        motor_flow=state.line,
        speed=stages["speed"][0] / gearing["ratio"][0],
        motor_speed=stages["speed"],
        motor_drop=stages["drop"],
        motor_inlet=stages["inlet"],
        motor_outlet=stages["outlet"],
        torque=stages["torque"] * gearing["ratio"] * gearing["efficiency"],
        work_pressure=state.work,
        section_drop=np.where(state.section > 0, state.stage_inlet - state.work, 0.0),
        case_flow=stages["case"].sum(axis=0),
        mechanical_power=mechanical,
        heat=heat,
        supply_limit=_supply_limit(network, state, destroked),
        function_limit=_function_limit(network, state, stages["speed"][0]),
        flow_residual=imbalance / throughput,
        energy_residual=np.abs(shaft - mechanical - total)
        / np.maximum(np.maximum(np.abs(shaft), total), 1e-9),
    )


def _destroked(network: Network, state: State, pump_flow: Array) -> NDArray[np.bool_]:
    """Where a controlled pump holds its pressure with flow in hand, (N,)."""
    if network.supply == "fixed":
        return np.zeros(state.pump.shape, dtype=bool)
    holds = state.pump >= commanded_pressure(network, state) * (1.0 - _CLOSE)
    return holds & (deliverable(network, state.pump) >= pump_flow * (1.0 - _CLOSE))


def _stages(network: Network, state: State) -> dict[str, Array]:
    """Speed, drop, port pressures, torque, slip and case flow of every stage, (S, N, M) each."""
    ahead = state.line
    rows = []
    for stage in network.branches.stages:
        speed, drop = stage.state(ahead)
        slip = stage.slip * drop
        case = stage.case_share * slip
        rows.append([speed, drop, slip, case, ahead])
        ahead = stage.outflow(ahead, drop)
    outlet = state.returns[:, None] + network.branches.back.drop(ahead)[0]
    ports = []
    for stage, (_, drop, *_) in zip(network.branches.stages[::-1], rows[::-1], strict=True):
        inlet = np.where(stage.present > 0, stage.outlet_share, 1.0) * outlet + drop
        ports.append((inlet, outlet))
        outlet = inlet
    ports.reverse()
    out: dict[str, list[Array]] = {
        key: []
        for key in (
            "speed",
            "drop",
            "slip",
            "case",
            "inlet",
            "outlet",
            "torque",
            "load_power",
            "force_loss",
            "displaced",
        )
    }
    for stage, (speed, drop, slip, case, _), (inlet, exit_) in zip(
        network.branches.stages, rows, ports, strict=True
    ):
        running = stage.load0 + (stage.load1 + stage.load2 * speed) * speed
        held = stage.capacity * drop * (1.0 - stage.friction)
        torque = np.where(speed > 0, running, np.minimum(held, running)) * stage.present
        values = (speed, drop, slip, case, inlet, exit_, torque, torque * speed)
        for key, value in zip(out, values, strict=False):
            out[key].append(np.broadcast_to(value, state.section.shape))
        friction = stage.friction * stage.capacity * drop * speed + stage.drag * speed**2
        out["force_loss"].append(np.broadcast_to(friction * stage.present, state.section.shape))
        out["displaced"].append(np.broadcast_to(stage.capacity * speed, state.section.shape))
    return {key: np.stack(value) for key, value in out.items()}


def _gearing(circuit: Circuit, size: int) -> dict[str, Array]:
    """Gearbox ratio and efficiency (of a cylinder: its force efficiency) by stage, (S, 1|N, M)."""
    functions = solved_functions(circuit)
    depth = max((max(len(f.motor), 1) for f in functions), default=1)
    ratio = np.ones((depth, size, len(functions)))
    efficiency = np.ones_like(ratio)
    for m, function in enumerate(functions):
        for s, motor in enumerate(function.motor):
            ratio[s, :, m] = motor.gearbox_ratio
            efficiency[s, :, m] = motor.gearbox_efficiency
        if function.cylinder is not None:
            efficiency[0, :, m] = function.cylinder.efficiency
    return {"ratio": ratio, "efficiency": efficiency}


def _heat(
    network: Network, state: State, stages: dict[str, Array], gearing: dict[str, Array]
) -> dict[str, Array]:
    """Heat by element [W], (N,) each, every one from its own law."""
    pump = network.pump
    speed = pump.speed
    heat = {
        "pump slip": pump.slip * state.pump**2,
        "pump friction": (pump.friction * pump.capacity * state.pump + pump.drag * speed) * speed,
        "pressure line": network.main_line.drop(state.through_line[:, None])[0][:, 0]
        * state.through_line,
        "return line": network.return_line.drop(state.returned[:, None])[0][:, 0] * state.returned,
    }
    for reliefs, flows, inlet in (
        (network.at_pump, state.at_pump, state.pump),
        (network.at_bank, state.at_bank, state.inlet),
    ):
        for k, name in enumerate(reliefs.names):
            outlet = reliefs.to_return[0, k] * state.returns
            heat[name] = flows[:, k] * (inlet - outlet)
    over = state.section - state.line
    supply = network.branches.supply.drop(state.line)[0]
    back_flow = _back_flow(network, state)
    back = network.branches.back.drop(back_flow)[0]
    leak = stages["slip"] * stages["drop"] + stages["case"] * stages["outlet"]
    losses = leak + stages["force_loss"] + stages["load_power"] * (1.0 - gearing["efficiency"])
    section = _section_drops(network, state)
    for m, name in enumerate(network.names):
        heat[f"{name} section"] = section[:, m] * state.section[:, m]
        heat[f"{name} lines"] = supply[:, m] * state.line[:, m] + back[:, m] * back_flow[:, m]
        heat[f"{name} machine"] = losses[:, :, m].sum(axis=0)
        if network.branches.has_port_relief:
            heat[f"{name} port relief"] = over[:, m] * (state.work[:, m] - state.returns)
    if network.kind == "open centre":
        heat["open centre"] = _open_centre_heat(network, state)
    return {key: np.broadcast_to(value, state.pump.shape) for key, value in heat.items()}


def _back_flow(network: Network, state: State) -> Array:
    return network.branches.work_pressure(state.line, state.returns[:, None])[2]


def _section_drops(network: Network, state: State) -> Array:
    """Drop over each section: its own law where it starves, else what the pressures leave, (N, M)."""
    commanded = np.maximum(network.commanded, 1e-300)
    law = network.section_drop * (state.section / commanded) ** 2
    starving = (state.section > 0) & (state.section < network.commanded * (1.0 - _CLOSE))
    if network.kind == "open centre":
        starving = np.zeros_like(starving)
    return np.where(starving, law, np.where(state.section > 0, state.stage_inlet - state.work, 0.0))


def _open_centre_heat(network: Network, state: State) -> Array:
    """Heat of oil that passes each stage and of the neutral passage [W], (N,)."""
    left = state.through_line - state.at_bank.sum(axis=1)
    before, heat = state.inlet, np.zeros_like(left)
    for i in network.order:
        heat = heat + (before - state.stage_inlet[:, i]) * left
        before = state.stage_inlet[:, i]
        left = left - state.section[:, i]
    return heat + (before - state.returns) * state.passed


def _supply_limit(
    network: Network, state: State, destroked: NDArray[np.bool_]
) -> NDArray[np.int64]:
    """What sets the pump pressure, (N,)."""
    relieving = (state.at_pump.sum(axis=1) + state.at_bank.sum(axis=1)) > 0
    if network.supply == "fixed":
        return np.where(relieving, SupplyLimit.RELIEF, SupplyLimit.FLOW).astype(np.int64)
    pump = network.pump
    held = commanded_pressure(network, state)
    kind = np.where(
        held >= pump.compensator,
        SupplyLimit.COMPENSATOR,
        np.where(held <= pump.standby, SupplyLimit.STANDBY, SupplyLimit.LOAD_SIGNAL),
    )
    limited = stroke_limit(network, state.pump) < 1.0
    saturated = np.where(limited, SupplyLimit.TORQUE_LIMIT, SupplyLimit.FULL_STROKE)
    limit = np.where(destroked, kind, saturated)
    return np.where(relieving, SupplyLimit.RELIEF, limit).astype(np.int64)


def _function_limit(network: Network, state: State, speed: Array) -> NDArray[np.int64]:
    """What sets the flow of each function, (N, M)."""
    opened = network.commanded > 0
    full = state.section >= network.commanded * (1.0 - _CLOSE)
    limit = np.where(full, FunctionLimit.COMMAND, FunctionLimit.SHORT)
    limit = np.where(
        state.section - state.line > _CLOSE * network.commanded, FunctionLimit.PORT_RELIEF, limit
    )
    limit = np.where(speed <= 0, FunctionLimit.STALL, limit)
    return np.where(opened, limit, FunctionLimit.OFF).astype(np.int64)
