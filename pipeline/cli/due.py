"""Command `due`: the work list."""

from datetime import date, datetime
from pathlib import Path

import click

from pipeline import workspace
from pipeline.cli import output


@click.command()
@click.option("--on", "day", type=click.DateTime(["%Y-%m-%d"]), default=None, help="Day it is drawn up for; today.")
@click.option("--project", metavar="PROJECT", default=None, help="One project only.")
@click.option("--kind", metavar="KIND", default=None, help="One kind of item only, such as startup or missing.")
@click.option("--json", "as_json", is_flag=True, help="The list as JSON.")
@click.pass_obj
def command(folder: Path, day: datetime | None, project: str | None, kind: str | None, as_json: bool) -> None:
    """List what is due, missing, late, invalid or doubtful: tests, retests, start-ups, calibrations, turn-round.

    The list is in the warehouse too, as the view `programme`.

    \b
    Examples:
      mixledger -w lab due
      mixledger -w lab due --on 2026-11-30 --kind startup
    """
    from pipeline.work_list import on_day
    from schemas.vocabulary import ItemKind
    from warehouse.read import connect

    if kind is not None and kind not in ItemKind.values():
        raise click.UsageError(f"--kind: expected one of {', '.join(ItemKind.values())}, found '{kind}'")
    with connect(workspace.find(folder).root) as connection:
        rows = on_day(connection, day.date() if day else date.today(), project)
    if kind is not None:
        rows = rows.filter(rows["kind"] == kind)
    if as_json:
        output.as_json(rows.to_dicts())
    elif rows.is_empty():
        click.echo("nothing is due")
    else:
        shown = rows.select("state", "kind", "project_id", "sample_id", "due_on", "sentence", "remedy")
        output.frame_table(shown)
        click.echo(f"{rows.height} items")
