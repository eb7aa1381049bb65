"""Judgement of single results against the specification set."""

import pandera.polars as pa
import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.vocabulary import Verdict


class Judgement(pa.DataFrameModel):
    """One sample result against one limit."""

    sample_id: str = column("Sample judged.")
    set_id: str = column("Specification set.")
    limit_id: str = column("Limit within the set.")
    property: str = column("Property judged.")
    point: float = column("Sieve opening in mm or number of passes, where the property has one.", nullable=True)
    value: float = column("Result as rounded for the comparison.", nullable=True)
    lower: float = column("Lower limit that applied.", nullable=True)
    upper: float = column("Upper limit that applied.", nullable=True)
    verdict: str = column("Pass, fail or not judged.", words=Verdict)
    reason: str = column("Why it was not judged; null otherwise.", nullable=True)
    flags: str = column("Validity flags of the result, separated by spaces.", nullable=True)
    valid_from_run: pl.Int64 = column("Run that judged it.", at_least=1)
    valid_to_run: pl.Int64 = column("Run that replaced it; null while current.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "set_id", "limit_id", "valid_from_run"), refers={"sample_id": "sample"}
        ).as_metadata()
