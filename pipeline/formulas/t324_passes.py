"""AASHTO T 324: passes to a depth, and the rutting resistance index."""

import polars as pl

from pipeline.formulas.model import Curve, Formula, Grain, Property
from pipeline.formulas.t324 import CHOICES, RECORD, STANDARD
from pipeline.formulas.t324_stripping import TABLE, found, of_sample, quantity
from pipeline.settings import Results
from schemas.vocabulary import Method

_CHOICES = (*CHOICES, "wheel_depth_limit_mm")
_KEYS = ["sample_id", "specimen_no"]
_FIGURES = (
    quantity("limit_pass", "N2", "first recorded pass at or beyond the depth"),
    quantity("limit_depth", "R2", "depth recorded there", "mm"),
    quantity("limit_pass_before", "N1", "recorded pass before it"),
    quantity("limit_depth_before", "R1", "depth recorded at the pass before", "mm"),
    quantity("termination_pass", "N_t", "pass at termination: at the depth, or at the end of the run"),
    quantity("termination_depth", "R_t", "rut depth at termination", "mm"),
)


def _reached(series: pl.DataFrame, runs: pl.DataFrame, choices: Results) -> pl.DataFrame:
    """Return the first reading at or beyond the depth, the one before it, and where the run counts as ended."""
    limit = choices.wheel_depth_limit_mm
    same = pl.all_horizontal(pl.col(key).eq_missing(pl.col(key).shift()) for key in _KEYS)
    first = (
        series.with_columns(
            pl.when(same).then(pl.col("wheel_pass").shift()).alias("limit_pass_before"),
            pl.when(same).then(pl.col("depth").shift()).alias("limit_depth_before"),
        )
        .filter(pl.col("depth") >= limit)
        .group_by(_KEYS)
        .first()
        .select(
            *_KEYS,
            pl.col("wheel_pass").cast(pl.Float64).alias("limit_pass"),
            pl.col("depth").alias("limit_depth"),
            # A first reading beyond the depth has none before it, and stands for itself.
            pl.coalesce("limit_pass_before", "wheel_pass").cast(pl.Float64).alias("limit_pass_before"),
            pl.coalesce("limit_depth_before", "depth").alias("limit_depth_before"),
        )
    )
    wheel = pl.col("specimen_no").str.split(" ").list.last()
    why = pl.format(
        "{} wheel: {} mm not reached in {} passes", wheel, pl.lit(f"{limit:g}"), pl.col("end_pass").cast(pl.Int64)
    )
    return (
        runs.join(first, on=_KEYS, how="left", maintain_order="left")
        .with_columns(
            pl.coalesce("limit_pass", "end_pass").alias("termination_pass"),
            pl.when(pl.col("limit_pass").is_not_null()).then(limit).otherwise("end_depth").alias("termination_depth"),
            *(
                pl.when(pl.col("limit_pass").is_null()).then(why).alias(f"{each.name}__why")
                for each in _FIGURES
                if each.name.startswith("limit_")
            ),
        )
        .drop("end_pass", "end_depth")
    )


REACHED = Curve(
    name="passes_to_depth",
    table=TABLE,
    gives=_FIGURES,
    standard=STANDARD,
    section="passes to a depth",
    procedure="the first reading at or beyond the depth, and the reading before it",
    series="wheel_depth",
    function=_reached,
    needs=("end_pass", "end_depth"),
    parameters=_CHOICES,
)
FIRST_READING = found(
    Property("passes_to_limit_depth", "N limit", "passes to the depth limit, first reading at or beyond it", None, 0),
    "limit_pass",
    "first_reading",
    "passes to a depth, first reading",
    _CHOICES,
    ("limit_depth", "first_depth"),
)
INTERPOLATED = Formula(
    property=Property(
        "passes_to_limit_depth_interpolated", "N limit", "passes to the depth limit, interpolated", None, 0
    ),
    grain=Grain.SPECIMEN,
    route="interpolated",
    standard=STANDARD,
    section="passes to a depth, interpolated",
    equation="N = N1 + (N2 - N1)(R limit - R1)/(R2 - R1)",
    inputs=("limit_pass_before", "limit_pass", "limit_depth_before", "limit_depth", "depth_limit"),
    expression=lambda before, after, depth1, depth2, limit: (
        pl.when(depth2 > depth1).then(before + (after - before) * (limit - depth1) / (depth2 - depth1)).otherwise(after)
    ),
    checks=RECORD,
    lead=("passes_recorded",),
    method=Method.T324,
    parameters=_CHOICES,
    states=("first_depth",),
)
RESISTANCE = Formula(
    property=Property("rutting_resistance_index", "RRI", "rutting resistance index", None, 0),
    grain=Grain.SPECIMEN,
    route="passes_and_depth",
    standard="Wen et al. 2016",
    section="rutting resistance index (from memory)",
    equation="RRI = N_t (1 - R_t / 25.4), R_t in mm",
    inputs=("termination_pass", "termination_depth"),
    expression=lambda passes, depth: passes * (1 - depth * (1 / 25.4)),
    checks=RECORD,
    lead=("passes_recorded",),
    method=Method.T324,
    parameters=_CHOICES,
    states=("termination_pass", "termination_depth"),
)
OF_SAMPLE = tuple(of_sample(each.property, _CHOICES) for each in (FIRST_READING, INTERPOLATED, RESISTANCE))
