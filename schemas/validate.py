"""Frame + record -> accepted frame and refused cells with reason; pandera's wording never leaves this module."""

from dataclasses import dataclass
from functools import cache

import pandera.errors
import polars as pl

from schemas import catalogue
from schemas.describe import describe

#: Columns of the frame of refused cells.
REFUSED_SCHEMA: dict[str, pl.DataType] = {
    "export_hash": pl.String(),
    "source_part": pl.String(),
    "source_line": pl.Int64(),
    "record": pl.String(),
    "column_name": pl.String(),
    "found": pl.String(),
    "reason": pl.String(),
}

_PLACE = ("export_hash", "source_part", "source_line")


@dataclass(frozen=True)
class Checked:
    """Rows that keep the record's schema, and the cells that break it (`REFUSED_SCHEMA`)."""

    accepted: pl.DataFrame
    refused: pl.DataFrame


def conform(frame: pl.DataFrame, name: str) -> pl.DataFrame:
    """Bring a frame to the columns and types of a record; a column it lacks is null throughout."""
    schema = describe(name).schema()
    given = frame.schema
    made = [
        pl.col(column).cast(dtype, strict=False) if column in given else pl.lit(None, dtype).alias(column)
        for column, dtype in schema.items()
        if given.get(column) != dtype
    ]
    whole = frame.with_columns(made) if made else frame
    return whole if whole.columns == list(schema) else whole[list(schema)]


def validate(frame: pl.DataFrame, name: str) -> Checked:
    """Check a whole batch of one record in a single call.

    Parameters
    ----------
    frame
        Rows of the record with `export_hash`, `source_part` and `source_line`.
    name
        Name of the record.
    """
    conformed = conform(frame, name)
    if _keeps(conformed, name):
        return Checked(conformed, pl.DataFrame(schema=REFUSED_SCHEMA))
    try:
        catalogue.records()[name].validate(conformed, lazy=True)
    except pandera.errors.SchemaErrors as fault:
        return _split(conformed, fault.failure_cases, name)
    return Checked(conformed, pl.DataFrame(schema=REFUSED_SCHEMA))


def _keeps(frame: pl.DataFrame, name: str) -> bool:
    """Return whether every cell keeps its column's bounds, words and nullability: one pass over the whole frame."""
    return all(frame.select(_rules(name)).row(0))


@cache
def _rules(name: str) -> list[pl.Expr]:
    """Return one truth per rule of the record, as its description states it."""
    columns = describe(name).columns
    checks = [
        (~pl.col(column.name).has_nulls()).alias(f"there {column.name}") for column in columns if not column.nullable
    ]
    for column in columns:
        cells = pl.col(column.name)
        # The ends of a column say of all its cells what no cell by itself need be asked; a column of nulls has none.
        rules = {
            "above": cells.min() > column.above if column.above is not None else None,
            "at_least": cells.min() >= column.at_least if column.at_least is not None else None,
            "at_most": cells.max() <= column.at_most if column.at_most is not None else None,
            "word": cells.is_in(list(column.words)).all() if column.words is not None else None,
        }
        kept = [rule.fill_null(True).alias(f"{column.name} {of}") for of, rule in rules.items() if rule is not None]
        if column.dtype.is_float() and (column.at_most is not None or not column.nullable):
            # What is no number shows in the sum, not at the ends; infinities of both signs only cost a closer look.
            kept.append((~cells.sum().is_nan()).alias(f"number {column.name}"))
        checks.extend(kept)
    return checks


def _split(frame: pl.DataFrame, cases: pl.DataFrame, name: str) -> Checked:
    description = describe(name)
    numbered = frame.with_row_index("row")
    faults = cases.select(
        pl.col("index").cast(pl.UInt32).alias("row"),
        pl.col("column").alias("column_name"),
        pl.col("failure_case").alias("found"),
        (pl.col("check") == "not_nullable").alias("absent"),
    ).unique(["row", "column_name"], maintain_order=True)
    expected = {column.name: column.expected() for column in description.columns}
    wanted = pl.col("column_name").replace_strict(expected, default="a valid value")
    reason = (
        pl.when("absent")
        .then(pl.format("'{}' is missing; expected {}", "column_name", wanted))
        .otherwise(pl.format("'{}' is {}; expected {}", "column_name", pl.col("found").fill_null("empty"), wanted))
    )
    refused = (
        faults.join(numbered.select("row", *_PLACE), on="row", how="left")
        .with_columns(record=pl.lit(name), reason=reason)
        .select([pl.col(column).cast(dtype) for column, dtype in REFUSED_SCHEMA.items()])
    )
    accepted = numbered.join(faults.select("row").unique(), on="row", how="anti", maintain_order="left").drop("row")
    return Checked(accepted, refused)
