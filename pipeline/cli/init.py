"""Command `init`: make a workspace."""

from pathlib import Path

import click

from pipeline import workspace


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
def command(folder: Path) -> None:
    """Make FOLDER into a workspace: settings, inbox and the folders the pipeline keeps.

    \b
    Example:
      mixledger init lab
    """
    made = workspace.create(folder)
    click.echo(f"workspace ready; drop exports into {made.inbox} and call: mixledger -w {folder} run")
