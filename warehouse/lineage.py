"""Lineage forwards, in SQL: which figures rest on an export, an instrument, a calibration or a design value."""

import duckdb

from schemas.describe import Description, describe_all
from warehouse.sql import literal, quoted, run

#: Schema of the table macros.
SCHEMA = "rests_on"

#: Counts up when the macros change though no view does.
VERSION = 1

#: Every figure that rests on the rows `causes`: first by the records its formula reads, then figure by figure.
_RESTING = """
    affected AS (SELECT DISTINCT sample_id FROM causes),
    company AS (SELECT sample_id, concat_ws('|', project_id, mix_id, coalesce(lot, '')) AS company_key
                FROM main.sample WHERE valid_to_run IS NULL),
    figures AS MATERIALIZED (
        SELECT v.*, c.company_key FROM main.property_value AS v JOIN company AS c ON c.sample_id = v.sample_id
        WHERE v.valid_to_run IS NULL AND c.company_key IN (
            SELECT company_key FROM company SEMI JOIN affected USING (sample_id))
    ),
    inputs AS MATERIALIZED (
        SELECT w.sample_id, w.level, w.method, w.specimen_no, w.property, w.point, w.company_key, i.input, i.kind,
               i.reach, i.record, i.column_name, i.role, i.input_method, i.input_point
        FROM figures AS w
        JOIN main.formula_input AS i
            ON i.formula_version = w.formula_version AND i.property = w.property AND i.route = w.route
    ),
    resting AS (
        SELECT i.sample_id, i.level, i.method, i.specimen_no, i.property, i.point, i.company_key
        FROM inputs AS i
        JOIN causes AS c ON c.sample_id = i.sample_id AND c.record = i.record
        WHERE i.kind = 'record' AND (i.role IS NULL OR c.role IS NULL OR i.role = c.role)
          AND (i.column_name IS NULL OR c.column_name IS NULL OR i.column_name = c.column_name)
          AND (i.specimen_no IS NULL OR c.specimen_no IS NULL OR i.specimen_no = c.specimen_no)
          AND (i.method IS NULL OR c.method IS NULL OR i.method = c.method)
        UNION
        SELECT i.sample_id, i.level, i.method, i.specimen_no, i.property, i.point, i.company_key
        FROM resting AS r
        JOIN inputs AS i ON i.company_key = r.company_key AND i.input = r.property
        WHERE i.kind = 'figure' AND (i.reach = 'lot' OR i.sample_id = r.sample_id)
          AND CASE i.reach WHEN 'specimen' THEN r.level = 'specimen' AND i.specimen_no = r.specimen_no
                           WHEN 'specimens' THEN r.level = 'specimen' ELSE r.level = 'sample' END
          AND (i.input_method IS NULL OR r.method IS NULL OR i.input_method = r.method)
          AND CASE WHEN i.input_point IS NOT NULL THEN r.point = i.input_point
                   ELSE i.point IS NULL OR r.point IS NULL OR i.point = r.point END
    )
    SELECT r.sample_id, r.level, r.method, r.specimen_no, r.property, r.point, v.value, v.valid_from_run
    FROM resting AS r
    JOIN figures AS v
        ON v.sample_id = r.sample_id AND v.level = r.level AND v.method IS NOT DISTINCT FROM r.method
        AND v.specimen_no IS NOT DISTINCT FROM r.specimen_no AND v.property = r.property
        AND v.point IS NOT DISTINCT FROM r.point"""


def _of_samples() -> list[Description]:
    return [
        each
        for each in describe_all()
        if each.imported and each.ties.storage == "table" and "sample_id" in each.schema()
    ]


def _rows(description: Description, record: str, where: str) -> str:
    """Return the query for the current rows of a record as causes of the figures that read `record`."""
    schema = description.schema()
    specimen = "specimen_no || ' ' || wheel" if "wheel" in schema else "specimen_no"
    terms = {
        "record": literal(record),
        "column_name": "NULL::VARCHAR",
        "sample_id": "sample_id",
        "specimen_no": specimen if "specimen_no" in schema else "NULL::VARCHAR",
        "method": "method" if "method" in schema else "NULL::VARCHAR",
        "role": "role" if "role" in schema else "NULL::VARCHAR",
    }
    chosen = ", ".join(f"{term} AS {quoted(name)}" for name, term in terms.items())
    return f"SELECT DISTINCT {chosen} FROM main.{quoted(description.name)} WHERE valid_to_run IS NULL AND {where}"


def _headed(description: Description) -> list[str]:
    """Return a record and the imported long series it heads: they come from the same exports and instruments."""
    series = [each.name for each in describe_all() if each.imported and each.ties.header == description.name]
    return [description.name, *series]


def _of_exports() -> str:
    parts = [_rows(each, name, "export_hash = export_hash_of") for each in _of_samples() for name in _headed(each)]
    designs = _designs("m.export_hash = export_hash_of", "NULL::VARCHAR")
    return " UNION ALL ".join([*parts, designs])


def _of_instruments(first: str, last: str) -> str:
    where = f"instrument_id = instrument AND stated_at::DATE >= {first} AND stated_at::DATE < {last}"
    return " UNION ALL ".join(
        _rows(each, name, where) for each in _of_samples() if "instrument_id" in each.schema() for name in _headed(each)
    )


def _designs(where: str, column: str) -> str:
    return (
        f"SELECT DISTINCT 'mix_design' AS record, {column} AS column_name, s.sample_id, NULL::VARCHAR AS specimen_no, "
        "NULL::VARCHAR AS method, NULL::VARCHAR AS role FROM main.mix_design AS m "
        "JOIN main.samples AS s ON s.mix_id = m.mix_id AND s.revision = m.revision "
        f"WHERE m.valid_to_run IS NULL AND {where}"
    )


_NEXT = (
    "coalesce((SELECT min(calibrated_on) FROM main.calibration "
    "WHERE valid_to_run IS NULL AND instrument_id = instrument AND calibrated_on > CAST(calibrated AS DATE)), "
    "DATE '9999-12-31')"
)


def create_macros(connection: duckdb.DuckDBPyConnection) -> None:
    """Create the table macros, with comments."""
    run(connection, f"DROP SCHEMA IF EXISTS {SCHEMA} CASCADE")
    run(connection, f"CREATE SCHEMA {SCHEMA}")
    macros = {
        "export(export_hash_of)": (_of_exports(), "an export, by its hash"),
        "instrument(instrument, first_day, next_day)": (
            _of_instruments("CAST(first_day AS DATE)", "CAST(next_day AS DATE)"),
            "readings of an instrument from a day until before another",
        ),
        "calibration(instrument, calibrated)": (
            _of_instruments("CAST(calibrated AS DATE)", _NEXT),
            "a calibration: readings of the instrument from its day until the next calibration",
        ),
        "design(mix, design_revision, design_column)": (
            _designs("m.mix_id = mix AND m.revision = design_revision", "CAST(design_column AS VARCHAR)"),
            "a column of a mix design revision such as 'gsb', or on all of it (null)",
        ),
    }
    for signature, (causes, words) in macros.items():
        body = f"WITH RECURSIVE causes AS ({causes}), {_RESTING}"
        run(connection, f"CREATE MACRO {SCHEMA}.{signature} AS TABLE {body}")
        name = signature.partition("(")[0]
        said = f"Current figures that rest on {words}."
        run(connection, f"COMMENT ON MACRO TABLE {SCHEMA}.{quoted(name)} IS {literal(said)}")
