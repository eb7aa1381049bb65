"""Text exports with header lines and one table: the lines of a whole batch become cells in a few operations."""

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from plugins.api import Refusing
from plugins.layout.model import END_KEY, HEADER, Layout, TablePlan
from plugins.layout.section import near
from plugins.layout.tables import PLACE, Raw, Source, cell, header_needed, line_of, needed, stack
from plugins.text import decode

#: Most columns a table may have: every cell of a row becomes a column of a frame.
COLUMN_LIMIT = 1_000


@dataclass(frozen=True)
class _Parts:
    """One export cut up: header text, heading, body text with the line it starts at, text of the end line."""

    source: Source
    header: str
    heading: tuple[str, ...]
    body: str
    first: int
    end: str | None
    end_line: int


def text_of(source: Source, layout: Layout) -> str:
    """Return the text of an export with line breaks as `\\n`.

    Raises
    ------
    Refusing
        `empty` or `undecodable`.
    """
    if not source.content.strip(b"\xef\xbb\xbf\x00 \t\r\n"):
        raise Refusing("empty", "the file holds nothing but white space")
    try:
        text = decode(source.content, layout.writing.encodings)
    except UnicodeDecodeError as fault:
        line = source.content.count(b"\n", 0, fault.start) + 1
        tried = ", ".join(layout.writing.encodings)
        reason = f"line {line}: byte {fault.start + 1} does not belong to text in {tried}"
        raise Refusing("undecodable", reason) from fault
    return text.replace("\r\n", "\n").replace("\r", "\n")


def read(layout: Layout, sources: Sequence[Source]) -> Raw:
    """Turn a batch of delimited exports into a header table and the layout's one table."""
    raw = Raw()
    plan = next(iter(layout.tables.values()))
    cut: list[_Parts] = []
    for source in sources:
        try:
            cut.append(_cut(source, text_of(source, layout), plan, layout))
        except Refusing as refusing:
            raw.refused.append(refusing.row(source.export.hash))
    raw.tables[HEADER] = _headers(layout, cut, raw)
    _body(layout, plan, cut, raw)
    return raw


def _cut(source: Source, text: str, plan: TablePlan, layout: Layout) -> _Parts:
    if layout.writing.final_newline and not text.endswith("\n"):
        raise Refusing("truncated", "the last line has no line break: the file was cut off")
    heading = plan.heading or ""
    at = 0 if text.startswith(heading) else text.find("\n" + heading) + 1
    if at == 0 and not text.startswith(heading):
        raise Refusing("missing_table", f"no line starts with '{heading.strip()}', the heading of the table")
    head_line, _, body = text[at:].partition("\n")
    first = text.count("\n", 0, at) + 2
    body, end, end_line = _end(body, plan, first)
    names = tuple(name.strip() for name in head_line.split(plan.delimiter))
    _check_heading(names, needed(layout, plan.name), first - 1)
    return _Parts(source, text[:at], names, body, first, end, end_line)


def _end(body: str, plan: TablePlan, first: int) -> tuple[str, str | None, int]:
    if plan.end is None:
        return body, None, 0
    at = 0 if body.startswith(plan.end) else body.rfind("\n" + plan.end) + 1
    if at == 0 and not body.startswith(plan.end):
        raise Refusing("truncated", f"the closing line '{plan.end.strip()}' is missing")
    end_line = first + body.count("\n", 0, at)
    after, _, rest = body[at + len(plan.end) :].partition("\n")
    if rest.strip():
        raise Refusing("not_well_formed", f"line {end_line + 1}: something follows the closing line")
    return body[:at], after.strip(plan.delimiter + " \t"), end_line


def _check_heading(names: tuple[str, ...], wanted: dict[str, bool], line: int) -> None:
    if len(names) > COLUMN_LIMIT:
        raise Refusing("not_well_formed", f"line {line}: the heading has {len(names):,} columns")
    for name, optional in wanted.items():
        found = names.count(name)
        if found > 1:
            reason = f"line {line}: the column '{name}' stands twice in the heading"
            raise Refusing("duplicate", reason, column_name=name)
        if not found and not optional:
            has = ", ".join(names)[:200]
            reason = f"line {line}: the heading lacks the column '{name}'{near(name, names)}; it has {has}"
            raise Refusing("missing_column", reason, column_name=name)


def _lines(texts: pl.DataFrame) -> pl.DataFrame:
    """Split `text` of each export into its lines; `first` is the number of the first."""
    split = texts.with_columns(pl.col("text").str.split("\n")).with_columns(
        pl.int_ranges(pl.col("first"), pl.col("first") + pl.col("text").list.len().cast(pl.Int64)).alias("line")
    )
    return split.drop("first").explode("text", "line")


