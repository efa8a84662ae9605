"""`hydrocheck fit`: loss parameters of a pump or motor from measured points."""

from __future__ import annotations

import click

from hydrocheck.cli._frame import Frame, common_options, option_value, told_value


@click.command()
@common_options
@click.argument("points", metavar="POINTS.csv")
@click.option(
    "--machine", type=click.Choice(["pump", "motor"]), required=True, help="What was measured."
)
@click.option("--nominal", metavar="SIZE", help='Nominal displacement: "4.53 in^3/rev".')
@click.option("--rated-speed", metavar="SPEED", help="Speed of the rated point.")
@click.option("--rated-pressure", metavar="PRESSURE", help="Pressure of the rated point.")
@click.option("--rated-viscosity", metavar="VISCOSITY", help="Oil viscosity of the rated point.")
@click.option("--grade", metavar="VISCOSITY", help='Oil by its viscosity at 40 degC: "46 cSt".')
@click.option("--viscosity-index", metavar="NUMBER", help="Viscosity index that goes with --grade.")
@click.option(
    "--oil",
    metavar="TEMP=VISC",
    multiple=True,
    help='In place of a grade, twice: "104 degF=46 cSt".',
)
def command(
    frame: Frame,
    points: str,
    machine: str,
    nominal: str | None,
    **told: str | None | tuple[str, ...],
) -> None:
    """Fit displacement, slip and torque losses to measured points; print truck-file keys.

    POINTS.csv has a header with units: "speed [rpm], pressure [psi], flow [gpm]" and, where
    measured, "torque [lb-ft]", "viscosity [cSt]" or "temperature [degF]", and "note". Blank
    lines and lines that start with # are passed over. Temperatures need the oil: --grade with
    --viscosity-index, or --oil twice.
    """
    from hydrocheck.model.points import read_points
    from hydrocheck.report.machinefit import fit_json, fit_text
    from hydrocheck.studies.machinefit import FitOrder, fit_machine

    order = FitOrder(
        machine=machine,
        nominal=_value("nominal", nominal, "displacement"),
        rated_speed=_value("rated-speed", told["rated_speed"], "shaft_speed"),
        rated_pressure=_value("rated-pressure", told["rated_pressure"], "pressure_drop"),
        rated_viscosity=_value("rated-viscosity", told["rated_viscosity"], "kinematic_viscosity"),
        oil_line=_oil_line(told["grade"], told["viscosity_index"], told["oil"]),
    )
    found = fit_machine(read_points(points), order, frame.units)
    frame.emit(
        text=lambda: fit_text(found, frame.units),
        result=lambda: fit_json(found, frame.units),
        defaults_used=[f"{machine}.{key}" for key in found.defaults],
    )


def _value(option: str, text: object, kind: str) -> float | None:
    """A positive value of an option; None where it was not given. Raises UnitError, DomainError."""
    from hydrocheck.errors import DomainError

    if not isinstance(text, str):
        return None
    value = option_value(option, text, kind) or 0.0
    if not value > 0.0:
        raise DomainError(f"--{option} {text[:60]!r}: must be above zero")
    return value


def _oil_line(grade: object, index: object, pairs: object) -> tuple[float, float] | None:
    """Constants of the oil's viscosity line; None where no oil was told."""
    from hydrocheck.errors import DomainError
    from hydrocheck.physics import oil

    told = pairs if isinstance(pairs, tuple) else ()
    if grade is None and index is None and not told:
        return None
    if isinstance(grade, str) and isinstance(index, str) and not told:
        line = oil.grade_line(
            told_value("grade", grade, "kinematic_viscosity"),
            told_value("viscosity-index", index, "ratio"),
        )
        return float(line[0]), float(line[1])
    if grade is not None or index is not None or len(told) != 2:
        raise DomainError("an oil is told by --grade and --viscosity-index, or by --oil twice")
    values: list[float] = []
    for text in told:
        temperature, sign, viscosity = (part.strip() for part in text.partition("="))
        if not sign:
            raise DomainError(f'--oil {text[:60]!r}: write TEMP=VISC, such as "104 degF=46 cSt"')
        values.append(told_value("oil", temperature, "temperature"))
        values.append(told_value("oil", viscosity, "kinematic_viscosity"))
    line = oil.viscosity_line(*values)
    return float(line[0]), float(line[1])
