"""Command `methods`: the catalogue of properties."""

from collections.abc import Mapping
from pathlib import Path

import click

from pipeline.cli import output


@click.command()
@click.argument("property_name", metavar="PROPERTY", required=False)
@click.option("--json", "as_json", is_flag=True, help="The catalogue as JSON.")
@click.option(
    "--html",
    "page",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    default=None,
    help="Write the catalogue as a page.",
)
@click.option("--uncertainty", is_flag=True, help="List what instruments and methods contribute to uncertainties.")
@click.option("--limits", is_flag=True, help="List the limits of the checks that the settings of a workspace replace.")
@click.pass_obj
def command(
    folder: Path, property_name: str | None, as_json: bool, page: Path | None, uncertainty: bool, limits: bool
) -> None:
    """List the properties, or show one PROPERTY in full: equation, standard, inputs, decimals, checks, precision.

    \b
    Examples:
      mixledger methods
      mixledger methods vma
      mixledger methods --html methods.html
      mixledger methods --limits
    """
    from pipeline import methods

    if uncertainty:
        _show(methods.declared_contributions(), as_json)
        return
    if limits:
        rows = methods.declared_limits(_changed(folder))
        # A terminal has no room for the limits in words, which a page and the flags themselves show.
        _show(rows if as_json else [{k: v for k, v in row.items() if k != "limit"} for row in rows], as_json)
        return
    entries = methods.catalogue(property_name)
    if page is not None:
        _write(page, entries)
    elif as_json:
        output.as_json(entries)
    elif property_name is not None:
        click.echo("\n".join(methods.lines(entries[0])))
    else:
        output.table(("property", "symbol", "definition", "unit", "decimals", "standard"), methods.summary(entries))


def _changed(folder: Path) -> Mapping[str, float]:
    """Return the limits a workspace replaces; none outside one."""
    from pipeline import settings

    return settings.at(folder).results.limits


def _show(rows: list[dict[str, object]], as_json: bool) -> None:
    if as_json:
        output.as_json(rows)
    else:
        output.table(list(rows[0]), [list(row.values()) for row in rows])


def _write(path: Path, entries: list[dict[str, object]]) -> None:
    from pipeline.methods_page import page

    try:
        path.write_bytes(page(entries))
    except OSError as fault:
        raise click.UsageError(f"the page cannot be written to {path}: {fault.strerror}; name another file") from fault
    click.echo(f"written: {path}")
