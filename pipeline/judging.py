"""Current rows of the store -> judged anew: verdicts, lots, comparisons, charts, programme of what a run touched."""

from functools import cache

import polars as pl

from pipeline.formulas import registry
from pipeline.judge.faults import faults
from pipeline.judge.limits import targets
from pipeline.judge.single import Contract, Reporting, judge
from pipeline.judge.statistics.pay import published
from pipeline.judge.subjects import subjects
from pipeline.rounding import Rule
from pipeline.settings import Settings
from schemas.units import SUFFIXES
from schemas.vocabulary import Level
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
    samples = subjects(
        opened.current("sample", touched),
        mix_design,
        opened.current("project"),
        opened.current("specification_assignment"),
    )
    values = opened.current("property_value", touched).filter(pl.col("level") == Level.SAMPLE.value)
    judged = judge(samples, values, contract, target, reporting(settings))
    opened.replace("judgement", judged, touched, run_id)
