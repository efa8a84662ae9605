"""`hydrocheck check`: every finding about a truck."""

from __future__ import annotations

import click

from hydrocheck.cli._frame import Frame, paint, truck_options


@click.command()
@truck_options
@click.option("--all", "every", is_flag=True, help="Show the findings that pass, too.")
@click.option("--area", metavar="AREA", multiple=True, help="Check this area only (see explain).")
@click.option("--only", metavar="ID", multiple=True, help="Check this finding only (see explain).")
@click.pass_context
def command(
    ctx: click.Context, /, frame: Frame, every: bool, area: tuple[str, ...], only: tuple[str, ...]
) -> None:
    """Check a truck: every finding, worst case over engine speed, oil temperature and scenarios.

    Exit code 0 when nothing fails, 1 when something does, 2 for bad input.
    """
    from hydrocheck.checks import inspect
    from hydrocheck.report.findings import findings_json, findings_text

    chosen = _chosen(area, only)
    truck = frame.truck.load()
    findings = inspect(truck, chosen)
    frame.emit(
        text=lambda: findings_text(truck, findings, frame.units, paint, every),
        result=lambda: findings_json(truck, findings, frame.units),
        defaults_used=truck.defaults_used,
    )
    ctx.exit(1 if any(f.verdict == "fail" for f in findings) else 0)


def _chosen(areas: tuple[str, ...], only: tuple[str, ...]) -> list[str]:
    """Names of the checks that are wanted; none means all."""
    from hydrocheck.checks import AREAS, REGISTRY
    from hydrocheck.errors import DomainError

    for name in only:
        if name not in REGISTRY:
            raise DomainError(f"no check '{name[:60]}'; `hydrocheck explain` lists them")
    for area in areas:
        if area not in AREAS:
            raise DomainError(f"no area '{area[:60]}'; there is: {', '.join(AREAS)}")
    return [name for name, one in REGISTRY.items() if name in only or one.area in areas]
