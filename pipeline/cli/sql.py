"""Command `sql`: ask the published warehouse, read-only."""

import json
import sys
from pathlib import Path

import click

from pipeline import workspace
from pipeline.cli import output


@click.command()
@click.argument("query")
@click.option("--json", "as_json", is_flag=True, help="Rows as a JSON list of objects.")
@click.option("--csv", "as_csv", is_flag=True, help="Rows as CSV.")
@click.option("--limit", type=click.IntRange(min=1), default=None, help="At most so many rows (tables: 1000).")
@click.option("--seconds", type=click.FloatRange(min=0.1), default=60.0, show_default=True, help="Stop after so long.")
@click.pass_obj
def command(folder: Path, query: str, as_json: bool, as_csv: bool, limit: int | None, seconds: float) -> None:
    """Ask QUERY of the published warehouse; it answers while a run is writing, too.

    One SELECT, without file, network or settings access. `-` reads the query from standard input.

    \b
    Examples:
      mixledger -w lab sql "select project_id, avg(air_voids_pct) from sample_results group by 1"
      mixledger -w lab sql "select * from refusals" --csv
    """
    from warehouse.read import connect
    from warehouse.read import query as ask

    text = sys.stdin.read() if query == "-" else query
    shown = limit if limit is not None else (None if as_json or as_csv else 1000)
    with connect(workspace.find(folder).root) as connection:
        rows = ask(connection, text, limit=None if shown is None else shown + 1, seconds=seconds)
    more = shown is not None and rows.height > shown
    rows = rows.head(shown) if shown is not None else rows
    if as_json:
        click.echo(json.dumps(rows.to_dicts(), default=str, ensure_ascii=False, indent=2))
    elif as_csv:
        click.echo(rows.write_csv(), nl=False)
    else:
        output.frame_table(rows)
    if more:
        click.echo(f"… more rows; these are the first {shown} (--limit N shows more)", err=True)
