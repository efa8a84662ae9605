"""Loads: torque against shaft speed, windage, liquid pumps and cylinders.

Arguments are floats or arrays and broadcast together. Sizes must be positive and loads zero or
above unless stated; anything else raises DomainError. `load_torque` checks nothing, because the
solver calls it at trial points.
"""

from __future__ import annotations

import numpy as np

from hydrocheck.errors import DomainError
from hydrocheck.physics._guard import (
    Real,
    require_efficiency,
    require_not_negative,
    require_positive,
)


def load_torque(speed: Real, constant: Real, linear: Real, square: Real) -> Real:
    """Return the torque that a load takes at a speed.

    T = T0 + T1 n + T2 n^2

    speed: shaft speed n [rad/s], zero or above
    constant: T0 [N m]
    linear: T1 [N m s]
    square: T2 [N m s2]
    returns: torque [N m]; all arguments broadcast

    Holds for a running shaft; breaking away from rest takes more (see `starting_pressure`).
    Source: standard form of a load curve, from memory.
    """
    return constant + (linear + square * speed) * speed


def load_coefficients(
    constant: Real, linear: Real, square: Real, speed: Real
) -> tuple[Real, Real, Real]:
    """Return the coefficients of a load curve from its three torques at one speed.

    T0 = constant;  T1 = linear / n;  T2 = square / n^2

    constant: part that does not follow speed [N m], zero or above
    linear: part in proportion to speed, at the stated speed [N m], zero or above
    square: part in proportion to speed squared, at the stated speed [N m], zero or above
    speed: at which the torques are stated n [rad/s]
    returns: T0 [N m], T1 [N m s], T2 [N m s2]; all arguments broadcast

    A falling curve has no single operating point and is refused.
    Source: definition.
    """
    require_not_negative(constant_torque=constant, linear_torque=linear, square_torque=square)
    require_positive(speed=speed)
    return constant, linear / speed, square / speed**2


def through_gearbox(
    coefficients: tuple[Real, Real, Real], ratio: Real, efficiency: Real = 1.0
) -> tuple[Real, Real, Real]:
    """Return a load curve as the motor sees it through a gearbox.

    T0' = T0 / (i eta);  T1' = T1 / (i^2 eta);  T2' = T2 / (i^3 eta)

    coefficients: T0 [N m], T1 [N m s] and T2 [N m s2] at the load's shaft
    ratio: motor speed over load speed i [1]
    efficiency: of the gearbox [1], above 0 and at most 1
    returns: the three coefficients at the motor's shaft; all arguments broadcast

    Source: power balance of a gearbox.
    """
    require_positive(gearbox_ratio=ratio)
    require_efficiency(gearbox_efficiency=efficiency)
    constant, linear, square = coefficients
    lever = ratio * efficiency
    return constant / lever, linear / (lever * ratio), square / (lever * ratio**2)


def windage_power(square: Real, speed: Real) -> Real:
    """Return the power that a disc or fan takes from its shaft.

    P = T2 n^3

    square: torque per speed squared T2 [N m s2]
    speed: shaft speed n [rad/s]
    returns: power [W]; all arguments broadcast

    Source: fan law, standard textbook form, from memory.
    """
    return square * speed**3


def windage_coefficient(power: Real, speed: Real) -> Real:
    """Return the torque per speed squared of a disc from its power at one speed.

    T2 = P / n^3

    power: taken without material [W], zero or above
    speed: shaft speed n [rad/s]
    returns: coefficient [N m s2]; all arguments broadcast

    Source: inverse of `windage_power`.
    """
    require_not_negative(power=power)
    require_positive(speed=speed)
    return power / speed**3


# --- liquid pump --------------------------------------------------------------------------


def liquid_pump_power(flow: Real, pressure: Real, overall_efficiency: Real = 1.0) -> Real:
    """Return the shaft power of a liquid pump.

    P = Q p / eta

    flow: of the liquid [m3/s], zero or above
    pressure: rise over the pump [Pa], zero or above
    overall_efficiency: [1], above 0 and at most 1
    returns: power [W]; all arguments broadcast

    Source: own calculation from an agency's liquid truck: 65 gal a lane-mile on three lanes at
    45 mph, 40 psi at the boom, pump 60 %: 5.69 hp.
    """
    require_not_negative(flow=flow, pressure=pressure)
    require_efficiency(overall_efficiency=overall_efficiency)
    return flow * pressure / overall_efficiency


