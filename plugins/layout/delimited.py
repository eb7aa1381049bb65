"""Text exports with header lines and tables: the lines of a whole batch become cells in a few operations."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import polars as pl

from plugins.api import Refusing
from plugins.layout import cells as cutting
from plugins.layout import regular
from plugins.layout.cut import Body, Parts, cut_export
from plugins.layout.model import END_KEY, HEADER, Layout, TablePlan
from plugins.layout.tables import (
    PLACE,
    Raw,
    Source,
    cell,
    gather,
    header_needed,
    line_of,
    needed,
    stack,
    unit_of,
)


@dataclass(frozen=True)
class _Shared:
    """What the steps of one reading share."""

    layout: Layout
    cut: Sequence[Parts]
    raw: Raw
    plain: Mapping[str, Mapping[str, regular.Plain]]

    @property
    def sources(self) -> dict[int, Source]:
        return {parts.source.index: parts.source for parts in self.cut}


def read(
    layout: Layout, sources: Sequence[Source], plain: Mapping[str, Mapping[str, regular.Plain]] | None = None
) -> Raw:
    """Turn a batch of text exports into a header table and the layout's tables.

    Parameters
    ----------
    plain
        Columns per table that may come as numbers rather than text, where all rows of the batch allow it.
    """
    raw = Raw()
    cut: list[Parts] = []
    for source in sources:
        try:
            cut.extend(cut_export(source, layout, raw, len(cut)))
        except Refusing as refusing:
            raw.refused.append(refusing.row(source.export.hash))
    if layout.blocks:
        raw.blocks = [parts.source for parts in cut]
    shared = _Shared(layout, cut, raw, plain or {})
    raw.tables[HEADER] = _headers(shared)
    for plan in layout.tables.values():
        _body(shared, plan)
    return raw


def _lines(texts: pl.DataFrame, comment: Sequence[str]) -> pl.DataFrame:
    """Split `text` of each export into its lines; `first` is the number of the first."""
    # Step by step: for the few lines of a header, planning would take longer than the work.
    split = texts.with_columns(pl.col("text").str.split("\n"))
    after = pl.col("first") + pl.col("text").list.len().cast(pl.Int64)
    numbered = split.select("export", "text", pl.int_ranges("first", after).alias("line"))
    return _without(numbered.explode("text", "line"), comment)


def _without(lines: pl.DataFrame, starts: Sequence[str]) -> pl.DataFrame:
    """Pass over the lines that start so."""
    for start in starts:
        lines = lines.filter(~pl.col("text").str.starts_with(start))
    return lines


def header_lines(layout: Layout, texts: pl.DataFrame) -> pl.DataFrame:
    """Return key and values of the header lines of all exports: `export`, `line`, `key`, `v1`, `v2` and so on."""
    plan = layout.header
    count = plan.values
    parts = pl.col("text").str.splitn(plan.separator, count + 1)
    if count > 1:
        parts = pl.col("text").str.split_exact(plan.separator, count)
    fields = ["key", *(f"v{number}" for number in range(1, count + 1))]
    lines = _lines(texts, layout.writing.comment)
    split = lines.with_columns(parts.struct.rename_fields(fields).alias("parts")).unnest("parts")
    # Programs that pad every line to the width of the table leave separators behind the value.
    trim = [pl.col(name).str.strip_chars(plan.separator + " \t").replace("", None) for name in fields]
    keyed = split.with_columns(trim).filter(pl.col("key").is_not_null())
    found = [keyed.filter(~pl.col("key").is_in(list(plan.patterns)))] if plan.patterns else [keyed]
    for key, pattern in plan.patterns.items():
        value = pl.col("text").str.extract(pattern, 1)
        matched = lines.select("export", "text", "line", pl.lit(key).alias("key"), value.alias("v1"))
        found.append(matched.filter(pl.col("v1").is_not_null()).unique("export", keep="first", maintain_order=True))
    return pl.concat(found, how="diagonal") if len(found) > 1 else keyed


def _headers(shared: _Shared) -> pl.DataFrame:
    layout, cut, raw = shared.layout, shared.cut, shared.raw
    frame = pl.DataFrame(
        {
            "export": [parts.source.index for parts in cut],
            "line": [parts.source.block or 1 for parts in cut],
            "part": [None] * len(cut),
            cell(END_KEY): [parts.end for parts in cut],
            line_of(END_KEY): [parts.end_line for parts in cut],
        },
        schema={**PLACE, cell(END_KEY): pl.String(), line_of(END_KEY): pl.Int64()},
    )
    pieces = [(parts.source.index, text, first) for parts in cut for text, first in parts.header]
    schema = {"export": pl.UInt32(), "text": pl.String(), "first": pl.Int64()}
    texts = pl.DataFrame(pieces, schema=schema, orient="row")
    wanted = {key: values for key, values in header_needed(layout).items() if key != END_KEY}
    long = header_lines(layout, texts).filter(pl.col("key").is_in(list(wanted)))
    twice = long.filter(pl.struct("export", "key").is_duplicated())
    if twice.is_empty():
        return _widen(frame, long, wanted)
    twice = twice.unique("export", keep="last", maintain_order=True)
    for export, key, line in twice.select("export", "key", "line").iter_rows():
        raw.refused.append(
            shared.sources[export].refusal(Refusing("duplicate", f"line {line}: '{key}' is given twice"))
        )
    once = long.join(twice.select("export"), on="export", how="anti", maintain_order="left")
    return _widen(frame.join(twice.select("export"), on="export", how="anti", maintain_order="left"), once, wanted)


def _widen(frame: pl.DataFrame, long: pl.DataFrame, wanted: dict[str, int]) -> pl.DataFrame:
    """Give each key its own columns: the values of its line, and the line; null where an export lacks the key."""
    named = {
        name: (key, old)
        for key, values in wanted.items()
        for old, name in [*((f"v{value}", cell(key, value)) for value in range(1, values + 1)), ("line", line_of(key))]
    }
    found = [pl.col(old).filter(pl.col("key") == key).first().alias(name) for name, (key, old) in named.items()]
    wide = long.group_by("export", maintain_order=True).agg(found)
    return frame.join(wide, on="export", how="left", maintain_order="left")


def _body(shared: _Shared, plan: TablePlan) -> None:
    """Read one table of all exports: those with the same heading together."""
    groups: dict[tuple[tuple[str, ...], tuple[str, ...]], list[tuple[Source, Body]]] = {}
    for parts in shared.cut:
        body = parts.bodies.get(plan.name)
        if body is not None:
            groups.setdefault((body.heading, body.units), []).append((parts.source, body))
    if plan.name in shared.plain and len(groups) == 1 and _regular(shared, plan, *groups.values()):
        return
    frames, counts = [], [pl.DataFrame(schema={"export": pl.UInt32(), "rows": pl.UInt32()})]
    for (names, units), group in groups.items():
        lines = _group_lines(group, plan, shared.layout)
        counts.append(_counted(lines))
        used = group[0][1].used
        read = _cells(shared, plan, lines, names, used)
        written = [pl.lit(units[at]).alias(unit_of(name)) for at, name in used.items() if at < len(units) and units[at]]
        frames.append(gather(read.with_columns(written), plan))
    wanted = needed(shared.layout, plan.name)
    shared.raw.tables[plan.name] = stack(frames, wanted)
    shared.raw.counts[plan.name] = pl.concat(counts)


def _counted(rows: pl.DataFrame) -> pl.DataFrame:
    return rows.group_by("export").agg(pl.len().cast(pl.UInt32).alias("rows"))


def _regular(shared: _Shared, plan: TablePlan, group: Sequence[tuple[Source, Body]]) -> bool:
    """Read a table with one heading in all exports as numbers, if it is regular; return whether it was."""
    found = regular.read(group, plan, shared.plain[plan.name])
    if found is None:
        return False
    frame, shared.raw.counts[plan.name] = found
    lacking = [cell(name) for name in needed(shared.layout, plan.name) if cell(name) not in frame.columns]
    if lacking:
        frame = frame.with_columns(pl.lit(None, pl.String).alias(name) for name in lacking)
    shared.raw.tables[plan.name] = frame
    return True


def _group_lines(group: Sequence[tuple[Source, Body]], plan: TablePlan, layout: Layout) -> pl.DataFrame:
    texts = pl.DataFrame(
        {
            "export": [source.index for source, _ in group],
            "text": [body.text for _, body in group],
            "first": [body.first for _, body in group],
        },
        schema={"export": pl.UInt32(), "text": pl.String(), "first": pl.Int64()},
    )
    lines = _lines(texts, layout.writing.comment)
    return _without(lines.filter(pl.col("text").str.strip_chars() != ""), plan.skip)


def _cells(
    shared: _Shared, plan: TablePlan, lines: pl.DataFrame, names: tuple[str, ...], used: dict[int, str]
) -> pl.DataFrame:
    if plan.places:
        strange, lines = cutting.outside_places(lines, plan.places)
        for export, line, text, found in strange.iter_rows():
            reason = f"'{found.strip()[:40]}' stands outside the places of the table's columns"
            row = Refusing("not_well_formed", reason, source_line=line, found=text[:200])
            shared.raw.refused.append(row.row(shared.sources[export].export.hash))
        cells = [cutting.sliced(plan.places[name]).alias(cell(name)) for name in used.values()]
        return lines.select("export", "line", pl.lit(None, pl.String).alias("part"), *cells)
    cut = cutting.cut_lines(lines, plan.delimiter, shared.layout.writing.quote, len(names))
    for export, line, text, found in cut.uneven.iter_rows():
        reason = f"the row has {found} cells, the heading has {len(names)}"
        if found is None:
            reason = f"the marks {shared.layout.writing.quote} around its cells do not match"
        row = Refusing("not_well_formed", reason, source_line=line, found=text[:200])
        shared.raw.refused.append(row.row(shared.sources[export].export.hash))
    return cut.even.select(
        "export",
        "line",
        pl.lit(None, pl.String).alias("part"),
        *(cut.cell(at).alias(cell(n)) for at, n in used.items()),
    )
