"""Fitted points as truck-file keys: what is stated, kept, warned of and refused."""

from __future__ import annotations

import numpy as np
import pytest

from hydrocheck.errors import DomainError
from hydrocheck.model.machines import Motor, Pump
from hydrocheck.model.points import points_from_text
from hydrocheck.physics import losses, oil
from hydrocheck.studies.machinefit import KEY_KINDS, FitOrder, MachineFit, default_of, fit_machine
from hydrocheck.units import KINDS, parse

RPM = 2 * np.pi / 60
CM3 = 1e-6 / (2 * np.pi)

# Textbook chapter on gear pumps, republished as a web tutorial (2010, 2012): 4.53 in3 a turn.
GEAR = """speed [rpm], pressure [bar], flow [L/min]
1200, 34.5, 81.95
1200, 172.4, 69.48
1800, 34.5, 124.27
1800, 103.4, 118.52
1800, 172.4, 112.24
"""
NOMINAL = parse("4.53 in3/rev", "displacement")


def csv_of(machine: str, displacement: float, viscosities: list[float], torque: bool) -> str:
    """Points by the package's laws: share 0.4 and 4 % slip at 1200 rpm, 100 bar, 46 cSt."""
    k46 = losses.slip_conductance(displacement, 0.04, 1200 * RPM, 100e5)
    lines = ["speed [rad/s], pressure [Pa], flow [m3/s], torque [N m], viscosity [m2/s]"]
    for n in (600 * RPM, 1200 * RPM, 2000 * RPM):
        for dp in (30e5, 200e5):
            for nu in viscosities:
                k = k46 * losses.slip_viscosity_factor(nu, 46e-6, 0.4)
                slip = k * dp if machine == "motor" else -k * dp
                lost = displacement * (0.03 * dp + 8e3 * nu * 870.0 * n)
                t = displacement * dp + (lost if machine == "pump" else -lost)
                cells = [n, dp, displacement * n + slip, t if torque else np.nan, nu]
                lines.append(",".join("" if np.isnan(c) else f"{c:.17g}" for c in cells))
    return "\n".join(lines)


def fitted(text: str, machine: str = "pump", **known: float) -> MachineFit:
    return fit_machine(points_from_text(text), FitOrder(machine, **known))


def test_the_gear_pump_as_a_truck_file_states_it() -> None:
    found = fitted(GEAR, nominal=NOMINAL)
    keys = found.keys
    assert keys["displacement"] == NOMINAL
    assert keys["derived_displacement"] == pytest.approx(70.85 * CM3, abs=0.05 * CM3)
    # Published: eta_v 0.84 on the nominal displacement at 1800 rpm and 2500 psi.
    assert keys["volumetric_efficiency"] == pytest.approx(0.84, abs=0.001)
    assert keys["rated_speed"] == pytest.approx(1800 * RPM)
    assert keys["rated_pressure"] == pytest.approx(172.4e5)
    assert "viscous_slip_share" not in keys
    assert "hydromechanical_efficiency" not in keys
    assert set(found.defaults) == {"viscous_slip_share", "rated_viscosity"}
    warning = next(text for text in found.warnings if "nominal displacement does not fit" in text)
    assert "0.955 of nominal (-4.6 %)" in warning or "0.954 of nominal (-4.6 %)" in warning
    assert "0.95 to 1.02 occurs" in warning


def test_without_a_nominal_the_derived_displacement_stands_alone() -> None:
    keys = fitted(GEAR).keys
    assert "derived_displacement" not in keys
    assert keys["displacement"] == pytest.approx(70.85 * CM3, abs=0.05 * CM3)
    assert keys["volumetric_efficiency"] == pytest.approx(0.84 / 0.9545, abs=0.002)


@pytest.mark.parametrize("machine", ["pump", "motor"])
@pytest.mark.parametrize("ratio", [0.97, 1.0, 1.01])
def test_the_keys_give_the_same_machine_back(machine: str, ratio: float) -> None:
    # What a truck file with these keys means, by the laws of physics.losses.
    d = 50 * CM3
    found = fitted(csv_of(machine, d, [15e-6, 46e-6, 150e-6], True), machine, nominal=d / ratio,
                   rated_speed=1500 * RPM, rated_pressure=150e5, rated_viscosity=30e-6)  # fmt: skip
    keys = found.keys
    full = keys.get("derived_displacement", keys["displacement"])
    eta, nominal = keys["volumetric_efficiency"], keys["displacement"]
    assert full == pytest.approx(d, rel=1e-9)
    slip = 1.0 - eta * nominal / full if machine == "pump" else nominal / eta / full - 1.0
    k = losses.slip_conductance(full, slip, keys["rated_speed"], keys["rated_pressure"])
    share = losses.viscous_share_at_rating(keys["viscous_slip_share"], keys["rated_viscosity"])
    k46 = losses.slip_conductance(d, 0.04, 1200 * RPM, 100e5)
    for nu in (12e-6, 46e-6, 200e-6):
        got = k * losses.slip_viscosity_factor(nu, keys["rated_viscosity"], share)
        assert got == pytest.approx(k46 * losses.slip_viscosity_factor(nu, 46e-6, 0.4), rel=1e-6)
    loss_of = losses.pump_torque_loss if machine == "pump" else losses.motor_torque_loss
    friction, drag = losses.torque_loss_coefficients(
        loss_of(keys["hydromechanical_efficiency"]),
        keys["rated_pressure"],
        keys["rated_viscosity"] * 870.0,
        keys["rated_speed"],
        keys["viscous_torque_share"],
    )
    assert friction == pytest.approx(0.03, rel=1e-6)
    assert drag == pytest.approx(8e3, rel=1e-6)
    assert found.defaults == ()
    assert found.not_separated == ()
    assert all("nominal displacement does not fit" in text for text in found.warnings)
    assert bool(found.warnings) == (ratio != 1.0)


