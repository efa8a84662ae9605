"""Practitioners' cases through the whole search: what comes out is as printed, or the next size."""

from __future__ import annotations

import numpy as np
import pytest

from hydrocheck.advice.sizing import Sizing, size_truck
from hydrocheck.advice.sizing_parts import next_number
from hydrocheck.model import Truck
from hydrocheck.model.needs import needs_from_text
from hydrocheck.model.shelf import shelf_from_text
from hydrocheck.physics.displacement import preferred_displacements
from hydrocheck.units import parse

NEEDS = """\
schema = 1
[truck]
name = "case"
[engine]
idle = "700 rpm"
working = ["{low}", "{high}"]
governed = "{high}"
[engine.drive]
ratios = {ratios}
[pump]
type = "fixed"
pressures = ["{level}"]
{sizes}
[oil]
grade = "46 cSt"
viscosity_index = 100
cold = "60 degF"
working = "104 degF"
hot = "104 degF"
[margins]
flow = "0 %"
pump_wear = 0
motor_wear = 0
[[function]]
name = "work"
kind = "other"
flow = "{flow}"
pressure = "{pressure}"
line = "1 ft"
loss_factor = 0
[[scenario]]
name = "working"
engine = "{low}"
[scenario.run]
work = {{ flow = "{flow}" }}
"""


def size(**values: str) -> Sizing:
    sizing = size_truck(
        needs_from_text(NEEDS.format(**({"ratios": "[1.0]", "sizes": ""} | values)))
    )
    assert sizing.fitting > 0
    return sizing


def truck(sizing: Sizing) -> Truck:
    assert sizing.chosen is not None
    return sizing.chosen.truck


def pumps(sizing: Sizing) -> list[float]:
    """Displacements of the pumps that fit, rising."""
    return sorted({sizing.frames[c.frame].pumps[c.key[1]].displacement for c in sizing.ranked})


def test_case_1_the_old_flow_from_the_slower_engine() -> None:
    # 28.3 gpm is what the builder settled on at 2700 rpm; the printed 2.453 in3 a turn, 40.2 cm3,
    # rounds up to 50.
    sizing = size(
        low="2700 rpm", high="2700 rpm", flow="28.3 gpm", pressure="1500 psi", level="2500 psi"
    )
    exact = parse("2.453 in3/rev", "displacement")
    wanted = preferred_displacements(exact, 1.3 * exact)[0]
    assert pumps(sizing)[0] == pytest.approx(float(wanted))


def test_case_1_at_the_engine_speed_that_was_there_before() -> None:
    # At 3600 rpm the gear pumps turn too fast; geared down to 2700 rpm the size is the same.
    sizing = size(
        low="3600 rpm", high="3600 rpm", flow="28.3 gpm", pressure="1500 psi", level="2500 psi",
        ratios='["0.75"]',
    )  # fmt: skip
    assert pumps(sizing)[0] == pytest.approx(parse("50 cm3/rev", "displacement"))


def test_case_3_drive_rating_and_bores_of_a_truck_standard() -> None:
    # 20 gpm at 2500 psi: 51.5 hp, suction 1-1/2 in (1.429), discharge 5/8 in (0.572).
    turn = parse("1 rpm", "shaft_speed")
    displacement = parse("20 gpm", "flow") / (2000.0 * turn)
    number = displacement / parse("1 cm3/rev", "displacement")
    sizing = size(
        low="1900 rpm", high="2000 rpm", flow="15 gpm", pressure="1500 psi", level="2500 psi",
        sizes=f'displacements = ["{number:.6f} cm3/rev"]',
    )  # fmt: skip
    made = truck(sizing)
    bores = {line.name: line.bore for line in made.lines}
    assert bores["suction"] == pytest.approx(parse("1-1/2 in", "length"))
    assert bores["pressure"] == pytest.approx(parse("5/8 in", "length"))
    rating = float(made.engine.drive.power_rating or 0.0)
    printed = parse("51.5 hp", "power")
    assert rating == pytest.approx(float(next_number(np.array(printed), 1e3)))
    # 40 kW: no more than one preferred number above.
    assert printed <= rating <= 1.27 * printed


def test_case_2_the_ratio_that_suits_a_pump_of_1000_rpm() -> None:
    # Pump at 1000 rpm from an engine at 1500 rpm: 67 %. A pump that must not turn faster takes it
    # out of a list of ratios.
    text = NEEDS.format(
        low="1500 rpm", high="1500 rpm", flow="15 gpm", pressure="1500 psi", level="2500 psi",
        ratios='["0.667", "0.8", "1.0", "1.5"]', sizes="",
    )  # fmt: skip
    shelf = shelf_from_text(
        "part, build, displacement [cm3/rev], min_speed [rpm], max_speed [rpm]\n"
        "pump, gear, 80, 400, 1005\n"
    )
    sizing = size_truck(needs_from_text(text), shelf)
    assert sizing.fitting == 1
    assert float(truck(sizing).engine.drive.ratio) == pytest.approx(0.667)
