"""Quality index and percent within limits: closed form and the two published ways of reading a table.

Sources: NJDOT Standard Specifications 2019, 401.03.07.H and Tables ST-3 to ST-9; FHWA T 5080.12, Table 1B;
Colorado CP 71-11, section 2 (the symmetric beta distribution behind every table).
"""

import polars as pl

from pipeline.judge.statistics.distributions import beta_below, beta_point, column
from pipeline.rounding import rounded
from schemas.vocabulary import LookUp

#: Fewest results for which a percentage within limits is defined.
FEWEST = 3

#: First number of results of each column of FHWA T 5080.12 Table 1B; a column is computed for its first.
COLUMNS_OF_TABLE = (3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 19, 26, 38, 70, 201)

#: Decimals of Q in the table of a look-up.
_DECIMALS = {LookUp.NEXT_PWL: 2, LookUp.NEXT_PWL_FINE: 4}


def percent_defective(frame: pl.DataFrame, q: pl.Expr, n: pl.Expr) -> pl.Series:
    """Return the estimated percentage beyond a limit, by the closed form behind the tables.

    PD = 100 I_x(n/2 - 1, n/2 - 1) with x = max(0, 1/2 - Q √n / (2(n - 1))); null for fewer than three results.
    Beyond the largest useful Q it is exactly 0 or 100.
    """
    usable = pl.when(n >= FEWEST).then(n)
    x = (0.5 - q * n.cast(pl.Float64).sqrt() / (2 * (n - 1))).clip(0, 1)
    return column(frame, beta_below, x, usable * 0.5 - 1) * 100


def index_of(pwl: pl.DataFrame, decimals: int | None = None) -> pl.Series:
    """Return the Q at which a percentage within limits is reached (`pwl` in %, `n`): the inverse of the closed form."""
    n = pl.col("n")
    x = pl.Series("x", column(pwl, beta_point, 1 - pl.col("pwl") * 0.01, n * 0.5 - 1))
    q = pwl.with_columns(x=x).select((0.5 - pl.col("x")) * 2 * (n - 1) / n.cast(pl.Float64).sqrt()).to_series()
    if decimals is None:
        return q
    return q.to_frame("q").select(rounded(pl.col("q"), decimals)).to_series()


def table(decimals: int, first: int) -> pl.DataFrame:
    """Return one column of the table of smallest Q for a whole percentage: `line` (50 to 100), `q_line`."""
    lines = pl.DataFrame({"line": range(50, 101)}).with_columns(pwl=pl.col("line").cast(pl.Float64), n=pl.lit(first))
    return lines.select("line", index_of(lines, decimals).alias("q_line"), pl.lit(first).alias("first"))


def _whole(frame: pl.DataFrame, q: str, look_up: LookUp) -> pl.Series:
    """Read whole percentages within one limit from the table: between two lines the higher percentage."""
    decimals = _DECIMALS[look_up]
    n = pl.col("n")
    first = pl.lit(None, pl.Int64)
    for start in COLUMNS_OF_TABLE:
        first = pl.when(n >= start).then(start).otherwise(first)
    asked = frame.select(
        rounded(pl.col(q), decimals).alias("asked"), first.cast(pl.Int64).alias("first")
    ).with_row_index("row")
    starts = asked["first"].drop_nulls().unique().to_list()
    lines = pl.concat([table(decimals, start) for start in starts] or [table(decimals, FEWEST).clear()])
    lines = lines.with_columns(pl.col("first").cast(pl.Int64)).sort("q_line", "line")
    positive = asked.filter(pl.col("asked") >= 0, pl.col("first").is_not_null()).sort("asked")
    negative = asked.filter(pl.col("asked") < 0, pl.col("first").is_not_null())
    negative = negative.with_columns(-pl.col("asked")).sort("asked")
    keys = {"left_on": "asked", "right_on": "q_line", "by": "first", "check_sortedness": False}
    up = positive.join_asof(lines, strategy="forward", **keys).select(  # type: ignore[arg-type]
        "row", pl.col("line").fill_null(100)
    )
    down = negative.join_asof(lines, strategy="backward", **keys).select(  # type: ignore[arg-type]
        "row", (100 - pl.col("line")).alias("line")
    )
    found = pl.concat([up, down])
    return asked.join(found, on="row", how="left", maintain_order="left")["line"].cast(pl.Float64)


