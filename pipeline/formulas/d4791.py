"""ASTM D4791: flat, elongated, and flat and elongated particles by mass."""

from functools import reduce
from operator import add

import polars as pl

from pipeline.formulas.minimum_mass import portion_check
from pipeline.formulas.model import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    Check,
    Curve,
    Formula,
    Grain,
    Mean,
    Property,
    Quantity,
)
from pipeline.formulas.quantities import numbered
from pipeline.formulas.t166 import MASS_ORDER
from pipeline.settings import Results
from schemas.vocabulary import Method

STANDARD = "ASTM D4791"
_RATIO = ("flat_elongated_ratio",)
_CHOICES = (*_RATIO, "small_fraction_pct")
_WORDS = {"flat": "flat", "elongated": "elongated", "flat_elongated": "flat and elongated"}

MASSES = tuple(
    Quantity(
        f"mass_{role}",
        f"mass '{role}'",
        title,
        "g",
        Grain.SPECIMEN_SIEVE,
        Method.D4791,
        f"{title} missing (role '{role}')",
    )
    for role, title in (
        ("particles", "mass of the particles of this size examined"),
        *((role, f"mass of the {words} particles of this size") for role, words in _WORDS.items()),
    )
)
WEIGHTS = (
    *numbered("share", "a", "share of the sample that size has", "%"),
    *numbered("pct", "P", "particles of that shape in the size", "%"),
)


def weighted(fractions: pl.DataFrame, shape: str) -> pl.DataFrame:
    """Return the mean over the sizes of each specimen, weighted by their shares in the gradation.

    Parameters
    ----------
    fractions
        `sample_id`, `specimen_no`, `sieve_mm`, `share` in % (null: no gradation), `small` (share in % below which a
        size not examined takes the mean of its neighbours), `mass_particles`, `mass_<shape>`.
    shape
        `flat`, `elongated` or `flat_elongated`.

    Returns
    -------
    Keys, `examined` (number of sizes), `value` in %, `why` there is none.
    """
    keys = ["sample_id", "specimen_no"]
    # From the largest size down, so that neighbours are the next larger and the next smaller size examined.
    ordered = fractions.sort(*keys, "sieve_mm", descending=[False, False, True]).with_columns(
        own=100 * pl.col(f"mass_{shape}") / pl.col("mass_particles")
    )
    larger, smaller = pl.col("own").forward_fill().over(keys), pl.col("own").backward_fill().over(keys)
    between = pl.mean_horizontal(larger, smaller)
    filled = ordered.with_columns(
        figure=pl.when(pl.col("own").is_not_null())
        .then("own")
        .when((pl.col("share") < pl.col("small")) & larger.is_not_null() & smaller.is_not_null())
        .then(between)
        .when(pl.col("share") < pl.col("small"))
        .then(pl.coalesce(larger, smaller)),
        counted=pl.col("share").fill_null(0.0) > 0,
    )
    unexamined = filled.filter("counted", pl.col("figure").is_null())
    lacking = unexamined.group_by(keys).agg(
        lacking=pl.format("{} mm ({} %)", "sieve_mm", pl.col("share").round(1)).str.join(", ")
    )
    parts = pl.col("share") * pl.col("figure")
    found = filled.group_by(keys, maintain_order=True).agg(
        examined=pl.col(f"mass_{shape}").count().cast(pl.Float64),
        share=pl.col("share").filter("counted").sum(),
        part=parts.filter("counted").sum(),
    )
    told = found.join(lacking, on=keys, how="left", maintain_order="left").with_columns(
        why=pl.when(pl.col("share") <= 0)
        .then(pl.lit("gradation of the sample missing: no T 27 result to weight the sizes by"))
        .when(pl.col("lacking").is_not_null())
        .then(pl.format("sizes not examined though they hold their share of the sample: {}", "lacking"))
    )
    value = pl.when(pl.col("why").is_null()).then(pl.col("part") / pl.col("share"))
    return told.filter(pl.col("examined") > 0).select(*keys, "examined", value=value, why="why")


