"""Loss parameters of a pump or motor from its measured points, as a truck file states them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError
from hydrocheck.model.engine import Oil
from hydrocheck.model.machines import Motor, Pump
from hydrocheck.model.points import PointTable
from hydrocheck.physics import oil
from hydrocheck.physics.lossfit import LossFit, MachinePoints, fit_losses, rated_losses
from hydrocheck.units import show

Array = NDArray[np.float64]

MACHINES: Mapping[str, type[Pump | Motor]] = MappingProxyType({"pump": Pump, "motor": Motor})

USUAL = (0.95, 1.02)
"""Derived over nominal displacement that occurs: a gear pump at 0.954, published remarks."""

MOST_SHARE_ERROR = 0.15  # a share is a number between 0 and 1
MOST_CONDUCTANCE_ERROR = 0.2  # of the conductance
MOST_DISPLACEMENT_ERROR = 0.01  # of the displacement

KEY_KINDS = MappingProxyType(
    {
        "displacement": "displacement",
        "derived_displacement": "displacement",
        "rated_speed": "shaft_speed",
        "rated_pressure": "pressure",
        "rated_viscosity": "kinematic_viscosity",
        "volumetric_efficiency": "fraction",
        "viscous_slip_share": "fraction",
        "hydromechanical_efficiency": "fraction",
        "viscous_torque_share": "fraction",
    }
)
"""The keys of a pump or motor that a fit gives, with the kind of each."""


@dataclass(frozen=True)
class FitOrder:
    """What is known beside the points; None where it is not.

    machine: "pump" or "motor"; nominal: nominal displacement
    rated_speed, rated_pressure, rated_viscosity: the point at which efficiencies are stated
    oil_line: constants of the oil's viscosity line, to turn temperatures into viscosities
    """

    machine: str
    nominal: float | None = None
    rated_speed: float | None = None
    rated_pressure: float | None = None
    rated_viscosity: float | None = None
    oil_line: tuple[float, float] | None = None


@dataclass(frozen=True)
class MachineFit:
    """A fit with its truck-file keys in SI, what it could not tell apart, and warnings.

    points: the measured points as they were fitted
    rated: where a value of the rated point comes from, by key
    defaults: keys whose default took part
    """

    fit: LossFit
    points: MachinePoints
    lines: tuple[int, ...]
    nominal: float | None
    keys: Mapping[str, float]
    rated: Mapping[str, str]
    defaults: tuple[str, ...]
    not_separated: tuple[str, ...]
    warnings: tuple[str, ...]


def default_of(part: type[Pump | Motor | Oil], key: str) -> float:
    """The truck file's default of a key, in SI."""
    value = part.__dataclass_fields__[key].default
    if not isinstance(value, float):
        raise TypeError(f"{part.__name__}.{key} has no default")
    return value


def fit_machine(table: PointTable, order: FitOrder, system: str = "us") -> MachineFit:
    """Fit the points and state the result at the rated point.

    `system` only chooses the units of the warnings. Raises DomainError.
    """
    if order.machine not in MACHINES:
        raise DomainError(f"a machine is a pump or a motor, not {order.machine!r}")
    points, known, warnings = _points(table, order)
    share = default_of(MACHINES[order.machine], "viscous_slip_share")
    torque_share = default_of(MACHINES[order.machine], "viscous_torque_share")
    fit = fit_losses(
        order.machine, points, nominal=order.nominal, share=share, torque_share=torque_share
    )
    rated, sources = _rated(points, order, known)
    keys, remarks = _keys(fit, points, order, rated)
    defaults = []
    if not fit.share_fitted:
        defaults.append("viscous_slip_share")
    if fit.torque is not None and not fit.torque.split:
        defaults.append("viscous_torque_share")
    if not known and order.rated_viscosity is None:
        defaults.append("rated_viscosity")
    lacks, doubts = _lacks(fit, known, share, torque_share), _doubts(fit, system)
    return MachineFit(
        fit=fit,
        points=points,
        lines=table.lines,
        nominal=order.nominal,
        keys=MappingProxyType(keys),
        rated=MappingProxyType(sources),
        defaults=tuple(defaults),
        not_separated=tuple(lacks),
        warnings=(*warnings, *doubts, *remarks, *_outside(points, rated, known)),
    )


