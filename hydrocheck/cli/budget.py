"""`hydrocheck budget`: flow available and demanded against engine speed."""

from __future__ import annotations

from pathlib import Path

import click

from hydrocheck.cli._frame import Frame, force_option, option_value, truck_options


@click.command()
@truck_options
@click.option("--scenario", metavar="NAME", help="Which scenario (default: the first).")
@click.option("--oil", metavar="TEMPERATURE", help='Oil temperature, such as "110 degF".')
@click.option("--plot", metavar="FILE", help="Also draw it: .png, .svg or .pdf.")
@force_option
def command(
    frame: Frame, scenario: str | None, oil: str | None, plot: str | None, force: bool
) -> None:
    """Flow available and demanded by a scenario, from idle to the highest engine speed."""
    from hydrocheck.errors import MissingValue
    from hydrocheck.report.budget import budget_json, budget_text
    from hydrocheck.studies.budget import flow_budget

    truck = frame.truck.load()
    if not truck.scenario:
        raise MissingValue(["a [[scenario]]"])
    chosen = truck.scenario[0] if scenario is None else truck.scenario_named(scenario)
    temperature = option_value("oil", oil, "temperature")
    budget = flow_budget(truck, chosen, oil_temperature=temperature)
    if plot is not None:
        from hydrocheck.report.budgetplot import budget_figure
        from hydrocheck.report.figures import save_figure

        save_figure(budget_figure(truck.name, budget, frame.units), Path(plot), force=force)
    frame.emit(
        text=lambda: budget_text(truck.name, budget, frame.units),
        result=lambda: budget_json(budget, frame.units),
        defaults_used=truck.defaults_used,
    )
