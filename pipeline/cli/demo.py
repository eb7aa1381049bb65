"""Command `demo`: a workspace of invented laboratories, run from exports to pages."""

import shutil
from pathlib import Path

import click

from pipeline import settings, workspace
from pipeline.cli import output
from pipeline.cli.exit_codes import USAGE
from pipeline.local import Local
from pipeline.order import one_pass
from pipeline.progress import collector


def sample_exports() -> Path:
    """Return the folder of the demo's exports: inside an installed package, or beside the rooms of a checkout."""
    here = Path(__file__).resolve().parents[1]
    for folder in (here / "sample_exports", here.parent / "sample_exports"):
        if folder.is_dir():
            return folder
    raise click.ClickException("the demo's exports are not installed; install mixledger again")


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False), default=Path("mixledger-demo"))
@click.option("--quiet", is_flag=True, help="No progress.")
def command(folder: Path, quiet: bool) -> None:
    """Make a workspace in FOLDER from the exports of invented laboratories, and run everything.

    The last line printed is the page to open. The exports include the troubles of real life (truncated, doubled,
    corrected, impossible), so some are refused: that is what they are for.

    \b
    Example:
      mixledger demo
    """
    made = workspace.create(folder)
    for source in sorted(sample_exports().rglob("*")):
        target = made.inbox / source.relative_to(sample_exports())
        if source.is_file() and source.name[0] != "." and not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(source, target)
    done = one_pass(made, settings.load(made.root), Local(), collector(quiet))
    output.outcome(done)
    click.echo(
        f'ask it: mixledger -w {folder} sql "select project_id, avg(air_voids_pct) from sample_results group by 1"'
    )
    if not made.summary_page.is_file():
        click.echo("no page was rendered", err=True)
        raise click.exceptions.Exit(USAGE)
    click.echo(made.summary_page)
