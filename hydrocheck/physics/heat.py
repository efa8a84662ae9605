"""Heat: what throttling makes, what surfaces and coolers carry off, and reservoir rules.

Steady state and one lump of oil at one temperature. Every function broadcasts; a scalar in gives a
0-d result.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.physics._guard import require_efficiency, require_not_negative, require_positive
from hydrocheck.physics.arrays import Array, as_array

__all__ = [
    "conductance_for_limit",
    "cooler_heat",
    "outlet_temperature",
    "pump_heat",
    "relief_heat",
    "reservoir_volume",
    "reservoir_volume_for_swing",
    "steady_temperature",
    "surface_conductance",
    "surface_loss",
    "swing_volume",
    "temperature_rise",
    "throttling_rise",
    "time_constant",
    "warm_up",
    "warm_up_time",
]


def relief_heat(flow: ArrayLike, pressure_drop: ArrayLike) -> Array:
    """Heat made where oil gives up pressure without doing work: reliefs, valves, lines, slip.

    P = Q dp

    flow: through the element [m3/s], broadcast
    pressure_drop: across it [Pa], broadcast
    returns: heat [W]

    >>> round(float(relief_heat(0.000632, 70e5)))
    4424

    Source: Fluid Power with Applications, 6th ed., 2005, Example 11-3.
    """
    return as_array(flow) * as_array(pressure_drop)


def pump_heat(flow: ArrayLike, pressure: ArrayLike, overall_efficiency: ArrayLike) -> Array:
    """Heat made in a pump or in a line of machines of known overall efficiency.

    P = Q p (1 / eta - 1)

    flow: delivered [m3/s], broadcast
    pressure: rise over the pump [Pa], broadcast
    overall_efficiency: of the pump [1], above 0 and at most 1, refused outside, broadcast
    returns: heat [W], all of it taken to go into the oil

    >>> round(float(pump_heat(0.00126, 70e5, 0.85)))
    1556

    Source: Fluid Power with Applications, 6th ed., 2005, Example 11-5.
    """
    eta = as_array(overall_efficiency)
    require_efficiency(overall_efficiency=eta)
    return relief_heat(flow, pressure) * (1.0 / eta - 1.0)


def temperature_rise(heat: ArrayLike, mass_flow: ArrayLike, specific_heat: ArrayLike) -> Array:
    """Temperature rise of a stream of oil that takes up heat.

    dT = P / (m c)

    heat: taken up [W], broadcast
    mass_flow: of the oil [kg/s], above 0, broadcast
    specific_heat: of the oil [J/(kg K)], about 1900, above 0, broadcast
    returns: rise [K]

    >>> round(float(temperature_rise(4424.0, 895.0 * 0.000632, 1800.0)), 1)
    4.3

    Source: Fluid Power with Applications, 6th ed., 2005, Example 11-3.
    """
    flow, specific = as_array(mass_flow), as_array(specific_heat)
    require_positive(mass_flow=flow, specific_heat=specific)
    return as_array(heat) / (flow * specific)


def throttling_rise(
    pressure_drop: ArrayLike, density: ArrayLike, specific_heat: ArrayLike
) -> Array:
    """Temperature rise of oil that is throttled without losing heat, whatever the flow.

    dT = dp / (rho c)

    pressure_drop: across the throttle [Pa], broadcast
    density: of the oil [kg/m3], above 0, broadcast
    specific_heat: of the oil [J/(kg K)], above 0, broadcast
    returns: rise [K]

    Counts all the work as heat. Right after a throttle the rise is about a fifth less, since oil
    cools as it expands; a pump gives that back, so that round a circuit the full rise counts.

    >>> round(float(throttling_rise(70e5, 895.0, 1800.0)), 2)
    4.35

    Source: Fluid Power with Applications, 6th ed., 2005, Example 11-3; the remark from memory.
    """
    rho, specific = as_array(density), as_array(specific_heat)
    require_positive(density=rho, specific_heat=specific)
    return as_array(pressure_drop) / (rho * specific)


def outlet_temperature(inlet: ArrayLike, rise: ArrayLike) -> Array:
    """Temperature of oil after a rise.

    T = T_in + dT

    inlet: temperature before [K], broadcast
    rise: see `temperature_rise` and `throttling_rise` [K], broadcast
    returns: temperature [K]

    >>> float(outlet_temperature(323.15, 4.5))
    327.65

    Source: definition.
    """
    return as_array(inlet) + as_array(rise)


def surface_conductance(area: ArrayLike, coefficient: ArrayLike) -> Array:
    """Heat that a surface passes for each kelvin. Conductances of surfaces and coolers add up.

    G = U A

    area: wetted by oil inside and by air outside [m2], broadcast
    coefficient: heat transfer from oil to air [W/(m2 K)], about 11, broadcast
    returns: conductance [W/K]

    Published coefficients run from 6 (still air) to 14.5, windy places higher: give a range.

    >>> round(float(surface_conductance(2.0, 11.4)), 1)
    22.8

    Source: common practice; three handbooks that differ by a factor of 2.5.
    """
    return as_array(area) * as_array(coefficient)


def surface_loss(
    area: ArrayLike, coefficient: ArrayLike, oil: ArrayLike, ambient: ArrayLike
) -> Array:
    """Heat that a surface loses to the air.

    P = U A (T_oil - T_air)

    area: of the surface [m2], broadcast
    coefficient: heat transfer from oil to air [W/(m2 K)], broadcast
    oil: temperature of the oil [K], broadcast
    ambient: temperature of the air [K], broadcast
    returns: heat [W], below 0 where the air is warmer

    >>> round(float(surface_loss(1.0, 10.0, 323.15, 293.15)))
    300

    Source: common practice, see `surface_conductance`.
    """
    return surface_conductance(area, coefficient) * (as_array(oil) - as_array(ambient))


def cooler_heat(conductance: ArrayLike, oil: ArrayLike, ambient: ArrayLike) -> Array:
    """Heat that an air-blast cooler carries off.

    P = G (T_oil - T_air)

    conductance: specific dissipation from the cooler's data sheet [W/K], broadcast
    oil: temperature at the cooler's oil inlet [K], broadcast
    ambient: temperature at its air inlet [K], broadcast
    returns: heat [W]

    Holds at the flows of oil and air for which the conductance was stated.

    >>> round(float(cooler_heat(150.0, 333.15, 303.15)))
    4500

    Source: common practice.
    """
    return as_array(conductance) * (as_array(oil) - as_array(ambient))


def steady_temperature(heat: ArrayLike, ambient: ArrayLike, conductance: ArrayLike) -> Array:
    """Oil temperature at which losses balance the heat.

    T = T_air + P / G

    heat: into the oil [W], broadcast
    ambient: temperature of the air [K], broadcast
    conductance: of all surfaces and coolers [W/K], above 0, broadcast, refused outside
    returns: temperature [K]

    Heat itself falls or rises with viscosity: repeat with the heat at the new temperature.

    >>> round(float(steady_temperature(932.0, 297.04, 20.145)), 1)
    343.3

    Source: Fluid Power: Theory and Applications, 4th ed. (1998), Example 14.6.
    """
    total = as_array(conductance)
    require_positive(conductance=total)
    return as_array(ambient) + as_array(heat) / total


def conductance_for_limit(heat: ArrayLike, ambient: ArrayLike, limit: ArrayLike) -> Array:
    """Conductance that keeps the oil at or below a temperature.

    G = P / (T_limit - T_air); less that of the surfaces it is the cooler's

    heat: into the oil [W], broadcast
    ambient: temperature of the air [K], broadcast
    limit: highest oil temperature [K], above ambient, broadcast, refused outside
    returns: conductance of all surfaces and coolers [W/K]

    >>> round(float(conductance_for_limit(3000.0, 303.15, 333.15)))
    100

    Source: `steady_temperature` turned round; common practice.
    """
    margin = as_array(limit) - as_array(ambient)
    require_positive(temperature_limit_less_ambient=margin)
    return as_array(heat) / margin


def time_constant(
    oil_mass: ArrayLike,
    specific_heat: ArrayLike,
    conductance: ArrayLike,
    metal_mass: ArrayLike = 0.0,
    metal_specific_heat: ArrayLike = 480.0,
) -> Array:
    """Time constant of warming: after it 63 % of the change is done, after three 95 %.

    tau = (m c + m_metal c_metal) / G

    oil_mass: in circulation [kg], broadcast
    specific_heat: of the oil [J/(kg K)], broadcast
    conductance: of all surfaces and coolers [W/K], above 0, broadcast, refused outside
    metal_mass: of what warms with the oil [kg], broadcast
    metal_specific_heat: of that [J/(kg K)], 480 for steel, broadcast
    returns: time [s]

    >>> round(float(time_constant(80.0, 1900.0, 30.0)) / 60)
    84

    Source: lumped heat balance; specific heat of steel from memory.
    """
    total = as_array(conductance)
    require_positive(conductance=total)
    oil = as_array(oil_mass) * as_array(specific_heat)
    return (oil + as_array(metal_mass) * as_array(metal_specific_heat)) / total


def warm_up(
    time: ArrayLike, start: ArrayLike, steady: ArrayLike, time_constant: ArrayLike
) -> Array:
    """Oil temperature a time after the start under constant heat.

    T = T_end + (T_start - T_end) exp(-t / tau)

    time: since the start [s], 0 or more, broadcast, refused outside
    start: temperature then [K], broadcast
    steady: temperature in the end, from `steady_temperature` [K], broadcast
    time_constant: of warming [s], above 0, broadcast, refused outside
    returns: temperature [K]

    One lump of oil, constant heat: with real oil the heat falls as it thins, and it warms sooner.

    >>> round(float(warm_up(1140.0, 293.15, 326.15, 1140.0)) - 273.15, 1)
    40.9

    Source: lumped heat balance, closed form; from memory.
    """
    elapsed, tau = as_array(time), as_array(time_constant)
    require_not_negative(time=elapsed)
    require_positive(time_constant=tau)
    last = as_array(steady)
    result: Array = last + (as_array(start) - last) * np.exp(-elapsed / tau)
    return result


def warm_up_time(
    target: ArrayLike, start: ArrayLike, steady: ArrayLike, time_constant: ArrayLike
) -> Array:
    """Time until the oil reaches a temperature under constant heat.

    t = tau ln((T_end - T_start) / (T_end - T_target))

    target: wanted temperature [K], broadcast
    start: temperature at first [K], broadcast
    steady: temperature in the end [K], broadcast
    time_constant: of warming [s], above 0, broadcast, refused outside
    returns: time [s]; inf where the target is never reached, 0 where the start is past it

    >>> round(float(warm_up_time(313.15, 293.15, 333.15, 1000.0)))
    693

    Source: `warm_up` turned round.
    """
    tau = as_array(time_constant)
    require_positive(time_constant=tau)
    first, last, wanted = as_array(start), as_array(steady), as_array(target)
    way, rest = last - first, last - wanted
    done = np.where(way >= 0.0, wanted <= first, wanted >= first)
    with np.errstate(all="ignore"):
        result = np.where(way * rest > 0.0, tau * np.log(way / rest), np.inf)
    return np.where(done, 0.0, result)


def reservoir_volume(pump_flow: ArrayLike, dwell: ArrayLike) -> Array:
    """Oil volume of a reservoir by the rule of so many minutes of pump flow.

    V = Q t

    pump_flow: largest [m3/s], broadcast
    dwell: time the oil is to rest; 180 to 300 in industry, 60 to 120 on trucks [s], broadcast
    returns: volume [m3]

    A rule of thumb: heat, air release and cylinder swing decide.

    >>> round(float(reservoir_volume(15.0, 3.0)))
    45

    Source: common practice; three times pump flow, 15 gal/min gives 45 gal (NFPA T3.16.2 cited).
    """
    return as_array(pump_flow) * as_array(dwell)


def swing_volume(diameter: ArrayLike, stroke: ArrayLike, count: ArrayLike = 1.0) -> Array:
    """Oil that leaves the reservoir for good while cylinders extend.

    V = count pi d^2 / 4 stroke

    diameter: bore of single-acting cylinders, rod of double-acting ones [m], broadcast
    stroke: of the cylinders [m], broadcast
    count: cylinders that extend together [1], broadcast
    returns: volume [m3]

    >>> round(float(swing_volume(6.0, 120.0)) / 231.0, 3)
    14.688

    Source: Fluid Power: Theory and Applications, 4th ed. (1998), Example 7.5, in inches.
    """
    area = 0.25 * np.pi * as_array(diameter) ** 2
    return as_array(count) * area * as_array(stroke)


def reservoir_volume_for_swing(swing: ArrayLike, reserve: ArrayLike = 0.10) -> Array:
    """Reservoir volume above the lowest level that cylinders ask for.

    V = swing (1 + reserve)

    swing: oil that leaves the reservoir, see `swing_volume` [m3], broadcast
    reserve: air and safety, as a share of it [1], broadcast
    returns: volume [m3]

    >>> round(float(reservoir_volume_for_swing(0.050)), 3)
    0.055

    Source: common practice.
    """
    return as_array(swing) * (1.0 + as_array(reserve))
