"""The text for a new truck file: readable as written, and right once its comments are filled in."""

from __future__ import annotations

import itertools
import re
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrocheck.errors import DomainError, TruckFileError
from hydrocheck.model import truck_from_text
from hydrocheck.model.defaults import USUAL, defaults
from hydrocheck.model.fields import specs
from hydrocheck.model.template import Choices, Feeder, Liquid, PumpType, starter
from hydrocheck.model.truck import Truck

CHOICES = [
    Choices(pump=pump, feeder=feeder, liquid=liquid)
    for pump, feeder, liquid in itertools.product(
        get_args(PumpType), get_args(Feeder), get_args(Liquid)
    )
]
OFF = re.compile(r"# ((?:\[|[a-z_]+ = ).*)")


@pytest.mark.parametrize("choices", CHOICES, ids=str)
def test_it_reads_as_written(choices: Choices) -> None:
    text = starter(choices)
    truck = truck_from_text(text)
    assert truck.pump[0].type == choices.pump
    assert truck.function[0].name == choices.feeder
    liquid = truck.function_named("liquid")
    wanted = {"hydraulic": (True, "hydraulic"), "electric": (True, "electric")}
    assert (liquid.fitted, liquid.drive) == wanted.get(choices.liquid, (False, "hydraulic"))
    assert not truck.tolerances
    assert all(len(line) <= 100 for line in text.splitlines())
    assert all(line.isascii() for line in text.splitlines())


@pytest.mark.parametrize("choices", CHOICES, ids=str)
def test_a_comment_without_its_value_is_an_error_on_its_line(choices: Choices) -> None:
    lines = starter(choices).splitlines()
    for at, line in enumerate(lines):
        match = OFF.match(line)
        if not match or match[1].startswith("[") or "?" not in match[1]:
            continue
        if (section := section_of(lines, at)).startswith("#"):
            continue  # its header is off, too
        text = "\n".join([*lines[:at], match[1], *lines[at + 1 :]])
        # A free text takes a question mark.
        if re.match(r"(about|material|name|standard) =", match[1]):
            truck_from_text(text)
            continue
        with pytest.raises(TruckFileError) as caught:
            truck_from_text(text)
        key = match[1].split(" = ")[0]
        assert f"line {at + 1}: " in str(caught.value), (section, line)
        assert f"{key}: " in str(caught.value)


def section_of(lines: list[str], at: int) -> str:
    """The header above a line, be it on or off."""
    return next(line for line in reversed(lines[:at]) if re.match(r"(# )?\[", line))


def test_every_section_can_be_filled_in() -> None:
    # The unit of each example is right: with a number in it, no single value is refused.
    lines = starter().splitlines()
    filled = []
    for line in lines:
        match = OFF.match(line)
        text = match[1] if match else line
        text = text.replace("[[oil.point]]", "[[oil.unused]]")
        filled.append(re.sub(r'"\? ?([^"]*)"', r'"1 \1"', text).replace('"1 "', '"1"'))
    with pytest.raises(TruckFileError) as caught:
        truck_from_text("\n".join(filled))
    # What is left is what one truck cannot have at once, and names still to be chosen.
    bad = re.compile(r" takes |unknown|no number|must be above|must not be|here fits a")
    wrong = [one for one in caught.value.lines if bad.search(one) and "oil.unused" not in one]
    assert wrong == []
    assert len(caught.value.lines) > 10


@given(st.text(max_size=210))
def test_any_name_is_written_or_refused(name: str) -> None:
    try:
        text = starter(Choices(name=name))
    except DomainError as error:
        assert "name" in str(error)  # noqa: PT017 - either outcome is right
    else:
        assert truck_from_text(text).name == name


def test_every_attribute_of_the_truck_file_is_explained_where_it_fits() -> None:
    texts = "".join(starter(choices) for choices in CHOICES)
    assert "shares" not in texts  # no choice leads to a gear divider
    for attribute, spec in specs(Truck).items():
        assert attribute in texts
        for inner, one in specs(spec.table).items() if spec.table else ():
            named = spec.form == "named tables" and inner == "name"
            if not named and inner != "shares" and not one.fault:
                assert re.search(rf"\b{inner} = |\b{attribute}\.[a-zA-Z.]*{inner}\b", texts), inner
                assert one.about.split()[0] in texts


# --- defaults ---------------------------------------------------------------------------------


def test_each_default_has_its_meaning_and_source() -> None:
    found = defaults()
    assert len({one.key for one in found}) == len(found)
    for one in found:
        assert one.about
        assert one.source
        if one.si is not None:
            assert one.source != USUAL, f"{one.key} needs a source"


def test_the_defaults_are_those_that_a_truck_gets() -> None:
    truck = truck_from_text('schema = 1\n[truck]\nname = "x"\n')
    values = {one.key: one for one in defaults()}
    assert truck.oil.density == values["oil.density"].si == 870.0
    assert values["oil.density"].value == "870 kg/m3"
    assert truck.limits.suction_velocity == pytest.approx(4 * 0.3048)  # ft, exact by definition
    assert values["function.loop"].value == "open"
    assert values["lines.*.roughness"].si == pytest.approx(1e-5)
    assert set(truck.defaults_used) <= set(values)


def test_a_default_written_into_the_file_changes_nothing() -> None:
    plain = truck_from_text('schema = 1\n[truck]\nname = "x"\n')
    for one in defaults():
        table, _, key = one.key.rpartition(".")
        if table not in ("oil", "ambient", "limits", "engine.drive", "speed_following"):
            continue
        text = f'schema = 1\n[truck]\nname = "x"\n[{table}]\n{key} = "{one.value}"\n'
        given = truck_from_text(text)
        assert one.key not in given.defaults_used
        assert getattr(given, table.split(".")[0]) == getattr(plain, table.split(".")[0])
