"""Bytes -> records in whole batches of one layout; if the joint reading fails, export by export."""

from collections.abc import Callable, Sequence

import polars as pl

from plugins.api import REFUSALS, Export, Reading, Refusing, TooLargeError, refusals
from plugins.layout import database, delimited, document, markup, regular, slip, workbook
from plugins.layout.bound import BoundRecord, bind
from plugins.layout.convert import clean
from plugins.layout.model import FILE_KEY, HEADER, Kind, Layout, TablePlan
from plugins.layout.section import LayoutError
from plugins.layout.shape import shape
from plugins.layout.tables import Raw, Source, cell, header_of, kept, line_of

#: Bytes from which on an export is read by itself, so that a fault of its does not slow the reading of others.
_LONG = 1 << 19

_READERS: dict[Kind, Callable[[Layout, Sequence[Source]], Raw]] = {
    "delimited": delimited.read,
    "fixed": delimited.read,
    "slip": slip.read,
    "json": document.read,
    "toml": document.read,
    "xml": markup.read,
    "workbook": workbook.read,
    "sqlite": database.read,
}


def read(layout: Layout, exports: Sequence[Export], bound: Sequence[BoundRecord] | None = None) -> Reading:
    """Read a batch of exports of one layout; every export ends in records, in refusals, or in both.

    Parameters
    ----------
    bound
        The layout's records tied to their schemas, where the caller keeps them from batch to batch.
    """
    refused: list[dict[str, object]] = []
    try:
        records = bind(layout) if bound is None else bound
    except LayoutError as fault:
        return Reading({}, refusals(_failed(export, str(fault)) for export in exports))
    sources: list[Source] = []
    for index, export in enumerate(exports):
        try:
            sources.append(Source(index, export, _bytes(export)))
        except Refusing as refusing:
            refused.append(refusing.row(export.hash))
    readings = _readings(layout, records, sources)
    frames: dict[str, pl.DataFrame] = {}
    for name in layout.gives:
        parts = [reading.frames[name] for reading in readings if name in reading.frames]
        if parts:
            frames[name] = pl.concat(parts)
    faults = pl.concat([refusals(refused), *(reading.refused for reading in readings)])
    return Reading(frames, faults)


def _bytes(export: Export) -> bytes:
    try:
        content = export.read()
    except TooLargeError as fault:
        raise Refusing("too_large", f"the file has {fault}") from fault
    except OSError as fault:
        raise Refusing("importer_failed", f"the kept bytes cannot be read: {fault.strerror}") from fault
    if not content:
        raise Refusing("empty", "the file is empty")
    return content


def _failed(export: Export, cause: str) -> dict[str, object]:
    return Refusing("importer_failed", f"the layout cannot be used: {cause}").row(export.hash)


def _readings(layout: Layout, records: Sequence[BoundRecord], sources: Sequence[Source]) -> list[Reading]:
    if not sources:
        return []
    long = [source for source in sources if len(source.content) >= _LONG] if layout.kind == "delimited" else []
    if long and len(sources) > 1:
        short = [source for source in sources if len(source.content) < _LONG]
        return [reading for part in (short, *([one] for one in long)) for reading in _readings(layout, records, part)]
    try:
        return [_joint(layout, records, sources)]
    except Exception as fault:
        if len(sources) == 1:
            cause = f"{type(fault).__name__}: {fault}".split("\n")[0][:200]
            failed = Refusing("importer_failed", f"the importer failed: {cause}").row(sources[0].export.hash)
            return [Reading({}, refusals([failed]))]
    return [reading for source in sources for reading in _readings(layout, records, [source])]


def seen(layout: Layout, export: Export) -> pl.DataFrame:
    """Return what stands at each place of one export and what it is read as (`plugins.layout.shape.SEEN`)."""
    found: list[pl.DataFrame] = []
    try:
        _joint(layout, bind(layout), [Source(0, export, _bytes(export))], found)
    except (Refusing, LayoutError):
        return pl.DataFrame()
    return pl.concat(found) if found else pl.DataFrame()


