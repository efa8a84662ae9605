"""`hydrocheck check`: every finding about a truck."""

from __future__ import annotations

import click

from hydrocheck.cli._frame import Frame, paint, truck_options


@click.command()
@truck_options
@click.option("--every", is_flag=True, help="Give the reason of the findings that pass, too.")
@click.option("--only", metavar="ID", multiple=True, help="Show these findings only (see explain).")
@click.pass_context
def command(ctx: click.Context, /, frame: Frame, every: bool, only: tuple[str, ...]) -> None:
    """Check a truck: every finding, worst case over engine speed, oil temperature and scenarios.

    Exit code 0 when nothing fails, 1 when something does, 2 for bad input.
    """
    from hydrocheck.checks import REGISTRY, inspect
    from hydrocheck.errors import DomainError
    from hydrocheck.report.findings import findings_json, findings_text

    for name in only:
        if name not in REGISTRY:
            raise DomainError(f"no check '{name}'; `hydrocheck explain` lists them")
    truck = frame.truck.load()
    findings = [f for f in inspect(truck) if not only or f.id in only]
    frame.emit(
        text=lambda: findings_text(truck.name, findings, frame.units, paint, every),
        result=lambda: findings_json(findings, frame.units),
        defaults_used=truck.defaults_used,
    )
    ctx.exit(1 if any(f.verdict == "fail" for f in findings) else 0)
