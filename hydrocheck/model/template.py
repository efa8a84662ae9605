"""A truck file to start from, from the `Spec`s: readable as it is, everything optional a comment.

A value to be found out stands as a question mark with its unit, so that a line whose comment sign
was taken away without a value is an error, never a guess.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from textwrap import wrap
from typing import Any, Literal

from hydrocheck.errors import DomainError
from hydrocheck.model.circuit import Function
from hydrocheck.model.fields import Spec, specs
from hydrocheck.model.reader import LONGEST_NAME, SCHEMA
from hydrocheck.model.truck import Truck
from hydrocheck.units import KINDS

PumpType = Literal["load sensing", "fixed", "constant pressure"]
Feeder = Literal["auger", "conveyor"]
Liquid = Literal["hydraulic", "electric", "none"]

OMIT = "omit"

_COMMENT_AT = 44
_WIDTH = 100
_HEAD = """\
# A truck file for hydrocheck. `hydrocheck check FILE` says what it finds and what it needs to know.
# Take away the # before a line and put your value in place of the question mark, with its unit:
# "2600 psi", "180 bar", "5.5 in^3/rev +/- 3 %", "1-1/4 in", "110 degF". What you leave out is never
# guessed: a check that needs it says so. `hydrocheck defaults` lists the few defaults.

