"""`hydrocheck schema`: the JSON Schema of the truck file, or of the readings file."""

from __future__ import annotations

import click

from hydrocheck.cli._frame import Frame, common_options, force_option


@click.command()
@common_options
@click.argument("file", required=False)
@click.option("--readings", is_flag=True, help="Of the readings file instead.")
@force_option
def command(frame: Frame, file: str | None, readings: bool, force: bool) -> None:
    """Print the JSON Schema (2020-12) of the truck file, or write it to FILE."""
    from hydrocheck.model.schema import readings_schema
    from hydrocheck.model.schema import schema as truck_schema
    from hydrocheck.report.envelope import dumps
    from hydrocheck.report.files import write_text

    schema = readings_schema if readings else truck_schema
    if file is None:
        frame.emit(text=lambda: dumps(schema()), result=schema)
        return
    write_text(file, dumps(schema()) + "\n", force=force)
    frame.emit(text=lambda: f"wrote {file}", result=lambda: {"file": file})
