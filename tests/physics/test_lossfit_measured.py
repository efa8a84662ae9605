"""Fitted losses against regression values of measured points, and against scipy."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.constants import bar, liter, minute
from scipy.stats import linregress

from hydrocheck.physics import oil
from hydrocheck.physics.lossfit import LossFit, MachinePoints, fit_losses
from hydrocheck.units import parse

FOLDER = Path(__file__).resolve().parents[2] / "reference_cases"
REFERENCE = tomllib.loads((FOLDER / "machines.toml").read_text(encoding="utf-8"))
SERIES = {series["name"]: series for series in REFERENCE["series"]}
FITS = {fit["id"]: fit for fit in REFERENCE["fit"]}

LPM = liter / minute
RPM = 2 * np.pi / minute
CM3 = 1e-6 / (2 * np.pi)
UNITS = {
    "cm3/rev": CM3,
    "L/min": LPM,
    "L/min/bar": LPM / bar,
    "L/min/150 bar": LPM / (150 * bar),
}


def measured(series: str, plateaus: str = "") -> MachinePoints:
    """Rows of machines_points.csv as they are published; viscosity by ASTM D341."""
    text = (FOLDER / "machines_points.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = [
        row
        for row in csv.DictReader(lines)
        if row["series"] == series and (not plateaus or row["plateau"] in plateaus)
    ]
    about = SERIES[series]
    given_speed = about.get("speed")

    def column(name: str) -> np.ndarray:
        return np.array([float(row[name]) for row in rows])

    if given_speed is None:
        speed = column("speed [rpm]") * RPM
    else:
        speed = np.full(len(rows), parse(given_speed, "shaft_speed"))
    viscosity = np.full(len(rows), 46e-6)
    if "viscosity_40" in about:
        nu_40, nu_100 = (
            parse(about[key], "kinematic_viscosity") for key in ("viscosity_40", "viscosity_100")
        )
        line = oil.viscosity_line(313.15, nu_40, 373.15, nu_100)
        viscosity = oil.kinematic_viscosity(column("temperature [degC]") + 273.15, *line)
    return MachinePoints(
        speed=speed,
        pressure=column("pressure [bar]") * bar,
        flow=column("flow [L/min]") * LPM,
        viscosity=viscosity,
        torque=np.full(len(rows), np.nan),
        density=np.full(len(rows), 870.0),
    )


def answer(fit: LossFit, name: str) -> float:
    if name == "ratio":
        assert fit.nominal is not None
        return 1.0 + fit.nominal.deviation
    if name.startswith("nominal_"):
        return float(getattr(fit.nominal, name.removeprefix("nominal_")))
    return float(getattr(fit, name))


def run_reference(row: dict[str, Any]) -> LossFit:
    points = measured(row["series"], row.get("plateaus", ""))
    assert points.flow.size == row.get("rows", points.flow.size)
    nominal = SERIES[row["series"]].get("nominal")
    return fit_losses(
        "pump",
        points,
        nominal=None if nominal is None else parse(nominal, "displacement"),
        bulk_modulus=parse(row["bulk_modulus"], "pressure") if "bulk_modulus" in row else np.inf,
    )


VALUES = [
    pytest.param(fit_id, name, id=f"{fit_id}-{name}")
    for fit_id, row in FITS.items()
    for name, value in row.items()
    if isinstance(value, dict)
]


@pytest.mark.parametrize(("fit_id", "name"), VALUES)
def test_reference_regressions(fit_id: str, name: str) -> None:
    # reference_cases/machines.toml: regression values of both series.
    wanted = FITS[fit_id][name]
    got = answer(run_reference(FITS[fit_id]), name) / UNITS.get(wanted.get("unit", ""), 1.0)
    assert got == pytest.approx(wanted["value"], abs=wanted["tolerance_abs"], rel=0.0)


def test_reference_rows_are_complete() -> None:
    assert len(VALUES) == 16
    assert all(row["source"] and row["series"] in SERIES for row in FITS.values())


def test_nominal_displacement_of_the_gear_pump_is_flagged() -> None:
    fit = run_reference(FITS["machine-fit-01"])
    assert fit.nominal is not None
    assert not fit.nominal.fits
    assert fit.nominal.max_error > 0.03  # published comparison: up to 3.7 % of theoretical flow
    assert fit.max_error < 0.0025  # within 0.2 % with the derived one


def test_compressed_oil_counts_as_slip_where_it_is_not_told() -> None:
    # Q0 (1 - p/B) spreads over p: the same flows, b larger by Q0 / B, a as before.
    with_modulus = run_reference(FITS["machine-fit-02"])
    without = fit_losses("pump", measured("rig pump", "BCD"))
    assert without.displacement == pytest.approx(with_modulus.displacement, rel=1e-9)
    assert without.viscous == pytest.approx(with_modulus.viscous, rel=1e-9)
    more = with_modulus.displacement * 1.0 / (16000 * bar)
    assert without.constant == pytest.approx(with_modulus.constant + more, rel=1e-9)
    assert without.rms == pytest.approx(with_modulus.rms, rel=1e-9)


def test_one_speed_is_the_intercept_of_a_straight_line() -> None:
    # ISO 8426 method: flow against pressure at one speed; line and errors by scipy.
    points = measured("gear pump")
    one = MachinePoints(
        *(getattr(points, name)[2:] for name in points.__dataclass_fields__)  # 1800 rpm
    )
    fit = fit_losses("pump", one)
    line = linregress(one.pressure, one.flow)
    assert fit.one_speed
    assert not fit_losses("pump", points).one_speed
    assert fit.displacement == pytest.approx(line.intercept / (1800 * RPM), rel=1e-9)
    assert fit.displacement_error == pytest.approx(line.intercept_stderr / (1800 * RPM), rel=1e-6)
    assert fit.conductance == pytest.approx(-line.slope, rel=1e-9)
    assert fit.conductance_error == pytest.approx(line.stderr, rel=1e-6)
