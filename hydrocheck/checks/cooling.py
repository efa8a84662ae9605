"""What tank and cooler give off at the hottest oil, for the checks of heat."""

from __future__ import annotations

from dataclasses import dataclass

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model import Truck
from hydrocheck.studies.conditions import oil_temperatures


@dataclass(frozen=True)
class TankCooling:
    """hot: hottest oil [K]; warmer: above the hottest air [K]; per_area: [W/(m2 K)]; surface:
    conductance of the tank's surface [W/K]; cooler: of the cooler [W/K]."""

    hot: float
    warmer: float
    per_area: float
    surface: float
    cooler: float

    @property
    def gives(self) -> float:
        """Heat that tank and cooler give off at the hottest oil [W]."""
        return (self.surface + self.cooler) * self.warmer


def surface_missing(truck: Truck) -> list[str]:
    """Keys of the tank's surface that are not given."""
    tank = truck.reservoir
    return [f"reservoir.{k}" for k in ("area", "heat_transfer") if getattr(tank, k) is None]


def tank_surface(truck: Truck) -> float:
    """Conductance of the tank's surface [W/K], where it is given."""
    return float(truck.reservoir.area or 0.0) * float(truck.reservoir.heat_transfer or 0.0)


def tank_cooling(truck: Truck) -> TankCooling:
    """Cooling against the hottest air at work. Raises MissingValue, DomainError."""
    tank, air = truck.reservoir, truck.ambient.hottest
    missing = surface_missing(truck)
    if air is None:
        raise MissingValue([*missing, "ambient.hottest"])
    if missing:
        raise MissingValue(missing)
    hot = float(oil_temperatures(truck, "hot")[0])
    if hot <= float(air):
        raise DomainError("oil.hot is not above ambient.hottest: the tank gives off no heat")
    return TankCooling(
        hot,
        hot - float(air),
        float(tank.heat_transfer or 0.0),
        tank_surface(truck),
        float(tank.cooler or 0.0),
    )
