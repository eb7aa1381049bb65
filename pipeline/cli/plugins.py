"""Command `plugins`: which importers and renderers there are, and what became of them."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline import settings, state, workspace
from pipeline.cli import output
from pipeline.cli.exit_codes import DONE, LISTED

if TYPE_CHECKING:
    from plugins.manager import Known

_LAST = """
    select importer, list(name order by received_at desc, name desc) as names
    from (select importer, name, received_at, row_number() over
              (partition by importer order by received_at desc, name desc) as place
          from exports where importer is not null)
    where place <= 3 group by importer"""


@click.command()
@click.option("--json", "as_json", is_flag=True, help="List as JSON.")
@click.option("--renderers", is_flag=True, help="List the renderers too.")
@click.pass_obj
def command(folder: Path, as_json: bool, renderers: bool) -> None:
    """List importers with origin, version, record families, trust, and the files each recognised last.

    Works outside a workspace too; then what is shipped and installed is listed. Code that is not trusted is listed
    without being run.

    \b
    Examples:
      mixledger -w lab plugins
      mixledger -w lab plugins --renderers --json
    """
    from plugins.manager import load

    inside = (folder / settings.FILE_NAME).is_file()
    options = settings.at(folder)
    own = workspace.find(folder) if inside else None
    trusted = options.plugins
    found = load(own.importers if own else None, trusted.trusted, trusted.time_limit_seconds)
    if renderers or as_json:
        _ = found.renderers
    last = _last_recognised(own) if own else {}
    listed = [_row(each, last) for each in found.known]
    if as_json:
        output.as_json({"plugins": listed, "problems": found.problems})
    else:
        headings = ["name", "kind", "origin", "version", "records", "trust", "last recognised"]
        output.table(headings, [[row[key.replace(" ", "_")] for key in headings] for row in map(_as_text, listed)])
        for problem in found.problems:
            click.echo(problem, err=True)
    raise click.exceptions.Exit(LISTED if found.problems else DONE)


def _last_recognised(own: workspace.Workspace) -> dict[str, list[str]]:
    if not state.load(own).stored:
        return {}
    from warehouse.read import connect
    from warehouse.sql import fetch

    with connect(own.root) as connection:
        rows = fetch(connection, _LAST).rows()
    return {importer: list(names) for importer, names in rows}


def _row(known: "Known", last: dict[str, list[str]]) -> dict[str, Any]:
    loaded = known.trust in {"shipped", "data", "trusted"}
    return {
        "name": known.name,
        "kind": known.kind,
        "origin": f"{known.origin}: {known.package}" if known.package else known.origin,
        "version": known.version,
        "records": list(known.gives),
        "trust": known.trust,
        "last_recognised": last.get(known.name, []) if loaded and known.kind == "importer" else [],
    }


def _as_text(row: dict[str, Any]) -> dict[str, str]:
    return {key: ", ".join(value) if isinstance(value, list) else str(value) for key, value in row.items()}
