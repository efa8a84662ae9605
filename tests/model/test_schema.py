"""The JSON Schema: valid in shape, taken by the demo trucks, no stricter than the reader.

The small validator below knows the keywords that the schema uses and refuses any other.
"""

from __future__ import annotations

import json
import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck import demo
from hydrocheck.errors import TruckFileError
from hydrocheck.model import truck_from_text
from hydrocheck.model.fields import Spec, specs
from hydrocheck.model.schema import DIALECT, readings_schema, schema
from hydrocheck.model.template import starter
from hydrocheck.model.truck import Truck
from hydrocheck.units import accepted

SCHEMA = schema()
DEFINITIONS = {**readings_schema()["$defs"], **SCHEMA["$defs"]}
TYPES: dict[str, tuple[type, ...]] = {
    "object": (dict,),
    "array": (list,),
    "string": (str,),
    "boolean": (bool,),
    "integer": (int,),
    "number": (int, float),
}
ANNOTATIONS = {"$schema", "$defs", "title", "description", "default"}


def faults(node: dict[str, Any], value: Any, path: str = "$") -> list[str]:
    """Where a value breaks a schema: JSON Schema 2020-12 as far as ours goes."""
    found: list[str] = []
    for keyword, rule in node.items():
        if keyword not in ANNOTATIONS:
            found += [f"{path}: {fault}" for fault in RULES[keyword](rule, value, node, path)]
    return found


def is_type(names: str | list[str], value: Any) -> bool:
    wanted = [names] if isinstance(names, str) else names
    as_bool = isinstance(value, bool)
    return any(isinstance(value, TYPES[n]) and as_bool == (n == "boolean") for n in wanted)


def failing(bad: bool, text: str) -> list[str]:
    return [text] if bad else []


