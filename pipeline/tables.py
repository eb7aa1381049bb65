"""The tables renderers receive: read from the published store, restricted to what is to be rendered."""

from collections.abc import Mapping

import polars as pl
from duckdb import DuckDBPyConnection

from pipeline import overview_tables, page_tables
from pipeline.density_places import density_places
from pipeline.derive.wheel import counted_depth
from pipeline.raw_lines import raw_lines
from pipeline.reporting import with_text
from pipeline.rounding import Rule
from pipeline.settings import Results
from pipeline.ways import WAYS
from pipeline.workspace import Workspace
from plugins.api import Scope
from schemas.describe import Description, describe, describe_all, of_specimens
from warehouse.sql import fetch

_EVERYTHING = {
    "run": "select run_id, finished_at, version from run order by run_id desc limit 1",
    "projects": """
        select p.project_id, p.project_name, p.character, p.client, p.laboratory_id, l.laboratory_name, l.region,
               p.set_id
        from project p left join laboratory l on l.laboratory_id = p.laboratory_id and l.valid_to_run is null
        where p.valid_to_run is null order by p.project_id""",
    "samples": "select * from samples order by taken_on, sample_id",
    "properties": "select * from property order by property",
    "flags": "select * from flag order by code",
    "sample_values": """
        select sample_id, property, point, value, n, spread, uncertainty, flags, route, withheld
        from property_value
        where valid_to_run is null and level = 'sample' order by sample_id, property, point""",
    "judgements": """
        select sample_id, property, point, limit_id, lower, upper, value, verdict, reason, source, flags, set_id,
               decision_rule, guard
        from judgements order by sample_id, property, point, limit_id""",
    "missing": """
        select s.project_id, j.sample_id, j.property, j.point, j.reason
        from judgements j join samples s using (sample_id)
        where j.verdict = 'not_judged' and j.value is null order by all""",
    "refusals": """
        select coalesce(r.file_name, '') as file_name, r.found_at as place, r.stage, r.code, r.sample_id, s.project_id,
               r.reason, r.remedy
        from refusals r left join samples s using (sample_id) order by file_name, place, r.reason""",
}

_SCOPED = {
    "specimen_values": """
        select sample_id, method, specimen_no, property, point, value, uncertainty, flags, withheld from property_value
        where valid_to_run is null and level = 'specimen' and {scope}
        order by sample_id, method, specimen_no, property, point""",
    "ways": WAYS,
    "densification": """
        select sample_id, specimen_no, gyration, gmm_pct from densification
        where {scope} order by sample_id, specimen_no, gyration""",
}

#: How a field of these records is shown, where its role tells more than its column.
_LABELS = {
    "weighing": "'mass_' || role || coalesce(' ' || sieve_mm || ' mm', '')",
    "dimension": "'length_' || role || ' ' || reading",
}
_LABELLED = {"mass_g", "length_mm"}
#: Columns that say where a row came from, not what was measured.
_PLACES = {"export_hash", "source_part", "source_line", "issued_at", "stated_at"}


def scope(connection: DuckDBPyConnection, since: int) -> Scope:
    """Return the projects and samples whose pages may differ after run `since`; all of them for 0."""
    if since == 0:
        return Scope()
    samples = _named(connection, _changed("sample_id", since))
    of_samples = "select project_id from samples where sample_id in (select unnest(?))"
    own = f"{_changed('project_id', since)} union {_AGED.format(since=since)}"
    return Scope(projects=_named(connection, f"{of_samples} union {own}", sorted(samples)), samples=samples)


def _named(connection: DuckDBPyConnection, sql: str, *given: object) -> frozenset[str]:
    return frozenset(row[0] for row in connection.execute(sql, given).fetchall() if row[0] is not None)


def _changed(column: str, since: int) -> str:
    """Return the query for what the rows of any table that changed after a run name in a column."""
    return " union ".join(
        f'select {column} from "{each.name}" where valid_from_run > {since} or valid_to_run > {since}'
        for each in describe_all()
        if each.ties.storage == "table" and column in each.schema() and _dated(each)
    )


#: Projects with a line in the work list that became due, or late, since the pages were rendered last.
_AGED = """
    select i.project_id from programme_item as i, (select max(finished_at)::date as today from run) as now,
        (select max(finished_at)::date as before from run where run_id <= {since}) as past
    where i.valid_to_run is null
      and (i.since between past.before + 1 and now.today or i.due_on between past.before and now.today - 1)"""


def _dated(description: Description) -> bool:
    return description.imported or "valid_to_run" in description.schema()


