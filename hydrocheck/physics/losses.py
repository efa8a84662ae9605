"""Loss model of pumps and motors: losses linear in pressure, closed-form motor state.

Two flow losses and two torque losses describe a machine at any point:

    slip          q_s = k dp
    pump torque   T = x D dp + Cf D dp + Cd D mu n
    motor torque  T = D dp (1 - Cf) - Cd D mu n

k is the slip conductance at the present viscosity; Cf (dry friction) and Cd (viscous drag) carry
no unit when D is per radian. Arguments are floats or arrays and broadcast together.
Public names are also reached through `hydrocheck.physics.machines`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from hydrocheck.physics._guard import (
    Real,
    require_efficiency,
    require_fraction,
    require_not_negative,
    require_positive,
)

SHARE_VISCOSITY = 46e-6
"""Viscosity at which the viscous share of slip is stated [m2/s]."""

WEAR_EXPONENT = -0.25
"""Exponent of viscosity in added leakage; -0.20 and -0.30 were measured on one rig [1]."""


def pump_slip_loss(volumetric_efficiency: Real) -> Real:
    """Return the slip of a pump as a fraction of its theoretical flow.

    loss = 1 - eta_v

    volumetric_efficiency: at the rated point [1], above 0 and at most 1, refused outside
    returns: slip over theoretical flow [1]; broadcasts

    Source: ISO 4391 definition of volumetric efficiency, from memory.
    """
    require_efficiency(volumetric_efficiency=volumetric_efficiency)
    return 1.0 - volumetric_efficiency


def motor_slip_loss(volumetric_efficiency: Real) -> Real:
    """Return the slip of a motor as a fraction of its theoretical flow.

    loss = 1 / eta_v - 1

    volumetric_efficiency: at the rated point [1], above 0 and at most 1, refused outside
    returns: slip over theoretical flow [1]; broadcasts

    Source: ISO 4391 definition of volumetric efficiency, from memory.
    """
    require_efficiency(volumetric_efficiency=volumetric_efficiency)
    return 1.0 / volumetric_efficiency - 1.0


def pump_torque_loss(hydromechanical_efficiency: Real) -> Real:
    """Return the torque loss of a pump as a fraction of its theoretical torque.

    loss = 1 / eta_hm - 1

    hydromechanical_efficiency: at the rated point [1], above 0 and at most 1, refused outside
    returns: lost over theoretical torque [1]; broadcasts

    Source: our definition, eta_hm = D dp / T; ISO 4409 gives one for motors only.
    """
    require_efficiency(hydromechanical_efficiency=hydromechanical_efficiency)
    return 1.0 / hydromechanical_efficiency - 1.0


def motor_torque_loss(hydromechanical_efficiency: Real) -> Real:
    """Return the torque loss of a motor as a fraction of its theoretical torque.

    loss = 1 - eta_hm

    hydromechanical_efficiency: at the rated point [1], above 0 and at most 1, refused outside
    returns: lost over theoretical torque [1]; broadcasts

    Source: ISO 4409 definition for motors, eta_hm = T / (D dp), from memory.
    """
    require_efficiency(hydromechanical_efficiency=hydromechanical_efficiency)
    return 1.0 - hydromechanical_efficiency


def slip_conductance(
    displacement: Real, loss: Real, rated_speed: Real, rated_pressure: Real
) -> Real:
    """Return the slip flow per pressure at the rated viscosity.

    k = loss D n_r / dp_r

    displacement: geometric or derived displacement [m3/rad]
    loss: slip over theoretical flow at the rated point [1]; 1 - eta_v for a pump,
        1 / eta_v - 1 for a motor; negative is refused
    rated_speed: speed of the rated point [rad/s]
    rated_pressure: pressure drop of the rated point [Pa]
    returns: slip conductance [m3/(s Pa)]; all arguments broadcast

    Assumes slip linear in pressure and independent of speed: measured points of a gear pump at
    1200 and 1800 rpm, 34 to 172 bar, agree within 0.2 % of the flow when the derived
    displacement is used. Nothing was measured outside.
    Source: Wilson's slip law, standard textbook form, from memory.
    """
    require_positive(
        displacement=displacement, rated_speed=rated_speed, rated_pressure=rated_pressure
    )
    require_not_negative(slip_loss=loss)
    return loss * displacement * rated_speed / rated_pressure


def viscous_share_at_rating(share: Real, rated_viscosity: Real) -> Real:
    """Move the viscous share of slip from 46 cSt to the viscosity of the rated point.

    f_r = f (46 cSt / nu_r) / (f (46 cSt / nu_r) + 1 - f)

    share: viscous share of slip at 46 cSt [1], 0 to 1, refused outside
    rated_viscosity: kinematic viscosity of the rated point [m2/s]
    returns: viscous share at the rated viscosity [1]; all arguments broadcast

    About 0.4 was measured on one pump, range 0.25 to 0.55; 1 is Wilson's law, an upper bound on
    what heat does.
    Source: own evaluation of the open data set "Condition monitoring of hydraulic systems" (2018).
    """
    require_fraction(viscous_share=share)
    require_positive(rated_viscosity=rated_viscosity)
    viscous = share * (SHARE_VISCOSITY / rated_viscosity)
    return viscous / (viscous + 1.0 - share)


def slip_viscosity_factor(viscosity: Real, rated_viscosity: Real, share_at_rating: Real) -> Real:
    """Return the factor on the rated slip conductance at another viscosity.

    factor = f_r nu_r / nu + 1 - f_r

    viscosity: present kinematic viscosity [m2/s]
    rated_viscosity: kinematic viscosity of the rated point [m2/s]
    share_at_rating: viscous share of slip at the rated point [1], 0 to 1, refused outside
    returns: slip over rated slip at equal pressure [1]; all arguments broadcast

    Measured between 35 and 57 degC only; in very thick oil the constant part should fade too, so
    that the factor is then too high.
    Source: own evaluation of the open data set "Condition monitoring of hydraulic systems" (2018).

    A VG 46 oil at 80 degC (11.1 cSt), Wilson's law:
    >>> round(slip_viscosity_factor(11.1e-6, 46e-6, 1.0), 1)
    4.1
    """
    require_positive(viscosity=viscosity, rated_viscosity=rated_viscosity)
    require_fraction(share_at_rating=share_at_rating)
    return share_at_rating * (rated_viscosity / viscosity) + 1.0 - share_at_rating


def wear_slip(conductance: Real, viscosity: Real, stated_viscosity: Real = SHARE_VISCOSITY) -> Real:
    """Return the added leakage of wear per pressure, which hardly follows viscosity.

    k = k_s (nu / nu_s)^-0.25

    conductance: added leakage per pressure k_s at nu_s [m3/(s Pa)], zero or above
    viscosity: present kinematic viscosity [m2/s]
    stated_viscosity: nu_s, 46 cSt where none is given [m2/s]
    returns: added conductance [m3/(s Pa)]; all arguments broadcast

    Exponents of -0.20 and -0.30 and a proportion to pressure were measured for an imposed leak
    at 35 to 55 degC and 151 to 166 bar; used beyond that as an extrapolation.
    Source: own evaluation of the open data set "Condition monitoring of hydraulic systems" (2018).
    """
    require_not_negative(wear_conductance=conductance)
    require_positive(viscosity=viscosity, stated_viscosity=stated_viscosity)
    return conductance * (viscosity / stated_viscosity) ** WEAR_EXPONENT


def torque_loss_coefficients(
    loss: Real,
    rated_pressure: Real,
    rated_dynamic_viscosity: Real,
    rated_speed: Real,
    viscous_share: Real,
) -> tuple[Real, Real]:
    """Split the rated torque loss into dry friction and viscous drag.

    Cf = (1 - s) loss;  Cd = s loss dp_r / (mu_r n_r)

    loss: lost over theoretical torque at the rated point [1]; 1 / eta_hm - 1 for a pump,
        1 - eta_hm for a motor; negative is refused
    rated_pressure: pressure drop of the rated point [Pa]
    rated_dynamic_viscosity: dynamic viscosity of the rated point [Pa s]
    rated_speed: speed of the rated point [rad/s]
    viscous_share: part of the loss that is viscous drag [1], 0 to 1, refused outside
    returns: friction Cf [1] and drag Cd [1]; all arguments broadcast

    Published Cd of one pump model differ 6-fold and Cf 11-fold while its overall efficiency
    differs by 5 to 8 points: do not read physics into a single coefficient.
    Source: Wilson's torque law, standard textbook form, from memory.
    """
    require_not_negative(torque_loss=loss)
    require_positive(
        rated_pressure=rated_pressure,
        rated_dynamic_viscosity=rated_dynamic_viscosity,
        rated_speed=rated_speed,
    )
    require_fraction(viscous_share=viscous_share)
    friction = (1.0 - viscous_share) * loss
    drag = viscous_share * loss * rated_pressure / (rated_dynamic_viscosity * rated_speed)
    return friction, drag


def drag_torque_per_speed(displacement: Real, drag: Real, dynamic_viscosity: Real) -> Real:
    """Return the viscous drag torque of a machine per shaft speed.

    drag torque / n = Cd D mu

    displacement: geometric displacement [m3/rad]
    drag: viscous drag coefficient Cd [1]
    dynamic_viscosity: of the oil [Pa s]
    returns: torque per speed [N m s]; all arguments broadcast

    Source: Wilson's torque law, standard textbook form, from memory.
    """
    return drag * displacement * dynamic_viscosity


def pump_delivery(
    displacement: Real,
    speed: Real,
    pressure: Real,
    slip_conductance: Real,
    fraction: Real = 1.0,
) -> Real:
    """Return the flow that a pump delivers against a pressure.

    Q = x D n - k dp

    displacement: full displacement [m3/rad]
    speed: shaft speed [rad/s]
    pressure: pressure rise of the pump [Pa]
    slip_conductance: slip per pressure at the present viscosity [m3/(s Pa)]
    fraction: fraction x of full displacement [1]
    returns: flow [m3/s]; negative where the pump cannot hold that pressure; all broadcast

    Nothing is refused: the solver calls it at trial points.
    Source: Wilson's slip law, standard textbook form, from memory.
    """
    return fraction * displacement * speed - slip_conductance * pressure


def pump_input_torque(
    displacement: Real,
    speed: Real,
    pressure: Real,
    friction: Real,
    drag_torque_per_speed: Real,
    fraction: Real = 1.0,
) -> Real:
    """Return the shaft torque that a pump takes.

    T = x D dp + Cf D dp + (Cd D mu) n

    displacement: full displacement [m3/rad]
    speed: shaft speed [rad/s]
    pressure: pressure rise of the pump [Pa]
    friction: dry friction coefficient Cf [1]
    drag_torque_per_speed: viscous drag Cd D mu [N m s]
    fraction: fraction x of full displacement [1]
    returns: torque [N m]; all arguments broadcast

    The losses belong to the full displacement, so that a destroked pump still takes torque.
    Source: Wilson's and Thoma's torque law, standard textbook form, from memory.
    """
    return (fraction + friction) * displacement * pressure + drag_torque_per_speed * speed


class MotorLaw(NamedTuple):
    """A loaded motor's constants; arrays that broadcast.

    n = 2 s / (1 + sqrt(1 + curve s)),  s = max(q - held, 0) / reach
    dp = rest + (rise + square n) n,    rest = stiff min(q, held), or start where k = 0

    start: pressure at which it begins to turn [Pa]; held: slip at that pressure [m3/s]
    stiff: pressure per flow at rest, 1 / k, or 0 where k = 0
    reach: flow per speed with its slip; curve: bend by the square load
    rise, square: pressure by speed and by speed squared
    displacement, slip: D and k
    """

    start: NDArray[np.float64]
    held: NDArray[np.float64]
    stiff: NDArray[np.float64]
    reach: NDArray[np.float64]
    curve: NDArray[np.float64]
    rise: NDArray[np.float64]
    square: NDArray[np.float64]
    displacement: NDArray[np.float64]
    slip: NDArray[np.float64]

    def run(
        self, flow: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Speed, pressure drop, and slope of the drop with the flow, as in `motor_state`."""
        q = np.maximum(flow, 0.0)
        spare = q - self.held
        speed = np.maximum(spare, 0.0) / self.reach
        rest = np.minimum(q, self.held) * self.stiff
        tight = self.stiff <= 0.0
        if tight.any():
            rest = np.where(tight & (q > 0.0), self.start, rest)
        if self.square.any():
            speed = 2.0 * speed / (1.0 + np.sqrt(1.0 + self.curve * speed))
            steep = self.square * speed
            drop = rest + (self.rise + steep) * speed
            rise = self.rise + 2.0 * steep
        else:
            drop, rise = rest + self.rise * speed, self.rise
        slope = rise / (self.displacement + self.slip * rise)
        return speed, drop, np.where(spare < 0.0, self.stiff, slope)


