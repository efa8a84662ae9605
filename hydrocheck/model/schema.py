"""JSON Schema (2020-12) of the truck file, from the `Spec`s: for editors that complete and check.

It says what single values look like. What must hold between them (names, order, either-or) only
the reader knows.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from hydrocheck.model.fields import BOUND_WORDS, Spec, specs
from hydrocheck.model.needs import NeedsTables
from hydrocheck.model.reader import LONGEST_NAME, MOST_PARTS, SCHEMA
from hydrocheck.model.readings import LONGEST_LINE, ReadingsFile
from hydrocheck.model.readings import SCHEMA as READINGS_SCHEMA
from hydrocheck.model.truck import Truck
from hydrocheck.units import KINDS, accepted

DIALECT = "https://json-schema.org/draft/2020-12/schema"

Node = dict[str, Any]


def schema() -> Node:
    """The JSON Schema of a truck file, as plain tables and lists."""
    return _file(Truck, SCHEMA, "hydrocheck truck file")


def readings_schema() -> Node:
    """The JSON Schema of a readings file, as plain tables and lists."""
    made = _file(ReadingsFile, READINGS_SCHEMA, "hydrocheck readings file")
    line = {
        "type": "string",
        "maxLength": LONGEST_LINE,
        "description": "WHAT = VALUE @ CONDITION, CONDITION",
    }
    made["properties"]["reading"]["anyOf"][0]["items"] = {
        "anyOf": [made["properties"]["reading"]["anyOf"][0]["items"], line]
    }
    return made


def needs_schema() -> Node:
    """The JSON Schema of a needs file, as plain tables and lists."""
    return _file(NeedsTables, SCHEMA, "hydrocheck needs file")


def _file(cls: type, version: int, title: str) -> Node:
    definitions: dict[str, Node] = {}
    root = _table(cls, definitions, named=False)
    root["properties"] = {
        "schema": {"const": version, "description": "version of this format"},
        **root["properties"],
    }
    root["required"] = ["schema", *root["required"]]
    return {
        "$schema": DIALECT,
        "title": title,
        **root,
        "$defs": dict(sorted(definitions.items())),
    }


def _table(cls: type, definitions: dict[str, Node], named: bool) -> Node:
    """A table of a class; a named table has its name as its key, not inside."""
    attributes = {a: s for a, s in specs(cls).items() if not (named and a == "name")}
    doc = (cls.__doc__ or "").splitlines()
    return {
        "type": "object",
        "description": doc[0] if doc else "",
        "properties": {a: _node(spec, definitions) for a, spec in attributes.items()},
        "required": [a for a, spec in attributes.items() if spec.required],
        "additionalProperties": False,
    }


def _node(spec: Spec, definitions: dict[str, Node]) -> Node:
    node = {"description": _description(spec), **_FORMS[spec.form](spec, definitions)}
    if spec.default is not None:
        words = {"true": True, "false": False}
        default: Any = words.get(spec.default, spec.default)
        node["default"] = int(spec.default) if spec.form == "count" else default
    return node


def _description(spec: Spec) -> str:
    parts = [spec.about]
    if spec.kind:
        units = ", ".join(accepted(spec.kind)) or "none: a plain number"
        parts.append(f"a {KINDS[spec.kind].title}; units: {units}")
    if BOUND_WORDS[spec.bounds]:
        parts.append(BOUND_WORDS[spec.bounds])
    if spec.refers_to:
        parts.append(f"the name of a {' or '.join(spec.refers_to)}")
    return "; ".join(parts)


def _value(kind: str) -> Node:
    """A text with a unit, or where the kind takes one a plain number."""
    return {"type": ["string", "number"] if KINDS[kind].plain else "string"}


def _array(items: Node, **more: Any) -> Node:
    return {"type": "array", "items": items, "maxItems": MOST_PARTS, **more}


def _text(spec: Spec, _: dict[str, Node]) -> Node:
    least = {"minLength": 1} if spec.required else {}
    return {"type": "string", **least, "maxLength": LONGEST_NAME}


def _pairs(spec: Spec, _: dict[str, Node]) -> Node:
    pair = {"prefixItems": [_value(kind) for kind in spec.kinds], "minItems": 2, "maxItems": 2}
    return _array({"type": "array", **pair})


def _reference(spec: Spec, definitions: dict[str, Node]) -> Node:
    """A reference to the definition of the spec's class, made on the way."""
    cls = spec.table
    assert cls is not None
    name = cls.__name__
    if name not in definitions:
        definitions[name] = {}  # holds the place while its own parts are made
        definitions[name] = _table(cls, definitions, named=spec.form == "named tables")
    return {"$ref": f"#/$defs/{name}"}


def _tables(spec: Spec, definitions: dict[str, Node]) -> Node:
    one = _reference(spec, definitions)
    return {"anyOf": [_array(one), one]}  # a single one may be a plain table


_FORMS: dict[str, Callable[[Spec, dict[str, Node]], Node]] = {
    "quantity": lambda spec, _: _value(spec.kind),
    "band": lambda spec, _: _array(_value(spec.kind), minItems=2) | {"maxItems": 2},
    "quantities": lambda spec, _: _array(_value(spec.kind)),
    "pairs": _pairs,
    "text": _text,
    "name": _text,
    "names": lambda spec, _: _array({"type": "string", "maxLength": LONGEST_NAME}),
    "choice": lambda spec, _: {"enum": list(spec.options)},
    "word or quantity": lambda spec, _: {
        "anyOf": [{"enum": list(spec.options)}, _value(spec.kind)]
    },
    "flag": lambda spec, _: {"type": "boolean"},
    "count": lambda spec, _: {"type": "integer", "minimum": 1, "maximum": 100},
    "table": _reference,
    "tables": _tables,
    "named tables": lambda spec, definitions: {
        "type": "object",
        "additionalProperties": _reference(spec, definitions),
        "maxProperties": MOST_PARTS,
    },
}
