"""The shape of the source: who may import whom, what loads when, and sizes.

Every rule is a checker that takes source text, so that each is also tried on bad source.
"""

from __future__ import annotations

import ast
import io
import json
import re
import subprocess
import sys
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

import hydrocheck

PACKAGE = Path(hydrocheck.__file__).parent
TESTS = Path(__file__).parent
SOURCES = sorted(PACKAGE.rglob("*.py"))
TEST_SOURCES = sorted(TESTS.rglob("*.py"))

# Layer -> the layers of ours that it may import, beside itself.
MAY_IMPORT: dict[str, set[str]] = {
    "errors": set(),
    "units": {"errors"},
    "model": {"errors", "units"},
    "physics": {"errors"},
    "solver": {"errors", "units", "model", "physics"},
    "studies": {"errors", "units", "model", "physics", "solver"},
    "checks": {"errors", "units", "model", "physics", "solver", "studies"},
    "advice": {"errors", "units", "model", "physics", "solver", "studies", "checks"},
    # A report reads results and computes no physics.
    "report": {"errors", "units", "model", "solver", "studies", "checks", "advice"},
    "demo": {"errors", "units", "model"},
    "": set(),  # hydrocheck/__init__.py
}
MAY_IMPORT["cli"] = MAY_IMPORT["__main__"] = {*MAY_IMPORT, "cli"} - {""}

# Layer -> what it may import from outside the standard library.
THIRD_PARTY: dict[str, set[str]] = {
    "units": {"numpy", "pint"},
    "model": {"numpy", "pyarrow"},
    "physics": {"numpy", "fluids"},
    "solver": {"numpy"},
    "studies": {"numpy"},
    "checks": {"numpy"},
    "advice": {"numpy"},
    "report": {"numpy", "matplotlib", "jinja2"},
    "cli": {"numpy", "click"},
}

# Slow to load: only inside the function that needs them.
HEAVY = {"matplotlib", "scipy", "pint", "pydantic", "jinja2", "rich", "fluids", "pyarrow"}

MODULE_LINES = 500
FUNCTION_LINES = 60  # without the docstring: a formula's is long on purpose
PARAMETERS = 8

# "module.function" -> why it may be longer or take more. Keep it short.
LONG_FUNCTIONS: dict[str, str] = {}
MANY_PARAMETERS: dict[str, str] = {}


def module_name(path: Path) -> str:
    parts = ["hydrocheck", *path.relative_to(PACKAGE).with_suffix("").parts]
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def layer_of(module: str) -> str:
    return ([*module.split("."), ""])[1]


