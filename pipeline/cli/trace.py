"""Command `trace`: a figure back to equation, inputs, instrument and raw lines."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import workspace
from pipeline.cli import output

if TYPE_CHECKING:
    from pipeline.explain import Step


@click.command()
@click.argument("property_name", metavar="PROPERTY")
@click.argument("sample_id", metavar="SAMPLE")
@click.option("--at", type=float, default=None, help="Sieve opening in mm, or passes: where there are several values.")
@click.option("--json", "as_json", is_flag=True, help="The trace as JSON.")
@click.pass_obj
def command(folder: Path, property_name: str, sample_id: str, at: float | None, as_json: bool) -> None:
    """Trace PROPERTY of SAMPLE back: equation, standard, inputs, instruments, and the lines of the exports.

    \b
    Examples:
      mixledger -w lab trace vma HB-0012
      mixledger -w lab trace passing HB-0012 --at 0.075
    """
    from pipeline.explain import trace
    from warehouse.read import connect

    found = workspace.find(folder)
    with connect(found.root) as connection:
        step = trace(connection, found, sample_id, property_name, at)
    if as_json:
        output.as_json(step.as_dict())
    else:
        click.echo("\n".join(_lines(step)))


def _lines(step: "Step", depth: int = 0) -> Iterator[str]:
    indent = "  " * depth
    unit = f" {step.unit}" if step.unit and step.value is not None else ""
    value = f" = {step.text}{unit}" if step.value is not None else f": {step.withheld or step.text}".rstrip(": ")
    yield f"{indent}{step.symbol}{value}   {step.title}; {step.of}"
    if step.uncertainty is not None:
        yield f"{indent}  standard uncertainty {step.uncertainty:.2g}{unit} (k = 1), by the declared contributions"
    if step.equation:
        yield f"{indent}  {step.equation}   [{step.standard}]"
    if step.parameters:
        yield f"{indent}  choices: {step.parameters}"
    if step.flags:
        yield f"{indent}  doubtful: {', '.join(step.flags)}"
    for line in step.evidence:
        instrument = f", instrument {line.instrument_id}" if line.instrument_id else ""
        yield f"{indent}  {line.text}   <- {line.file_name}, {line.place}{instrument}"
        if line.raw_line:
            yield f"{indent}      | {line.raw_line.strip()}"
    for each in step.inputs:
        yield from _lines(each, depth + 1)
