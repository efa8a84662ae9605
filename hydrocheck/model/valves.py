"""Valve banks, sections with their coils, relief valves."""

from __future__ import annotations

from dataclasses import dataclass

from hydrocheck.model.fields import (
    choice,
    fault,
    pairs,
    quantities,
    quantity,
    reference,
    references,
    table,
    text,
)
from hydrocheck.model.scalar import Scalar


@dataclass(frozen=True)
class Bank:
    """A group of valve sections that share one supply."""

    name: str = text("name", required=True)
    type: str = choice(
        "how its sections share flow",
        "parallel",
        "flow sharing",
        "open centre",
        "plain parallel",
        "priority valve",
        "gear divider",
        required=True,
    )
    section_drop: Scalar | None = quantity(
        "pressure_drop", "drop over a section at its rated flow", bounds="positive"
    )
    neutral_flow: Scalar | None = quantity(
        "flow", "flow at which `neutral_drop` is stated", bounds="positive"
    )
    neutral_drop: Scalar | None = quantity(
        "pressure_drop", "drop of the open centre to tank at `neutral_flow`"
    )
    order: tuple[str, ...] = references(
        "functions from first to last, for an open centre", "function"
    )
    shares: tuple[float, ...] = quantities("ratio", "share of each outlet, for a gear divider")
    max_pressure: Scalar | None = quantity("pressure", "pressure rating", bounds="positive")
    cleanliness: str = text("oil cleanliness that its maker asks, an ISO 4406 code (18/16/13)")


@dataclass(frozen=True)
class Coil:
    """The solenoid of a section and how it is driven."""

    drive: str | None = choice("what the driver holds", "current", "duty")
    frequency: Scalar | None = quantity("frequency", "drive frequency", bounds="positive")
    resistance: Scalar | None = quantity("resistance", "resistance at 20 degC", bounds="positive")
    inductance: Scalar | None = quantity("inductance", "inductance", bounds="positive")
    rated_current: Scalar | None = quantity("current", "current at full command", bounds="positive")
    supply: Scalar | None = quantity("voltage", "supply voltage at the coil", bounds="positive")
    boost: Scalar | None = quantity("fraction", "breakaway boost after a full stop")
    boost_time: Scalar | None = quantity("time", "how long the boost lasts")


@dataclass(frozen=True)
class Section:
    """The valve section of a function: flow against command."""

    rated_flow: Scalar | None = quantity("flow", "flow at full command", bounds="positive")
    deadband: Scalar | None = quantity(
        "fraction", "command at which flow begins", bounds="fraction"
    )
    full_command: Scalar = quantity(
        "fraction",
        "command at which the rated flow is reached",
        default="100 %",
        bounds="efficiency",
        source="definition of a command",
    )
    shape: Scalar = quantity(
        "ratio",
        "exponent of the curve between them",
        default="1",
        bounds="positive",
        source="a straight line",
    )
    curve: tuple[tuple[float, float], ...] = pairs(
        "fraction", "flow", "measured flow by command, in place of the above"
    )
    lowering_drop: Scalar | None = quantity(
        "pressure_drop",
        "drop at its commanded flow while a load lowers, if not the bank's section_drop",
        bounds="positive",
    )
    coil: Coil | None = table(Coil, "its coil")
    opening: Scalar = fault(
        "fraction",
        "fault: share of its flow that the spool passes (stuck, silted)",
        sound="100 %",
        bounds="fraction",
    )
    command_limit: Scalar = fault(
        "fraction",
        "fault: highest command that the coil reaches (weak, hot, under-supplied)",
        sound="100 %",
        bounds="fraction",
    )


@dataclass(frozen=True)
class Relief:
    """A relief valve: closed below cracking, its rated flow at its setting, linear through both."""

    name: str = text("name", required=True)
    at: str = choice("where it sits", "pump", "bank inlet", "port", "LS", required=True)
    of: str | None = reference(
        "pump, bank or function it protects", "pump", "bank", "function", required=True
    )
    type: str = choice("how it is built", "pilot", "direct", default="pilot")
    setting: Scalar | None = quantity("pressure", "setting, at its rated flow", bounds="positive")
    cracking: Scalar | None = quantity(
        "pressure", "cracking pressure, where known", bounds="positive"
    )
    rated_flow: Scalar | None = quantity(
        "flow", "flow at which the setting is stated", bounds="positive"
    )
    outlet: str = choice("where it discharges", "tank", "return", default="tank")
    weakness: Scalar = fault(
        "fraction",
        "fault: share by which setting and cracking have dropped (weak spring, passing)",
        sound="0",
        bounds="loss",
    )
