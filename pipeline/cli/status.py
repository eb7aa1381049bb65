"""Command `status`: how the workspace stands."""

from pathlib import Path

import click

from pipeline import workspace
from pipeline.cli import output


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Report as JSON.")
@click.option("--all", "all_refusals", is_flag=True, help="List every refusal, not the first twenty.")
@click.pass_obj
def command(folder: Path, as_json: bool, all_refusals: bool) -> None:
    """Say what the warehouse holds, what waits in the inbox, and what stands refused.

    \b
    Example:
      mixledger -w lab status
    """
    from pipeline.status import status

    found = status(workspace.find(folder))
    if as_json:
        output.as_json(found)
        return
    for name, value in found["counts"].items():
        click.echo(f"{name}: {value}")
    refusals = found["refusals"]
    shown = refusals if all_refusals else refusals[:20]
    for each in shown:
        click.echo(f"refused: {each['file_name']}, {each['place']}: {each['reason']} -> {each['remedy']}")
    if len(shown) < len(refusals):
        click.echo(f"… and {len(refusals) - len(shown)} more: mixledger status --all")
