"""Results joined with names, units, limits and verdicts: the one frame all pages read."""

from collections.abc import Mapping

import polars as pl

from plugins.renderers.verbs.figures import doubt, fixed, reported, spaced
from plugins.renderers.verbs.markup import clipped
from plugins.renderers.verbs.presentation import sieve_name
from plugins.renderers.verbs.slugs import slug
from plugins.renderers.verbs.tables import RESULT_KEY, take
from plugins.renderers.verbs.verdicts import limit_text, side
from plugins.renderers.verbs.words import capital, group, word

Tables = Mapping[str, pl.DataFrame]

#: Beginning of a property's name -> text of what its `at` counts.
_AT_WORDS = {
    "passing": "at.sieve",
    "rut": "at.passes",
    "relative_density": "at.gyrations",
    "gmb_corrected": "at.gyrations",
}
#: Characters of a property's name, and of its symbol or unit, that are shown.
_NAME_SHOWN, _SYMBOL_SHOWN = 80, 24
#: Verdict -> weight where one result has several limits: the worst is shown.
_WEIGHT = {"fail": 0, "not_judged": 1, "pass": 2}


def _at_text(name: str, at: float) -> str:
    said = next((said for start, said in _AT_WORDS.items() if name.startswith(start)), "at.other")
    own = sieve_name(at) if said == "at.sieve" else None
    return own or word(said, at=spaced(at))


def _name() -> pl.Expr:
    """Return the name of a property, of columns property and name; a catalogue may name it in its group `property`."""
    registered = pl.coalesce("name", "property")
    return pl.col("property").replace_strict(group("property"), default=registered, return_dtype=pl.String)


def names(frame: pl.DataFrame, tables: Tables) -> pl.DataFrame:
    """Name every (property, at) of a frame.

    Parameters
    ----------
    frame
        Any frame with columns property and at.
    tables
        The tables handed in; `properties` names what they hold.

    Returns
    -------
    pl.DataFrame
        One row per property and at: property, at, title (`Rut depth at 20 000 passes`), name (without the at),
        at_text, anchor, and symbol, unit, decimals, standard, section, equation. A property that is not in the
        register of properties keeps its registry name as title.
    """
    keys = frame.select("property", "point").drop_nulls("property").unique().sort("property", "point", nulls_last=False)
    known = take(tables, "properties").unique("property", keep="first", maintain_order=True)
    joined = keys.join(known, on="property", how="left", maintain_order="left").with_columns(
        clipped(_name(), _NAME_SHOWN).alias("name"),
        *(clipped(pl.col(text), _SYMBOL_SHOWN).alias(text) for text in ("symbol", "unit")),
    )
    # A Python loop over the vocabulary, not over results: some dozens of properties, sieves and pass numbers.
    pairs = list(zip(keys["property"].to_list(), keys["point"].to_list(), strict=True))
    at_texts = [None if at is None else _at_text(name, at) for name, at in pairs]
    anchors = ["r-" + slug(name if at is None else f"{name} {at!r}") for name, at in pairs]
    title = [capital(name) for name in joined["name"].to_list()]
    named = joined.with_columns(
        pl.Series("name", title, pl.String),
        pl.Series("at_text", at_texts, pl.String),
        pl.Series("anchor", anchors, pl.String),
    )
    sieve = pl.col("property").str.starts_with("passing")
    between = pl.when(sieve).then(pl.lit(", ")).otherwise(pl.lit(" "))
    between = pl.when(pl.col("at_text").is_not_null()).then(between)
    return named.with_columns(pl.concat_str("name", between, "at_text", ignore_nulls=True).alias("title"))


def named(frame: pl.DataFrame, naming: pl.DataFrame) -> pl.DataFrame:
    """Join names to a frame with columns property and at."""
    return frame.join(naming, on=["property", "point"], how="left", nulls_equal=True, maintain_order="left")


def verdicts(tables: Tables, naming: pl.DataFrame) -> pl.DataFrame:
    """Return every judgement with name, `side` and `limit` (its limits in words)."""
    return named(take(tables, "judgements"), naming).with_columns(side().alias("side"), limit_text().alias("limit"))


