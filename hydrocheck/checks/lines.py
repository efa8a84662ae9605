"""Lines: velocities at the highest engine speed, and what is left at the pump inlet."""

from __future__ import annotations

import numpy as np

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import Amount, Judgement, at_least, lower, upper, words
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.errors import MissingValue
from hydrocheck.model.circuit import Line, Pump
from hydrocheck.physics import lines
from hydrocheck.solver.fluid import fluid_at
from hydrocheck.studies.conditions import engine_speeds, oil_temperatures, top_speed

AREA = "lines and inlet"


def _velocity(look: Inspection, pump: Pump, line: Line, limit: float, about: str) -> Judgement:
    """Velocity of the pump's theoretical flow at its highest speed."""
    flow, bore = look.full_flow(pump), look.bore(line)
    position = look.truck.pump.index(pump)
    return upper(
        Amount(float(lines.velocity(flow, bore)), "velocity"),
        Amount(limit, "velocity"),
        about=about,
        change=words(
            "a bore of {bore} or more",
            bore=at_least(float(lines.bore_for_velocity(flow, limit)), "length"),
        ),
        at={
            "engine": Amount(top_speed(look.truck, position), "shaft_speed"),
            "flow": Amount(flow, "flow"),
        },
        given={"Q": Amount(flow, "flow"), "bore": Amount(bore, "length")},
    )


@check(
    "suction-velocity",
    area=AREA,
    asks="Is the suction line wide enough at the highest engine speed with the drive engaged?",
    formula="v = Q / A, Q the theoretical flow at full displacement",
    limit="{suction_velocity}",
    source="FED-STD-794, p. 10",
    subjects=subjects.pumps,
)
def suction_velocity(look: Inspection, pump: Pump) -> Judgement:
    """Suction velocity at the highest pump speed."""
    limit = float(look.truck.limits.suction_velocity)
    return _velocity(look, pump, look.line("suction", pump), limit, "suction velocity")


@check(
    "pressure-velocity",
    area=AREA,
    asks="Is the pressure line wide enough at the highest engine speed with the drive engaged?",
    formula="v = Q / A, Q the theoretical flow at full displacement",
    limit="{pressure_velocity}",
    source="FED-STD-794, p. 10",
    subjects=subjects.pumps,
)
def pressure_velocity(look: Inspection, pump: Pump) -> Judgement:
    """Pressure-line velocity at the highest pump speed."""
    limit = float(look.truck.limits.pressure_velocity)
    return _velocity(look, pump, look.line("pressure", pump), limit, "pressure-line velocity")


@check(
    "return-velocity",
    area=AREA,
    asks="Is the return line wide enough at the highest engine speed with the drive engaged?",
    formula="v = Q / A, Q the theoretical flow of the pump (a lowering cylinder can return more)",
    limit="{return_velocity}",
    source="common practice",
    subjects=subjects.pumps,
)
def return_velocity(look: Inspection, pump: Pump) -> Judgement:
    """Return velocity at the highest pump speed."""
    limit = float(look.truck.limits.return_velocity)
    return _velocity(look, pump, look.line("return"), limit, "return velocity")


def _inlet(look: Inspection, pump: Pump, engine_speed: float, oil_temperature: float) -> float:
    """Absolute pressure at the pump inlet [Pa] with the theoretical flow at full displacement."""
    line = look.line("suction", pump)
    bore = look.bore(line)
    if line.length is None:
        raise MissingValue([f"lines.{line.name}.length"])
    if pump.displacement is None:
        raise MissingValue([f"{pump.name}.displacement"])
    fluid = fluid_at(look.truck, np.array([oil_temperature]))
    viscosity, density = float(fluid.viscosity[0]), float(fluid.density[0])
    flow = float(pump.displacement) * engine_speed * float(look.drive_of(pump).ratio)
    drop = lines.pressure_drop(
        flow,
        bore,
        float(line.length),
        float(line.roughness),
        float(line.loss_factor),
        density,
        viscosity,
    )
    head = lines.head_pressure(float(line.head), density)
    air = lines.atmospheric_pressure(float(look.truck.ambient.altitude))
    return float(lines.inlet_absolute_pressure(air, head, drop))


@check(
    "pump-inlet",
    area=AREA,
    asks="Does enough pressure reach the pump inlet at work, at the highest engine speed?",
    formula="p_abs = atmosphere at altitude + head - suction line drop, at full displacement",
    limit="the pump's min_inlet",
    source="the limit is the pump maker's",
    subjects=subjects.pumps,
)
def pump_inlet(look: Inspection, pump: Pump) -> Judgement:
    """Inlet pressure with warm oil at the highest engine speed."""
    if pump.min_inlet is None:
        raise MissingValue([f"{pump.name}.min_inlet"])
    position = look.truck.pump.index(pump)
    speed = top_speed(look.truck, position)
    oil = float(oil_temperatures(look.truck, "working")[0])
    return _inlet_judgement(look, pump, speed, oil, float(pump.min_inlet), "inlet pressure at work")


@check(
    "pump-inlet-cold",
    area=AREA,
    asks="Does enough pressure reach the pump inlet when the engine is started cold, at idle?",
    formula="as pump-inlet, with the coldest oil at idle",
    limit="{cold_inlet}",
    source="for a short time (from memory); a pump maker's own limit comes first",
    subjects=subjects.pumps,
)
def pump_inlet_cold(look: Inspection, pump: Pump) -> Judgement:
    """Inlet pressure with the coldest oil at idle."""
    speed = float(engine_speeds(look.truck, "idle")[0])
    oil = float(oil_temperatures(look.truck, "cold")[0])
    limit = float(look.truck.limits.cold_inlet)
    return _inlet_judgement(look, pump, speed, oil, limit, "inlet pressure at a cold start")


def _inlet_judgement(
    look: Inspection, pump: Pump, speed: float, oil: float, limit: float, about: str
) -> Judgement:
    bore = look.bore(look.line("suction", pump))
    needed = _bore_for_inlet(look, pump, limit, speed, oil)
    change = words("none found: the head or the oil must change")
    if needed is not None:
        change = words("a suction bore of {needed} or more", needed=at_least(needed, "length"))
    fluid = fluid_at(look.truck, np.array([oil]))
    flow = float(pump.displacement or 0.0) * speed * float(look.drive_of(pump).ratio)
    return lower(
        Amount(max(_inlet(look, pump, speed, oil), 0.0), "absolute_pressure"),
        Amount(limit, "absolute_pressure"),
        about=about,
        change=change,
        at={"engine": Amount(speed, "shaft_speed"), "oil": Amount(oil, "temperature")},
        given={
            "Q": Amount(flow, "flow"),
            "bore": Amount(bore, "length"),
            "viscosity": Amount(float(fluid.viscosity[0]), "kinematic_viscosity"),
        },
    )


def _bore_for_inlet(
    look: Inspection, pump: Pump, limit: float, speed: float, oil: float
) -> float | None:
    """Smallest suction bore that keeps the inlet at `limit` [m]; None if four times will not do."""
    line = look.line("suction", pump)
    low, high = look.bore(line), 4.0 * look.bore(line)

    def inlet(bore: float) -> float:
        return _inlet(Inspection(look.truck.vary(f"{line.name}.bore", bore)), pump, speed, oil)

    if inlet(low) >= limit:
        return low
    if inlet(high) < limit:
        return None
    while high - low > 1e-4:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if inlet(middle) >= limit else (middle, high)
    return high
