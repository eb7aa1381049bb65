"""Compacted specimens: what the other density methods weighed and read on them, and limits the settings name."""

import polars as pl

from pipeline.derive.inputs import Inputs
from pipeline.formulas.minimum_mass import least_up_to, standing
from pipeline.formulas.model import Grain, Table
from pipeline.settings import Results
from schemas.vocabulary import LengthRole, MassRole, Method

_SPECIMEN = ["sample_id", "specimen_no"]
#: Columns each method adds to the table of T 166; a name both have bears the method.
_ADDED: dict[Method, dict[str, str]] = {
    Method.T331: {
        "mass_dry": "mass_dry_t331",
        "water_temperature": "water_temperature_t331",
        **{
            f"mass_{role.value}": f"mass_{role.value}"
            for role in (MassRole.SEALED, MassRole.SEALED_SUBMERGED, MassRole.UNSEALED)
        },
    },
    Method.T269: {
        "mass_dry": "mass_dry_t269",
        **{
            name: name
            for role in (LengthRole.HEIGHT, LengthRole.DIAMETER)
            for name in (f"length_{role.value}", f"length_{role.value}_n", f"length_{role.value}_range")
        },
    },
    Method.D3549: {name: name for name in ("length_thickness", "length_thickness_n", "length_thickness_range")},
}
#: Smallest mass of a large sealing bag, g (AASHTO T 331, 5.4).
_LARGE_BAG_G = 35.0
#: Sieves above 4.75 mm, each with the next larger one: nominal maximum size -> maximum size.
_NEXT_SIEVE = {4.75: 9.5, 9.5: 12.5, 12.5: 19.0, 19.0: 25.0, 25.0: 37.5, 37.5: 50.0}


def join(tables: dict[Table, pl.DataFrame], inputs: Inputs, samples: pl.DataFrame, parameters: Results) -> pl.DataFrame:
    """Return the table of T 166 with what the other methods found on the same specimens, and their lot."""
    frame = tables[Grain.SPECIMEN, Method.T166]
    for method, names in _ADDED.items():
        found = tables.pop((Grain.SPECIMEN, method)).select(*_SPECIMEN, *(pl.col(n).alias(a) for n, a in names.items()))
        kept = frame.drop(set(names.values()) & set(frame.columns))
        frame = kept.join(found, on=_SPECIMEN, how="full", coalesce=True)
    tables.pop((Grain.SPECIMEN, Method.T355))
    frame = frame.join(_gauged(inputs.gauge_reading), on=_SPECIMEN, how="full", coalesce=True)
    cores = inputs.core.select(*_SPECIMEN, pl.col("thickness_mm").alias("thickness"))
    frame = frame.join(cores, on=_SPECIMEN, how="full", coalesce=True)
    lots = samples.select("sample_id", "project_id", "mix_id", "lot")
    return frame.join(lots, on="sample_id", how="inner").with_columns(
        *_bag(parameters),
        pl.lit(parameters.bag_loss_pct).alias("bag_loss_limit"),
        pl.lit(parameters.bag_gain_pct).alias("bag_gain_limit"),
        pl.lit(parameters.dimensions_water_kg_m3).alias("dimensions_water"),
        pl.lit(float(parameters.open_voids_from_pct)).alias("open_voids_from"),
        pl.lit(float(parameters.thickness_range_mm)).alias("thickness_range_limit"),
    )


def _bag(parameters: Results) -> list[pl.Expr]:
    """Return the apparent gravity of each specimen's bag, how it changes, and why it is unknown."""
    bag = pl.col("mass_sealed") - pl.col("mass_dry_t331")
    large = bag >= _LARGE_BAG_G

    def of(given: tuple[float, ...], place: int, default: float | None) -> pl.Expr:
        return pl.lit(float(given[place]) if len(given) > place else default, pl.Float64)

    def either(place: int, default: float | None) -> pl.Expr:
        small, big = (of(each, place, default) for each in (parameters.bag_gravity_small, parameters.bag_gravity_large))
        return pl.when(large).then(big).when(bag.is_not_null()).then(small)

    size = pl.when(large).then(pl.lit("large")).otherwise(pl.lit("small"))
    unknown = pl.format(
        "apparent specific gravity of the bag missing: state [results] bag_gravity_{} in the settings", size
    )
    return [
        either(0, None).alias("bag_gravity"),
        pl.when(either(0, None).is_null() & bag.is_not_null()).then(unknown).alias("bag_gravity__why"),
        either(1, 0.0).alias("bag_gravity_change"),
    ]


def _gauged(readings: pl.DataFrame) -> pl.DataFrame:
    """Return per place the mean of the gauge's readings, the gauge, and the correlation stated with them."""
    # Sorted, so that the sum is the same whatever the order of arrival.
    density = pl.col("gauge_density_kg_m3").sort()
    gauge = pl.col("instrument_id").fill_null("")
    return (
        readings.group_by(_SPECIMEN)
        .agg(
            density.mean().alias("gauge_density"),
            gauge.n_unique().cast(pl.Float64).alias("gauges"),
            gauge.min().alias("gauge"),
            pl.col("correlation_kg_m3").max().alias("correlation"),
        )
        # Readings of several gauges belong to none of their correlations.
        .with_columns(pl.when(pl.col("gauges") == 1).then("gauge").alias("gauge"))
    )


def of_samples(parameters: Results) -> list[pl.Expr]:
    """Return what the limits of specimens take from the nominal maximum size, and the density of water."""
    nmas = pl.col("nmas_mm")
    ladder = "t209_older" if parameters.gmm_mass_table == "older" else "t209"
    return [
        pl.lit(float(parameters.water_kg_m3)).alias("water_density"),
        nmas.replace_strict(_NEXT_SIEVE, default=None, return_dtype=pl.Float64).alias("design_maximum_size"),
        least_up_to(nmas, ladder, standing(ladder, parameters.limits)).alias("gmm_least_mass"),
        pl.lit(float(parameters.vacuum_low_kpa)).alias("vacuum_low"),
        pl.lit(float(parameters.vacuum_high_kpa)).alias("vacuum_high"),
        pl.lit(parameters.flask_water).alias("flask_water"),
    ]