def _points(table: PointTable, order: FitOrder) -> tuple[MachinePoints, bool, list[str]]:
    """The points with a viscosity each, whether those are known, and warnings."""
    viscosity, warnings = table.viscosity.copy(), []
    warm = ~np.isnan(table.temperature)
    if order.oil_line is not None:
        if not warm.any():
            warnings.append("an oil is given, but the points have no temperature: it is not used")
        from_oil = warm & np.isnan(viscosity)
        viscosity[from_oil] = oil.kinematic_viscosity(table.temperature[from_oil], *order.oil_line)
    elif np.any(warm & np.isnan(viscosity)):
        warnings.append("temperatures are not used: no oil is given to turn them into viscosities")
    lacking = np.isnan(viscosity)
    known = not lacking.all()
    if not known:
        given = order.rated_viscosity
        viscosity[:] = (
            default_of(MACHINES[order.machine], "rated_viscosity") if given is None else given
        )
    elif lacking.any():
        lines = [str(line) for line, lacks in zip(table.lines, lacking, strict=True) if lacks]
        more = f" and {len(lines) - 10} more" if len(lines) > 10 else ""
        raise DomainError(
            "some points have a viscosity and some have none: give all or none; none in line "
            + ", ".join(lines[:10])
            + more
        )
    density_15, expansion = default_of(Oil, "density"), default_of(Oil, "expansion")
    density = np.where(warm, oil.density(table.temperature, density_15, expansion), density_15)
    points = MachinePoints(
        table.speed, table.pressure, table.flow, viscosity, table.torque, density
    )
    return points, known, warnings


def _rated(
    points: MachinePoints, order: FitOrder, known: bool
) -> tuple[tuple[float, float, float], dict[str, str]]:
    """Speed, pressure and viscosity of the rated point, and where each comes from."""
    best = int(np.argmax(points.speed * points.pressure))
    speed, pressure = float(points.speed[best]), float(points.pressure[best])
    nu = float(np.median(points.viscosity))
    sources = {
        "rated_speed": "of the point of highest power",
        "rated_pressure": "of the point of highest power",
        "rated_viscosity": "median of the points" if known else "default: the points have none",
    }
    for key in sources:
        if getattr(order, key) is not None:
            sources[key] = "as given"
    if not known and order.rated_viscosity is not None:
        sources["rated_viscosity"] = "as given, taken for all points"
    values = (
        speed if order.rated_speed is None else order.rated_speed,
        pressure if order.rated_pressure is None else order.rated_pressure,
        nu if order.rated_viscosity is None else order.rated_viscosity,
    )
    if not min(values) > 0.0:
        raise DomainError("no point has both speed and pressure: give the rated speed and pressure")
    return values, sources


def _keys(
    fit: LossFit, points: MachinePoints, order: FitOrder, rated: tuple[float, float, float]
) -> tuple[dict[str, float], list[str]]:
    """The truck-file keys in SI, and remarks on them."""
    speed, pressure, nu = rated
    efficiency = float(rated_losses(fit, speed, pressure, nu)[0])
    keys, remarks = {"displacement": fit.displacement}, []
    if order.nominal is not None and fit.displacement_fitted:
        # The truck file states volumetric efficiency on the nominal displacement.
        ratio = fit.displacement / order.nominal
        nominal_efficiency = efficiency * (ratio if fit.machine == "pump" else 1.0 / ratio)
        if nominal_efficiency <= 1.0:
            efficiency = nominal_efficiency
            keys = {"displacement": order.nominal, "derived_displacement": fit.displacement}
        else:
            remarks.append(
                "on the nominal displacement the volumetric efficiency would exceed 100 %"
                f" ({100.0 * nominal_efficiency:.1f} %): the derived displacement is stated as"
                " the displacement"
            )
    keys |= {
        "rated_speed": speed,
        "rated_pressure": pressure,
        "rated_viscosity": nu,
        "volumetric_efficiency": efficiency,
    }
    if fit.share_fitted:
        keys["viscous_slip_share"] = fit.share
    if fit.torque is not None:
        mu = nu * float(np.median(points.density))
        friction, drag = fit.torque.friction, fit.torque.drag * mu * speed / pressure
        lost = friction + drag
        if fit.machine == "motor" and lost >= 1.0:
            raise DomainError("at the rated point the torque losses take all of the torque")
        keys["hydromechanical_efficiency"] = (
            1.0 / (1.0 + lost) if fit.machine == "pump" else 1.0 - lost
        )
        if fit.torque.split and lost > 0.0:
            keys["viscous_torque_share"] = drag / lost
    return keys, remarks


