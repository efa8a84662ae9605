"""The operating points of a solve: engine speed, oil temperature, what is asked of functions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.errors import DomainError
from hydrocheck.model.circuit import Circuit, Function
from hydrocheck.physics.arrays import Array
from hydrocheck.solver.needs import Index, run


def solved_functions(circuit: Circuit) -> tuple[Function, ...]:
    """The M functions that the steady state covers: fitted and hydraulic, in the file's order."""
    return tuple(f for f in circuit.function if f.fitted and f.drive == "hydraulic")


@dataclass(frozen=True)
class Points:
    """N operating points of a circuit with M functions.

    engine_speed: [rad/s], shape (N,)
    oil_temperature: [K], shape (N,)
    command: fraction of full command [1], shape (N, M)
    asked: commanded section flow [m3/s], shape (N, M); nan where `command` rules
    hopper: 1 full, 0 empty, shape (N,)
    thrown: mass flow that a spinner throws [kg/s], shape (N, M)
    retract: 1 where a cylinder moves in, 0 where it moves out, shape (N, M)
    lower: 1 where a load drives a cylinder in, its ports open to the return, shape (N, M); a
        single-acting cylinder that moves in is lowered
    stop: 1 where a cylinder stands at the end of its stroke, shape (N, M)
    """

    engine_speed: Array
    oil_temperature: Array
    command: Array
    asked: Array
    hopper: Array
    thrown: Array
    retract: Array
    lower: Array
    stop: Array

    @property
    def size(self) -> int:
        """N, the number of points."""
        return int(self.engine_speed.size)

    @classmethod
    def of(  # noqa: PLR0913 - one keyword a kind of order
        cls,
        circuit: Circuit,
        engine_speed: ArrayLike,
        oil_temperature: ArrayLike,
        *,
        command: Mapping[str, ArrayLike] | None = None,
        asked: Mapping[str, ArrayLike] | None = None,
        hopper: ArrayLike = 1.0,
        thrown: Mapping[str, ArrayLike] | None = None,
        retract: Mapping[str, ArrayLike] | None = None,
        lower: Mapping[str, ArrayLike] | None = None,
        stop: Mapping[str, ArrayLike] | None = None,
    ) -> Points:
        """Points from values by function name; scalars and (N,) arrays broadcast.

        engine_speed: [rad/s], (N,); oil_temperature: [K], (N,)
        command: [1] by function; asked: [m3/s] by function; a function in neither is off
        hopper: 1 full to 0 empty, (N,); thrown: [kg/s] by function
        retract, lower, stop: 1 or 0 by function, for cylinders

        Raises DomainError for an unknown function, a function in both, shapes that do not
        broadcast, or values that are not finite or out of range.
        """
        names = [f.name for f in solved_functions(circuit)]
        given = {
            "command": command or {},
            "asked": asked or {},
            "thrown": thrown or {},
            "retract": retract or {},
            "lower": lower or {},
            "stop": stop or {},
        }
        for what, values in given.items():
            for name in values:
                if name not in names:
                    raise DomainError(f"{what}: no function '{name}'; there is: {', '.join(names)}")
        if both := given["command"].keys() & given["asked"].keys():
            raise DomainError(f"'{min(both)}' has a command and an asked flow; give one of them")
        single = {
            "engine_speed": engine_speed,
            "oil_temperature": oil_temperature,
            "hopper": hopper,
        }
        flat = {
            **single,
            **{f"{what}.{n}": v for what, values in given.items() for n, v in values.items()},
        }
        size = _common_size(flat)
        columns = {key: _column(key, value, size) for key, value in flat.items()}
        off = np.zeros(size)
        rules = np.full(size, np.nan)
        matrix = {
            what: np.stack(
                [columns.get(f"{what}.{n}", rules if what == "asked" else off) for n in names],
                axis=1,
            )
            if names
            else np.zeros((size, 0))
            for what in given
        }
        points = cls(**{key: columns[key] for key in single}, **matrix)
        points.validate()
        return points

    def fit(self, functions: int) -> None:
        """Refuse points that are not of a circuit with so many functions. Raises DomainError."""
        for key in self.__dataclass_fields__:
            wide = key in ("command", "asked", "thrown", "retract", "lower", "stop")
            wanted = (self.size, functions) if wide else (self.size,)
            shape = np.shape(getattr(self, key))
            if shape != wanted:
                raise DomainError(f"{key}: shape {shape} does not fit {wanted}")

    def validate(self) -> None:
        """Refuse what no circuit can be solved for. Raises DomainError."""
        checks = {
            "engine_speed": (self.engine_speed >= 0) & np.isfinite(self.engine_speed),
            "oil_temperature": (self.oil_temperature > 0) & np.isfinite(self.oil_temperature),
            "command": (self.command >= 0) & (self.command <= 1),
            "asked": np.isnan(self.asked) | ((self.asked >= 0) & np.isfinite(self.asked)),
            "hopper": (self.hopper >= 0) & (self.hopper <= 1),
            "thrown": (self.thrown >= 0) & np.isfinite(self.thrown),
            "retract": (self.retract == 0) | (self.retract == 1),
            "lower": (self.lower == 0) | (self.lower == 1),
            "stop": (self.stop == 0) | (self.stop == 1),
        }
        for key, good in checks.items():
            if not good.all():
                raise DomainError(
                    f"{key}: {int((~good).sum())} value(s) not finite or out of range"
                )

    @classmethod
    def stacked(cls, parts: Sequence[Points]) -> Points:
        """Points of one circuit, one after the other."""
        keys = cls.__dataclass_fields__
        return cls(*(np.concatenate([getattr(part, key) for part in parts]) for key in keys))

    def blocks(self, size: int) -> Iterator[Points]:
        """The points in order, so many at a time, without copies. Raises DomainError."""
        if size < 1:
            raise DomainError(f"size of a block: at least 1, got {size}")
        return (self.take(run(i, min(i + size, self.size))) for i in range(0, self.size, size))

    def take(self, index: Index) -> Points:
        """The points at `index`."""
        return Points(*(getattr(self, key)[index] for key in self.__dataclass_fields__))


def _common_size(values: Mapping[str, ArrayLike]) -> int:
    sizes = {key: np.size(np.asarray(value)) for key, value in values.items()}
    size = max(sizes.values())
    for key, one in sizes.items():
        if one not in (1, size) or np.ndim(np.asarray(values[key])) > 1:
            raise DomainError(f"{key}: {one} values do not fit {size} points")
    return size


def _column(key: str, value: ArrayLike, size: int) -> Array:
    try:
        array = np.asarray(value, dtype=np.float64).reshape(-1)
    except (TypeError, ValueError):
        raise DomainError(f"{key}: not numbers") from None
    return np.broadcast_to(array, (size,)).copy()
