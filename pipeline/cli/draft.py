"""Command `draft`: proposes a layout from example files."""

import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import settings, workspace
from pipeline.cli import output
from pipeline.cli.exit_codes import DONE, LISTED

if TYPE_CHECKING:
    from plugins.layout.draft.draft import Draft


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--name", help="Name of the importer; without it the letters of the first file's name.")
@click.option("--family", help="Family of records, such as weighing or compaction; without it the one that fits best.")
@click.option("--show", is_flag=True, help="Print the layout and write nothing.")
@click.option("--force", is_flag=True, help="Write over a layout that is there.")
@click.pass_obj
def command(
    folder: Path, files: tuple[Path, ...], name: str | None, family: str | None, show: bool, force: bool
) -> None:
    """Propose a layout for FILES of one instrument that no importer recognises.

    Writes layout, examples and expected records into importers/NAME of the workspace. What is doubtful is marked
    `# ?` in the layout: look at these lines, then `check` one of the files.

    \b
    Examples:
      mixledger -w lab draft bath.txt
      mixledger -w lab draft bath-1.txt bath-2.txt --name density_bath --family weighing
    """
    from plugins.api import Refusing, TooLargeError
    from plugins.layout.draft import draft, match

    if family is not None and family not in match.families():
        raise click.UsageError(f"there is no family '{family}'; families are {', '.join(sorted(match.families()))}")
    title = name or _name_of(files[0])
    if not re.fullmatch(r"[a-z][a-z0-9_]*", title):
        raise click.UsageError(
            f"'{title}' is no name for a folder: use small letters, digits and _, such as density_bath"
        )
    target = workspace.Workspace(folder).importers / title
    if not show:
        _check_target(folder, target, force)
    try:
        made = draft.draft(title, files, family)
    except (Refusing, TooLargeError) as fault:
        raise click.UsageError(f"{files[0]} cannot be looked at: {fault}") from fault
    if show:
        click.echo(made.text, nl=False)
    else:
        _write(target, title, files, made)
    _tell(made, target, files, show)
    raise click.exceptions.Exit(DONE if made.reading is not None else LISTED)


def _name_of(path: Path) -> str:
    letters = re.sub(r"[^a-z]+", "_", path.stem.lower()).strip("_")
    return letters or "new_instrument"


def _check_target(folder: Path, target: Path, force: bool) -> None:
    if not (folder / settings.FILE_NAME).is_file():
        raise click.UsageError(f"{folder} is no workspace: make one with `mixledger init`, or use --show")
    if (target / "layout.toml").exists() and not force:
        raise click.UsageError(
            f"{target / 'layout.toml'} is there already: use another --name, or --force to replace it"
        )


def _write(target: Path, name: str, files: tuple[Path, ...], made: "Draft") -> None:
    from pipeline import plugin_folder
    from plugins.api import Export

    plugin_folder.write_layout(target, name, f"Drafted from {files[0].name}: say here what it is.", made.text)
    plugin_folder.keep_samples(target, files)
    if made.reading is None:
        return
    for path in files:
        own = Export.from_path(path).hash
        frames = {record: frame.filter(export_hash=own) for record, frame in made.reading.frames.items()}
        plugin_folder.keep_expected(target, path.name, frames)


def _tell(made: "Draft", target: Path, files: tuple[Path, ...], show: bool) -> None:
    from plugins.layout.draft.found import SURE

    rows = [
        ("" if note.confidence >= SURE else "?", note.what, note.value, f"{note.confidence:.2f}", note.reason)
        for note in made.notes
    ]
    if show:
        return
    output.table(("", "finding", "value", "sure", "why"), rows)
    doubtful = sum(1 for row in rows if row[0])
    click.echo(f"written: {target / 'layout.toml'} ({doubtful} findings to look at, marked ?)")
    if made.fault is not None:
        click.echo(f"not usable yet: {made.fault}")
    elif made.reading is not None:
        read = ", ".join(f"{frame.height} {record}" for record, frame in made.reading.frames.items() if frame.height)
        click.echo(f"as it stands it reads {read or 'nothing'}, and refuses {made.reading.refused.height}")
    click.echo(f"next: mixledger check {files[0]}")
