"""A pan test, and the materials that are known, as text and as JSON."""

from __future__ import annotations

from hydrocheck.report.shown import shown_json
from hydrocheck.report.text import heading, paragraph, table
from hydrocheck.studies.materials import Density
from hydrocheck.studies.pantest import PanTest
from hydrocheck.units import display_value, show


def pan_text(truck: str, found: PanTest, units: str) -> str:
    """Width, share in the lanes, and the side to which the pattern leans."""
    swath, left, right = (
        show(v, "spread_width", units) for v in (found.swath, abs(found.left), found.right)
    )
    said = (
        f"Effective swath {swath}: {left} to the left and {right} to the right of the middle, "
        "out to half the amount there."
    )
    if not all(found.reached):
        said += " The pans do not reach that far on every side: the swath is at least so wide."
    lanes = show(found.lanes_width, "spread_width", units)
    return "\n\n".join(
        [
            heading(f"Pan test of {truck}"),
            paragraph(said),
            paragraph(
                f"{100.0 * found.within:.0f} % of what the pans caught lies within {lanes} of "
                f"treated lanes; {100.0 * found.left_share:.0f} % of all lies left of the truck's "
                "middle."
            ),
        ]
    )


def pan_json(found: PanTest, units: str) -> dict[str, object]:
    """A pan test for the JSON envelope."""
    return {
        "swath": shown_json(found.swath, "spread_width", units),
        "left": shown_json(found.left, "spread_width", units),
        "right": shown_json(found.right, "spread_width", units),
        "reached": list(found.reached),
        "within_lanes": shown_json(found.within, "fraction", units),
        "left_share": shown_json(found.left_share, "fraction", units),
    }


def materials_text(known: list[Density], units: str) -> str:
    """Bulk densities with their sources."""
    unit = display_value(1.0, "density", units)[1]
    rows = []
    for one in known:
        low, usual, high = (
            f"{display_value(v, 'density', units)[0]:.0f}" for v in (one.low, one.usual, one.high)
        )
        rows.append([one.name, usual, f"{low}-{high}", f"{one.factor:.1f}", one.source])
    headers = ["material", unit, "range", "screw factor", "source"]
    return "\n\n".join([heading("Bulk densities"), table(headers, rows, align="lrrrl")])


def materials_json(known: list[Density], units: str) -> list[dict[str, object]]:
    """The same for the JSON envelope."""
    return [
        {
            "name": one.name,
            "low": shown_json(one.low, "density", units),
            "usual": shown_json(one.usual, "density", units),
            "high": shown_json(one.high, "density", units),
            "screw_factor": one.factor,
            "source": one.source,
        }
        for one in known
    ]


def density_said(found: Density, units: str) -> str:
    """The truck file's density beside what is usual."""
    low, high = show(found.low, "density", units), show(found.high, "density", units)
    if found.given is None:
        usual = show(found.usual, "density", units)
        return f"No bulk density is given; usual for {found.name}: {usual} ({found.source})."
    given = show(found.given, "density", units)
    caution = "" if found.inside else "Caution: "
    lies = "within" if found.inside else "outside"
    return (
        f"{caution}Bulk density {given}, {lies} what is usual for {found.name}, {low} to {high} "
        f"({found.source})."
    )
