"""Command `validate`: every published value recomputed, and the record of it."""

from pathlib import Path

import click


@click.command()
@click.option(
    "-o",
    "--output",
    "folder",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("validation"),
    show_default=True,
    help="Folder the record is written to.",
)
@click.option("--json", "as_json", is_flag=True, help="The record as JSON on the terminal too.")
def command(folder: Path, as_json: bool) -> None:
    """Validate the installed version: recompute every published value and write the record as a page and as JSON.

    Exit code 0 when all pass, 1 when any does not. A misprint passes when it is recognised as not following.

    \b
    Examples:
      mixledger validate
      mixledger validate -o records/2026
    """
    from pipeline.validation.record import validate, write

    record = validate()
    try:
        paths = write(record, folder)
    except OSError as fault:
        raise click.UsageError(
            f"the record cannot be written to {folder}: {fault.strerror}; name another folder with -o"
        ) from fault
    if as_json:
        click.echo(record.as_json())
    else:
        for found in record.failed:
            click.echo(
                f"{found.verdict}: {found.group} {found.id}, {found.subject} {found.way}: expected {found.expected}, "
                f"computed {found.computed}. {found.note}"
            )
        click.echo(record.verdict)
        click.echo(
            f"{len(record.unchecked)} of {len(record.coverage)} formulas have no published check; see the record."
        )
        click.echo(f"record: {paths[0]} and {paths[1]}")
    if record.failed:
        raise click.exceptions.Exit(1)
