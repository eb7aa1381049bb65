"""Command `spec`: specification sets in words, and what changed in them."""

from pathlib import Path

import click

from pipeline import settings, workspace
from pipeline.cli import output
from pipeline.cli.exit_codes import LISTED


@click.group()
def command() -> None:
    """Explain and check specification sets.

    \b
    Examples:
      mixledger spec check limits.toml
      mixledger -w lab spec changes
    """


@command.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Records and faults as JSON.")
@click.pass_obj
def check(folder: Path, file: Path, as_json: bool) -> None:
    """Explain the specification set in FILE in words, and name every fault in it. Writes nothing.

    Exit code 1 when something is wrong: overlapping or contradictory limits, an unknown property, unit, flag, pay
    equation or key, or a row a run would refuse.

    \b
    Example:
      mixledger spec check sample_exports/limits_card/FALLOW-26.toml
    """
    from pipeline.specification import reading, words
    from plugins.manager import load

    inside = (folder / settings.FILE_NAME).is_file()
    options = settings.load(folder) if inside else settings.Settings()
    layouts = workspace.Workspace(folder.resolve()).importers if inside else None
    plugins = load(layouts, options.plugins.trusted)
    card = reading.read(file, plugins.importers, options.intake.largest_export_mb)
    found = words.faults(card)
    if as_json:
        contract = card.contract
        output.as_json({"set": contract.sets.to_dicts(), "limits": contract.limits.to_dicts(), "faults": found})
    else:
        click.echo("\n".join(words.told(card)))
        click.echo("")
        for sentence in found:
            click.echo(f"fault: {sentence}")
        click.echo("The set is sound." if card.sound else f"{len(found)} faults; limits at fault are not judged.")
    if not card.sound:
        raise click.exceptions.Exit(LISTED)


@command.command()
@click.argument("set_id", metavar="SET", required=False)
@click.option("--json", "as_json", is_flag=True, help="Changed values and verdicts as JSON.")
@click.pass_obj
def changes(folder: Path, set_id: str | None, as_json: bool) -> None:
    """Say what changed in SET (default: in every set) from run to run, and which verdicts and pay changed with it.

    The former verdicts stay in the table `judgement`, with the run that replaced them.

    \b
    Example:
      mixledger -w lab spec changes SEDGE-26
    """
    from pipeline.specification import changes as found
    from warehouse.read import connect

    with connect(workspace.find(folder).root) as connection:
        if as_json:
            parts = {"values": found.changed(connection), "verdicts": found.verdicts(connection)}
            output.as_json({name: rows.to_dicts() for name, rows in parts.items()})
            return
        lines = list(found.told(connection, set_id))
    click.echo("\n".join(lines) if lines else "nothing changed")


@command.command()
def example() -> None:
    """Print a whole set built only on published tables, each limit with its source, to start one's own from.

    \b
    Example:
      mixledger spec example > our-limits.toml
    """
    from pipeline.specification import EXAMPLE

    click.echo(EXAMPLE.read_text(encoding="utf-8"), nl=False)
