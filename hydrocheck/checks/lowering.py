"""Cylinders that lower: return flow above the pump's; and dividers that intensify."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from hydrocheck.checks import subjects
from hydrocheck.checks.finding import Amount, Judgement, at_least, at_most, eased, upper, words
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Bank, Function
from hydrocheck.physics import lines
from hydrocheck.solver import Points
from hydrocheck.solver.compile import compile_plant
from hydrocheck.studies.conditions import oil_temperatures

Array = NDArray[np.float64]

TRIED = 200
"""Flows tried for what the return line takes at a back pressure."""


def _cylinders(truck: Truck) -> list[tuple[str, Function]]:
    return [(name, f) for name, f in subjects.functions(truck) if f.cylinder is not None]


def _volume(function: Function) -> tuple[float, float]:
    """Oil that a cylinder returns when it moves in [m3], and the time it takes [s]."""
    cylinder = function.cylinder
    assert cylinder is not None  # a subject has one
    missing = [
        f"{function.name}.cylinder.{k}"
        for k in ("bore", "stroke", "retract_time")
        if getattr(cylinder, k) is None
    ]
    if missing or cylinder.retract_time is None:
        raise MissingValue(missing)
    area = cylinder.count * np.pi / 4.0 * float(cylinder.bore or 0.0) ** 2
    return float(area * float(cylinder.stroke or 0.0)), float(cylinder.retract_time)


@check(
    "lowering-velocity",
    area="lines and inlet",
    asks="Is the return line wide enough while the body or plow lowers?",
    formula="v = piston area x stroke / retract_time / line area; it may be above the pump's flow",
    limit="{return_velocity}; more is a caution, since it lasts for seconds",
    source="displaced volume; common practice for the velocity",
    subjects=_cylinders,
)
def lowering_velocity(look: Inspection, function: Function) -> Judgement:
    """Velocity in the return line while a cylinder moves in."""
    volume, time = _volume(function)
    limit = float(look.truck.limits.return_velocity)
    bore = look.bore(look.line("return"))
    flow = volume / time
    judged = upper(
        Amount(float(lines.velocity(flow, bore)), "velocity"),
        Amount(limit, "velocity"),
        about="return velocity while it lowers",
        at={"flow": Amount(flow, "flow")},
        given={"volume": Amount(volume, "volume"), "time": Amount(time, "time")},
        change=words(
            "a return bore of {bore} or more, or {time} or more to lower",
            bore=at_least(float(lines.bore_for_velocity(flow, limit)), "length"),
            time=at_least(time * float(lines.velocity(flow, bore)) / limit, "time"),
        ),
    )
    return eased(judged)


@check(
    "lowering-seal-pressure",
    area="pressure ladder",
    asks="Do the motors' shaft seals stand the back pressure while the body or plow lowers?",
    formula=(
        "drop of return line and filter at piston area x stroke / retract_time, oil.working; the "
        "weakest seal without a case drain"
    ),
    limit="the motors' least max_back_pressure; {seal_pressure}, as a caution, where none is given",
    source="line and filter losses; the limit is the motor maker's",
    subjects=_cylinders,
)
def lowering_seal_pressure(look: Inspection, function: Function) -> Judgement:
    """Return pressure while a cylinder moves in against the weakest seal."""
    volume, time = _volume(function)
    exposed = [one for _, one in subjects.motors(look.truck) if not one.motor.case_drain]
    if not exposed:
        return Judgement("pass", words("every motor has a case drain, or there is none"))
    stated = {
        one.key: float(one.motor.max_back_pressure)
        for one in exposed
        if one.motor.max_back_pressure is not None
    }
    limit = min(stated.values(), default=float(look.truck.limits.seal_pressure))
    weakest = min(stated, key=lambda key: stated[key]) if stated else exposed[0].key
    oil = float(oil_temperatures(look.truck, "working")[0])
    flow = volume / time
    tried = flow * np.linspace(0.0, 1.0, TRIED + 1)
    plant = compile_plant(
        look.truck, Points.of(look.truck, np.zeros(tried.size), np.full(tried.size, oil))
    )
    drops, _ = plant.return_line.drop(tried)
    fits = tried[drops <= limit].max()
    change = words("a case drain, or a larger return")
    if fits > 0.0:
        change = words(
            "{time} or more to lower, a case drain, or a larger return",
            time=at_least(volume / float(fits), "time"),
        )
    judged = upper(
        Amount(float(drops[-1]), "pressure"),
        Amount(limit, "pressure"),
        about="back pressure while it lowers",
        at={
            "motor": weakest,
            "flow": Amount(flow, "flow"),
            "oil": Amount(oil, "temperature"),
        },
        change=change,
    )
    return judged if stated else eased(judged)


def _outlets(truck: Truck) -> Iterable[tuple[str, tuple[Bank, Function, int]]]:
    """Every outlet of a gear divider that feeds a function."""
    for bank in truck.bank:
        if bank.type != "gear divider":
            continue
        fed = [f for f in truck.function if f.bank == bank.name and f.fitted]
        named = {f.name: f for f in fed}
        ordered = [named[name] for name in bank.order if name in named] or fed
        for place, function in enumerate(ordered):
            yield function.name, (bank, function, place)


@check(
    "divider-intensification",
    area="pressure ladder",
    asks="Does a divider's outlet hold when the other outlets run to tank?",
    formula="p = highest pressure at the inlet x sum of shares / own share, or the port relief",
    limit="lowest rating of the function's hoses, motors and cylinder",
    source="power balance of a gear divider: what one outlet does not take, the other gets",
    subjects=_outlets,
)
def divider_intensification(look: Inspection, subject: tuple[Bank, Function, int]) -> Judgement:
    """Highest pressure at a divider's outlet against what is behind it."""
    bank, function, place = subject
    if len(bank.shares) <= place:
        raise MissingValue([f"{bank.name}.shares"])
    rated = [m.max_pressure for m in function.motor] + [function.max_pressure]
    if function.cylinder is not None:
        rated.append(function.cylinder.max_pressure)
    ratings = [float(r) for r in rated if r is not None]
    if not ratings:
        raise MissingValue([f"{function.name}.max_pressure"])
    inlet = look.highest_pressure(look.pump)
    factor = sum(bank.shares) / float(bank.shares[place])
    ports = [
        float(r.setting)
        for r in look.truck.relief
        if r.at == "port" and r.of == function.name and r.setting is not None
    ]
    return upper(
        Amount(min([inlet * factor, *ports]), "pressure"),
        Amount(min(ratings), "pressure"),
        about="pressure at the outlet with the others at tank",
        given={"inlet": Amount(inlet, "pressure"), "factor": Amount(factor, "ratio")},
        change=words("a relief of {p} or less at this outlet", p=at_most(min(ratings), "pressure")),
    )