def liquid_pump_torque(
    flow: Real, pressure: Real, speed: Real, overall_efficiency: Real = 1.0
) -> Real:
    """Return the shaft torque of a liquid pump from its flow and pressure.

    T = Q p / (eta n)

    flow: of the liquid [m3/s], zero or above
    pressure: rise over the pump [Pa], zero or above
    speed: shaft speed n [rad/s]
    overall_efficiency: [1], above 0 and at most 1
    returns: torque [N m]; all arguments broadcast

    Source: power balance.
    """
    require_positive(speed=speed)
    return liquid_pump_power(flow, pressure, overall_efficiency) / speed


def nozzle_load(
    displacement: Real,
    nozzle_flow: Real,
    nozzle_pressure: Real,
    volumetric_efficiency: Real = 1.0,
    hydromechanical_efficiency: Real = 1.0,
) -> Real:
    """Return the torque per speed squared of a liquid pump that feeds a nozzle.

    T2 = D p_r (eta_v D / Q_r)^2 / eta_hm

    displacement: of the liquid pump D [m3/rad]
    nozzle_flow: Q_r, of all open nozzles at the rated pressure [m3/s]
    nozzle_pressure: p_r [Pa], zero or above
    volumetric_efficiency: of the liquid pump [1]
    hydromechanical_efficiency: of the liquid pump [1]
    returns: coefficient [N m s2]; all arguments broadcast

    Assumes that the nozzle pressure follows the square of the flow and that line height and loss
    are small against it. Source: orifice law and torque of a displacement pump.
    """
    require_positive(displacement=displacement, nozzle_flow=nozzle_flow)
    require_not_negative(nozzle_pressure=nozzle_pressure)
    require_efficiency(volumetric_efficiency=volumetric_efficiency)
    require_efficiency(hydromechanical_efficiency=hydromechanical_efficiency)
    reach = volumetric_efficiency * displacement / nozzle_flow
    return displacement * nozzle_pressure * reach**2 / hydromechanical_efficiency


# --- cylinder -----------------------------------------------------------------------------


def piston_area(bore: Real, count: Real = 1.0) -> Real:
    """Return the piston area of cylinders that move together.

    A_p = count pi d^2 / 4

    bore: d [m]
    count: number of equal cylinders [1]
    returns: area [m2]; all arguments broadcast

    Source: geometry. Also serves for a rod's area.
    """
    require_positive(bore=bore, cylinder_count=count)
    return count * np.pi / 4.0 * bore**2


def annulus_area(bore: Real, rod: Real, count: Real = 1.0) -> Real:
    """Return the rod-side area of cylinders that move together.

    A_a = count pi (d^2 - d_r^2) / 4

    bore: d [m]
    rod: rod diameter d_r [m], zero or above and below the bore, refused otherwise
    count: number of equal cylinders [1]
    returns: area [m2]; all arguments broadcast

    Source: geometry.
    """
    require_positive(bore=bore, cylinder_count=count)
    require_not_negative(rod=rod)
    if np.any(np.asarray(rod) >= bore):
        raise DomainError("rod must be thinner than the bore")
    return count * np.pi / 4.0 * (bore**2 - rod**2)


def cylinder_speed(flow: Real, area: Real) -> Real:
    """Return the speed of a cylinder that takes a flow.

    v = Q / A

    flow: into the cylinder [m3/s]
    area: that the flow pushes [m2]; the rod's area when extending regeneratively
    returns: speed [m/s]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 9-1, p. 331 (4.28 and 11.0 in/s).
    """
    require_positive(area=area)
    return flow / area


def extend_speed(flow: Real, bore: Real, count: Real = 1.0) -> Real:
    """Return the speed of extension.

    v = Q / A_p

    flow: into the piston side [m3/s]
    bore: [m]
    count: number of equal cylinders [1]
    returns: speed [m/s]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 6-1, p. 219 (2.05 ft/s).
    """
    return flow / piston_area(bore, count)


def retract_speed(flow: Real, bore: Real, rod: Real, count: Real = 1.0) -> Real:
    """Return the speed of retraction.

    v = Q / A_a

    flow: into the rod side [m3/s]
    bore: [m]
    rod: rod diameter [m], below the bore
    count: number of equal cylinders [1]
    returns: speed [m/s]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 6-1, p. 219 (2.73 ft/s).
    """
    return flow / annulus_area(bore, rod, count)


def regenerative_speed(flow: Real, rod: Real, count: Real = 1.0) -> Real:
    """Return the speed of extension when the rod side feeds the piston side.

    v = Q / A_r

    flow: of the pump [m3/s]
    rod: rod diameter [m]
    count: number of equal cylinders [1]
    returns: speed [m/s]; all arguments broadcast

    The push falls to pressure times rod area.
    Source: Fluid Power with Applications (2005), Example 9-1, p. 331.
    """
    return flow / piston_area(rod, count)


