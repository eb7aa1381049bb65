"""Command `trace`: a figure back to equation, inputs, instrument and raw lines; or forwards, what rests on what."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import workspace
from pipeline.cli import output

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

    from pipeline.behind import Cell, LotFigure, Result
    from pipeline.explain import Step


@click.command()
@click.argument("property_name", metavar="PROPERTY", required=False)
@click.argument("sample_id", metavar="SAMPLE", required=False)
@click.option("--at", type=float, default=None, help="Sieve opening in mm, or passes: where there are several values.")
@click.option("--specimen", metavar="NO", help="The figure of one specimen of SAMPLE, not of the sample.")
@click.option(
    "--lot",
    "lot",
    nargs=3,
    default=None,
    metavar="PROJECT MIX LOT",
    help="PROPERTY of a lot, or a plan of it.",
)
@click.option("--project", metavar="PROJECT", help="PROPERTY of a project, as the summary shows it: its samples.")
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
    specimen: str | None,
    lot: tuple[str, str, str] | None,
    project: str | None,
    moment: str | None,
    export: str | None,
    calibration: tuple[str, str] | None,
    design: tuple[str, int, str] | None,
    as_json: bool,
) -> None:
    """Trace PROPERTY of SAMPLE back: equation, standard, inputs, instruments, and the lines of the exports.

    Of a lot: its rule, the results it rests on, how each was judged, and the trace of each. Of a project: the samples
    behind a cell of the summary.

    Or forwards: which figures rest on an export, on a calibration, or on a value of a mix design.

    \b
    Examples:
      mixledger -w lab trace vma HB-0012
      mixledger -w lab trace passing HB-0012 --at 0.075
      mixledger -w lab trace vma HB-0012 --as-of 2026-05-03
      mixledger -w lab trace relative_compaction --lot SEDGE SEDGE-S9 1
      mixledger -w lab trace air_voids --project SEDGE
      mixledger -w lab trace --from-export balance_journal/HB-1-20260414.csv
      mixledger -w lab trace --from-calibration TW-GP3 2026-09-14
      mixledger -w lab trace --from-design SEDGE-S9 1 gsb
    """
    from pipeline import forwards
    from warehouse.read import connect

    starts = [given for given in (sample_id, lot, project, export, calibration, design) if given]
    if len(starts) != 1 or bool(property_name) != bool(sample_id or lot or project):
        wanted = "PROPERTY with SAMPLE, --lot or --project to trace back, or one --from-… to trace forwards"
        raise click.UsageError(f"give {wanted}")
    if specimen and not sample_id:
        raise click.UsageError("--specimen needs a SAMPLE")
    found = workspace.find(folder)
    with connect(found.root, moment) as connection:
        if property_name:
            _back(connection, found, property_name, at, _Whose(sample_id, specimen, lot, project), as_json)
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


@dataclass(frozen=True)
class _Whose:
    """Whose figure is traced back: of a sample or one of its specimens, of a lot, or of a project."""

    sample_id: str | None
    specimen: str | None
    lot: tuple[str, str, str] | None
    project: str | None


def _back(
    connection: "DuckDBPyConnection",
    found: workspace.Workspace,
    name: str,
    at: float | None,
    whose: _Whose,
    as_json: bool,
) -> None:
    from pipeline import behind
    from pipeline.explain import trace

    if whose.lot:
        figures = behind.lot(connection, found, whose.lot, name, at)
        output.as_json([each.as_dict() for each in figures]) if as_json else _show_lot(whose.lot, figures)
    elif whose.project:
        cell = behind.cell(connection, found, whose.project, name, at)
        output.as_json(cell.as_dict()) if as_json else _show_cell(f"{name} of {whose.project}", cell)
    else:
        step = trace(connection, found, whose.sample_id or "", name, at, whose.specimen)
        output.as_json(step.as_dict()) if as_json else click.echo("\n".join(_lines(step)))


def _show_lot(where: tuple[str, str, str], figures: "Sequence[LotFigure]") -> None:
    project, mix, lot = where
    click.echo(f"lot {lot} of {mix}, project {project}")
    for figure in figures:
        click.echo("\n".join([*figure.working, *(line for each in figure.results for line in _result(each))]))


def _show_cell(title: str, cell: "Cell") -> None:
    unit = f" {cell.unit}" if cell.unit else ""
    mean = "none" if cell.mean is None else f"{cell.mean:.6g}{unit}"
    spread = "" if cell.s is None else f", s {cell.s:.4g}{unit}"
    click.echo(f"{title}: mean {mean}{spread}, of {cell.samples['counts'].sum()} samples that count")
    output.frame_table(cell.samples.drop("value"))
    click.echo("trace one with: mixledger trace PROPERTY SAMPLE")


def _result(result: "Result") -> Iterator[str]:
    yield f"  {result.label}: {'counts' if result.counts else 'does not count'}"
    for each in result.judgements:
        why = f": {each['reason']}" if each["reason"] else ""
        yield f"    {each['verdict']} by limit {each['limit_id']} of {each['set_id']}{why} [{each['source']}]"
    yield from _lines(result.step, 2)


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
