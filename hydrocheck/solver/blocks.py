"""Many points in blocks: only the columns asked for stay in memory."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from hydrocheck.errors import DomainError
from hydrocheck.model.circuit import Circuit
from hydrocheck.physics.arrays import Array
from hydrocheck.solver.points import Points, solved_functions
from hydrocheck.solver.result import BY_FUNCTION, BY_STAGE, Result

OF_A_FUNCTION = (*BY_FUNCTION, *BY_STAGE)
BY_NAME = ("relief_flow", "heat")
"""Attributes of a result that hold columns by the name of a relief or an element."""
NO_COLUMNS = ("functions", "pumps", "supplies", *BY_NAME)


@dataclass(frozen=True)
class Kept:
    """The kept columns of one block.

    start: number of its first point, counted through all blocks; size: number of its points
    columns: by the names given to `keep`; in the shapes of the result, without the axis of
        functions where one is named
    """

    start: int
    size: int
    columns: Mapping[str, Array]

    def __getitem__(self, name: str) -> Array:
        return self.columns[name]

    def __repr__(self) -> str:
        last = self.start + self.size
        return f"<Kept: points {self.start} to {last}, {', '.join(self.columns)}>"


def iter_solve(
    circuit: Circuit,
    blocks: Iterable[Points | tuple[Circuit, Points]],
    keep: Sequence[str],
) -> Iterator[Kept]:
    """Solve block by block, and keep the columns that are asked for.

    circuit: what the points are of; any scalar may be an array of its block's size
    blocks: points, as from `Points.blocks` or a generator; or pairs of a circuit of the same
        functions, reliefs and lines with its points, for parts that differ from block to block
    keep: attributes of `Result`, for all functions (`speed`) or one (`auger.speed`), `total_heat`,
        and `heat.ELEMENT`, `relief_flow.RELIEF`

    A block is solved when it is asked for. Raises DomainError at once for a column that there is
    not (an element of heat: with the first block), and with the blocks what `solve` raises.
    """
    names = (keep,) if isinstance(keep, str) else tuple(keep)
    for name in names:
        _refuse_unknown(name, circuit)
    if not names:
        raise DomainError("keep: name at least one column")
    return _solved(circuit, blocks, names)


def _solved(
    circuit: Circuit,
    blocks: Iterable[Points | tuple[Circuit, Points]],
    names: tuple[str, ...],
) -> Iterator[Kept]:
    from hydrocheck.solver import solve  # this package: it imports us

    start = 0
    for block in blocks:
        of, points = (circuit, block) if isinstance(block, Points) else block
        result = solve(of, points)
        columns = {name: _column(result, name) for name in names}
        del result
        yield Kept(start, points.size, MappingProxyType(columns))
        start += points.size


def _refuse_unknown(name: str, circuit: Circuit) -> None:
    """Raise DomainError for a name that no result of the circuit has."""
    functions = [f.name for f in solved_functions(circuit)]
    fields = [key for key in Result.__dataclass_fields__ if key not in NO_COLUMNS]
    single = [*fields, "total_heat"]
    if name in single:
        return
    part, dot, rest = name.rpartition(".")
    first, _, named = name.partition(".")
    if first in BY_NAME:
        reliefs = [r.name for r in circuit.relief if r.at in ("pump", "bank inlet")]
        if not named:
            raise DomainError(f"keep: '{name}' holds several columns; name one, as {first}.NAME")
        if first == "relief_flow" and named not in reliefs:
            raise DomainError(f"keep: no relief '{named}'; there is: {_listed(reliefs)}")
        return
    if dot and rest in OF_A_FUNCTION:
        if part not in functions:
            raise DomainError(f"keep: no function '{part}'; there is: {_listed(functions)}")
        return
    if dot and part in functions:
        raise DomainError(f"keep: no '{rest}' of a function; there is: {_listed(OF_A_FUNCTION)}")
    raise DomainError(f"keep: no column '{name}'; there is: {_listed(single)}")


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names) or "none"


def _column(result: Result, name: str) -> Array:
    """A copy of a column, so that the rest of the result can go."""
    first, dot, named = name.partition(".")
    if first in BY_NAME:
        table: Mapping[str, Array] = getattr(result, first)
        if named not in table:
            raise DomainError(f"keep: no '{named}' in {first}; there is: {_listed(list(table))}")
        return np.array(table[named])
    if dot:
        function, _, attribute = name.rpartition(".")
        return np.array(getattr(result, attribute)[..., result.column(function)])
    return np.array(getattr(result, name))
