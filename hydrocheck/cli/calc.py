"""`hydrocheck calc`: the handbook's formulas, one subcommand each, built from their data."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from hydrocheck.cli import LazyGroup
from hydrocheck.cli._frame import Frame, common_options
from hydrocheck.errors import DomainError, HydrocheckError
from hydrocheck.studies.handbook import (
    CAUTION,
    FORMULAS,
    Answer,
    Formula,
    Given,
    Input,
    read_input,
    si_unit,
    work_out,
)


def quantity_type(item: Input) -> Callable[[str], Given]:
    """The type of an option: a text with its unit, read by `hydrocheck.units`."""

    def quantity(text: str) -> Given:
        return read_input(item, text)

    return quantity


class FormulaCommand(click.Command):
    """A subcommand whose usage errors are one line, as all errors of the group are."""

    def make_context(self, *args: Any, **others: Any) -> click.Context:
        try:
            return super().make_context(*args, **others)
        except click.UsageError as error:
            message = " ".join(error.format_message().split()).rstrip(".")
            if "extra argument" in message:
                message += "; quantities are given as options"
            if not message.endswith("?"):
                message += "; --help lists the options"
            raise HydrocheckError(f"{self.name}: {message}") from None


class CalcGroup(LazyGroup):
    """The formulas as subcommands; a command is built when it is used."""

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        formula = FORMULAS.get(cmd_name)
        return None if formula is None else build(formula)


def build(formula: Formula) -> click.Command:
    """The click command of a formula."""

    @common_options
    def run(frame: Frame, **values: tuple[Given, ...]) -> None:
        given = {name: _only(formula.input(name), v) for name, v in values.items() if v}
        answer = work_out(formula, given)
        frame.emit(
            text=lambda: as_text(answer, frame),
            result=lambda: as_result(answer, frame),
            defaults_used=answer.defaults,
        )

    function: Callable[..., None] = run
    for item in reversed(formula.inputs):
        function = _option(item, formula)(function)
    return click.command(
        formula.name, cls=FormulaCommand, help=_help(formula), short_help=formula.help
    )(function)


def as_text(answer: Answer, frame: Frame) -> str:
    """The answer, the formula with its numbers, and where it comes from."""
    from hydrocheck.report.text import pairs, paragraph

    shown = [(output.label, answer.shown(output, frame.units)) for output in answer.way.gives]
    parts = [pairs(shown), paragraph(answer.worked(frame.units), hang=4)]
    if answer.defaults:
        used = (f"{n.replace('_', ' ')} {answer.inputs[n].text}" for n in answer.defaults)
        parts.append(paragraph(f"Taken by default: {', '.join(used)}.", hang=4))
    parts.append(paragraph(f"Source: {answer.way.source}.", hang=4))
    if answer.formula.caution:
        parts.append(paragraph(CAUTION, hang=4))
    return "\n".join(parts)


def as_result(answer: Answer, frame: Frame) -> dict[str, object]:
    """The answer as the envelope's result."""
    from hydrocheck.report.envelope import quantity

    result: dict[str, object] = {}
    for output in answer.way.gives:
        value = answer.outputs[output.name]
        shown = answer.shown(output, frame.units)
        result[output.name] = quantity(value, si_unit(output.kind), shown) if output.kind else value
    result["inputs"] = {
        name: quantity(given.value, si_unit(answer.formula.input(name).kind), given.text)
        for name, given in answer.inputs.items()
    }
    result["formula"] = answer.worked(frame.units)
    result["source"] = answer.way.source
    if answer.formula.caution:
        result["caution"] = CAUTION
    return result


def _only(item: Input, values: tuple[Given, ...]) -> Given:
    if len(values) > 1:
        raise DomainError(f"{item.option} is given {len(values)} times")
    return values[0]


def _option(item: Input, formula: Formula) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """A quantity's option; it collects repeats so that they can be refused."""
    always = item.default is None and all(item.name in way.takes for way in formula.ways)
    note = "" if item.default is None else f" [default: {item.default}]"
    return click.option(
        item.option,
        item.name,
        type=quantity_type(item),
        multiple=True,
        metavar="QUANTITY",
        help=f"{_sentence(item.help)}{note}{' [required]' if always else ''}",
    )


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _help(formula: Formula) -> str:
    """The help text: what it does, the laws, an example of how quantities are written."""
    laws = "\n".join(dict.fromkeys(way.law for way in formula.ways))
    example = f"{formula.inputs[0].option} {_example(formula.inputs[0])}"
    return f"{formula.help}\n\n\b\n{laws}\n\nQuantities carry their unit: {example}"


def _example(item: Input) -> str:
    from hydrocheck.units import accepted

    units = accepted(item.kind)
    return f'"40 {units[0]}"' if units else '"2"'


command = CalcGroup(
    {name: ("", formula.help) for name, formula in FORMULAS.items()},
    name="calc",
    help="""Work out one handbook formula.

    Every quantity is an option whose value carries its unit; the answer comes with the formula,
    the numbers in it and its source.""",
    epilog='Example: hydrocheck calc pump-flow --displacement "4 in^3/rev" --speed "1000 rpm"',
)
