"""What changed in specification sets from run to run, and which verdicts and pay changed with it."""

from collections.abc import Iterator

import polars as pl
from duckdb import DuckDBPyConnection

from pipeline.judging import OF_SETS
from schemas.describe import Description, describe
from warehouse.sql import fetch, listed, quoted

#: Columns that say where a row came from, not what the contract says.
_PLACES = {"export_hash", "source_part", "source_line", "issued_at", "stated_at"}

_RECORDS = (*OF_SETS, "specification_assignment")

#: Columns of `changed`.
CHANGED = ("run_id", "set_id", "record", "subject", "column", "before", "after")


def changed(connection: DuckDBPyConnection) -> pl.DataFrame:
    """Return every value of a set that a later issue changed: `CHANGED`, values as text, by run.

    The first issue of a row is no change; a row that was added later, or withdrawn, is one of its key.
    """
    return pl.concat([_of(connection, describe(name)) for name in _RECORDS]).sort(CHANGED)


def _of(connection: DuckDBPyConnection, record: Description) -> pl.DataFrame:
    key = record.ties.key
    told = [name for name in record.schema() if name not in {*_PLACES, *key}]
    rows = fetch(
        connection,
        f"SELECT {listed([*key, *told])}, valid_from_run, valid_to_run FROM {quoted(record.name)}",
    )
    subject = pl.concat_str(
        [pl.col(name).cast(pl.String) for name in key if name != "set_id"] or [pl.lit("the set")],
        separator=" ",
        ignore_nulls=True,
    )
    rows = rows.with_columns(subject=subject)
    pairs = rows.filter(pl.col("valid_to_run").is_not_null()).join(
        rows, left_on=[*key, "valid_to_run"], right_on=[*key, "valid_from_run"], nulls_equal=True, suffix="_new"
    )
    columns = [
        pairs.select(
            pl.col("valid_to_run").alias("run_id"),
            "set_id",
            pl.lit(record.name).alias("record"),
            "subject",
            pl.lit(name).alias("column"),
            pl.col(name).cast(pl.String).alias("before"),
            pl.col(f"{name}_new").cast(pl.String).alias("after"),
        ).filter(pl.col("before").ne_missing(pl.col("after")))
        for name in told
    ]
    return pl.concat(columns)


def verdicts(connection: DuckDBPyConnection) -> pl.DataFrame:
    """Return the verdicts that differ from before, in runs in which a set changed.

    `run_id`, `set_id`, `sample_id`, `limit_id`, `before`, `after`, `value`.
    """
    return fetch(
        connection,
        """
        SELECT n.valid_from_run AS run_id, n.set_id, n.sample_id, n.limit_id, o.verdict AS before,
               n.verdict AS after, n.value
        FROM judgement AS o JOIN judgement AS n
          ON n.sample_id = o.sample_id AND n.set_id = o.set_id AND n.limit_id = o.limit_id
             AND n.valid_from_run = o.valid_to_run
        WHERE o.verdict <> n.verdict
          AND n.valid_from_run IN (
              SELECT valid_to_run FROM specification_limit UNION SELECT valid_to_run FROM specification_set)
        ORDER BY ALL
        """,
    )


def pay(connection: DuckDBPyConnection) -> pl.DataFrame:
    """Return the lots whose pay differs from before.

    `run_id`, `project_id`, `mix_id`, `lot`, `plan_id`, `before`, `after`.
    """
    return fetch(
        connection,
        """
        SELECT n.valid_from_run AS run_id, n.project_id, n.mix_id, n.lot, n.plan_id, o.pay_pct AS before,
               n.pay_pct AS after
        FROM lot_result AS o JOIN lot_result AS n
          ON n.project_id = o.project_id AND n.mix_id = o.mix_id AND n.lot = o.lot AND n.plan_id = o.plan_id
             AND n.valid_from_run = o.valid_to_run
        WHERE o.pay_pct IS DISTINCT FROM n.pay_pct
        ORDER BY ALL
        """,
    )


def told(connection: DuckDBPyConnection, set_id: str | None = None) -> Iterator[str]:
    """Yield what changed in words, run by run."""
    values, judged, paid = changed(connection), verdicts(connection), pay(connection)
    if set_id is not None:
        values, judged = (each.filter(pl.col("set_id") == set_id) for each in (values, judged))
    for (run_id,), part in values.partition_by("run_id", as_dict=True, maintain_order=True).items():
        yield f"run {run_id}"
        for row in part.iter_rows(named=True):
            place = f"{row['set_id']}, {row['record'].replace('_', ' ')} {row['subject']}"
            yield f"  {place}: {row['column']} {row['before'] or 'none'} -> {row['after'] or 'none'}"
        for row in judged.filter(pl.col("run_id") == run_id).iter_rows(named=True):
            value = "" if row["value"] is None else f" ({row['value']:g})"
            yield f"    {row['sample_id']} by {row['limit_id']}: {row['before']} -> {row['after']}{value}"
        for row in paid.filter(pl.col("run_id") == run_id).iter_rows(named=True):
            lot = f"lot {row['lot']} of {row['mix_id']} by {row['plan_id']}"
            yield f"    {lot}: pay {_pct(row['before'])} -> {_pct(row['after'])}"


def _pct(value: float | None) -> str:
    return "none" if value is None else f"{value:.2f} %"
