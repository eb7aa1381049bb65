"""Version 1: the tables as they were then, word for word; later versions build on them."""

from pathlib import Path

import duckdb


def apply(connection: duckdb.DuckDBPyConnection) -> None:
    """Create the tables of version 1."""
    connection.execute(Path(__file__).with_suffix(".sql").read_text(encoding="utf-8")).complete()
