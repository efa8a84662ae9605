"""Orders and material: do rates, speeds and turns lie where work on the road puts them?"""

from __future__ import annotations

from collections.abc import Iterator

from hydrocheck.checks.finding import (
    Amount,
    Judgement,
    at_least,
    at_most,
    eased,
    lower,
    upper,
    words,
)
from hydrocheck.checks.inspection import Inspection
from hydrocheck.checks.registry import check
from hydrocheck.errors import MissingValue
from hydrocheck.model import Truck
from hydrocheck.model.circuit import Function
from hydrocheck.model.truck import Task
from hydrocheck.physics import material
from hydrocheck.solver import solved_functions
from hydrocheck.studies.work import feeder_speed

AREA = "orders and material"

_GRIT = ("sand", "abrasive", "grit", "cinder", "stone", "chip")


def _orders(truck: Truck) -> list[tuple[str, None]]:
    return [("orders", None)]


def _tasks(truck: Truck) -> Iterator[Task]:
    for scenario in truck.scenario:
        yield from scenario.run


def _usual(look: Inspection, what: str) -> tuple[float, float]:
    """Both ends of a usual band, from the limits."""
    low, high = (float(getattr(look.truck.limits, f"{what}_{end}")) for end in ("low", "high"))
    return low, high


def _band(values: list[Amount], band: tuple[float, float], about: str, ask: str) -> Judgement:
    """The value that lies furthest out of a band, as a caution.

    ask: the change, with the numbers of the band as `{low}` and `{high}`
    """
    kind = values[0].kind
    ends = {"low": at_least(band[0], kind), "high": at_most(band[1], kind)}
    judged = []
    for value in values:
        change = words(ask, **ends)
        judged.append(lower(value, Amount(band[0], kind), about=f"least {about}", change=change))
        judged.append(upper(value, Amount(band[1], kind), about=f"greatest {about}", change=change))
    worst = min(judged, key=lambda one: one.margin or 0.0)
    return eased(worst)


@check(
    "rate-band",
    area=AREA,
    asks="Are the ordered rates usual for the material?",
    formula="every rate of spreading and of the scenarios, per lane",
    limit=(
        "salt {salt_rate_low} to {salt_rate_high}, sand and other abrasives {grit_rate_low} to "
        "{grit_rate_high}; outside is a caution"
    ),
    source=(
        "state salt policies (TRB Special Report 235, from memory), NCHRP Report 526, p. 25. "
        "Handbook tables are per two-lane mile: a factor of 2"
    ),
    subjects=_orders,
)
def rate_band(look: Inspection, _: None) -> Judgement:
    """Ordered rates against what is usual."""
    rates = [*look.truck.spreading.rates]
    rates += [float(t.rate) for t in _tasks(look.truck) if t.rate is not None]
    if not rates:
        raise MissingValue(["spreading.rates"])
    grit = any(word in look.truck.spreading.material.lower() for word in _GRIT)
    ends = [Amount(f(rates), "application_rate") for f in (min, max)]
    return _band(
        ends,
        _usual(look, "grit_rate" if grit else "salt_rate"),
        "ordered rate",
        "from {low} to {high}; ask whether the order is per lane or per two lanes",
    )


@check(
    "road-speed",
    area=AREA,
    asks="Are the road speeds fit for spreading?",
    formula="every road speed of spreading and of the scenarios",
    limit="{spreading_speed}; more is a caution",
    source=(
        "state practice: solids are spread slower, since they bounce; this is about the most that "
        "specifications ask of liquids"
    ),
    subjects=_orders,
)
def road_speed(look: Inspection, _: None) -> Judgement:
    """Greatest road speed while spreading."""
    speeds = [*look.truck.spreading.road_speeds]
    speeds += [float(t.road_speed) for t in _tasks(look.truck) if t.road_speed is not None]
    if not speeds:
        raise MissingValue(["spreading.road_speeds"])
    most = float(look.truck.limits.spreading_speed)
    judged = upper(
        Amount(max(speeds), "road_speed"),
        Amount(most, "road_speed"),
        about="greatest road speed while spreading",
        change=words("{speed} or less", speed=at_most(most, "road_speed")),
    )
    return eased(judged)


