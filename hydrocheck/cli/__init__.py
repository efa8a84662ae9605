"""The command line: a group that knows its commands by name and loads one only when it is used.

`hydrocheck --help` must stay about as quick as `import click`, so this module imports nothing
heavy; `_frame` holds what the commands share.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Iterable, Mapping
from importlib import import_module
from typing import Any

import click

from hydrocheck import __version__
from hydrocheck.errors import HydrocheckError, TruckFileError

# Name -> (module of this package that holds the click command `command`, help in one line).
# In the order of the work: look at a truck, look closer, look something up, make a file.
COMMANDS: dict[str, tuple[str, str]] = {
    "check": ("hydrocheck.cli.check", "Every finding about a truck, worst case, with verdicts."),
    "budget": ("hydrocheck.cli.budget", "Flow available and demanded against engine speed."),
    "solve": (
        "hydrocheck.cli.solve",
        ("One operating point in full, with what limits each function."),
    ),
    "trims": (
        "hydrocheck.cli.trims",
        "Predicted minimum and maximum trims, and what bounds them.",
    ),
    "sheet": ("hydrocheck.cli.sheet", "The set-up sheet, one HTML file to print or fill in."),
    "heat": ("hydrocheck.cli.heat", "Where the oil temperature settles, and how the oil warms."),
    "spread": ("hydrocheck.cli.spread", "Spread rates by road speed, calibration, cab card."),
    "replay": ("hydrocheck.cli.replay", "A route log through the truck: where it fell short."),
    "sweep": ("hydrocheck.cli.sweep", "Any inputs over ranges, every combination, to CSV."),
    "throw": ("hydrocheck.cli.throw", "Where the salt lands: width against spinner speed."),
    "size": ("hydrocheck.cli.size", "Circuits for what a new truck must do, ranked, with reasons."),
    "diagnose": (
        "hydrocheck.cli.diagnose",
        "Likely causes of a slow function, and what to measure next.",
    ),
    "fit": ("hydrocheck.cli.fit", "Loss parameters of a pump or motor from measured points."),
    "calc": ("hydrocheck.cli.calc", "Handbook formulas, one subcommand each."),
    "explain": ("hydrocheck.cli.explain", "A check's question, formula, limit and source."),
    "new": ("hydrocheck.cli.new", "Start a truck file."),
    "demo": ("hydrocheck.cli.demo", "List the demo trucks, print one, or copy one to a file."),
    "defaults": ("hydrocheck.cli.defaults", "Every default: key, value, meaning, source."),
    "schema": ("hydrocheck.cli.schema", "The JSON Schema of the truck file."),
}

MAX_LENGTH = 800  # of one of them
MAX_LINES = 20  # of a truck file's errors; what follows is only counted


class LazyGroup(click.Group):
    """A click group over a table of commands, each imported on its first use."""

    def __init__(self, table: Mapping[str, tuple[str, str]], **settings: Any) -> None:
        super().__init__(**settings)
        self.table = table

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in self.table:
            return None
        command = import_module(self.table[cmd_name][0]).command
        if not isinstance(command, click.Command):
            raise TypeError(f"{self.table[cmd_name][0]}.command is not a click command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        if self.table:
            with formatter.section("Commands"):
                formatter.write_dl([(name, text) for name, (_, text) in self.table.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0]
        if name not in self.table and not name.startswith("-"):
            raise click.UsageError(_unknown("command", name, self.table), ctx)
        return super().resolve_command(ctx, args)

    def main(self, *args: Any, **settings: Any) -> Any:
        """Run as a program; what fails before a command runs (--help on a full disk) is a line."""
        try:
            return super().main(*args, **settings)
        except OSError as error:
            if not settings.get("standalone_mode", True):
                raise
            _drop_unwritable_output()
            click.echo(f"error: {_os_error_line(error)}", err=True)
            sys.exit(2)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; what a user can cause ends as lines on standard error, exit code 2."""
        _settle_encoding()
        try:
            return super().invoke(ctx)
        except HydrocheckError as error:
            lines = error_lines(error)
        except KeyboardInterrupt:
            ctx.exit(130)
        except RuntimeError as error:
            # Python before 3.12 wraps an interrupt that falls into the making of a class.
            if not isinstance(error.__cause__, KeyboardInterrupt):
                raise
            ctx.exit(130)
        except OSError as error:
            if error.errno == errno.EPIPE:  # `| head`: click ends quietly
                raise
            lines = [_os_error_line(error)]
            _drop_unwritable_output()
        for line in lines:
            click.echo(f"error: {line}", err=True)
        return ctx.exit(2)


def error_lines(error: HydrocheckError) -> list[str]:
    """The lines that tell a user what is wrong, cut at `MAX_LINES` with a count of the rest."""
    lines = list(error.lines) if isinstance(error, TruckFileError) else str(error).splitlines()
    if len(lines) > MAX_LINES:
        lines = [*lines[:MAX_LINES], f"... and {len(lines) - MAX_LINES} more"]
    return [_cut(_printable(line)) for line in lines] or [type(error).__name__]


def _printable(text: str) -> str:
    """`text` without characters that could steer a terminal."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def _cut(line: str) -> str:
    """A line without the middle of an endless file name or value."""
    half = MAX_LENGTH // 2
    return line if len(line) <= MAX_LENGTH else f"{line[:half]} ... {line[-half:]}"


def _os_error_line(error: OSError) -> str:
    what = error.strerror or type(error).__name__
    return _printable(f"{what}: {error.filename}" if error.filename else what)


def _drop_unwritable_output() -> None:
    """After a full disk, forget what standard output still holds: exit would fail on it again."""
    try:
        sys.stdout.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _unknown(kind: str, name: str, known: Iterable[str]) -> str:
    from difflib import get_close_matches

    near = get_close_matches(name, list(known), n=3)
    hint = f" Did you mean {' or '.join(near)}?" if near else ""
    return f"no {kind} '{_printable(name)[:60]}'.{hint}"


def _settle_encoding() -> None:
    """Never fail on a character that the terminal lacks; pure ASCII under a C locale."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is None:
            continue
        if _c_locale(os.environ):
            reconfigure(encoding="ascii", errors="backslashreplace")
        else:
            reconfigure(errors="backslashreplace")


def _c_locale(environ: Mapping[str, str], platform: str = sys.platform) -> bool:
    """Whether the environment asks for the C locale.

    Python itself sets LC_CTYPE=C.UTF-8 when it finds a C locale (PEP 538), so that value alone
    says nothing and the next variable decides.
    """
    if platform == "win32":
        return False
    ctype = environ.get("LC_CTYPE", "")
    chosen = (
        environ.get("LC_ALL") or ("" if ctype == "C.UTF-8" else ctype) or environ.get("LANG", "")
    )
    return chosen in {"", "C", "POSIX"}


main = LazyGroup(
    COMMANDS,
    name="hydrocheck",
    help="""Size, check, commission and diagnose the hydraulic circuits of winter-maintenance
    trucks.

    Every command takes --json, --units us|metric, and a truck file or --demo NAME
    (without either: the first demo truck).""",
    epilog="Steady state only. Component makers' limits, local codes and licensed practice "
    "come first.",
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
main = click.version_option(__version__, message="%(prog)s %(version)s")(main)