def imports(source: str, module: str, is_package: bool) -> Iterator[tuple[str, bool, int]]:
    """(dotted target, whether it runs on import of the module, line) of every import.

    Sees imports inside functions, relative ones, and import_module with a text in it.
    """
    package = module if is_package else module.rpartition(".")[0]

    def visit(node: ast.AST, eager: bool) -> Iterator[tuple[str, bool, int]]:
        if isinstance(node, ast.Import):
            yield from ((name.name, eager, node.lineno) for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                up = package.split(".")[: len(package.split(".")) - node.level + 1]
                base = ".".join([*up, *([base] if base else [])])
            # `from hydrocheck import units` may name a module: report the longest form.
            yield from ((f"{base}.{name.name}", eager, node.lineno) for name in node.names)
        elif isinstance(node, ast.Call):
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            if name in {"import_module", "__import__"} and node.args:
                first = node.args[0]
                if isinstance(first, ast.Constant) and isinstance(first.value, str):
                    yield first.value, eager, node.lineno
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            eager = False
        typing_only = isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        for child in ast.iter_child_nodes(node):
            yield from visit(child, eager and not typing_only)

    yield from visit(ast.parse(source), True)


def import_faults(source: str, module: str, is_package: bool = False) -> list[str]:
    """Imports against the direction, of undeclared outside modules, or heavy at module level."""
    layer = layer_of(module)
    faults = []
    for target, eager, line in imports(source, module, is_package):
        top = target.split(".")[0]
        if top == "hydrocheck":
            aim = layer_of(target)
            if aim in MAY_IMPORT and aim not in {layer, ""} | MAY_IMPORT[layer]:
                faults.append(f"{module}:{line}: {layer or 'the package'} imports {aim}")
        elif top not in sys.stdlib_module_names and top not in THIRD_PARTY.get(layer, set()):
            faults.append(f"{module}:{line}: {layer or 'the package'} imports {top}")
        if eager and top in HEAVY:
            faults.append(f"{module}:{line}: {top} at module level")
    return faults


def size_faults(source: str, module: str) -> list[str]:
    """Modules and functions that are too long, functions with too many parameters."""
    faults = []
    count = len(source.splitlines())
    if count > MODULE_LINES:
        faults.append(f"{module}: {count} lines")
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        name = f"{module}.{node.name}"
        length = (node.end_lineno or node.lineno) - node.lineno + 1
        if ast.get_docstring(node) is not None:
            doc = node.body[0]
            length -= (doc.end_lineno or doc.lineno) - doc.lineno + 1
        if length > FUNCTION_LINES and name not in LONG_FUNCTIONS:
            faults.append(f"{name}: {length} lines")
        arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
        given = [a for a in arguments if a.arg not in {"self", "cls"}]
        # A formula of more quantities says so where ruff wants its reason too.
        excused = "PLR0913" in source.splitlines()[node.lineno - 1] or name in MANY_PARAMETERS
        if len(given) > PARAMETERS and not excused:
            faults.append(f"{name}: {len(given)} parameters")
    return faults


def habit_faults(source: str, module: str) -> list[str]:
    """print, star imports, bare excepts."""
    faults = []
    for node in ast.walk(ast.parse(source)):
        line = getattr(node, "lineno", 0)
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "print":
            faults.append(f"{module}:{line}: print")
        if isinstance(node, ast.ImportFrom) and any(name.name == "*" for name in node.names):
            faults.append(f"{module}:{line}: star import")
        if isinstance(node, ast.ExceptHandler) and node.type is None:
            faults.append(f"{module}:{line}: bare except")
    return faults


IGNORE = re.compile(r"#\s*(?:noqa|type:\s*ignore)\b", re.IGNORECASE)
GOOD_IGNORE = re.compile(
    r"#\s*(?:noqa:\s*[A-Z]+\d+(?:,\s*[A-Z]+\d+)*|type:\s*ignore\[[\w-]+(?:,\s*[\w-]+)*\])"
    r"[\s#(:-]+\w+\s+\w+"
)


def ignore_faults(source: str, module: str) -> list[str]:
    """Comments that silence a checker without naming its code and a reason of two words."""
    faults = []
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT and IGNORE.search(token.string):
            for part in re.split(r"(?=#\s*(?:noqa|type:\s*ignore))", token.string):
                if IGNORE.match(part) and not GOOD_IGNORE.match(part):
                    faults.append(f"{module}:{token.start[0]}: {part}")
    return faults


@pytest.mark.parametrize("path", SOURCES, ids=module_name)
def test_module(path: Path) -> None:
    source, module = path.read_text(encoding="utf-8"), module_name(path)
    assert import_faults(source, module, path.name == "__init__.py") == []
    assert size_faults(source, module) == []
    assert habit_faults(source, module) == []
    assert ignore_faults(source, module) == []


@pytest.mark.parametrize("path", TEST_SOURCES, ids=lambda p: str(p.relative_to(TESTS)))
def test_test_module(path: Path) -> None:
    source, name = path.read_text(encoding="utf-8"), str(path.relative_to(TESTS))
    assert ignore_faults(source, name) == []
    assert len(source.splitlines()) <= MODULE_LINES


def test_every_part_of_the_package_has_its_layer() -> None:
    assert {layer_of(module_name(path)) for path in SOURCES} <= set(MAY_IMPORT)


def test_exceptions_are_still_needed_and_reasoned() -> None:
    known = set()
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                known.add(f"{module_name(path)}.{node.name}")
    for name, reason in (LONG_FUNCTIONS | MANY_PARAMETERS).items():
        assert name in known
        assert len(reason.split()) > 2, name


# --- the checkers on bad source ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("module", "source", "fault"),
    [
        ("hydrocheck.units.a", "from hydrocheck.model import truck", "units imports model"),
        ("hydrocheck.units.a", "def f():\n    import hydrocheck.cli", "units imports cli"),
        ("hydrocheck.physics.a", "from ..units import x", "physics imports units"),
        ("hydrocheck.physics.a", "from .. import units", "physics imports units"),
        ("hydrocheck.physics.a", "from hydrocheck import model", "physics imports model"),
        ("hydrocheck.physics.a", "import scipy.optimize", "physics imports scipy"),
        ("hydrocheck.model.a", "from hydrocheck.physics import oil", "model imports physics"),
        ("hydrocheck.solver.a", "from hydrocheck.checks import x", "solver imports checks"),
        ("hydrocheck.report.a", "from hydrocheck.cli import main", "report imports cli"),
        ("hydrocheck.report.a", "from hydrocheck.physics import oil", "report imports physics"),
        ("hydrocheck.studies.a", "import click", "studies imports click"),
        ("hydrocheck.errors", "from hydrocheck.units import x", "errors imports units"),
        (
            "hydrocheck.model.a",
            "from importlib import import_module\nimport_module('hydrocheck.solver')",
            "model imports solver",
        ),
        ("hydrocheck.physics.a", "import fluids.core", "fluids at module level"),
        ("hydrocheck.units.a", "class A:\n    import pint", "pint at module level"),
        ("hydrocheck.units.a", "try:\n    import pint\nfinally:\n    pass", "pint at module level"),
    ],
)
def test_import_checker_finds(module: str, source: str, fault: str) -> None:
    assert any(text.endswith(fault) for text in import_faults(source, module))


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("hydrocheck.physics.a", "def f():\n    import fluids.fittings"),
        ("hydrocheck.physics.a", "from ..errors import DomainError\nfrom .oil import nu"),
        ("hydrocheck.units.a", "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n import pint"),
        ("hydrocheck.cli.a", "from hydrocheck import __version__, advice\nimport click"),
        ("hydrocheck.report.a", "def f():\n    import matplotlib.pyplot as plt"),
    ],
)
def test_import_checker_passes(module: str, source: str) -> None:
    assert import_faults(source, module) == []


