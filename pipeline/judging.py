"""Current rows of the store -> judged anew: verdicts, lots, comparisons, charts, programme of what a run touched."""

from dataclasses import dataclass
from functools import cache

import polars as pl

from pipeline.formulas import registry
from pipeline.judge import programme
from pipeline.judge.charts import charts
from pipeline.judge.comparisons import biases, duplicates, independent, of_laboratories, pairs, phases, splits
from pipeline.judge.faults import faults
from pipeline.judge.limits import targets
from pipeline.judge.lots import lots
from pipeline.judge.single import Contract, Reporting, judge
from pipeline.judge.startups import startups, with_sources
from pipeline.judge.states import events
from pipeline.judge.statistics.pay import published
from pipeline.judge.subjects import subjects
from pipeline.rounding import Rule
from pipeline.settings import Settings
from schemas.describe import describe
from schemas.units import SUFFIXES
from schemas.vocabulary import Level
from warehouse import touched as touched_rows
from warehouse.history import replace_of, shaped
from warehouse.store import Store


@cache
def _properties() -> pl.DataFrame:
    """Return `property`, `unit`, `pointed` of every property."""
    rows = {
        route.property.name: (route.property.name, route.property.unit, route.property.at is not None)
        for route in registry.load().routes
    }
    schema = {"property": pl.String, "unit": pl.String, "pointed": pl.Boolean}
    return pl.DataFrame(list(rows.values()), schema=schema, orient="row")


def contract_of(frames: dict[str, pl.DataFrame]) -> Contract:
    """Return what the sets say, with their faults; `frames` holds the current rows of their records."""
    pieces = pl.concat(
        [published().with_columns(set_id=pl.lit(None, pl.String)), frames["pay_piece"]], how="diagonal_relaxed"
    ).select("set_id", *published().columns)
    limits, plans = frames["specification_limit"], frames["acceptance_plan"]
    flags = registry.load().flags()["code"]
    return Contract(
        frames["specification_set"],
        limits,
        plans,
        pieces,
        frames["precision_limit"],
        faults(limits, plans, pieces, _properties(), flags),
    )


#: Records of a specification set.
OF_SETS = ("specification_set", "specification_limit", "acceptance_plan", "pay_piece", "precision_limit")


def reporting(settings: Settings) -> Reporting:
    """Return how figures are reported."""
    catalogue = registry.load()
    return Reporting(catalogue.decimals(), Rule(settings.results.rounding), catalogue.stand_ins())


def target_columns() -> dict[str, str]:
    """Return property -> column of the mix design that would hold its target."""
    return {name: name + (SUFFIXES[unit] if unit else "") for name, unit, _ in _properties().iter_rows()}


def rejudge(opened: Store, settings: Settings, touched: pl.DataFrame, run_id: int) -> None:
    """Judge the touched samples and all that rests on them, from what the store holds now.

    Parameters
    ----------
    touched
        Samples (`sample_id`) whose figures or whose specification sets may differ.
    """
    contract = contract_of({name: opened.current(name) for name in OF_SETS})
    mix_design = opened.current("mix_design")
    target = targets(mix_design, opened.current("mix_gradation"), target_columns())
    project, assignment = opened.current("project"), opened.current("specification_assignment")
    samples = subjects(opened.current("sample", touched), mix_design, project, assignment)
    values = opened.current("property_value", touched).filter(pl.col("level") == Level.SAMPLE.value)
    judged = judge(samples, values, contract, target, reporting(settings))
    opened.replace("judgement", judged, touched, run_id)
    mixes = touched_rows.mixes_of(opened.connection, touched)
    known = touched_rows.samples_of(opened.connection, mixes)
    scene = Scene(
        samples=subjects(opened.current("sample", known), mix_design, project, assignment),
        values=opened.current("property_value", known),
        judged=opened.current("judgement", known),
        contract=contract,
        target=target,
    )
    _conclude(opened, scene, mixes, known, run_id)
    _across(opened, contract, touched, run_id)


