"""The tables as the workspace asks to see them: in SI or US customary units, with what the pages need to know of it."""

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from pipeline.reporting import texts, with_decimals
from pipeline.rounding import Rule
from pipeline.settings import Pages, SettingsError
from schemas.units import CUSTOMARY, conversion, customary


@dataclass(frozen=True)
class _Figures:
    """Columns of one table in the unit of its property: figures, and what only spans a distance (no offset)."""

    figures: tuple[str, ...]
    spans: tuple[str, ...] = ()


#: Table -> its columns in the unit of `property`.
_CONVERTED = {
    "sample_values": _Figures(("value",), ("spread", "uncertainty")),
    "specimen_values": _Figures(("value",), ("uncertainty",)),
    "judgements": _Figures(("value", "lower", "upper")),
    "lots": _Figures(("mean", "target", "lower", "upper"), ("s",)),
    "charts": _Figures(("value", "target", "centre", "lower_control", "upper_control")),
    "drift": _Figures((), ("mean_off_mix", "deviation_off_mix")),
    "mix_trends": _Figures(("value", "target", "lower", "upper")),
    "mix_trend_totals": _Figures(("target", "lower", "upper")),
    "project_figures": _Figures(("mean", "least", "most"), ("s",)),
    "project_limits": _Figures(("lower", "upper")),
    "project_trend": _Figures(("value", "lower", "upper")),
    "project_worst": _Figures(("value", "lower", "upper"), ("away",)),
    "laboratory_figures": _Figures((), ("mean_off_target", "deviation_off_target", "repeatability")),
    "laboratory_bias": _Figures((), ("difference", "deviation")),
    "plant_figures": _Figures((), ("mean_off_target", "deviation_off_target")),
    "mix_phases": _Figures(
        ("target", "verification", "startup", "production"),
        (
            "production_deviation",
            "production_less_target",
            "production_less_verification",
            "production_less_startup",
        ),
    ),
}
#: Table -> its lengths in metres that are of no property, and the column that names their unit.
_LENGTHS = {"density_places": (("station", "offset"), "place_unit")}
#: Decimals of a limit beyond those of the result: converted limits are seldom round.
_LIMIT_PLACES = 2
_LIMITS = ("lower", "upper")


def dressed(frames: Mapping[str, pl.DataFrame], pages: Pages, rule: Rule) -> dict[str, pl.DataFrame]:
    """Return the tables as they are shown.

    Figures are converted unrounded, by exact factors, and rounded once, to the decimals that fit the unit. Limits
    are shown with two decimals more. Verdicts were found in the stored units and stay.

    Raises
    ------
    SettingsError
        When there is no catalogue of texts in the language asked for, or it cannot be used.
    """
    from plugins.renderers.verbs.words import CatalogueError, check, languages

    if pages.language not in languages():
        known = ", ".join(languages())
        raise SettingsError(f"mixledger.toml [pages] language: expected one of {known}, found '{pages.language}'.")
    try:
        check(pages.language)
    except CatalogueError as fault:
        raise SettingsError(f"mixledger.toml [pages] language: {fault}.") from fault
    asked = {name: getattr(pages, name) for name in ("units", "decimal_mark", "date_format", "language")}
    shown = dict(frames) | {"presentation": pl.DataFrame(asked)}
    return shown | _customary(shown, rule) if pages.units == "us" else shown


def _customary(frames: Mapping[str, pl.DataFrame], rule: Rule) -> dict[str, pl.DataFrame]:
    told = _factors()
    properties = frames["properties"]
    factors = properties.join(told, on="unit", how="inner").select("property", "factor", "offset", "more")
    converted = {
        name: _table(frames[name], factors, columns, rule) for name, columns in _CONVERTED.items() if name in frames
    }
    named = properties.join(told, on="unit", how="left", maintain_order="left").with_columns(
        unit=pl.coalesce("shown", "unit"), decimals=(pl.col("decimals") + pl.col("more").fill_null(0)).clip(0)
    )
    placed = {name: _lengths(frames[name], *columns) for name, columns in _LENGTHS.items() if name in frames}
    return {**converted, **placed, "properties": named.select(properties.columns)}


def _lengths(frame: pl.DataFrame, lengths: tuple[str, ...], unit: str) -> pl.DataFrame:
    factor, _ = conversion("m", CUSTOMARY["m"])
    return frame.with_columns(*(pl.col(name) * factor for name in lengths), pl.lit(CUSTOMARY["m"]).alias(unit))


def _factors() -> pl.DataFrame:
    rows = [(unit, *(customary(unit) or ())) for unit in CUSTOMARY]
    return pl.DataFrame(rows, schema=["unit", "shown", "factor", "offset", "more"], orient="row")


def _table(frame: pl.DataFrame, factors: pl.DataFrame, columns: _Figures, rule: Rule) -> pl.DataFrame:
    joined = with_decimals(frame.join(factors, on="property", how="left", maintain_order="left"))
    factor, offset = pl.col("factor"), pl.col("offset")
    touched = factor.is_not_null()
    joined = joined.with_columns(
        decimals=(pl.col("decimals") + pl.col("more").fill_null(0)).clip(0),
        **{name: pl.when(touched).then(pl.col(name) * factor + offset).otherwise(name) for name in columns.figures},
        **{name: pl.when(touched).then(pl.col(name) * factor).otherwise(name) for name in columns.spans},
    )
    if "text" in frame.columns:
        fresh = pl.when(touched & pl.col("text").is_not_null()).then(pl.Series(texts(joined, rule)))
        joined = joined.with_columns(text=fresh.otherwise("text"))
    if set(_LIMITS) <= set(columns.figures):
        places = (pl.col("decimals") + _LIMIT_PLACES).cast(pl.Float64)
        scale = pl.lit(10.0).pow(places)
        joined = joined.with_columns(
            pl.when(touched).then((pl.col(name) * scale).round(0) / scale).otherwise(name).alias(name)
            for name in _LIMITS
        )
    return joined.select(frame.columns)
