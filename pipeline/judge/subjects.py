"""What is judged: samples with the design they belong to and the specification set that holds for them."""

import polars as pl

from pipeline.derive.revisions import with_revision

#: Facts of the mix design that limits may depend on.
_DESIGN = ("binder_grade", "traffic", "layer", "plant")


def subjects(
    sample: pl.DataFrame, mix_design: pl.DataFrame, project: pl.DataFrame, assignment: pl.DataFrame
) -> pl.DataFrame:
    """Return the samples with `revision`, `nmas_mm`, `binder_grade`, `traffic`, `layer`, `plant` and `set_id`.

    A mix's own assignment goes before one of its project, the one that began last before earlier ones, and any
    of them before the set the register names for the project. `set_id` is null where there is none.
    """
    facts = mix_design.select("mix_id", "revision", *_DESIGN)
    dated = with_revision(sample, mix_design).join(facts, on=["mix_id", "revision"], how="left", maintain_order="left")
    named = project.select("project_id", named_set="set_id")
    return (
        dated.join(_assigned(dated, assignment), on="sample_id", how="left", maintain_order="left")
        .join(named, on="project_id", how="left", maintain_order="left")
        .with_columns(set_id=pl.coalesce("set_id", "named_set"))
        .drop("named_set")
    )


def _assigned(samples: pl.DataFrame, assignment: pl.DataFrame) -> pl.DataFrame:
    stated = assignment.select(
        "project_id", assigned_mix="mix_id", set_id="set_id", since="valid_from", until="valid_until"
    )
    own = pl.col("assigned_mix").is_null() | (pl.col("assigned_mix") == pl.col("mix_id"))
    begun = pl.col("since").is_null() | (pl.col("since") <= pl.col("taken_on"))
    open_ = pl.col("until").is_null() | (pl.col("until") >= pl.col("taken_on"))
    return (
        samples.select("sample_id", "project_id", "mix_id", "taken_on")
        .join(stated, on="project_id", how="inner")
        .filter(own & begun & open_)
        .sort(
            "sample_id",
            pl.col("assigned_mix").is_null(),
            "since",
            "set_id",
            descending=[False, False, True, False],
            nulls_last=True,
        )
        .unique("sample_id", keep="first", maintain_order=True)
        .select("sample_id", "set_id")
    )
