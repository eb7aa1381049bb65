"""Version 2: which part holds an export's series is dated, so that a series read again can be looked back to."""

import duckdb

from warehouse.sql import run


def apply(connection: duckdb.DuckDBPyConnection) -> None:
    """Date the parts by the run that wrote them."""
    run(
        connection,
        """
        CREATE OR REPLACE TABLE series_export AS
        SELECT e.record, e.export_hash, e.file, coalesce(p.run_id, 1)::BIGINT AS valid_from_run,
               NULL::BIGINT AS valid_to_run
        FROM series_export AS e LEFT JOIN series_part AS p USING (file)
        """,
    )
    for column in ("record", "export_hash", "file", "valid_from_run"):
        run(connection, f"ALTER TABLE series_export ALTER COLUMN {column} SET NOT NULL")
