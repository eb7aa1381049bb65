"""Frames for tests of judgement: rows of records and results from what a test states, the rest filled in."""

from collections.abc import Mapping
from datetime import date

import polars as pl

from pipeline.judge.faults import faults
from pipeline.judge.single import Contract, Reporting
from pipeline.judge.statistics.pay import published
from schemas.describe import describe

DAY = date(2026, 5, 7)

NO_TARGET = pl.DataFrame(
    schema={"mix_id": pl.String, "revision": pl.Int64, "property": pl.String, "point": pl.Float64, "target": pl.Float64}
)
PROPERTIES = pl.DataFrame(
    {
        "property": ["air_voids", "vma", "pb", "gmb", "gmm", "passing", "relative_compaction"],
        "unit": ["%", "%", "%", None, None, "%", "%"],
        "pointed": [False, False, False, False, False, True, False],
    }
)


def rows(record: str, *given: Mapping[str, object]) -> pl.DataFrame:
    """Return rows of a record or result; columns left out are null, provenance is made up."""
    schema = describe(record).schema()
    made = [
        {name: None for name in schema} | {"export_hash": "made", "source_line": line} | dict(row)
        for line, row in enumerate(given, start=1)
    ]
    return pl.DataFrame([{name: row[name] for name in schema} for row in made], schema=schema, orient="row")


def samples(*given: Mapping[str, object]) -> pl.DataFrame:
    """Return judged samples: production loose mix of project P, mix M, lot 1, set S."""
    base = {
        "sample_id": "A",
        "project_id": "P",
        "mix_id": "M",
        "material": "mix",
        "phase": "production",
        "laboratory_id": "L",
        "lot": "1",
        "taken_on": DAY,
        "purpose": None,
        "split_of": None,
        "set_id": "S",
        "revision": 1,
        "nmas_mm": 12.5,
        "traffic": None,
        "layer": None,
        "binder_grade": "PG 70-22",
    }
    named = ("purpose", "split_of", "traffic", "layer", "lot", "set_id", "binder_grade")
    text: dict[str, object] = dict.fromkeys(named, pl.String)
    types = text | {"revision": pl.Int64}
    return pl.DataFrame([base | dict(row) for row in given], schema_overrides=types, infer_schema_length=None)


def values(*given: Mapping[str, object]) -> pl.DataFrame:
    """Return property values of sample A at sample level."""
    base = {"sample_id": "A", "level": "sample", "property": "air_voids", "route": "r", "formula_version": "v"}
    return rows("property_value", *(base | dict(row) for row in given))


def limit(**given: object) -> dict[str, object]:
    """Return one limit of set S on air voids of loose mix."""
    base = {"set_id": "S", "limit_id": "voids", "property": "air_voids", "material": "mix", "basis": "absolute"}
    return base | {"required": False, "source": "test"} | given


def plan(**given: object) -> dict[str, object]:
    """Return one acceptance plan of set S on air voids of loose mix."""
    base = {"set_id": "S", "plan_id": "voids", "property": "air_voids", "material": "mix", "basis": "absolute"}
    return base | {"source": "test"} | given


def contract(
    limits: list[dict[str, object]] | None = None,
    plans: list[dict[str, object]] | None = None,
    precision: list[dict[str, object]] | None = None,
    pay: list[dict[str, object]] | None = None,
    **rules: object,
) -> Contract:
    """Return the contract of set S."""
    limit_rows, plan_rows = rows("specification_limit", *(limits or [])), rows("acceptance_plan", *(plans or []))
    pieces = pl.concat(
        [published().with_columns(set_id=pl.lit(None, pl.String)), rows("pay_piece", *(pay or []))],
        how="diagonal_relaxed",
    ).select("set_id", *published().columns)
    return Contract(
        rows("specification_set", {"set_id": "S"} | rules),
        limit_rows,
        plan_rows,
        pieces,
        rows("precision_limit", *(precision or [])),
        faults(
            limit_rows, plan_rows, pieces, PROPERTIES, pl.Series(["water_absorbed_above_limit", "assumed", "other"])
        ),
    )


REPORTING = Reporting(
    pl.DataFrame(
        {"property": ["air_voids", "vma", "pb", "relative_compaction"], "point": None, "decimals": [1, 1, 2, 1]},
        schema_overrides={"point": pl.Float64},
    ),
    stand_ins={"assumed": "vma", "other": "pb"},
)
