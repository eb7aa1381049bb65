"""Lots against their acceptance plans: what counts, statistics, percentage within limits, outliers, pay."""

import polars as pl

from pipeline.judge.limits import bounds
from pipeline.judge.single import Contract, codes
from pipeline.judge.statistics.outliers import dixon, single_outlier
from pipeline.judge.statistics.pay import PIECES, composite, pay
from pipeline.judge.statistics.quality import percent_within
from schemas.vocabulary import CompositeRule, Level, LookUp, Material, OutlierTest, Phase, Purpose

_LOT = ["project_id", "mix_id", "lot", "set_id", "plan_id"]

#: Significance of the test for outliers.
_ALPHA = 0.05


def lots(
    samples: pl.DataFrame, values: pl.DataFrame, cores: pl.DataFrame, contract: Contract, target: pl.DataFrame
) -> pl.DataFrame:
    """Judge all lots of the mixes the samples belong to.

    Parameters
    ----------
    samples
        All samples of these mixes, as from `subjects`.
    values
        Property values of these samples, of both levels.
    cores
        Current rows of `core` of these samples: which core replaces which.
    contract, target
        The sets; targets as from `limits.targets`.

    Returns
    -------
    Rows of `lot_result` without validity. Cores count one by one, loose mix by the sample; one half of a split sample,
    control samples, replaced cores and results with an excluding flag do not count, and are listed.
    """
    paired = _paired(samples, values, cores, contract)
    bounded = bounds(paired, target)
    grouped = _statistics(bounded)
    within = percent_within(grouped)
    paid = _paid(_screened(within, bounded), contract)
    return _composed(paid, contract)


def _paired(samples: pl.DataFrame, values: pl.DataFrame, cores: pl.DataFrame, contract: Contract) -> pl.DataFrame:
    """Return one row per plan and result of a lot, with `why` it does not count (null where it does)."""
    of_lots = samples.filter(pl.col("phase") == Phase.PRODUCTION.value, pl.col("lot").is_not_null())
    plans = contract.plans.rename({"target": "plan_target", "source": "plan_source", "mark": "plan_mark"}).drop(
        "export_hash", "source_part", "source_line", "issued_at", "stated_at"
    )
    level = pl.when(pl.col("material") == Material.CORE.value).then(pl.lit(Level.SPECIMEN.value))
    planned = of_lots.join(plans, on=["set_id", "material"], how="inner").with_columns(
        level=level.otherwise(pl.lit(Level.SAMPLE.value))
    )
    figures = values.select("sample_id", "level", "specimen_no", "property", "point", "value", "withheld", "flags")
    replaced = cores.filter(pl.col("replaces").is_not_null()).select(
        "sample_id", specimen_no="replaces", by="specimen_no"
    )
    joined = planned.join(figures, on=["sample_id", "level", "property", "point"], how="inner", nulls_equal=True).join(
        replaced.unique(["sample_id", "specimen_no"], keep="any"),
        on=["sample_id", "specimen_no"],
        how="left",
        nulls_equal=True,
    )
    return joined.with_columns(
        why=_why(), label=pl.concat_str("sample_id", "specimen_no", separator="/", ignore_nulls=True)
    ).sort(*_LOT, "label")


def _why() -> pl.Expr:
    excluded = codes("flags").list.set_intersection(codes("excluding_flags"))
    return (
        pl.when(pl.col("split_of").is_not_null())
        .then(pl.format("half of {}", "split_of"))
        .when(pl.col("purpose") == Purpose.CONTROL.value)
        .then(pl.lit("control sample"))
        .when(pl.col("by").is_not_null())
        .then(pl.format("replaced by {}", "by"))
        .when(pl.col("value").is_null())
        .then(pl.coalesce("withheld", pl.lit("no result")))
        .when(excluded.list.len() > 0)
        .then(excluded.list.join(", "))
    )


def _statistics(rows: pl.DataFrame) -> pl.DataFrame:
    counts = pl.col("why").is_null()
    shared = (
        *("property", "point", "material", "lower", "upper", "look_up", "equation", "one_result", "two_results"),
        *("weight", "retest_from_pct", "removal_from_pct", "screen_from_pct", "outlier_test"),
        *("plan_source", "plan_mark", "plan_target"),
    )
    target = pl.coalesce("plan_target", "target")
    # Sorted before they are added up, so that a lot is the same to the last bit in any order of its results.
    value = pl.col("value").filter(counts).sort()
    labelled = pl.format("{}={}", "label", "value").filter(counts)
    left = pl.format("{}={} ({})", "label", pl.col("value").cast(pl.String).fill_null("none"), "why").filter(~counts)
    return (
        rows.group_by(_LOT, maintain_order=True)
        .agg(
            *(pl.col(name).first() for name in shared),
            target.first().alias("lot_target"),
            value.alias("values"),
            (pl.col("value") - target).abs().filter(counts).sort().alias("away"),
            labelled.str.join(" ").alias("results"),
            left.str.join("; ").alias("left_out"),
        )
        .with_columns(
            n=pl.col("values").list.len().cast(pl.Int64),
            mean=pl.col("values").list.mean(),
            s=pl.col("values").list.std(),
            deviation=pl.col("away").list.mean(),
            target=pl.col("lot_target"),
            look_up=pl.col("look_up").fill_null(LookUp.CLOSED_FORM.value),
            outlier_test=pl.col("outlier_test").fill_null(OutlierTest.E178.value),
            results=pl.col("results").replace("", None),
            left_out=pl.col("left_out").replace("", None),
        )
        .drop("values", "away", "lot_target", "plan_target")
    )


