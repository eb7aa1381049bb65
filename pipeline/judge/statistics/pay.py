"""Pay equations: piecewise lines over a measure of the lot, as data; and composite factors."""

import tomllib
from functools import cache
from pathlib import Path

import polars as pl

from pipeline.rounding import rounded

_FILE = Path(__file__).with_name("pay_equations.toml")

#: Columns of the pieces of pay equations. Of two bounds of a side at most one is given; null is unbounded.
PIECES: dict[str, pl.DataType] = {
    "equation": pl.String(),
    "measure": pl.String(),
    "form": pl.String(),
    "piece_no": pl.Int64(),
    "at_least": pl.Float64(),
    "above": pl.Float64(),
    "at_most": pl.Float64(),
    "below": pl.Float64(),
    "intercept": pl.Float64(),
    "slope": pl.Float64(),
    "decimals": pl.Int64(),
    "consequence": pl.String(),
    "source": pl.String(),
    "mark": pl.String(),
}


@cache
def published() -> pl.DataFrame:
    """Return the pieces of the published equations that come with the program (`PIECES`)."""
    stated = tomllib.loads(_FILE.read_text(encoding="utf-8"))["equation"]
    rows = [
        {name: equation.get(name) for name in PIECES}
        | {"equation": equation["name"], "piece_no": number}
        | {name: value for name, value in piece.items() if name in PIECES}
        for equation in stated
        for number, piece in enumerate(equation["piece"], start=1)
    ]
    return pl.DataFrame(rows, schema=PIECES, orient="row")


def pay(frame: pl.DataFrame, pieces: pl.DataFrame) -> pl.DataFrame:
    """Add what a pay equation gives.

    Parameters
    ----------
    frame
        `equation` and `x`, the measure of the lot that equation is over; null where there is none.
    pieces
        As from `published`.

    Returns
    -------
    The frame with `pay_value` as the equation gives it, `pay_pct` in percent of the contract price, `consequence`
    (such as removal, in words; null otherwise), `pay_rule` (the line that applied, in words) and `pay_source`.
    """
    row, x = "pay_row", pl.col("x_compared")
    numbered = frame.with_row_index(row)
    joined = (
        numbered.select(row, "equation", "x")
        .join(pieces, on="equation", how="inner")
        .with_columns(x_compared=pl.when(pl.col("decimals").is_null()).then("x").otherwise(_rounded()))
    )
    holds = (
        (pl.col("at_least").is_null() | (x >= pl.col("at_least")))
        & (pl.col("above").is_null() | (x > pl.col("above")))
        & (pl.col("at_most").is_null() | (x <= pl.col("at_most")))
        & (pl.col("below").is_null() | (x < pl.col("below")))
    )
    # Where two pieces meet, the equations are stated so that the first that holds counts.
    found = joined.filter(x.is_not_null() & holds).sort(row, "piece_no").unique(row, keep="first", maintain_order=True)
    value = pl.col("intercept") + pl.col("slope") * x
    paid = (
        pl.when(pl.col("form") == "factor")
        .then(value * 100)
        .when(pl.col("form") == "adjustment_pct")
        .then(value + 100)
        .when(pl.col("form") == "adjustment")
        .then(value * 100 + 100)
        .otherwise(value)
    )
    told = found.select(
        row,
        value.alias("pay_value"),
        paid.alias("pay_pct"),
        "consequence",
        _line(x).alias("pay_rule"),
        pl.concat_str("source", pl.format("({})", "mark"), separator=" ", ignore_nulls=True).alias("pay_source"),
    )
    return numbered.join(told, on=row, how="left", maintain_order="left").drop(row)


def _rounded() -> pl.Expr:
    return rounded(pl.col("x"), pl.col("decimals").fill_null(0))


def _line(x: pl.Expr) -> pl.Expr:
    """Return the piece in words, the measure with as many decimals as tell it apart."""
    shown = rounded(x, 4)
    sign = pl.when(pl.col("slope") < 0).then(pl.lit("-")).otherwise(pl.lit("+"))
    straight = pl.format("{}: {} {} {} × {}", "measure", "intercept", sign, pl.col("slope").abs(), shown)
    step = pl.format("{} {}: {}", "measure", shown, "intercept")
    return pl.when(pl.col("slope") == 0).then(step).otherwise(straight)


def composite(frame: pl.DataFrame, keys: list[str], rule: str = "weighted") -> pl.DataFrame:
    """Return the factor of a whole lot from those of its properties.

    Parameters
    ----------
    frame
        `keys`, `pay_pct`, `weight`.
    rule
        `weighted`: Σ w f / Σ w, as FDOT section 334; `lowest`: the lowest factor counts, as UFGS 02749.

    Returns
    -------
    `keys`, `composite_pct` (null where a factor is missing), `weights`.
    """
    whole = pl.col("pay_pct").null_count() == 0
    weights = pl.col("weight").sum()
    value = (pl.col("weight") * pl.col("pay_pct")).sum() / weights if rule == "weighted" else pl.col("pay_pct").min()
    return frame.group_by(keys, maintain_order=True).agg(
        pl.when(whole).then(value).alias("composite_pct"), weights.alias("weights")
    )
