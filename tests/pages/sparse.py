"""Situations in which there is little to show, or much: made from the invented tables by taking away and repeating."""

from collections.abc import Callable

import polars as pl

from plugins.renderers.verbs.tables import TABLES
from tests.pages import invented

Tables = dict[str, pl.DataFrame]
#: Tables that say what is there before anything was tested.
_REGISTER = ("run", "projects", "samples", "properties", "flags")
#: Tables that only a specification set gives rise to.
_OF_LIMITS = (
    "judgements", "missing", "lots", "mix_bands", "mix_states", "mix_rut_limits", "lot_figures", "work",
    "laboratory_bias",
)  # fmt: skip
_LIMITS = ("lower", "upper", "verdict")


def _null(frame: pl.DataFrame, *columns: str) -> pl.DataFrame:
    return frame.with_columns(pl.lit(None, frame.schema[name]).alias(name) for name in columns if name in frame.columns)


def _none_outside(frame: pl.DataFrame) -> pl.DataFrame:
    return frame.with_columns(pl.lit(0, pl.Int64).alias("outside")) if "outside" in frame.columns else frame


def reports(tables: Tables) -> Tables:
    """Add what the reports of all samples are made of."""
    samples = tables.get("samples", pl.DataFrame(schema=TABLES["samples"]))
    asked = samples.select("sample_id", pl.format("{}-1", "sample_id").alias("report_no"), pl.lit(1).alias("issue_no"))
    return {**tables, "reports": asked}


def nothing() -> Tables:
    """No table at all, as in a workspace that never ran."""
    return {}


def no_data() -> Tables:
    """Give all tables without a row, save the run that found nothing."""
    return {name: pl.DataFrame(schema=schema) for name, schema in TABLES.items()} | {"run": invented.tables()["run"]}


def one_sample() -> Tables:
    """One project with one sample, tested and judged."""
    return invented.tables(projects=1, per_project=1)


def all_failing() -> Tables:
    """Every judged result lies above its limit."""
    made = invented.tables(projects=2, per_project=8, passes=2000)
    above = pl.coalesce("upper", "lower") + 50.0
    fails = {
        "value": above,
        "verdict": pl.lit("fail"),
        "reason": pl.lit(None, pl.String),
        "flags": pl.lit(None, pl.String),
    }
    judged = made["judgements"].with_columns(upper=pl.coalesce("upper", pl.col("lower") + 1)).with_columns(**fails)
    key = ["sample_id", "property", "point"]
    figures = judged.select(*key, pl.col("value").alias("found"))
    values = (
        made["sample_values"]
        .join(figures, on=key, how="left", nulls_equal=True)
        .with_columns(
            value=pl.coalesce("found", "value"),
            text=pl.when(pl.col("found").is_null()).then("text"),
            withheld=pl.when(pl.col("found").is_null()).then("withheld"),
        )
    )
    trends = made["mix_trends"].with_columns(verdict=pl.when(pl.col("verdict").is_not_null()).then(pl.lit("fail")))
    totals = made["mix_trend_totals"].with_columns(
        outside=pl.when(pl.any_horizontal(pl.col("lower", "upper").is_not_null())).then("samples").otherwise(0)
    )
    lots = made["lots"].with_columns(within_pct=pl.lit(0.0), pay_pct=pl.lit(0.0), removal=pl.lit(True))
    return made | {
        "judgements": judged, "sample_values": values, "mix_trends": trends, "mix_trend_totals": totals, "lots": lots,
    }  # fmt: skip


def many_samples() -> Tables:
    """Give one project of four hundred samples, all of one mix."""
    return invented.tables(projects=1, per_project=400)


def no_targets() -> Tables:
    """Mix designs that state no target at all: limits around them cannot be told."""
    made = invented.tables(projects=2, per_project=8, passes=2000)
    figures = ("pb_pct", "gmm", "air_voids_pct", "vma_pct", "n_initial", "n_design", "n_maximum", "recycled_pct")
    declined = made["judgements"].with_columns(
        verdict=pl.lit("not_judged"), reason=pl.lit("the mix design states no target"), value=pl.lit(None, pl.Float64)
    )
    for name in ("mix_phases", "mix_trends", "mix_trend_totals", "lots", "charts"):
        limits = _LIMITS if name != "charts" else ()
        made[name] = _none_outside(_null(made[name], "target", "production_less_target", *limits))
    return made | {
        "mixes": _null(made["mixes"], *figures, "maximum_size_mm"),
        "judgements": _null(declined, "lower", "upper"),
        "mix_gradation": made["mix_gradation"].clear(),
        "mix_bands": made["mix_bands"].filter(pl.col("basis") == "absolute"),
        "laboratory_figures": _null(made["laboratory_figures"], "mean_off_target", "deviation_off_target"),
        "plant_figures": _null(made["plant_figures"], "mean_off_target", "deviation_off_target"),
    }  # fmt: skip


