"""Command `contract`: hold importers to their contract, without a test runner."""

import difflib
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import settings, workspace
from pipeline.cli import output
from pipeline.cli.exit_codes import DONE, LISTED

if TYPE_CHECKING:
    from plugins.contract.model import Subject, World
    from plugins.contract.runner import Outcome
    from plugins.manager import Plugins


@click.command()
@click.argument("names", nargs=-1)
@click.option("--accept", is_flag=True, help="Show how the expected records would change, and write them.")
@click.option("--verbose", is_flag=True, help="List the rules that hold, too.")
@click.option("--json", "as_json", is_flag=True, help="Report as JSON.")
@click.pass_obj
def command(folder: Path, names: tuple[str, ...], accept: bool, verbose: bool, as_json: bool) -> None:
    """Hold the importers NAMES to their contract; those of the workspace unless named, or all there are.

    Its examples lie in `samples` beside the layout or the code, the records expected of them in `expected`
    (EXPORT.RECORD.csv). The same rules run with `pytest --mixledger-importers`.

    \b
    Examples:
      mixledger -w lab contract density_bath
      mixledger -w lab contract density_bath --accept
    """
    from plugins.contract import runner
    from plugins.contract.model import World

    found = _plugins(folder)
    chosen = names or tuple(each.name for each in found.known if each.origin == "local" and each.kind == "importer")
    try:
        subjects = runner.subjects(found, chosen)
    except LookupError as fault:
        raise click.UsageError("; ".join([str(fault.args[0]), *found.problems])) from fault
    with tempfile.TemporaryDirectory(prefix="mixledger-contract-") as scratch:
        world = World(Path(scratch), runner.strangers(found))
        if accept:
            _accept(subjects, world)
        broken = _report(runner.run(subjects, world), verbose, as_json)
    raise click.exceptions.Exit(LISTED if broken else DONE)


def _plugins(folder: Path) -> "Plugins":
    from plugins.manager import load

    if not (folder / settings.FILE_NAME).is_file():
        return load()
    options = settings.load(folder).plugins
    return load(workspace.find(folder).importers, options.trusted, options.time_limit_seconds)


def _accept(subjects: "list[Subject]", world: "World") -> None:
    from plugins.contract import runner

    for subject in subjects:
        for path, before, after in list(runner.accept(subject, world)):
            lines = difflib.unified_diff(before.splitlines(), after.splitlines(), path.name, path.name, lineterm="")
            for line in lines:
                click.echo(line)
            if after:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(after, encoding="utf-8")
            else:
                path.unlink(missing_ok=True)


def _report(outcomes: "Iterable[Outcome]", verbose: bool, as_json: bool) -> int:
    """Say what is broken; return how many rules are."""
    from plugins.contract.rules import RULES

    listed = []
    for each in outcomes:
        listed.append(each)
        if as_json:
            continue
        if each.findings:
            click.echo(f"{each.importer}: broken: {RULES[each.rule].sentence} ({each.rule})")
            for finding in each.findings:
                click.echo(f"  {finding}")
        elif verbose:
            click.echo(f"{each.importer}: {f'left out, {each.skipped}' if each.skipped else 'holds'}: {each.rule}")
    broken = sum(bool(each.findings) for each in listed)
    if as_json:
        output.as_json([vars(each) for each in listed])
    else:
        held = sum(not each.findings and each.skipped is None for each in listed)
        click.echo(f"{held} rules hold, {broken} broken, {len(listed) - held - broken} left out")
    return broken
