"""Command `rebuild`: the warehouse anew from the kept exports."""

from pathlib import Path

import click

from pipeline import settings, workspace
from pipeline.cli import output, waiting
from pipeline.cli.exit_codes import DONE, LISTED
from pipeline.progress import collector


@click.command()
@click.option("--quiet", is_flag=True, help="No progress.")
@click.option("--json", "as_json", is_flag=True, help="Report as JSON.")
@waiting.option
@click.pass_obj
def command(folder: Path, quiet: bool, as_json: bool, wait_seconds: float) -> None:
    """Make the warehouse anew from the kept exports; list every figure that changes, with why, and every other row.

    Differences mean that importers, formulas or settings have changed since the rows were stored. Pages are rendered
    by the next run. What was reported when begins anew with the rebuilt warehouse.

    \b
    Example:
      mixledger -w lab rebuild
    """
    from pipeline.contents import changed_figures
    from pipeline.local import Local
    from pipeline.rebuild import rebuild

    found = workspace.find(folder)
    patience = waiting.told(found, wait_seconds)
    done = rebuild(found, settings.load(found.root), Local(), collector(quiet), patience)
    figures = changed_figures(done.differences)
    if as_json:
        rows = {name: frame.to_dicts() for name, frame in done.differences.items()}
        changed = figures.to_dicts() if figures is not None else []
        output.as_json({"exports": done.exports, "figures": changed, "differences": rows})
    else:
        click.echo(f"rebuilt from {done.exports} exports; {len(done.differences) or 'no'} tables differ")
        if figures is not None:
            click.echo(f"\nfigures that change ({figures.height}):")
            output.frame_table(figures)
        for name, frame in done.differences.items():
            if name != "property_value":
                click.echo(f"\n{name}:")
                output.frame_table(frame)
    raise click.exceptions.Exit(LISTED if done.differences else DONE)
