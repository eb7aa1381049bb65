"""Duplicates, split samples, laboratories and instruments against each other, and phases of a mix."""

import polars as pl

from pipeline.judge.limits import applicable
from pipeline.judge.single import Contract
from pipeline.judge.statistics.comparison import (
    acceptable_difference,
    paired,
    sigma_of_voids,
    summary,
    two_samples,
)
from pipeline.rounding import rounded
from schemas.describe import describe
from schemas.vocabulary import Basis, ComparisonKind, FreedomForm, Level, Material, Phase, Verdict

_FIGURE = ["property", "point"]
_MIX = ["project_id", "mix_id"]

#: Significance of comparisons where the set states none: 1 %, as usual with F and t (FHWA-RD-02-095).
SIGNIFICANCE = 0.01

#: Range of n results that one time in twenty is exceeded, in standard deviations (ASTM C670: the points of the
#: studentized range to one decimal, to which the tests hold them; 2: 2√2).
RANGES = {2: 2 * 2**0.5, 3: 3.3, 4: 3.6, 5: 3.9, 6: 4.0, 7: 4.2, 8: 4.3, 9: 4.4, 10: 4.5}

#: Properties of which laboratories are compared.
_COMPARED = ("gmb", "gmm", "air_voids", "pb", "passing", "vma", "relative_compaction")


def shaped(rows: pl.DataFrame, kind: ComparisonKind) -> pl.DataFrame:
    """Return rows of `comparison` without validity; columns not given are null."""
    schema = {name: dtype for name, dtype in describe("comparison").schema().items() if not name.startswith("valid_")}
    told = rows.with_columns(kind=pl.lit(kind.value))
    lacking = [pl.lit(None, dtype).alias(name) for name, dtype in schema.items() if name not in told.columns]
    return told.with_columns(lacking).select(pl.col(name).cast(dtype) for name, dtype in schema.items())


def _verdict(good: pl.Expr) -> pl.Expr:
    return (
        pl.when(pl.col("reason").is_not_null() | good.is_null())
        .then(pl.lit(Verdict.NOT_JUDGED.value))
        .when(good)
        .then(pl.lit(Verdict.PASS.value))
        .otherwise(pl.lit(Verdict.FAIL.value))
    )


def _basis(words: str) -> pl.Expr:
    source = pl.concat_str("source", pl.format("({})", "mark"), separator=" ", ignore_nulls=True)
    return pl.format(f"{words}; {{}}", source.fill_null("no source"))


def duplicates(samples: pl.DataFrame, values: pl.DataFrame, contract: Contract) -> pl.DataFrame:
    """Hold the range of the specimens of each sample against the single-operator precision of its set.

    Samples whose set states no precision of a property are not compared. Cores are different places, not duplicates.
    """
    figures = values.filter(pl.col("level") == Level.SPECIMEN.value, pl.col("value").is_not_null())
    stated = contract.precision.filter(pl.col("single_operator").is_not_null()).select(
        "set_id", *_FIGURE, "single_operator", "source", "mark"
    )
    loose = samples.filter(pl.col("material") == Material.MIX.value)
    grouped = (
        loose.select("sample_id", *_MIX, "set_id")
        .join(figures.select("sample_id", "specimen_no", *_FIGURE, "value"), on="sample_id")
        .join(stated, on=["set_id", *_FIGURE], nulls_equal=True)
        .group_by("sample_id", *_MIX, *_FIGURE, "single_operator", "source", "mark", maintain_order=True)
        .agg(
            pl.col("value").count().cast(pl.Int64).alias("n_1"),
            pl.col("value").sort().mean().alias("mean_1"),
            pl.col("value").sort().std().alias("s_1"),
            (pl.col("value").max() - pl.col("value").min()).alias("difference"),
        )
        .filter(pl.col("n_1") > 1)
    )
    factor = pl.col("n_1").replace_strict(RANGES, default=None, return_dtype=pl.Float64)
    told = grouped.with_columns(
        first="sample_id",
        upper=factor * pl.col("single_operator"),
        reason=pl.when(factor.is_null()).then(pl.format("no factor for the range of {} results", "n_1")),
        basis=_basis("range of the specimens against the single-operator precision"),
    )
    return shaped(told.with_columns(verdict=_verdict(_within())), ComparisonKind.DUPLICATE)