def motor_law(
    displacement: Real,
    slip_conductance: Real,
    friction: Real,
    drag_torque_per_speed: Real,
    load0: Real,
    load1: Real,
    load2: Real,
) -> MotorLaw:
    """Return what of a loaded motor does not depend on its flow.

    q = D n + k dp;  D dp (1 - Cf) = T0 + (T1 + Cd D mu) n + T2 n^2;  n >= 0

    displacement: D [m3/rad], above 0
    slip_conductance: k at the present viscosity [m3/(s Pa)], 0 or above
    friction: Cf [1], 0 or above and below 1
    drag_torque_per_speed: viscous drag Cd D mu [N m s]
    load0: torque of the load at rest T0 [N m], 0 or above
    load1: torque per speed T1 [N m s], with T1 + Cd D mu 0 or above
    load2: torque per speed squared T2 [N m s2], 0 or above
    returns: the constants; all arguments broadcast

    Ranges are not checked here: the function sits in the solver's inner loop.
    Source: root of the quadratic in the form 2 c / (b + sqrt(b^2 + 4 a c)), which does not cancel.
    """
    capacity, slip = np.asarray(displacement), np.asarray(slip_conductance)
    lever = capacity * (1.0 - np.asarray(friction))
    start = load0 / lever
    rise, square = (load1 + drag_torque_per_speed) / lever, load2 / lever
    reach = capacity + slip * rise
    leaks = slip > 0.0
    return MotorLaw(
        start=np.asarray(start),
        held=slip * start,
        stiff=np.where(leaks, 1.0 / np.where(leaks, slip, 1.0), 0.0),
        reach=np.asarray(reach),
        curve=4.0 * slip * square / reach,
        rise=np.asarray(rise),
        square=np.asarray(square),
        displacement=capacity,
        slip=slip,
    )


