"""Command `upgrade`: bring the store of a workspace to the installed version."""

from pathlib import Path

import click

from pipeline import workspace
from pipeline.cli import output, waiting


@click.command()
@click.option("--dry-run", is_flag=True, help="Say what would be done; change nothing.")
@click.option("--json", "as_json", is_flag=True, help="Say what was done as JSON.")
@waiting.option
@click.pass_obj
def command(folder: Path, dry_run: bool, as_json: bool, wait_seconds: float) -> None:
    """Bring the store to the installed version, all of it or nothing, and publish it.

    Nothing is lost and no figure changes by it; the next run derives anew what newer formulas give. A store of a newer
    version is refused. There is no way back but `mixledger rebuild` with the earlier version.

    \b
    Examples:
      mixledger -w lab upgrade --dry-run
      mixledger -w lab upgrade
    """
    from pipeline.upgrade import owed, upgrade

    found = workspace.find(folder)
    patience = waiting.told(found, wait_seconds)
    done = owed(found, patience) if dry_run else upgrade(found, patience)
    if as_json:
        output.as_json({"dry_run": dry_run, "steps": done})
        return
    for step in done:
        click.echo(step)
    told = "would be brought" if dry_run else "brought"
    click.echo(f"{told} to the installed version by {len(done)} steps" if done else "up to date")
