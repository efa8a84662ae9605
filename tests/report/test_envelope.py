"""The JSON envelope: its keys, its order, and what numpy and nan become."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass
from enum import Enum

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck.report.envelope import column, dumps, envelope, plain, quantity


class Verdict(Enum):
    FAIL = "fail"


@dataclass(frozen=True)
class Point:
    speed: float
    verdict: Verdict


def test_envelope_keys_and_order() -> None:
    document = envelope("check", {"b": 1, "a": 2}, truck="t", defaults_used=["x"])
    assert list(document) == ["schema", "command", "truck", "defaults_used", "result"]
    assert document["schema"] == 1
    assert dumps(document).index('"b"') < dumps(document).index('"a"')


def test_quantity_and_column() -> None:
    shown = quantity(np.float64(0.5), "m3/s", "28.3 gal/min")
    assert shown == {"si": 0.5, "unit": "m3/s", "shown": "28.3 gal/min"}
    assert type(shown["si"]) is float
    assert quantity(float("inf"), "Pa", "-")["si"] is None
    assert column(np.array([1.0, np.nan]), "Pa") == {"unit": "Pa", "si": [1.0, None]}
    assert column([[1], [2]], "1") == {"unit": "1", "si": [[1], [2]]}


def test_wrong_shapes_are_refused() -> None:
    with pytest.raises(TypeError, match="one number"):
        quantity(np.array([1.0, 2.0]), "Pa", "")
    with pytest.raises(TypeError, match="one number"):
        quantity(True, "Pa", "")
    with pytest.raises(TypeError, match="sequence"):
        column(np.float64(1.0), "Pa")


def test_plain_handles_dataclasses_enums_and_numpy() -> None:
    value = {"p": Point(float("nan"), Verdict.FAIL), "n": np.int64(3), "b": np.bool_(True)}
    assert plain(value) == {"p": {"speed": None, "verdict": "fail"}, "n": 3, "b": True}
    assert plain(np.float64("inf")) is None
    assert plain(np.array(2.0)) == 2.0


@pytest.mark.parametrize("value", [object(), {1: 2}, {1, 2}, b"x", Point])
def test_what_has_no_form_is_refused(value: object) -> None:
    with pytest.raises(TypeError):
        plain(value)


scalars = st.none() | st.booleans() | st.integers() | st.text() | st.floats(allow_nan=False)


@given(st.recursive(scalars, lambda x: st.lists(x) | st.dictionaries(st.text(), x)))
def test_round_trip_through_json(value: object) -> None:
    text = dumps(value)
    assert text.isascii()
    assert dumps(json.loads(text)) == text


def test_numpy_is_not_imported_for_it() -> None:
    code = (
        "import sys; from hydrocheck.report.envelope import dumps; dumps({'a': [1.0, None]});"
        "sys.exit('numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
