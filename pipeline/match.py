"""Accepted rows that name something the register does not know: kept, listed, and taken up when it arrives."""

from collections.abc import Mapping

import polars as pl

from pipeline.reading import REFUSAL_SCHEMA
from plugins.api import CATALOGUE
from schemas.describe import describe
from schemas.vocabulary import Stage

#: Column that names a register entry -> code of the refusal when it is unknown.
_CODES = {"sample_id": "unknown_sample", "mix_id": "unknown_mix"}


def unmatched(rows: Mapping[str, pl.DataFrame], register: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """List what waits for the register: one refusal per export, record, unknown name and sample, at its first line.

    A sample each, so that what a run lists does not depend on which other samples it touched.

    Parameters
    ----------
    rows
        Current rows per record, of the samples under consideration.
    register
        Current rows of the records that are named: `sample`, `mix_design`.
    """
    found = [
        _unknown(frame, record, column, register[named])
        for record, frame in rows.items()
        for column, named in describe(record).ties.refers.items()
        if column in _CODES and named in register and column in frame.columns
    ]
    return pl.concat(found) if found else pl.DataFrame(schema=REFUSAL_SCHEMA)


def _unknown(frame: pl.DataFrame, record: str, column: str, known: pl.DataFrame) -> pl.DataFrame:
    code = _CODES[column]
    entry = CATALOGUE[code]
    waiting = (
        frame.filter(pl.col(column).is_not_null())
        .join(known.select(column).unique(), on=column, how="anti")
        .sort("source_line")
        .group_by("export_hash", "sample_id", pl.col(column).alias("named"), maintain_order=True)
        .agg(pl.col("source_part", "source_line").first(), pl.len().alias("rows"))
    )
    given = {
        "stage": pl.lit(Stage.MATCH.value),
        "code": pl.lit(code),
        "record": pl.lit(record),
        "column_name": pl.lit(column),
        "found": pl.col("named"),
        "reason": pl.format(
            "{} {} is not in the register; {} row(s) of this export wait for it",
            pl.lit("sample" if column == "sample_id" else "mix"),
            "named",
            "rows",
        ),
        "remedy": pl.lit(entry.remedy),
    }
    return waiting.select(
        (given.get(name, pl.col(name))).cast(dtype).alias(name) for name, dtype in REFUSAL_SCHEMA.items()
    )
