"""Valves: section flow against command, section drop, relief, load-sensing pressures.

Arguments are floats or arrays and broadcast together. Parameters of a valve that mean nothing
raise DomainError in the functions for single answers; `section_drop`, `compensated_flow`,
`relief_flow` and `ls_pump_pressure` check nothing, because the solver calls them at trial points.
Orifices and coils live beside this module and are reached here.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError
from hydrocheck.physics._guard import (
    Real,
    require_fraction,
    require_not_negative,
    require_positive,
)
from hydrocheck.physics.coils import (
    coil_current,
    coil_resistance,
    coil_ripple,
    drive_frequency,
    drive_frequency_band,
)
from hydrocheck.physics.orifices import (
    coefficient_drop,
    coefficient_flow,
    discharge_coefficient,
    flow_at_drop,
    flow_coefficient,
    meter_in_speed,
    meter_out_coefficient,
    meter_out_pressure,
    orifice_area,
    orifice_diameter,
    orifice_flow,
)

__all__ = [
    "RELIEF_CRACKING",
    "CommandLine",
    "coefficient_drop",
    "coefficient_flow",
    "coil_current",
    "coil_resistance",
    "coil_ripple",
    "command_for_flow",
    "command_line",
    "compensated_flow",
    "discharge_coefficient",
    "drive_frequency",
    "drive_frequency_band",
    "flow_at_drop",
    "flow_coefficient",
    "ls_pump_pressure",
    "meter_in_speed",
    "meter_out_coefficient",
    "meter_out_pressure",
    "orifice_area",
    "orifice_diameter",
    "orifice_flow",
    "pressure_gaps",
    "relief_cracking",
    "relief_flow",
    "relief_inlet_pressure",
    "relief_setting_for_load",
    "section_drop",
    "section_flow",
    "spring_relief_pressure",
]

RELIEF_CRACKING = {"pilot": 0.95, "direct": 0.85}
"""Cracking over setting by type of relief [1]: 0.96 was measured on one small direct relief;
0.95 and 0.85 are from memory, ranges 0.90 to 0.97 and 0.70 to 0.95."""


def _require_curve(deadband: Real, full_command: Real, rated_flow: Real, shape: Real) -> None:
    require_fraction(deadband=deadband, full_command=full_command)
    require_not_negative(rated_flow=rated_flow)
    require_positive(shape=shape)
    if np.any(np.asarray(deadband) >= full_command):
        raise DomainError("deadband must be smaller than full command")


def section_flow(
    command: Real, deadband: Real, full_command: Real, rated_flow: Real, shape: Real = 1.0
) -> Real:
    """Return the flow that a command asks of a valve section.

    q = q_max ((u - u0) / (u1 - u0))^shape, 0 up to u0, q_max from u1 on

    command: u, fraction of rated current [1]; any value
    deadband: u0, command up to which nothing flows [1], 0 to below u1, refused outside
    full_command: u1, command of the rated flow [1], at most 1
    rated_flow: q_max [m3/s], zero or above
    shape: exponent [1], above 0; 1 is a straight line
    returns: flow [m3/s]; all arguments broadcast

    The deadband hardly moves with pressure: 53.9 and 51.7 % of command were measured at 10 and
    50 bar drop. Real curves soften near full flow; use a table of measured points where there is
    one.
    Source: common practice; deadband from J. Harbin Inst. Technol. (New Series) 29(1), 2022.
    """
    _require_curve(deadband, full_command, rated_flow, shape)
    opening = np.clip((command - deadband) / (full_command - deadband), 0.0, 1.0)
    straight = bool(np.all(np.asarray(shape) == 1.0))  # powers are slow
    flow: Real = rated_flow * (opening if straight else opening**shape)
    return flow


def command_for_flow(
    flow: Real, deadband: Real, full_command: Real, rated_flow: Real, shape: Real = 1.0
) -> Real:
    """Return the command that asks a flow of a valve section.

    u = u0 + (u1 - u0) (q / q_max)^(1 / shape)

    flow: wanted [m3/s], zero or above, refused below
    deadband: u0 [1], 0 to below u1, refused outside
    full_command: u1 [1], at most 1
    rated_flow: q_max [m3/s]
    shape: exponent [1], above 0
    returns: command [1]; u0 at zero flow; inf above the rated flow, which no command reaches;
        all arguments broadcast

    Source: inverse of `section_flow`.
    """
    _require_curve(deadband, full_command, rated_flow, shape)
    require_positive(rated_flow=rated_flow)
    require_not_negative(flow=flow)
    part = np.asarray(flow / rated_flow)
    command = deadband + (full_command - deadband) * np.minimum(part, 1.0) ** (1.0 / shape)
    # A rounding hair above the rated flow is the rated flow.
    reached: Real = np.where(part > 1.0 + 1e-12, np.inf, command)[()]
    return reached


def section_drop(flow: Real, commanded_flow: Real, rated_drop: Real) -> Real:
    """Return the pressure drop that a section needs to pass a flow at its opening.

    dp = dp_c (q / q_cmd)^2

    flow: through the section [m3/s]; negative counts as zero
    commanded_flow: flow of the opening at its rated drop [m3/s], zero or above
    rated_drop: dp_c, at which the commanded flow is rated [Pa]
    returns: pressure drop [Pa]; 0 at zero flow, inf for a flow through a closed section;
        all arguments broadcast

    Source: orifice law.
    """
    flow = np.maximum(flow, 0.0)
    open_ = np.asarray(commanded_flow) > 0.0
    ratio = flow / np.where(open_, commanded_flow, 1.0)
    closed = np.where(flow > 0.0, np.inf, 0.0)
    drop: Real = np.where(open_, rated_drop * ratio**2, closed)[()]
    return drop


def compensated_flow(commanded_flow: Real, drop: Real, rated_drop: Real) -> Real:
    """Return the flow of a pressure-compensated section.

    q = q_cmd min(1, sqrt(dp / dp_c))

    commanded_flow: what the command asks [m3/s]
    drop: pressure over the section [Pa]; negative counts as zero (a check valve holds)
    rated_drop: dp_c, the least drop at which the compensator holds the flow [Pa]
    returns: flow [m3/s]; all arguments broadcast

    Source: standard model of a compensated section, from memory.
    """
    share = np.clip(drop / np.asarray(rated_drop), 0.0, 1.0)
    flow: Real = commanded_flow * np.sqrt(share)
    return flow


def relief_cracking(setting: Real, kind: str) -> Real:
    """Return the pressure at which a relief valve begins to open.

    p_cracking = 0.95 p_setting (pilot) or 0.85 p_setting (direct)

    setting: pressure at rated flow [Pa], zero or above
    kind: "pilot" or "direct", refused otherwise
    returns: cracking pressure [Pa]; broadcasts

    Source: from memory. One measured relief cracked at 96 % of its full-flow pressure (linear
    extrapolation of the open data set "Condition monitoring of hydraulic systems", 2018).
    """
    require_not_negative(setting=setting)
    if kind not in RELIEF_CRACKING:
        raise DomainError(f"relief type must be one of {', '.join(RELIEF_CRACKING)}, got {kind}")
    return RELIEF_CRACKING[kind] * setting


def relief_flow(pressure_drop: Real, cracking: Real, setting: Real, rated_flow: Real) -> Real:
    """Return the flow over a relief valve.

    q = q_r (dp - p_cr) / (p_set - p_cr), 0 below cracking, the same line beyond the setting

    pressure_drop: inlet less the relief's own outlet [Pa]
    cracking: pressure at which it begins to open [Pa], below the setting
    setting: pressure at the rated flow [Pa]
    rated_flow: q_r [m3/s]
    returns: flow [m3/s]; all arguments broadcast

    The outlet reference is the caller's: pass the difference. Ranges are not checked here.
    Source: linear override, common practice.
    """
    flow: Real = rated_flow * np.maximum(pressure_drop - cracking, 0.0) / (setting - cracking)
    return flow


def relief_inlet_pressure(
    flow: Real, cracking: Real, setting: Real, rated_flow: Real, outlet_pressure: Real = 0.0
) -> Real:
    """Return the inlet pressure at which a relief valve passes a flow.

    p = p_out + p_cr + (p_set - p_cr) q / q_r

    flow: over the relief [m3/s], zero or above
    cracking: pressure at which it begins to open [Pa], at most the setting, refused otherwise
    setting: pressure at the rated flow [Pa]
    rated_flow: q_r [m3/s]
    outlet_pressure: at the relief's outlet [Pa]
    returns: inlet pressure [Pa]; all arguments broadcast

    A relief whose outlet stands under pressure opens that much later.
    Source: inverse of `relief_flow`.
    """
    require_not_negative(flow=flow)
    require_positive(rated_flow=rated_flow)
    if np.any(np.asarray(cracking) > setting):
        raise DomainError("cracking pressure must not be above the setting")
    return outlet_pressure + cracking + (setting - cracking) * flow / rated_flow


def spring_relief_pressure(
    poppet_area: Real, spring_rate: Real, preload: Real, lift: Real = 0.0
) -> Real:
    """Return the pressure that holds a spring-loaded poppet at a lift.

    p = c (x0 + x) / A

    poppet_area: [m2]
    spring_rate: c [N/m]
    preload: compression of the spring when closed x0 [m], zero or above
    lift: of the poppet x [m], zero or above; 0 gives the cracking pressure
    returns: pressure [Pa]; all arguments broadcast

    Neglects flow forces. Source: Fluid Power with Applications (2005), Example 8-1, p. 293
    (667 psi cracking, 1000 psi at full flow).
    """
    require_positive(poppet_area=poppet_area, spring_rate=spring_rate)
    require_not_negative(preload=preload, lift=lift)
    return spring_rate * (preload + lift) / poppet_area


def relief_setting_for_load(load: Real, bore: Real, factor: Real = 1.5) -> Real:
    """Return a relief setting from the load on a cylinder.

    p = factor F / (pi d^2 / 4)

    load: [N], zero or above
    bore: of the cylinder [m]
    factor: setting over load pressure [1], 1.5 in the source
    returns: setting [Pa]; all arguments broadcast

    Source: Fluid Power with Applications (2005), Example 9-2, p. 333 (1698 psi).
    """
    require_not_negative(load=load)
    require_positive(bore=bore, factor=factor)
    return factor * load / (np.pi / 4.0 * bore**2)


class CommandLine(NamedTuple):
    """Straight flow line through two tested commands; flows in the unit of the test points."""

    deadband: Real
    slope: Real
    full_flow: Real


def command_line(command_1: Real, flow_1: Real, command_2: Real, flow_2: Real) -> CommandLine:
    """Return the deadband, slope and flow at full command from two test points.

    slope = (q_2 - q_1) / (u_2 - u_1);  u0 = u_1 - q_1 / slope;  q_full = q_1 + slope (1 - u_1)

    command_1: of the first point [1]
    flow_1: of the first point [m3/s], above 0, or any measure in that ratio
    command_2: of the second point [1], above the first, refused otherwise
    flow_2: of the second point [m3/s], above the first, refused otherwise
    returns: deadband [1], slope per command and flow at full command; all arguments broadcast

    Straight between and beyond the points; a negative deadband says that the line is not straight.
    Source: trade site, "Proportional solenoid on a throttle valve" (5 % of flow at 40 % of
    command, 50 % at 80 %):
    >>> line = command_line(0.40, 0.05, 0.80, 0.50)
    >>> round(line.deadband, 3), round(line.slope, 3), round(line.full_flow, 3)
    (0.356, 1.125, 0.725)
    """
    require_positive(flow_1=flow_1)
    if np.any(np.asarray(command_2) <= command_1) or np.any(np.asarray(flow_2) <= flow_1):
        raise DomainError("the second test point must have more command and more flow")
    slope = (flow_2 - flow_1) / (command_2 - command_1)
    return CommandLine(command_1 - flow_1 / slope, slope, flow_1 + slope * (1.0 - command_1))


def ls_pump_pressure(load_pressure: Real, margin: Real, standby: Real, compensator: Real) -> Real:
    """Return the pressure that a load-sensing pump holds while it can feed the flow.

    p = min(p_comp, max(p_standby, p_load + margin))

    load_pressure: highest load pressure that is signalled [Pa]; 0 without a signal
    margin: LS margin [Pa]
    standby: pressure held without a load signal [Pa]
    compensator: setting of the pressure compensator [Pa]
    returns: pressure at the pump [Pa]; all arguments broadcast

    Source: Hydraulic Systems for Mobile Equipment (2017), ch. 18, p. 421: load 1000 psi and a
    margin of 250 make 1250; without a signal the pump stays at standby:
    >>> float(ls_pump_pressure(1000.0, 250.0, 400.0, 3000.0))
    1250.0
    >>> float(ls_pump_pressure(0.0, 250.0, 400.0, 3000.0))
    400.0
    """
    held = np.maximum(standby, load_pressure + margin)
    pressure: Real = np.minimum(compensator, held)
    return pressure


def pressure_gaps(ladder: Real) -> NDArray[np.float64]:
    """Return the steps between the pressure settings of a ladder.

    gap_i = p_(i+1) - p_i

    ladder: pressures in their right order, such as highest load plus margin, compensator, relief
        cracking, limit of the weakest part [Pa]; shape (..., K)
    returns: gaps [Pa]; shape (..., K - 1); negative where two stand in the wrong order

    A relief at or under the compensator passes the whole flow and makes heat; 100 to 150 psi
    between them is usual (trade article on troubleshooting, chapter 8).
    Source: common practice.
    """
    gaps: NDArray[np.float64] = np.diff(np.asarray(ladder, dtype=np.float64), axis=-1)
    return gaps
