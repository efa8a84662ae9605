"""The throw as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import numpy as np

from hydrocheck.report.envelope import Json, column, quantity
from hydrocheck.report.shown import shown, shown_json
from hydrocheck.report.text import heading, pairs, paragraph, table
from hydrocheck.studies.pattern import DOUBT, OFFSETS, RANGES, Band, pattern
from hydrocheck.studies.throw import SCATTER_DOUBT, Throw
from hydrocheck.units import display_value, show

_RPM = np.pi / 30.0
_ROWS = 14
_CLEAR = (150.0 * _RPM, 900.0 * _RPM)  # usual spinner speeds

ESTIMATE = (
    "An estimate, to be confirmed on the ground: measure one width at a known spinner speed before "
    "you rely on it."
)
DOUBTS = (
    f"The band takes each quantity above over its range; it is never less than {100 * DOUBT:.0f} % "
    "to each side. That is ours and unproven: no measured throw of salt was at hand. Where height, "
    "tilt or exit elevation are guesses, take 30 %."
)
NOT_IN_IT = (
    "Not in it: wind, the truck's wake, clusters of wet salt, wear of the vanes, what deflectors "
    "throw back, a feed that wanders. Bounce rests on restitution from memory, the share lost on "
    "one old state study; both vary widely with road and salt."
)

_NAMES = {
    "height": ("height above the road", "length"),
    "elevation": ("exit elevation, tilt", "angle"),
    "size": ("grain size", "length"),
    "drag_factor": ("grain drag / sphere's", "ratio"),
    "friction": ("friction on vane and disc", "ratio"),
    "feed_share": ("feed radius / disc radius", "fraction"),
}


def throw_text(truck: str, throw: Throw, units: str) -> str:
    """Widths against spinner speed, the speed for the lanes, doubts, bounces."""
    return "\n\n".join(
        [
            heading(f"Throw of {truck}"),
            paragraph(ESTIMATE),
            paragraph(stay_clear(throw, units)),
            pairs(_given(throw, units)),
            _widths(throw, units),
            pairs(_verdicts(throw, units), indent=0),
            "What moves the width, each by itself\n" + _shares(throw, units),
            paragraph(DOUBTS),
            "After landing\n" + _bounces(throw, units),
            paragraph(NOT_IN_IT),
        ]
    )


def stay_clear(throw: Throw, units: str) -> str:
    """How fast grains leave a disc of this size."""
    found = pattern([throw.spin], _CLEAR).exit_speed[0]
    slow, fast = (f"{display_value(float(v), 'velocity', units)[0]:.0f}" for v in found)
    if np.isfinite(found).all():
        how = f"at 150 to 900 rpm grains leave a disc of this size at about {slow} to {fast}"
    elif isfinite(found[1]):
        how = f"at 900 rpm grains leave a disc of this size at about {fast}"
    else:  # what sticks now flies off at last; without friction, at rim speed times root 2
        most = float(np.sqrt(2.0) * _CLEAR[1] * throw.spin.radius)
        fast = f"{display_value(most, 'velocity', units)[0]:.0f}"
        how = f"at 900 rpm grains leave a disc of this size at up to {fast}"
    unit = _unit("velocity", units)
    return f"Stay clear: {how} {unit} (computed), fast enough to hurt an eye."


def _unit(kind: str, units: str) -> str:
    return display_value(1.0, kind, units)[1]


def _given(throw: Throw, units: str) -> list[tuple[str, str]]:
    spin = throw.spin
    tilted = f"tilted {show(spin.tilt, 'angle', units)}" if spin.tilt else "level"
    return [
        (
            throw.function,
            f"disc of {show(2.0 * spin.radius, 'length', units)}, "
            f"{show(spin.height, 'length', units)} above the road, {tilted}, exit elevation "
            f"{show(spin.elevation, 'angle', units)}, over {show(spin.fan, 'angle', units)} to "
            "each side from straight back",
        ),
        (
            "vanes",
            f"{show(spin.vane_angle, 'angle', units)} from radial, fed at "
            f"{show(spin.feed_share, 'fraction', units)} of the radius, friction "
            f"{show(spin.friction, 'ratio', units)}",
        ),
        (
            "grains",
            f"{show(spin.size, 'length', units)}, {show(spin.density, 'density', units)}, drag "
            f"{show(spin.drag_factor, 'ratio', units)} of a sphere's",
        ),
        (
            "still air",
            f"{show(throw.air, 'temperature', units)}, truck at "
            f"{show(spin.road_speed, 'road_speed', units)}",
        ),
    ]


def rows_shown(throw: Throw) -> list[int]:
    """Places of the band at round speeds, about `_ROWS`, and at the needed and ordered ones."""
    band = throw.band
    moving = np.flatnonzero(np.isfinite(band.width))
    limit = max([band.speed[moving[-1]] / 1.3, *(o.speed for o in throw.ordered)])
    moving = moving[band.speed[moving] <= limit * (1 + 1e-9)]
    step = 25.0 * _RPM * np.ceil(limit / (25.0 * _RPM * _ROWS))
    even = {
        int(k) for k in moving if abs(band.speed[k] / step - round(band.speed[k] / step)) < 1e-6
    }
    speeds = [o.speed for o in throw.ordered]
    speeds += [] if throw.needed is None else [throw.needed]
    return sorted(even | {int(np.argmin(np.abs(band.speed - n))) for n in speeds})


def _widths(throw: Throw, units: str) -> str:
    band, spin = throw.band, throw.spin
    foot, speed = _unit("spread_width", units), _unit("velocity", units)
    sizes = [display_value(float(d), "length", units) for d in throw.grains]
    digits = 2 if units == "us" else 1
    headers = [
        "spinner rpm", f"leaves at {speed}", f"width {foot}", "low", "high",
        *(["left", "right"] if spin.tilt else []),
        *(f"{n:.{digits}f} {unit}" for n, unit in sizes),
    ]  # fmt: skip
    ordered = [o.speed for o in throw.ordered]
    rows = []
    for k in rows_shown(throw):
        n = float(band.speed[k])
        mark = " *" if any(abs(n - o) < 1e-6 * n for o in ordered) else ""
        sides = (band.pattern.left[0], band.pattern.right[0]) if spin.tilt else ()
        widths = [band.width, band.low, band.high, *sides, *throw.reach]
        leaves = float(band.pattern.exit_speed[0, k])
        rows.append(
            [
                f"{n / _RPM:.0f}{mark}",
                _number(display_value(leaves, "velocity", units)[0]),
                *(_number(_ways(float(w[k]), units)) for w in widths),
            ]
        )
    note = (
        f"Widths in {foot}, without bounces; low and high are the ends of the band. The last "
        "columns are half the width of one grain size: the finest to the coarsest of road salt "
        "(ASTM D632, grade 1)."
    )
    note += " * is ordered by a scenario." if ordered else ""
    return table(headers, rows, align="r" * len(headers)) + "\n\n" + paragraph(note)


def _number(value: float) -> str:
    """A number of the table; a dash where the disc moves no material."""
    return f"{value:.1f}" if isfinite(value) else "-"


def _ways(value: float, units: str) -> float:
    return display_value(value, "spread_width", units)[0]


def _width(value: float, units: str) -> str:
    return shown(value, "spread_width", units)


def _verdicts(throw: Throw, units: str) -> list[tuple[str, str]]:
    """The speed for the wanted width, then what the ordered speeds throw."""
    lanes = throw.lanes
    what = "" if lanes is None else f", {lanes} lane{'' if lanes == 1 else 's'}"
    label = f"for {_width(throw.wanted, units)}{what}"
    items = [(label, needed_text(throw, units))]
    names: dict[float, list[str]] = {}
    for one in throw.ordered:
        names.setdefault(one.speed, []).append(one.scenario)
    for speed, scenarios in names.items():
        one = next(o for o in throw.ordered if o.speed == speed)
        if not isfinite(one.width):
            text = "too slow to move the material off the disc"
        else:
            text = (
                f"{_width(one.width, units)} ({_width(one.low, units)} to "
                f"{_width(one.high, units)})"
            )
        items.append((f"at {show(speed, 'shaft_speed', units)}", f"{text}: {'; '.join(scenarios)}"))
    return items


def needed_text(throw: Throw, units: str) -> str:
    """The spinner speed for the wanted width, with the ends of its band."""
    if throw.needed is None:
        return "no usual spinner speed: see the disc's height and its fan"
    text = show(throw.needed, "shaft_speed", units)
    ends = [
        show(v, "shaft_speed", units) if isfinite(v) else other
        for v, other in ((throw.slowest, "the slowest"), (throw.fastest, "beyond the table"))
    ]
    return f"{text} ({ends[0]} to {ends[1]} by the band)"


def _shares(throw: Throw, units: str) -> str:
    band, spin, n = throw.band, throw.spin, throw.at
    rows = []
    for name, (down, up) in band.shares.items():
        title, kind = _NAMES[name]
        if name in OFFSETS:
            span = f"+/- {show(OFFSETS[name], kind, units)}"
        else:
            value = getattr(spin, name)
            low, high = RANGES[name]
            span = " to ".join(show(v, kind, units) for v in (min(low, value), max(high, value)))
        rows.append([title, span, f"{100 * down[n]:.0f} %", f"{100 * up[n]:+.0f} %"])
    at = show(float(band.speed[n]), "shaft_speed", units)
    return table([f"at {at}", "over", "narrower", "wider"], rows, align="llrr")


def _bounces(throw: Throw, units: str) -> str:
    bounce = throw.bounce
    speed, foot, fast = (_unit(k, units) for k in ("road_speed", "spread_width", "velocity"))
    headers = [
        f"road {speed}", f"lands at {fast} forward", f"bounces on along {foot}",
        f"to the side {foot}", "leaves the lane",
    ]  # fmt: skip
    rows = [
        [
            f"{display_value(float(bounce.road_speed[k]), 'road_speed', units)[0]:.0f}",
            f"{display_value(float(bounce.forward[k]), 'velocity', units)[0]:.1f}",
            _span([_ways(float(v), units) for v in bounce.along[:, k]], ".0f"),
            _span([_ways(float(v), units) for v in bounce.aside[:, k]], ".0f"),
            _span([100.0 * float(v) for v in bounce.lost[:, k]], ".0f") + " %",
        ]
        for k in range(bounce.road_speed.size)
    ]
    salt = "prewet" if throw.prewet else "dry"
    note = (
        f"A stated estimate for {salt} salt on a hard road, spinner at "
        f"{show(bounce.speed, 'shaft_speed', units)}; in brackets what it may be."
        + (" Below 0 forward is backward." if (bounce.forward < 0.0).any() else "")
    )
    return table(headers, rows, align="r" * len(headers)) + "\n\n" + paragraph(note)


def _span(values: Sequence[float], form: str) -> str:
    least, middle, most = (format(v, form) for v in values)
    return f"{middle} ({least}-{most})"


def throw_json(throw: Throw, units: str) -> dict[str, object]:
    """The throw for the JSON envelope; columns in SI."""
    band, spin = throw.band, throw.spin
    return {
        "estimate": ESTIMATE,
        "stay_clear": stay_clear(throw, units),
        "spinner": throw.function,
        "disc": _disc_json(throw, units),
        "air": shown_json(throw.air, "temperature", units),
        "road_speed": shown_json(spin.road_speed, "road_speed", units),
        "wanted_width": shown_json(throw.wanted, "spread_width", units),
        "lanes": throw.lanes,
        "needed_speed": _speed_json(throw.needed, units),
        "slowest_speed": _speed_json(throw.slowest, units),
        "fastest_speed": _speed_json(throw.fastest, units),
        "ordered": [
            {
                "scenario": one.scenario,
                "speed": _speed_json(one.speed, units),
                **{k: _width_json(getattr(one, k), units) for k in ("width", "low", "high")},
            }
            for one in throw.ordered
        ],
        "speed": column(band.speed, "rad/s"),
        "exit_speed": column(band.pattern.exit_speed[0], "m/s"),
        "width": column(band.width, "m"),
        "low": column(band.low, "m"),
        "high": column(band.high, "m"),
        "left": column(band.pattern.left[0], "m"),
        "right": column(band.pattern.right[0], "m"),
        "numerical_error": column(band.pattern.error[0], "m"),
        "grains": {
            "size": column(throw.grains, "m"),
            "reach": column(throw.reach, "m"),
        },
        "shares": _shares_json(band),
        "bounce": {
            "salt": "prewet" if throw.prewet else "dry",
            "spinner_speed": _speed_json(throw.bounce.speed, units),
            "scatter_doubt": quantity(SCATTER_DOUBT, "1", f"{100 * SCATTER_DOUBT:.0f} %"),
            "road_speed": column(throw.bounce.road_speed, "m/s"),
            "forward": column(throw.bounce.forward, "m/s"),
            "along": column(throw.bounce.along, "m"),
            "aside": column(throw.bounce.aside, "m"),
            "lost": column(throw.bounce.lost, "1"),
        },
    }


def _disc_json(throw: Throw, units: str) -> dict[str, Json]:
    spin = throw.spin
    kinds = {
        "radius": "length", "height": "length", "tilt": "angle", "elevation": "angle",
        "vane_angle": "angle", "feed_share": "fraction", "friction": "ratio", "fan": "angle",
    }  # fmt: skip
    found: dict[str, Json] = {
        key: shown_json(getattr(spin, key), kind, units) for key, kind in kinds.items()
    }
    return found


def _speed_json(value: float | None, units: str) -> dict[str, Json] | None:
    if value is None or not isfinite(value):
        return None
    return shown_json(value, "shaft_speed", units)


def _width_json(value: float, units: str) -> dict[str, Json] | None:
    return shown_json(value, "spread_width", units) if isfinite(value) else None


def _shares_json(band: Band) -> dict[str, object]:
    return {
        name: {"down": column(down, "1"), "up": column(up, "1")}
        for name, (down, up) in band.shares.items()
    }
