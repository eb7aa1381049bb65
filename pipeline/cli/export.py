"""Command `export`: the whole warehouse as Parquet and CSV, with its dictionary."""

from pathlib import Path

import click

from pipeline import workspace
from pipeline.cli import output
from pipeline.progress import collector


@click.command()
@click.argument("target", metavar="DIR", type=click.Path(path_type=Path, file_okay=False))
@click.option("--as-of", "moment", metavar="DAY|TIME|RUN", help="As it was known then: a day, a time in UTC, or a run.")
@click.option("--long-csv", is_flag=True, help="Write the long series as CSV, too: many rows.")
@click.option("--quiet", is_flag=True, help="No progress.")
@click.option("--json", "as_json", is_flag=True, help="Say what was written as JSON.")
@click.pass_obj
def command(folder: Path, target: Path, moment: str | None, long_csv: bool, quiet: bool, as_json: bool) -> None:
    """Write the whole warehouse to DIR as Parquet and CSV, with the data dictionary.

    Tables come with their history, views with what holds, long series as Parquet. DIR is whole or not there.

    \b
    Examples:
      mixledger -w lab export everything
      mixledger -w lab export may --as-of 2026-05-31
    """
    from pipeline.export import export

    found = workspace.find(folder)
    given = export(found, target, moment=moment, long_as_csv=long_csv, progress=collector(quiet))
    if as_json:
        output.as_json([vars(each) for each in given])
    else:
        click.echo(f"written: {target}, {len(given)} relations with {sum(each.rows for each in given)} rows")
