"""Command `check`: what would be read of a file, and what refused; writes nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import settings, workspace
from pipeline.cli import output
from pipeline.cli.exit_codes import DONE, LISTED

if TYPE_CHECKING:
    from pipeline.if_run import Foreseen
    from pipeline.reading import Read
    from plugins.api import Importer
    from plugins.manager import Plugins

#: What is told of a figure that a run would derive, as JSON.
FIGURE_COLUMNS = (
    *("sample_id", "level", "method", "specimen_no", "property", "symbol", "point"),
    *("value", "unit", "withheld", "flags", "n", "spread"),
)


@dataclass(frozen=True)
class _Checked:
    path: Path
    read: "Read"

    @property
    def name(self) -> str:
        return str(self.path)


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Report as JSON.")
@click.option(
    "--values",
    "rows",
    type=click.IntRange(min=0),
    is_flag=False,
    flag_value=3,
    default=None,
    metavar="[ROWS]",
    help="Show place, raw text and value read side by side, for the first ROWS rows of each record.  [3]",
)
@click.pass_obj
def command(folder: Path, files: tuple[Path, ...], as_json: bool, rows: int | None) -> None:
    """Read FILES as a run would: what would be accepted, refused, and flagged. Writes nothing.

    Figures are derived from all FILES together. Works outside a workspace too; inside one, its own layouts, its
    register and what it already holds of the samples are used as well.

    \b
    Examples:
      mixledger check sample_exports/press_report/*
      mixledger check bath.txt --values        place, raw text, value and remark side by side
      mixledger check bath.txt --values 100    of the first hundred rows
      mixledger check register.xlsx bath.txt   figures with what a register says, without a workspace
    """
    for problem in _plugins(folder).problems:
        click.echo(f"not loaded: {problem}", err=True)
    checked = [_Checked(path, _read(path, folder)) for path in files]
    foreseen = _foreseen(checked, folder)
    if as_json:
        output.as_json([_as_dict(each, folder, rows) | _figures_of(each, foreseen) for each in checked])
    else:
        for each in checked:
            _show(each)
            if rows:
                _show_values(each, folder, rows)
        if foreseen is not None:
            _show_figures(foreseen)
    refused = any(each.read.refusals.height for each in checked)
    raise click.exceptions.Exit(LISTED if refused else DONE)


def _plugins(folder: Path) -> "Plugins":
    from plugins.manager import load

    inside = (folder / settings.FILE_NAME).is_file()
    layouts = workspace.Workspace(folder.resolve()).importers if inside else None
    chosen = settings.at(folder).plugins
    return load(layouts, chosen.trusted, chosen.time_limit_seconds)


def _read(path: Path, folder: Path) -> "Read":
    import hashlib

    import polars as pl

    from pipeline import reading
    from plugins.api import Export

    with path.open("rb") as opened:
        head = opened.read(reading.HEAD_BYTES)
        opened.seek(0)
        digest = hashlib.file_digest(opened, "sha256").hexdigest()
    export = Export(name=path.name, hash=digest, path=path, size=path.stat().st_size, head=head)
    incoming = [reading.Incoming(export, (path.name,), "1970-01-01T00:00:00.000000")]
    chosen = settings.at(folder)
    largest = int(chosen.intake.largest_export_mb * (1 << 20))
    batches, refused = reading.recognise(incoming, _plugins(folder).importers, largest, chosen.plugins.prefer)
    if not batches:
        return refused
    done = reading.read(batches[0])
    return reading.Read(done.frames, pl.concat([refused.refusals, done.refusals]), done.exports)


def _as_dict(checked: _Checked, folder: Path, rows: int | None) -> dict[str, object]:
    from pipeline import side_by_side

    values = {"values": side_by_side.compare(checked.path, _importer(checked, folder), rows)} if rows else {}
    return values | {
        "file": checked.name,
        "importer": checked.read.exports["importer"][0],
        "accepted": {record: frame.height for record, frame in checked.read.frames.items() if frame.height},
        "refused": checked.read.refusals.drop("export_hash").to_dicts(),
    }


def _show(checked: _Checked) -> None:
    importer = checked.read.exports["importer"][0]
    rows = ", ".join(f"{frame.height} {record}" for record, frame in checked.read.frames.items() if frame.height)
    click.echo(
        f"{checked.name}: {importer or 'not recognised'}; {'would accept ' + rows if rows else 'nothing accepted'}"
    )
    for row in checked.read.refusals.iter_rows(named=True):
        part = f"{row['source_part']}, " if row["source_part"] else ""
        place = f"{part}line {row['source_line']}" if row["source_line"] else "whole file"
        click.echo(f"  refused, {place}: {row['reason']}")
        click.echo(f"    {row['remedy']}")


def _importer(checked: _Checked, folder: Path) -> "Importer | None":
    name = checked.read.exports["importer"][0]
    return _plugins(folder).importer(name) if name else None


def _show_values(checked: _Checked, folder: Path, rows: int) -> None:
    from pipeline import side_by_side

    compared = side_by_side.compare(checked.path, _importer(checked, folder), rows)
    if compared:
        output.table(list(compared[0]), [list(row.values()) for row in compared])
    elif checked.read.exports["importer"][0]:
        click.echo("  values side by side are shown for layouts only; this importer is code")


def _foreseen(checked: Sequence[_Checked], folder: Path) -> "Foreseen | None":
    """Return what a run would derive of all files together; None where they hold no observations."""
    import polars as pl

    from pipeline.if_run import foresee, observed

    frames: dict[str, list[pl.DataFrame]] = {}
    for each in checked:
        for record, frame in each.read.frames.items():
            frames.setdefault(record, []).append(frame)
    together = {record: pl.concat(parts) for record, parts in frames.items()}
    return None if observed(together).is_empty() else foresee(together, folder, settings.at(folder).results)


def _figures_of(checked: _Checked, foreseen: "Foreseen | None") -> dict[str, object]:
    """Return the figures a run would give of the samples of one file, the flags in words."""
    if foreseen is None:
        return {}
    from pipeline.if_run import observed

    own = observed(checked.read.frames)
    figures = foreseen.figures.join(own, on="sample_id", how="semi", maintain_order="left")
    return {
        "figures": figures.select(FIGURE_COLUMNS).to_dicts(),
        "flags": foreseen.codes,
        "unregistered": [sample for sample in foreseen.strangers if sample in own["sample_id"]],
        "register": foreseen.register,
    }


def _show_figures(foreseen: "Foreseen") -> None:
    flagged, withheld = foreseen.flagged, foreseen.withheld
    figures = foreseen.figures["value"].count()
    click.echo(f"a run would derive {figures} figures, {flagged.height} of them flagged, {foreseen.register}")
    if foreseen.strangers:
        names = ", ".join(foreseen.strangers)
        click.echo(f"  in no register: {names}; a run would keep their rows and derive nothing until they are")
    if flagged.height:
        output.frame_table(flagged)
        for code, sentence in foreseen.codes.items():
            click.echo(f"  {code}: {sentence}")
    if withheld.height:
        output.frame_table(withheld)
