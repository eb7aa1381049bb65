"""Calibrations of the register -> which figures were read on an instrument that was out of calibration that day."""

from collections.abc import Iterator

import polars as pl

from pipeline.derive.inputs import Inputs
from pipeline.formulas.model import Grain, Table, family
from pipeline.settings import Results
from schemas.vocabulary import CalibrationState, MassRole, Method, Outcome

_SPECIMEN = ["sample_id", "specimen_no"]
#: Column that says it of the machine whose record gave the figures of a specimen, and ending of a single figure's.
MACHINE, LAPSED = "machine__lapsed", "lapsed"
_RETAINED = ("mass_retained_total", "mass_retained_cumulative")


def mark(tables: dict[Table, pl.DataFrame], inputs: Inputs, parameters: Results) -> dict[Table, pl.DataFrame]:
    """Add `<name>__lapsed` to the tables with such figures: true where the instrument was out of calibration."""
    due = calibrations_due(inputs.calibration, inputs.instrument, parameters)
    if due.is_empty():
        return tables
    marked = dict(tables)
    for method, found in _found(inputs, due):
        for table in tables:
            if (
                table[0].level.value == Grain.SPECIMEN.level.value
                and table[1] == family(method)
                and not found.is_empty()
            ):
                marked[table] = marked[table].join(found, on=_SPECIMEN, how="left", maintain_order="left")
    return marked


def states(pairs: pl.DataFrame, due: pl.DataFrame) -> pl.DataFrame:
    """Return what the register knew of instruments on days.

    Parameters
    ----------
    pairs
        Columns instrument_id, day.
    due
        What `calibrations_due` returns.

    Returns
    -------
    pl.DataFrame
        instrument_id, day, calibrated_on (last calibration accepted before), until (last day it counts), state: a
        value of `schemas.vocabulary.CalibrationState`.
    """
    asked = pairs.unique().sort("day", "instrument_id")
    given = {"left_on": "day", "right_on": "on", "by": "instrument_id", "check_sortedness": False}
    known = due.with_columns(on=pl.col("calibrated_on"))
    last = asked.join_asof(known.select("instrument_id", "on", "rejected"), **given)  # type: ignore[arg-type]
    accepted = known.filter(~pl.col("rejected")).select("instrument_id", "on", "calibrated_on", "until")
    both = last.join_asof(accepted, **given)  # type: ignore[arg-type]
    state = (
        pl.when(pl.col("rejected"))
        .then(pl.lit(CalibrationState.REJECTED.value))
        .when(pl.col("until") < pl.col("day"))
        .then(pl.lit(CalibrationState.LAPSED.value))
        .when(pl.col("until").is_not_null())
        .then(pl.lit(CalibrationState.COVERED.value))
        .otherwise(pl.lit(CalibrationState.UNKNOWN.value))
    )
    return both.select("instrument_id", "day", "calibrated_on", "until", state=state)


def calibrations_due(calibration: pl.DataFrame, instrument: pl.DataFrame, parameters: Results) -> pl.DataFrame:
    """Return instrument, day, whether that calibration was rejected, and until when it counts."""
    months = {kind.casefold(): int(count) for kind, count in parameters.calibration_months.items()}
    kinds = instrument.select("instrument_id", pl.col("kind").str.to_lowercase().alias("kind")).unique("instrument_id")
    interval = pl.col("kind").replace_strict(months, default=None, return_dtype=pl.Int64) if months else pl.lit(None)
    longest = pl.col("calibrated_on").dt.offset_by(pl.format("{}mo", interval.cast(pl.Int64)))
    return (
        calibration.join(kinds, on="instrument_id", how="left")
        .select(
            "instrument_id",
            "calibrated_on",
            (pl.col("outcome") == Outcome.REJECTED.value).alias("rejected"),
            pl.min_horizontal("due_on", longest).alias("until"),
        )
        .sort("calibrated_on", "instrument_id")
    )


def _found(inputs: Inputs, due: pl.DataFrame) -> Iterator[tuple[Method, pl.DataFrame]]:
    taken = inputs.sample.select("sample_id", "taken_on")
    weighed = _out(inputs.weighing, taken, due)
    dried = _out(inputs.drying_weighing, taken, due)
    measured = _out(inputs.dimension, taken, due)
    tested = _out(inputs.load_test, taken, due)
    stamped = _out(inputs.impact_run, taken, due)
    named = pl.concat_str("specimen_no", "wheel", separator=" ").alias("specimen_no")
    for method in Method:
        own = pl.col("method") == method.value
        yield method, _by_role(weighed.filter(own), "mass")
        yield method, _by_role(measured.filter(own), "length")
        both = [rows.filter(own).select(_SPECIMEN) for rows in (tested, stamped)]
        yield method, _machine(pl.concat(both))
        yield method, _dried(dried.filter(own))
    yield Method.T312, _machine(_out(inputs.compaction_run, taken, due))
    yield Method.T324, _machine(_out(inputs.wheel_run.with_columns(named), taken, due))
    yield Method.T308, _machine(_out(inputs.ignition_burn, taken, due))


def _out(rows: pl.DataFrame, taken: pl.DataFrame, due: pl.DataFrame) -> pl.DataFrame:
    """Return the rows read on an instrument that was out of calibration; one never calibrated before is not judged."""
    read = rows.filter(pl.col("instrument_id").is_not_null())
    day = pl.coalesce(pl.col("stated_at").dt.date(), pl.col("issued_at").dt.date(), pl.col("taken_on")).alias("day")
    dated = read.join(taken, on="sample_id", how="left").with_columns(day).drop_nulls("day")
    out = pl.col("state").is_in([CalibrationState.REJECTED.value, CalibrationState.LAPSED.value])
    lapsed = states(dated.select("instrument_id", "day"), due).filter(out)
    return dated.join(lapsed.select("instrument_id", "day"), on=["instrument_id", "day"], how="semi")


def _by_role(rows: pl.DataFrame, stem: str) -> pl.DataFrame:
    roles = rows["role"].unique().sort().to_list()
    names = {role: _RETAINED if role == MassRole.RETAINED.value else (f"{stem}_{role}",) for role in roles}
    return rows.group_by(_SPECIMEN).agg(
        (pl.col("role") == role).any().alias(f"{name}__{LAPSED}") for role in roles for name in names[role]
    )


def _machine(rows: pl.DataFrame) -> pl.DataFrame:
    return rows.select(_SPECIMEN).unique().with_columns(pl.lit(True).alias(MACHINE))


def _dried(rows: pl.DataFrame) -> pl.DataFrame:
    names = ("mass_oven_container_dried", "mass_oven_container_dried_before")
    return rows.select(_SPECIMEN).unique().with_columns(pl.lit(True).alias(f"{name}__{LAPSED}") for name in names)