def no_limits() -> Tables:
    """Projects without a specification set: nothing is judged, nothing is required."""
    made = invented.tables(projects=2, per_project=8, passes=2000)
    made |= {name: made[name].clear() for name in _OF_LIMITS}
    for name in ("mix_trends", "mix_trend_totals"):
        made[name] = _none_outside(_null(made[name], *_LIMITS))
    return made | {
        "projects": _null(made["projects"], "set_id"),
        "mix_rut": _null(made["mix_rut"], "verdict"),
        "density_places": _null(made["density_places"], "lower", "upper", "basis", "side"),
        "plant_figures": made["plant_figures"].with_columns(judged=pl.lit(0), failed=pl.lit(0)),
    }


def register_only() -> Tables:
    """Projects and samples were registered, nothing was tested."""
    made = invented.tables(projects=2, per_project=4)
    empty = no_data()
    places = {"project_places": made["project_places"]}
    laboratories = made["laboratories"].with_columns(timed=pl.lit(None, pl.Int64), duplicates=pl.lit(0))
    laboratories = _null(laboratories, "days_median", "days_longest").with_columns(duplicates_beyond=pl.lit(0))
    return empty | {name: made[name] for name in _REGISTER} | places | {"laboratories": laboratories}


def bare_register() -> Tables:
    """Give a register that states nothing but ids: of a project, its sample, and a sample of no project."""
    made = no_data()
    sample = {"sample_id": ["S-1", "S-2"], "project_id": ["P-1", None]}
    return made | {"samples": pl.DataFrame(sample), "projects": pl.DataFrame({"project_id": ["P-1"]})}


def project_without_samples() -> Tables:
    """Give a project that is registered, without a sample."""
    made = invented.tables(projects=1, per_project=1)
    return no_data() | {"projects": made["projects"], "properties": made["properties"]}


def refused_only() -> Tables:
    """Exports came, and all of them were refused."""
    made = invented.tables(projects=1, per_project=1)
    counts = {"exports": 1, "refused_exports": 1, "partly_exports": 0, "duplicates": 0, "rows_accepted": 0}
    arrivals = made["arrivals"].head(1).with_columns(pl.lit(n).alias(name) for name, n in counts.items())
    nobody = _null(made["refusals"], "sample_id", "project_id")
    return no_data() | {"refusals": nobody.filter(pl.col("stage") == "read"), "arrivals": arrivals}


def all_withheld() -> Tables:
    """No figure could be derived: every one is withheld, with its reason."""
    made = invented.tables(projects=1, per_project=6, passes=2000)
    why = pl.lit("no Gmm of this sample")
    gone = {"text": pl.lit(None, pl.String), "value": pl.lit(None, pl.Float64), "uncertainty": pl.lit(None, pl.Float64)}
    gone |= {"spread": pl.lit(None, pl.Float64), "n": pl.lit(None, pl.Int64)}
    values = made["sample_values"].with_columns(**gone, withheld=why)
    specimens = made["specimen_values"].with_columns(text=gone["text"], value=gone["value"], withheld=why)
    judged = made["judgements"].with_columns(value=gone["value"], verdict=pl.lit("not_judged"), reason=why)
    empty = ("lots", "charts", "mix_trends", "mix_trend_totals", "mix_rut", "mix_density", "mix_phases", "mix_states")
    empty += ("laboratory_figures", "plant_figures", "lot_figures", "laboratory_bias", "drift", "density_places")
    return made | {name: made[name].clear() for name in empty} | {
        "sample_values": values, "specimen_values": specimens, "judgements": judged,
    }  # fmt: skip


SITUATIONS: dict[str, Callable[[], Tables]] = {
    each.__name__: each
    for each in (
        nothing, no_data, one_sample, all_failing, many_samples, no_targets, no_limits, register_only, bare_register,
        project_without_samples, refused_only, all_withheld,
    )
}  # fmt: skip