def extend_pressure(load: Real, bore: Real, count: Real = 1.0) -> Real:
    """Return the pressure that extends a cylinder against a load.

    p = F / A_p

    load: on all cylinders together [N], zero or above
    bore: [m]
    count: number of equal cylinders [1]
    returns: pressure [Pa]; all arguments broadcast

    Neglects friction and the pressure of the return side.
    Source: Fluid Power with Applications (2005), Example 6-1, p. 219 (318 psi).
    """
    require_not_negative(load=load)
    return load / piston_area(bore, count)


def retract_pressure(load: Real, bore: Real, rod: Real, count: Real = 1.0) -> Real:
    """Return the pressure that retracts a cylinder against a load.

    p = F / A_a

    load: on all cylinders together [N], zero or above
    bore: [m]
    rod: rod diameter [m], below the bore
    count: number of equal cylinders [1]
    returns: pressure [Pa]; all arguments broadcast

    Neglects friction and the pressure of the return side.
    Source: Fluid Power with Applications (2005), Example 6-1, p. 219 (425 psi, rounded up).
    """
    require_not_negative(load=load)
    return load / annulus_area(bore, rod, count)


def cylinder_power(load: Real, speed: Real) -> Real:
    """Return the power of a moving load.

    P = F v

    load: [N]
    speed: [m/s]
    returns: power [W], signed; all arguments broadcast

    Source: definition.
    """
    return load * speed


def stroke_time(flow: Real, area: Real, stroke: Real) -> Real:
    """Return the time of a stroke.

    t = A s / Q

    flow: into the cylinder [m3/s]
    area: that the flow pushes [m2]
    stroke: s [m], zero or above
    returns: time [s]; all arguments broadcast

    Source: own calculation from an agency's plow lift, 4 in bore and 10 in stroke on
    4.74 gal/min: 6.9 s.
    """
    require_positive(flow=flow, area=area)
    require_not_negative(stroke=stroke)
    return area * stroke / flow


def stroke_flow(area: Real, stroke: Real, time: Real) -> Real:
    """Return the flow that makes a stroke in a time.

    Q = A s / t

    area: that the flow pushes [m2]
    stroke: s [m], zero or above
    time: t [s]
    returns: flow [m3/s]; all arguments broadcast

    Source: inverse of `stroke_time`.
    """
    require_positive(area=area, time=time)
    require_not_negative(stroke=stroke)
    return area * stroke / time


def bore_for_load(load: Real, pressure: Real, count: Real = 1.0) -> Real:
    """Return the bore that carries a load at a pressure.

    d = sqrt(4 F / (pi p count))

    load: on all cylinders together [N], zero or above
    pressure: at the piston [Pa]
    count: number of equal cylinders [1]
    returns: bore [m]; all arguments broadcast

    Neglects friction and the pressure of the return side.
    Source: Fluid Power: Theory and Applications (4th ed.), Example 8.1, p. 172 (7.979 in).
    """
    require_not_negative(load=load)
    require_positive(pressure=pressure, cylinder_count=count)
    bore: Real = np.sqrt(4.0 / np.pi * load / (pressure * count))
    return bore


def area_ratio(bore: Real, rod: Real) -> Real:
    """Return the ratio of a cylinder's piston area to its rod-side area.

    phi = d^2 / (d^2 - d_r^2)

    bore: d [m]
    rod: rod diameter d_r [m], zero or above and below the bore, refused otherwise
    returns: ratio [1], at least 1; all arguments broadcast

    Source: geometry.
    """
    return bore**2 / (annulus_area(bore, rod) * (4.0 / np.pi))


def retract_return_flow(flow: Real, bore: Real, rod: Real) -> Real:
    """Return the flow that leaves the piston side while the cylinder retracts.

    Q_out = phi Q

    flow: into the rod side [m3/s]
    bore: [m]
    rod: rod diameter [m], below the bore
    returns: flow [m3/s], more than goes in; all arguments broadcast

    Size the return line and filter for it, not for the pump.
    Source: geometry.
    """
    return flow * area_ratio(bore, rod)


def annulus_intensified_pressure(pressure: Real, bore: Real, rod: Real) -> Real:
    """Return the rod-side pressure when its outlet is blocked and nothing holds the rod.

    p_a = phi p

    pressure: on the piston side [Pa]
    bore: [m]
    rod: rod diameter [m], below the bore
    returns: pressure [Pa]; all arguments broadcast

    Source: force balance of the piston.
    """
    return pressure * area_ratio(bore, rod)
