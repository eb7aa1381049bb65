"""One importer's folder in a workspace: its layout, examples below samples/, what must be read below expected/."""

import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path

import polars as pl

LAYOUT, SAMPLES, EXPECTED, NOTE = "layout.toml", "samples", "expected", "README.md"

_NOTE = """\
# {name}

## Instrument

{title}

## How the export is made

Say here which key is pressed or which program writes the file, and when.

## What is not read

What the layout does not name.

## Hazards

Say here what may be misread, such as a column that changes its meaning.
"""


def write_layout(folder: Path, name: str, title: str, text: str) -> None:
    """Write layout and note; a note that is there stays."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / LAYOUT).write_text(text, encoding="utf-8")
    note = folder / NOTE
    if not note.exists():
        note.write_text(_NOTE.format(name=name, title=title), encoding="utf-8")


def keep_samples(folder: Path, examples: Sequence[Path]) -> None:
    """Copy examples below `samples/`, byte for byte."""
    into = folder / SAMPLES
    into.mkdir(parents=True, exist_ok=True)
    for example in examples:
        if example.resolve() != (into / example.name).resolve():
            shutil.copyfile(example, into / example.name)


def as_csv(frame: pl.DataFrame) -> str:
    """Return records as the CSV expected records are kept in: no hash, in the order of their places."""
    ordered = frame.drop("export_hash").sort("source_part", "source_line", maintain_order=True)
    return ordered.write_csv(datetime_format="%Y-%m-%dT%H:%M:%S")


def keep_expected(folder: Path, example: str, frames: Mapping[str, pl.DataFrame]) -> list[Path]:
    """Write what was read of one example below `expected/`, and take away what an earlier layout read of it."""
    into = folder / EXPECTED
    into.mkdir(parents=True, exist_ok=True)
    written = [into / f"{example}.{record}.csv" for record, frame in frames.items() if frame.height]
    for old in into.glob(f"{example}.*.csv"):
        if old not in written:
            old.unlink()
    for path in written:
        record = path.name.removeprefix(f"{example}.").removesuffix(".csv")
        path.write_text(as_csv(frames[record]), encoding="utf-8")
    return written
