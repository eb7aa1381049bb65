"""Records -> one wide frame per table of figures, ready for the formulas."""

from dataclasses import dataclass

import polars as pl

from pipeline.derive import binder, calibrated, density, impact, loading, particles, press, revisions, sieving, wheel
from pipeline.derive.inputs import Inputs
from pipeline.derive.sieving import SIEVINGS
from pipeline.formulas import film_thickness
from pipeline.formulas.model import Grain, Table
from pipeline.settings import Results
from schemas.vocabulary import SIEVED_ROLES, LengthRole, MassRole, Method

#: Roles whose weighing states the temperature of the water the specimen hung or lay in.
_IN_WATER = (
    MassRole.SUBMERGED,
    MassRole.CONTAINER_SAMPLE_WATER,
    MassRole.CONTAINER_SAMPLE_SUBMERGED,
    MassRole.SEALED_SUBMERGED,
    MassRole.VOLUMETER_SPECIMEN,
    MassRole.MEASURE_PLATE_WATER,
)
#: Circumstances of a weighing: column -> quantity; of several weighings of a specimen the largest counts.
_CIRCUMSTANCES = {
    "residual_pressure_kpa": "residual_pressure",
    "specimen_temperature_c": "specimen_temperature",
    "immersion_time_min": "immersion_time",
    "oven_temperature_c": "oven_temperature",
    "vacuum_time_min": "vacuum_time",
    "shaker_rate_per_min": "shaker_rate",
    "container_volume_cm3": "container_volume",
}
_SPECIMEN = ["sample_id", "specimen_no"]
SAMPLE_FACTS = ("sample_id", "project_id", "mix_id", "lot", "material", "phase", "taken_on", "revision", "nmas_mm")


@dataclass(frozen=True)
class Prepared:
    """What the formulas start from: a frame per table, and the long series that curves are drawn through."""

    tables: dict[Table, pl.DataFrame]
    series: dict[str, pl.DataFrame]


def build(inputs: Inputs, parameters: Results) -> Prepared:
    """Return the frame of every table, and the long series; rows of samples the register does not know are left out.

    Every frame has the keys of its grain and, by quantity name, what was measured; `<name>__why` states in words
    why a figure is missing, where more can be said than that it is.
    """
    samples = revisions.with_revision(inputs.sample, inputs.mix_design)
    known = samples.select("sample_id", "material")
    weighing = inputs.weighing.join(known.select("sample_id"), on="sample_id", how="semi")
    dimension = inputs.dimension.join(known.select("sample_id"), on="sample_id", how="semi")
    tables = _observed(weighing, dimension, inputs.instrument)
    pressed = press.build(inputs.compaction_run, inputs.compaction_height, samples)
    tables[Grain.SPECIMEN, Method.T166] = density.join(tables, inputs, samples, parameters).join(
        pressed.specimens, on=_SPECIMEN, how="full", coalesce=True
    )
    tables[Grain.SPECIMEN_GYRATION, Method.T166] = pressed.gyrations
    for method in SIEVINGS:
        sieved = sieving.build(weighing, tables[Grain.SPECIMEN, method], method, parameters)
        tables[Grain.SPECIMEN, method] = sieved.specimens
        tables[Grain.SPECIMEN_SIEVE, method] = sieved.sieves
    shaped = particles.build(weighing, tables, parameters)
    tables[Grain.SPECIMEN_SIEVE, Method.D4791] = shaped.sieves
    tracked = wheel.build(inputs.wheel_run, inputs.wheel_depth, parameters)
    tables[Grain.SPECIMEN, Method.T324] = tracked.wheels
    tables[Grain.SPECIMEN_PASS, Method.T324] = tracked.passes
    loaded = loading.build(inputs.load_test, inputs.load_point, parameters)
    for method, specimens in loaded.specimens.items():
        tables[Grain.SPECIMEN, method] = tables[Grain.SPECIMEN, method].join(
            specimens, on=_SPECIMEN, how="full", coalesce=True
        )
    for method, observed in (
        (Method.T308, binder.burns(inputs.ignition_burn)),
        (Method.T329, binder.dried(inputs.drying_weighing)),
    ):
        tables[Grain.SPECIMEN, method] = tables[Grain.SPECIMEN, method].join(
            observed, on=_SPECIMEN, how="full", coalesce=True
        )
    stepped = impact.build(inputs.impact_run, inputs.impact_height)
    for method, specimens in stepped.specimens.items():
        tables[Grain.SPECIMEN, method] = tables[Grain.SPECIMEN, method].join(
            specimens, on=_SPECIMEN, how="full", coalesce=True
        )
        tables[Grain.SPECIMEN_STEP, method] = stepped.steps[method]
    tables = calibrated.mark(tables, inputs, parameters)
    tables = {table: _of_known(frame, known, table[0]) for table, frame in tables.items()}
    batched = pl.col("pb_batched_pct").alias("pb_batched")
    tables[Grain.SAMPLE, None] = samples.select(
        *SAMPLE_FACTS,
        batched,
        pl.col("nmas_mm").alias("nominal_size"),
        *revisions.quantities(),
        *density.of_samples(parameters),
        *film_thickness.quantities(parameters),
    )
    series = {
        "compaction_height": pressed.gyrations,
        "wheel_depth": tracked.series,
        "load_point": loaded.series,
        "particle_fraction": shaped.fractions,
        "stockpile": revisions.blends(samples, inputs.stockpile),
    }
    return Prepared(tables, series)


