"""Command `lot`: the working of one lot."""

from pathlib import Path

import click

from pipeline import workspace
from pipeline.cli import output


@click.command()
@click.argument("project", metavar="PROJECT")
@click.argument("mix", metavar="MIX")
@click.argument("lot", metavar="LOT")
@click.option("--json", "as_json", is_flag=True, help="The lot as JSON.")
@click.pass_obj
def command(folder: Path, project: str, mix: str, lot: str, as_json: bool) -> None:
    """Show how LOT of MIX in PROJECT is judged: data, n, mean, s, Q, percentage within limits, pay, and the sources.

    \b
    Example:
      mixledger -w lab lot SEDGE SEDGE-S9 1
    """
    from pipeline import lot_report
    from warehouse.read import connect

    with connect(workspace.find(folder).root) as connection:
        rows = lot_report.lot_rows(connection, project, mix, lot)
    if as_json:
        output.as_json(rows)
        return
    click.echo(f"lot {lot} of {mix}, project {project}")
    for row in rows:
        click.echo("\n".join(lot_report.told(row)))
    for line in lot_report.composite(rows):
        click.echo(line)