def test_a_key_never_exceeds_its_bounds() -> None:
    # A motor with less than its nominal displacement: on nominal, efficiency would pass 100 %.
    found = fitted(csv_of("motor", 50 * CM3, [46e-6], False), "motor", nominal=53 * CM3)
    assert "derived_displacement" not in found.keys
    assert found.keys["displacement"] == pytest.approx(50 * CM3)
    assert 0.0 < found.keys["volumetric_efficiency"] < 1.0
    assert any("would exceed 100 %" in text for text in found.warnings)
    assert any("outside the 0.95 to 1.02" in text for text in found.warnings)


def test_keys_are_fields_of_pump_and_motor_of_their_kind() -> None:
    for part in (Pump, Motor):
        for key, kind in KEY_KINDS.items():
            spec = next(iter(part.__dataclass_fields__[key].metadata.values()))
            assert KINDS[spec.kind].si == KINDS[kind].si
    assert default_of(Pump, "viscous_slip_share") == 0.4
    with pytest.raises(TypeError, match="no default"):
        default_of(Pump, "displacement")


def test_what_one_viscosity_cannot_tell() -> None:
    found = fitted(csv_of("pump", 50 * CM3, [46e-6], True))
    assert any("at one viscosity only" in text for text in found.not_separated)
    assert found.defaults == ("viscous_slip_share",)
    assert found.keys["rated_viscosity"] == pytest.approx(46e-6)


def test_one_speed_is_warned_of() -> None:
    lines = GEAR.splitlines()
    found = fitted("\n".join([lines[0], *lines[3:]]))
    assert any("ISO 8426" in text for text in found.warnings)
    assert not any("ISO 8426" in text for text in fitted(GEAR).warnings)


def test_noise_is_warned_of() -> None:
    rows = ["1200,100,80", "1200,120,60", "1800,90,121", "1800,110,80", "1500,100,90"]
    found = fitted("\n".join(["speed [rpm],pressure [bar],flow [L/min]", *rows]))
    assert any("displacement is uncertain" in text for text in found.warnings)
    assert any("slip is uncertain" in text for text in found.warnings)


def test_a_rated_point_outside_is_warned_of() -> None:
    found = fitted(GEAR, rated_speed=2500 * RPM, rated_pressure=100e5)
    assert found.warnings == ("the rated speed lies outside the measured ones: extrapolated",)
    assert found.rated["rated_speed"] == "as given"


# --- viscosity from temperature ---------------------------------------------------------------

HEAD, *ROWS = GEAR.splitlines()
WARM = "\n".join([f"{HEAD}, temperature [degC]", *(f"{row},50" for row in ROWS)])
LINE = tuple(float(x) for x in oil.viscosity_line(313.15, 46e-6, 373.15, 6.8e-6))


def test_temperature_becomes_viscosity_through_the_oil() -> None:
    found = fit_machine(points_from_text(WARM), FitOrder("pump", oil_line=(LINE[0], LINE[1])))
    expected = float(oil.kinematic_viscosity(323.15, *LINE))
    assert found.points.viscosity == pytest.approx(np.full(5, expected))
    assert found.points.density == pytest.approx(np.full(5, 870 * (1 - 0.0007 * 35)))
    assert found.keys["rated_viscosity"] == pytest.approx(expected)
    assert "rated_viscosity" not in found.defaults


def test_temperature_without_an_oil_is_said_not_to_be_used() -> None:
    assert any("temperatures are not used" in text for text in fitted(WARM).warnings)
    with_oil = fit_machine(points_from_text(GEAR), FitOrder("pump", oil_line=(LINE[0], LINE[1])))
    assert any("no temperature" in text for text in with_oil.warnings)


def test_a_viscosity_in_some_rows_only_is_refused() -> None:
    text = GEAR.replace("flow [L/min]", "flow [L/min], viscosity [cSt]")
    rows = text.splitlines()
    some = "\n".join([rows[0], rows[1] + ",40", *(row + "," for row in rows[2:])])
    with pytest.raises(DomainError, match="none in line 3, 4, 5, 6"):
        fitted(some)


def test_a_stated_viscosity_stands_for_all_points() -> None:
    found = fitted(GEAR, rated_viscosity=50e-6)
    assert found.points.viscosity == pytest.approx(np.full(5, 50e-6))
    assert found.defaults == ("viscous_slip_share",)


@pytest.mark.parametrize(
    ("text", "machine", "words"),
    [
        (GEAR, "fan", "pump or a motor"),
        (GEAR, "motor", "volumetric efficiency of 113"),
        ("\n".join(GEAR.splitlines()[:3]), "pump", "2 measured points are too few"),
    ],
)
def test_refusals(text: str, machine: str, words: str) -> None:
    with pytest.raises(DomainError, match=words):
        fitted(text, machine)


def test_a_rated_point_needs_speed_and_pressure() -> None:
    stalled = "speed [rpm],pressure [bar],flow [L/min]\n0,50,1\n0,100,2\n0,150,3\n"
    with pytest.raises(DomainError, match="give the rated speed"):
        fitted(stalled, "motor", nominal=NOMINAL)
