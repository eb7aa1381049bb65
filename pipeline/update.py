"""One transaction: what was read goes in, and the samples it touches are derived and judged again."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from importlib.metadata import version

import polars as pl

from pipeline import match, reading
from pipeline.derive import Derived, Inputs, derive
from pipeline.formulas import registry
from pipeline.intake import Arrival
from pipeline.judging import rejudge
from pipeline.settings import Settings
from pipeline.sources import formula_inputs
from pipeline.state import State, derivation, readers
from pipeline.workspace import Workspace
from plugins.manager import Plugins, load
from schemas.describe import describe, of_samples
from schemas.vocabulary import Stage
from warehouse.publish import publish
from warehouse.store import Store, open_store
from warehouse.touched import under_changed_sets


@dataclass(frozen=True)
class Plan:
    """What has to be done: batches to read by importer, what no importer takes, and whether to derive everything."""

    incoming: tuple[reading.Incoming, ...]
    batches: tuple[reading.Batch, ...]
    refused: reading.Read
    derive_all: bool
    problems: tuple[str, ...]


@dataclass(frozen=True)
class Stored:
    """What one transaction did; no run where nothing was owed."""

    run_id: int | None = None
    exports: int = 0
    rows_accepted: int = 0
    refused: int = 0


def plan(workspace: Workspace, settings: Settings, journal: Sequence[Arrival], marks: State) -> Plan:
    """Work out what is owed: new exports, refused ones when importers have changed, all figures when formulas have."""
    plugins: Plugins = load(workspace.importers, settings.plugins.trusted, settings.plugins.time_limit_seconds)
    stored = {(arrival.name, arrival.hash) for arrival in journal[: marks.arrivals]}
    hashes = {each.hash for each in journal[marks.arrivals :] if (each.name, each.hash) not in stored}
    if marks.stored and readers(workspace, settings) != marks.readers:
        with open_store(workspace.store, workspace.series) as opened:
            exports = opened.current("export")
        hashes |= set(exports.filter(pl.col("rows_refused") > 0)["export_hash"])
    incoming = reading.gather(workspace, (arrival for arrival in journal if arrival.hash in hashes))
    largest = int(settings.intake.largest_export_mb * (1 << 20))
    batches, refused = reading.recognise(incoming, plugins.importers, largest, settings.plugins.prefer)
    derive_all = bool(marks.stored) and derivation(settings) != marks.derivation
    return Plan(tuple(incoming), tuple(batches), refused, derive_all, plugins.problems)


def store(workspace: Workspace, settings: Settings, owed: Plan, reads: Sequence[reading.Read]) -> Stored:
    """Store the rows, derive and judge the touched samples, and publish: all of it, or none."""
    if not owed.incoming and not owed.derive_all:
        return Stored()
    started = datetime.now(UTC).replace(tzinfo=None)
    refusals = pl.concat([*(each.refusals for each in reads), reading.duplicates(owed.incoming)])
    frames = _together(reads)
    accepted = sum(frame.height for frame in frames.values())
    with open_store(workspace.store, workspace.series) as opened:
        run_id = opened.next_run()
        exports = pl.concat([each.exports for each in reads]).with_columns(run_id=pl.lit(run_id, pl.Int64))
        with opened.transaction():
            describe_catalogue(opened, settings.results.limits)
            opened.put(run_id, exports, frames, refusals)
            touched = opened.current("sample").select("sample_id") if owed.derive_all else opened.touched(run_id)
            _rederive(opened, settings, touched, run_id)
            rejudge(
                opened, settings, pl.concat([touched, under_changed_sets(opened.connection, run_id)]).unique(), run_id
            )
            refused = opened.opened("refusal", run_id)
            opened.record_run(_run(run_id, started, readers(workspace, settings), exports.height, accepted, refused))
        publish(opened)
    return Stored(run_id, exports.height, accepted, refused)


def _run(run_id: int, started: datetime, importers: str, exports: int, accepted: int, refused: int) -> pl.DataFrame:
    row = {
        "run_id": run_id,
        "started_at": started,
        "finished_at": datetime.now(UTC).replace(tzinfo=None),
        "version": version("mixledger"),
        "importers": importers,
        "exports_new": exports,
        "rows_accepted": accepted,
        "rows_refused": refused,
    }
    return pl.DataFrame([row], schema=describe("run").schema())


def _together(reads: Sequence[reading.Read]) -> dict[str, pl.DataFrame]:
    records = sorted({record for each in reads for record in each.frames})
    return {record: pl.concat([each.frames[record] for each in reads if record in each.frames]) for record in records}


def describe_catalogue(opened: Store, limits: Mapping[str, float] | None = None) -> None:
    """Enter the catalogue of properties, flags and formulas under the limits of the settings; the views follow."""
    catalogue = registry.load(limits)
    opened.describe_properties(catalogue.properties(), catalogue.flags(), catalogue.wide_columns())
    opened.describe_formulas(catalogue.formula_rows(), formula_inputs(catalogue))


def _rederive(opened: Store, settings: Settings, touched: pl.DataFrame, run_id: int) -> None:
    """Derive the touched samples, and list what waits for the register or contradicts itself."""
    inputs = _inputs(opened, touched)
    derived: Derived = derive(inputs, settings.results, settings.uncertainty)
    opened.replace("property_value", derived.property_values, touched, run_id)
    opened.replace("densification", derived.densification, touched, run_id)
    opened.replace("step_density", derived.step_density, touched, run_id)
    rows = {record: getattr(inputs, record) for record in of_samples()}
    waiting = match.unmatched(rows, {"sample": inputs.sample, "mix_design": inputs.mix_design})
    refusals = pl.concat([waiting, derived.contradictions.select(waiting.columns)])
    opened.replace_refusals(refusals, (Stage.MATCH.value, Stage.DERIVE.value), touched, run_id)


def _inputs(opened: Store, touched: pl.DataFrame) -> Inputs:
    current = {record: opened.current(record, touched) for record in of_samples()}
    for each in (describe(field.name) for field in fields(Inputs)):
        if each.ties.header:
            current[each.name] = opened.series(each.name, current[each.ties.header])
        elif each.name not in current:
            current[each.name] = opened.current(each.name)
    return Inputs(**current)
