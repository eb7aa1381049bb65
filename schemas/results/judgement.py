"""Judgement of single results against the specification set."""

import pandera.polars as pa
import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.vocabulary import DecisionRule, Verdict


class Judgement(pa.DataFrameModel):
    """One sample result against one limit."""

    sample_id: str = column("Sample judged.")
    set_id: str = column("Specification set.")
    limit_id: str = column("Limit within the set.")
    property: str = column("Property judged.")
    point: float = column("Sieve opening in mm or number of passes, where the property has one.", nullable=True)
    value: float = column("Result as it was compared: rounded, or unrounded under the absolute method.", nullable=True)
    target: float = column("Mix-design target of the property, where it has one.", nullable=True)
    lower: float = column("Lower limit that applied.", nullable=True)
    upper: float = column("Upper limit that applied.", nullable=True)
    decision_rule: str = column(
        "Rule by which uncertainty counted; simple where a plan over lots accepts on the property, and where null, "
        "which it is in judgements older than the rules.",
        words=DecisionRule,
        nullable=True,
    )
    uncertainty: float = column("Standard uncertainty of the result (k = 1); null: unknown.", nullable=True)
    guard: float = column("Width of the guard band that applied.", at_least=0, nullable=True)
    margin: float = column("Distance to the nearer limit; negative beyond it.", nullable=True)
    probability: float = column(
        "Probability that the quantity lies within the limits, by the uncertainty of the result.",
        at_least=0,
        at_most=1,
        nullable=True,
    )
    verdict: str = column("Pass, conditional pass or fail, fail, or not judged.", words=Verdict)
    reason: str = column("Why it was not judged; null where it was.", nullable=True)
    flags: str = column("Validity flags of the result, separated by spaces.", nullable=True)
    valid_from_run: pl.Int64 = column("Run that judged it.", at_least=1)
    valid_to_run: pl.Int64 = column("Run that replaced it; null while current.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("sample_id", "set_id", "limit_id", "valid_from_run"), refers={"sample_id": "sample"}
        ).as_metadata()