@dataclass(frozen=True)
class Scene:
    """All that is known of some mixes: samples, figures, verdicts, sets, targets."""

    samples: pl.DataFrame
    values: pl.DataFrame
    judged: pl.DataFrame
    contract: Contract
    target: pl.DataFrame


def _conclude(opened: Store, scene: Scene, mixes: pl.DataFrame, known: pl.DataFrame, run_id: int) -> None:
    """Draw lots, charts, comparisons and programme of whole mixes."""
    given = (scene.samples, scene.values)
    lot_rows = lots(*given, opened.current("core", known), scene.contract, scene.target)
    points = charts(*given, scene.contract, scene.target)
    halves = pairs(*given)
    compared = [
        duplicates(*given, scene.contract),
        splits(halves, scene.contract),
        of_laboratories(halves, scene.contract),
        independent(*given, scene.contract),
        phases(*given, scene.contract, scene.target),
    ]
    history = events(scene.samples, scene.judged, scene.contract.sets)
    used = _used(opened, known)
    tested = used.group_by("sample_id").agg(pl.col("used_on").max().alias("tested_on"))
    sets = scene.contract.sets
    items = [
        programme.of_results(scene.samples, scene.judged),
        programme.of_turn_round(scene.samples, scene.judged, sets, tested),
        programme.of_lots(lot_rows),
        programme.of_use(scene.samples, used, opened.current("calibration")),
        programme.of_states(history, sets, scene.samples),
        programme.of_signals(points),
        startups(scene.samples, sets, with_sources(opened.current("mix_design"), opened.current("stockpile"))),
    ]
    own = "project_id IS NOT NULL"
    for name, frames in (
        ("lot_result", [lot_rows]),
        ("chart_point", [points]),
        ("comparison", compared),
        ("mix_event", [history]),
        ("programme_item", items),
    ):
        replace_of(
            opened.connection,
            name,
            pl.concat([shaped(each, describe(name)) for each in frames]),
            mixes,
            run_id,
            where=own,
        )


def _used(opened: Store, known: pl.DataFrame) -> pl.DataFrame:
    """Return `sample_id`, `instrument_id`, `used_on` of every observation, each day once."""
    day = pl.coalesce("stated_at", "issued_at").dt.date().alias("used_on")
    rows = [opened.current(name, known).select("sample_id", "instrument_id", day) for name in _OBSERVED]
    return pl.concat(rows).unique().sort("sample_id", "instrument_id", "used_on")


#: Records of observations that name an instrument.
_OBSERVED = ("weighing", "compaction_run", "wheel_run", "load_test")


def _across(opened: Store, contract: Contract, touched: pl.DataFrame, run_id: int) -> None:
    """Judge what belongs to no single mix: laboratories against each other, calibrations, sets, unknown samples."""
    halves = opened.current("sample").filter(pl.col("split_of").is_not_null())
    partners = pl.concat([halves.select("sample_id"), halves.select(sample_id="split_of")]).unique()
    samples = subjects(
        opened.current("sample", partners),
        opened.current("mix_design"),
        opened.current("project"),
        opened.current("specification_assignment"),
    )
    found = pairs(samples, opened.current("property_value", partners))
    used = _used(opened, partners).select("sample_id", "instrument_id").drop_nulls().unique()
    biased = biases(found, contract, used)
    nowhere = pl.DataFrame({"project_id": [None]}, schema={"project_id": pl.String})
    replace_of(opened.connection, "comparison", biased, nowhere, run_id)
    items = pl.concat(
        [
            programme.of_biases(biased),
            programme.of_calibrations(opened.current("instrument"), opened.current("calibration")),
            programme.of_faults(contract.faults),
        ]
    )
    replace_of(opened.connection, "programme_item", items, nowhere, run_id, where="sample_id IS NULL")
    observed = pl.concat([opened.current(name, touched).select("sample_id") for name in _OBSERVED]).unique()
    strangers = observed.join(opened.current("sample", touched), on="sample_id", how="anti")
    unknown = programme.of_register(strangers)
    replace_of(
        opened.connection, "programme_item", unknown, touched.select("sample_id"), run_id, where="project_id IS NULL"
    )
