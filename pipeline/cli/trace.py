"""Command `trace`: a figure back to equation, inputs, instrument and raw lines; or forwards, what rests on what."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import workspace
from pipeline.cli import output

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

    from pipeline.explain import Step


@click.command()
@click.argument("property_name", metavar="PROPERTY", required=False)
@click.argument("sample_id", metavar="SAMPLE", required=False)
@click.option("--at", type=float, default=None, help="Sieve opening in mm, or passes: where there are several values.")
@click.option("--as-of", "moment", metavar="DAY|TIME|RUN", help="As it was known then: a day, a time in UTC, or a run.")
@click.option("--from-export", "export", metavar="FILE|HASH", help="What rests on an export.")
@click.option(
    "--from-calibration", "calibration", nargs=2, metavar="INSTRUMENT DAY", help="What rests on a calibration."
)
@click.option(
    "--from-design",
    "design",
    type=(str, int, str),
    default=None,
    metavar="MIX REVISION COLUMN",
    help="What rests on a value of a mix design, such as gsb.",
)
@click.option("--json", "as_json", is_flag=True, help="The trace as JSON.")
@click.pass_obj
def command(
    folder: Path,
    property_name: str | None,
    sample_id: str | None,
    at: float | None,
    moment: str | None,
    export: str | None,
    calibration: tuple[str, str] | None,
    design: tuple[str, int, str] | None,
    as_json: bool,
) -> None:
    """Trace PROPERTY of SAMPLE back: equation, standard, inputs, instruments, and the lines of the exports.

    Or forwards: which figures rest on an export, on a calibration, or on a value of a mix design.

    \b
    Examples:
      mixledger -w lab trace vma HB-0012
      mixledger -w lab trace passing HB-0012 --at 0.075
      mixledger -w lab trace vma HB-0012 --as-of 2026-05-03
      mixledger -w lab trace --from-export balance_journal/HB-1-20260414.csv
      mixledger -w lab trace --from-calibration TW-GP3 2026-09-14
      mixledger -w lab trace --from-design SEDGE-S9 1 gsb
    """
    from pipeline import forwards
    from warehouse.read import connect

    starts = [given for given in (sample_id, export, calibration, design) if given]
    if len(starts) != 1 or bool(property_name) != bool(sample_id):
        raise click.UsageError("give PROPERTY and SAMPLE to trace back, or one --from-… to trace forwards")
    found = workspace.find(folder)
    with connect(found.root, moment) as connection:
        if property_name and sample_id:
            _back(connection, found, property_name, sample_id, at, as_json)
            return
        if export:
            cause = forwards.export(connection, export)
        elif calibration:
            cause = forwards.calibration(connection, *calibration)
        elif design:
            cause = forwards.design(connection, *design)
        rows = forwards.resting(connection, cause)
    if as_json:
        output.as_json({"cause": cause.words, "figures": rows.to_dicts()})
    else:
        samples = rows["sample_id"].n_unique()
        click.echo(f"{rows.height} current figures of {samples} samples rest on {cause.words}")
        if rows.height:
            output.frame_table(rows)


def _back(
    connection: "DuckDBPyConnection",
    found: workspace.Workspace,
    property_name: str,
    sample_id: str,
    at: float | None,
    as_json: bool,
) -> None:
    from pipeline.explain import trace

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
