"""Records -> one wide frame per table of figures, ready for the formulas."""

from dataclasses import dataclass

import polars as pl

from pipeline.derive import loading, press, revisions, sieving, wheel
from pipeline.derive.inputs import Inputs
from pipeline.formulas.model import Grain, Table
from pipeline.settings import Results
from schemas.vocabulary import MassRole, Method

#: Roles whose weighing states the temperature of the water the specimen hung or lay in.
_IN_WATER = (MassRole.SUBMERGED, MassRole.CONTAINER_SAMPLE_WATER, MassRole.CONTAINER_SAMPLE_SUBMERGED)
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
    tables: dict[Table, pl.DataFrame] = {
        (Grain.SPECIMEN, method): _weighed(weighing, method)
        for method in (Method.T166, Method.T209, Method.T308, Method.T30)
    }
    pressed = press.build(inputs.compaction_run, inputs.compaction_height, samples)
    tables[Grain.SPECIMEN, Method.T166] = tables[Grain.SPECIMEN, Method.T166].join(
        pressed.specimens, on=_SPECIMEN, how="full", coalesce=True
    )
    tables[Grain.SPECIMEN_GYRATION, Method.T166] = pressed.gyrations
    sieved = sieving.build(weighing, tables[Grain.SPECIMEN, Method.T30], parameters)
    tables[Grain.SPECIMEN, Method.T30] = sieved.specimens
    tables[Grain.SPECIMEN_SIEVE, Method.T30] = sieved.sieves
    tracked = wheel.build(inputs.wheel_run, inputs.wheel_depth, parameters)
    tables[Grain.SPECIMEN, Method.T324] = tracked.wheels
    tables[Grain.SPECIMEN_PASS, Method.T324] = tracked.passes
    loaded = loading.build(inputs.load_test, inputs.load_point, parameters)
    for method, specimens in loaded.specimens.items():
        tables[Grain.SPECIMEN, method] = _weighed(weighing, method).join(
            specimens, on=_SPECIMEN, how="full", coalesce=True
        )
    tables = {table: _of_known(frame, known, table[0]) for table, frame in tables.items()}
    batched = pl.col("pb_batched_pct").alias("pb_batched")
    tables[Grain.SAMPLE, None] = samples.select(*SAMPLE_FACTS, batched, *revisions.quantities())
    series = {"compaction_height": pressed.gyrations, "wheel_depth": tracked.series, "load_point": loaded.series}
    return Prepared(tables, series)


def _weighed(weighing: pl.DataFrame, method: Method) -> pl.DataFrame:
    """Return one row per specimen weighed for a method, a column per role of a mass."""
    roles = [role for role in MassRole if role is not MassRole.RETAINED]
    water = pl.col("water_temperature_c").filter(pl.col("role").is_in([role.value for role in _IN_WATER]))
    return (
        weighing.filter(pl.col("method") == method.value)
        .group_by(_SPECIMEN)
        .agg(
            *(
                pl.col("mass_g").filter(pl.col("role") == role.value).first().alias(f"mass_{role.value}")
                for role in roles
            ),
            water.max().alias("water_temperature"),
            pl.col("residual_pressure_kpa").max().alias("residual_pressure"),
        )
    )


def _of_known(frame: pl.DataFrame, known: pl.DataFrame, grain: Grain) -> pl.DataFrame:
    joined = frame.join(known, on="sample_id", how="inner", maintain_order="left")
    # Sorted, so that means and reasons come out the same whatever the order of arrival; the long series is already.
    return joined if grain is Grain.SPECIMEN_GYRATION else joined.sort(grain.keys)
