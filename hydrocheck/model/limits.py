"""Thresholds of the checks: one table with value, unit, meaning and source."""

from __future__ import annotations

from dataclasses import dataclass

from hydrocheck.model.fields import quantity
from hydrocheck.model.scalar import Scalar


@dataclass(frozen=True)
class Limits:
    """Thresholds of the checks where no maker's limit rules; each can be overridden."""

    suction_velocity: Scalar = quantity(
        "velocity", "suction line", default="4 ft/s", bounds="positive", source="FED-STD-794, p. 10"
    )
    pressure_velocity: Scalar = quantity(
        "velocity",
        "pressure line",
        default="25 ft/s",
        bounds="positive",
        source="FED-STD-794, p. 10",
    )
    return_velocity: Scalar = quantity(
        "velocity",
        "return line",
        default="15 ft/s",
        source="common practice, 10-15 ft/s",
        bounds="positive",
    )
    relief_reserve: Scalar = quantity(
        "pressure",
        "working pressure below relief cracking",
        source="common practice, 200-500 psi",
        default="200 psi",
    )
    compensator_gap: Scalar = quantity(
        "pressure",
        "compensator below relief cracking",
        source="trade column, 100-150 psi",
        default="100 psi",
    )
    drive_duty: Scalar = quantity(
        "fraction",
        "share of an intermittent drive rating usable in continuous duty",
        source="a truck operator handbook",
        default="70 %",
        bounds="efficiency",
    )
    cold_inlet: Scalar = quantity(
        "absolute_pressure",
        "lowest inlet pressure at cold start, for a short time",
        source="from memory",
        default="0.5 bar abs",
        bounds="positive",
    )
    seal_pressure: Scalar = quantity(
        "pressure",
        "back pressure at a motor's shaft seal, where its maker's limit is not given",
        source="from memory, 10-75 bar by motor and speed",
        default="20 bar",
        bounds="positive",
    )
    flow_reserve: Scalar = quantity(
        "fraction",
        "flow in hand below which a scenario is a caution",
        source="ours",
        default="5 %",
        bounds="fraction",
    )
    loop_reserve: Scalar = quantity(
        "fraction",
        "command that a closed loop must have left below its maximum trim",
        default="10 %",
        bounds="fraction",
        source="ours",
    )
    slip_share: Scalar = quantity(
        "fraction",
        "share of a motor's flow that may slip past it",
        default="25 %",
        bounds="efficiency",
        source="ours; rules of thumb call a case flow of 5-10 % of the inlet flow sound",
    )
    standby_pressure: Scalar = quantity(
        "pressure",
        "least standby of a steady load-sensing pump",
        default="15 bar",
        bounds="positive",
        source="trade column: less risks instability",
    )
    highest_pressure: Scalar = quantity(
        "pressure",
        "highest working pressure of a truck",
        default="3500 psi",
        bounds="positive",
        source="FED-STD-794, p. 10",
    )
    hose_factor: Scalar = quantity(
        "ratio",
        "burst pressure / working pressure of a hose",
        default="4",
        bounds="positive",
        source="four to one, as hose standards rate working pressure (SAE J517, from memory)",
    )
    start_reserve: Scalar = quantity(
        "fraction",
        "pressure in hand when a load breaks away",
        default="10 %",
        bounds="fraction",
        source="ours",
    )
    coil_temperature: Scalar = quantity(
        "temperature",
        "a hot coil",
        default="100 degC",
        bounds="any",
        source="from memory",
    )
    coil_drift: Scalar = quantity(
        "fraction",
        "share of a command that coil heat and a low battery may take",
        default="5 %",
        bounds="fraction",
        source="ours",
    )
    low_battery: Scalar = quantity(
        "voltage",
        "low battery of a 12 V truck; twice as much with 24 V",
        default="11 V",
        bounds="positive",
        source="from memory",
    )
    ripple_low: Scalar = quantity(
        "fraction",
        "least ripple that keeps a spool free, peak to peak, of rated current",
        default="20 %",
        bounds="efficiency",
        source="ours; common practice, some tens of percent at 100-200 Hz",
    )
    ripple_high: Scalar = quantity(
        "fraction",
        "most ripple that does not hammer a spool",
        default="80 %",
        bounds="efficiency",
        source="ours; common practice, some tens of percent at 100-200 Hz",
    )
    trim_spread: Scalar = quantity(
        "fraction",
        "change of speed at one command over the conditions in which trims are set",
        default="10 %",
        bounds="efficiency",
        source="ours, where no accuracy is ordered",
    )
    dead_travel: Scalar = quantity(
        "fraction",
        "flow at the maximum trim that may be missing before its travel is dead",
        default="1 %",
        bounds="fraction",
        source="ours",
    )
    setting_up: Scalar = quantity(
        "fraction",
        "setting of the feeder while the spinner's maximum trim is set",
        default="35 %",
        bounds="fraction",
        source="common practice, 30-40 %",
    )
    gear_pump_low: Scalar = quantity(
        "shaft_speed",
        "lowest usual speed of a gear pump",
        default="500 rpm",
        bounds="positive",
        source="common practice",
    )
    gear_pump_high: Scalar = quantity(
        "shaft_speed",
        "highest usual speed of a gear pump",
        default="3000 rpm",
        bounds="positive",
        source="common practice",
    )
    piston_pump_low: Scalar = quantity(
        "shaft_speed",
        "lowest usual speed of a piston pump",
        default="600 rpm",
        bounds="positive",
        source="from memory",
    )
    piston_pump_high: Scalar = quantity(
        "shaft_speed",
        "highest usual speed of a piston pump",
        default="2600 rpm",
        bounds="positive",
        source="from memory",
    )
    engine_share: Scalar = quantity(
        "fraction",
        "share of the engine's torque that the pump may take",
        default="50 %",
        bounds="efficiency",
        source="ours",
    )
    line_share: Scalar = quantity(
        "fraction",
        "share of the pump's pressure that lines may take",
        default="10 %",
        bounds="efficiency",
        source="ours",
    )
    coupling_drop: Scalar = quantity(
        "pressure_drop",
        "quick couplings of one line",
        default="2 bar",
        bounds="positive",
        source="ours",
    )
    filter_drop: Scalar = quantity(
        "pressure_drop",
        "clean return filter with warm oil",
        default="10 psi",
        bounds="positive",
        source="MIL-C-53057, p. 21",
    )
    filter_warm: Scalar = quantity(
        "temperature",
        "warm oil for the clean drop",
        default="150 degF",
        bounds="any",
        source="MIL-C-53057, p. 21",
    )
    filter_shut: Scalar = quantity(
        "temperature",
        "oil with which the bypass must be shut",
        default="70 degF",
        bounds="any",
        source="MIL-C-53057, p. 22",
    )
    filter_fineness: Scalar = quantity(
        "particle_size",
        "coarsest filter",
        default="25 micron",
        bounds="positive",
        source="ours; MIL-T-62497, p. 17, asks 10 micron",
    )
    tank_dwell: Scalar = quantity(
        "time",
        "time that oil rests in the tank",
        default="1 min",
        bounds="positive",
        source="common practice, one to three minutes of pump flow",
    )
    tank_spare: Scalar = quantity(
        "fraction",
        "oil beyond what the cylinders take",
        default="10 %",
        bounds="fraction",
        source="MIL-T-62491C, p. 37: needed volume, and at least a tenth for expansion",
    )
    start_viscosity: Scalar = quantity(
        "kinematic_viscosity",
        "thickest oil to start a pump",
        default="1000 cSt",
        bounds="positive",
        source="trade article on fluid temperature and viscosity limits",
    )
    start_viscosity_gear: Scalar = quantity(
        "kinematic_viscosity",
        "thickest oil in a gear pump's suction",
        default="500 cSt",
        bounds="positive",
        source="from memory",
    )
    hot_viscosity: Scalar = quantity(
        "kinematic_viscosity",
        "thinnest oil",
        default="10 cSt",
        bounds="positive",
        source="trade article on fluid temperature and viscosity limits",
    )
    hot_viscosity_reserve: Scalar = quantity(
        "fraction",
        "beyond it, where a caution begins",
        default="30 %",
        bounds="fraction",
        source="ours: 13 in place of 10 mm2/s",
    )
    work_viscosity_low: Scalar = quantity(
        "kinematic_viscosity",
        "thinnest oil for long work",
        default="16 cSt",
        bounds="positive",
        source="trade article on fluid temperature and viscosity limits",
    )
    work_viscosity_high: Scalar = quantity(
        "kinematic_viscosity",
        "thickest oil for work",
        default="100 cSt",
        bounds="positive",
        source="trade article on fluid temperature and viscosity limits",
    )
    heat_share: Scalar = quantity(
        "fraction",
        "share of the pump's input that turns to heat in a scenario",
        default="70 %",
        bounds="efficiency",
        source="ours",
    )
    salt_rate_low: Scalar = quantity(
        "application_rate",
        "least usual rate of salt, per lane",
        default="50 lb/lane-mile",
        bounds="positive",
        source="ours",
    )
    salt_rate_high: Scalar = quantity(
        "application_rate",
        "greatest usual rate of salt, per lane",
        default="500 lb/lane-mile",
        bounds="positive",
        source="state salt policies (TRB Special Report 235, from memory)",
    )
    grit_rate_low: Scalar = quantity(
        "application_rate",
        "least usual rate of sand and other abrasives, per lane",
        default="500 lb/lane-mile",
        bounds="positive",
        source="NCHRP Report 526, p. 25",
    )
    grit_rate_high: Scalar = quantity(
        "application_rate",
        "greatest usual rate of sand and other abrasives, per lane",
        default="1500 lb/lane-mile",
        bounds="positive",
        source="NCHRP Report 526, p. 25",
    )
    spreading_speed: Scalar = quantity(
        "road_speed",
        "greatest road speed while spreading",
        default="45 mph",
        bounds="positive",
        source="state specifications; solids are thrown at less",
    )
    discharge_ceiling: Scalar = quantity(
        "mass_flow",
        "greatest discharge of a spreader",
        default="350 kg/min",
        bounds="positive",
        source="EN 15597-1, 4.7",
    )
    auger_speed_low: Scalar = quantity(
        "shaft_speed",
        "slowest usual auger",
        default="8 rpm",
        bounds="positive",
        source="computed from MIL-S-29208B (7 in auger) and usual orders",
    )
    auger_speed_high: Scalar = quantity(
        "shaft_speed",
        "fastest usual auger",
        default="70 rpm",
        bounds="positive",
        source="computed from MIL-S-29208B (7 in auger) and usual orders",
    )
    spinner_speed_low: Scalar = quantity(
        "shaft_speed",
        "slowest usual spinner",
        default="150 rpm",
        bounds="positive",
        source="computed from flat throw over one to three lanes",
    )
    spinner_speed_high: Scalar = quantity(
        "shaft_speed",
        "fastest usual spinner",
        default="900 rpm",
        bounds="positive",
        source="computed from flat throw over one to three lanes",
    )
    prewet_low: Scalar = quantity(
        "liquid_per_mass",
        "least usual pre-wet ratio",
        default="4 gal/ton",
        bounds="positive",
        source="a field handbook: sand 4-6 gal/ton",
    )
    prewet_high: Scalar = quantity(
        "liquid_per_mass",
        "greatest usual pre-wet ratio",
        default="20 gal/ton",
        bounds="positive",
        source="ours",
    )