@check(
    "discharge-ceiling",
    area=AREA,
    asks="Is the greatest ordered discharge one that a spreader gives?",
    formula="greatest rate x greatest road speed x lanes, of spreading or of a scenario",
    limit="{discharge_ceiling}; more is a caution",
    source="EN 15597-1, 4.7: discharge with which a spreader is emptied; more is no usual order",
    subjects=_orders,
)
def discharge_ceiling(look: Inspection, _: None) -> Judgement:
    """Greatest ordered discharge."""
    spreading = look.truck.spreading
    pairs = [(r, v) for r in spreading.rates[:] for v in spreading.road_speeds]
    pairs += [
        (float(t.rate), float(t.road_speed))
        for t in _tasks(look.truck)
        if t.rate is not None and t.road_speed is not None
    ]
    if not pairs:
        raise MissingValue(["spreading.rates"])
    most = float(look.truck.limits.discharge_ceiling)
    rate, speed = max(pairs, key=lambda pair: pair[0] * pair[1])
    judged = upper(
        Amount(float(material.discharge(rate, speed, spreading.lanes)), "mass_flow"),
        Amount(most, "mass_flow"),
        about="greatest ordered discharge",
        at={"rate": Amount(rate, "application_rate"), "road speed": Amount(speed, "road_speed")},
        change=words(
            "{speed} or less at that rate",
            speed=at_most(most / (rate * spreading.lanes) if rate else 0.0, "road_speed"),
        ),
    )
    return eased(judged)


def _turning(truck: Truck) -> list[tuple[str, Function]]:
    """Augers and spinners; a conveyor's shaft has no usual speed."""
    kinds = ("feeder", "spinner") if truck.spreading.conveyor is None else ("spinner",)
    run = {task.name for task in _tasks(truck)}
    return [(f.name, f) for f in solved_functions(truck) if f.kind in kinds and f.name in run]


@check(
    "shaft-speed-band",
    area=AREA,
    asks="Do auger and spinner turn at usual speeds in the scenarios?",
    formula="wanted shaft speed, or rate x road speed x lanes / discharge per revolution",
    limit=(
        "auger {auger_speed_low} to {auger_speed_high}, spinner {spinner_speed_low} to "
        "{spinner_speed_high}; outside is a caution"
    ),
    source=(
        "computed from MIL-S-29208B (auger size) at usual orders, and flat throw of usual discs "
        "over two or three lanes"
    ),
    subjects=_turning,
)
def shaft_speed_band(look: Inspection, function: Function) -> Judgement:
    """Shaft speeds that the scenarios want against usual ones."""
    speeds = []
    for task in _tasks(look.truck):
        if task.name == function.name and task.speed:
            speeds.append(float(task.speed))
        elif task.name == function.name and task.rate:
            speeds.append(float(feeder_speed(look.truck, task)))
    if not speeds:
        return Judgement("pass", words("no scenario wants a speed or a rate of it"))
    ends = [Amount(f(speeds), "shaft_speed") for f in (min, max)]
    return _band(
        ends,
        _usual(look, "auger_speed" if function.kind == "feeder" else "spinner_speed"),
        "wanted shaft speed",
        "from {low} to {high}: another discharge per revolution, disc or order",
    )


@check(
    "prewet-ratio",
    area=AREA,
    asks="Is the pre-wet ratio a usual one?",
    formula="liquid per ton of material",
    limit="{prewet_low} to {prewet_high}; outside is a caution",
    source="a transit agency and a field handbook, with room on both sides",
    subjects=lambda truck: [("pre-wet", None)] if truck.spreading.prewet is not None else [],
)
def prewet_ratio(look: Inspection, _: None) -> Judgement:
    """Pre-wet ratio against usual ones."""
    ratio = look.truck.spreading.prewet
    if ratio is None:
        raise MissingValue(["spreading.prewet"])
    value = Amount(float(ratio), "liquid_per_mass")
    return _band([value], _usual(look, "prewet"), "pre-wet ratio", "from {low} to {high}")
