"""Hoses and tubes, with what sits in them."""

from __future__ import annotations

from dataclasses import dataclass

from hydrocheck.model.fields import (
    choice,
    fault,
    quantity,
    reference,
    table,
    tables,
    text,
)
from hydrocheck.model.scalar import Scalar


@dataclass(frozen=True)
class Coupling:
    """A quick coupling or other part known by one flow and its drop."""

    rated_flow: Scalar = quantity("flow", "flow", bounds="positive", required=True)
    rated_drop: Scalar = quantity("pressure_drop", "drop at that flow", required=True)
    restriction: Scalar = fault(
        "ratio", "fault: its drop / the drop when sound", sound="1", bounds="positive"
    )


@dataclass(frozen=True)
class Filter:
    """A filter with its bypass."""

    rated_flow: Scalar = quantity(
        "flow", "flow at which its clean drop is stated", bounds="positive", required=True
    )
    rated_drop: Scalar = quantity("pressure_drop", "clean drop", bounds="positive", required=True)
    rated_viscosity: Scalar = quantity(
        "kinematic_viscosity",
        "viscosity at which it is stated",
        default="32 cSt",
        bounds="positive",
        source="supplier article: filter drops are stated at 32 cSt",
    )
    bypass_cracking: Scalar | None = quantity(
        "pressure_drop", "drop at which the bypass opens", bounds="positive"
    )
    bypass_full: Scalar | None = quantity(
        "pressure_drop", "drop at which the bypass alone passes the rated flow", bounds="positive"
    )
    fineness: Scalar | None = quantity("particle_size", "fineness", bounds="positive")
    restriction: Scalar = fault(
        "ratio", "fault: drop of its element / clean drop (clogged)", sound="1", bounds="positive"
    )


@dataclass(frozen=True)
class Line:
    """A hose or tube with its fittings."""

    name: str = text("name, the key of its table", required=True)
    role: str | None = choice(
        "what it carries, unless its name says it",
        "suction",
        "pressure",
        "work supply",
        "work return",
        "return",
        "case drain",
    )
    of: str | None = reference("pump or function that it serves", "pump", "function")
    kind: str | None = choice("what it is made of", "hose", "tube", "pipe")
    bore: Scalar | None = quantity("length", "inside diameter", bounds="positive")
    length: Scalar | None = quantity("length", "length")
    roughness: Scalar = quantity(
        "length",
        "wall roughness",
        default="0.01 mm",
        source="two published tables: smooth rubber 0.006-0.07 mm",
    )
    loss_factor: Scalar = quantity(
        "ratio",
        "sum of the K values of its fittings",
        default="0",
        source="no fittings",
    )
    coupling: tuple[Coupling, ...] = tables(Coupling, "quick couplings in it")
    filter: Filter | None = table(Filter, "a filter in it")
    head: Scalar = quantity(
        "length",
        "suction: oil level above the pump inlet",
        default="0 ft",
        bounds="any",
        source="oil level with the pump",
    )
    max_pressure: Scalar | None = quantity("pressure", "pressure rating", bounds="positive")
    burst_pressure: Scalar | None = quantity(
        "pressure", "least burst pressure of a hose", bounds="positive"
    )
    standard: str = text("hose standard of the rating, with its edition")
    restriction: Scalar = fault(
        "ratio",
        "fault: drop of the hose and its fittings / the drop when sound (kinked, swollen)",
        sound="1",
        bounds="positive",
    )

    @property
    def carries(self) -> str:
        """What it carries: its role, or its name where that says it (`[lines.suction]`)."""
        return self.role or self.name
