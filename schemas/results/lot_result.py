"""Lots: one property of a lot against its acceptance plan."""

import pandera.polars as pa
import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.vocabulary import LookUp, Material, OutlierTest


class LotResult(pa.DataFrameModel):
    """One lot by one acceptance plan: data, statistics, percentage within limits, pay."""

    project_id: str = column("Project.")
    mix_id: str = column("Mix.")
    lot: str = column("Lot of the project and mix.")
    set_id: str = column("Specification set.")
    plan_id: str = column("Plan within the set.")
    property: str = column("Property accepted on.")
    point: float = column("Sieve opening in mm or number of passes, where the property has one.", nullable=True)
    material: str = column("What the samples consist of.", words=Material)
    results: str = column("Results that count, as `sample/specimen=value`, separated by blanks.", nullable=True)
    left_out: str = column(
        "Results that do not count, each with its reason; they stay in the warehouse.", nullable=True
    )
    n: pl.Int64 = column("Results that count.", at_least=0)
    mean: float = column("Mean of the results.", nullable=True)
    s: float = column("Standard deviation of the results (n - 1).", at_least=0, nullable=True)
    target: float = column("Target of deviations.", nullable=True)
    lower: float = column("Lower limit that applied.", nullable=True)
    upper: float = column("Upper limit that applied.", nullable=True)
    q_lower: float = column("Quality index of the lower limit.", nullable=True)
    q_upper: float = column("Quality index of the upper limit.", nullable=True)
    look_up: str = column("How the percentages were read.", words=LookUp)
    within_lower_pct: float = column("Percentage above the lower limit.", unit="%", nullable=True)
    within_upper_pct: float = column("Percentage below the upper limit.", unit="%", nullable=True)
    within_pct: float = column("Percentage within limits (PWL).", unit="%", nullable=True)
    beyond_pct: float = column("Percentage defective (PD).", unit="%", nullable=True)
    deviation: float = column("Average absolute deviation from the target.", at_least=0, nullable=True)
    equation: str = column("Pay equation that applied.", nullable=True)
    measure: str = column("What the equation is a function of: pwl, pd, aad or deviation.", nullable=True)
    pay_pct: float = column("Pay in percent of the contract price.", unit="%", nullable=True)
    pay_rule: str = column("Line of the equation that applied.", nullable=True)
    pay_source: str = column("Where the equation stands.", nullable=True)
    consequence: str = column("What follows besides pay.", nullable=True)
    retest: bool = column("Whether a retest is owed.")
    removal: bool = column("Whether the removal threshold is reached.")
    weight: float = column("Weight in the composite factor.", nullable=True)
    composite_pct: float = column("Pay for the lot by all its plans together.", unit="%", nullable=True)
    outlier_test: str = column("How outliers were looked for.", words=OutlierTest)
    outlier_suspect: float = column("Result that stands out most.", nullable=True)
    outlier_statistic: float = column("Its statistic.", nullable=True)
    outlier_critical: float = column("Critical value of the statistic.", nullable=True)
    outlier: bool = column("Whether it is flagged; it counts all the same. Null: not looked for.", nullable=True)
    reason: str = column("Why there is no percentage or no pay; null where there is.", nullable=True)
    source: str = column("Where the plan stands.")
    mark: str = column("How far the source was confirmed; null is seen in print.", nullable=True)
    valid_from_run: pl.Int64 = column("Run that computed it.", at_least=1)
    valid_to_run: pl.Int64 = column("Run that replaced it; null while current.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=("project_id", "mix_id", "lot", "set_id", "plan_id", "valid_from_run"),
            refers={"project_id": "project", "mix_id": "mix_design"},
        ).as_metadata()
