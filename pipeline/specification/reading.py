"""A card of a specification set -> its records as a run would accept them, and keys no card has."""

import difflib
import hashlib
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import polars as pl

from pipeline import reading
from pipeline.judge.single import Contract
from pipeline.judging import OF_SETS, contract_of
from plugins.api import Export, Importer
from plugins.layout.load import load as load_layout
from plugins.layout.model import FieldPlan, Layout
from schemas.describe import describe

_LAYOUT = Path(reading.__file__).parents[1] / "plugins" / "importers" / "limits_card" / "layout.toml"
_HEADS = {"kind"}


class SpecificationError(ValueError):
    """A file that is not the card of a specification set."""


@dataclass(frozen=True)
class Card:
    """A specification set as read from one file.

    Attributes
    ----------
    name
        Name of the file.
    contract
        Its records, and the faults found in them.
    assignments
        Projects and mixes it names.
    refused
        Sentences on what a run would refuse, each with its line and what to do.
    unknown
        Sentences on keys no card has.
    """

    name: str
    contract: Contract
    assignments: pl.DataFrame
    refused: tuple[str, ...]
    unknown: tuple[str, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong with it."""
        return not (self.refused or self.unknown or self.contract.faults.height)


def read(path: Path, importers: Sequence[Importer], largest_mb: int) -> Card:
    """Read a card as a run would, and check it.

    Raises
    ------
    SpecificationError
        When the file is not recognised as a card of a specification set.
    """
    content = path.read_bytes()
    export = Export(path.name, hashlib.sha256(content).hexdigest(), path, len(content), content[: reading.HEAD_BYTES])
    incoming = [reading.Incoming(export, (path.name,), "1970-01-01T00:00:00.000000")]
    batches, refused = reading.recognise(incoming, importers, largest_mb << 20)
    done = reading.read(batches[0]) if batches else refused
    if not batches or (not {"specification_limit"} & set(done.frames) and not done.refusals.height):
        told = "; ".join(refused.refusals["reason"].to_list()) or "an importer of another kind claims it"
        raise SpecificationError(
            f"{path.name}: not the card of a specification set ({told}). A card is TOML that begins with "
            'kind = "limits card"; README tells what goes into it.'
        )
    frames = {name: _frame(done.frames, name) for name in (*OF_SETS, "specification_assignment")}
    sentences = tuple(
        f"line {row['source_line'] or 1}: {row['reason']} {row['remedy']}"
        for row in done.refusals.iter_rows(named=True)
    )
    unknown = tuple(_unknown(content, load_layout(_LAYOUT)))
    return Card(path.name, contract_of(frames), frames["specification_assignment"], sentences, unknown)


def _frame(frames: Mapping[str, pl.DataFrame], name: str) -> pl.DataFrame:
    found = frames.get(name)
    return pl.DataFrame(schema=describe(name).schema()) if found is None else found


def _unknown(content: bytes, layout: Layout) -> Iterator[str]:
    """Yield a sentence per key that the layout does not read: a slip of the pen would otherwise pass unseen."""
    try:
        data = tomllib.loads(content.decode("utf-8"))
    except ValueError:
        return
    rows = {plan.rows: name for name, plan in layout.tables.items() if plan.rows}
    fields = [(plan.table, field) for plan in layout.records for field in plan.fields]
    heads = {field.header for _, field in fields if field.header} | _HEADS
    known = {name: _columns(fields, name) for name in rows.values()}
    for key, value in _flat(data, rows):
        if key not in heads and key not in rows:
            yield _said(key, "the head", sorted({*heads, *rows}))
        elif key in rows and isinstance(value, list):
            for number, row in enumerate(value, start=1):
                for column in sorted(set(row) - known[rows[key]]):
                    yield _said(column, f"[[{key}]] number {number}", sorted(known[rows[key]]))


def _columns(fields: Sequence[tuple[str | None, FieldPlan]], table: str) -> set[str]:
    return {field.column for name, field in fields if name == table and field.column}


def _flat(data: Mapping[str, Any], rows: Mapping[str, str]) -> Iterator[tuple[str, Any]]:
    for key, value in data.items():
        if isinstance(value, dict) and key not in rows:
            yield from ((f"{key}.{inner}", each) for inner, each in value.items())
        else:
            yield key, value


def _said(key: str, where: str, known: Sequence[str]) -> str:
    near = difflib.get_close_matches(key, known, n=1)
    hint = f"did you mean '{near[0]}'?" if near else f"known there: {', '.join(known)}"
    return f"'{key}' in {where} is not a key of a card: {hint}"