def motor_state(
    flow: Real,
    displacement: Real,
    slip_conductance: Real,
    friction: Real,
    drag_torque_per_speed: Real,
    load0: Real,
    load1: Real,
    load2: Real,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the speed and pressure drop of a loaded motor that is given a flow.

    q = D n + k dp;  D dp (1 - Cf) = T0 + (T1 + Cd D mu) n + T2 n^2;  n >= 0

    flow: inlet flow q [m3/s]; negative counts as zero
    displacement: D [m3/rad], above 0
    slip_conductance: k at the present viscosity [m3/(s Pa)], 0 or above
    friction: Cf [1], 0 or above and below 1
    drag_torque_per_speed: viscous drag Cd D mu [N m s]
    load0: torque of the load at rest T0 [N m], 0 or above
    load1: torque per speed T1 [N m s], with T1 + Cd D mu 0 or above
    load2: torque per speed squared T2 [N m s2], 0 or above
    returns: speed [rad/s] and pressure drop [Pa]; all arguments broadcast

    Stalled while q <= k T0 / (D (1 - Cf)): speed 0 and dp = q / k. With k = 0 there is no stall,
    and at q = 0 both are 0 although the pressure jumps to its running value with the first drop.
    Ranges are not checked here.
    Source: `motor_law`.
    """
    law = motor_law(
        displacement, slip_conductance, friction, drag_torque_per_speed, load0, load1, load2
    )
    return law.run(np.asarray(flow))[:2]


def motor_state_slope(
    flow: Real,
    displacement: Real,
    slip_conductance: Real,
    friction: Real,
    drag_torque_per_speed: Real,
    load0: Real,
    load1: Real,
    load2: Real,
) -> NDArray[np.float64]:
    """Return how fast the pressure drop of a loaded motor rises with its flow.

    d dp / d q = (B + 2 T2 n) / (D^2 (1 - Cf) + k (B + 2 T2 n)),  B = T1 + Cd D mu;  1 / k in stall

    flow: inlet flow q [m3/s]; negative counts as zero
    displacement: D [m3/rad], above 0
    slip_conductance: k at the present viscosity [m3/(s Pa)], 0 or above
    friction: Cf [1], 0 or above and below 1
    drag_torque_per_speed: viscous drag Cd D mu [N m s]
    load0: torque of the load at rest T0 [N m], 0 or above
    load1: torque per speed T1 [N m s]
    load2: torque per speed squared T2 [N m s2], 0 or above
    returns: slope [Pa s/m3]; all arguments broadcast

    At the point where the motor starts to turn the running (right-hand) slope is given.
    Ranges are not checked here.
    Source: derivative of `motor_state`.
    """
    law = motor_law(
        displacement, slip_conductance, friction, drag_torque_per_speed, load0, load1, load2
    )
    return law.run(np.asarray(flow))[2]


def starting_pressure(
    torque: Real, displacement: Real, starting_efficiency: Real, breakaway: Real = 1.0
) -> Real:
    """Return the pressure drop that makes a motor start from rest.

    dp = breakaway T / (D eta_start)

    torque: running torque of the load at the motor shaft [N m], zero or above
    displacement: D [m3/rad]
    starting_efficiency: starting over theoretical torque [1], above 0 and at most 1
    breakaway: torque from rest over running torque [1], above 0
    returns: pressure drop [Pa]; all arguments broadcast

    Starting efficiencies of 0.75 to 0.90 are published for slow high-torque motors, 0.70 to 0.80
    for gear, vane and piston motors (supplier's glossary).
    Source: statics of the motor; figures from a fluid power e-book, chapter on actuators.
    """
    require_not_negative(torque=torque)
    require_positive(displacement=displacement, breakaway=breakaway)
    require_efficiency(starting_efficiency=starting_efficiency)
    return breakaway * torque / (displacement * starting_efficiency)
