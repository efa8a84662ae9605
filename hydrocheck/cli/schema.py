"""`hydrocheck schema`: the JSON Schema of the truck file, the readings file or the needs file."""

from __future__ import annotations

import click

from hydrocheck.cli._frame import Frame, common_options, force_option


@click.command()
@common_options
@click.argument("file", required=False)
@click.option("--readings", is_flag=True, help="Of the readings file instead.")
@click.option("--needs", is_flag=True, help="Of the needs file (for size) instead.")
@force_option
def command(frame: Frame, file: str | None, readings: bool, needs: bool, force: bool) -> None:
    """Print the JSON Schema (2020-12) of the truck file, or write it to FILE."""
    from hydrocheck.model.schema import needs_schema, readings_schema
    from hydrocheck.model.schema import schema as truck_schema
    from hydrocheck.report.envelope import dumps
    from hydrocheck.report.files import write_text

    if readings and needs:
        raise click.UsageError("give --readings or --needs, not both")
    schema = readings_schema if readings else needs_schema if needs else truck_schema
    if file is None:
        frame.emit(text=lambda: dumps(schema()), result=schema)
        return
    write_text(file, dumps(schema()) + "\n", force=force)
    frame.emit(text=lambda: f"wrote {file}", result=lambda: {"file": file})
