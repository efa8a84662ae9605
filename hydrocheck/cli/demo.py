"""`hydrocheck demo`: list the demo trucks, print one, or copy one to a file."""

from __future__ import annotations

import click

from hydrocheck.cli._frame import Frame, common_options, force_option


@click.command()
@common_options
@click.argument("name", required=False)
@click.argument("file", required=False)
@force_option
def command(frame: Frame, name: str | None, file: str | None, force: bool) -> None:
    """List the demo trucks; with a NAME print its truck file, with a FILE copy it there."""
    from hydrocheck import demo
    from hydrocheck.report.files import write_text
    from hydrocheck.report.text import pairs

    if name is None:
        abouts = {known: demo.load(known).truck for known in demo.names()}
        frame.emit(
            text=lambda: pairs([(known, f"{t.name}: {t.about}") for known, t in abouts.items()]),
            result=lambda: [
                {"name": known, "truck": t.name, "about": t.about} for known, t in abouts.items()
            ],
        )
        return
    text = demo.text(name)
    if file is None:
        frame.emit(text=text.rstrip, result=lambda: {"name": name, "text": text})
        return
    write_text(file, text, force=force)
    frame.emit(text=lambda: f"wrote {file}", result=lambda: {"name": name, "file": file})
