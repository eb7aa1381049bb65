"""Command `dictionary`: what every table, view and column of the warehouse holds."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli import output

if TYPE_CHECKING:
    from warehouse.dictionary import Dictionary


@click.command()
@click.argument("relation", required=False)
@click.option("--json", "as_json", is_flag=True, help="The dictionary as JSON.")
@click.option("--markdown", "as_markdown", is_flag=True, help="The dictionary in markdown.")
@click.option(
    "--html",
    "page",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    default=None,
    help="Write the dictionary as a page.",
)
def command(relation: str | None, as_json: bool, as_markdown: bool, page: Path | None) -> None:
    """List the tables and views of the warehouse, or show one RELATION with every column.

    Generated from schemas, formulas and view headers of the installed version; needs no workspace.

    \b
    Examples:
      mixledger dictionary
      mixledger dictionary sample_results
      mixledger dictionary --html dictionary.html
    """
    from pipeline import dictionary

    found = dictionary.dictionary(relation)
    if page is not None:
        _write(page, dictionary.page(found))
    elif as_json:
        output.as_json(found.as_dict())
    elif as_markdown:
        click.echo(dictionary.markdown(found))
    elif relation is not None:
        _tell(found)
    else:
        output.table(("relation", "kind", "columns", "holds"), dictionary.summary(found))


def _tell(found: "Dictionary") -> None:
    from pipeline import dictionary

    for relation in found.relations:
        click.echo("\n".join(dictionary.lines(relation)))
    if found.vocabularies:
        click.echo("\n" + "\n".join(dictionary.word_lines(found)))


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as fault:
        raise click.UsageError(f"the page cannot be written to {path}: {fault.strerror}; name another file") from fault
    click.echo(f"written: {path}")