def _curve(shape: str) -> Curve:
    name = f"{shape}_found"

    def run(series: pl.DataFrame, specimens: pl.DataFrame, choices: Results) -> pl.DataFrame:
        return weighted(series, shape).rename({"value": name, "why": f"{name}__why", "examined": f"{shape}_sizes"})

    return Curve(
        name=f"weighted {shape}",
        table=(Grain.SPECIMEN, Method.D4791),
        gives=(
            Quantity(name, "P", f"{_WORDS[shape]} particles, weighted by the gradation", "%", Grain.SPECIMEN),
            Quantity(f"{shape}_sizes", "n", f"sizes examined for {_WORDS[shape]} particles", None, Grain.SPECIMEN),
        ),
        standard=STANDARD,
        section=f"weighted average ({FROM_MEMORY})",
        procedure="Σ a P / Σ a over the sizes from the smallest examined up, a the share each sieve retains by "
        "T 27; a size not examined that holds less than a set share takes the mean of its neighbours",
        series="particle_fraction",
        function=run,
        parameters=_CHOICES,
    )


CURVES = tuple(_curve(shape) for shape in _WORDS)


def _order(shape: str) -> Check:
    return Check(
        code=MASS_ORDER.code,
        sentence=MASS_ORDER.sentence,
        inputs=(f"mass_{shape}", "mass_particles"),
        holds=lambda part, whole: part <= whole,
        limit=f"{_WORDS[shape]} <= particles examined",
        source="ASTM D4791, by the meaning of the masses",
        mark=COMMON_PRACTICE,
        effect="withhold",
        remedy="compare the masses of this size with the balance print-out; correct role or mass, and export again",
    )


PORTION = portion_check(
    ("mass_dry",),
    lambda dry: dry,
    "d4791",
    "ASTM D4791-10, checklist, before sieving",
    None,
)


def _of_size(shape: str) -> Formula:
    symbol = {"flat": "F", "elongated": "E", "flat_elongated": "F&E"}[shape]
    return Formula(
        property=Property(shape, symbol, f"{_WORDS[shape]} particles of a size, by mass", "%", 0, at="sieve_mm"),
        grain=Grain.SPECIMEN_SIEVE,
        route="by_mass",
        standard=STANDARD,
        section="calculation, by mass",
        equation=f"{symbol} = 100 m / M, with m {_WORDS[shape]}, M all particles of the size examined",
        inputs=(f"mass_{shape}", "mass_particles"),
        expression=lambda part, whole: 100 * part / whole,
        checks=(_order(shape),),
        lead=(f"mass_{shape}",),
        method=Method.D4791,
        parameters=_RATIO,
    )


def _weighted(shape: str) -> tuple[Formula, Formula, Mean]:
    symbol = {"flat": "F", "elongated": "E", "flat_elongated": "F&E"}[shape]
    prop = Property(
        f"{shape}_weighted", f"{symbol} weighted", f"{_WORDS[shape]} particles, weighted by the gradation", "%", 0
    )
    of_gradation = Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route="of_gradation",
        standard=STANDARD,
        section=f"weighted average ({FROM_MEMORY})",
        equation=f"{prop.symbol} = Σ a P / Σ a, with a the share of each size in the sample",
        inputs=(f"{shape}_found",),
        expression=lambda found: found * 1.0,
        checks=PORTION,
        lead=(f"{shape}_sizes",),
        method=Method.D4791,
        parameters=_CHOICES,
    )
    by_hand = Formula(
        property=prop,
        grain=Grain.SAMPLE,
        route="by_hand",
        standard=STANDARD,
        section=f"weighted average ({FROM_MEMORY})",
        equation=of_gradation.equation,
        inputs=("share1", "pct1", "share2", "pct2"),
        expression=_mean_by_share,
        by_hand_only=True,
        variadic=("share", "pct"),
    )
    of_sample = Mean(
        property=prop,
        grain=Grain.SAMPLE,
        of=prop,
        of_grain=Grain.SPECIMEN,
        method=Method.D4791,
        standard=STANDARD,
        parameters=_CHOICES,
    )
    return of_gradation, by_hand, of_sample


def _mean_by_share(*pairs: pl.Expr) -> pl.Expr:
    shares, figures = pairs[0::2], pairs[1::2]
    parts = [share * figure for share, figure in zip(shares, figures, strict=True)]
    return reduce(add, parts) / reduce(add, shares)


OF_SIZES = tuple(_of_size(shape) for shape in _WORDS)
WEIGHTED = tuple(each for shape in _WORDS for each in _weighted(shape))