def array(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def table(value: Any) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


RULES: dict[str, Any] = {
    "type": lambda rule, v, n, p: failing(not is_type(rule, v), f"is no {rule}"),
    "const": lambda rule, v, n, p: failing(v != rule or isinstance(v, bool), f"is not {rule}"),
    "enum": lambda rule, v, n, p: failing(v not in rule, f"is not among {rule}"),
    "minLength": lambda rule, v, n, p: failing(isinstance(v, str) and len(v) < rule, "short"),
    "maxLength": lambda rule, v, n, p: failing(isinstance(v, str) and len(v) > rule, "long"),
    "minimum": lambda rule, v, n, p: failing(is_type("number", v) and v < rule, "small"),
    "maximum": lambda rule, v, n, p: failing(is_type("number", v) and v > rule, "large"),
    "minItems": lambda rule, v, n, p: failing(isinstance(v, list) and len(v) < rule, "few"),
    "maxItems": lambda rule, v, n, p: failing(len(array(v)) > rule, "many"),
    "maxProperties": lambda rule, v, n, p: failing(len(table(v)) > rule, "many"),
    "required": lambda rule, v, n, p: [
        f"{key} is missing" for key in rule if isinstance(v, dict) and key not in v
    ],
    "items": lambda rule, v, n, p: [
        fault for i, item in enumerate(array(v)) for fault in faults(rule, item, f"{p}[{i}]")
    ],
    "prefixItems": lambda rule, v, n, p: [
        fault
        for i, (one, item) in enumerate(zip(rule, array(v), strict=False))
        for fault in faults(one, item, f"{p}[{i}]")
    ],
    "properties": lambda rule, v, n, p: [
        fault for k in table(v) if k in rule for fault in faults(rule[k], v[k], f"{p}.{k}")
    ],
    "additionalProperties": lambda rule, v, n, p: [
        fault
        for k in table(v)
        if k not in n.get("properties", {})
        for fault in ([f"{k} is unknown"] if rule is False else faults(rule, v[k], f"{p}.{k}"))
    ],
    "anyOf": lambda rule, v, n, p: failing(all(faults(one, v, p) for one in rule), "fits none"),
    "$ref": lambda rule, v, n, p: faults(DEFINITIONS[rule.rpartition("/")[2]], v, p),
}


def nodes(value: Any) -> list[dict[str, Any]]:
    """Each table of the schema, itself first."""
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else []
    own = [value] if isinstance(value, dict) else []
    return own + [node for part in inner for node in nodes(part)]


def accepts(text: str) -> bool:
    return not faults(SCHEMA, tomllib.loads(text))


def reads(text: str) -> bool:
    try:
        truck_from_text(text)
    except TruckFileError:
        return False
    return True


def test_it_is_json_of_the_2020_12_dialect() -> None:
    assert SCHEMA["$schema"] == DIALECT == "https://json-schema.org/draft/2020-12/schema"
    assert json.loads(json.dumps(SCHEMA, allow_nan=False)) == SCHEMA


def test_each_reference_has_its_definition_and_each_definition_its_use() -> None:
    used = {node["$ref"] for node in nodes(SCHEMA) if isinstance(node.get("$ref"), str)}
    assert used == {f"#/$defs/{name}" for name in SCHEMA["$defs"]}


def test_each_definition_is_closed_and_described() -> None:
    for node in [SCHEMA, *SCHEMA["$defs"].values()]:
        assert node["type"] == "object"
        assert node["additionalProperties"] is False
        assert set(node["required"]) <= set(node["properties"])
        assert node["description"]
        for key, one in node["properties"].items():
            assert one["description"].strip(), key
            if "default" in one:
                assert faults(one, one["default"]) == [], key


def test_the_validator_knows_every_keyword() -> None:
    for node in [SCHEMA, *SCHEMA["$defs"].values()]:
        for one in node["properties"].values():
            assert set(one) <= set(RULES) | ANNOTATIONS


def all_specs(cls: type) -> list[Spec]:
    found = []
    for spec in specs(cls).values():
        found.append(spec)
        if spec.table is not None:
            found += all_specs(spec.table)
    return found


def test_units_options_and_defaults_of_each_attribute_are_told() -> None:
    text = json.dumps(SCHEMA)
    for spec in all_specs(Truck):
        if spec.kind:
            assert ", ".join(accepted(spec.kind)) in text.replace('\\"', '"')
        if spec.options:
            assert json.dumps(list(spec.options)) in text
    pump = SCHEMA["$defs"]["Pump"]
    assert pump["required"] == ["name", "type"]
    assert pump["properties"]["rated_viscosity"]["default"] == "36 cSt"
    assert "above zero" in pump["properties"]["displacement"]["description"]
    assert "in3/rev" in pump["properties"]["displacement"]["description"]
    assert "the name of a bank" in pump["properties"]["feeds"]["description"]
    assert "name" not in SCHEMA["$defs"]["Line"]["properties"]


@pytest.mark.parametrize("name", demo.names())
def test_the_demo_trucks_fit(name: str) -> None:
    assert faults(SCHEMA, tomllib.loads(demo.text(name))) == []


def test_a_new_file_fits() -> None:
    assert faults(SCHEMA, tomllib.loads(starter())) == []


HEAD = 'schema = 1\n[truck]\nname = "x"\n'


@pytest.mark.parametrize(
    "text",
    [
        "",
        '[truck]\nname = "x"',
        'schema = 2\n[truck]\nname = "x"',
        "schema = 1",
        "schema = 1\n[truck]",
        "schema = 1\n[[truck]]",
        HEAD + "[engin]",
        HEAD + "[engine]\nidle = 700",
        HEAD + "[engine]\nidle = true",
        HEAD + '[engine]\nworking = ["1 rpm"]',
        HEAD + '[engine]\ntorque_curve = [["1 rpm"]]',
        HEAD + '[[pump]]\nname = "p"',
        HEAD + '[[pump]]\nname = ""\ntype = "fixed"',
        HEAD + '[[pump]]\nname = "p"\ntype = "fixd"',
        HEAD + '[pump]\nname = "p"',
        HEAD + "[spreading]\nlanes = 0",
        HEAD + "[spreading]\nlanes = true",
        HEAD + '[lines.x]\nname = "x"',
        HEAD + "[full_discharge]\nfrom_rest = 1",
        HEAD + "[full_discharge]\nengine = 1200",
        HEAD + '[spreading]\nmaterial = "' + "x" * 201 + '"',
    ],
)
def test_what_the_schema_refuses_the_reader_refuses_too(text: str) -> None:
    assert not accepts(text)
    assert not reads(text)


@pytest.mark.parametrize(
    "text",
    [
        HEAD,
        HEAD + '[pump]\nname = "p"\ntype = "fixed"',
        HEAD + "[engine.drive]\nratio = 1.2",
        HEAD + '[engine.drive]\nratio = "25:1"',
        HEAD + "[limits]\ndrive_duty = 0.7",
        HEAD + '[full_discharge]\nengine = "1200 rpm"',
        HEAD + '[lines.x]\nrole = "return"',
    ],
)
def test_what_the_reader_takes_the_schema_takes_too(text: str) -> None:
    assert accepts(text)
    assert reads(text)


@given(st.data())
def test_the_schema_never_refuses_what_the_reader_takes(data: st.DataObject) -> None:
    lines = demo.text(data.draw(st.sampled_from(demo.names()))).splitlines()
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(lines) - 1))
        if data.draw(st.booleans()):
            del lines[at]
        else:
            lines[at] = lines[data.draw(st.integers(0, len(lines) - 1))]
    text = "\n".join(lines)
    assert not reads(text) or accepts(text)
