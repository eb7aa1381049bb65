"""What a warehouse says, apart from when it came to know it: the measure of 'the same warehouse'."""

from pathlib import Path
from typing import TYPE_CHECKING

from schemas.describe import Description, describe_all

if TYPE_CHECKING:
    import polars as pl

#: Columns that say when something became known, not what is so.
BOOKKEEPING = {"received_at", "run_id", "valid_from_run", "valid_to_run"}
_OWN_TABLES = {"run", "series_part", "series_export"}


def _select(description: Description) -> str:
    columns = [f'"{column.name}"' for column in description.columns if column.name not in BOOKKEEPING]
    if description.imported:
        columns.append("valid_to_run is null as is_current")
    # Rows an export no longer gives, having been read again, are history; so are results that were replaced.
    where = ""
    if description.imported:
        where = "where withdrawn_run is null"
    elif "valid_to_run" in description.schema():
        where = "where valid_to_run is null"
    return f'select {", ".join(columns)} from "{description.name}" {where} order by all'


def contents(workspace: Path, as_of: str | None = None) -> "dict[str, pl.DataFrame]":
    """Return every table of the published warehouse without its bookkeeping, in a fixed order of rows.

    Parameters
    ----------
    as_of
        A moment to look back to, as in `warehouse.read.connect`.
    """
    from warehouse.read import connect
    from warehouse.sql import fetch

    tables = [each for each in describe_all() if each.ties.storage == "table" and each.name not in _OWN_TABLES]
    with connect(workspace, as_of) as connection:
        return {each.name: fetch(connection, _select(each)) for each in tables}


def differences(before: "dict[str, pl.DataFrame]", after: "dict[str, pl.DataFrame]") -> "dict[str, pl.DataFrame]":
    """Return the rows of each table that only one side has, with a column `side` saying which."""
    import polars as pl

    found = {}
    for name, left in before.items():
        right = after[name]
        if left.equals(right):
            continue
        sides = [
            one.join(other, on=one.columns, how="anti", nulls_equal=True).with_columns(side=pl.lit(side))
            for side, one, other in (("before", left, right), ("after", right, left))
        ]
        found[name] = pl.concat(sides)
    return found


#: What identifies a figure, whatever gave it.
_FIGURE = ["sample_id", "level", "method", "specimen_no", "property", "point"]


def changed_figures(found: "dict[str, pl.DataFrame]") -> "pl.DataFrame | None":
    """Return the figures that differ, one row each with the value before and after, and why; None if none does.

    Parameters
    ----------
    found
        As `differences` gives it.
    """
    import polars as pl

    if "property_value" not in found:
        return None
    rows = found["property_value"]
    before, after = (rows.filter(side=side).drop("side") for side in ("before", "after"))
    both = before.with_columns(there=pl.lit(True)).join(
        after.with_columns(there=pl.lit(True)), on=_FIGURE, how="full", coalesce=True, nulls_equal=True, suffix="_after"
    )

    def differs(name: str) -> pl.Expr:
        return pl.col(name).ne_missing(pl.col(f"{name}_after"))

    reasons = {
        "not computed before": pl.col("there").is_null(),
        "not computed any more": pl.col("there_after").is_null(),
        "computed by another way": differs("route"),
        "formula changed": differs("formula_version"),
        "settings changed": differs("parameters"),
        "what it rests on is read otherwise": differs("value") | differs("withheld") | differs("n") | differs("spread"),
        "checked otherwise": differs("flags"),
    }
    why = pl.coalesce(*(pl.when(holds).then(pl.lit(words)) for words, holds in reasons.items()), pl.lit("uncertainty"))
    return both.select(
        *_FIGURE, pl.col("value").alias("value_before"), "value_after", "withheld", "withheld_after", why.alias("why")
    ).sort(_FIGURE)
