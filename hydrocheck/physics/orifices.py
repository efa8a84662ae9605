"""Orifices and flow coefficients: flow against pressure drop in turbulent restrictions.

Arguments are floats or arrays and broadcast together; sizes, densities and coefficients must be
positive, otherwise DomainError. A flow coefficient is held in [m3/(s Pa^0.5)].
Public names are also reached through `hydrocheck.physics.valves`.
"""

from __future__ import annotations

import numpy as np

from hydrocheck.errors import DomainError
from hydrocheck.physics._guard import Real, require_not_negative, require_positive


def orifice_flow(drop: Real, area: Real, discharge_coefficient: Real, density: Real) -> Real:
    """Return the flow through a sharp orifice.

    Q = sign(dp) Cd A sqrt(2 |dp| / rho)

    drop: pressure drop [Pa], either sign
    area: of the opening [m2], zero or above
    discharge_coefficient: [1]
    density: of the fluid [kg/m3]
    returns: flow [m3/s], odd in the drop; all arguments broadcast

    Turbulent flow; a small opening in cold oil passes less than this.
    Source: Fluid Power with Applications (2005), Example 8-4, p. 302 (252 gal/min).
    """
    require_not_negative(area=area)
    require_positive(discharge_coefficient=discharge_coefficient, density=density)
    flow: Real = (
        np.sign(drop) * discharge_coefficient * area * np.sqrt(2.0 * np.abs(drop) / density)
    )
    return flow


def orifice_area(flow: Real, drop: Real, discharge_coefficient: Real, density: Real) -> Real:
    """Return the opening of an orifice that passes a flow.

    A = Q / (Cd sqrt(2 dp / rho))

    flow: [m3/s], zero or above
    drop: pressure drop [Pa]
    discharge_coefficient: [1]
    density: of the fluid [kg/m3]
    returns: area [m2]; all arguments broadcast

    Source: inverse of `orifice_flow`.
    """
    require_not_negative(flow=flow)
    require_positive(drop=drop, discharge_coefficient=discharge_coefficient, density=density)
    area: Real = flow / (discharge_coefficient * np.sqrt(2.0 * drop / density))
    return area


def orifice_diameter(flow: Real, drop: Real, discharge_coefficient: Real, density: Real) -> Real:
    """Return the diameter of a round orifice that passes a flow.

    d = sqrt(4 A / pi),  A = Q / (Cd sqrt(2 dp / rho))

    flow: [m3/s], zero or above
    drop: pressure drop [Pa]
    discharge_coefficient: [1]
    density: of the fluid [kg/m3]
    returns: diameter [m]; all arguments broadcast

    Source: inverse of `orifice_flow`.
    """
    diameter: Real = np.sqrt(4.0 / np.pi * orifice_area(flow, drop, discharge_coefficient, density))
    return diameter


def discharge_coefficient(flow: Real, drop: Real, area: Real, density: Real) -> Real:
    """Return the discharge coefficient of an orifice from measured values.

    Cd = Q / (A sqrt(2 dp / rho))

    flow: measured [m3/s], zero or above
    drop: measured pressure drop [Pa]
    area: of the opening [m2]
    density: of the fluid [kg/m3]
    returns: coefficient [1]; all arguments broadcast

    Source: Fluid Power: Theory and Applications (4th ed.), Example 5.4, p. 90 (0.7).
    """
    require_not_negative(flow=flow)
    require_positive(drop=drop, area=area, density=density)
    coefficient: Real = flow / (area * np.sqrt(2.0 * drop / density))
    return coefficient


def flow_coefficient(flow: Real, drop: Real, specific_gravity: Real = 1.0) -> Real:
    """Return the flow coefficient of a valve from a measured point.

    C = Q sqrt(S / dp)

    flow: measured [m3/s], zero or above
    drop: measured pressure drop [Pa]
    specific_gravity: density of the fluid over that of water [1]
    returns: flow coefficient for water [m3/(s Pa^0.5)]; all arguments broadcast

    Source: definition of the valve coefficient, standard textbook form, from memory.
    """
    require_not_negative(flow=flow)
    require_positive(drop=drop, specific_gravity=specific_gravity)
    coefficient: Real = flow * np.sqrt(specific_gravity / drop)
    return coefficient


def coefficient_flow(drop: Real, coefficient: Real, specific_gravity: Real = 1.0) -> Real:
    """Return the flow through a valve of known flow coefficient.

    Q = sign(dp) C sqrt(|dp| / S)

    drop: pressure drop [Pa], either sign
    coefficient: flow coefficient for water [m3/(s Pa^0.5)], zero or above
    specific_gravity: density of the fluid over that of water [1]
    returns: flow [m3/s], odd in the drop; all arguments broadcast

    Source: definition of the valve coefficient, standard textbook form, from memory.
    """
    require_not_negative(coefficient=coefficient)
    require_positive(specific_gravity=specific_gravity)
    flow: Real = np.sign(drop) * coefficient * np.sqrt(np.abs(drop) / specific_gravity)
    return flow


