"""Trucks that the checks of the throw find fault with, or pass."""

from __future__ import annotations

from math import pi

from tests.checks.casekit import CONVEYOR, RPM, TANDEM, Case, put, sets

ORDERED = "scenario.spreading.run.spinner.speed"
ALONE = put(TANDEM, "scenario", TANDEM.scenario[:1])  # one order of the spinner's speed
CURES = {"speed": sets(ORDERED), "slow": sets(ORDERED), "fast": sets(ORDERED)}
OPEN = put(TANDEM, "function.spinner.disc.fan", pi / 2)  # no deflectors

BAD = [
    Case("spinner-lane-width", "spinner", put(ALONE, ORDERED, 600 * RPM), "caution", CURES),
    Case("spinner-lane-width", "spinner", put(ALONE, ORDERED, 40 * RPM), "caution", CURES),
    Case("spinner-lane-width", "spinner", put(ALONE, "spreading.lanes", 2), "caution", CURES),
    Case("width-at-trims", "spinner", put(OPEN, "function.spinner.trims.min", 0.79), "caution",
         {"command": sets("function.spinner.trims.min")}),
    Case("width-at-trims", "spinner", put(TANDEM, "function.spinner.trims.max", 0.50), "caution",
         {"command": sets("function.spinner.trims.max")}),
    Case("width-at-trims", "spinner", put(CONVEYOR, "spreading.lane_width", 19.5 * 0.3048),
         "caution", {"command": sets("function.spinner.trims.max")}),
]  # fmt: skip

GOOD = {
    "spinner-lane-width": (TANDEM, "spinner"),
    "width-at-trims": (TANDEM, "spinner"),
}

LACKING = {
    "spinner-lane-width": ("function.spinner.disc.height", "spinner", "spinner.disc.height"),
    "width-at-trims": (
        "function.spinner.disc.exit_elevation", "spinner", "spinner.disc.exit_elevation",
    ),
}  # fmt: skip

ONLY_CAUTIONS = set(GOOD)
