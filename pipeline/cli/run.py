"""Command `run`: one pass over the inbox."""

from functools import partial
from pathlib import Path

import click

from pipeline import intake, settings, workspace
from pipeline.cli import output, waiting
from pipeline.cli.exit_codes import DONE, LISTED
from pipeline.order import Outcome, one_pass
from pipeline.progress import collector


@click.command()
@click.option("--dry-run", is_flag=True, help="Say which files would be taken in; write nothing.")
@click.option("--orchestrated", is_flag=True, help="Run as a Prefect flow even where no Prefect API is configured.")
@click.option("--no-pages", is_flag=True, help="Leave the pages as they are; the next run renders what is owed.")
@click.option("--quiet", is_flag=True, help="No progress.")
@click.option("--json", "as_json", is_flag=True, help="Say what was done as JSON.")
@waiting.option
@click.pass_obj
def command(
    folder: Path, dry_run: bool, orchestrated: bool, no_pages: bool, quiet: bool, as_json: bool, wait_seconds: float
) -> None:
    """Take in what is new in the inbox, derive, judge, publish and render.

    Files of the inbox are read, never changed or removed. Running again with nothing new changes nothing.
    Works in this process, or as a Prefect flow where a Prefect API is configured (PREFECT_API_URL).

    \b
    Examples:
      mixledger -w lab run
      mixledger -w lab run --dry-run
      mixledger -w lab run --wait 600     wait ten minutes for another run to finish
    """
    found = workspace.find(folder)
    options = settings.load(found.root)
    if dry_run:
        names = [each.name for each in intake.unseen(found, intake.journal(found))]
        output.as_json({"would_take_in": names}) if as_json else click.echo("\n".join(names) or "nothing new")
        return
    done = _run(found, options, orchestrated, not no_pages, quiet, waiting.told(found, wait_seconds))
    if as_json:
        output.as_json(vars(done))
    else:
        output.outcome(done)
    raise click.exceptions.Exit(DONE if done.clean else LISTED)


def _run(
    found: workspace.Workspace,
    options: settings.Settings,
    orchestrated: bool,
    pages: bool,
    quiet: bool,
    wait_seconds: float,
) -> Outcome:
    from pipeline.local import Local
    from pipeline.orchestrator import configured

    shown = collector(quiet)
    if orchestrated or configured():
        from pipeline.server import standing

        with standing(found, temporary=True, say=partial(click.echo, err=True)):
            from pipeline.flow import run_flow

            return run_flow(found, options, pages=pages, progress=shown, wait_seconds=wait_seconds)
    return one_pass(found, options, Local(), shown, pages=pages, wait_seconds=wait_seconds)