def coefficient_drop(flow: Real, coefficient: Real, specific_gravity: Real = 1.0) -> Real:
    """Return the pressure drop over a valve of known flow coefficient.

    dp = S Q |Q| / C^2

    flow: [m3/s], either sign
    coefficient: flow coefficient for water [m3/(s Pa^0.5)]
    specific_gravity: density of the fluid over that of water [1]
    returns: pressure drop [Pa], odd in the flow; all arguments broadcast

    Source: Fluid Power: Theory and Applications (4th ed.), Example 10.1, p. 225 (26.138 psi).
    """
    require_positive(coefficient=coefficient, specific_gravity=specific_gravity)
    drop: Real = specific_gravity * flow * np.abs(flow) / coefficient**2
    return drop


def flow_at_drop(flow: Real, drop: Real, new_drop: Real) -> Real:
    """Return the flow of an opening at another pressure drop.

    Q_2 = Q_1 sqrt(dp_2 / dp_1)

    flow: at the first drop [m3/s]
    drop: first pressure drop [Pa]
    new_drop: second pressure drop [Pa], zero or above
    returns: flow at the second drop [m3/s]; all arguments broadcast

    The root, not the proportion: 10 gal/min at 1500 psi are 4.47 at 300, where a magazine column
    said 2.
    >>> round(float(flow_at_drop(10.0, 1500.0, 300.0)), 2)
    4.47

    Source: orifice law, standard textbook form, from memory.
    """
    require_positive(drop=drop)
    require_not_negative(new_drop=new_drop)
    new_flow: Real = flow * np.sqrt(new_drop / drop)
    return new_flow


def meter_in_speed(
    coefficient: Real,
    piston_area: Real,
    load: Real,
    supply_pressure: Real,
    specific_gravity: Real,
) -> Real:
    """Return the speed of a cylinder that is metered in.

    v = C sqrt((p - F / A_p) / S) / A_p

    coefficient: flow coefficient of the throttle [m3/(s Pa^0.5)]
    piston_area: [m2]
    load: against the motion [N]
    supply_pressure: ahead of the throttle [Pa]
    specific_gravity: density of the fluid over that of water [1]
    returns: speed [m/s]; 0 where the load holds the cylinder; all arguments broadcast

    Neglects friction and the pressure of the return side.
    Source: Fluid Power with Applications (2005), Example 9-4, p. 347 (14.5 in/s).
    """
    require_positive(piston_area=piston_area)
    drop = np.maximum(supply_pressure - load / piston_area, 0.0)
    return coefficient_flow(drop, coefficient, specific_gravity) / piston_area


def meter_out_pressure(
    supply_pressure: Real, load: Real, piston_area: Real, rod_area: Real
) -> Real:
    """Return the pressure ahead of the throttle of an extending cylinder that is metered out.

    p_2 = (p A_p - F) / (A_p - A_r)

    supply_pressure: on the piston side [Pa]
    load: against the motion [N]; a load that pulls is negative
    piston_area: [m2]
    rod_area: [m2], below the piston area, refused otherwise
    returns: pressure on the rod side [Pa], above the supply at light load; all broadcast

    Source: Fluid Power with Applications (2005), Example 8-6, p. 304.
    """
    require_positive(piston_area=piston_area)
    require_not_negative(rod_area=rod_area)
    if np.any(np.asarray(rod_area) >= piston_area):
        raise DomainError("rod area must be smaller than piston area")
    return (supply_pressure * piston_area - load) / (piston_area - rod_area)


def meter_out_coefficient(
    speed: Real,
    piston_area: Real,
    rod_area: Real,
    load: Real,
    supply_pressure: Real,
    specific_gravity: Real,
) -> Real:
    """Return the flow coefficient of a throttle that meters a cylinder out at a speed.

    C = v (A_p - A_r) sqrt(S / p_2),  p_2 = (p A_p - F) / (A_p - A_r)

    speed: of extension [m/s]
    piston_area: [m2]
    rod_area: [m2], below the piston area, refused otherwise
    load: against the motion [N]; at or above what the supply can push is refused
    supply_pressure: on the piston side [Pa]
    specific_gravity: density of the fluid over that of water [1]
    returns: flow coefficient [m3/(s Pa^0.5)]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 8-6, p. 304 (0.37 gal/min per root psi).
    """
    drop = meter_out_pressure(supply_pressure, load, piston_area, rod_area)
    return flow_coefficient(speed * (piston_area - rod_area), drop, specific_gravity)
