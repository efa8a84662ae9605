"""The words of the set-up sheet: cautions, and what to tick in the order of the work."""

from __future__ import annotations

CAUTIONS: tuple[tuple[str, str], ...] = (
    ("Two people", "one at the controls, one who watches; each in sight and hearing of the other."),
    ("Protective equipment", "eyes, ears, hands, feet, and a vest that is seen."),
    (
        "Lock out",
        "engine off, key with you, pressure let down, before you open a line, fit a gauge or reach "
        "into auger, conveyor or spinner. Held cylinders and accumulators keep pressure.",
    ),
    ("Rotating parts", "guards on; nobody near a shaft, chain or disc that turns or can start."),
    (
        "Oil injection",
        "oil under pressure goes through skin and gloves. Look for leaks with cardboard, never by "
        "hand. See a doctor at once after any such injury, however small.",
    ),
    ("Hot oil", "oil, pump and hoses burn. Let them cool or wear gloves made for it."),
    (
        "Raised body or plow",
        "nobody under it unless it is blocked by something that carries it; hoses do not.",
    ),
    ("Traffic", "off the road, marked; the discharge points away from people and cars."),
    (
        "Makers' limits first",
        "never go beyond what a component's maker allows, whatever stands here.",
    ),
    (
        "Codes and licences",
        "local codes come before this sheet; work that asks a licence is done by who holds it.",
    ),
)

MAKE_SAFE: tuple[str, ...] = (
    "Level ground, parking brake set, wheels chocked, neutral",
    "Area marked; signs and a way to stop agreed between the two people",
    "Emergency stop and spreader stop tried, and both stop everything",
    "Body and plow down, or blocked",
    "Guards on, tools and people away from auger, spinner and discharge",
    "Engine off and locked out while gauges are fitted; fittings tight before the start",
)

WARM_UP: tuple[str, ...] = (
    "Oil level right with all cylinders in; no foam",
    "Hopper loaded to capacity, if it can be: an empty one shows trims that are too low",
    "All functions run in turn until the oil is warm",
    "Engine held in the working band for every value below, unless another speed stands there",
)

RECORD: tuple[str, ...] = (
    "Trims, sensor values and full discharge entered in the control and read back",
    "Every value out of its range explained below, or the fault put right and measured again",
    "Engine locked out, pressure down, gauges off, caps on, guards back, no leaks (cardboard)",
    "Readings saved, sheet kept with the truck",
)

LIMITS_OF_USE = (
    "Predicted by a steady-state model from the values of the truck file: no pressure spikes, no "
    "loop stability. Component makers' limits, local codes and licensed practice come first."
)

WHERE: dict[str, str] = {
    "compensator": "pump outlet, a cylinder held at its stop",
    "margin": "pump outlet less LS port, one function running",
    "standby": "pump outlet, nothing running",
    "torque_limit": "set by the maker; not on the truck",
    "pump": "pump outlet; above the compensator it does not open, so leave it as its maker set it",
    "pump fixed": "pump outlet, a cylinder held at its stop",
    "bank inlet": "inlet of the valve bank, a cylinder held at its stop",
    "port": "work port of its section, its cylinder at the stop or its motor at stall, briefly",
    "LS": "LS port of the pump, a cylinder held at its stop",
}
"""Where each pressure setting is measured."""
