"""`hydrocheck demo`: list the demo trucks, print one, or copy one to a file."""

from __future__ import annotations

import click

from hydrocheck.cli._frame import Frame, common_options, force_option


@click.command()
@common_options
@click.argument("name", required=False)
@click.argument("file", required=False)
@click.option("--route", metavar="FILE.csv", help="Write a route log made for that truck.")
@click.option(
    "--rounds", type=click.IntRange(1, 100_000), default=1, help="How often it drives the route."
)
@force_option
def command(
    frame: Frame, name: str | None, file: str | None, route: str | None, rounds: int, force: bool
) -> None:
    """List the demo trucks; with a NAME print its truck file, with a FILE copy it there.

    With --route a log of ten minutes is written, for `hydrocheck replay`.
    """
    from hydrocheck import demo
    from hydrocheck.errors import FileError
    from hydrocheck.report.files import write_text
    from hydrocheck.report.text import pairs

    if name is None and route is not None:
        raise FileError("--route: name the demo truck that drives it")
    if name is None:
        abouts = {known: demo.load(known).truck for known in demo.names()}
        frame.emit(
            text=lambda: pairs([(known, f"{t.name}: {t.about}") for known, t in abouts.items()]),
            result=lambda: [
                {"name": known, "truck": t.name, "about": t.about} for known, t in abouts.items()
            ],
        )
        return
    if route is not None:
        _route(name, route, rounds, force)
        frame.emit(text=lambda: f"wrote {route}", result=lambda: {"name": name, "file": route})
        return
    text = demo.text(name)
    if file is None:
        frame.emit(text=text.rstrip, result=lambda: {"name": name, "text": text})
        return
    write_text(file, text, force=force)
    frame.emit(text=lambda: f"wrote {file}", result=lambda: {"name": name, "file": file})


def _route(name: str, path: str, rounds: int, force: bool) -> None:
    from hydrocheck import demo
    from hydrocheck.demo.route import route_lines
    from hydrocheck.report.files import whole_file

    lines = route_lines(demo.load(name), rounds)
    with whole_file(path, force=force) as temporary, temporary.open("w", encoding="utf-8") as file:
        file.writelines(f"{line}\n" for line in lines)