def gather(
    connection: DuckDBPyConnection, workspace: Workspace, parameters: Results, chosen: Scope
) -> Mapping[str, pl.DataFrame]:
    """Return every table of the renderers' contract; what describes single samples is restricted to the scope."""
    rule = Rule(parameters.rounding)
    frames = {name: fetch(connection, sql) for name, sql in _EVERYTHING.items()}
    for name, sql in _SCOPED.items():
        frames[name] = _scoped(connection, sql, chosen)
    frames["sample_values"] = _told(frames["sample_values"], frames["samples"], chosen, rule)
    frames["specimen_values"] = with_text(frames["specimen_values"], rule)
    frames["run"] = frames["run"].with_columns(rounding=pl.lit(rule.words))
    frames["inputs"] = inputs(connection, workspace, chosen)
    frames["rut"] = _rut(connection, parameters, chosen)
    frames["density_places"] = density_places(connection, chosen, rule)
    frames["work"] = page_tables.work(connection, frames["run"])
    frames |= page_tables.quality(connection) | page_tables.mixes(connection, frames, parameters, chosen)
    frames |= page_tables.lots(connection, chosen) | overview_tables.overview(connection)
    return frames | overview_tables.projects(frames)


def _told(values: pl.DataFrame, samples: pl.DataFrame, chosen: Scope, rule: Rule) -> pl.DataFrame:
    """Add the reported text where a page shows the single figure: on pages of chosen samples and their projects."""
    if chosen.projects is None or chosen.samples is None:
        return with_text(values, rule)
    shown = pl.col("project_id").is_in(list(chosen.projects)) | pl.col("sample_id").is_in(list(chosen.samples))
    told = with_text(values.join(samples.filter(shown), on="sample_id", how="semi", maintain_order="left"), rule)
    rest = values.join(told, on="sample_id", how="anti", maintain_order="left")
    return pl.concat([told, rest.with_columns(text=pl.lit(None, pl.String))]).sort("sample_id", maintain_order=True)


def _scoped(connection: DuckDBPyConnection, sql: str, chosen: Scope) -> pl.DataFrame:
    if chosen.samples is None:
        return fetch(connection, sql.format(scope="true"))
    return fetch(connection, sql.format(scope="sample_id in (select unnest(?))"), [sorted(chosen.samples)])


def _fields(name: str) -> list[str]:
    description = describe(name)
    own = {*description.ties.key, *_PLACES, "instrument_id"}
    return [column.name for column in description.columns if column.name not in own]


def _input_query(name: str) -> str:
    """Return the query for the measured fields of a record, long: one row per field that is not null."""
    own = describe(name)
    method = f"'{own.ties.method}'" if own.ties.method else "method"
    number = "specimen_no || ' ' || wheel" if "wheel" in own.ties.key else "specimen_no"
    instrument = "instrument_id" if "instrument_id" in own.schema() else "null"
    label = _LABELS.get(name)
    parts = []
    for field in _fields(name):
        shown = label if label and field in _LABELLED else f"'{field}'"
        parts.append(
            f"select sample_id, {method} as method, {number} as specimen_no, {shown} as field, "
            f'cast("{field}" as varchar) as value_text, export_hash, source_part, source_line, '
            f"{instrument} as instrument_id "
            f'from "{name}" where valid_to_run is null and "{field}" is not null and {{scope}}'
        )
    return " union all ".join(parts)


def inputs(connection: DuckDBPyConnection, workspace: Workspace, chosen: Scope) -> pl.DataFrame:
    """Return what was measured on the samples, field by field, with file, place and raw line."""
    found = pl.concat([_repeated(connection, _input_query(name), chosen) for name in of_specimens()])
    names = fetch(connection, "select export_hash, name as file_name from exports")
    return (
        found.join(names, on="export_hash", how="left")
        .join(raw_lines(workspace, found), on=["export_hash", "source_line"], how="left")
        .with_columns(
            place=pl.concat_str(
                pl.col("source_part"), pl.format("line {}", "source_line"), separator=", ", ignore_nulls=True
            )
        )
        .drop("export_hash", "source_part", "source_line")
        .sort("sample_id", "method", "specimen_no", "field")
    )


def _repeated(connection: DuckDBPyConnection, sql: str, chosen: Scope) -> pl.DataFrame:
    if chosen.samples is None:
        return fetch(connection, sql.format(scope="true"))
    limited = f"with chosen as (select unnest(?) as sample_id) {sql.format(scope='sample_id in (from chosen)')}"
    return fetch(connection, limited, [sorted(chosen.samples)])


def _rut(connection: DuckDBPyConnection, parameters: Results, chosen: Scope) -> pl.DataFrame:
    """Return depth against passes per wheel, from the same positions that count in the rut depth."""
    sql = "select * from wheel_depth where {scope} order by sample_id, specimen_no, wheel, wheel_pass"
    return _scoped(connection, sql, chosen).select(
        "sample_id", "specimen_no", "wheel", "wheel_pass", counted_depth(parameters).alias("depth_mm")
    )
