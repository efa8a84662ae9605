"""Every default of the truck file, from the `Spec`s: key, value, meaning, source.

That a part is sound where the file does not say otherwise is no default (see `fields.fault`).
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from hydrocheck.model.fields import Spec, specs
from hydrocheck.model.truck import Truck

USUAL = "the usual case"


@dataclass(frozen=True)
class Default:
    """One default; `si` is its value in the SI unit of `kind`, None for a word or a flag."""

    key: str
    value: str
    kind: str
    si: float | None
    about: str
    source: str


def defaults(cls: type = Truck) -> tuple[Default, ...]:
    """All defaults of a file's class, in its order."""
    found: list[Default] = []
    _collect(cls, "", found)
    return tuple(found)


def _collect(cls: type, prefix: str, found: list[Default]) -> None:
    made = {f.name: f.default for f in dataclasses.fields(cls)}
    for attribute, spec in specs(cls).items():
        key = f"{prefix}.{attribute}" if prefix else attribute
        if spec.default is not None and not spec.fault:
            found.append(_default(key, spec, made[attribute]))
        if spec.table is not None:
            # The key of a named table is free: it stands as a star.
            _collect(spec.table, f"{key}.*" if spec.form == "named tables" else key, found)


def _default(key: str, spec: Spec, value: object) -> Default:
    si = value if spec.form == "quantity" and isinstance(value, float) else None
    value_text = spec.default or ""
    return Default(key, value_text, spec.kind, si, spec.about, spec.source or USUAL)
