"""Liquid: what pre-wet and direct rates ask of the nozzles and the liquid pump."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hydrocheck.model.truck import LiquidRig, Truck
from hydrocheck.physics import brine, material

Array = NDArray[np.float64]


@dataclass(frozen=True)
class LiquidNeed:
    """A liquid order at V road speeds, K rates, (K, V) each.

    rates: of the material [kg/m] for pre-wet, of the liquid [m3/m] for direct, (K,)
    flow: of the liquid [m3/s]; pressure: at the nozzles [Pa], None where they are not given
    pump_speed: of the liquid pump [rad/s], None where its size is not given
    least_pressure: below which the nozzles do not spray [Pa], None where not given
    """

    rates: Array
    road_speeds: Array
    flow: Array
    pressure: Array | None
    pump_speed: Array | None
    least_pressure: float | None = None

    @property
    def weak(self) -> int:
        """How many orders leave the nozzles below their least pressure."""
        if self.pressure is None or self.least_pressure is None:
            return 0
        return int((self.pressure < self.least_pressure).sum())

    @property
    def pressure_span(self) -> float | None:
        """Greatest over least nozzle pressure [1]."""
        return None if self.pressure is None else float(self.pressure.max() / self.pressure.min())


@dataclass(frozen=True)
class Liquid:
    """What the truck's liquid orders ask.

    gravity: specific gravity [1]; freezes: freezing point [K], None above the eutectic
    coldest: air [K], None where not given
    salt: dissolved salt that pre-wet adds, over the dry material [1]
    """

    concentration: float
    gravity: float
    freezes: float | None
    coldest: float | None
    per_mass: float | None
    salt: float | None
    prewet: LiquidNeed | None
    direct: LiquidNeed | None

    @property
    def may_freeze(self) -> bool:
        """Whether the coldest air is colder than the brine stands."""
        return self.coldest is not None and self.freezes is not None and self.coldest < self.freezes


def liquid_rig(truck: Truck) -> LiquidRig:
    """`spreading.liquid`; what it does not give of nozzles and pump is the liquid function's."""
    rig = truck.spreading.liquid or LiquidRig()
    pumps = [f.liquid_pump for f in truck.function if f.fitted and f.liquid_pump is not None]
    if not pumps:
        return rig
    pump = pumps[0]
    own: dict[str, Any] = {}
    if rig.nozzle_flow is None and pump.nozzle_flow is not None:
        own = {
            "nozzle_flow": pump.nozzle_flow * pump.nozzles,
            "nozzle_pressure": pump.nozzle_pressure,
        }
    if (
        rig.per_turn is None
        and pump.displacement is not None
        and pump.volumetric_efficiency is not None
    ):
        own["per_turn"] = pump.displacement * pump.volumetric_efficiency
    return replace(rig, **own)


def liquid_need(truck: Truck, rates: Array, road_speeds: Array) -> Liquid | None:
    """Flow, nozzle pressure and pump speed of the liquid; None where the truck orders none.

    rates: of the material [kg/m], (K,); road_speeds: [m/s], (V,). Raises DomainError.
    """
    spreading = truck.spreading
    rig = liquid_rig(truck)
    if spreading.prewet is None and not rig.rates:
        return None
    lanes, strength = spreading.lanes, float(rig.concentration)
    gravity = float(brine.brine_specific_gravity(strength))
    prewet = direct = salt = None
    if spreading.prewet is not None and rates.size and road_speeds.size:
        dry = material.discharge(rates[:, None], road_speeds, lanes)
        ratio = float(spreading.prewet)
        prewet = _need(rig, rates, road_speeds, material.prewet_flow(dry, ratio), gravity)
        density = float(brine.brine_density(strength))
        salt = float(brine.salt_in_brine(ratio, density, strength))
    if rig.rates and road_speeds.size:
        told = np.unique(np.array(rig.rates))
        flow = material.liquid_flow(told[:, None], lanes, road_speeds)
        direct = _need(rig, told, road_speeds, flow, gravity)
    known = strength <= brine.EUTECTIC + 1e-9
    freezes = float(brine.brine_freezing_point(min(strength, brine.EUTECTIC))) if known else None
    coldest = truck.ambient.coldest
    return Liquid(
        strength,
        gravity,
        freezes,
        None if coldest is None else float(coldest),
        None if spreading.prewet is None else float(spreading.prewet),
        salt,
        prewet,
        direct,
    )


def _need(
    rig: LiquidRig, rates: Array, road_speeds: Array, flow: Array, gravity: float
) -> LiquidNeed:
    pressure = pump_speed = None
    if rig.nozzle_flow is not None and rig.nozzle_pressure is not None:
        pressure = material.nozzle_pressure(rig.nozzle_flow, rig.nozzle_pressure, flow, gravity)
    if rig.per_turn is not None:
        pump_speed = flow / rig.per_turn
    least = None if rig.least_pressure is None else float(rig.least_pressure)
    return LiquidNeed(rates, road_speeds, flow, pressure, pump_speed, least)


def least_even_speed(truck: Truck) -> float | None:
    """Speed of the liquid pump below which its nozzles no longer spray evenly [rad/s].

    n = Q_r sqrt(p_least / (p_r SG)) / discharge per turn

    None where the truck file does not give nozzles, their least pressure and the pump.
    """
    rig = truck.spreading.liquid
    if rig is None or rig.nozzle_flow is None or rig.nozzle_pressure is None:
        return None
    if rig.least_pressure is None or rig.per_turn is None:
        return None
    gravity = float(brine.brine_specific_gravity(float(rig.concentration)))
    flow = material.nozzle_flow(rig.nozzle_flow, rig.nozzle_pressure, rig.least_pressure, gravity)
    return float(flow) / float(rig.per_turn)


def greatest_speed(truck: Truck) -> float | None:
    """Speed of the liquid pump for the greatest ordered rate at the greatest road speed [rad/s].

    None where the truck orders no liquid or the pump is not given.
    """
    spreading = truck.spreading
    need = liquid_need(truck, np.array(spreading.rates), np.array(spreading.road_speeds))
    speeds = [
        float(one.pump_speed.max())
        for one in ((need.prewet, need.direct) if need is not None else ())
        if one is not None and one.pump_speed is not None
    ]
    return max(speeds, default=None)