def _within() -> pl.Expr:
    # Differences of figures carry the noise of their subtraction: ten decimals are more than any figure has.
    return rounded(pl.col("difference"), 10).abs() <= rounded(pl.col("upper"), 10)


def pairs(samples: pl.DataFrame, values: pl.DataFrame) -> pl.DataFrame:
    """Return one row per split sample and figure that both halves have.

    `first`, `second` (samples), `laboratory_1`, `laboratory_2`, `value_1`, `value_2`, `difference` (1 less 2), the
    first's project, mix, set and day. The half that names the other is the second.
    """
    figures = values.filter(
        pl.col("level") == Level.SAMPLE.value, pl.col("value").is_not_null(), pl.col("property").is_in(_COMPARED)
    ).select("sample_id", *_FIGURE, "value")
    halves = samples.filter(pl.col("split_of").is_not_null()).select(
        second="sample_id", first="split_of", laboratory_2="laboratory_id"
    )
    facts = samples.select(first="sample_id", laboratory_1="laboratory_id", taken_on="taken_on", **_facts())
    return (
        halves.join(facts, on="first")
        .join(figures.rename({"sample_id": "first", "value": "value_1"}), on="first")
        .join(figures.rename({"sample_id": "second", "value": "value_2"}), on=["second", *_FIGURE], nulls_equal=True)
        .with_columns(difference=pl.col("value_1") - pl.col("value_2"))
        .sort("first", "second", *_FIGURE)
    )


def _facts() -> dict[str, str]:
    return {name: name for name in ("project_id", "mix_id", "set_id")}


def splits(paired_: pl.DataFrame, contract: Contract) -> pl.DataFrame:
    """Hold the two halves of split samples against the precision between laboratories, or of one operator.

    Where the set states none for air voids, it is propagated from that of Gmb and Gmm (ASTM D4460).
    """
    stated = contract.precision.select("set_id", *_FIGURE, "single_operator", "multilaboratory", "source", "mark")
    joined = paired_.join(stated, on=["set_id", *_FIGURE], how="left", nulls_equal=True)
    alike = pl.col("laboratory_1") == pl.col("laboratory_2")
    sigma = pl.when(alike).then("single_operator").otherwise("multilaboratory")
    joined = _propagated(joined.with_columns(sigma=sigma), paired_, stated)
    told = joined.with_columns(
        n_1=pl.lit(1),
        n_2=pl.lit(1),
        mean_1="value_1",
        mean_2="value_2",
        upper=acceptable_difference(pl.col("sigma")),
        lower=-acceptable_difference(pl.col("sigma")),
        reason=pl.when(pl.col("sigma").is_null()).then(pl.lit("the specification set states no precision of it")),
        basis=_basis("difference against 2√2 s"),
    )
    return shaped(told.with_columns(verdict=_verdict(_within())), ComparisonKind.SPLIT)


def _propagated(joined: pl.DataFrame, paired_: pl.DataFrame, stated: pl.DataFrame) -> pl.DataFrame:
    keys = ["first", "second"]
    parts = joined.select(keys).unique(maintain_order=True)
    for name in ("gmb", "gmm"):
        own = joined.filter(pl.col("property") == name, pl.col("point").is_null())
        mean = (pl.col("value_1") + pl.col("value_2")) * 0.5
        parts = parts.join(
            own.select(*keys, mean.alias(name), pl.col("sigma").alias(f"sigma_{name}")), on=keys, how="left"
        )
    sigma = sigma_of_voids(*(pl.col(name) for name in ("gmb", "gmm", "sigma_gmb", "sigma_gmm")))
    voids = (pl.col("property") == "air_voids") & pl.col("sigma").is_null() & pl.col("by_d4460").is_not_null()
    return joined.join(parts.select(*keys, by_d4460=sigma), on=keys, how="left", maintain_order="left").with_columns(
        sigma=pl.when(voids).then("by_d4460").otherwise("sigma"),
        source=pl.when(voids).then(pl.lit("ASTM D4460 from the precision of Gmb and Gmm")).otherwise("source"),
    )


