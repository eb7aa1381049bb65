"""Start-ups owed: before first production, after a long stop in production, and after a changed design."""

import polars as pl

from pipeline.judge.programme import item
from schemas.vocabulary import ItemKind, Phase

_MIX = ["project_id", "mix_id"]


def with_sources(mix_design: pl.DataFrame, stockpile: pl.DataFrame) -> pl.DataFrame:
    """Add to each design the sources of its aggregates in words (`sources`), null where no blend is stated."""
    keys = ["mix_id", "revision"]
    of = pl.format("{} of {}", "stockpile", "source")
    told = (
        stockpile.filter(pl.col("source").is_not_null())
        .sort(*keys, "stockpile")
        .group_by(keys, maintain_order=True)
        .agg(of.str.join(", ").alias("sources"))
    )
    return mix_design.join(told, on=keys, how="left", maintain_order="left")


def startups(samples: pl.DataFrame, sets: pl.DataFrame, mix_design: pl.DataFrame) -> pl.DataFrame:
    """Return the start-ups owed: before first production, after a long stop, and after a changed design.

    A set without `stop_days` has no such rule. A start-up taken after the cause settles it, late or not.
    """
    rules = sets.select("set_id", "stop_days").drop_nulls()
    rows = samples.join(rules, on="set_id").sort(*_MIX, "taken_on", "sample_id")
    produced = rows.filter(pl.col("phase") == Phase.PRODUCTION.value)
    started = (
        rows.filter(pl.col("phase") == Phase.STARTUP.value)
        .group_by(_MIX)
        .agg(pl.col("taken_on").max().alias("started"))
    )
    causes = pl.concat([_first(produced), _stops(produced), _resuming(produced), _revised(produced, mix_design)])
    owed = causes.join(started, on=_MIX, how="left").filter(
        pl.col("started").is_null() | (pl.col("started") <= pl.col("after"))
    )
    return item(
        owed,
        ItemKind.STARTUP,
        pl.col("cause"),
        "Make the start-up tests of the set; register the sample with phase startup.",
    )


_CAUSE = (*_MIX, "subject", "after", "since", "due_on", "cause")


def _first(produced: pl.DataFrame) -> pl.DataFrame:
    # A start-up on the very day counts as before it.
    first = produced.group_by(_MIX, maintain_order=True).agg(pl.col("taken_on").min().alias("since"))
    return (
        first.with_columns(
            subject=pl.lit("first production"),
            after=pl.lit(None, pl.Date),
            due_on="since",
            cause=pl.format("{} went into production on {} without start-up", "mix_id", "since"),
        )
        .with_columns(after=pl.date(1, 1, 1))
        .select(_CAUSE)
    )


def _stops(produced: pl.DataFrame) -> pl.DataFrame:
    days = produced.unique([*_MIX, "taken_on"], maintain_order=True).with_columns(
        after=pl.col("taken_on").shift(1).over(_MIX)
    )
    stood = (pl.col("taken_on") - pl.col("after")).dt.total_days()
    return (
        days.with_columns(stood=stood)
        .filter(pl.col("stood") > pl.col("stop_days"))
        .with_columns(
            subject=pl.format("stop from {}", "after"),
            since="taken_on",
            due_on="taken_on",
            cause=pl.format(
                "{} was produced again on {} after a stop of {} days, longer than {}",
                "mix_id",
                "taken_on",
                "stood",
                "stop_days",
            ),
        )
        .select(_CAUSE)
    )


def _resuming(produced: pl.DataFrame) -> pl.DataFrame:
    last = produced.group_by(_MIX, maintain_order=True).last()
    return (
        last.with_columns(
            subject=pl.lit("before production goes on"),
            after="taken_on",
            since=pl.col("taken_on") + pl.duration(days=pl.col("stop_days") + 1),
            due_on=pl.lit(None, pl.Date),
        )
        .with_columns(
            cause=pl.format(
                "{} was last produced on {}: from {} on a start-up is due before production goes on",
                "mix_id",
                "after",
                "since",
            )
        )
        .select(_CAUSE)
    )


#: Facts of a design whose change is told.
_FACTS = ("plant", "binder_grade", "pb_pct", "gsb", "gb", "nmas_mm", "recycled_pct", "sources")


def _revised(produced: pl.DataFrame, mix_design: pl.DataFrame) -> pl.DataFrame:
    """Return the last revision of each mix under which it was produced, other than its first."""
    ordered = mix_design.sort("mix_id", "revision")
    changes = [
        pl.when(pl.col(name).ne_missing(pl.col(name).shift(1).over("mix_id"))).then(
            pl.format(
                f"{name} {{}} to {{}}",
                pl.col(name).cast(pl.String).shift(1).over("mix_id").fill_null("none"),
                pl.col(name).cast(pl.String).fill_null("none"),
            )
        )
        for name in _FACTS
    ]
    told = ordered.with_columns(
        changed=pl.concat_str(changes, separator=", ", ignore_nulls=True), first=pl.col("revision").min().over("mix_id")
    ).filter(pl.col("revision") > pl.col("first"))
    used = produced.group_by(*_MIX, "revision").agg(pl.col("taken_on").min().alias("since"))
    latest = used.sort(*_MIX, "revision").group_by(_MIX, maintain_order=True).last()
    return (
        latest.join(told.select("mix_id", "revision", "valid_from", "changed"), on=["mix_id", "revision"])
        .with_columns(
            subject=pl.format("revision {}", "revision"),
            after=pl.col("valid_from") - pl.duration(days=1),
            due_on="since",
            cause=pl.format(
                "{} has been produced by revision {} since {} without a new start-up; changed: {}",
                "mix_id",
                "revision",
                "since",
                pl.when(pl.col("changed") == "").then(pl.lit("nothing that is listed")).otherwise("changed"),
            ),
        )
        .select(_CAUSE)
    )
