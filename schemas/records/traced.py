"""What every accepted row carries: the export it came from, its place in it, and when it was stated."""

import pandera.polars as pa
import polars as pl

from schemas.columns import column


class Traced(pa.DataFrameModel):
    """Provenance shared by all records."""

    export_hash: str = column("SHA-256 of the bytes of the export the row came from.")
    source_part: str = column("Sheet, block or path inside the export; null where lines suffice.", nullable=True)
    source_line: pl.Int64 = column("Line, row or element in that part, counted from 1.", at_least=1)
    issued_at: pl.Datetime("us") = column(  # type: ignore[valid-type]
        "When the export says it was written; of two rows with one key the later issue is current.", nullable=True
    )
    stated_at: pl.Datetime("us") = column(  # type: ignore[valid-type]
        "When the export says the value was taken, laboratory time.", nullable=True
    )
