"""Views whose queries follow from schemas and catalogue: wide results, gradations, targets, source rows."""

import duckdb
import polars as pl

from schemas.describe import describe
from warehouse import ddl, subjects
from warehouse.own_tables import PROPERTY_COLUMN
from warehouse.sql import fetch, listed, literal, quoted
from warehouse.view import View

#: The wide view whose columns the caller's catalogue gives.
WIDE = "sample_results"


def all_of(connection: duckdb.DuckDBPyConnection, register: View) -> list[View]:
    """Return every such view; `register` is the view of samples, whose columns the wide views begin with."""
    catalogue = fetch(connection, f"SELECT {listed(PROPERTY_COLUMN.schema())} FROM property_column")
    return [wide(catalogue, register), gradations(catalogue, register), targets(catalogue), sources()]


def _pivoted(catalogue: pl.DataFrame, register: View) -> tuple[str, dict[str, str]]:
    """Return query and columns of a view that puts figures of the catalogue beside what the register says."""
    columns, terms = dict(register.columns), []
    for row in catalogue.iter_rows(named=True):
        at = '"point" IS NULL' if row["point"] is None else f'"point" = {row["point"]!r}'
        term = f"max(value) FILTER (property = {literal(row['property'])} AND {at})"
        terms.append(f"{term} AS {quoted(row['column_name'])}")
        columns[row["column_name"]] = row["sentence"] + (f" Unit: {row['unit']}." if row["unit"] else "")
    if not terms:
        return f"SELECT * FROM {register.name}", columns
    wanted = ", ".join(literal(name) for name in catalogue["property"].unique(maintain_order=True))
    figures = ", ".join(["sample_id", *terms])
    pivoted = (
        f"SELECT {figures} FROM property_value "
        f"WHERE valid_to_run IS NULL AND level = 'sample' AND property IN ({wanted}) GROUP BY sample_id"
    )
    query = (
        f"SELECT r.*, f.* EXCLUDE (sample_id) FROM {register.name} AS r LEFT JOIN ({pivoted}) AS f USING (sample_id)"
    )
    return query, columns


def wide(catalogue: pl.DataFrame, register: View) -> View:
    """Return the view of sample results: the register's columns, then one per property of the catalogue."""
    query, columns = _pivoted(catalogue, register)
    return View(
        WIDE,
        query,
        "Results of each sample side by side: what the register says of it, then one column per property.",
        "sample of the register",
        "A figure that is missing or withheld is null; `missing_values` tells why. Unrounded.",
        columns,
        "results",
    )


def gradations(catalogue: pl.DataFrame, register: View) -> View:
    """Return the view of gradations: the register's columns, then percent passing by sieve, coarsest first."""
    sieves = catalogue.filter(property="passing").sort("point", descending=True)
    query, columns = _pivoted(sieves, register)
    return View(
        "gradations",
        query if sieves.is_empty() else f"{query} WHERE f.sample_id IS NOT NULL",
        "Gradation of each sample, wide by sieve: percent passing by mass.",
        "sample with a gradation",
        "Sieves by opening in mm (ASTM E11). Unrounded.",
        columns,
        "gradation",
    )


def targets(catalogue: pl.DataFrame) -> View:
    """Return the view of design targets: the figures of a mix design that are results of samples, too, long."""
    design, gradation = describe("mix_design"), describe("mix_gradation")
    names = dict(catalogue.filter(pl.col("point").is_null()).select("column_name", "property").iter_rows())
    key = "mix_id, revision"
    parts = [
        f"SELECT {key}, {literal(names[column.name])} AS property, NULL::DOUBLE AS point, "
        f"{quoted(column.name)} AS target "
        f"FROM {quoted(design.name)} WHERE valid_to_run IS NULL AND {quoted(column.name)} IS NOT NULL"
        for column in design.columns
        if column.name in names
    ]
    parts.append(
        f"SELECT {key}, 'passing' AS property, sieve_mm AS point, passing_pct AS target "
        f"FROM {quoted(gradation.name)} WHERE valid_to_run IS NULL"
    )
    columns = {
        "mix_id": ddl.comment(design.column("mix_id")),
        "revision": ddl.comment(design.column("revision")),
        "property": "Property the target is for, by its registry name.",
        "point": "Sieve opening in mm, where the property has one.",
        "target": "What the mix design aims at, in the property's unit.",
    }
    return View(
        "design_targets",
        " UNION ALL ".join(parts),
        "What each revision of a mix design aims at, one figure below the other.",
        "mix design revision, property and sieve",
        "Only figures that samples are tested for; the design as a whole is in `mix_design`.",
        columns,
        "designs",
    )


def sources() -> View:
    """Return the view of every current row read from an export, whatever its record, with what it is about."""
    names = (*subjects.ALL, "method")
    parts = [
        f"SELECT {literal(each.name)} AS record, {subjects.key_text(each)}, "
        f"{', '.join(subjects.or_null(each, name) for name in names)}, {listed(subjects.PROVENANCE)}, valid_from_run "
        f"FROM {quoted(each.name)} WHERE valid_to_run IS NULL"
        for each in subjects.imported()
    ]
    columns = {
        "record": "Record the row belongs to: the table that holds it in full.",
        "record_key": "What identifies it within the record, in words.",
        **{name: ddl.comment(subjects.record_with(name).column(name)) for name in names},
        **{name: ddl.comment(describe("weighing").column(name)) for name in subjects.PROVENANCE},
        "valid_from_run": "Run from which the row counts.",
    }
    return View(
        "source_rows",
        " UNION ALL ".join(parts),
        "Every row that counts at present, of all records together: what it is about and where it was read.",
        "row of an export",
        "Large; ask for single samples, exports, mixes or instruments. Long series are not among them.",
        columns,
        "lineage",
    )
