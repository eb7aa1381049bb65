"""Tables of text cells -> frames per record in stored units, and a refusal for each bad cell."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import polars as pl

from plugins.api import REFUSALS, remedy_of
from plugins.layout.bound import BoundField, BoundRecord
from plugins.layout.convert import Conversion, clean, conversion, convertible, number_and_unit
from plugins.layout.model import FILE_KEY, HEADER, FieldPlan, Layout, RecordPlan
from plugins.layout.places import Cell, beside_of, clear_numbers, texts_of, units_beside, with_head_units
from plugins.layout.tables import Raw, Source, cell, kept, line_of, taken
from schemas.units import to_stored

_VALUE_LIMIT = 200

#: Rows up to which cells are converted step by step, without a plan made first.
_FEW = 64

#: Column for the last line of a record's header values.
_HEAD_LINE = "head line"

#: Columns of what stood at the place of a field and what it was read as: a frame per field, a row per record.
SEEN = (
    *("record", "stated_on", "header", "export", "part", "line", "at", "field", "place", "raw", "value"),
    *("unit", "written_in", "looked_up", "code"),
)


@dataclass
class Shaped:
    """Frames by record and frames of refusals."""

    frames: dict[str, pl.DataFrame]
    refused: list[pl.DataFrame]


def shape(
    layout: Layout,
    records: Sequence[BoundRecord],
    raw: Raw,
    sources: Sequence[Source],
    seen: list[pl.DataFrame] | None = None,
) -> Shaped:
    """Make the records of a layout out of the tables of a batch; `seen` takes what stood at each place (`SEEN`)."""
    hashes = pl.DataFrame(
        {"export": [source.index for source in sources], "export_hash": [source.export.hash for source in sources]},
        schema={"export": pl.UInt32(), "export_hash": pl.String()},
    )
    refused: list[pl.DataFrame] = []
    heads = _heads(layout, records, raw, hashes, refused, seen)
    frames: dict[str, list[pl.DataFrame]] = {}
    for number, record in enumerate(records):
        frame = _record(layout, record, raw, heads[number], hashes, refused, seen)
        frames.setdefault(record.description.name, []).append(frame)
    return Shaped({name: pl.concat(parts, how="diagonal") for name, parts in frames.items()}, refused)


def _header_cell(field: BoundField, record: BoundRecord) -> Cell | None:
    plan = field.plan
    if plan.take is not None and plan.column is not None:
        key = taken(plan.table or record.plan.table or "", plan.column)
        return Cell(field, cell(key), f"the last '{plan.column}'", plan.column, line_of(key))
    if plan.header is None:
        return None
    label = "the name of the file" if plan.header == FILE_KEY else f"'{plan.header}'"
    return Cell(field, cell(plan.header, plan.nth), label, plan.header, line_of(plan.header))


def _heads(
    layout: Layout,
    records: Sequence[BoundRecord],
    raw: Raw,
    hashes: pl.DataFrame,
    refused: list[pl.DataFrame],
    seen: list[pl.DataFrame] | None,
) -> list[pl.DataFrame]:
    """Return per record the header values of each export; an export with a bad one is refused as a whole."""
    header = _with_last(records, raw).join(hashes, on="export", how="left", maintain_order="left")
    heads, bad = [], []
    same: dict[object, pl.DataFrame] = {}
    for record in records:
        cells = [found for field in record.fields if (found := _header_cell(field, record))]
        # Records made once for each of several marks mostly share their header values.
        rows = (record.description.name, record.plan.table, record.plan.present, record.plan.where)
        if seen is None and (shared := same.get((*rows, *cells))) is not None:
            heads.append(shared)
            continue
        # A header value a record needs is refused only where the export has a row for it.
        own = _having_rows(header, record, raw)
        typed, faults = _typed(layout, own, cells, record, seen)
        there = set(typed.columns)
        lines = [found.lines for found in cells if found.lines in there and found.field.plan.take is None]
        last = pl.max_horizontal("line", *dict.fromkeys(lines)).alias(_HEAD_LINE)
        heads.append(typed.select("export", "export_hash", last, *(found.field.plan.target for found in cells)))
        same[(*rows, *cells)] = heads[-1]
        bad.extend(faults)
    if bad:
        whole = pl.concat(bad).unique(["export", "column_name", "code"], keep="first", maintain_order=True)
        placed = pl.when(pl.col("source_line") > 0).then(pl.concat_str(pl.lit("line "), "source_line", pl.lit(": ")))
        if not layout.blocks:  # a block is refused at its line, an export as a whole
            whole = whole.with_columns(
                pl.concat_str(placed.fill_null(""), "reason").alias("reason"),
                pl.lit(None, pl.Int64).alias("source_line"),
            )
        refused.append(_complete(whole, hashes))
        kept(raw, whole["export"].to_list())
    return heads


def _having_rows(header: pl.DataFrame, record: BoundRecord, raw: Raw) -> pl.DataFrame:
    if record.plan.table is None:
        return header
    rows = raw.tables[record.plan.table]
    if record.plan.present is not None or record.plan.where:
        rows = _counting(rows.lazy(), record.plan).collect()
    return header.filter(pl.col("export").is_in(rows.select(pl.col("export").unique().implode())["export"]))


def _counting(rows: pl.LazyFrame, plan: RecordPlan) -> pl.LazyFrame:
    """Return the rows that give a record: those with `present` and the conditions of `where`."""
    if plan.present is not None:
        rows = rows.filter(clean(pl.col(cell(plan.present))).is_not_null())
    for condition in plan.where:
        text = pl.col(cell(condition.column)).str.strip_chars().fill_null("")
        if condition.is_:
            rows = rows.filter(text.is_in(list(condition.is_)))
        if condition.not_:
            rows = rows.filter(~text.is_in(list(condition.not_)))
        if condition.pattern is not None:
            rows = rows.filter(text.str.contains(condition.pattern))
    return rows


def _with_last(records: Sequence[BoundRecord], raw: Raw) -> pl.DataFrame:
    header = raw.tables[HEADER].lazy()
    wanted: dict[str, FieldPlan] = {}
    for record in records:
        for field in record.fields:
            if field.plan.take is not None and field.plan.column is not None:
                wanted[taken(field.plan.table or record.plan.table or "", field.plan.column)] = field.plan
    for key, plan in wanted.items():
        # A last row that is no number is refused as a row; it must not take the whole export with it.
        rows = raw.tables[plan.table or ""]
        number = pl.col(cell(plan.column or ""))
        if rows.schema[cell(plan.column or "")] == pl.String:
            number = clean(number).cast(pl.Float64, strict=False)
        last = (
            rows.lazy()
            .filter(number.is_not_null())
            .group_by("export", maintain_order=True)
            .agg(pl.col(cell(plan.column or "")).last().alias(cell(key)), pl.col("line").last().alias(line_of(key)))
        )
        header = header.join(last, on="export", how="left", maintain_order="left")
    return header.collect() if wanted else raw.tables[HEADER]


def _record(
    layout: Layout,
    record: BoundRecord,
    raw: Raw,
    head: pl.DataFrame,
    hashes: pl.DataFrame,
    refused: list[pl.DataFrame],
    seen: list[pl.DataFrame] | None,
) -> pl.DataFrame:
    plan = record.plan
    rows = raw.tables[plan.table or HEADER]
    if plan.present is not None or plan.where:
        rows = _counting(rows.lazy(), plan).collect()
    if plan.present is not None and line_of(plan.present) in rows.columns:
        rows = rows.with_columns(pl.col(line_of(plan.present)).alias("line"))
    rows = with_head_units(rows, raw.tables[HEADER], record.fields)
    cells = [
        Cell(field, cell(column), f"column '{column}'", column, line_of(column))
        for field in record.fields
        if (column := field.plan.column) is not None and field.plan.take is None
    ]
    typed, faults = _typed(layout, rows, cells, record, seen)
    if faults:
        refused.append(_complete(pl.concat(faults), hashes))
        typed = typed.filter(~pl.col("faulty"))
    given: dict[str, pl.Expr] = {}
    if hashes.height == 1:  # one export: what holds for all its rows is kept once, not row by row
        given = {values.name: pl.lit(values).first() for values in head}
    else:
        typed = typed.join(head, on="export", how="left", maintain_order="left")
    for field in record.fields:
        if field.plan.constant is not None:
            given[field.column.name] = pl.lit(field.plan.constant).cast(field.column.dtype)
    filled = {field.column.name for field in record.fields}
    names = [name for name in record.description.schema() if name in filled]
    # The values of a block stand on several lines: the last is where it is whole.
    line = _HEAD_LINE if layout.blocks and plan.table is None else "line"
    return typed.select(
        *(given.get(name, pl.col(name)).alias(name) for name in (*names, "export_hash")),
        pl.col("part").alias("source_part"),
        given.get(line, pl.col(line)).alias("source_line"),
    )


def _typed(
    layout: Layout,
    rows: pl.DataFrame,
    cells: Sequence[Cell],
    record: BoundRecord,
    seen: list[pl.DataFrame] | None = None,
) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    """Convert the cells; return the rows with a typed column per field (`faulty` too if one is), and the faults."""
    clear = clear_numbers(layout, rows, cells)
    there = set(rows.columns)
    if new := [numbers for numbers in clear.values() if numbers.name not in there]:
        rows = rows.with_columns(new)
    texts = texts_of(layout, there, [found for at, found in enumerate(cells) if at not in clear])
    if seen is not None:
        texts.extend(pl.col(cells[at].source).alias(cells[at].text) for at in clear)
    # One lazy plan for all columns saves work on many texts; for few, planning takes longer than the work.
    plain = rows.height <= _FEW or not texts
    base: pl.DataFrame | pl.LazyFrame = rows
    if texts:
        base = rows.with_columns(texts) if plain or units_beside(cells, there) else rows.lazy().with_columns(texts)
    values, bad, plans, marks = [], [], [], {}
    for number, found in enumerate(cells):
        if number in clear:
            made, fault = _converted(clear[number], found), _Fault()
        else:
            made, fault = _kept_conversion(layout, base, found)
        if fault.there is not None:
            bad.append(fault.there.alias(f"x{number}"))
            marks[number] = f"x{number}"
        plans.append((made, fault))
        values.append(made.value.alias(found.field.plan.target))
    if isinstance(base, pl.DataFrame) and plain:
        done = base.with_columns(values) if values else base
        done = done.with_columns(bad) if bad else done
    else:
        done = base.lazy().with_columns(values).with_columns(bad).collect()
    faults = [
        _faults(done, number, cells[number], plans[number], record)
        for number, mark in marks.items()
        if done[mark].any()
    ]
    done = done.with_columns(pl.any_horizontal(*marks.values()).alias("faulty")) if faults else done
    if seen is not None:
        seen.extend(_seen(done, number, found, plans[number][1].code(), record) for number, found in enumerate(cells))
    return done, faults


def _converted(numbers: pl.Series, found: Cell) -> Conversion:
    """Return the conversion of numbers already read: only the unit is left to do."""
    column, value = found.field.column, pl.col(numbers.name)
    if column.unit is not None:
        value = to_stored(value, found.field.plan.unit or column.unit, column.unit)
    if column.dtype != pl.Float64:
        value = value.cast(column.dtype)
    return Conversion(value, "not_a_number", "a number")


def _seen(base: pl.DataFrame, number: int, found: Cell, code: pl.Expr, record: BoundRecord) -> pl.DataFrame:
    """Return what stood at the place of one field in every row, and what it was read as (`SEEN`)."""
    plan, column = found.field.plan, found.field.column
    beside = beside_of(plan)
    unit = pl.coalesce(pl.col(beside), pl.lit(plan.unit)) if beside in base.columns else pl.lit(plan.unit, pl.String)
    values = (
        pl.lit(record.description.name).alias("record"),
        pl.lit(record.plan.line).alias("stated_on"),
        pl.lit(plan.header is not None or plan.take is not None).alias("header"),
        "export",
        pl.col("part"),
        pl.col("line"),
        (pl.col(found.lines) if found.lines in base.columns else pl.col("line")).alias("at"),
        pl.lit(plan.target).alias("field"),
        pl.lit(found.label).alias("place"),
        pl.col(found.text).alias("raw"),
        pl.col(plan.target).cast(pl.String).alias("value"),
        pl.lit(column.unit, pl.String).alias("unit"),
        unit.alias("written_in"),
        pl.lit(plan.words is not None).alias("looked_up"),
        code.alias("code"),
    )
    return base.select(values)


@dataclass(frozen=True)
class _Fault:
    """Whether a cell is bad (None: it cannot be), and the code of its fault, made only where there is one."""

    there: pl.Expr | None = None
    code: Callable[[], pl.Expr] = lambda: pl.lit(None, pl.String)


def _kept_conversion(layout: Layout, base: pl.DataFrame | pl.LazyFrame, found: Cell) -> tuple[Conversion, _Fault]:
    """Return the conversion of a cell and its fault, made once for all batches unless units stand beside the values."""
    if isinstance(base, pl.DataFrame) and beside_of(found.field.plan) in base.columns:
        return _conversion(layout, base, found, pl.col(found.text))
    if found.text not in found.field.made:
        found.field.made[found.text] = _conversion(layout, base, found, pl.col(found.text))
    made: tuple[Conversion, _Fault] = found.field.made[found.text]
    return made


def _conversion(
    layout: Layout, base: pl.DataFrame | pl.LazyFrame, found: Cell, text: pl.Expr
) -> tuple[Conversion, _Fault]:
    """Return the conversion of a cell and its fault."""
    plan, column = found.field.plan, found.field.column
    beside = beside_of(plan)
    units: list[str] = []
    unit = None
    if isinstance(base, pl.DataFrame) and beside in base.columns and column.unit is not None:
        unit, units = pl.col(beside), base[beside].drop_nulls().unique().to_list()
    words = layout.words[plan.words] if plan.words else None
    counted = text.str.extract(plan.pattern, 1) if plan.pattern else text
    if plan.unit_inside:
        counted = number_and_unit(counted)[0]
    made = conversion(counted, column, layout.writing, words, unit, plan.unit, units, plan.times)
    if plan.pattern:
        made = Conversion(made.value, "not_a_word", f"a text of the pattern {plan.pattern} with {made.expected}")
    value = pl.col(plan.target)
    strange = [one for one in units if column.unit and not convertible(one, column.unit)]
    foreign = pl.col(beside).is_in(strange) if strange else None
    # Without a value a cell is bad where it holds a text, and where one is needed whether it does or not.
    there = value.is_null() if found.field.required else text.is_not_null() & value.is_null()
    if foreign is not None:
        there |= text.is_not_null() & foreign.fill_null(False)
    return made, _Fault(there, lambda: _code(text, value, foreign, found.field.required, made.code))


def _code(text: pl.Expr, value: pl.Expr, foreign: pl.Expr | None, required: bool, unread: str) -> pl.Expr:
    """Return the code of the fault of a cell: it lacks, its unit is foreign, or its text cannot be read."""
    return (
        pl.when(text.is_null())
        .then(pl.lit("missing_field" if required else None, pl.String))
        .when(foreign.fill_null(False) if foreign is not None else pl.lit(False))
        .then(pl.lit("unknown_unit"))
        .when(value.is_null())
        .then(pl.lit(unread))
    )


def _faults(
    base: pl.DataFrame, number: int, found: Cell, conversion_of: tuple[Conversion, _Fault], record: BoundRecord
) -> pl.DataFrame:
    made, fault = conversion_of
    faulty = base.filter(pl.col(f"x{number}")).with_columns(fault.code().alias("its code"))
    plan, column = found.field.plan, found.field.column
    line = pl.col(found.lines) if found.lines in base.columns else pl.col("line")
    name = f"{found.label} ({plan.target})"
    text = pl.col(found.text).str.slice(0, _VALUE_LIMIT)
    code = pl.col("its code")
    beside = beside_of(plan)
    unit = pl.col(beside) if beside in base.columns else pl.lit(None, pl.String)
    wanted = f"'{column.unit}' or a unit of the same quantity"
    reason = (
        pl.when(code == "missing_field")
        .then(pl.lit(f"{name} is missing; each {record.description.name} needs it"))
        .when(code == "unknown_unit")
        .then(pl.concat_str(pl.lit(f"{name} has the unit '"), unit.fill_null(""), pl.lit(f"'; expected {wanted}")))
        .otherwise(pl.concat_str(pl.lit(f"{name} is '"), text.fill_null(""), pl.lit(f"'; expected {made.expected}")))
    )
    return faulty.select(
        "export",
        code.alias("code"),
        pl.col("part").alias("source_part"),
        line.fill_null(pl.col("line")).alias("source_line"),
        pl.lit(record.description.name).alias("record"),
        pl.lit(found.key).alias("column_name"),
        pl.when(code == "unknown_unit").then(unit).otherwise(text).alias("found"),
        reason.alias("reason"),
    )


def _complete(faults: pl.DataFrame, hashes: pl.DataFrame) -> pl.DataFrame:
    codes: Iterable[str] = faults["code"].unique().to_list()
    remedies = {code: remedy_of(code) for code in codes}
    joined = faults.join(hashes, on="export", how="left", maintain_order="left")
    remedy = pl.col("code").replace_strict(remedies, return_dtype=pl.String)
    return joined.with_columns(remedy.alias("remedy")).select(list(REFUSALS))
