"""The handbook: each formula once, as data, with its inputs, its law and its source.

>>> from hydrocheck.studies.handbook import calculate
>>> calculate("pump-flow", displacement="4 in^3/rev", speed="1000 rpm").worked()
'Q = D n eta_v = 4 in^3/rev x 1000 rpm x 100 % = 17.316 gal/min'
"""

from __future__ import annotations

from typing import Final

from hydrocheck.errors import DomainError
from hydrocheck.studies.handbook.cylinders import CYLINDERS
from hydrocheck.studies.handbook.fluids import LINES, OIL
from hydrocheck.studies.handbook.formula import (
    CAUTION,
    Answer,
    Formula,
    Given,
    Input,
    Output,
    Way,
    figures,
    read_input,
    si_unit,
    work_out,
)
from hydrocheck.studies.handbook.rotary import DRIVES, MOTORS, PUMPS
from hydrocheck.studies.handbook.spreading import RESERVOIR, SPREADING
from hydrocheck.studies.handbook.throw import THROW
from hydrocheck.studies.handbook.valves import OPENINGS

__all__ = [
    "CAUTION",
    "FORMULAS",
    "Answer",
    "Formula",
    "Given",
    "Input",
    "Output",
    "Way",
    "calculate",
    "figures",
    "read_input",
    "si_unit",
    "work_out",
]

FORMULAS: Final = {
    formula.name: formula
    for formula in (
        *PUMPS,
        *MOTORS,
        *DRIVES,
        *CYLINDERS,
        *LINES,
        *OPENINGS,
        *OIL,
        *RESERVOIR,
        *SPREADING,
        *THROW,
    )
}


def calculate(name: str, **texts: str) -> Answer:
    """The answer of a formula to texts with units; see `Formula.inputs` for their names."""
    formula = FORMULAS.get(name)
    if formula is None:
        raise DomainError(f"no formula {name!r}")
    given = {}
    for key, text in texts.items():
        try:
            given[key] = read_input(formula.input(key), text)
        except KeyError:
            raise DomainError(f"{name} takes no {key!r}") from None
    return work_out(formula, given)