def _observed(weighing: pl.DataFrame, dimension: pl.DataFrame, instrument: pl.DataFrame) -> dict[Table, pl.DataFrame]:
    """Return, per method, one row per specimen weighed or measured: masses and lengths by role."""
    keys = ["method", *_SPECIMEN]
    steps = instrument.select("instrument_id", pl.col("readability_g").alias("balance_step"))
    weighed = weighing.join(steps, on="instrument_id", how="left", maintain_order="left")
    observed = _weighed(weighed, keys).join(_measured(dimension, keys), on=keys, how="full", coalesce=True)
    return {
        (Grain.SPECIMEN, method): observed.filter(pl.col("method") == method.value).drop("method")
        for method in Method
        if method not in (Method.T312, Method.T324)
    }


def _weighed(weighing: pl.DataFrame, keys: list[str]) -> pl.DataFrame:
    roles = [role for role in MassRole if role not in SIEVED_ROLES]
    water = pl.col("water_temperature_c").filter(pl.col("role").is_in([role.value for role in _IN_WATER]))
    return (
        weighing.group_by(keys)
        .agg(
            *(
                pl.col("mass_g").filter(pl.col("role") == role.value).first().alias(f"mass_{role.value}")
                for role in roles
            ),
            water.max().alias("water_temperature"),
            pl.col("balance_step").max(),
            *(pl.col(column).max().alias(name) for column, name in _CIRCUMSTANCES.items()),
        )
        .with_columns(
            # A portion too large for its container may be tested in several: together they are the test.
            pl.col("mass_dry").sum().over("sample_id", "method").alias("portions_mass")
        )
    )


def _measured(dimension: pl.DataFrame, keys: list[str]) -> pl.DataFrame:
    """Return per role the mean of the readings, their number and their range."""
    figures: list[pl.Expr] = []
    for role in LengthRole:
        # Sorted, so that the sum is the same whatever the order of arrival.
        length = pl.col("length_mm").filter(pl.col("role") == role.value).sort()
        figures += [
            length.mean().alias(f"length_{role.value}"),
            length.count().cast(pl.Float64).alias(f"length_{role.value}_n"),
            (length.max() - length.min()).alias(f"length_{role.value}_range"),
        ]
    return dimension.group_by(keys).agg(figures)


def _of_known(frame: pl.DataFrame, known: pl.DataFrame, grain: Grain) -> pl.DataFrame:
    joined = frame.join(known, on="sample_id", how="inner", maintain_order="left")
    # Sorted, so that means and reasons come out the same whatever the order of arrival; the long series is already.
    return joined if grain is Grain.SPECIMEN_GYRATION else joined.sort(grain.keys)
