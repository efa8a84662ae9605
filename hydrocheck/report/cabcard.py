"""The cab card: settings by rate and road speed, one page of HTML to print and keep in the cab."""

from __future__ import annotations

from html import escape

import numpy as np

from hydrocheck.report.text import printable
from hydrocheck.studies.spreading import SpreadTable
from hydrocheck.units import display_value, show

STYLE = """
body { font: 15px/1.4 Arial, Helvetica, sans-serif; color: #000; background: #fff; margin: 2em;
       max-width: 50em; }
h1 { font-size: 1.4em; margin: 0 0 0.2em; }
p { margin: 0.4em 0; }
table { border-collapse: collapse; margin: 1em 0; width: 100%; }
th, td { border: 1px solid #000; padding: 0.35em 0.5em; text-align: right; }
th:first-child { text-align: left; }
td.short { font-style: italic; text-decoration: underline; }
.small { font-size: 0.85em; }
.blank { display: inline-block; border-bottom: 1px solid #000; width: 11em; }
@page { margin: 15mm; }
@media print { body { margin: 0; } }
"""


def cab_card(truck: str, found: SpreadTable, material: str, units: str) -> str:
    """The card as an HTML document that needs nothing else."""
    name = _text(truck)
    speeds = "".join(f"<th>{_text(_speed(found, v, units))}</th>" for v in _columns(found))
    rows = "\n".join(_row(found, r, units) for r in range(found.rates.size))
    within = show(found.accuracy, "fraction", units)
    slow = show(float(found.road_speeds.min()), "road_speed", units)
    least = show(found.least_rate, "application_rate", units)
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>Cab card: {name}</title>
<style>{STYLE}</style>
</head>
<body>
<h1>{name}</h1>
<p>{_text(material or "material")}, {found.lanes} lane{"s" if found.lanes > 1 else ""} at once;
{_text(found.feeder)} discharges {_text(show(found.per_turn, "mass_per_rev", units))}.</p>
<table>
<thead><tr><th>Setting of the {_text(found.feeder)}<br>for a rate at a road speed</th>{speeds}</tr>
</thead>
<tbody>
{rows}
</tbody>
</table>
<p>Underlined: the rate is not held within {_text(within)} there, and why. <b>min</b>: the minimum
trim puts down more than ordered. Least rate at {_text(slow)}: {_text(least)}.</p>
<p class="small">Computed, to be confirmed by weighing on the truck. Nobody near the spinner while
it turns.</p>
<p>Catch test on <span class="blank"></span> by <span class="blank"></span></p>
</body>
</html>
"""


def _text(text: str) -> str:
    return escape(printable(text))


def _columns(found: SpreadTable) -> range:
    return range(found.road_speeds.size)


def _speed(found: SpreadTable, v: int, units: str) -> str:
    speed = show(float(found.road_speeds[v]), "road_speed", units)
    return f"{speed}, gear {found.gear[v]}" if found.gear[v] else speed


def _row(found: SpreadTable, r: int, units: str) -> str:
    rate = show(float(found.rates[r]), "application_rate", units)
    cells = "".join(_cell(found, r, v, units) for v in _columns(found))
    low, high = (float(edge[r]) for edge in (found.held_from, found.held_to))
    if np.isfinite(high):
        span = f"{show(low, 'road_speed', units)} to {show(high, 'road_speed', units)}"
    else:
        span = "never held"
    return f'<tr><th>{_text(rate)}<br><span class="small">{_text(span)}</span></th>{cells}</tr>'


def _cell(found: SpreadTable, r: int, v: int, units: str) -> str:
    setting = found.setting[r, v]
    if np.isfinite(setting):
        shown = "min" if setting < 0 else f"{100.0 * setting:.0f} %"
    elif np.isfinite(found.command[r, v]):
        shown = f"command {100.0 * found.command[r, v]:.0f} %"
    else:
        shown = "-"
    rpm, unit = display_value(float(found.shaft_speed[r, v]), "shaft_speed", units)
    below = "" if setting < 0 else f'<br><span class="small">{rpm:.0f} {unit}</span>'
    if found.held[r, v]:
        return f"<td>{_text(shown)}{below}</td>"
    share = found.share[r, v]
    why = found.limit[r][v] or "discharge does not follow road speed"
    laid = f"{100.0 * share:.0f} % laid, " if np.isfinite(share) else ""
    return (
        f'<td class="short">{_text(shown)}{below}'
        f'<br><span class="small">{_text(laid + why)}</span></td>'
    )
