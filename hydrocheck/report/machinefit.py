"""Fitted loss parameters of a pump or motor as text and as JSON."""

from __future__ import annotations

import math

from hydrocheck.report.envelope import column, quantity
from hydrocheck.report.text import heading, pairs, paragraph, table
from hydrocheck.studies.machinefit import KEY_KINDS, MachineFit
from hydrocheck.units import KINDS, display_value, show, to_unit

_DIGITS = 5  # of a truck file's value: slip is the difference of two of them


def fit_text(found: MachineFit, units: str) -> str:
    """Fitted values, residuals by point, what is doubtful, and the keys for a truck file."""
    fit = found.fit
    blocks = [
        heading(f"Loss parameters of a {fit.machine} from {len(found.lines)} measured points"),
        pairs(_summary(found, units)),
        "Flow by point\n" + _flow_table(found, units),
    ]
    if fit.torque is not None:
        blocks.append("Torque by point\n" + _torque_table(found, units))
    for title, lines in (("Not told apart", found.not_separated), ("Warnings", found.warnings)):
        if lines:
            blocks.append("\n".join([title, *(paragraph(f"- {line}", hang=2) for line in lines)]))
    blocks.append(f"For the {fit.machine} in a truck file\n" + snippet(found, units))
    return "\n\n".join(blocks)


def snippet(found: MachineFit, units: str) -> str:
    """The keys as lines of a truck file."""
    lines = []
    for key, value in found.keys.items():
        line = f'{key} = "{_exact(value, KEY_KINDS[key], units)}"'
        if key in found.rated:
            line = f"{line:<42}# {found.rated[key]}"
        lines.append(line)
    lines += [
        f"# {key}: not told apart; its default holds"
        for key in found.defaults
        if key not in found.keys
    ]
    return "\n".join(lines)


def _exact(value: float, kind: str, units: str) -> str:
    """A value with `_DIGITS` figures, as the truck file reads it."""
    _, unit = display_value(value, kind, units)
    number = to_unit(value, kind, unit or "1")
    if number == 0.0 or not math.isfinite(number):
        return f"0 {unit}".rstrip()
    places = max(0, _DIGITS - 1 - math.floor(math.log10(abs(number))))
    return f"{number:.{places}f} {unit}".rstrip()


def _with_error(value: float, error: float, kind: str, units: str) -> str:
    """A value and its standard error, where there is one."""
    text = _exact(value, kind, units)
    if math.isnan(error):
        return text
    _, unit = display_value(value, kind, units)
    return f"{text} +/- {to_unit(error, kind, unit or '1'):.1g}"


def _summary(found: MachineFit, units: str) -> list[tuple[str, str]]:
    fit = found.fit
    displacement = _with_error(fit.displacement, fit.displacement_error, "displacement", units)
    if not fit.displacement_fitted:
        displacement += " (nominal, not fitted)"
    elif fit.nominal is not None:
        displacement += f" ({1.0 + fit.nominal.deviation:.4f} of nominal)"
    share = f"{100 * fit.share:.1f} %"
    if not math.isnan(fit.share_error):
        share += f" +/- {100 * fit.share_error:.1g}"
    elif not fit.share_fitted:
        share += " (default, not fitted)"
    slip = _with_error(fit.conductance, fit.conductance_error, "slip_per_pressure", units)
    nu = show(fit.reference_viscosity, "kinematic_viscosity", units)
    if "rated_viscosity" in found.defaults:
        nu += " (assumed)"
    items = [
        ("derived displacement", displacement),
        ("slip conductance", f"{slip} at {nu}"),
        ("viscous share of slip at 46 cSt", share),
        ("flow residuals", f"{_small(fit.rms, 'flow', units)} rms, "
         f"{_small(fit.max_residual, 'flow', units)} max, {100 * fit.max_error:.2f} % of "
         "theoretical flow"),
    ]  # fmt: skip
    if fit.nominal is not None and fit.displacement_fitted:
        items.append(
            ("the same with nominal displacement", f"{_small(fit.nominal.rms, 'flow', units)} rms, "
             f"{100 * fit.nominal.max_error:.2f} % of theoretical flow max")
        )  # fmt: skip
    torque = fit.torque
    if torque is not None:
        items += [
            ("friction Cf", _plain(torque.friction, torque.friction_error)),
            ("drag Cd", _plain(torque.drag, torque.drag_error)),
            ("torque residuals", f"{_small(torque.rms, 'torque', units)} rms, "
             f"{_small(torque.max_residual, 'torque', units)} max, {torque.count} points"),
        ]  # fmt: skip
    items.append(("+/-", "standard errors; residuals are measured less fitted"))
    return items


def _plain(value: float, error: float) -> str:
    text = f"{value:.4g}"
    return text if math.isnan(error) else f"{text} +/- {error:.1g}"


def _small(value: float, kind: str, units: str) -> str:
    """A residual with two figures, rounding noise as 0."""
    number, unit = display_value(value, kind, units)
    return f"{number:.2g} {unit}" if abs(number) > 1e-9 else f"0 {unit}"


