"""What every command shares: its options, the truck it works on, how it prints and writes.

@click.command()
@truck_options
@force_option
def command(frame: Frame, force: bool) -> None:
    ...
    frame.emit(text=lambda: table(...), result=lambda: {...})
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from hydrocheck import demo as demos
from hydrocheck.errors import FileError

if TYPE_CHECKING:
    from hydrocheck.model import Truck

Units = Literal["us", "metric"]

# Colour helps the eye; the word itself always stands beside it.
COLOURS = {"fail": "red", "caution": "yellow", "pass": "green", "not checked": "cyan"}


@dataclass(frozen=True)
class TruckSource:
    """Where a command's truck comes from; `label` is how messages and JSON name it."""

    path: Path
    label: str

    def load(self) -> Truck:
        """The truck; raises FileError or TruckFileError, which the frame shows."""
        from hydrocheck.model import read_truck

        return read_truck(self.path)


@dataclass(frozen=True)
class Frame:
    """The shared options of one command run."""

    command: str
    as_json: bool
    units: Units
    source: TruckSource | None = None

    @property
    def truck(self) -> TruckSource:
        """The truck's source, for commands declared with `truck_options`."""
        if self.source is None:
            raise TypeError(f"the command {self.command} takes no truck")
        return self.source

    def emit(
        self,
        *,
        text: Callable[[], str],
        result: Callable[[], object],
        defaults_used: Iterable[str] = (),
    ) -> None:
        """Print the result for people, or under --json its envelope; only one is computed."""
        if self.as_json:
            from hydrocheck.report.envelope import dumps, envelope

            label = self.source.label if self.source else None
            document = envelope(
                self.command, result(), truck=label, defaults_used=sorted(set(defaults_used))
            )
            click.echo(dumps(document))
        else:
            say(text())


def common_options(function: Callable[..., None]) -> Callable[..., None]:
    """Give a command --json and --units; it receives a `Frame` as its first argument."""

    @wraps(function)
    def run(*args: Any, as_json: bool, units: Units, **others: Any) -> None:
        _refuse_figure(others)
        function(Frame(_command_name(), as_json, units), *args, **others)

    return _shared(run)


def truck_options(function: Callable[..., None]) -> Callable[..., None]:
    """Like `common_options`, and a truck file or --demo NAME, found in `frame.truck`."""

    @wraps(function)
    def run(
        *args: Any, as_json: bool, units: Units, truck: str | None, demo: str | None, **others: Any
    ) -> None:
        _refuse_figure(others)
        source = truck_source(truck, demo)
        function(Frame(_command_name(), as_json, units, source), *args, **others)

    decorated = click.option(
        "--demo", metavar="NAME", help="Use a built-in demo truck instead of a file."
    )(_shared(run))
    return click.argument("truck", required=False, metavar="[TRUCK]")(decorated)


def _refuse_figure(options: Mapping[str, Any]) -> None:
    """Refuse the --plot of any command, before the work is done, where it could not be written."""
    plot = options.get("plot")
    if isinstance(plot, str):
        from hydrocheck.report.figures import figure_format
        from hydrocheck.report.files import refuse_targets

        figure_format(Path(plot))
        refuse_targets([plot], force=bool(options.get("force")))


def option_value(option: str, text: str | None, kind: str) -> float | None:
    """The SI value of an option, None where it was not given. Raises UnitError with its name."""
    return None if text is None else told_value(option, text, kind)


def told_value(option: str, text: str, kind: str) -> float:
    """The SI value of an option that was given. Raises UnitError with the option's name."""
    from hydrocheck.errors import UnitError
    from hydrocheck.units import parse

    try:
        return parse(text, kind)
    except UnitError as error:
        raise UnitError(f"--{option} {error}") from None


def say(text: str) -> None:
    """Print `text`, in plain ASCII where standard output holds no more (a C locale)."""
    if (getattr(sys.stdout, "encoding", None) or "").lower() in {"ascii", "us-ascii"}:
        from hydrocheck.report.text import to_ascii

        text = to_ascii(text)
    click.echo(text)


def force_option(function: Callable[..., None]) -> Callable[..., None]:
    """Give a command that writes a file the flag `force`."""
    return click.option("--force", is_flag=True, help="Overwrite an existing file.")(function)


def truck_source(truck: str | None, demo: str | None) -> TruckSource:
    """The truck that the two options name; with neither the first demo truck, said aloud."""
    if truck is not None and demo is not None:
        raise click.UsageError("give a truck file or --demo NAME, not both")
    if truck is not None:
        if not truck:
            raise FileError("the name of the truck file is empty")
        return TruckSource(Path(truck), truck)
    if demo is None:
        names = demos.names()
        if not names:
            raise FileError("give a truck file: no demo truck is installed")
        demo = names[0]
        click.echo(f"note: no truck file given; using the demo truck {demo}", err=True)
    return TruckSource(demos.path(demo), f"demo {demo}")


def paint(text: str, verdict: str) -> str:
    """`text` in the colour of a verdict; click drops the colour away from a terminal."""
    if os.environ.get("NO_COLOR"):
        return text
    return click.style(text, fg=COLOURS[verdict], bold=verdict == "fail")


def _command_name() -> str:
    """The name as typed, with the group's name before it for a nested one (`calc flow`)."""
    path = click.get_current_context().command_path
    return path.partition(" ")[2] or path


def _shared(function: Callable[..., None]) -> Callable[..., None]:
    units = click.option(
        "--units",
        type=click.Choice(["us", "metric"]),
        default="us",
        show_default=True,
        help="Units of the text that is shown.",
    )
    as_json = click.option("--json", "as_json", is_flag=True, help="Print JSON (always SI).")
    return as_json(units(function))