def worst_verdicts(judged: pl.DataFrame) -> pl.DataFrame:
    """Return one judgement per result, the worst, with side, limits and reason."""
    weight = pl.col("verdict").replace_strict(_WEIGHT, default=len(_WEIGHT), return_dtype=pl.Int64)
    ordered = judged.with_columns(weight.alias("weight")).sort("weight", "limit_id", maintain_order=True)
    wanted = [*RESULT_KEY, "limit_id", "verdict", "side", "lower", "upper", "limit", "reason", "value"]
    return ordered.unique(RESULT_KEY, keep="first", maintain_order=True).select(wanted)


def results(tables: Tables, judged: pl.DataFrame, naming: pl.DataFrame) -> pl.DataFrame:
    """Return every sample result with its name and worst verdict, ordered by the register of properties.

    Returns
    -------
    pl.DataFrame
        Columns of sample_values, of `names`, of `worst_verdicts` (its value as `judged_value`), `counts` (whether it
        counts in means: it has a figure and no limit declined it), `shown`, the figure as text, and `doubt`, its
        standard uncertainty (k = 1) as text where known. Standard and equation are of the way really taken, where that
        is known, else of all ways to the property.
    """
    values = take(tables, "sample_values")
    worst = worst_verdicts(judged).rename({"value": "judged_value"})
    joined = values.join(worst, on=RESULT_KEY, how="left", nulls_equal=True, maintain_order="left")
    order = take(tables, "properties").select("property").unique(maintain_order=True).with_row_index("place_in_list")
    counts = pl.col("value").is_not_null() & (pl.col("verdict") != "not_judged").fill_null(True)
    return (
        own_ways(named(joined, naming), take(tables, "ways").filter(pl.col("method").is_null()).drop("method"))
        .join(order, on="property", how="left")
        .with_columns(
            counts.alias("counts"),
            pl.coalesce(reported(pl.col("text")), fixed(pl.col("value"), pl.col("decimals"))).alias("shown"),
            doubt(pl.col("uncertainty")).alias("doubt"),
        )
        .sort("place_in_list", "property", "point", nulls_last=True, maintain_order=True)
    )


def own_ways(frame: pl.DataFrame, ways: pl.DataFrame) -> pl.DataFrame:
    """Put the way a figure was really found in place of all ways there are: standard, section, equation.

    Parameters
    ----------
    ways
        Columns standard, equation and those that name the figures in both frames.
    """
    key = [name for name in ways.columns if name not in ("standard", "equation")]
    found = ways.rename({"standard": "own_standard", "equation": "own_equation"})
    known = pl.col("own_standard").is_not_null()
    return (
        frame.join(found, on=key, how="left", maintain_order="left")
        .with_columns(
            pl.coalesce("own_standard", "standard").alias("standard"),
            pl.when(~known).then("section").alias("section"),
            pl.coalesce("own_equation", "equation").alias("equation"),
        )
        .drop("own_standard", "own_equation")
    )


def limited_first(results: pl.DataFrame, owner: str) -> pl.DataFrame:
    """Return results with those in front whose property and at have a limit for any sample of the owner."""
    limited = pl.col("verdict").is_not_null().any().over(owner, "property", "point")
    return results.with_columns((~limited).alias("unlimited")).sort("unlimited", maintain_order=True).drop("unlimited")


def flag_sentences(frame: pl.DataFrame, tables: Tables, key: list[str]) -> pl.DataFrame:
    """Return one row per key and flag, with the flag's sentence; an unknown code speaks for itself.

    A catalogue may word the sentence in its group `flag`.

    Parameters
    ----------
    frame
        Rows with the key columns and `flags`, codes separated by spaces or null.
    tables
        The tables handed in; `flags` gives the sentences.
    key
        Columns that name the row.
    """
    codes = take(tables, "flags").unique("code", keep="first")
    return (
        frame.select(*key, pl.col("flags").str.split(" ").alias("code"))
        .explode("code")
        .filter(pl.col("code").is_not_null() & (pl.col("code") != ""))
        .join(codes, on="code", how="left", maintain_order="left")
        .with_columns(
            pl.col("code")
            .replace_strict(group("flag"), default=pl.coalesce("sentence", "code"), return_dtype=pl.String)
            .alias("sentence")
        )
    )