def _flow_table(found: MachineFit, units: str) -> str:
    fit, points = found.fit, found.points
    _, flow_unit = display_value(0.0, "flow", units)
    _, speed_unit = display_value(0.0, "shaft_speed", units)
    _, pressure_unit = display_value(0.0, "pressure_drop", units)
    headers = [
        "line", f"speed {speed_unit}", f"pressure {pressure_unit}", "viscosity cSt",
        f"measured {flow_unit}", f"fitted {flow_unit}", f"residual {flow_unit}", "% of theoretical",
    ]  # fmt: skip
    rows = []
    for i, line in enumerate(found.lines):
        theoretical = fit.displacement * points.speed[i]
        share = 100 * fit.residuals[i] / theoretical if theoretical > 0 else math.nan
        measured, left = points.flow[i], fit.residuals[i]
        rows.append([
            str(line),
            f"{to_unit(points.speed[i], 'shaft_speed', speed_unit):.0f}",
            f"{to_unit(points.pressure[i], 'pressure_drop', pressure_unit):.1f}",
            f"{to_unit(points.viscosity[i], 'kinematic_viscosity', 'cSt'):.1f}",
            f"{to_unit(measured, 'flow', flow_unit):.3f}",
            f"{to_unit(measured - left, 'flow', flow_unit):.3f}",
            f"{to_unit(left, 'flow', flow_unit):+.3f}",
            "-" if math.isnan(share) else f"{share:+.2f}",
        ])  # fmt: skip
    return table(headers, rows, align="r" * len(headers))


def _torque_table(found: MachineFit, units: str) -> str:
    torque, points = found.fit.torque, found.points
    if torque is None:
        return ""
    _, unit = display_value(0.0, "torque", units)
    headers = ["line", f"measured {unit}", f"fitted {unit}", f"residual {unit}"]
    rows = []
    for line, measured, left in zip(found.lines, points.torque, torque.residuals, strict=True):
        if math.isnan(left):
            rows.append([str(line), "-", "-", "-"])
        else:
            values = [to_unit(value, "torque", unit) for value in (measured, measured - left, left)]
            cells = [f"{values[0]:.2f}", f"{values[1]:.2f}", f"{values[2]:+.2f}"]
            rows.append([str(line), *cells])
    return table(headers, rows, align="rrrr")


def fit_json(found: MachineFit, units: str) -> dict[str, object]:
    """The fit for the JSON envelope; what was not fitted has a null standard error."""
    fit, points = found.fit, found.points
    result: dict[str, object] = {
        "machine": fit.machine,
        "truck_file": {
            key: _quantity(value, KEY_KINDS[key], units) for key, value in found.keys.items()
        },
        "displacement": _quantity(fit.displacement, "displacement", units),
        "displacement_error": _quantity(fit.displacement_error, "displacement", units),
        "displacement_fitted": fit.displacement_fitted,
        "one_speed": fit.one_speed,
        "slip_conductance": _quantity(fit.conductance, "slip_per_pressure", units),
        "slip_conductance_error": _quantity(fit.conductance_error, "slip_per_pressure", units),
        "reference_viscosity": _quantity(fit.reference_viscosity, "kinematic_viscosity", units),
        "viscous_slip_share": fit.share,
        "viscous_slip_share_error": fit.share_error,
        "viscous_slip_share_fitted": fit.share_fitted,
        "flow_rms": _quantity(fit.rms, "flow", units),
        "flow_max_residual": _quantity(fit.max_residual, "flow", units),
        "flow_max_error": fit.max_error,
        "nominal": None,
        "torque": None,
        "points": {
            "line": list(found.lines),
            "speed": column(points.speed, "rad/s"),
            "pressure": column(points.pressure, "Pa"),
            "viscosity": column(points.viscosity, "m2/s"),
            "flow": column(points.flow, "m3/s"),
            "flow_residual": column(fit.residuals, "m3/s"),
        },
        "not_separated": list(found.not_separated),
        "warnings": list(found.warnings),
    }
    if fit.nominal is not None:
        result["nominal"] = {
            "deviation": fit.nominal.deviation,
            "rms": _quantity(fit.nominal.rms, "flow", units),
            "max_error": fit.nominal.max_error,
            "fits": fit.nominal.fits,
        }
    if fit.torque is not None:
        result["torque"] = {
            "friction": fit.torque.friction,
            "friction_error": fit.torque.friction_error,
            "drag": fit.torque.drag,
            "drag_error": fit.torque.drag_error,
            "split": fit.torque.split,
            "rms": _quantity(fit.torque.rms, "torque", units),
            "max_residual": _quantity(fit.torque.max_residual, "torque", units),
            "residual": column(fit.torque.residuals, "N m"),
        }
    return result


def _quantity(value: float, kind: str, units: str) -> dict[str, object] | None:
    """A quantity for JSON; null where there is none."""
    if math.isnan(value):
        return None
    return dict(quantity(value, KINDS[kind].si, show(value, kind, units)))