def within_one(frame: pl.DataFrame, q: str, look_up: LookUp) -> pl.Series:
    """Return the percentage within one limit for the quality index in column `q` and `n` results."""
    if look_up in _DECIMALS:
        return _whole(frame, q, look_up)
    index = rounded(pl.col(q), 2) if look_up is LookUp.Q_HUNDREDTHS else pl.col(q)
    defective = percent_defective(frame, index, pl.col("n"))
    if look_up is LookUp.Q_HUNDREDTHS:
        defective = defective.to_frame("pd").select(rounded(pl.col("pd"), 2)).to_series()
    return 100 - defective


def percent_within(frame: pl.DataFrame) -> pl.DataFrame:
    """Add quality indices and percentages within limits to lots.

    Parameters
    ----------
    frame
        `n`, `mean`, `s` (n - 1), `lower`, `upper` (null: no limit on that side), `look_up` (`LookUp`).

    Returns
    -------
    The frame with `q_lower`, `q_upper`, `pwl_lower`, `pwl_upper` (100 where there is no limit), `pwl` and `pd` in %
    and `pwl_reason`: why there is none. Where all results are equal (s = 0) a side is wholly within or wholly beyond.
    """
    row = "lot_row"
    numbered = frame.with_row_index(row).with_columns(
        q_lower=pl.when(pl.col("s") > 0).then((pl.col("mean") - pl.col("lower")) / pl.col("s")),
        q_upper=pl.when(pl.col("s") > 0).then((pl.col("upper") - pl.col("mean")) / pl.col("s")),
    )
    parts = []
    for word in LookUp:
        part = numbered.filter(pl.col("look_up") == word.value)
        if part.height:
            sides = [within_one(part, side, word).alias(f"pwl{side[1:]}") for side in ("q_lower", "q_upper")]
            parts.append(part.select(row).with_columns(sides))
    empty = numbered.select(
        row, pl.lit(None, pl.Float64).alias("pwl_lower"), pl.lit(None, pl.Float64).alias("pwl_upper")
    )
    read = pl.concat(parts) if parts else empty.clear()
    return (
        numbered.join(read, on=row, how="left", maintain_order="left")
        .with_columns(pwl_reason=_reason())
        .with_columns(pwl_lower=_side("lower"), pwl_upper=_side("upper"))
        # Ten decimals: what is beyond is noise of adding percentages, and would stand beside the print of a table.
        .with_columns(pwl=rounded((pl.col("pwl_lower") + pl.col("pwl_upper") - 100).clip(0, 100), 10))
        .with_columns(pd=rounded(100 - pl.col("pwl"), 10))
        .drop(row)
    )


def _reason() -> pl.Expr:
    few = pl.format("{} results: a percentage within limits needs at least {}", "n", pl.lit(FEWEST))
    none = pl.lit("no limit on either side")
    both = pl.col("lower").is_null() & pl.col("upper").is_null()
    return pl.when(pl.col("n") < FEWEST).then(few).when(both).then(none)


def _side(side: str) -> pl.Expr:
    limit, mean = pl.col(side), pl.col("mean")
    inside = mean >= limit if side == "lower" else mean <= limit
    return (
        pl.when(pl.col("pwl_reason").is_not_null())
        .then(None)
        .when(limit.is_null())
        .then(100.0)
        .when(pl.col("s") == 0)
        .then(pl.when(inside).then(100.0).otherwise(0.0))
        .otherwise(pl.col(f"pwl_{side}"))
    )


def average_absolute_deviation(value: pl.Expr, target: pl.Expr) -> pl.Expr:
    """Return Σ|x - T| / n of a group (UFGS 02749, paragraph on payment, p. 32)."""
    return (value - target).abs().sort().mean()