def _screened(lots_: pl.DataFrame, rows: pl.DataFrame) -> pl.DataFrame:
    """Add the result that stands out most, and whether it is flagged; it counts all the same."""
    counting = rows.filter(pl.col("why").is_null())
    tests = {
        OutlierTest.E178.value: single_outlier(counting, _LOT, _ALPHA),
        OutlierTest.DIXON.value: dixon(counting, _LOT),
    }
    columns = {"suspect": "outlier_suspect", "statistic": "outlier_statistic", "critical": "outlier_critical"}
    told = pl.concat(
        [
            found.select(*_LOT, *columns, pl.col("flagged").alias("outlier"))
            .rename(columns)
            .with_columns(outlier_test=pl.lit(name))
            for name, found in tests.items()
        ]
    )
    due = pl.col("screen_from_pct").is_null() | (pl.col("pd") >= pl.col("screen_from_pct"))
    return lots_.join(told, on=[*_LOT, "outlier_test"], how="left", maintain_order="left").with_columns(
        outlier=pl.when(due).then("outlier")
    )


def _paid(lots_: pl.DataFrame, contract: Contract) -> pl.DataFrame:
    """Add what the pay equation of each plan gives; with one or two results the rule for small quantities holds."""
    own = contract.pieces.filter(pl.col("set_id").is_not_null())
    pieces = pl.concat(
        [
            contract.pieces.filter(pl.col("set_id").is_null()),
            own.with_columns(equation=pl.format("{}: {}", "set_id", "equation")),
        ]
    )
    asked = (
        pl.when(pl.col("n") == 1).then("one_result").when(pl.col("n") == 2).then("two_results").otherwise("equation")
    )
    names = own.select("set_id", pl.col("equation").alias("asked"), own=pl.lit(value=True)).unique()
    measures = pieces.select("equation", "measure").unique("equation", keep="any")
    rows = (
        lots_.with_columns(asked=asked)
        .join(names, on=["set_id", "asked"], how="left", maintain_order="left")
        .with_columns(equation=pl.when(pl.col("own")).then(pl.format("{}: {}", "set_id", "asked")).otherwise("asked"))
        .join(measures, on="equation", how="left", maintain_order="left")
    )
    x = (
        pl.when(pl.col("measure") == "pwl")
        .then("pwl")
        .when(pl.col("measure") == "pd")
        .then("pd")
        .when(pl.col("measure") == "aad")
        .then("deviation")
        .when(pl.col("measure") == "deviation")
        .then((pl.col("mean") - pl.col("target")).abs())
    )
    return pay(rows.with_columns(x=x), pieces.select(*PIECES)).with_columns(reason=_no_pay())


def _no_pay() -> pl.Expr:
    asked = pl.col("equation").is_not_null() & pl.col("pay_pct").is_null()
    no_target = asked & pl.col("measure").is_in(["aad", "deviation"]) & pl.col("target").is_null()
    small = pl.col("equation").is_null() & (pl.col("n") < 3)
    return (
        pl.when(pl.col("n") == 0)
        .then(pl.lit("no result counts"))
        .when(no_target)
        .then(pl.lit("no target to deviate from: neither the plan nor the mix design states one"))
        .when(small)
        .then(pl.format("{} results, and the plan has no rule for so few", "n"))
        .when(asked)
        .then(pl.coalesce("pwl_reason", pl.lit("the pay equation does not cover the figure")))
        .when(pl.col("pwl").is_null() & pl.col("equation").is_null())
        .then("pwl_reason")
    )


def _composed(paid: pl.DataFrame, contract: Contract) -> pl.DataFrame:
    lot = [name for name in _LOT if name != "plan_id"]
    priced = paid.filter(pl.col("equation").is_not_null() | pl.col("reason").is_not_null()).with_columns(
        weight=pl.col("weight").fill_null(1.0)
    )
    rules = contract.sets.select("set_id", rule=pl.col("composite").fill_null(CompositeRule.WEIGHTED.value))
    both = [
        composite(priced, lot, word.value).select(*lot, pl.col("composite_pct"), rule=pl.lit(word.value))
        for word in CompositeRule
    ]
    beyond = pl.col("pd")
    return (
        paid.join(rules, on="set_id", how="left", maintain_order="left")
        .join(pl.concat(both), on=[*lot, "rule"], how="left", maintain_order="left")
        .with_columns(
            retest=(beyond >= pl.col("retest_from_pct")).fill_null(value=False),
            removal=(beyond >= pl.col("removal_from_pct")).fill_null(value=False),
        )
        .rename(
            {
                "pwl": "within_pct",
                "pwl_lower": "within_lower_pct",
                "pwl_upper": "within_upper_pct",
                "pd": "beyond_pct",
                "plan_source": "source",
                "plan_mark": "mark",
            }
        )
    )
