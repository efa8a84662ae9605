"""`hydrocheck explain`: a check's question, formula, limit and source."""

from __future__ import annotations

import click

from hydrocheck.cli._frame import Frame, common_options


@click.command()
@common_options
@click.argument("check", required=False)
def command(frame: Frame, check: str | None) -> None:
    """Explain a check: what it asks, its formula, limit and source. Without a name: list them."""
    from difflib import get_close_matches

    from hydrocheck.checks import REGISTRY
    from hydrocheck.errors import DomainError
    from hydrocheck.report.findings import explain_json, explain_list, explain_text

    if check is None:
        frame.emit(
            text=lambda: explain_list(REGISTRY),
            result=lambda: [explain_json(one) for one in REGISTRY.values()],
        )
        return
    if check not in REGISTRY:
        near = get_close_matches(check, list(REGISTRY), n=3)
        hint = (
            f"; did you mean {' or '.join(near)}?" if near else "; `hydrocheck explain` lists them"
        )
        raise DomainError(f"no check '{check[:60]}'{hint}")
    one = REGISTRY[check]
    frame.emit(text=lambda: explain_text(one), result=lambda: explain_json(one))
