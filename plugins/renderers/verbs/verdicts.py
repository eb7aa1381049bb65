"""Limits and verdicts in words and shapes: never by colour alone."""

import polars as pl

from plugins.renderers.verbs.figures import fixed, limit_figure
from plugins.renderers.verbs.markup import fill
from plugins.renderers.verbs.words import group, word

#: Side of the limit -> shape before the word. `left_out` is a result that was not judged.
SHAPES = {"within": "✓", "above": "▲", "below": "▼", "outside": "✕", "in_doubt": "◐", "not_judged": "○"}


def side() -> pl.Expr:
    """Return where a result stands, of columns verdict, value, lower, upper: a key of `SHAPES`, or null."""
    failed = pl.col("verdict") == "fail"
    return (
        pl.when(pl.col("verdict") == "pass")
        .then(pl.lit("within"))
        .when(failed & (pl.col("value") > pl.col("upper")))
        .then(pl.lit("above"))
        .when(failed & (pl.col("value") < pl.col("lower")))
        .then(pl.lit("below"))
        .when(failed)
        .then(pl.lit("outside"))
        .when(pl.col("verdict").is_in(["conditional_pass", "conditional_fail"]))
        .then(pl.lit("in_doubt"))
        .when(pl.col("verdict") == "not_judged")
        .then(pl.lit("not_judged"))
    )


def distance() -> pl.Expr:
    """Return how far a result lies outside its limit, in its own unit; null where it does not."""
    above = pl.col("value") - pl.col("upper")
    below = pl.col("lower") - pl.col("value")
    return pl.when(pl.col("side") == "above").then(above).when(pl.col("side") == "below").then(below)


def limit_text() -> pl.Expr:
    """Return the limits in words, of columns lower, upper, decimals; null where there is none."""
    lower = limit_figure(pl.col("lower"), pl.col("decimals"))
    upper = limit_figure(pl.col("upper"), pl.col("decimals"))
    has_lower, has_upper = pl.col("lower").is_not_null(), pl.col("upper").is_not_null()
    return (
        pl.when(has_lower & has_upper)
        .then(pl.concat_str(lower, pl.lit(word("limit.between")), upper))
        .when(has_lower)
        .then(pl.concat_str(pl.lit(word("limit.at_least")), lower))
        .when(has_upper)
        .then(pl.concat_str(pl.lit(word("limit.at_most")), upper))
    )


def verdict_words() -> pl.Expr:
    """Return where a result stands in words, of column side; null where it was held against nothing."""
    return pl.col("side").replace_strict(group("verdict"), default=pl.col("side"), return_dtype=pl.String)


def _words() -> pl.Expr:
    away = distance()
    digits = fixed(away, pl.col("decimals"))
    # A result can lie outside by less than its last decimal where the limit has more decimals than the property.
    known = away.is_not_null() & (digits.str.strip_chars("0.,") != "")
    by = pl.when(known).then(pl.concat_str(digits, pl.lit(" "))).otherwise(pl.lit(""))
    said = verdict_words()
    return pl.when(pl.col("side").is_in(["above", "below"])).then(pl.concat_str(by, said)).otherwise(said)


def mark_html() -> pl.Expr:
    """Return the verdict as shape and words, of columns side, value, lower, upper, decimals; null where none."""
    shape = pl.col("side").replace_strict(SHAPES, default=None, return_dtype=pl.String)
    kind = (
        pl.when(pl.col("side") == "within")
        .then(pl.lit("pass"))
        .when(pl.col("side").is_in(["in_doubt", "not_judged"]))
        .then(pl.lit("open"))
        .otherwise(pl.lit("fail"))
    )
    pattern = (
        '<span class="mark {kind}"><span aria-hidden="true">{shape}</span> <span class="word">{words}</span></span>'
    )
    mark = fill(pattern, kind=kind, shape=shape, words=_words())
    return pl.when(pl.col("side").is_not_null()).then(mark)
