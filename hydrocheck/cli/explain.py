"""`hydrocheck explain`: a check's question, formula, limit and source."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from hydrocheck.cli._frame import Frame, common_options

if TYPE_CHECKING:
    from hydrocheck.checks import Check
    from hydrocheck.report.findings import Example


@click.command()
@common_options
@click.option("--markdown", is_flag=True, help="The list as a table for a page of documentation.")
@click.argument("check", required=False)
def command(frame: Frame, check: str | None, markdown: bool) -> None:
    """Explain a check: what it asks, its formula, limit and source, worked on a demo truck.

    Without a name: list them all by area.
    """
    from difflib import get_close_matches

    from hydrocheck.checks import REGISTRY
    from hydrocheck.errors import DomainError
    from hydrocheck.report.findings import (
        explain_json,
        explain_list,
        explain_markdown,
        explain_text,
    )

    if check is None:
        listed = explain_markdown if markdown else explain_list
        frame.emit(
            text=lambda: listed(REGISTRY),
            result=lambda: [explain_json(one, None, frame.units) for one in REGISTRY.values()],
        )
        return
    if check not in REGISTRY:
        near = get_close_matches(check, list(REGISTRY), n=3)
        hint = (
            f"; did you mean {' or '.join(near)}?" if near else "; `hydrocheck explain` lists them"
        )
        raise DomainError(f"no check '{check[:60]}'{hint}")
    one = REGISTRY[check]
    example = _example(one)
    frame.emit(
        text=lambda: explain_text(one, example, frame.units),
        result=lambda: explain_json(one, example, frame.units),
    )


def _example(check: Check) -> Example | None:
    """The first demo truck's finding that says most: one with a number, a fault before a pass."""
    from hydrocheck import demo
    from hydrocheck.checks import Inspection
    from hydrocheck.demo.variants import VARIANTS
    from hydrocheck.report.findings import Example

    best: Example | None = None
    for name in demo.names():
        truck = demo.load(name)
        for finding in check.run(Inspection(truck)):
            here = Example(f"{truck.name} (demo {name})", finding)
            if best is None or _says(finding) > _says(best.finding):
                best = here
        if best is not None and _says(best.finding) >= _ENOUGH:
            return best
    if check.id in VARIANTS:
        variant = VARIANTS[check.id]
        truck = variant.load()
        name = f"{truck.name} (demo {variant.demo}) {variant.about}"
        found = [Example(name, f) for f in check.run(Inspection(truck))]
        best = max([*found, best or found[0]], key=lambda one: _says(one.finding))
    return best


_ENOUGH = 2


def _says(finding: object) -> int:
    """How much an example says: nothing checked, a verdict, a number, a fault with its number."""
    from hydrocheck.checks import Finding

    assert isinstance(finding, Finding)
    judged = finding.judgement
    if judged.verdict == "not checked":
        return 0
    if judged.value is None or judged.limit is None:
        return 1
    return 2 if judged.verdict == "pass" else 3