def header_lines(layout: Layout, texts: pl.DataFrame) -> pl.DataFrame:
    """Return key and values of the header lines of all exports: `export`, `line`, `key`, `v1`, `v2` and so on."""
    plan = layout.header
    count = plan.values
    parts = pl.col("text").str.splitn(plan.separator, count + 1)
    if count > 1:
        parts = pl.col("text").str.split_exact(plan.separator, count)
    fields = ["key", *(f"v{number}" for number in range(1, count + 1))]
    split = _lines(texts).with_columns(parts.struct.rename_fields(fields).alias("parts")).unnest("parts")
    # Programs that pad every line to the width of the table leave separators behind the value.
    trim = [pl.col(name).str.strip_chars(plan.separator + " \t").replace("", None) for name in fields]
    return split.with_columns(trim).filter(pl.col("key").is_not_null())


def _headers(layout: Layout, cut: Sequence[_Parts], raw: Raw) -> pl.DataFrame:
    frame = pl.DataFrame(
        {
            "export": [parts.source.index for parts in cut],
            "line": [1] * len(cut),
            "part": [None] * len(cut),
            cell(END_KEY): [parts.end for parts in cut],
            line_of(END_KEY): [parts.end_line for parts in cut],
        },
        schema={**PLACE, cell(END_KEY): pl.String(), line_of(END_KEY): pl.Int64()},
    )
    texts = pl.DataFrame(
        {"export": [parts.source.index for parts in cut], "text": [parts.header for parts in cut]},
        schema={"export": pl.UInt32(), "text": pl.String()},
    ).with_columns(pl.lit(1, pl.Int64).alias("first"))
    wanted = {key: values for key, values in header_needed(layout).items() if key != END_KEY}
    long = header_lines(layout, texts).filter(pl.col("key").is_in(list(wanted)))
    twice = long.filter(pl.struct("export", "key").is_duplicated()).unique("export", keep="last", maintain_order=True)
    hashes = {parts.source.index: parts.source.export.hash for parts in cut}
    for export, key, line in twice.select("export", "key", "line").iter_rows():
        raw.refused.append(Refusing("duplicate", f"line {line}: '{key}' is given twice").row(hashes[export]))
    once = long.join(twice.select("export"), on="export", how="anti", maintain_order="left")
    return _widen(frame.join(twice.select("export"), on="export", how="anti", maintain_order="left"), once, wanted)


def _widen(frame: pl.DataFrame, long: pl.DataFrame, wanted: dict[str, int]) -> pl.DataFrame:
    """Give each key its own columns: the values of its line, and the line."""
    by = "export"
    for key, values in wanted.items():
        names = {f"v{value}": cell(key, value) for value in range(1, values + 1)}
        rows = long.filter(pl.col("key") == key)
        cells = [pl.col(old).alias(new) for old, new in names.items()]
        rows = rows.select(by, *cells, pl.col("line").alias(line_of(key)))
        frame = frame.join(rows, on=by, how="left", maintain_order="left")
    return frame


def _body(layout: Layout, plan: TablePlan, cut: Sequence[_Parts], raw: Raw) -> None:
    groups: dict[tuple[str, ...], list[_Parts]] = {}
    for parts in cut:
        groups.setdefault(parts.heading, []).append(parts)
    frames, counts = [], [pl.DataFrame(schema={"export": pl.UInt32(), "rows": pl.UInt32()})]
    hashes = {parts.source.index: parts.source.export.hash for parts in cut}
    for names, group in groups.items():
        lines = _group_lines(group)
        counts.append(lines.group_by("export").agg(pl.len().cast(pl.UInt32).alias("rows")))
        frames.append(_cells(lines, names, plan, layout, hashes, raw))
    raw.tables[plan.name] = stack(frames, needed(layout, plan.name))
    raw.counts[plan.name] = pl.concat(counts)


def _group_lines(group: Sequence[_Parts]) -> pl.DataFrame:
    texts = pl.DataFrame(
        {
            "export": [parts.source.index for parts in group],
            "text": [parts.body for parts in group],
            "first": [parts.first for parts in group],
        },
        schema={"export": pl.UInt32(), "text": pl.String(), "first": pl.Int64()},
    )
    return _lines(texts).filter(pl.col("text").str.strip_chars() != "")


def _cells(
    lines: pl.DataFrame, names: tuple[str, ...], plan: TablePlan, layout: Layout, hashes: dict[int, str], raw: Raw
) -> pl.DataFrame:
    count = len(names)
    cells = pl.col("text").str.count_matches(plan.delimiter, literal=True) + 1
    uneven = lines.filter(cells != count).with_columns(cells.alias("cells"))
    for export, line, text, found in uneven.select("export", "line", "text", "cells").iter_rows():
        reason = f"the row has {found} cells, the heading has {count}"
        row = Refusing("not_well_formed", reason, source_line=line, found=text[:200]).row(hashes[export])
        raw.refused.append(row)
    wanted = needed(layout, plan.name)
    used = {f"f{position}": cell(name) for position, name in enumerate(names) if name in wanted}
    split = pl.col("text").str.split_exact(plan.delimiter, count - 1)
    fields = split.struct.rename_fields([f"f{position}" for position in range(count)])
    even = lines.filter(cells == count).with_columns(fields.alias("fields"), pl.lit(None, pl.String).alias("part"))
    unnested = even.unnest("fields")
    return unnested.select(*PLACE, *(pl.col(old).alias(new) for old, new in used.items()))
