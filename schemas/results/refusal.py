"""What was not accepted, with place, value, reason and remedy."""

import pandera.polars as pa
import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.vocabulary import Stage


class Refusal(pa.DataFrameModel):
    """One file, row or figure that was refused or waits, and what to do about it."""

    stage: str = column("Step at which it happened.", words=Stage)
    code: str = column("Stable code of the refusal.")
    export_hash: str = column("Export it concerns.", nullable=True)
    source_part: str = column("Sheet, block or path inside the export.", nullable=True)
    source_line: pl.Int64 = column("Line, row or element; null for the whole file.", at_least=1, nullable=True)
    record: str = column("Record the row was read for.", nullable=True)
    column_name: str = column("Column at fault.", nullable=True)
    found: str = column("Value found there.", nullable=True, caution="Text of the export as it stands: untrusted.")
    sample_id: str = column("Sample it concerns, where known.", nullable=True)
    reason: str = column("What is wrong, and what was expected.")
    remedy: str = column("What to do.")
    valid_from_run: pl.Int64 = column("First run in which it stood.", at_least=1)
    valid_to_run: pl.Int64 = column("First run in which it no longer stood; null while it stands.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=(
                "stage",
                "code",
                "export_hash",
                "source_part",
                "source_line",
                "record",
                "column_name",
                "sample_id",
                "reason",
                "valid_from_run",
            )
        ).as_metadata()
