"""Docstrings of the formulas: known units, parameters, a source, examples that are true."""

from __future__ import annotations

import ast
import doctest
import importlib
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import hydrocheck

PACKAGE = Path(hydrocheck.__file__).parent

# One spelling for each unit. In a docstring, square brackets hold a unit and nothing else.
UNITS = frozenset(
    {
        "1", "1/K", "1/m", "A", "H", "Hz", "J/(kg K)", "K", "N", "N m", "N m s", "N m s2", "N/m",
        "Pa", "Pa s", "Pa s/m3", "V", "W", "W/(m2 K)", "W/K", "kg", "kg/m", "kg/m2", "kg/m3",
        "kg/rad", "kg/s", "m", "m/s", "m2", "m2/s", "m3", "m3/(s Pa)", "m3/(s Pa^0.5)", "m3/kg",
        "m3/m", "m3/rad", "m3/s", "ohm", "rad", "rad/s", "s", "s/m",
    }
)  # fmt: skip

# Where a formula comes from: a title or standard with a year or number, or an honest word.
SOURCE = re.compile(
    r"\bsource|from memory|common practice|\b(?:19|20)\d\d\b|\bISO \d|\bASTM ", re.I
)

# Modules of physics that hold no formula, beside the private ones.
HELPERS = {"hydrocheck.physics", "hydrocheck.physics.arrays"}

DOCTEST = re.compile(r"^[ \t]*>>>.*(?:\n(?![ \t]*$).*)*", re.MULTILINE)


def modules(layer: str) -> list[str]:
    """Dotted names of a layer's modules; empty while it is not written."""
    folder = PACKAGE / layer
    names = []
    for path in sorted(folder.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        names.append(".".join(parts[:-1] if parts[-1] == "__init__" else parts))
    return names


def source_of(module: str) -> str:
    base = PACKAGE.parent / Path(*module.split("."))
    path = base / "__init__.py" if base.is_dir() else base.with_suffix(".py")
    return path.read_text(encoding="utf-8")


def public_functions(source: str) -> Iterator[ast.FunctionDef]:
    for node in ast.parse(source).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node


def prose(docstring: str) -> str:
    """The docstring without its examples, whose brackets are Python's."""
    return DOCTEST.sub("", docstring)


def unit_faults(source: str) -> list[str]:
    """Public functions without a docstring, or with brackets that hold no unit of the list."""
    faults = []
    for function in public_functions(source):
        doc = ast.get_docstring(function)
        if not doc:
            faults.append(f"{function.name}: no docstring")
            continue
        unknown = [u for u in re.findall(r"\[([^\]]*)\]", prose(doc)) if u not in UNITS]
        faults += [f"{function.name}: unit [{unit}]" for unit in unknown]
    return faults


def formula_faults(source: str) -> list[str]:
    """Public formulas that lack a summary line, a parameter, a unit or a source."""
    faults = []
    for function in public_functions(source):
        doc = ast.get_docstring(function) or ""
        if not doc.split("\n")[0].rstrip().endswith("."):
            faults.append(f"{function.name}: the first line is no sentence")
        arguments = function.args
        for argument in [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]:
            if not re.search(rf"\b{re.escape(argument.arg)}\b", prose(doc)):
                faults.append(f"{function.name}: parameter {argument.arg} is not explained")
        if not any(f"[{unit}]" in prose(doc) for unit in UNITS):
            faults.append(f"{function.name}: no unit")
        if not SOURCE.search(doc):
            faults.append(f"{function.name}: no source")
    return faults


@pytest.mark.parametrize("module", [*modules("physics"), *modules("solver")])
def test_units_in_docstrings(module: str) -> None:
    assert unit_faults(source_of(module)) == []


@pytest.mark.parametrize(
    "module", [m for m in modules("physics") if m not in HELPERS and "._" not in m]
)
def test_formulas_are_explained(module: str) -> None:
    assert formula_faults(source_of(module)) == []


@pytest.mark.parametrize("module", modules("physics"))
def test_examples_in_docstrings_are_true(module: str) -> None:
    failed, _ = doctest.testmod(importlib.import_module(module))
    assert failed == 0


def test_physics_has_examples() -> None:
    found = doctest.DocTestFinder()
    tests = [t for m in modules("physics") for t in found.find(importlib.import_module(m))]
    assert sum(bool(t.examples) for t in tests) > 10


# --- the checkers on bad source ---------------------------------------------------------------

GOOD = '''
def flow(displacement, speed):
    """Flow of a pump.

    displacement: [m3/rad]
    speed: [rad/s]
    returns: [m3/s]

    Source: from memory.

    >>> [flow(1.0, 2.0)][0]
    2.0
    """
    return displacement * speed

def _private(x):
    return x[0]
'''


def test_checkers_pass_good_source() -> None:
    assert unit_faults(GOOD) == []
    assert formula_faults(GOOD) == []


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("[m3/rad]", "[cc/rev]", "flow: unit [cc/rev]"),
        ("[m3/rad]", "[m^3/rad]", "flow: unit [m^3/rad]"),
        ("[m3/rad]", "[]", "flow: unit []"),
        ("of a pump.", "of a pump", "flow: the first line is no sentence"),
        ("    speed: [rad/s]\n", "", "flow: parameter speed is not explained"),
        ("Source: from memory.", "", "flow: no source"),
        ("    2.0\n", "    2.0\n\n    [x]\n", "flow: unit [x]"),
    ],
)
def test_checkers_find(old: str, new: str, fault: str) -> None:
    assert unit_faults(GOOD.replace(old, new)) + formula_faults(GOOD.replace(old, new)) == [fault]


def test_a_function_without_a_docstring_is_found() -> None:
    assert unit_faults("def f(x):\n    return x\n") == ["f: no docstring"]


def test_a_false_example_is_found() -> None:
    test = doctest.DocTestParser().get_doctest(">>> 1 + 1\n3\n", {}, "false", None, 0)
    runner = doctest.DocTestRunner(verbose=False)
    assert runner.run(test, out=lambda text: None).failed == 1
