"""Command `sql`: ask the published warehouse, read-only."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import workspace
from pipeline.cli import output

if TYPE_CHECKING:
    import polars as pl

#: Rows a table on the terminal shows unless told otherwise.
_SHOWN = 1000


@click.command()
@click.argument("query", required=False)
@click.option("--as-of", "moment", metavar="DAY|TIME|RUN", help="As it was known then: a day, a time in UTC, or a run.")
@click.option("--json", "as_json", is_flag=True, help="Rows as a JSON list of objects.")
@click.option("--csv", "as_csv", is_flag=True, help="Rows as CSV.")
@click.option(
    "-o",
    "--output",
    "target",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write all rows to FILE: .csv, .json or .parquet.",
)
@click.option("--limit", type=click.IntRange(min=1), default=None, help="At most so many rows (tables: 1000).")
@click.option("--seconds", type=click.FloatRange(min=0.1), default=60.0, show_default=True, help="Stop after so long.")
@click.option("--list", "listing", is_flag=True, help="List the questions that can be asked by name.")
@click.option("--show", is_flag=True, help="Print the query of a named question instead of asking it.")
@click.pass_obj
def command(
    folder: Path,
    query: str | None,
    moment: str | None,
    as_json: bool,
    as_csv: bool,
    target: Path | None,
    limit: int | None,
    seconds: float,
    listing: bool,
    show: bool,
) -> None:
    """Ask QUERY, or a question by its name, of the published warehouse; it answers while a run is writing, too.

    One SELECT, without file, network or settings access, within limits of time and memory. `-` reads the query from
    standard input. `mixledger dictionary` says what there is to ask for.

    \b
    Examples:
      mixledger -w lab sql "select project_id, avg(air_voids_pct) from sample_results group by 1"
      mixledger -w lab sql --list
      mixledger -w lab sql binder_off_target --csv
      mixledger -w lab sql --as-of 2026-05-03 "select * from volumetrics" -o volumetrics.parquet
    """
    from warehouse import questions

    if listing:
        _list(as_json)
        return
    if query is None:
        raise click.UsageError("name a question (--list lists them) or give a query in quotes")
    named = questions.named(query)
    text = named.query if named else sys.stdin.read() if query == "-" else query
    if show:
        click.echo(text)
        return
    whole = as_json or as_csv or target is not None
    shown = limit if limit is not None else (None if whole else _SHOWN)
    _put(_ask(folder, text, moment, shown, seconds), shown, as_json, as_csv, target)


def _list(as_json: bool) -> None:
    from warehouse import questions

    found = questions.shipped()
    if as_json:
        output.as_json([vars(each) for each in found])
    else:
        output.table(("name", "question"), [(each.name, each.words) for each in found])


def _ask(folder: Path, text: str, moment: str | None, shown: int | None, seconds: float) -> "pl.DataFrame":
    from warehouse.read import connect
    from warehouse.read import query as ask

    with connect(workspace.find(folder).root, moment) as connection:
        return ask(connection, text, limit=None if shown is None else shown + 1, seconds=seconds)


def _put(rows: "pl.DataFrame", shown: int | None, as_json: bool, as_csv: bool, target: Path | None) -> None:
    more = shown is not None and rows.height > shown
    rows = rows.head(shown) if shown is not None else rows
    if target is not None:
        _write(rows, target)
    elif as_json:
        click.echo(_json(rows))
    elif as_csv:
        click.echo(rows.write_csv(), nl=False)
    else:
        output.frame_table(rows)
    if more:
        click.echo(f"… more rows; these are the first {shown} (--limit N shows more)", err=True)


def _json(rows: "pl.DataFrame") -> str:
    return json.dumps(rows.to_dicts(), default=str, ensure_ascii=False, indent=2)


def _write(rows: "pl.DataFrame", target: Path) -> None:
    try:
        if target.suffix == ".csv":
            rows.write_csv(target)
        elif target.suffix == ".parquet":
            rows.write_parquet(target, compression="zstd")
        elif target.suffix == ".json":
            target.write_text(_json(rows), encoding="utf-8")
        else:
            raise click.UsageError(f"'{target.name}': end the name in .csv, .json or .parquet, which says the format")
    except OSError as fault:
        raise click.UsageError(
            f"the rows cannot be written to {target}: {fault.strerror}; name another file"
        ) from fault
    click.echo(f"written: {target}, {rows.height} rows")
