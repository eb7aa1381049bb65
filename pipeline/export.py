"""The whole warehouse as Parquet and CSV with its dictionary, so that nobody is locked in."""

import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.progress import Progress, Quiet
from pipeline.workspace import Workspace

if TYPE_CHECKING:
    from warehouse.give import Given


class ExportError(ValueError):
    """A folder that cannot be exported to; the message says why and what to do."""


_ABOUT = """\
The warehouse of {workspace} as Parquet and CSV, written by mixledger {version}{moment}.

parquet/ and csv/ hold the same: tables with their whole history (valid_to_run is null for what holds now), views that
show what holds, and the long series of heights, wheel depths and load readings (CSV of these only if asked for).
dictionary.html, dictionary.md and dictionary.json say what every column holds. CSV is UTF-8 with a comma and a decimal
point; null is an empty field. Names and reasons are text of the exports as they stand: a spreadsheet may take a field
that starts with = + - or @ for a formula, so import the files as text.
"""


def export(
    workspace: Workspace, folder: Path, *, moment: str | None, long_as_csv: bool, progress: Progress | None = None
) -> "list[Given]":
    """Write everything to a new folder: whole, or not at all.

    Parameters
    ----------
    moment
        As it was known then; None for now.
    long_as_csv
        Whether the long series are written as CSV, too; as Parquet they always are.

    Raises
    ------
    ExportError
        When the folder holds something already.
    """
    from pipeline import dictionary
    from warehouse import give
    from warehouse.read import connect

    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ExportError(f"{folder} is there already and not an empty folder; name another one.")
    aside = folder.with_name(folder.name + ".unfinished")
    shutil.rmtree(aside, ignore_errors=True)
    aside.mkdir(parents=True)
    with connect(workspace.root, moment) as connection:
        many = len(give.relations(connection))
        with (progress or Quiet()).stage("writing tables, views and series", many) as step:
            given = list(give.write(connection, aside, long_as_csv, step))
    known = dictionary.dictionary()
    (aside / "dictionary.html").write_bytes(dictionary.page(known))
    (aside / "dictionary.md").write_text(dictionary.markdown(known), encoding="utf-8")
    told = json.dumps(known.as_dict(), ensure_ascii=False, indent=2)
    (aside / "dictionary.json").write_text(told, encoding="utf-8")
    (aside / "README.txt").write_text(_about(workspace, moment), encoding="utf-8")
    if folder.exists():
        folder.rmdir()
    aside.rename(folder)
    return given


def _about(workspace: Workspace, moment: str | None) -> str:
    from importlib.metadata import version

    looked = f", as it was known at {moment}" if moment else ""
    return _ABOUT.format(workspace=workspace.root.name, version=version("mixledger"), moment=looked)