def _alphas(contract: Contract) -> pl.DataFrame:
    form = pl.col("freedom_form").fill_null(FreedomForm.WELCH.value)
    return contract.sets.select("set_id", alpha=pl.col("significance").fill_null(SIGNIFICANCE), form=form)


def _tested(rows: pl.DataFrame, keys: list[str], kind: ComparisonKind, words: str) -> pl.DataFrame:
    """Return the paired t-test of groups of differences."""
    means = rows.group_by(keys, maintain_order=True).agg(
        pl.col("value_1").sort().mean().alias("mean_1"), pl.col("value_2").sort().mean().alias("mean_2")
    )
    told = (
        paired(rows, keys)
        .rename({"n": "n_1", "mean": "difference", "s": "s_1", "alpha": "significance"})
        .join(means, on=keys, how="left", nulls_equal=True)
        .with_columns(n_2=pl.col("n_1"), basis=pl.lit(words))
    )
    return shaped(told.with_columns(verdict=_verdict(~pl.col("significant"))), kind)


def of_laboratories(paired_: pl.DataFrame, contract: Contract) -> pl.DataFrame:
    """Test the differences of split samples of each mix between two laboratories: paired t."""
    rows = _between(paired_, contract)
    return _tested(rows, [*_MIX, "first", "second", *_FIGURE], ComparisonKind.PAIRED, "paired t on split samples")


def _between(paired_: pl.DataFrame, contract: Contract) -> pl.DataFrame:
    return (
        paired_.filter(pl.col("laboratory_1") != pl.col("laboratory_2"))
        .drop("first", "second")
        .rename({"laboratory_1": "first", "laboratory_2": "second"})
        .join(_alphas(contract), on="set_id", how="left", maintain_order="left")
        .with_columns(alpha=pl.col("alpha").fill_null(SIGNIFICANCE))
    )


def biases(paired_: pl.DataFrame, contract: Contract, used: pl.DataFrame) -> pl.DataFrame:
    """Test for a bias between laboratories over all projects, in all and by the quarter, and per instrument.

    Parameters
    ----------
    used
        `sample_id`, `instrument_id`: instruments a sample was weighed or tested on.
    """
    words = "paired t on split samples of all projects"
    rows = _between(paired_, contract).with_columns(
        period=pl.format("{}-Q{}", pl.col("taken_on").dt.year(), pl.col("taken_on").dt.quarter())
    )
    whole = rows.with_columns(period=pl.lit(None, pl.String))
    keys = ["first", "second", "period", *_FIGURE]
    # The strictest significance of the sets concerned holds for what goes over several of them.
    both = pl.concat([whole, rows]).with_columns(alpha=pl.col("alpha").min().over(keys))
    on_instruments = (
        paired_.filter(pl.col("laboratory_1") != pl.col("laboratory_2"))
        .join(used.rename({"sample_id": "first", "instrument_id": "instrument"}), on="first")
        .drop("first", "second")
        .rename({"instrument": "first", "laboratory_2": "second"})
        .with_columns(alpha=pl.lit(SIGNIFICANCE))
    )
    return pl.concat(
        [
            _tested(both, keys, ComparisonKind.BIAS, words),
            _tested(on_instruments, ["first", "second", *_FIGURE], ComparisonKind.INSTRUMENT, words),
        ]
    )


