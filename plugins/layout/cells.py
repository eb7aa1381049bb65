"""Lines -> cells: split at a delimiter, at white space, or at a delimiter that stands outside quotation marks."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from plugins.layout.model import BLANKS

#: Stands for runs of white space while lines are split: no text holds it.
_GAP = "\x1f"


@dataclass(frozen=True)
class Cut:
    """Lines that have the cells of the heading, and those that do not (`export`, `line`, `text`, number of cells)."""

    even: pl.DataFrame
    uneven: pl.DataFrame
    quote: str | None

    def cell(self, at: int) -> pl.Expr:
        """Return the cell at a place, from 0."""
        if self.quote is None:
            return pl.col("cells").struct.field(f"f{at}")
        text = pl.col("cells").list.get(at).str.slice(1)
        inner = text.str.strip_chars()
        quoted = inner.str.starts_with(self.quote)
        bare = inner.str.slice(1, inner.str.len_chars() - 2).str.replace_all(self.quote * 2, self.quote, literal=True)
        return pl.when(quoted).then(bare).otherwise(text)


def cut_lines(lines: pl.DataFrame, delimiter: str, quote: str | None, count: int) -> Cut:
    """Cut `text` of each line into `count` cells.

    Returns
    -------
    Cut
        `uneven` has a null number of cells where quotation marks do not match.
    """
    if quote is not None:
        return _quoted(lines, delimiter, quote, count)
    text, mark = pl.col("text"), delimiter
    if delimiter == BLANKS:
        text, mark = text.str.strip_chars().str.replace_all(r"\s+", _GAP), _GAP
    found = text.str.count_matches(mark, literal=True) + 1
    counted = lines.with_columns(found.alias("found"))
    parts = text.str.split_exact(mark, count - 1).struct.rename_fields([f"f{at}" for at in range(count)])
    even = counted.filter(pl.col("found") == count).select("export", "line", parts.alias("cells"))
    return Cut(even, _uneven(counted, count), None)


def _uneven(counted: pl.DataFrame, count: int) -> pl.DataFrame:
    strange = pl.col("found").is_null() | (pl.col("found") != count)
    return counted.filter(strange).select("export", "line", "text", "found")


def _quoted(lines: pl.DataFrame, delimiter: str, quote: str, count: int) -> Cut:
    """Cut by one pattern per cell; what the cells leave of a line shows that its marks do not match."""
    mark, edge = re.escape(quote), re.escape(delimiter)
    pattern = f"{edge}(?:\\s*{mark}(?:[^{mark}]|{mark}{mark})*{mark}\\s*|[^{edge}{mark}]*)"
    whole = pl.concat_str(pl.lit(delimiter), pl.col("text"))
    cells = whole.str.extract_all(pattern)
    counted = lines.with_columns(cells.alias("cells"), whole.alias("whole")).with_columns(
        pl.when(pl.col("cells").list.join("") == pl.col("whole")).then(pl.col("cells").list.len()).alias("found")
    )
    even = counted.filter(pl.col("found") == count).select("export", "line", "cells")
    return Cut(even, _uneven(counted, count), quote)


def sliced(place: tuple[int, int]) -> pl.Expr:
    """Return what stands from the first to the last character of a place, counted from 1."""
    return pl.col("text").str.slice(place[0] - 1, place[1] - place[0] + 1)


def outside_places(lines: pl.DataFrame, places: Mapping[str, tuple[int, int]]) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Part lines with text outside all places (`export`, `line`, `text`, that text) from those without.

    A place drawn too short would cut a digit off without a word; so whatever no place holds must be blank.
    """
    gaps, at = [], 1
    for first, last in sorted(places.values()):
        if first > at:
            gaps.append(sliced((at, first - 1)))
        at = max(at, last + 1)
    gaps.append(pl.col("text").str.slice(at - 1))
    found = pl.concat_str([gap.fill_null("") for gap in gaps], separator=" ")
    marked = lines.with_columns(found.alias("found"))
    strange = pl.col("found").str.strip_chars() != ""
    return marked.filter(strange).select("export", "line", "text", "found"), marked.filter(~strange).drop("found")


def split_heading(line: str, delimiter: str, quote: str | None) -> tuple[str, ...]:
    """Return the names of one heading line."""
    if delimiter == BLANKS:
        return tuple(line.split())
    if quote is None:
        return tuple(name.strip() for name in line.split(delimiter))
    cut = _quoted(pl.DataFrame({"export": [0], "line": [0], "text": [line]}), delimiter, quote, 1)
    counted = cut.uneven["found"].to_list() or [1]
    if counted[0] is None:
        return tuple(name.strip() for name in line.split(delimiter))
    again = _quoted(pl.DataFrame({"export": [0], "line": [0], "text": [line]}), delimiter, quote, counted[0])
    row = again.even.select(again.cell(at).alias(str(at)) for at in range(counted[0])).row(0)
    return tuple(name.strip() for name in row)