def _joint(
    layout: Layout,
    records: Sequence[BoundRecord],
    sources: Sequence[Source],
    seen: list[pl.DataFrame] | None = None,
) -> Reading:
    if layout.kind == "delimited" and seen is None:
        raw = delimited.read(layout, sources, regular.plain_columns(layout, records))
    else:
        raw = _READERS[layout.kind](layout, sources)
    sources = raw.blocks if raw.blocks is not None else sources
    by_index = {source.index: source for source in sources}
    _name_files(layout, raw, by_index)
    for plan in layout.tables.values():
        wrong = [*_miscounted(raw, plan), *_unitless(raw, plan, records)]
        raw.refused.extend(by_index[index].refusal(refusing) for index, refusing in wrong)
        kept(raw, [index for index, _ in wrong])
    whole = {row["export_hash"] for row in raw.refused if row.get("source_line") is None}
    kept(raw, [source.index for source in sources if source.export.hash in whole])
    shaped = shape(layout, records, raw, sources, seen)
    # Rows of an export that is refused as a whole are not refused once more one by one.
    early = [row for row in raw.refused if row.get("source_line") is None or row["export_hash"] not in whole]
    faults = pl.concat([refusals(early), *(frame.select(list(REFUSALS)) for frame in shaped.refused)])
    return Reading(shaped.frames, faults.unique(maintain_order=True) if faults.height > 1 else faults)


def _name_files(layout: Layout, raw: Raw, sources: dict[int, Source]) -> None:
    """Keep the name of each file like a header value, where a field is taken from it."""
    if any(plan.file_name is not None for record in layout.records for plan in record.fields):
        names = {index: source.export.name for index, source in sources.items()}
        name = pl.col("export").replace_strict(names, default=None, return_dtype=pl.String)
        unplaced = pl.lit(0, pl.Int64).alias(line_of(FILE_KEY))
        raw.tables[HEADER] = raw.tables[HEADER].with_columns(name.alias(cell(FILE_KEY)), unplaced)


def _miscounted(raw: Raw, plan: TablePlan) -> list[tuple[int, Refusing]]:
    """Return the exports whose table does not have the number of rows they declare."""
    if plan.declared is None:
        return []
    key, plus = plan.declared.key, plan.declared.plus
    counted = header_of(raw).join(raw.counts[plan.name], on="export", how="left", maintain_order="left")
    rows = pl.col("rows").fill_null(0).cast(pl.Int64)
    text, line = pl.col(cell(key)), pl.col(line_of(key))
    wanted = text.str.strip_chars().cast(pl.Int64, strict=False) + plus
    found = counted.select("export", text.alias("text"), line.alias("line"), rows.alias("rows"), wanted.alias("wanted"))
    return [
        (export, _miscount(plan, text, line, rows, wanted))
        for export, text, line, rows, wanted in found.filter(pl.col("wanted").ne_missing(pl.col("rows"))).iter_rows()
    ]


def _unitless(raw: Raw, plan: TablePlan, records: Sequence[BoundRecord]) -> list[tuple[int, Refusing]]:
    """Return the exports with rows whose header lacks the unit of a column, where the layout states none."""
    there = raw.tables[plan.name].select(pl.col("export").unique().implode())["export"]
    header = header_of(raw).filter(pl.col("export").is_in(there))
    found: dict[int, Refusing] = {}
    for field in (field for record in records if record.plan.table == plan.name for field in record.fields):
        key, column = field.plan.unit_head, field.plan.column
        if key is None or column is None or field.plan.unit is not None:
            continue
        reason = f"the header lacks '{key}', the unit of the column '{column}'"
        lacking = header.filter(clean(pl.col(cell(key))).is_null())["export"]
        found |= dict.fromkeys(lacking, Refusing("missing_field", reason, column_name=key))
    return list(found.items())


def _miscount(plan: TablePlan, text: str | None, line: int | None, rows: int, wanted: int | None) -> Refusing:
    place = f"line {line}: " if line else ""
    if wanted is None:
        code = "missing_field" if text is None else "not_a_number"
        return Refusing(code, f"{place}the number of rows of the table '{plan.name}' is not given", found=text)
    code = "truncated" if rows < wanted else "contradiction"
    return Refusing(code, f"{place}the export declares {wanted} rows, {rows} are there", found=text)