def test_relative_imports_count_from_the_package() -> None:
    assert [t for t, _, _ in imports("from . import a", "hydrocheck.cli", True)] == [
        "hydrocheck.cli.a"
    ]
    assert [t for t, _, _ in imports("from .a import b", "hydrocheck.cli.x", False)] == [
        "hydrocheck.cli.a.b"
    ]


def test_size_checker_finds() -> None:
    long = "def f():\n" + "    x = 1\n" * 60
    assert size_faults(long, "m") == ["m.f: 61 lines"]
    documented = "def f():\n" + '    """A\n' + "    a\n" * 60 + '    """\n    x = 1\n'
    assert size_faults(documented, "m") == []
    assert size_faults("x = 1\n" * 501, "m") == ["m: 501 lines"]
    many = "def f(a, b, c, d, e, *, f, g, h, i): pass"
    assert size_faults(many, "m") == ["m.f: 9 parameters"]
    assert size_faults(f"{many}  # noqa: PLR0913 - nine quantities", "m") == []


def test_habit_checker_finds() -> None:
    source = "from a import *\ntry:\n    print(1)\nexcept:\n    pass\n"
    faults = habit_faults(source, "m")
    assert sorted(faults) == ["m:1: star import", "m:3: print", "m:4: bare except"]


@pytest.mark.parametrize(
    "comment",
    ["# noqa", "# noqa: E501", "# type: ignore", "# type: ignore[arg-type]", "# noqa: E501 # why"],
)
def test_ignore_checker_finds(comment: str) -> None:
    assert ignore_faults(f"x = 1  {comment}\n", "m") == [f"m:1: {comment}"]


@pytest.mark.parametrize(
    "comment",
    [
        "# noqa: E501 - a long table row",
        "# type: ignore[arg-type]  # numpy lacks it",
        "# type: ignore[a-b, c]  # two faults  # noqa: E501 - long line",
        "# nothing to ignore",
    ],
)
def test_ignore_checker_passes(comment: str) -> None:
    assert ignore_faults(f"x = 1  {comment}\n", "m") == []


# --- what is loaded, in a child process -------------------------------------------------------

REPORT = "import sys, json; sys.stderr.write('\\n@' + json.dumps(sorted(sys.modules)))"

CLICK_HELP = """
import click
@click.group()
@click.version_option("1")
def main():
    "Help."
@main.command()
def x():
    "Help of x."
"""


def loaded(code: str, *args: str) -> set[str]:
    """The modules that a child process holds after `code`, run like a console script."""
    wrapped = f"try:\n{_indent(code)}\nfinally:\n{_indent(REPORT)}\n"
    done = subprocess.run(
        [sys.executable, "-c", wrapped, *args], capture_output=True, text=True, check=False
    )
    assert done.returncode in {0, 1}, done.stderr
    assert "Traceback" not in done.stderr
    return set(json.loads(done.stderr.rpartition("\n@")[2]))


def _indent(code: str) -> str:
    return "\n".join(f"    {line}" for line in code.splitlines())


def tops(modules: set[str]) -> set[str]:
    return {name.split(".")[0] for name in modules} - set(sys.stdlib_module_names)


def test_import_hydrocheck_loads_nothing_else() -> None:
    assert loaded("import hydrocheck") - loaded("pass") == {"hydrocheck"}


@pytest.mark.parametrize("args", [["--help"], ["--version"], ["no-such-command"], []])
def test_help_loads_click_and_the_frame_only(args: list[str]) -> None:
    code = "from hydrocheck.cli import main; main(prog_name='hydrocheck')"
    bare = loaded(f"{CLICK_HELP}main()", "--help")
    if "no-such-command" in args:  # exit code 2, and difflib for the near miss
        code = code.replace("main(prog_name='hydrocheck')", "main(standalone_mode=False)")
        code = f"import click\ntry:\n    {code}\nexcept click.UsageError: pass"
        bare |= loaded("import difflib")
    if not args:  # click shows the help with exit code 2
        code = code.replace("prog_name='hydrocheck'", "['--help']")
    assert loaded(code, *args) - bare == {"hydrocheck", "hydrocheck.cli", "hydrocheck.errors"}


def test_the_loading_test_sees_an_import() -> None:
    assert "decimal" in loaded("import decimal") - loaded("pass")


# What `hydrocheck check` on a demo truck may load beside the standard library.
CHECK_MAY_LOAD = {"hydrocheck", "click", "numpy"}


def test_check_loads_no_slow_library() -> None:
    from hydrocheck.cli import COMMANDS

    if "check" not in COMMANDS:
        pytest.skip("there is no check command yet")
    code = "from hydrocheck.cli import main; main(prog_name='hydrocheck')"
    assert tops(loaded(code, "check")) - tops(loaded("pass")) <= CHECK_MAY_LOAD
