"""Views of the long series for readers: whole millimetres of current rows, and the wheel depths one below the other."""

from pathlib import Path

import duckdb
import polars as pl

from schemas.describe import Description, describe
from warehouse import ddl, series
from warehouse.sql import fetch, listed, quoted
from warehouse.view import View

#: Long form of the wheel depths: one row per measuring position.
LONG_DEPTHS = "wheel_depths"


def of(connection: duckdb.DuckDBPyConnection, folder: Path | None) -> list[View]:
    """Return a view per long series over its parts below the series folder; without folder over none."""
    listing = fetch(connection, "SELECT record, file FROM series_part ORDER BY run_id, file")
    views = []
    for description in series.records():
        parts = listing.filter(pl.col("record") == description.name)["file"].to_list() if folder else []
        columns = {column.name: ddl.comment(column) for column in description.columns}
        query = series.current_query(description.name, folder or Path(), parts)
        views.append(View(description.name, query, description.sentence, _grain(description), _CAUTION, columns))
    return [*views, _long_depths()]


_CAUTION = "Many rows: ask for single samples. Only rows whose header row is current."


def _grain(description: Description) -> str:
    return ", ".join(name for name in description.ties.key if not name.startswith("valid_"))


def _long_depths() -> View:
    """Return the view of wheel depths with one row per measuring position, numbered along the track."""
    description = describe("wheel_depth")
    positions = [column.name for column in description.columns if series.is_stepped(column)]
    kept = [name for name in description.schema() if name not in positions]
    columns = {name: ddl.comment(description.column(name)) for name in kept}
    columns["position"] = "Measuring position along the track, from 1."
    columns["depth_mm"] = "Depth of the rut at the position. Unit: mm."
    query = (
        f"SELECT {listed(kept)}, regexp_extract(position_name, '[0-9]+')::BIGINT AS position, depth_mm "
        f"FROM (UNPIVOT {quoted(description.name)} ON {listed(positions)} INTO NAME position_name VALUE depth_mm)"
    )
    purpose = "Depth of the rut, one measuring position below the other."
    return View(LONG_DEPTHS, query, purpose, f"{_grain(description)}, position", _CAUTION, columns)
