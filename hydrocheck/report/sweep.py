"""A sweep as CSV, units in the header, and as JSON."""

from __future__ import annotations

from collections.abc import Callable
from typing import IO

import numpy as np
from numpy.typing import NDArray

from hydrocheck.report.envelope import column
from hydrocheck.studies.sweep import Sweep, SweepBlock
from hydrocheck.units import KINDS, display_value

Array = NDArray[np.float64]

DIGITS = "%.7g"


def cell(text: str) -> str:
    """A text as a CSV cell."""
    return '"' + text.replace('"', '""') + '"' if any(c in text for c in ',"\n') else text


class SweepWriter:
    """Writes blocks of a sweep as CSV."""

    def __init__(self, stream: IO[str], sweep: Sweep, units: str) -> None:
        self.stream = stream
        inputs = [(axis.path, axis.kind) for axis in sweep.order.axes]
        results = [(kept.name, kept.kind) for kept in sweep.columns]
        self.kinds = dict((*inputs, *results))
        self.scales = {kind: _scale(kind, units) for kind in self.kinds.values() if kind}
        heads = [
            cell(name if not kind else f"{name} [{_unit(kind, units)}]")
            for name, kind in (*inputs, *results)
        ]
        stream.write(",".join(heads) + "\n")

    def __call__(self, block: SweepBlock) -> None:
        columns: list[list[object]] = []
        forms = []
        for name, values in (*block.inputs.items(), *block.results.items()):
            if isinstance(values, list):
                columns.append([cell(text) for text in values])
                forms.append("%s")
            else:
                columns.append(self.scales[self.kinds[name]](values).tolist())
                forms.append(DIGITS)
        line = ",".join(forms) + "\n"
        self.stream.write("".join([line % row for row in zip(*columns, strict=True)]))


def _unit(kind: str, units: str) -> str:
    return display_value(1.0, kind, units)[1] or "1"


def _scale(kind: str, units: str) -> Callable[[Array], Array]:
    """The values of a kind in the unit shown: a straight line, or value by value."""
    unit = KINDS[kind].find(display_value(1.0, kind, units)[1])
    if unit is not None and unit.curve is not None:
        return lambda values: np.array([display_value(float(v), kind, units)[0] for v in values])
    shift = display_value(0.0, kind, units)[0]
    factor = display_value(1.0, kind, units)[0] - shift
    # A shifted scale leaves rounding where it passes zero.
    digits = 9 if shift else 300
    return lambda values: np.round(values * factor + shift, digits)


def sweep_json(sweep: Sweep, blocks: list[SweepBlock]) -> dict[str, object]:
    """A sweep for the JSON envelope: columns in SI."""
    units = {axis.path: KINDS[axis.kind].si for axis in sweep.order.axes}
    units |= {kept.name: KINDS[kept.kind].si for kept in sweep.columns if kept.kind}

    def gathered(name: str, part: str) -> object:
        values = [getattr(block, part)[name] for block in blocks]
        if isinstance(values[0], list):
            return [text for block in values for text in block]
        return column(np.concatenate(values), units[name])

    return {
        "scenario": sweep.scenario.name,
        "points": sweep.order.size,
        "inputs": {name: gathered(name, "inputs") for name in blocks[0].inputs},
        "results": {name: gathered(name, "results") for name in blocks[0].results},
    }
