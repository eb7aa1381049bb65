"""Comparisons: duplicates, split samples, laboratories, phases."""

import pandera.polars as pa
import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.vocabulary import ComparisonKind, Verdict


class Comparison(pa.DataFrameModel):
    """Two results, or two groups of results, held against each other."""

    kind: str = column("What is held against what.", words=ComparisonKind)
    project_id: str = column("Project; null across projects.", nullable=True)
    mix_id: str = column("Mix; null across mixes.", nullable=True)
    property: str = column("Property compared.")
    point: float = column("Sieve opening in mm or number of passes, where the property has one.", nullable=True)
    first: str = column("First: sample, laboratory, instrument or phase.")
    second: str = column("Second: sample, laboratory or phase.", nullable=True)
    period: str = column("Quarter of the year the results are from; null: all of them.", nullable=True)
    n_1: pl.Int64 = column("Results of the first; pairs where they are paired.", at_least=0)
    n_2: pl.Int64 = column("Results of the second.", at_least=0, nullable=True)
    mean_1: float = column("Mean of the first, or the target.", nullable=True)
    mean_2: float = column("Mean of the second.", nullable=True)
    s_1: float = column("Standard deviation of the first, or of the differences of pairs.", at_least=0, nullable=True)
    s_2: float = column("Standard deviation of the second.", at_least=0, nullable=True)
    difference: float = column("First less second, the range of duplicates, or the mean difference.", nullable=True)
    lower: float = column("Smallest difference allowed; null: none stated.", nullable=True)
    upper: float = column("Largest difference allowed; null: none stated.", nullable=True)
    f: float = column("Ratio of the variances, the larger above.", nullable=True)
    f_p: float = column("Probability of a larger ratio by chance, two-sided.", nullable=True)
    t: float = column("Student's t.", nullable=True)
    t_df: float = column("Degrees of freedom of t.", nullable=True)
    t_p: float = column("Probability of a larger |t| by chance.", nullable=True)
    significance: float = column("Significance it was held against.", nullable=True)
    verdict: str = column("Pass: within what is allowed, or no more than chance.", words=Verdict)
    reason: str = column("Why there is no verdict; null where there is.", nullable=True)
    basis: str = column("Rule and source in words.", nullable=True)
    valid_from_run: pl.Int64 = column("Run that computed it.", at_least=1)
    valid_to_run: pl.Int64 = column("Run that replaced it; null while current.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(
            key=(
                "kind",
                "project_id",
                "mix_id",
                "property",
                "point",
                "first",
                "second",
                "period",
                "valid_from_run",
            ),
            refers={"project_id": "project", "mix_id": "mix_design"},
        ).as_metadata()
