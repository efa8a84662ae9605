"""Speed sensor: kinematics, round trips, bad input."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck.errors import DomainError
from hydrocheck.physics import liquids, speedsensor

MILE = 1609.344
sizes = st.floats(0.5, 5.0)


@given(sizes, sizes, sizes, sizes)
def test_changing_tyre_and_axle_back_changes_nothing(
    tyre: float, other: float, axle: float, another: float
) -> None:
    there = speedsensor.refitted_pulses(20.0, tyre, other, axle, another)
    back = speedsensor.refitted_pulses(there, other, tyre, another, axle)
    assert back == pytest.approx(20.0)


def test_a_larger_tyre_makes_fewer_pulses_and_less_material() -> None:
    """5 % larger tyre: 4.8 % fewer pulses, so much less speed shown and material put down."""
    pulses = speedsensor.refitted_pulses(30000.0 / MILE, 1.00, 1.05)
    assert pulses * MILE == pytest.approx(30000.0 / 1.05)
    share = speedsensor.indicated_share(30000.0 / MILE, pulses)
    assert share == pytest.approx(1.0 / 1.05)


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan")])
def test_bad_input_is_refused(bad: float) -> None:
    with pytest.raises(DomainError):
        speedsensor.pulses_from_pass(bad, 100.0)
    with pytest.raises(DomainError):
        speedsensor.pulses_from_pass(100.0, bad)
    with pytest.raises(DomainError):
        speedsensor.refitted_pulses(20.0, bad, 1.0)
    with pytest.raises(DomainError):
        speedsensor.indicated_share(20.0, bad)


@given(st.floats(0.1, 10.0), st.floats(0.9, 1.3))
def test_nozzle_pressure_turns_nozzle_flow_round(share: float, gravity: float) -> None:
    flow = liquids.nozzle_flow(1e-3, 3e5, 3e5 * share, gravity)
    assert liquids.nozzle_pressure(1e-3, 3e5, flow, gravity) == pytest.approx(3e5 * share)


def test_ten_times_the_flow_takes_a_hundred_times_the_pressure() -> None:
    """Sprayer extension sheets: four times the pressure for twice the flow."""
    pressure = liquids.nozzle_pressure(1e-3, 3e5, [1e-4, 2e-4, 1e-3])
    assert pressure[1] / pressure[0] == pytest.approx(4.0)
    assert pressure[2] / pressure[0] == pytest.approx(100.0)