def independent(samples: pl.DataFrame, values: pl.DataFrame, contract: Contract) -> pl.DataFrame:
    """Compare the production samples two laboratories took of one mix on their own: F, then t.

    Halves of split samples are left out: they carry the scatter of testing only (FHWA-HRT-04-046, chapter 7).
    """
    halved = samples["split_of"].drop_nulls()
    own = samples.filter(
        pl.col("phase") == Phase.PRODUCTION.value,
        pl.col("split_of").is_null() & ~pl.col("sample_id").is_in(halved.to_list()),
    )
    figures = values.filter(
        pl.col("level") == Level.SAMPLE.value, pl.col("value").is_not_null(), pl.col("property").is_in(_COMPARED)
    )
    rows = own.select("sample_id", "laboratory_id", "set_id", *_MIX).join(
        figures.select("sample_id", *_FIGURE, "value"), on="sample_id"
    )
    keys = [*_MIX, "set_id", *_FIGURE]
    groups = summary(rows, [*keys, "laboratory_id"])
    both = groups.join(groups, on=keys, suffix="_2", nulls_equal=True).filter(
        pl.col("laboratory_id") < pl.col("laboratory_id_2")
    )
    renamed = both.rename({name: f"{name}_1" for name in ("n", "mean", "s")})
    told = two_samples(
        renamed.join(_alphas(contract), on="set_id", how="left").with_columns(
            alpha=pl.col("alpha").fill_null(SIGNIFICANCE), form=pl.col("form").fill_null(FreedomForm.WELCH.value)
        )
    ).with_columns(
        first="laboratory_id",
        second="laboratory_id_2",
        significance="alpha",
        basis=pl.when("equal_variances")
        .then(pl.lit("F, then t on equal variances"))
        .otherwise(pl.format("F, then t on unequal variances, degrees of freedom by {}", "form")),
    )
    return shaped(told.with_columns(verdict=_verdict(~pl.col("significant"))), ComparisonKind.INDEPENDENT)


def phases(samples: pl.DataFrame, values: pl.DataFrame, contract: Contract, target: pl.DataFrame) -> pl.DataFrame:
    """Compare each mix from phase to phase, and each phase with its design, against the tolerances of the set.

    The tolerance is the one the set states around the target for the later phase; without one there is a difference
    and no verdict.
    """
    loose = samples.filter(pl.col("material") == Material.MIX.value, pl.col("split_of").is_null())
    figures = values.filter(pl.col("level") == Level.SAMPLE.value, pl.col("value").is_not_null())
    limits = contract.limits.filter(
        pl.col("basis") == Basis.FROM_TARGET.value,
        pl.col("use").fill_null("acceptance") == "acceptance",
        pl.col("average_of").is_null(),
    )
    tolerance = (
        applicable(loose, limits)
        .select(*_MIX, "phase", *_FIGURE, "lower", "upper", "source", "mark")
        .unique([*_MIX, "phase", *_FIGURE], keep="first", maintain_order=True)
    )
    rows = loose.select("sample_id", "phase", "revision", *_MIX).join(
        figures.select("sample_id", *_FIGURE, "value"), on="sample_id"
    )
    stages = summary(rows, [*_MIX, "phase", *_FIGURE])
    wanted = stages.select(*_MIX, *_FIGURE).unique()
    latest = loose.group_by(_MIX).agg(pl.col("revision").max())
    design = (
        wanted.join(latest, on=_MIX)
        .join(target, on=["mix_id", "revision", *_FIGURE], nulls_equal=True)
        .select(
            *_MIX, *_FIGURE, phase=pl.lit("design"), mean="target", n=pl.lit(0, pl.Int64), s=pl.lit(None, pl.Float64)
        )
    )
    order = {"design": 0, **{word.value: number for number, word in enumerate(Phase, start=1)}}
    place = pl.col("phase").replace_strict(order, return_dtype=pl.Int64)
    steps = pl.concat([design.select(stages.columns), stages]).with_columns(place=place)
    both = steps.join(steps, on=[*_MIX, *_FIGURE], suffix="_2", nulls_equal=True).filter(
        pl.col("place") < pl.col("place_2")
    )
    told = (
        both.rename({"n": "n_1", "mean": "mean_1", "s": "s_1"})
        .join(tolerance.rename({"phase": "phase_2"}), on=[*_MIX, "phase_2", *_FIGURE], how="left", nulls_equal=True)
        .with_columns(
            first="phase",
            second="phase_2",
            difference=pl.col("mean_2") - pl.col("mean_1"),
            reason=pl.when(pl.col("lower").is_null() & pl.col("upper").is_null()).then(
                pl.lit("the specification set states no tolerance around the target")
            ),
            basis=_basis("later phase less earlier, against the tolerance of the later one"),
        )
    )
    difference = rounded(pl.col("difference"), 10)
    low = pl.col("lower").is_null() | (difference >= pl.col("lower"))
    high = pl.col("upper").is_null() | (difference <= pl.col("upper"))
    return shaped(told.with_columns(verdict=_verdict(low & high)), ComparisonKind.PHASE)
