"""The JSON envelope around every command's result, and the values inside it.

Plain functions to plain dicts and lists; numpy values are recognised without importing numpy.
Keys keep the order in which they are given, so that equal results are equal texts.
"""

from __future__ import annotations

import dataclasses
import enum
import json
import math
from collections.abc import Iterable, Mapping

SCHEMA = 1

Json = None | bool | int | float | str | list["Json"] | dict[str, "Json"]


def envelope(
    command: str,
    result: object,
    *,
    truck: str | None = None,
    defaults_used: Iterable[str] = (),
) -> dict[str, Json]:
    """The document of one command run; `defaults_used` names the defaults that took part."""
    return {
        "schema": SCHEMA,
        "command": command,
        "truck": truck,
        "defaults_used": list(defaults_used),
        "result": plain(result),
    }


def quantity(si: object, unit: str, shown: str) -> dict[str, Json]:
    """One value: the number in SI, its SI unit, and the text that people are shown."""
    return {"si": _number(plain(si)), "unit": unit, "shown": shown}


def column(si: object, unit: str) -> dict[str, Json]:
    """Many values of one unit; an array of more axes becomes lists in lists."""
    values = plain(si)
    if not isinstance(values, list):
        raise TypeError("a column needs a sequence; use quantity for one value")
    return {"unit": unit, "si": values}


def dumps(document: object) -> str:
    """The JSON text: ASCII, indented, keys in the order given, nan and infinity as null."""
    return json.dumps(plain(document), indent=2, ensure_ascii=True, allow_nan=False)


def plain(value: object) -> Json:
    """`value` as JSON types; raises TypeError for what has no obvious form.

    >>> plain({"a": (1, float("nan")), "b": None})
    {'a': [1, None], 'b': None}
    """
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, enum.Enum):
        return plain(value.value)
    if hasattr(value, "tolist"):  # a numpy scalar or array, also numpy's str and float subclasses
        return plain(value.tolist())
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, int | str):
        return value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = dataclasses.fields(value)
        return {field.name: plain(getattr(value, field.name)) for field in fields}
    if isinstance(value, Mapping):
        return {_key(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    raise TypeError(f"no JSON form for {type(value).__name__}")


def _key(key: object) -> str:
    if not isinstance(key, str):
        raise TypeError(f"a JSON key must be text, not {type(key).__name__}")
    return key


def _number(value: Json) -> int | float | None:
    if value is None or (isinstance(value, int | float) and not isinstance(value, bool)):
        return value
    raise TypeError("a quantity needs one number; use column for many")