"""


@dataclass(frozen=True)
class Choices:
    """What kind of truck the file is started for."""

    name: str = "my truck"
    pump: PumpType = "load sensing"
    feeder: Feeder = "auger"
    liquid: Liquid = "hydraulic"


def starter(choices: Choices | None = None) -> str:
    """The text of a new truck file. Raises DomainError for a name that no truck file takes."""
    choices = choices or Choices()
    name = choices.name
    if not name.strip() or not name.isprintable() or len(name) > LONGEST_NAME:
        raise DomainError(f"the truck's name: one line of 1 to {LONGEST_NAME} characters fits")
    writer = _Writer()
    writer.table(Truck, _truck(choices), ())
    return f"{_HEAD}schema = {SCHEMA}\n" + "\n".join(writer.lines) + "\n"


def _truck(choices: Choices) -> dict[str, Any]:
    """What the file gives: TOML texts, tables that are there, arrays of them. The rest is off.

    Under `OMIT` stand attributes that mean nothing for this truck.
    """
    feeder = choices.feeder
    return {
        "truck": {"name": _quoted(choices.name)},
        "engine": {"drive": {}},
        "oil": {},
        "ambient": {},
        "pump": [_pump(choices)],
        "bank": [_bank(choices)],
        "function": [
            _turning(feeder, "feeder", "disc_radius"),
            _turning("spinner", "spinner", "load_empty"),
            _liquid(choices),
            _function("plow", "cylinder", *_TURNED) | {"cylinder": {}},
        ],
        "relief": [{"name": '"main relief"', "at": '"pump"', "of": '"pump"'}],
        "lines": {
            "suction": {"of": '"pump"', OMIT: ("role", "filter")},
            "pressure": {"of": '"pump"', OMIT: ("role", "filter", "head")},
            "return": {OMIT: ("role", "of", "head")},
            f"{feeder}_supply": _work_line("work supply", feeder),
            f"{feeder}_return": _work_line("work return", feeder),
        },
        "reservoir": {},
        "spreading": {OMIT: ("conveyor" if feeder == "auger" else "auger",)},
        "speed_following": {},
        "scenario": [{"name": '"spreading"', "run": {}}],
    }


_TURNED = ("motor", "motors_in", "disc", "liquid_pump", "loop", "trims", "limits")
"""What means nothing for a cylinder."""


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def _pump(choices: Choices) -> dict[str, Any]:
    idle = {
        "load sensing": (),
        "fixed": ("margin", "compensator", "standby", "torque_limit"),
        "constant pressure": ("margin", "standby"),
    }[choices.pump]
    given = {"name": '"pump"', "type": _quoted(choices.pump), "feeds": '["valves"]'}
    return given | {OMIT: ("drive", *idle)}


def _bank(choices: Choices) -> dict[str, Any]:
    given = {"name": '"valves"', "type": '"parallel"'}
    if choices.pump != "fixed":
        return given | {OMIT: ("neutral_flow", "neutral_drop", "order", "shares")}
    turning = [choices.feeder, "spinner", *(["liquid"] if choices.liquid == "hydraulic" else [])]
    order = ", ".join(_quoted(name) for name in [*turning, "plow"])
    return given | {"type": '"open centre"', "order": f"[{order}]", OMIT: ("shares",)}


def _function(name: str, kind: str, *omit: str) -> dict[str, Any]:
    given = {"name": _quoted(name), "kind": _quoted(kind), "bank": '"valves"', "section": {}}
    return given | {"trims": {}, "limits": {}, OMIT: omit}


def _turning(name: str, kind: str, *omit_of_motor: str) -> dict[str, Any]:
    only = {"spinner": ("disc",), "liquid": ("liquid_pump",)}.get(kind, ())
    parts = [part for part in ("cylinder", "disc", "liquid_pump") if part not in only]
    return _function(name, kind, *parts) | {"motor": [{OMIT: omit_of_motor}]}


def _liquid(choices: Choices) -> dict[str, Any]:
    if choices.liquid == "hydraulic":
        return _turning("liquid", "liquid", "load_empty", "disc_radius")
    no_oil = '"electric"' if choices.liquid == "electric" else None
    keep = ("name", "kind", "fitted", "drive", *(("liquid_pump",) if no_oil else ()))
    parts = [a for a in specs(Function) if a not in keep]
    given = {"drive": no_oil} if no_oil else {"fitted": "false", OMIT: (*parts, "drive")}
    return {"name": '"liquid"', "kind": '"liquid"', OMIT: tuple(parts)} | given


def _work_line(role: str, of: str) -> dict[str, Any]:
    return {"role": _quoted(role), "of": _quoted(of), OMIT: ("filter", "head")}


@dataclass
class _Writer:
    """Lines of TOML, each attribute explained where it comes first."""

    lines: list[str] = field(default_factory=list)
    explained: set[tuple[type, str]] = field(default_factory=set)

    def table(
        self,
        cls: type,
        given: Mapping[str, Any],
        path: tuple[str, ...],
        *,
        on: bool = True,
        named: bool = False,
    ) -> None:
        """The attributes of one table, then its sub-tables; a comment where it is not `on`."""
        omit = (*given.get(OMIT, ()), *(["name"] if named else []))
        known = sorted(specs(cls).items(), key=lambda item: item[0] != "truck")  # that first
        attributes = {a: s for a, s in known if a not in omit and not s.fault}
        for attribute, spec in attributes.items():
            if spec.table is None:
                self._attribute(cls, attribute, spec, given.get(attribute), on)
        for attribute, spec in attributes.items():
            if spec.table is not None:
                self._inner(spec, given.get(attribute), (*path, attribute), on)

    def _inner(self, spec: Spec, given: Any, path: tuple[str, ...], on: bool) -> None:
        """A table, or tables, inside another."""
        assert spec.table is not None
        if spec.form == "named tables":
            for name, inner in (given or {"NAME": None}).items():
                is_on = on and inner is not None
                self._header(f"[{'.'.join((*path, name))}]", spec, is_on)
                self.table(spec.table, inner or {}, (*path, name), on=is_on, named=True)
            return
        for item in given if isinstance(given, list) else [given]:
            is_on = on and item is not None
            name = ".".join(path)
            self._header(f"[[{name}]]" if spec.form == "tables" else f"[{name}]", spec, is_on)
            self.table(spec.table, item or {}, path, on=is_on)

    def _header(self, header: str, spec: Spec, on: bool) -> None:
        self.lines.append("")
        self._line(header if on else f"# {header}", spec.about)

    def _attribute(self, cls: type, attribute: str, spec: Spec, given: Any, on: bool) -> None:
        text = f"{attribute} = {given or _example(spec)}"
        if given is None or not on:
            text = f"# {text}"
        first = (cls, attribute) not in self.explained
        self.explained.add((cls, attribute))
        self._line(text, _meaning(spec) if first else "")

    def _line(self, text: str, comment: str) -> None:
        """A line with its comment at one column, in more lines where it is long."""
        notes = wrap(comment, _WIDTH - _COMMENT_AT - 2, break_on_hyphens=False)
        if not notes or len(text) >= _COMMENT_AT:
            self.lines.append(text)
        else:
            self.lines.append(f"{text:<{_COMMENT_AT}}# {notes.pop(0)}")
        self.lines += [f"{'':<{_COMMENT_AT}}# {note}" for note in notes]


def _example(spec: Spec) -> str:
    """What stands to the right of the equals sign in a comment."""
    if spec.default is not None:
        return spec.default if spec.form in ("flag", "count") else f'"{spec.default}"'
    if spec.form == "pairs":
        pair = ", ".join(_unknown(kind) for kind in spec.kinds)
        return f"[[{pair}], [{pair}]]"
    unknown = _unknown(spec.kind) if spec.kind else '"?"'
    return {
        "band": f"[{unknown}, {unknown}]",
        "quantities": f"[{unknown}]",
        "names": '["?"]',
        "choice": f'"{spec.options[0]}"' if spec.options else '"?"',
        "word or quantity": f'"{spec.options[0]}"' if spec.options else unknown,
        "flag": "true",
    }.get(spec.form, unknown)


def _unknown(kind: str) -> str:
    unit = KINDS[kind].us.unit
    return '"?"' if unit == "1" else f'"? {unit}"'


def _meaning(spec: Spec) -> str:
    parts = [spec.about]
    if spec.options:
        parts.append(", ".join(spec.options))
    if spec.form == "word or quantity":
        parts[-1] += f" or a {KINDS[spec.kind].title}"
    if spec.required:
        parts.append("required")
    if spec.default is not None:
        parts.append("default")
    return "; ".join(parts)
