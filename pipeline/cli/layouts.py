"""Command `layouts`: the reference of the layout language, and what records a layout may fill."""

from pathlib import Path

import click

from pipeline.cli import output


@click.command()
@click.argument("record", required=False)
@click.option("--json", "as_json", is_flag=True, help="The same as JSON.")
@click.option(
    "--markdown",
    "page",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    default=None,
    help="Write the reference as a page.",
)
def command(record: str | None, as_json: bool, page: Path | None) -> None:
    """Print the reference of the layout language, or the fields of one RECORD a layout may fill.

    \b
    Examples:
      mixledger layouts
      mixledger layouts weighing
      mixledger layouts --markdown layouts.md
    """
    from dataclasses import asdict

    from plugins.layout import reference

    if record is not None:
        _fields(record, as_json)
    elif page is not None:
        _write(page, reference.markdown())
    elif as_json:
        output.as_json([asdict(section) for section in reference.sections()])
    else:
        click.echo(reference.markdown(), nl=False)


def _write(page: Path, text: str) -> None:
    try:
        page.write_text(text, encoding="utf-8")
    except OSError as fault:
        raise click.UsageError(f"the page cannot be written to {page}: {fault.strerror}; name another file") from fault
    click.echo(f"written: {page}")


def _fields(record: str, as_json: bool) -> None:
    from schemas import catalogue
    from schemas.describe import describe

    known = tuple(catalogue.records())
    if record not in known:
        raise click.UsageError(f"there is no record '{record}'; records are {', '.join(known)}")
    rows = [
        {
            "field": column.name,
            "needed": "" if column.nullable else "needed",
            "stored in": column.unit or "",
            "meaning": column.sentence,
            "expected": column.expected(),
        }
        for column in describe(record).columns
        if column.name not in ("export_hash", "source_part", "source_line")
    ]
    if as_json:
        output.as_json(rows)
    else:
        output.table(list(rows[0]), [list(row.values()) for row in rows])
