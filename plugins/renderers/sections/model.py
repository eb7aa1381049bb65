"""What all pages need of the tables handed in, computed once per renderer."""

from dataclasses import dataclass

import polars as pl

from plugins.renderers.verbs.results import Tables, names, results, verdicts
from plugins.renderers.verbs.slugs import slugs
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.words import spoken


@dataclass(frozen=True)
class Model:
    """Tables joined for the pages.

    Attributes
    ----------
    projects
        Register of projects, with slug.
    samples
        Register of samples in time order, with slug, project_slug (null where the register lacks the project).
    owner
        Columns sample_id, project_id.
    naming
        `verbs.results.names` of every property and at in the results, judgements and lists.
    judged
        Every judgement, with name, side, limit, project_id.
    results
        Every sample result, with name, worst verdict, project_id, in time order within each result.
    """

    tables: Tables
    projects: pl.DataFrame
    samples: pl.DataFrame
    owner: pl.DataFrame
    naming: pl.DataFrame
    judged: pl.DataFrame
    results: pl.DataFrame


def register(tables: Tables) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the registers of projects and of samples, as `Model` holds them."""
    projects = take(tables, "projects").drop_nulls("project_id").unique("project_id", keep="first", maintain_order=True)
    projects = projects.sort("project_id").join(slugs(projects["project_id"]), on="project_id", maintain_order="left")
    samples = take(tables, "samples").drop_nulls("sample_id").unique("sample_id", keep="first", maintain_order=True)
    samples = (
        samples.sort("taken_on", "sample_id", nulls_last=True)
        .join(slugs(samples["sample_id"]), on="sample_id", maintain_order="left")
        .join(
            projects.select("project_id", "project_name", pl.col("slug").alias("project_slug")),
            on="project_id",
            how="left",
            maintain_order="left",
        )
        .with_columns(spoken("phase", pl.col("phase")), spoken("material", pl.col("material")))
        .with_row_index("place_in_time")
    )
    return projects, samples


def model(tables: Tables) -> Model:
    """Join the tables handed in."""
    projects, samples = register(tables)
    owner = samples.select("sample_id", "project_id", "place_in_time")
    named = [take(tables, name).select("property", "point") for name in _NAMED]
    naming = names(pl.concat(named), tables)
    judged = verdicts(tables, naming).join(owner, on="sample_id", how="left", maintain_order="left")
    found = results(tables, judged, naming).join(owner, on="sample_id", how="left", maintain_order="left")
    found = found.sort("place_in_list", "property", "point", "place_in_time", nulls_last=True, maintain_order=True)
    return Model(tables, projects, samples, owner.drop("place_in_time"), naming, judged, found)


#: Tables that name properties.
_NAMED = ("sample_values", "specimen_values", "judgements", "missing")
