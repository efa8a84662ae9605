"""`hydrocheck solve`: one operating point in full."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from hydrocheck.cli._frame import Frame, option_value, truck_options

if TYPE_CHECKING:
    from hydrocheck.model.truck import Task

# How a function is told what to do: option -> kind of its value.
WAYS = {"command": "fraction", "setting": "fraction", "speed": "shaft_speed", "flow": "flow"}
MOTIONS = ("extend", "retract", "lower", "stop")


@click.command()
@truck_options
@click.option("--scenario", metavar="NAME", help="Start from a scenario (default: the first).")
@click.option("--engine", metavar="SPEED", help='Engine speed, such as "1300 rpm".')
@click.option("--oil", metavar="TEMPERATURE", help='Oil temperature, such as "110 degF".')
@click.option("--hopper", type=click.Choice(["full", "empty"]), help="Load of the feeder.")
@click.option("--only", is_flag=True, help="Leave the scenario out: only what is told here runs.")
@click.option("--command", multiple=True, metavar="NAME=%", help='A valve command: "auger=55 %".')
@click.option("--setting", multiple=True, metavar="NAME=%", help="A setting between the trims.")
@click.option("--speed", multiple=True, metavar="NAME=RPM", help='A wanted speed: "auger=60 rpm".')
@click.option("--flow", multiple=True, metavar="NAME=FLOW", help='A wanted flow: "auger=6 gpm".')
@click.option(
    "--motion",
    multiple=True,
    metavar="NAME=WORD",
    help="A cylinder's motion: extend, retract, lower (by its load), stop (held at its end).",
)
def command(
    frame: Frame,
    scenario: str | None,
    engine: str | None,
    oil: str | None,
    hopper: str | None,
    only: bool,
    **told: tuple[str, ...],
) -> None:
    """One operating point: flows, speeds, pressures, powers, heat, what limits each function.

    Without --engine and --oil the middle of the scenario's speeds and temperatures is taken.
    """
    from hydrocheck.report.point import point_json, point_text
    from hydrocheck.studies.closedloop import loop_states
    from hydrocheck.studies.liquiddelivery import liquid_delivery
    from hydrocheck.studies.point import PointOrder, solve_point

    truck = frame.truck.load()
    base = None
    if scenario is not None:
        base = truck.scenario_named(scenario)
    elif truck.scenario and not only:
        base = truck.scenario[0]
    order = PointOrder(
        engine_speed=option_value("engine", engine, "shaft_speed"),
        oil_temperature=option_value("oil", oil, "temperature"),
        hopper=hopper,
        tasks=_tasks(told),
    )
    solved = solve_point(truck, base, order)
    liquid, loops = liquid_delivery(truck, solved), loop_states(truck, solved)
    frame.emit(
        text=lambda: point_text(truck.name, truck, solved, frame.units, liquid, loops),
        result=lambda: point_json(truck, solved, frame.units, liquid, loops),
        defaults_used=truck.defaults_used,
    )


def _tasks(told: dict[str, tuple[str, ...]]) -> dict[str, Task]:
    """`auger=55 %` of each way of telling, as tasks by function. Raises DomainError, UnitError."""
    from hydrocheck.errors import DomainError
    from hydrocheck.model.truck import Task

    tasks: dict[str, Task] = {}
    for way, kind in {**WAYS, "motion": ""}.items():
        for text in told[way]:
            name, sign, value = (part.strip() for part in text.partition("="))
            if not sign or not name:
                raise DomainError(f"--{way} '{text[:60]}': write NAME=VALUE, such as auger=55 %")
            if name in tasks:
                raise DomainError(f"--{way} '{text[:60]}': {name} is told twice")
            if way == "motion":
                if value not in MOTIONS:
                    fits = ", ".join(MOTIONS)
                    raise DomainError(f"--motion '{text[:60]}': here fits {fits}")
                tasks[name] = Task(name=name, motion=value)
                continue
            number = option_value(f"{way} {name}", value, kind) or 0.0
            if number < 0 or (kind == "fraction" and number > 1):
                raise DomainError(f"--{way} '{text[:60]}': out of range")
            asks: dict[str, Any] = {way: number}
            tasks[name] = Task(name=name, **asks)
    return tasks
