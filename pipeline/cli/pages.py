"""Command `pages`: every page as it was at a moment, beside those of now."""

from pathlib import Path

import click

from pipeline import settings, workspace


@click.command()
@click.option(
    "--as-of", "moment", required=True, metavar="DAY|TIME|RUN", help="A day, a time in UTC, or the number of a run."
)
@click.option(
    "-o",
    "--output",
    "target",
    required=True,
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder the pages are written to.",
)
@click.pass_obj
def command(folder: Path, moment: str, target: Path) -> None:
    """Render every page with what was known at a moment: what a report of that day rested on.

    The pages of now, in the workspace, are not touched.

    \b
    Example:
      mixledger -w lab pages --as-of 2026-05-03 -o pages-of-3-may
    """
    from pipeline.render import render_as_of

    found = workspace.find(folder)
    if target.resolve() == found.pages:
        raise click.UsageError("the workspace's own pages show what holds now; name another folder with -o")
    written = render_as_of(found, settings.load(found.root), moment, target)
    for problem in written.problems:
        click.echo(problem, err=True)
    click.echo(f"{written.files} pages as of {moment}: {target / found.summary_page.name}")
