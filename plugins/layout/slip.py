"""Repeated blocks of label, value and unit between rules, as captured from a printer's serial line."""

from collections.abc import Sequence

import polars as pl

from plugins.api import Refusing
from plugins.layout.cut import text_of
from plugins.layout.model import BLOCK, HEADER, Layout
from plugins.layout.tables import PLACE, Raw, Source, cell, line_of, needed, unit_of

#: Label, value and unit stand apart by two or more blanks; single blanks belong to the words.
_LINE = r"^\s*(\S(?:.*?\S)?)\s{2,}(\S(?:.*?\S)?)(?:\s{2,}(\S+))?\s*$"


def read(layout: Layout, sources: Sequence[Source]) -> Raw:
    """Turn a batch of slip files into one row per whole block; a block without its closing rule is refused."""
    raw = Raw()
    texts: list[tuple[int, str]] = []
    for source in sources:
        try:
            texts.append((source.index, text_of(source, layout)))
        except Refusing as refusing:
            raw.refused.append(refusing.row(source.export.hash))
    indices = pl.Series("export", [index for index, _ in texts], dtype=pl.UInt32)
    raw.tables[HEADER] = pl.DataFrame({"export": indices}).with_columns(
        pl.lit(1, pl.Int64).alias("line"), pl.lit(None, pl.String).alias("part")
    )
    hashes = {source.index: source.export.hash for source in sources}
    lines = _numbered(layout, indices, [text for _, text in texts])
    whole = _refuse(lines, hashes, raw, layout)
    raw.tables[BLOCK] = _blocks(whole, needed(layout, BLOCK))
    return raw


def _numbered(layout: Layout, indices: pl.Series, texts: list[str]) -> pl.DataFrame:
    """Return every line with export, line number, block, and whether a rule follows later in the export."""
    rule = pl.col("text").str.starts_with(layout.block.rule or "")
    frame = pl.DataFrame({"export": indices, "text": pl.Series(texts, dtype=pl.String).str.split("\n")}).explode("text")
    frame = frame.with_columns(
        pl.int_range(1, pl.len() + 1, dtype=pl.Int64).over("export").alias("line"),
        rule.alias("rule"),
        rule.cast(pl.UInt32).cum_sum().over("export").alias("block"),
    )
    rules = pl.col("rule").sum().over("export").cast(pl.UInt32)
    filled = (pl.col("text").str.strip_chars() != "") & ~pl.col("rule")
    for start in layout.writing.comment:
        filled &= ~pl.col("text").str.starts_with(start)
    return frame.with_columns(rules.alias("rules")).filter(filled)


def _refuse(lines: pl.DataFrame, hashes: dict[int, str], raw: Raw, layout: Layout) -> pl.DataFrame:
    """Refuse open blocks, lines outside blocks and blocks with a label given twice; return the lines of the rest."""
    parts = pl.col("text").str.extract_groups(_LINE).struct.rename_fields(["key", "v1", "unit"])
    lines = lines.with_columns(parts.alias("parts")).unnest("parts")
    firsts = lines.group_by("export", "block", maintain_order=True).agg(
        pl.col("line", "text", "rules").first(),
        (pl.col("block").first() == pl.col("rules").first()).alias("open"),
        (pl.col("block").first() == 0).alias("outside"),
        pl.col("key").drop_nulls().is_duplicated().any().alias("twice"),
        pl.col("key").drop_nulls().filter(pl.col("key").drop_nulls().is_duplicated()).first().alias("label"),
    )
    faulty = firsts.filter(pl.col("open") | pl.col("outside") | pl.col("twice"))
    for row in faulty.iter_rows(named=True):
        raw.refused.append(_refusal(row, layout).row(hashes[row["export"]]))
    whole = lines.join(faulty, on=["export", "block"], how="anti", maintain_order="left")
    known = list(needed(layout, BLOCK))
    for export, line, text in (
        whole.filter(~pl.col("key").is_in(known).fill_null(False)).select("export", "line", "text").iter_rows()
    ):
        reason = f"the layout knows no such line; it knows {', '.join(known)}"
        raw.refused.append(Refusing("not_a_word", reason, source_line=line, found=text[:200]).row(hashes[export]))
    return whole


def _refusal(row: dict[str, object], layout: Layout) -> Refusing:
    place = {"source_line": row["line"], "found": str(row["text"])[:200]}
    if row["outside"]:
        return Refusing("not_well_formed", f"this stands before the first rule '{layout.block.rule}'", **place)
    if row["open"]:
        return Refusing("truncated", f"the slip that begins here has no closing rule '{layout.block.rule}'", **place)
    return Refusing("duplicate", f"the slip that begins here gives '{row['label']}' twice", **place)


def _blocks(lines: pl.DataFrame, wanted: dict[str, bool]) -> pl.DataFrame:
    by = ["export", "block"]
    frame = lines.group_by(by, maintain_order=True).agg(pl.col("line").first())
    for key in wanted:
        rows = lines.filter(pl.col("key") == key).select(
            *by,
            pl.col("v1").alias(cell(key)),
            pl.col("unit").alias(unit_of(key)),
            pl.col("line").alias(line_of(key)),
        )
        frame = frame.join(rows, on=by, how="left", maintain_order="left")
    return frame.with_columns(pl.lit(None, pl.String).alias("part")).select(*PLACE, pl.exclude(*PLACE, "block"))