def _lacks(fit: LossFit, known: bool, share: float, torque_share: float) -> list[str]:
    """What the points cannot tell apart."""
    found = []
    if not fit.displacement_fitted:
        found.append(
            "displacement: speed and pressure do not vary apart, so that the nominal displacement"
            " was kept and slip is what remains"
        )
    if not fit.share_fitted:
        why = "at one viscosity only" if known else "the points have no viscosity"
        if known and len(fit.residuals) <= 3:
            why = "too few points"
        found.append(f"viscous share of slip: {why}; the default of {100 * share:g} % was kept")
    if fit.torque is None:
        found.append("friction and drag: fewer than three points have a torque")
    elif not fit.torque.split:
        found.append(
            "friction from drag: torque loss grows alike with both; a viscous share of"
            f" {100 * torque_share:g} % was kept"
        )
    return found


def _doubts(fit: LossFit, system: str) -> list[str]:
    """Warnings about the fit itself."""
    found = []
    if fit.one_speed and fit.displacement_fitted:
        found.append(
            "all points lie at one speed: the displacement is the flow extrapolated to no pressure"
            " (method of ISO 8426), which came out about 1 % low in published tests; measure at"
            " a second speed"
        )
    if fit.nominal is not None:
        ratio = 1.0 + fit.nominal.deviation
        text = (
            f"derived displacement is {ratio:.3f} of nominal ({100 * fit.nominal.deviation:+.1f} %)"
        )
        if not fit.nominal.fits:
            found.append(
                f"the nominal displacement does not fit: {text}; with it the flow errs by up to"
                f" {100 * fit.nominal.max_error:.1f} % of theoretical flow"
                f" ({show(fit.nominal.rms, 'flow', system)} rms), with the derived one by"
                f" {100 * fit.max_error:.2f} %; {USUAL[0]:g} to {USUAL[1]:g} occurs"
            )
        if not USUAL[0] <= ratio <= USUAL[1]:
            found.append(
                f"{text}, outside the {USUAL[0]:g} to {USUAL[1]:g} that occurs: check the nominal"
                " displacement, the speeds and the flow meter"
            )
    if fit.displacement_error > MOST_DISPLACEMENT_ERROR * fit.displacement:
        percent = 100 * fit.displacement_error / fit.displacement
        found.append(f"the derived displacement is uncertain: standard error {percent:.1f} %")
    if fit.conductance_error > MOST_CONDUCTANCE_ERROR * fit.conductance:
        found.append("the slip is uncertain: its standard error exceeds a fifth of it")
    if fit.share_bound:
        found.append(
            f"the viscous share of slip comes out beyond {100 * fit.share:.0f} % and was held"
            " there: slip and viscosity do not agree with the law"
        )
    elif fit.share_error > MOST_SHARE_ERROR:
        error = 100 * fit.share_error
        found.append(f"the viscous share of slip is uncertain: standard error {error:.0f} points")
    if fit.torque is not None and fit.torque.bound:
        which = "drag" if fit.torque.drag == 0.0 else "friction"
        found.append(f"the fitted {which} comes out negative and was held at zero")
    return found


def _outside(points: MachinePoints, rated: tuple[float, float, float], known: bool) -> list[str]:
    """Warnings about a rated point beyond the measured ones."""
    found = []
    checks = [("speed", rated[0], points.speed), ("pressure", rated[1], points.pressure)]
    if known:
        checks.append(("viscosity", rated[2], points.viscosity))
    for name, value, measured in checks:
        if not measured.min() * (1.0 - 1e-9) <= value <= measured.max() * (1.0 + 1e-9):
            found.append(f"the rated {name} lies outside the measured ones: extrapolated")
    return found
